"""Is a floor nearly the same when mirrored or turned? Such a floor has no single true answer."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .floors import Floor

__all__ = ["likeness", "lopsided"]

Array = NDArray[np.float64]
SAMPLES = 1200


def _spread(lines: BaseGeometry) -> Array:
    """Points at equal steps along lines, (N, 2)."""
    step = lines.length / SAMPLES
    return shapely.get_coordinates(shapely.segmentize(lines, step))


def likeness(lines: BaseGeometry, moved: Array, reach: float) -> float:
    """Share of `moved` points that lie within `reach` of `lines`, worst half of the plan counted.

    A twin must agree everywhere: a floor whose left half alone is symmetric has none.
    """
    near = shapely.dwithin(lines, shapely.points(moved), reach)
    return float(near.mean())


def lopsided(floor: Floor, *, limit: float = 0.9) -> bool:
    """True if no mirror image and no turn of the floor's walls lies on nearly all of its walls."""
    lines = shapely.union_all([r.boundary for r in floor.cells.values()])
    shapely.prepare(lines)
    points = _spread(lines)
    size = float(np.sqrt(floor.shell.area))
    reach = 0.02 * size
    middles = [points.mean(axis=0), (points.min(axis=0) + points.max(axis=0)) / 2]
    middles.append(shapely.get_coordinates(floor.shell.centroid)[0])
    angles = _wall_directions(points)
    for middle in middles:
        for move in _moves(angles):
            moved = (points - middle) @ move.T + middle
            for shift in _nudges(points, moved, reach):
                if likeness(lines, moved + shift, reach) > limit:
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


def _nudges(points: Array, moved: Array, reach: float) -> list[Array]:
    """Shifts to try: none, and the one that lays box on box."""
    low = points.min(axis=0) - moved.min(axis=0)
    high = points.max(axis=0) - moved.max(axis=0)
    return [np.zeros(2), (low + high) / 2]
