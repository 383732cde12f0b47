"""Room outlines in any Python shape -> clean rings.

This is the one place where outlines enter: whatever follows may rely on what `as_rings` promises.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from regmap.errors import OutlineError
from regmap.inputs.repair import repair

__all__ = ["MAX_COORDINATE", "Ring", "as_rings"]

Ring: TypeAlias = NDArray[np.float64]
Rings: TypeAlias = tuple[Ring, ...]

log = logging.getLogger(__name__)

MAX_COORDINATE = 1e13
"""Largest coordinate taken: beyond it neighbouring doubles lie more than 0.001 units apart."""

NAME_KEYS = ("name", "label", "title", "room", "id")
"""Properties of a GeoJSON feature that name it, best first."""

KEPT_SHARE = 0.95
"""A self-crossing outline is repaired only if this share of its area stays in one piece."""

FLAT = 1e-12
"""An outline whose area is below this share of its extent squared is a line."""


def as_rings(polygons: object, *, max_points: int = 20_000) -> dict[str, Rings]:
    """Return outlines as `{name: (outer ring, hole, ...)}`.

    Parameters
    ----------
    polygons
        A mapping of names to outlines, a sequence of outlines (named "room 1", "room 2", ...), or
        GeoJSON (a `dict`, or whatever has `__geo_interface__`; features are named by their
        properties name, label, title, room or id, or else by their own id). An outline is an (N, 2)
        array, a list of pairs, a sequence of such rings (the outer one, then its holes), a shapely
        Polygon, or anything with `__geo_interface__`. A MultiPolygon of several parts becomes
        "name 1", "name 2", ...
    max_points
        A ring of more points is thinned: points go that lie within a millionth of the ring's extent
        of the line between their neighbours. A ring that stays longer is refused.

    Returns
    -------
    dict
        Rings are new (N, 2) float64 arrays in the order and turn given, in the units given, without
        a closing point and without repeated points, N >= 3. Every outline is a valid polygon of
        positive area. Rooms may lie inside each other. An outline that repeats another one point by
        point is left out with a log message, for evidence must not count twice.

    Raises
    ------
    OutlineError
        What cannot be an outline: too few points, NaN, infinite or huge coordinates (above
        `MAX_COORDINATE`), no area, or an outline that crosses itself so that less than 95 % of its
        area stays in one piece. The message names the outline.
    """
    shapes: list[tuple[str, Rings]] = []
    taken: set[str] = set()
    for name, parts in _named(polygons):
        for number, rings in enumerate(parts, 1):
            own = _free_name(f"{name} {number}" if len(parts) > 1 else name, taken)
            shapes.append((own, tuple(_clean_ring(ring, own, max_points) for ring in rings)))
    if not shapes:
        raise OutlineError("no outlines were given: at least one room outline is needed")
    return _without_repeats(_valid(shapes))


# --- what was given -> names and raw rings -------------------------------------------------------


def _named(polygons: object) -> Iterator[tuple[str, list[list[object]]]]:
    """Yield (name, parts); a part is a list of raw rings, the outer one first."""
    geometry = _geo(polygons)
    if geometry is not None:
        yield from _named_geojson(geometry)
    elif isinstance(polygons, (str, bytes, bytearray)):
        raise OutlineError(
            f"outlines came as {type(polygons).__name__}; text or a file that holds outlines is "
            "read by regmap.read_outlines(path) or regmap.parse_outlines(text)"
        )
    elif isinstance(polygons, Mapping):
        for key, value in polygons.items():
            yield str(key), _parts(value, str(key))
    elif isinstance(polygons, (Iterable, np.ndarray)) or hasattr(polygons, "__array__"):
        items = polygons if isinstance(polygons, np.ndarray) else _listed(polygons)
        if len(items) and _depth(items) == 2:
            items = [items]  # one bare ring
        for number, value in enumerate(items, 1):
            yield f"room {number}", _parts(value, f"room {number}")
    else:
        raise OutlineError(
            f"outlines came as {type(polygons).__name__}; give a mapping of names to rings, a "
            "sequence of rings, shapely polygons or GeoJSON"
        )


def _listed(value: Any) -> Any:
    if isinstance(value, Sequence):
        return value
    return np.asarray(value) if hasattr(value, "__array__") else list(value)


def _geo(value: object) -> Mapping[str, Any] | None:
    """The GeoJSON-like mapping that `value` is or offers, or None."""
    if not isinstance(value, type) and hasattr(value, "__geo_interface__"):
        value = value.__geo_interface__
    if isinstance(value, Mapping) and isinstance(value.get("type"), str):
        return value
    return None


def _named_geojson(geometry: Mapping[str, Any]) -> Iterator[tuple[str, list[list[object]]]]:
    if geometry["type"] != "FeatureCollection":
        parts = _parts(geometry, "room 1")
        yield _feature_name(geometry) or ("room 1" if len(parts) == 1 else "room"), parts
        return
    features = geometry.get("features") or ()
    for number, feature in enumerate(features, 1):
        kind = (feature.get("geometry") or {}).get("type")
        name = _feature_name(feature) or f"room {number}"
        if kind in ("Polygon", "MultiPolygon", "GeometryCollection"):
            yield name, _parts(feature, name)
        else:
            log.info("feature %r is a %s, not an area: left out", name, kind)


def _feature_name(feature: Mapping[str, Any]) -> str | None:
    properties = feature.get("properties") or {}
    folded = {str(key).casefold(): value for key, value in properties.items()}
    for value in (*(folded.get(key) for key in NAME_KEYS), feature.get("id")):
        if value is not None and str(value).strip():
            return str(value).strip()
    return None


def _parts(value: object, name: str) -> list[list[object]]:
    """One outline as given -> its parts, each a list of raw rings."""
    if np.ma.is_masked(value):
        raise OutlineError(f"outline {name!r} has masked points; leave them out")
    geometry = _geo(value)
    if geometry is not None:
        return _geometry_parts(geometry, name)
    if isinstance(value, (str, bytes, Mapping)) or not isinstance(value, (Iterable, np.ndarray)):
        raise OutlineError(
            f"outline {name!r} came as {type(value).__name__}; give an (N, 2) array, a list of "
            "pairs, a shapely Polygon or GeoJSON"
        )
    items = _listed(value)
    depth = _depth(items)
    if depth == 2:
        return [[items]]
    if depth == 3:
        return [list(items)]
    if depth == 4:
        return [list(part) for part in items]
    raise OutlineError(
        f"outline {name!r} is not a list of (x, y) pairs: {_short(value)}; give an (N, 2) array or "
        "a list of pairs"
    )


def _geometry_parts(geometry: Mapping[str, Any], name: str) -> list[list[object]]:
    kind = geometry["type"]
    coordinates = geometry.get("coordinates") or ()
    if not coordinates and kind in ("Polygon", "MultiPolygon", "LinearRing", "LineString"):
        raise OutlineError(f"outline {name!r} is an empty {kind}; leave it out")
    if kind == "Feature":
        inner = geometry.get("geometry")
        if isinstance(inner, Mapping) and isinstance(inner.get("type"), str):
            return _geometry_parts(inner, name)
    elif kind == "FeatureCollection":
        return [part for _, parts in _named_geojson(geometry) for part in parts]
    elif kind == "GeometryCollection":
        areas = [g for g in geometry.get("geometries") or () if "Polygon" in g.get("type", "")]
        return [part for inner in areas for part in _geometry_parts(inner, name)]
    elif kind == "Polygon":
        return [[_plane(ring) for ring in coordinates]]
    elif kind == "MultiPolygon":
        return [[_plane(ring) for ring in part] for part in coordinates]
    elif kind == "LinearRing" or (kind == "LineString" and _is_closed(coordinates)):
        return [[_plane(coordinates)]]
    raise OutlineError(
        f"outline {name!r} is a {kind} without an area; give a Polygon or MultiPolygon"
    )


def _plane(ring: Any) -> list[Any]:
    """Positions without their height, which GeoJSON allows (RFC 7946, section 3.1.1)."""
    return [tuple(position)[:2] for position in ring]


def _is_closed(line: Any) -> bool:
    return len(line) > 3 and tuple(line[0]) == tuple(line[-1])


def _depth(value: Any) -> int:
    """How deep lists are nested, following first elements: number 0, pair 1, ring 2, rings 3."""
    depth = 0
    while depth < 6:
        if isinstance(value, np.ndarray):
            return depth + value.ndim
        if _geo(value) is not None or isinstance(value, (str, bytes, Mapping)):
            return 9
        if not isinstance(value, Sequence) and not hasattr(value, "__array__"):
            return depth
        value = _listed(value)
        if isinstance(value, np.ndarray):
            continue
        depth += 1
        if len(value) == 0:
            return depth
        value = value[0]
    return depth


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _free_name(name: str, taken: set[str]) -> str:
    free, number = name, 2
    while free in taken:
        free, number = f"{name} {number}", number + 1
    taken.add(free)
    return free


# --- one ring ------------------------------------------------------------------------------------


def _clean_ring(raw: object, name: str, max_points: int) -> Ring:
    try:
        given = np.asarray(raw)
        if given.dtype.kind == "c":
            raise TypeError("complex numbers")
        ring = np.array(given, dtype=np.float64, order="C")
    except (TypeError, ValueError, OverflowError) as error:
        raise OutlineError(
            f"outline {name!r} is not a list of (x, y) pairs ({error}): {_short(raw)}"
        ) from error
    if ring.ndim != 2 or ring.shape[1] != 2:
        hint = "transpose it" if ring.ndim == 2 and ring.shape[0] == 2 else "give x and y alone"
        raise OutlineError(f"outline {name!r} has shape {ring.shape}, not (N, 2); {hint}")
    _check_numbers(ring, name)
    ring = _without_repeated_points(ring)
    if len(ring) > max_points:
        ring = _thinned(ring, name, max_points)
    if len(np.unique(ring, axis=0)) < 3:
        raise OutlineError(
            f"outline {name!r} has fewer than 3 different points; an area needs at least 3"
        )
    return ring


def _check_numbers(ring: Ring, name: str) -> None:
    bad = ~np.isfinite(ring).all(axis=1)
    if bad.any():
        first = int(np.argmax(bad))
        raise OutlineError(
            f"outline {name!r} has {int(bad.sum())} points that are not finite numbers, the first "
            f"is point {first}: {ring[first].tolist()}; leave them out"
        )
    largest = float(np.abs(ring).max(initial=0.0))
    if largest > MAX_COORDINATE:
        raise OutlineError(
            f"outline {name!r} has a coordinate of {largest:.3g}; at most {MAX_COORDINATE:.0e} is "
            "taken, for double precision is too coarse beyond; subtract an offset or check the unit"
        )


def _without_repeated_points(ring: Ring) -> Ring:
    """Drop points equal to the one before; the first point counts as after the last."""
    if len(ring) < 2:
        return ring
    kept: NDArray[np.bool_] = (ring != np.roll(ring, 1, axis=0)).any(axis=1)
    if kept[0] or not kept.any():
        return ring[kept]
    # The first point stays, and the points at the end that repeat it go.
    kept[0] = True
    last = int(np.flatnonzero((ring != ring[0]).any(axis=1))[-1])
    kept[last + 1 :] = False
    return np.ascontiguousarray(ring[kept])


def _thinned(ring: Ring, name: str, max_points: int) -> Ring:
    """Drop every other point that lies on the line between its neighbours, as often as it takes.

    A pass moves the line by at most a millionth of its extent, and a pass halves the points, so
    the line stays within some twenty millionths of where it was.
    """
    before = len(ring)
    tolerance = 1e-6 * float(np.ptp(ring, axis=0).max())
    offset = 0
    unchanged = 0
    while len(ring) > max_points and unchanged < 2:
        middle = np.arange(1 + offset, len(ring) - 1, 2)
        left, here, right = ring[middle - 1], ring[middle], ring[middle + 1]
        near = _distance_to_segment(here, left, right) <= tolerance
        kept = np.ones(len(ring), dtype=bool)
        kept[middle[near]] = False
        unchanged = 0 if near.any() else unchanged + 1
        ring, offset = ring[kept], 1 - offset
    if len(ring) > max_points:
        raise OutlineError(
            f"outline {name!r} has {before} points, {len(ring)} of them off a straight line; at "
            f"most {max_points} are taken; simplify it first"
        )
    log.info("outline %r thinned from %d to %d points", name, before, len(ring))
    return ring


def _distance_to_segment(point: Ring, start: Ring, end: Ring) -> NDArray[np.float64]:
    along = end - start
    length2 = np.maximum((along**2).sum(axis=1), np.finfo(np.float64).tiny)
    share = np.clip(((point - start) * along).sum(axis=1) / length2, 0.0, 1.0)
    gap = point - start - share[:, None] * along
    return np.asarray(np.hypot(gap[:, 0], gap[:, 1]))


# --- all rings together --------------------------------------------------------------------------


def _valid(shapes: list[tuple[str, Rings]]) -> dict[str, Rings]:
    # Validity is asked near the origin, so that the answer does not hang on a large offset.
    origins = [rings[0].mean(axis=0).round() for _, rings in shapes]
    polygons = np.array(
        [
            shapely.Polygon(rings[0] - origin, [hole - origin for hole in rings[1:]])
            for (_, rings), origin in zip(shapes, origins, strict=True)
        ]
    )
    good = shapely.is_valid(polygons)
    result: dict[str, Rings] = {}
    for (name, rings), polygon, origin, fine in zip(shapes, polygons, origins, good, strict=True):
        if not fine:
            polygon = _repaired(polygon, name, rings)
            rings = tuple(
                np.ascontiguousarray(shapely.get_coordinates(ring)[:-1] + origin)
                for ring in (polygon.exterior, *polygon.interiors)
            )
        extent = float(np.ptp(rings[0], axis=0).max())
        if polygon.area <= FLAT * extent**2:
            raise OutlineError(f"outline {name!r} has no area: its points lie on a line")
        result[name] = rings
    return result


def _repaired(polygon: shapely.Polygon, name: str, given: Rings) -> shapely.Polygon:
    # The reason names a place, so it is asked of the outline as it was given.
    reason = shapely.is_valid_reason(shapely.Polygon(given[0], given[1:]))
    mended = repair(polygon)
    if mended.piece is None:
        raise OutlineError(
            f"outline {name!r} has no area, or crosses itself all over ({reason}); put its points "
            "in order"
        )
    if mended.share < KEPT_SHARE:
        raise OutlineError(
            f"outline {name!r} crosses itself ({reason}) and falls into {mended.pieces} pieces, "
            f"the largest {100 * mended.share:.0f} % of its area; put its points in order, or give "
            "each piece as an outline of its own"
        )
    log.warning(
        "outline %r crosses itself (%s): repaired, %.1f %% of its area kept",
        name,
        reason,
        100 * mended.share,
    )
    return mended.piece


def _without_repeats(outlines: dict[str, Rings]) -> dict[str, Rings]:
    first: dict[tuple[bytes, ...], str] = {}
    result: dict[str, Rings] = {}
    for name, rings in outlines.items():
        key = tuple(ring.tobytes() for ring in rings)
        if key in first:
            log.warning("outline %r repeats %r and is left out", name, first[key])
        else:
            first[key] = name
            result[name] = rings
    return result
