"""Point-to-line ICP of outlines against outlines, both ways at once. Arrays alone, in mm.

Besides turn and shift it solves for an offset: a robot may draw its outlines closer to the walls
than it did before. Nothing is mirrored, for both frames belong to one robot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from regmap.floors.outline_walls import OutlineWalls

__all__ = ["Match", "Pose", "Side", "match", "refine", "uncertainty"]

Floats = NDArray[np.float64]

# A normal that is wrong by a radian counts as a wall that is so far away.
_TURN_MM = 400.0
_FARTHEST_MM = 400.0
_ASIDE_MM = 150.0
_FACING = 0.7
# Standard deviation beforehand of the offset, against that of one wall, 20 mm: (20 / 450) ** 2.
_OFFSET_PRIOR = 2e-3


@dataclass(frozen=True)
class Pose:
    """Old -> new: turned by `angle` (radians), then scaled, then shifted. `offset`: mm by which the
    new outlines lie outside the old ones."""

    angle: float
    scale: float = 1.0
    shift: tuple[float, float] = (0.0, 0.0)
    offset: float = 0.0

    @property
    def turn(self) -> Floats:
        """(2, 2) rotation."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.array([[c, -s], [s, c]])

    @property
    def matrix(self) -> Floats:
        """(2, 3) map old -> new."""
        return np.column_stack([self.scale * self.turn, self.shift])

    def apply(self, point: Floats) -> Floats:
        """Old points (N, 2) in the new frame."""
        moved: Floats = self.scale * point @ self.turn.T + self.shift
        return moved

    def back(self, point: Floats) -> Floats:
        """New points (N, 2) in the old frame."""
        moved: Floats = (point - self.shift) @ self.turn / self.scale
        return moved


class Side:
    """One side's walls: all samples to be compared with, and some that compare."""

    def __init__(self, walls: OutlineWalls, most: int) -> None:
        self.walls = walls
        self.some = walls.thinned(most)
        self.tree = cKDTree(_keyed(walls.point, walls.normal))


def _keyed(point: Floats, normal: Floats) -> Floats:
    return np.column_stack([point, _TURN_MM * normal])


@dataclass(frozen=True, eq=False)
class Match:
    """Samples of both sides, each with the nearest wall of the other side that faces the same way.

    Attributes:
        place: (N, 2) mm, new frame. normal: (N, 2) of the wall found, outwards, new frame.
        gap: (N,) mm that the new wall lies outside the old one, less the offset.
        weight: (N,) say of the sample. wall: (N,) number of the old wall concerned. own: (N,)
            number of the sample's own wall, old walls first. near: (N,) a wall was found.
        old: (N,) the sample is one of the old side.
    """

    place: Floats
    normal: Floats
    gap: Floats
    weight: Floats
    wall: NDArray[np.intp]
    own: NDArray[np.intp]
    near: NDArray[np.bool_]
    old: NDArray[np.bool_]


def match(pose: Pose, old: Side, new: Side) -> Match:
    """Compare the samples of both sides with the walls of the other one."""
    before, after = old.some, new.some
    moved, facing = pose.apply(before.point), before.normal @ pose.turn.T
    _, there = new.tree.query(_keyed(moved, facing))
    _, here = old.tree.query(_keyed(pose.back(after.point), after.normal @ pose.turn))
    # A gap is taken across the wall that was found, not across the sample's own.
    normal = np.concatenate([new.walls.normal[there], old.walls.normal[here] @ pose.turn.T])
    step = np.concatenate(
        [new.walls.point[there] - moved, after.point - pose.apply(old.walls.point[here])]
    )
    alike = (normal * np.concatenate([facing, after.normal])).sum(axis=1)
    gap = (step * normal).sum(axis=1)
    aside = np.abs(step[:, 0] * normal[:, 1] - step[:, 1] * normal[:, 0])
    reach = _ASIDE_MM + max(old.walls.spacing, new.walls.spacing)
    return Match(
        place=np.concatenate([moved, after.point]),
        normal=normal,
        gap=gap - pose.offset,
        weight=np.concatenate([before.weight, after.weight]),
        wall=np.concatenate([before.wall, old.walls.wall[here]]),
        own=np.concatenate([before.wall, after.wall + int(old.walls.wall[-1]) + 1]),
        near=(aside < reach) & (alike > _FACING) & (np.abs(gap) < _FARTHEST_MM),
        old=np.arange(len(gap)) < len(moved),
    )


def refine(
    pose: Pose, old: Side, new: Side, reaches_mm: tuple[float, ...], *, free_scale: bool = False
) -> Pose:
    """Move a pose onto the walls; `reaches_mm`: for each step, the gap at which a wall has a
    quarter of its say left."""
    for reach in reaches_mm:
        found = match(pose, old, new)
        pose = _moved(pose, found, _robust(found, reach), new, free_scale=free_scale)
    return pose


def _robust(found: Match, reach_mm: float) -> Floats:
    """Weights of samples by Geman & McClure's kernel."""
    weight: Floats = found.weight * found.near / (1.0 + (found.gap / reach_mm) ** 2) ** 2
    return weight


