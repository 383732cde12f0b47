"""Which geometries can be areas."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.errors import RegmapError
from regmap.inputs.repair import sides_cross_often

__all__ = ["checked", "sides"]

_MOST_CROSSINGS = 10_000


def checked(geometry: BaseGeometry) -> BaseGeometry:
    """Return a geometry that is not empty, if it can be an area.

    Raises:
        RegmapError: if it mixes kinds, is not clean, has no size, or is lines that cross each other
            all over: what they share with a floor is not found in seconds.
    """
    kind = geometry.geom_type
    if kind == "GeometryCollection":
        raise RegmapError("the area is a mixture of geometries: give its parts one by one")
    if not geometry.is_valid:
        why = shapely.is_valid_reason(geometry)
        raise RegmapError(f"the area is no clean polygon ({why}): draw its border without crossing")
    flat = geometry.area if kind.endswith("Polygon") else math.inf
    if flat <= 0 or (kind.endswith(("LineString", "Ring")) and geometry.length <= 0):
        raise RegmapError("the area has no size: all its points lie on one line or in one place")
    if not kind.endswith(("Polygon", "Point")) and sides_cross_often(
        np.concatenate([sides(line) for line in shapely.get_parts(geometry)]), _MOST_CROSSINGS
    ):
        raise RegmapError(
            f"the lines cross more than {_MOST_CROSSINGS} times: mark a polygon around them"
        )
    return geometry


def sides(line: BaseGeometry) -> NDArray[np.float64]:
    """Return the sides (N, 2, 2) of a line or ring."""
    places = shapely.get_coordinates(line)
    return np.stack([places[:-1], places[1:]], axis=1)
