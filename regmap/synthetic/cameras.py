"""From floor mm to picture px, exactly: scale, turn, mirror, axis stretch, and what is cut off."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from .shapes import through

__all__ = ["camera"]

Array = NDArray[np.float64]


def camera(
    shape: BaseGeometry,
    size: tuple[int, int],
    rng: Generator,
    *,
    turn_deg: float = 0.0,
    mirrored: bool = False,
    stretch: float = 1.0,
    fill: float = 0.85,
    scale: float | None = None,
    lost: float = 0.0,
) -> Array:
    """A (2, 3) matrix from floor mm (y up) to (column, row) px (row down).

    The floor is turned counter-clockwise as seen in the picture, mirrored left to right if asked,
    and its columns are stretched by `stretch` against its rows. It then fills `fill` of the tighter
    side of `size` (width, height), at a sub-pixel place of its own. `lost`: share of the floor's
    area that one side of the picture cuts off.
    """
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    linear = np.array([[-1.0 if mirrored else 1.0, 0], [0, -1.0]]) @ np.array([[c, -s], [s, c]])
    linear = np.diag([np.sqrt(stretch), 1 / np.sqrt(stretch)]) @ linear
    flat = through(shape, np.column_stack([linear, np.zeros(2)]))
    left, top, right, bottom = flat.bounds
    room = np.array(size, float)
    if scale is None:
        scale = float(fill * (room / (right - left, bottom - top)).min())
    spare = room - scale * np.array([right - left, bottom - top])
    shift = spare * (0.5 + rng.uniform(-0.35, 0.35, 2)) - scale * np.array([left, top])
    matrix = np.column_stack([scale * linear, shift])
    return _cut_off(matrix, shape, size, lost, rng) if lost > 0 else matrix


def _cut_off(
    matrix: Array, shape: BaseGeometry, size: tuple[int, int], lost: float, rng: Generator
) -> Array:
    """Move the floor over one side of the picture until `lost` of its area is outside."""
    axis, sign = int(rng.integers(0, 2)), float(rng.choice([-1.0, 1.0]))
    frame = shapely.box(0, 0, *size)
    flat = through(shape, matrix)
    near, far = 0.0, 2.0 * max(size)
    for _ in range(40):
        push = (near + far) / 2
        step = np.zeros(2)
        step[axis] = sign * push
        moved = affinity.translate(flat, *step)
        outside = 1 - moved.intersection(frame).area / flat.area
        near, far = (push, far) if outside < lost else (near, push)
    moved_matrix = matrix.copy()
    moved_matrix[axis, 2] += sign * push
    return moved_matrix
