"""Poses of outlines on outlines -> which is right, how sure, what else fits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from regmap.engine.ramp import ramp
from regmap.floors.rigid import Pose, Side, match

__all__ = ["Evidence", "Rival", "compare", "confidence", "reasons", "weigh"]

Floats = NDArray[np.float64]

_REACH_MM = 60.0
# A rival that explains the first share of what the best pose explains is a twin, unless walls that
# lie on the one and not on the other speak clearly against it; beyond the second it always is.
_RIVAL, _TWIN, _CLEAR = 0.75, 0.93, 3.5


@dataclass(frozen=True, eq=False)
class Evidence:
    """How well one pose lays old walls on new ones.

    Attributes:
        before: 0..1, share of the old walls that new ones lie on. after: share of the new walls
            that old ones lie on. total: their geometric mean. rmse_mm: of the gaps of walls that
            lie on each other. support: (N,) 0..1 of each sample. weight, own: as in `Match`.
    """

    pose: Pose
    before: float
    after: float
    total: float
    rmse_mm: float
    support: Floats
    weight: Floats
    own: NDArray[np.intp]


def weigh(pose: Pose, old: Side, new: Side) -> Evidence:
    """Compare all walls of both sides under a pose."""
    found = match(pose, old, new)
    support: Floats = np.where(found.near, np.exp(-0.5 * (found.gap / _REACH_MM) ** 2), 0.0)
    before, after = (
        float((found.weight * support)[side].sum() / found.weight[side].sum())
        for side in (found.old, ~found.old)
    )
    lying = found.weight * found.near * (np.abs(found.gap) < 2.0 * _REACH_MM)
    rmse = float(np.sqrt((lying * found.gap**2).sum() / max(float(lying.sum()), 1e-9)))
    total = float(np.sqrt(before * after))
    return Evidence(pose, before, after, total, rmse, support, found.weight, found.own)


@dataclass(frozen=True)
class Rival:
    """Another pose against the best one.

    Attributes:
        ratio: its total as a share of the best one's.
        clear: by how many standard deviations the walls on which the two differ speak for the best.
    """

    ratio: float
    clear: float

    @property
    def fits_as_well(self) -> bool:
        """Nothing in the outlines decides between the two."""
        return self.ratio >= _TWIN or (self.ratio >= _RIVAL and self.clear < _CLEAR)


def compare(best: Evidence, other: Evidence) -> Rival:
    """Hold two poses against each other, wall by wall: a wall speaks once, however many samples."""
    difference = best.weight * (best.support - other.support)
    of_wall = np.bincount(best.own, difference)
    spread = float(np.sqrt((of_wall**2).sum()))
    clear = float(difference.sum()) / spread if spread > 0.0 else 0.0
    return Rival(other.total / max(best.total, 1e-12), clear)


def confidence(best: Evidence, explained: float, rival: float) -> float:
    """Probability that the best pose is the right one of the right floor.

    `explained`: share of the old floor whose rooms are kept, joined or split in the new outlines,
    of what the new outlines cover at all. `rival`: largest `ratio` of poses that are no twins.

    Walls decide about the position: of 41 wrong ones among made floors none had a total above 0.41.
    Rooms that are cut otherwise raise the doubt that it is another storey, but refuse nothing.
    """
    position = min(ramp(best.total, 0.25, 0.5), ramp(1.0 - rival, 0.0, 0.2))
    return 0.99 * position * (0.3 + 0.7 * ramp(explained, 0.2, 0.5))


def reasons(best: Evidence, explained: float, rival: float, twins: int) -> list[str]:
    """In words, what keeps the confidence down, and what would raise it."""
    said = []
    if twins:
        said.append(
            f"{twins} other position(s) fit as well: the floor looks the same turned or shifted; "
            "one place known in both frames settles it, such as the charging station's (tie_points)"
        )
    elif rival > 0.8:
        said.append(
            f"another position explains the walls {100 * rival:.0f} % as well; one place known in "
            "both frames settles it, such as the charging station's (tie_points)"
        )
    if best.total < 0.5:
        said.append(
            f"only {100 * best.before:.0f} % of the old walls and {100 * best.after:.0f} % of the "
            "new ones lie on each other: is it the same floor, and did the robot see all of it?"
        )
    if explained < 0.5:
        said.append(
            f"the rooms differ: those of {100 * explained:.0f} % of the floor are kept, joined or "
            "split, and the others are cut otherwise. It may be another storey of the same house"
        )
    return said
