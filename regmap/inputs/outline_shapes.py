"""Outlines in any Python shape -> names and raw rings; numbers are not looked at yet."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

import numpy as np

from regmap.errors import OutlineError
from regmap.given import short

__all__ = ["read_shapes"]

log = logging.getLogger(__name__)

NAME_KEYS = ("name", "label", "title", "room", "id")
"""Properties of a GeoJSON feature that name it, best first."""

_MOST_ITEMS = 2_000_000


def read_shapes(polygons: object) -> list[tuple[str, list[list[object]]]]:
    """Return (name, parts) of all outlines; a part is a list of raw rings, the outer one first.

    Raises:
        OutlineError: if what came is nothing that holds outlines.
    """
    # What is asked here is content and code of others, which may be anything.
    try:
        shapes = list(_named(polygons))
    except OutlineError:
        raise
    except Exception as error:
        raise OutlineError(
            f"the outlines cannot be read ({type(error).__name__}: {error}); give a mapping of "
            "names to rings, a sequence of rings, shapely polygons or GeoJSON (RFC 7946)"
        ) from error
    for name, parts in shapes:
        if not all(parts):
            raise OutlineError(f"outline {name!r} has a part without a border; leave that part out")
    return shapes


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
    if hasattr(value, "__array__"):
        return np.asarray(value)
    items = list(islice(value, _MOST_ITEMS + 1))
    if len(items) > _MOST_ITEMS:
        raise OutlineError(f"more than {_MOST_ITEMS} outlines or points came, one after the other")
    return items


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
    many = isinstance(value, (Iterable, np.ndarray)) or hasattr(value, "__array__")
    if isinstance(value, (str, bytes, Mapping)) or not many:
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
        f"outline {name!r} is not a list of (x, y) pairs: {short(value)}; give an (N, 2) array or "
        "a list of pairs"
    )


def _geometry_parts(geometry: Mapping[str, Any], name: str) -> list[list[object]]:
    kind = geometry["type"]
    coordinates = geometry.get("coordinates")
    coordinates = () if coordinates is None else coordinates
    if kind in ("Polygon", "MultiPolygon", "LinearRing", "LineString") and not len(coordinates):
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
