"""Room outlines in any Python shape -> clean rings.

This is the one place where outlines enter: whatever follows may rely on what `as_rings` promises.
"""

from __future__ import annotations

import logging
from collections.abc import Sized
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from regmap.errors import OutlineError
from regmap.given import short, whole
from regmap.inputs.outline_shapes import read_shapes
from regmap.inputs.repair import repair

__all__ = ["MAX_COORDINATE", "Ring", "as_rings"]

Ring: TypeAlias = NDArray[np.float64]
Rings: TypeAlias = tuple[Ring, ...]

log = logging.getLogger(__name__)

MAX_COORDINATE = 1e13
"""Largest coordinate taken: beyond it neighbouring doubles lie more than 0.001 units apart."""

KEPT_SHARE = 0.95
"""A self-crossing outline is repaired only if this share of its area stays in one piece."""

MOST_THINNED = 100
"""Of more times as many points as one ring may have, none are thinned: reading them takes long."""

MOST_TOGETHER = 5
"""All rings together may have as many times the points that one may have."""

MAX_LENGTH = 200
"""A border more times as long as its outline is wide is no room's, which has four or five."""

SCATTERED = 1e-4
"""Rooms whose extent is all below this share of the floor's are a mistake in unit or offset."""

FLAT = 1e-12
"""An outline whose area is below this share of its extent squared is a line."""


def as_rings(
    polygons: object, *, max_points: int = 20_000, max_rooms: int = 2000
) -> dict[str, Rings]:
    """Return outlines as `{name: (outer ring, hole, ...)}`.

    Args:
        polygons: a mapping of names to outlines, a sequence of outlines (named "room 1", "room 2",
            ...), or GeoJSON (a `dict`, or whatever has `__geo_interface__`; features are named by
            their properties name, label, title, room or id, or else by their own id). An outline is
            an (N, 2) array, a list of pairs, a sequence of such rings (the outer one, then its
            holes), a shapely Polygon, or anything with `__geo_interface__`. A MultiPolygon of
            several parts becomes "name 1", "name 2", ...
        max_points: a ring of more points is thinned: points go that lie within a millionth of the
            ring's extent of the line between their neighbours. A ring that stays longer is refused,
            and so are more than five times as many points in all rings together, or a hundred times
            before thinning.
        max_rooms: more outlines than this are refused; so are more holes.

    Returns:
        Rings, new (N, 2) float64 arrays in the order and turn given, in the units given, without a
        closing point and without repeated points, N >= 3. Every outline is a valid polygon of
        positive area. Rooms may lie inside each other. An outline that repeats another one point by
        point is left out with a log message, for evidence must not count twice.

    Raises:
        OutlineError: what cannot be an outline: too few points, NaN, infinite or huge coordinates
            (above `MAX_COORDINATE`), no area, a border that runs to and fro (above `MAX_LENGTH`),
            or an outline that crosses itself so that less than 95 % of its area stays in one piece.
            The message names the outline. Or all outlines are far smaller than the gaps between
            them.
    """
    whole(max_points, "max_points", error=OutlineError)
    whole(max_rooms, "max_rooms", error=OutlineError)
    given = read_shapes(polygons)
    _check_number([part for _, parts in given for part in parts], max_points, max_rooms)
    shapes: list[tuple[str, Rings]] = []
    taken: dict[str, int] = {}
    for name, parts in given:
        for number, rings in enumerate(parts, 1):
            own = _free_name(f"{name} {number}" if len(parts) > 1 else name, taken)
            shapes.append((own, tuple(_clean_ring(ring, own, max_points) for ring in rings)))
    if not shapes:
        raise OutlineError("no outlines were given: at least one room outline is needed")
    _check_together([ring for _, rings in shapes for ring in rings], max_points)
    clean = _without_repeats(_valid(shapes))
    log.info("outlines of %d rooms: %s", len(clean), short(list(clean)))
    return clean


def _check_number(parts: list[list[object]], max_points: int, max_rooms: int) -> None:
    holes = sum(max(len(rings) - 1, 0) for rings in parts)
    points = sum(len(ring) for rings in parts for ring in rings if isinstance(ring, Sized))
    for what, number, most in (
        ("outlines", len(parts), max_rooms),
        ("holes", holes, max_rooms),
        ("points", points, MOST_THINNED * max_points),
    ):
        if number > most:
            raise OutlineError(
                f"{number} {what} came, and at most {most} are taken; give one floor at a time, "
                "rooms alone, and simplify them first"
            )


def _free_name(name: str, taken: dict[str, int]) -> str:
    """The name, or the first "name 2", "name 3", ... that is free; `taken` remembers how far each
    name has been counted, as thousands may be called alike."""
    free, number = name, taken.get(name, 1)
    while free in taken:
        number += 1
        free = f"{name} {number}"
    taken[name] = number
    taken.setdefault(free, 1)
    return free


