"""Areas that were stored as GeoJSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from regmap.errors import RegmapError

__all__ = ["parse_areas"]


def parse_areas(text: str | bytes) -> dict[str, BaseGeometry]:
    """Return {name: shapely geometry} of a GeoJSON FeatureCollection, in its own coordinates.

    A feature is called by its property `name`, or else by its `id`, or "area 1", "area 2" ...

    Raises:
        RegmapError: if the text is no such collection, if a geometry is empty or broken, or if two
            have one name.
    """
    try:
        stored = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise RegmapError(f"the areas are no GeoJSON: {error}") from None
    features = stored.get("features") if isinstance(stored, Mapping) else None
    if not isinstance(features, list) or not features:
        raise RegmapError("the areas must be a GeoJSON FeatureCollection with at least one feature")
    areas: dict[str, BaseGeometry] = {}
    for number, feature in enumerate(features, start=1):
        name = _name(feature, number)
        if name in areas:
            raise RegmapError(f"two areas are called {name!r}: give each a name of its own")
        areas[name] = _geometry(feature, name)
    return areas


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
    if geometry.is_empty or not np.isfinite(shapely.get_coordinates(geometry)).all():
        raise RegmapError(f"the area {name!r} is empty, or its numbers are not finite")
    if not geometry.is_valid:
        why = shapely.is_valid_reason(geometry)
        raise RegmapError(f"the area {name!r} is no clean geometry ({why})")
    whole: BaseGeometry = geometry
    return whole
