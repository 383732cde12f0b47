"""Typed steps over shapely that the other modules share."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from regmap.frames import affine_to_matrix

__all__ = ["Shape", "grown", "largest", "through", "tidy"]

Shape = TypeVar("Shape", bound=BaseGeometry)


def through(shape: Shape, matrix: NDArray[np.float64]) -> Shape:
    """A shape moved by a (2, 3) matrix."""
    m = affine_to_matrix(matrix)
    moved: Shape = shapely.transform(shape, lambda p: p @ m[:, :2].T + m[:, 2])
    return moved


def largest(shape: BaseGeometry) -> Polygon:
    """The largest polygon in `shape`; an empty one if there is none."""
    parts: list[Polygon] = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
    return max(parts, key=lambda p: float(p.area)) if parts else Polygon()


def grown(shape: BaseGeometry, by: float) -> Polygon:
    """The outline moved outward (negative: inward), corners kept sharp; its largest piece."""
    return largest(shape.buffer(by, join_style="mitre"))


def tidy(shape: BaseGeometry) -> Polygon:
    """The largest polygon, without points that stand on one another (1 mm)."""
    return largest(shapely.remove_repeated_points(shape, 1.0))
