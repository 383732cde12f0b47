"""Areas that were stored as GeoJSON, and areas marked in a picture, with what is wished of them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from regmap.errors import RegmapError
from regmap.inputs.outlines import MAX_COORDINATE

__all__ = [
    "WISHES",
    "Mark",
    "StoredArea",
    "parse_areas",
    "parse_marks",
    "parse_stored",
    "parse_unit",
]

WISHES = ("keep_off", "rooms", "off_walls")
"""Properties of a mark that are options of `regmap.areas.to_device`."""

MAX_LENGTH = 2**24
"""Bytes or characters of the longest text taken."""


@dataclass(frozen=True)
class Mark:
    """What was marked in a picture: a geometry in (column, row) px, and the WISHES it carries."""

    geometry: BaseGeometry
    wishes: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class StoredArea:
    """An area as it was stored, in the device frame of its day.

    Attributes:
        geometry: shapely geometry.
        rooms: name -> share (0..1) of it that lay in that room; empty if that is not known.
        expected_error: device units, CE95 at its worst corner; None if that is not known.
    """

    geometry: BaseGeometry
    rooms: Mapping[str, float]
    expected_error: float | None


def parse_areas(text: str | bytes) -> dict[str, BaseGeometry]:
    """Return {name: shapely geometry} of a GeoJSON FeatureCollection, in its own coordinates.

    A feature is called by its property `name`, or else by its `id`, or "area 1", "area 2" ...

    Raises:
        RegmapError: if the text is no such collection, if a geometry is empty or broken, or if two
            have one name.
    """
    return {name: _geometry(feature, name) for name, feature in _features(text).items()}


def parse_stored(text: str | bytes) -> dict[str, StoredArea]:
    """Return {name: StoredArea} of a GeoJSON FeatureCollection, in its own coordinates.

    Raises:
        RegmapError: as `parse_areas`.
    """
    found = {}
    for name, feature in _features(text).items():
        said = feature.get("properties")
        said = said if isinstance(said, Mapping) else {}
        rooms = said.get("rooms")
        found[name] = StoredArea(
            _geometry(feature, name),
            {str(room): float(share) for room, share in rooms.items() if _number(share)}
            if isinstance(rooms, Mapping)
            else {},
            float(said["expected_error"]) if _number(said.get("expected_error")) else None,
        )
    return found


def _number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return 0 <= value <= MAX_COORDINATE


def parse_marks(text: str | bytes) -> dict[str, Mark]:
    """Return {name: Mark} of a GeoJSON FeatureCollection whose positions are px of a picture.

    Raises:
        RegmapError: as `parse_areas`.
    """
    unit = parse_unit(text)
    if unit not in ("", "px"):
        raise RegmapError(
            f"these areas are in {unit}, so they lie in the robot's frame already: marks are in px"
        )
    return {
        name: Mark(_geometry(feature, name), _wishes(feature, name))
        for name, feature in _features(text).items()
    }


def _wishes(feature: Mapping[str, Any], name: str) -> dict[str, Any]:
    said = feature.get("properties")
    found = {
        wish: said[wish]
        for wish in WISHES
        if isinstance(said, Mapping) and said.get(wish) is not None
    }
    for wish, value in found.items():
        if wish == "rooms":
            good = isinstance(value, str) or (
                isinstance(value, list) and all(isinstance(room, str) for room in value)
            )
        else:
            good = isinstance(value, (int, float, str)) and not isinstance(value, bool)
        if not good:
            kind = "a name or a list of names" if wish == "rooms" else 'a number or "expected"'
            raise RegmapError(f"{wish} of the area {name!r} is {value!r}, but it must be {kind}")
    return found


def parse_unit(text: str | bytes) -> str:
    """Return the `unit` that a stored collection names, or "" if it names none."""
    try:
        stored = _json(text)
    except (ValueError, RecursionError):
        return ""
    unit = stored.get("unit") if isinstance(stored, Mapping) else None
    return unit if isinstance(unit, str) else ""


def _json(text: str | bytes) -> Any:
    if len(text) > MAX_LENGTH:
        raise RegmapError(
            f"the areas are longer than {MAX_LENGTH // 2**20} MiB: give fewer, or simplify them"
        )
    return json.loads(text)


def _features(text: str | bytes) -> dict[str, Mapping[str, Any]]:
    try:
        stored = _json(text)
    except RegmapError:
        raise
    except (ValueError, RecursionError) as error:
        raise RegmapError(f"the areas are no GeoJSON: {error}") from None
    features = stored.get("features") if isinstance(stored, Mapping) else None
    if not isinstance(features, list) or not features:
        raise RegmapError("the areas must be a GeoJSON FeatureCollection with at least one feature")
    named: dict[str, Mapping[str, Any]] = {}
    for number, feature in enumerate(features, start=1):
        name = _name(feature, number)
        if name in named:
            raise RegmapError(f"two areas are called {name!r}: give each a name of its own")
        named[name] = feature if isinstance(feature, Mapping) else {}
    return named


def _name(feature: Any, number: int) -> str:
    properties = feature.get("properties") if isinstance(feature, Mapping) else None
    named = properties.get("name") if isinstance(properties, Mapping) else None
    for value in (named, feature.get("id") if isinstance(feature, Mapping) else None):
        if value is not None and str(value).strip():
            return str(value).strip()
    return f"area {number}"


def _geometry(feature: Any, name: str) -> BaseGeometry:
    try:
        geometry = shapely.force_2d(shapely.geometry.shape(feature["geometry"]))
    except Exception as error:  # shapely lets through whatever the coordinates break in it
        raise RegmapError(f"the geometry of the area {name!r} cannot be read ({error})") from None
    coordinates = np.abs(shapely.get_coordinates(geometry))
    if geometry.is_empty or not (coordinates <= MAX_COORDINATE).all():
        raise RegmapError(
            f"the area {name!r} is empty, or its numbers are not finite or above "
            f"{MAX_COORDINATE:.0e}"
        )
    if not geometry.is_valid:
        why = shapely.is_valid_reason(geometry)
        raise RegmapError(f"the area {name!r} is no clean geometry ({why})")
    whole: BaseGeometry = geometry
    return whole
