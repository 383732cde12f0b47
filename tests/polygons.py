"""Polygons that are made up, and what shapely says of boxes."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry


def together(boxes: NDArray[np.float64]) -> BaseGeometry:
    """What boxes (N, 4) cover together."""
    joined: BaseGeometry = shapely.union_all([shapely.box(*box) for box in boxes])
    return joined


def star(seed: int, corners: int = 9) -> shapely.Polygon:
    """A star about (7000, -4000), some 2000 to 6000 wide."""
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * np.pi, corners))
    ring = np.column_stack([np.cos(turns), np.sin(turns)]) * rng.uniform(1500, 3000, (corners, 1))
    return shapely.Polygon(ring + np.array([7000, -4000]))
