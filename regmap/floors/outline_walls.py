"""Outlines as walls: samples of where they run and which way is outwards. Arrays alone, in mm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

__all__ = ["OutlineWalls", "walls_of"]

Floats = NDArray[np.float64]
Rings = Mapping[str, tuple[Floats, ...]]

# A wall's direction is that of the outline simplified by so much: more than the steps of 50 mm
# cells (35 mm across), less than a wall is thick.
_STEP_MM = 60.0
_SPACING_MM = 50.0
_MOST_SAMPLES = 8000
_LONG_MM = 1500.0


@dataclass(frozen=True, eq=False)
class OutlineWalls:
    """Samples along outlines, N of them.

    Attributes:
        point: (N, 2) mm. normal: (N, 2) unit vectors, out of the room. weight: (N,) say of a
            sample: the length of wall that it stands for, less on long walls. wall: (N,) number of
            the straight run that it lies on.
        centre: (2,) middle of the outlines' box. radius: mm, half the box' diagonal. spacing: mm
            between samples, at most.
    """

    point: Floats
    normal: Floats
    weight: Floats
    wall: NDArray[np.intp]
    centre: Floats
    radius: float
    spacing: float

    def thinned(self, most: int) -> OutlineWalls:
        """Every second, third ... sample, so that at most `most` are left."""
        step = -(-len(self.point) // most)
        kept = slice(step // 2, None, step)
        return OutlineWalls(
            self.point[kept],
            self.normal[kept],
            self.weight[kept] * step,
            self.wall[kept],
            self.centre,
            self.radius,
            self.spacing * step,
        )


def walls_of(rings: Rings) -> OutlineWalls:
    """Sample outlines {name: (outer ring, holes...)}, each (N, 2) mm, evenly along their length.

    Staircases of cells count as the slanted wall that they stand for: samples lie on the steps,
    normals are those of the wall.
    """
    whole = np.concatenate([ring for parts in rings.values() for ring in parts])
    low, high = whole.min(axis=0), whole.max(axis=0)
    perimeter = sum(_perimeter(ring) for parts in rings.values() for ring in parts)
    spacing = max(_SPACING_MM, perimeter / _MOST_SAMPLES)
    pieces = []
    count = 0
    for parts in rings.values():
        for number, ring in enumerate(parts):
            point, normal, length, wall = _sampled(_wound(ring, outer=number == 0), spacing)
            pieces.append((point, normal, length, wall + count))
            count += int(wall[-1]) + 1
    point, normal, length = (np.concatenate([p[k] for p in pieces]) for k in range(3))
    wall = np.concatenate([p[3] for p in pieces])
    # Each wall is off by an amount of its own, however long it is, so that a wall twice as long
    # does not say twice as much.
    run = np.bincount(wall, length)[wall]
    return OutlineWalls(
        point=point,
        normal=normal,
        weight=length / (1.0 + run / _LONG_MM),
        wall=wall,
        centre=0.5 * (low + high),
        radius=0.5 * float(np.hypot(*(high - low))),
        spacing=spacing,
    )


def _perimeter(ring: Floats) -> float:
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


def _wound(ring: Floats, *, outer: bool) -> Floats:
    """Outer rings anti-clockwise, holes clockwise: the room is always on the left."""
    x, y = (ring - ring[0]).T
    area = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
    return ring if (area > 0) == outer else ring[::-1]


def _sampled(ring: Floats, spacing: float) -> tuple[Floats, Floats, Floats, NDArray[np.intp]]:
    """Points, outward normals, lengths and numbers of walls of one ring, in its order."""
    closed = np.concatenate([ring, ring[:1]])
    corner = _corners(closed)
    run = np.diff(closed[corner], axis=0)
    along = run / np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-9)[:, None]
    edge = np.diff(closed, axis=0)
    wall_of_edge = np.repeat(np.arange(len(run)), np.diff(corner))
    # Across a wall's steps there is no wall: an edge stands for its length along the wall.
    share = np.abs((edge * along[wall_of_edge]).sum(axis=1))
    count = np.maximum(np.ceil(np.hypot(edge[:, 0], edge[:, 1]) / spacing), 1).astype(np.intp)
    of = np.repeat(np.arange(len(edge)), count)
    within = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    part = (within + 0.5) / count[of]
    wall = wall_of_edge[of]
    normal = np.column_stack([along[wall, 1], -along[wall, 0]])
    return closed[of] + part[:, None] * edge[of], normal, share[of] / count[of], wall


def _corners(closed: Floats) -> NDArray[np.intp]:
    """Indices of the points at which a closed line really turns; first and last are among them."""
    kept = shapely.get_coordinates(shapely.simplify(shapely.LineString(closed), _STEP_MM)).tolist()
    points = closed.tolist()
    found, at = [0], 0
    for corner in kept[1:-1]:
        # The kept points are some of the given ones, in their order.
        at = points.index(corner, at + 1)
        found.append(at)
    return np.array([*found, len(closed) - 1], dtype=np.intp)
