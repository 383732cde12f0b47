"""`align_outlines`: the robot has mapped again; where are its old coordinates in the new frame?"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from itertools import islice
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap import accuracy, frames
from regmap.areas.floor import polygons
from regmap.errors import DoubtfulFitWarning, OutlineError, RegmapError
from regmap.floors.first_poses import find_poses
from regmap.floors.frame_change import FrameChange, NoChangeError
from regmap.floors.outline_walls import OutlineWalls, walls_of
from regmap.floors.rigid import Pose, Side, refine, uncertainty
from regmap.floors.rooms_then_and_now import RoomChange, check_apart, room_changes
from regmap.floors.weigh_changes import Evidence, compare, confidence, reasons, weigh
from regmap.given import chosen, short
from regmap.inputs.options import MOST_TIES, check_ties
from regmap.inputs.outlines import as_rings
from regmap.registration import NOTHING_FITS, fits_nowhere
from regmap.units import UNITS_MM

__all__ = ["align_outlines"]

Floats = NDArray[np.float64]
Rings = dict[str, tuple[Floats, ...]]
Place = tuple[float, float]

_FINALISTS = 6
# Rooms that alternatives may have together; one alternative is told in any case.
_TOLD_ROOMS = 1000
_FIRST_REACHES = (250.0, 180.0, 120.0, 80.0, 80.0)
# Walls on cells of 50 mm are off by up to 50 mm from run to run, more often one way than the other;
# a narrower kernel would believe the many and drop the few that make up for them.
_REACH = 80.0
_LAST_REACHES = (_REACH,) * 5
_APART_MM = 300.0
_FLOOR_MM = 4.0
# Robots map in cells of this size; a move that is off by more is not right.
_CELL_MM = 50.0
# The scale is let go if it is off by so much, and by so many standard deviations.
_LEAST_GROWTH, _CLEAR_GROWTH = 0.002, 4.0
# A tie point may be off by so much; a twin on which it is off by so much more is none.
_TIE_MM, _TIE_APART_MM = 1500.0, 800.0
_OTHER_SIZE = 20.0


def align_outlines(
    old: Any,
    new: Any,
    *,
    tie_points: Sequence[tuple[Place, Place]] = (),
    unit: str = "mm",
) -> FrameChange:
    """Find where a robot's old coordinates lie in its new ones, after it has mapped again.

    The new frame may have another origin and be turned; rooms may be joined, split, missing or new,
    and furniture may have moved. Every turn and shift is looked at, so that a floor that looks the
    same turned by 180 degrees comes back with its twin among the `alternatives`.

    Args:
        old, new: outlines of the two mapping runs, in any shape that `register` takes. Their names
            need not agree, and are not used.
        tie_points: pairs ((x, y) old, (x, y) new) known to about a metre, such as the charging
            station's.
        unit: of both frames, one of mm, cm, dm, m, in, ft.

    Returns:
        The FrameChange. Python warns (DoubtfulFitWarning) where it is not to be trusted blindly.

    Raises:
        OutlineError: if the outlines cannot be used, lie upon each other or are of different units.
        NoFitError: if the outlines lie on each other nowhere; `change` holds the best position.
    """
    chosen(unit, UNITS_MM, "unit")
    before, after = as_rings(old), as_rings(new)
    check_apart(before, "old")
    check_apart(after, "new")
    solver = _Aligner(before, after, UNITS_MM[unit], unit)
    change = solver.solve(_ties(tie_points) * UNITS_MM[unit])
    if fits_nowhere(change.confidence, (other.confidence for other in change.alternatives)):
        raise NoChangeError(change)
    if change.doubtful:
        why = "; ".join(change.reasons) or f"confidence {change.confidence:.2f}"
        warnings.warn(f"doubtful change of frame: {why}", DoubtfulFitWarning, stacklevel=2)
    return change


def _ties(tie_points: Sequence[tuple[Place, Place]]) -> Floats:
    """(N, 4): x, y old, x, y new."""
    try:
        few = islice(tie_points, MOST_TIES + 1)
        table = np.array([[*a, *b] for a, b in few], dtype=np.float64).reshape(-1, 4)
    except Exception:  # a sequence of somebody else's may fail in ways of its own
        raise RegmapError(
            f"tie_points is {short(tie_points)}, but pairs ((x, y) old, (x, y) new) are needed"
        ) from None
    return check_ties(table)


class _Aligner:
    """One alignment, inside in mm."""

    def __init__(self, old: Rings, new: Rings, unit_mm: float, unit: str) -> None:
        self.old, self.new, self.unit_mm, self.unit = old, new, unit_mm, unit
        self.before, self.after = (walls_of(_scaled(rings, unit_mm)) for rings in (old, new))
        ratio = self.before.radius / self.after.radius
        if not 1.0 / _OTHER_SIZE < ratio < _OTHER_SIZE:
            raise OutlineError(
                f"the old outlines are {ratio:.3g} times as large as the new ones: both must be in "
                f"the same unit ({unit} was said)"
            )
        self.sides = Side(self.before, 1500), Side(self.after, 1500)
        self.rooms = polygons(old), polygons(new)

    def solve(self, ties: Floats) -> FrameChange:
        """Find, refine and weigh poses; put the result together."""
        poses = self._first(ties)
        found = sorted((self._last(pose) for pose in poses), key=lambda e: -e.total)
        ranked = _distinct(found, self.before)
        rivals = [compare(ranked[0], other) for other in ranked[1:]]
        alike = [e for e, r in zip(ranked[1:], rivals, strict=True) if r.fits_as_well]
        best, twins = _told_apart([ranked[0], *alike], ties)
        rival = max((r.ratio for r in rivals if not r.fits_as_well), default=0.0)
        contradicted = bool(_off(best.pose, ties) > _TIE_MM)
        return self._change(best, twins, rival, contradicted=contradicted)

    def _first(self, ties: Floats) -> list[Pose]:
        """The best few poses from all over the plane, settled on few samples."""
        old, new = (Side(w.thinned(2000), 200) for w in (self.before, self.after))
        settled = [refine(p, old, new, _FIRST_REACHES) for p in find_poses(self.before, self.after)]
        admitted = [pose for pose in settled if _off(pose, ties) <= _TIE_MM]
        weighed = [weigh(pose, old, new) for pose in admitted or settled]
        weighed.sort(key=lambda e: -e.total)
        return [e.pose for e in _distinct(weighed, self.before)[:_FINALISTS]]

    def _last(self, pose: Pose) -> Evidence:
        """Settle a pose on all walls; keep the scale at 1 unless it clearly is another."""
        old, new = self.sides
        fixed = refine(pose, old, new, _LAST_REACHES)
        freed = refine(fixed, old, new, _LAST_REACHES, free_scale=True)
        growth = abs(freed.scale - 1.0)
        if growth >= _LEAST_GROWTH:
            spread = uncertainty(freed, old, new, _REACH, free_scale=True)[3, 3]
            if growth >= _CLEAR_GROWTH * np.sqrt(spread) / self.after.radius:
                fixed = freed
        return weigh(fixed, old, new)

    def _change(
        self, best: Evidence, twins: list[Evidence], rival: float, *, contradicted: bool
    ) -> FrameChange:
        rooms = self._rooms(best)
        explained = _explained(rooms, self.rooms[0])
        sure = confidence(best, explained, rival)
        if sure < NOTHING_FITS:
            twins = []  # of nothing
        close = self._chance_within(best.pose)
        sure *= close / (1 + len(twins))
        said = reasons(best, explained, rival, len(twins))
        if close < 0.95:
            said.append(
                f"the predicted error leaves a chance of {100 * (1.0 - close):.0f} % of being more "
                f"than {_CELL_MM / self.unit_mm:g} {self.unit} off: few walls lie on each other, "
                "or the outlines are rough"
            )
        if contradicted:
            sure = min(sure, 0.04)
            said.insert(0, "the tie points contradict every position at which walls lie on walls")
        few = twins[: max(_TOLD_ROOMS // len(self.old), 1)]
        others = tuple(self._as_change(e, sure, self._rooms(e), (), ()) for e in few)
        return self._as_change(best, sure, rooms, tuple(said), others)

    def _rooms(self, evidence: Evidence) -> tuple[RoomChange, ...]:
        matrix = _in_unit(evidence.pose, self.unit_mm)
        moved = {
            name: shapely.transform(room, lambda xy: frames.apply(matrix, xy))
            for name, room in self.rooms[0].items()
        }
        return room_changes(moved, self.rooms[1])

    def _known(self, pose: Pose) -> tuple[Floats, Floats]:
        """(6, 6) covariance of the new position's coefficients, and (2,) the old place about which
        it holds, both in the frames' unit."""
        old, new = self.sides
        spread = uncertainty(pose, old, new, _REACH, free_scale=pose.scale != 1.0)
        covariance = _of_coefficients(spread, pose, self.after.radius, self.unit_mm)
        return covariance, pose.back(self.after.centre[None])[0] / self.unit_mm

    def _chance_within(self, pose: Pose) -> float:
        """Probability that the rooms' corners come to lie within a cell of where they belong."""
        covariance, anchor = self._known(pose)
        shift = np.diag([0.0, 0.0, 1.0] * 2) * (_FLOOR_MM / self.unit_mm) ** 2
        corners = np.concatenate([ring for rings in self.old.values() for ring in rings])
        return accuracy.chance_within(covariance + shift, corners - anchor, _CELL_MM / self.unit_mm)

    def _as_change(
        self,
        evidence: Evidence,
        sure: float,
        rooms: tuple[RoomChange, ...],
        said: tuple[str, ...],
        others: tuple[FrameChange, ...],
    ) -> FrameChange:
        pose = evidence.pose
        covariance, (x, y) = self._known(pose)
        return FrameChange(
            old_to_new=frames.matrix_to_affine(_in_unit(pose, self.unit_mm)),
            confidence=sure,
            rmse=evidence.rmse_mm / self.unit_mm,
            outline_offset=pose.offset / self.unit_mm,
            covariance=covariance,
            anchor=(float(x), float(y)),
            floor_error=_FLOOR_MM / self.unit_mm,
            old_outlines=self.old,
            new_outlines=self.new,
            rooms=rooms,
            reasons=said,
            alternatives=others,
            unit=self.unit,
        )


