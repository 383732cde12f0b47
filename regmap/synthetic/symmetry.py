"""Is a floor nearly the same when mirrored or turned? Such a floor has no single true answer."""

from __future__ import annotations

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.frames import PIXEL_CENTRE

from .floors import Floor

__all__ = ["Reach", "lopsided", "skew_twin", "spread"]

Array = NDArray[np.float64]
SAMPLES = 1200


def spread(lines: BaseGeometry) -> Array:
    """Points at equal steps along lines, (N, 2)."""
    step = lines.length / SAMPLES
    return shapely.get_coordinates(shapely.segmentize(lines, step))


class Reach:
    """Which places lie within `reach` mm of some lines: a raster, as it is asked very often."""

    def __init__(self, lines: BaseGeometry, reach: float) -> None:
        self.cell = reach / 4
        left, bottom, right, top = lines.bounds
        self.corner = np.array([left, bottom]) - 2 * reach
        size = np.ceil((np.array([right, top]) + 2 * reach - self.corner) / self.cell).astype(int)
        near = np.full((size[1] + 1, size[0] + 1), 255, np.uint8)
        for line in shapely.get_parts(lines):
            points = (shapely.get_coordinates(line) - self.corner) / self.cell - PIXEL_CENTRE
            cv2.polylines(near, [np.rint(points * 16).astype(np.int32)], False, (0,), 1, shift=4)
        self.near = cv2.distanceTransform(near, cv2.DIST_L2, 5) <= 4

    def share(self, points: Array) -> float:
        """Share of points, (N, 2) mm, that lie within reach."""
        cell = np.floor((points - self.corner) / self.cell).astype(np.int64)
        height, width = self.near.shape
        inside = ((cell >= 0) & (cell < (width, height))).all(axis=1)
        column, row = cell[inside].T
        return float(self.near[row, column].sum()) / max(len(points), 1)


def lopsided(floor: Floor, *, limit: float = 0.9, part: BaseGeometry | None = None) -> bool:
    """True if no mirror image and no turn of the floor's walls lies on nearly all of its walls.

    `part`, floor mm: only the walls within it are mirrored and turned, as if no others were seen.
    """
    lines = floor.wall_lines
    seen = lines if part is None else lines.intersection(part)
    if seen.is_empty:
        return False
    points = spread(seen)
    reach = 0.02 * float(np.sqrt(floor.shell.area))
    near = Reach(lines, reach)
    middles = [points.mean(axis=0), (points.min(axis=0) + points.max(axis=0)) / 2]
    middles.append(shapely.get_coordinates(floor.shell.centroid)[0])
    for move in _moves(_wall_directions(points)):
        for middle in middles:
            moved = (points - middle) @ move.T + middle
            for shift in _nudges(points, moved):
                if near.share(moved + shift) > limit:
                    return False
    return True


def _wall_directions(points: Array) -> list[float]:
    """Directions of most wall length, radians in 0..pi/2."""
    steps = np.diff(points, axis=0)
    length = np.hypot(*steps.T)
    angle = np.arctan2(steps[:, 1], steps[:, 0]) % (np.pi / 2)
    bins = np.round(angle / np.radians(1.0)).astype(int) % 90
    weight = np.bincount(bins, np.where(length < 5 * np.median(length), length, 0), minlength=90)
    return [float(np.radians(b)) for b in np.argsort(-weight)[:2]]


def _moves(angles: list[float]) -> list[Array]:
    """Turns by quarters and mirrors along the walls' directions and their diagonals."""
    moves = [
        np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
        for t in np.pi / 2 * np.arange(1, 4)
    ]
    for angle in angles:
        for axis in angle + np.pi / 4 * np.arange(4):
            c, s = np.cos(2 * axis), np.sin(2 * axis)
            moves.append(np.array([[c, s], [s, -c]]))
    return moves


def _nudges(points: Array, moved: Array) -> list[Array]:
    """Shifts to try: none, and the one that lays box on box."""
    low = points.min(axis=0) - moved.min(axis=0)
    high = points.max(axis=0) - moved.max(axis=0)
    return [np.zeros(2), (low + high) / 2]


def skew_twin(floor: Floor, *, limit: float = 0.85) -> bool:
    """True if some affine map other than a plain one lays the floor's walls on nearly themselves.

    Such a map keeps the second moments of the walls. So they are made round first; what is left are
    turns and mirrors about the middle, tried every 4 degrees.
    """
    lines = floor.wall_lines
    points = spread(lines)
    middle = points.mean(axis=0)
    root = np.linalg.cholesky(np.cov((points - middle).T))
    reach = 0.03 * float(np.sqrt(floor.shell.area))
    near = Reach(lines, reach)
    flat = np.linalg.solve(root, (points[::3] - middle).T)
    for angle in np.radians(np.arange(0, 360, 4)):
        c, s = np.cos(angle), np.sin(angle)
        for move in (np.array([[c, -s], [s, c]]), np.array([[c, s], [s, -c]])):
            moved = (root @ move @ flat).T
            apart = np.abs(moved - (points[::3] - middle)).max()
            if apart > 3 * reach and near.share(moved + middle) > limit:
                return True
    return False
