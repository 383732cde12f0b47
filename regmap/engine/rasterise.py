"""Outlines -> label raster and distance fields, in the outlines' own frame.

OpenCV's fillPoly with sub-pixel shift is used throughout: it is quick and lets other threads run,
which general rasterisers that hold the interpreter lock for a whole run do not.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .edges import ORIENTATIONS
from .walls import Walls

Floats = NDArray[np.float64]

_SHIFT = 4
_MARGIN = 0.12


@dataclass(frozen=True, eq=False)
class Raster:
    """Rasterised outlines. Cell (column, row) of a point p: p * scale + shift (corner convention).

    `label` (h, w) int32: index of the room + 1, 0 where there is none. `distance`
    (ORIENTATIONS, h, w): own units to the next wall of that orientation; `depth` (h, w): own units
    to the next wall of any orientation; `beyond` (h, w): the same outside of rooms, 0 within.
    """

    scale: float
    shift: Floats
    label: NDArray[np.int32]
    distance: NDArray[np.float32]
    depth: NDArray[np.float32]
    beyond: NDArray[np.float32]

    def cells(self, points: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """(column, row) of points (..., 2), clipped into the raster."""
        place = np.floor(points * self.scale + self.shift)
        rows, columns = self.label.shape
        # Clip before the cast: far outliers would overflow the integer.
        place = np.clip(place, 0, (columns - 1, rows - 1)).astype(np.int64)
        return place[..., 0], place[..., 1]


def rasterise(walls: Walls, size: int = 352) -> Raster:
    """Label raster and distance fields of outlines; `size` cells the longer way, a margin all
    round."""
    corners = walls.corners
    low, high = corners.min(axis=0), corners.max(axis=0)
    longer = max(float((high - low).max()), 1e-12)
    scale = size / (longer * (1.0 + 2.0 * _MARGIN))
    columns, rows = np.ceil((high - low + 2.0 * _MARGIN * longer) * scale - 1e-6).astype(int)
    shift = 0.5 * np.array([columns, rows]) - 0.5 * (low + high) * scale
    label = np.zeros((rows, columns), dtype=np.int32)
    # The largest first: rooms that lie inside others stay visible.
    for number in np.argsort(-walls.areas, kind="stable"):
        rings = [_fixed(ring * scale + shift) for ring in walls.rings[int(number)]]
        cv2.fillPoly(label, rings, int(number) + 1, lineType=cv2.LINE_8, shift=_SHIFT)
    distance = np.empty((ORIENTATIONS, rows, columns), dtype=np.float32)
    angle = np.mod(np.arctan2(walls.normal[:, 1], walls.normal[:, 0]), np.pi)
    start, end = _fixed(walls.start * scale + shift), _fixed(walls.end * scale + shift)
    for number in range(ORIENTATIONS):
        away = np.abs(np.mod(angle - number * np.pi / ORIENTATIONS + np.pi / 2, np.pi) - np.pi / 2)
        chosen = np.nonzero(away < np.deg2rad(18.0))[0]
        _distance(start[chosen], end[chosen], distance[number])
    distance /= scale
    # Every wall is in a channel, or in two.
    depth = distance.min(axis=0)
    beyond = np.where(label > 0, np.float32(0.0), depth)
    return Raster(scale, shift, label, distance, depth, beyond)


def inner_points(raster: Raster, walls: Walls, count: int) -> Floats:
    """(R, count, 2) points in the own frame, two or more, spread over each room, away from its
    walls."""
    width = raster.label.shape[1]
    points, depth = np.zeros((walls.rooms, count, 2)), raster.depth.reshape(-1)
    cells = np.flatnonzero(raster.label)
    # Room by room; of small numbers in a fourth of the time, and rooms are at most some thousands.
    cells = cells[np.argsort(raster.label.take(cells).astype(np.uint16), kind="stable")]
    number, start, owner = np.unique(
        raster.label.take(cells) - 1, return_index=True, return_inverse=True
    )
    if not len(number):
        return points
    least = 0.35 * np.maximum.reduceat(depth[cells], start).astype(np.float64)
    deep = depth[cells] >= least.astype(np.float32)[owner.reshape(-1)]
    found = np.add.reduceat(deep, start, dtype=np.int64)
    # Evenly spread over those of each room, from the first to the last.
    place = (np.arange(count) * ((found - 1) / (count - 1))[:, None]).astype(np.int64)
    chosen = cells[deep][(np.cumsum(found) - found)[:, None] + place]
    middle = np.stack([chosen % width, chosen // width], axis=2) + 0.5
    points[number] = (middle - raster.shift) / raster.scale
    return points


def _fixed(points: Floats) -> NDArray[np.int32]:
    """Corner-convention cells -> OpenCV's fixed-point pixel centres."""
    return np.rint((points - 0.5) * (1 << _SHIFT)).astype(np.int32).reshape(-1, 1, 2)


def _distance(start: NDArray[np.int32], end: NDArray[np.int32], found: NDArray[np.float32]) -> None:
    """Fills in cells to the next of some lines."""
    if not len(start):
        found[:] = 1e3
        return
    canvas = np.full(found.shape, 255, dtype=np.uint8)
    lines = np.stack([start[:, 0], end[:, 0]], axis=1)
    cv2.polylines(canvas, list(lines), False, 0, 1, cv2.LINE_8, _SHIFT)
    cv2.distanceTransform(canvas, cv2.DIST_L2, 5, found)