def _scaled(rings: Rings, factor: float) -> Rings:
    return {name: tuple(ring * factor for ring in parts) for name, parts in rings.items()}


def _in_unit(pose: Pose, unit_mm: float) -> Floats:
    matrix = pose.matrix
    matrix[:, 2] /= unit_mm
    return matrix


def _off(pose: Pose, ties: Floats) -> float:
    """How far a pose is off the tie points (N, 4), at most."""
    gap = pose.apply(ties[:, :2]) - ties[:, 2:]
    return float(np.hypot(gap[:, 0], gap[:, 1]).max(initial=0.0))


def _told_apart(alike: list[Evidence], ties: Floats) -> tuple[Evidence, list[Evidence]]:
    """Of poses that fit alike the one nearest to the tie points, and those about as near."""
    off = [_off(e.pose, ties) for e in alike]
    best = int(np.argmin(off))
    others = [n for n in range(len(alike)) if n != best and off[n] < off[best] + _TIE_APART_MM]
    return alike[best], [alike[n] for n in others]


def _distinct(ranked: list[Evidence], walls: OutlineWalls) -> list[Evidence]:
    """Those that put the floor elsewhere than each better one does."""
    ends = walls.centre + walls.radius * np.array([[1.0, 0], [0, 1], [-1, 0], [0, -1]])
    kept: list[Evidence] = []
    for one in ranked:
        place = one.pose.apply(ends)
        if all(np.abs(place - other.pose.apply(ends)).max() > _APART_MM for other in kept):
            kept.append(one)
    return kept


def _explained(rooms: tuple[RoomChange, ...], old: Mapping[str, BaseGeometry]) -> float:
    """Share of the old floor whose rooms are kept, joined or split, of what is not gone."""
    size = {name: room.area for name, room in old.items()}
    there = sum(size[room.name] for room in rooms if room.state != "gone")
    same = sum(size[r.name] for r in rooms if r.state in ("kept", "joined", "split"))
    return float(same / there) if there > 0 else 0.0


def _of_coefficients(spread: Floats, pose: Pose, radius: float, unit_mm: float) -> Floats:
    """(6, 6) covariance of a, b, c, d, e, f, in x' = a u + b v + c, y' = d u + e v + f, from (5, 5)
    that of shift, turn and growth, both at the radius, in mm."""
    turned = pose.scale * pose.turn / radius
    quarter = np.array([[0.0, -1.0], [1.0, 0.0]])
    by = np.zeros((2, 3, 4))
    by[:, 2, :2] = np.eye(2) / unit_mm
    by[:, :2, 2] = quarter @ turned
    by[:, :2, 3] = turned
    flat = by.reshape(6, 4)
    covariance: Floats = flat @ spread[:4, :4] @ flat.T
    return covariance