def _design(found: Match, new: Side) -> Floats:
    """(N, 5) derivatives of the old wall's place along the normal: shift x, shift y, turn and
    growth (both in mm at the floor's radius), and offset."""
    x, y = ((found.place - new.walls.centre) / new.walls.radius).T
    nx, ny = found.normal.T
    return np.column_stack([nx, ny, -nx * y + ny * x, nx * x + ny * y, np.ones(len(x))])


def _normal_matrix(J: Floats, weight: Floats, *, free_scale: bool) -> Floats:
    matrix = J.T @ (J * weight[:, None])
    total = max(float(weight.sum()), 1e-9)
    matrix += np.diag([1e-6, 1e-6, 1e-6, 1e-6, _OFFSET_PRIOR]) * total
    if not free_scale:
        matrix[3] = matrix[:, 3] = 0.0
        matrix[3, 3] = total
    return matrix


def _moved(pose: Pose, found: Match, weight: Floats, new: Side, *, free_scale: bool) -> Pose:
    """One step of weighted least squares."""
    J = _design(found, new)
    right = J.T @ (weight * found.gap)
    right[4] -= _OFFSET_PRIOR * weight.sum() * pose.offset
    if not free_scale:
        right[3] = 0.0
    step = np.linalg.solve(_normal_matrix(J, weight, free_scale=free_scale), right)
    centre, radius = new.walls.centre, new.walls.radius
    turn = float(np.clip(step[2] / radius, -0.1, 0.1))
    growth = 1.0 + float(np.clip(step[3] / radius, -0.01, 0.01))
    x, y = growth * Pose(turn).turn @ (np.array(pose.shift) - centre) + centre + step[:2]
    return Pose(
        pose.angle + turn,
        pose.scale * growth,
        (float(x), float(y)),
        pose.offset + float(step[4]),
    )


def uncertainty(
    pose: Pose, old: Side, new: Side, reach_mm: float, *, free_scale: bool = False
) -> Floats:
    """(5, 5) covariance of a refined pose's parameters as in `_design`, mm squared.

    What scatters independently is lines, not samples: a wall is off as a whole, and so are the
    walls of several rooms on one line of a robot's cells. So each line is left out in turn, and the
    scatter of the answers is the covariance: the jackknife by clusters (Bell & McCaffrey, Survey
    Methodology 28(2):169-181, 2002). A wall of the one side and its answer on the other say the
    same, and count as one.
    """
    found = match(pose, old, new)
    ratio = (found.gap / reach_mm) ** 2
    weight = _robust(found, reach_mm)
    J = _design(found, new)
    whole = _normal_matrix(J, weight, free_scale=free_scale)
    gradient = J * (weight * found.gap)[:, None]
    if not free_scale:
        gradient[:, 3] = 0.0
    line, count = _lines(old.walls)
    of = line[found.wall]
    squares = (J[:, :, None] * J[:, None, :] * weight[:, None, None]).reshape(-1, 25)
    own = np.stack([np.bincount(of, column, count) for column in squares.T], axis=1)
    sums = np.stack([np.bincount(of, column, count) for column in gradient.T], axis=1)
    # Nine tenths of it are left out, so that the rest still determines the pose.
    rest = whole - 0.9 * own.reshape(-1, 5, 5)
    if not free_scale:
        rest[:, 3] = rest[:, :, 3] = 0.0
        rest[:, 3, 3] = 1.0
    moves = np.linalg.solve(rest, sums[..., None])[..., 0]
    # The kernel's slope falls faster than its weight, so that the answer gives way more easily.
    slope = float((weight * (1.0 - 3.0 * ratio) / (1.0 + ratio)).sum() / max(weight.sum(), 1e-9))
    covariance: Floats = moves.T @ moves * (_student(count) / max(slope, 0.4)) ** 2
    return covariance


def _student(lines: int) -> float:
    """Factor by which a few lines' own scatter is to be widened: Student's t at 95 % over the
    normal's, within 2 %, for the lines of one direction less two unknowns."""
    freedom = max(lines / 2.0 - 2.0, 2.0)
    return 1.0 + 1.5 / (freedom - 0.75)


def _lines(walls: OutlineWalls) -> tuple[NDArray[np.intp], int]:
    """For each wall the number of the line that it lies on, and how many lines there are."""
    count = int(walls.wall[-1]) + 1
    size = np.maximum(np.bincount(walls.wall, walls.weight, count), 1e-9)
    mean = np.stack(
        [
            np.bincount(walls.wall, walls.weight * column, count) / size
            for column in (*walls.point.T, *walls.normal.T)
        ],
        axis=1,
    )
    place = ((mean[:, :2] - walls.centre) * mean[:, 2:]).sum(axis=1)
    direction = np.degrees(np.arctan2(mean[:, 3], mean[:, 2]))
    key = np.stack([np.rint(direction / 10.0) % 36, np.rint(place / 80.0)], axis=1)
    _, line = np.unique(key, axis=0, return_inverse=True)
    return line.reshape(-1), int(line.max()) + 1
