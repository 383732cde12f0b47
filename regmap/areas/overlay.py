"""Overlays of polygons on a fine grid, which cannot fail for polygons that are nearly equal.

And how much of one geometry lies in another.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

__all__ = ["areas_in_common", "difference", "intersection", "share", "shares", "step", "union"]

# A share of less is rounding where outlines touch.
_TOUCHING = 1e-9


def union(geometries: Iterable[BaseGeometry]) -> BaseGeometry:
    """Return what any of the geometries covers."""
    many = list(geometries)
    joined: BaseGeometry = shapely.union_all(many, grid_size=step(*many))
    return joined


def intersection(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what both geometries cover."""
    both: BaseGeometry = shapely.intersection(one, other, grid_size=step(one, other))
    return both


def areas_in_common(
    some: Sequence[BaseGeometry], others: Sequence[BaseGeometry], pairs: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return (P,) the areas of the intersections of `pairs` (P, 2), the first among `some`, the
    second among `others`; as one by one, but for time."""
    steps = np.maximum(*(_steps(g)[k] for g, k in zip((some, others), pairs.T, strict=True)))
    one, other = (np.array(g)[k] for g, k in zip((some, others), pairs.T, strict=True))
    found = np.zeros(len(pairs))
    for size in np.unique(steps).tolist():
        own = steps == size
        found[own] = shapely.area(shapely.intersection(one[own], other[own], grid_size=size))
    return found


def _steps(geometries: Sequence[BaseGeometry]) -> NDArray[np.float64]:
    return np.array([step(geometry) for geometry in geometries])


def difference(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return what the first geometry covers and the second does not."""
    left: BaseGeometry = shapely.difference(one, other, grid_size=step(one, other))
    return left


def share(geometry: BaseGeometry, other: BaseGeometry) -> float:
    """Return how much of a geometry lies in the other, 0..1.

    By its area, its length or its number of points. What has no size lies nowhere.
    """
    dimension = int(shapely.get_dimensions(geometry))
    if dimension == 0:
        x, y = shapely.get_coordinates(geometry).T
        left, low, right, high = other.bounds
        # Most of many rooms are far from most points.
        near = (x >= left) & (x <= right) & (y >= low) & (y <= high)
        return float(shapely.intersects_xy(other, x[near], y[near]).sum() / len(x))
    measure = shapely.area if dimension == 2 else shapely.length
    whole = float(measure(geometry))
    # Corners that were put on the grid may make the part larger than the whole.
    return min(1.0, float(measure(intersection(geometry, other))) / whole) if whole > 0 else 0.0


def shares(geometry: BaseGeometry, others: Mapping[str, BaseGeometry]) -> dict[str, float]:
    """Return name -> `share` of those in which some of a geometry lies, largest first."""
    found = {name: share(geometry, other) for name, other in others.items()}
    some = ((name, part) for name, part in found.items() if part > _TOUCHING)
    return dict(sorted(some, key=lambda entry: -entry[1]))


def step(*geometries: BaseGeometry) -> float:
    """Return a step far below anything that matters, on which corners are put in overlays.

    Without one, GEOS 3.14 returns a wrong area for one in a few hundred pairs of polygons that are
    equal up to rounding, as they are wherever a room is marked by its own outline.
    """
    largest = np.abs(shapely.get_coordinates(list(geometries))).max(initial=1e-9)
    return float(2.0 ** (math.ceil(math.log2(largest)) - 40))