# --- one ring ------------------------------------------------------------------------------------


def _clean_ring(raw: object, name: str, max_points: int) -> Ring:
    try:
        given = np.asarray(raw)
        if given.dtype.kind not in "biufO":
            raise TypeError("complex numbers" if given.dtype.kind == "c" else "no numbers")
        ring = np.array(given, dtype=np.float64, order="C")
    except (TypeError, ValueError, OverflowError) as error:
        raise OutlineError(
            f"outline {name!r} is not a list of (x, y) pairs ({error}): {short(raw)}"
        ) from error
    if ring.ndim != 2 or ring.shape[1] != 2:
        hint = "transpose it" if ring.ndim == 2 and ring.shape[0] == 2 else "give x and y alone"
        raise OutlineError(f"outline {name!r} has shape {ring.shape}, not (N, 2); {hint}")
    _check_numbers(ring, name)
    ring = _without_repeated_points(ring)
    if len(ring) > max_points:
        ring = _thinned(ring, name, max_points)
    if not _has_three_points(ring):
        raise OutlineError(
            f"outline {name!r} has fewer than 3 different points; an area needs at least 3"
        )
    _check_length(ring, name)
    return ring


def _check_length(ring: Ring, name: str) -> None:
    """Refuse stars, combs and scribbles: thousands of long sides take quadratic time later on."""
    # No side is longer than the diagonal of the box: so few could not be as long together.
    if 1.5 * len(ring) <= MAX_LENGTH:
        return
    along = ring - _before(ring)
    length, extent = float(np.hypot(*along.T).sum()), _extent(ring)
    if length > MAX_LENGTH * extent:
        raise OutlineError(
            f"outline {name!r} runs to and fro: its border is {length / extent:.0f} times as long "
            f"as it is wide, and at most {MAX_LENGTH} times is taken; put its points in order, or "
            "smooth it"
        )


def _has_three_points(ring: Ring) -> bool:
    """Tell whether a ring has at least 3 different points, without sorting them all."""
    other = ring[(ring != ring[:1]).any(axis=1)]
    return bool((other != other[:1]).any())


def _check_numbers(ring: Ring, name: str) -> None:
    if not np.isfinite(ring).all():
        bad = ~np.isfinite(ring).all(axis=1)
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
    kept: NDArray[np.bool_] = (ring != _before(ring)).any(axis=1)
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
    tolerance = 1e-6 * _extent(ring)
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


def _extent(points: Ring) -> float:
    """The longer side of the box about points (N, 2)."""
    return float((points.max(axis=0) - points.min(axis=0)).max())


def _before(ring: Ring) -> Ring:
    """For each point of a ring (N, 2) the one before: numpy's roll, which takes longer."""
    return np.concatenate([ring[-1:], ring[:-1]])


# --- all rings together --------------------------------------------------------------------------


def _check_together(rings: list[Ring], max_points: int) -> None:
    total = sum(map(len, rings))
    if total > MOST_TOGETHER * max_points:
        raise OutlineError(
            f"the outlines have {total} points together; at most {MOST_TOGETHER * max_points} are "
            "taken; simplify them first, or give one floor at a time"
        )
    largest = max(map(_extent, rings))
    floor = _extent(np.concatenate(rings))
    if largest < SCATTERED * floor:
        raise OutlineError(
            f"the outlines lie {floor:.3g} apart, and the largest is {largest:.3g} long; give them "
            "in one frame and one unit"
        )


def _valid(shapes: list[tuple[str, Rings]]) -> dict[str, Rings]:
    # Validity is asked near the origin, so that the answer does not hang on a large offset.
    origins = [rings[0].mean(axis=0).round() for _, rings in shapes]
    sizes = [len(ring) for _, rings in shapes for ring in rings]
    owner = np.repeat(np.arange(len(shapes)), [len(rings) for _, rings in shapes])
    points = np.concatenate([ring for _, rings in shapes for ring in rings])
    points = points - np.repeat(np.array(origins)[owner], sizes, axis=0)
    # All at once: the first ring of each outline is its border, the others are its holes.
    borders = shapely.linearrings(points, indices=np.repeat(np.arange(len(sizes)), sizes))
    polygons = shapely.polygons(borders, indices=owner)
    good, areas = shapely.is_valid(polygons), shapely.area(polygons)
    result: dict[str, Rings] = {}
    for number, (name, rings) in enumerate(shapes):
        area = areas[number]
        if not good[number]:
            polygon, origin = polygons[number], origins[number]
            polygon = _repaired(polygon, name, rings)
            area = polygon.area
            rings = tuple(
                np.ascontiguousarray(shapely.get_coordinates(ring)[:-1] + origin)
                for ring in (polygon.exterior, *polygon.interiors)
            )
        if area <= FLAT * _extent(rings[0]) ** 2:
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
