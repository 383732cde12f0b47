"""What boxes hold of a polygon: its bounds within them, in full or by cells."""

from __future__ import annotations

from typing import Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas.grid import CellGrid, Flags, edges_of, outside

__all__ = ["Alone", "Content", "Held", "RoughContent"]

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.intp]

# So many edges times boxes are looked at in one go; of more, some at a time.
_AT_ONCE = 4096
_SOME = 256


class Held(Protocol):
    """What tells how much of a polygon boxes hold."""

    def bounds(self, boxes: Floats) -> Floats | None:
        """Return (4,) bounds of what (M, 4) boxes hold of the polygon; None if it is nothing."""


class Alone:
    """What a box alone holds, others taken off; what was asked before is remembered.

    Of fifty boxes a step changes two or three, and each is asked again only when one of those that
    it meets is another.
    """

    def __init__(self, content: Held) -> None:
        self.content = content
        self._known: dict[bytes, Floats | None] = {}

    def alone(self, box: Floats, others: Floats) -> Floats | None:
        """Return (4,) bounds of what a (4,) box holds and no other of (N, 4) covers, or None."""
        meets = (others[:, :2] < box[2:]).all(axis=1) & (box[:2] < others[:, 2:]).all(axis=1)
        others = others[meets]
        key = box.tobytes() + others.tobytes()
        if key not in self._known:
            self._known[key] = self.content.bounds(outside(box, others))
        return self._known[key]


class RoughContent:
    """By the bounds of what cells hold: too wide by a cell at most, and quick for any polygon."""

    def __init__(self, grid: CellGrid) -> None:
        rows = []
        for full, touched, held in zip(grid.full, grid.touched, grid.held, strict=True):
            rows.append(held[touched & ~full])
            # Of cells inside, a run is one piece.
            turns = np.flatnonzero(np.diff(np.concatenate([[False], full, [False]])))
            first, last = held[turns[::2]], held[turns[1::2] - 1]
            rows.append(np.hstack([first[:, :2], last[:, 2:]]))
        self.pieces = np.ascontiguousarray(np.concatenate(rows).T)

    def bounds(self, boxes: Floats) -> Floats | None:
        """Return (4,) bounds of what (M, 4) boxes hold of the pieces; None if it is nothing."""
        if not len(boxes):
            return None
        x0, y0, x1, y1 = (boxes[:, side, None] for side in range(4))
        meets = (self.pieces[0] < x1.max()) & (self.pieces[2] > x0.min())
        meets &= (self.pieces[1] < y1.max()) & (self.pieces[3] > y0.min())
        left, low, right, high = self.pieces[:, meets]
        left, low = np.maximum(left, x0), np.maximum(low, y0)
        right, high = np.minimum(right, x1), np.minimum(high, y1)
        held = (left < right) & (low < high)
        if not held.any():
            return None
        ends = [left[held].min(), low[held].min(), right[held].max(), high[held].max()]
        return np.array(ends)


class Content:
    """In full: what every edge within a box adds."""

    def __init__(self, polygon: BaseGeometry) -> None:
        self.edges = edges_of(polygon)
        one, other = self.edges[:, :2].T, self.edges[:, 2:].T
        self.ends = np.concatenate([np.minimum(one, other), np.maximum(one, other)])
        self.near = 1e-10 * float(np.ptp(self.edges[:, [0, 2]]) + np.ptp(self.edges[:, [1, 3]]))

    def bounds(self, boxes: Floats) -> Floats | None:
        """Return (4,) bounds of what (M, 4) boxes hold of the polygon; None if it is nothing.

        The ends are those of the border's pieces within a box, and of the box's corners within the
        polygon. Each box is taken a little smaller, so that what only touches it does not count.
        """
        if not len(boxes):
            return None
        low, high = boxes[:, :2] + self.near, boxes[:, 2:] - self.near
        (x0, y0), (x1, y1) = low.min(axis=0), high.max(axis=0)
        meets = (self.ends[0] < x1) & (self.ends[2] > x0)
        meets &= (self.ends[1] < y1) & (self.ends[3] > y0)
        if meets.sum() * len(boxes) <= _AT_ONCE:
            found = _ends(self.edges[meets], low, high)
        else:
            found = self._ends_in_turn(np.flatnonzero(meets), low, high)
        x, y = [c.ravel() for c in np.broadcast_arrays(*_corners(low, high))]
        wider = (x < found[0]) | (y < found[1]) | (x > found[2]) | (y > found[3])
        if wider.any():
            x, y = x[wider], y[wider]
            inside = self._contains(x, y)
            found = _joined(found, np.column_stack([x, y])[inside])
        if not np.isfinite(found[0]):
            return None
        # Ends at a box that was made smaller are ends at the box.
        sides = np.concatenate([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])
        lines = np.concatenate([boxes[:, :2], boxes[:, 2:]])
        for side in range(4):
            gaps = np.abs(lines[:, side % 2] - found[side])
            if gaps.min() <= 2 * self.near:
                found[side] = lines[gaps.argmin(), side % 2]
        clipped: Floats = np.clip(found, np.tile(sides[:2], 2), np.tile(sides[2:], 2))
        return clipped

    def _ends_in_turn(self, edges: Ints, low: Floats, high: Floats) -> Floats:
        """Return bounds of what boxes hold of some edges, few at a time, without those that add
        nothing to what others reach."""
        found = np.array([np.inf, np.inf, -np.inf, -np.inf])
        x0, y0, x1, y1 = (ends[edges] for ends in self.ends)
        for start, end in zip(low, high, strict=True):
            meets = (x0 < end[0]) & (x1 > start[0]) & (y0 < end[1]) & (y1 > start[1])
            # What an edge may add: its own bounds, cut off at the box's.
            left = np.flatnonzero(meets)
            reach = np.stack(
                [
                    np.maximum(x0[left], start[0]),
                    np.maximum(y0[left], start[1]),
                    np.minimum(x1[left], end[0]),
                    np.minimum(y1[left], end[1]),
                ]
            )
            uncut = (reach[0] == x0[left]) & (reach[1] == y0[left])
            uncut &= (reach[2] == x1[left]) & (reach[3] == y1[left])
            found = _widened(found, reach[:, uncut])
            left, reach = left[~uncut], reach[:, ~uncut]
            while len(left):
                adds = (reach[0] < found[0]) | (reach[1] < found[1])
                adds |= (reach[2] > found[2]) | (reach[3] > found[3])
                left, reach = left[adds], reach[:, adds]
                cut = _ends(self.edges[edges[left[:_SOME]]], start[None], end[None])
                found = _widened(found, cut[:, None])
                left, reach = left[_SOME:], reach[:, _SOME:]
        return found

    def _contains(self, x: Floats, y: Floats) -> Flags:
        """Tell which points lie inside: those from which a ray crosses the border an odd time."""
        meets = (self.ends[2] > x.min()) & (self.ends[1] <= y.max()) & (self.ends[3] >= y.min())
        edges = self.edges[meets]
        a, b = edges[:, 1, None], edges[:, 3, None]
        across = (a > y) != (b > y)
        run = np.where(a == b, 1.0, b - a)
        at = edges[:, 0, None] + (y - a) / run * (edges[:, 2] - edges[:, 0])[:, None]
        odd: Flags = (across & (at > x)).sum(axis=0) % 2 == 1
        return odd


def _ends(edges: Floats, low: Floats, high: Floats) -> Floats:
    """Return (4,) bounds of what lies of (E, 4) edges within (M, 2) to (M, 2); infinite if none."""
    start, end = edges[:, None, :2], edges[:, None, 2:]
    run = np.where(end == start, 1.0, end - start)
    one, other = (low - start) / run, (high - start) / run
    within = (low < start) & (start < high)
    enter = np.where(end == start, np.where(within, -1.0, 2.0), np.minimum(one, other))
    leave = np.where(end == start, np.where(within, 2.0, -1.0), np.maximum(one, other))
    t0 = np.maximum(enter.max(axis=2), 0.0)[..., None]
    t1 = np.minimum(leave.min(axis=2), 1.0)[..., None]
    held = (t0 < t1)[..., 0]
    ends = [np.where(t == 1.0, end, start + t * (end - start))[held] for t in (t0, t1)]
    return _joined(np.array([np.inf, np.inf, -np.inf, -np.inf]), *ends)


def _widened(bounds: Floats, others: Floats) -> Floats:
    """Return (4,) bounds widened to hold (4, N) others."""
    low = np.minimum(bounds[:2], others[:2].min(axis=1, initial=np.inf))
    high = np.maximum(bounds[2:], others[2:].max(axis=1, initial=-np.inf))
    return np.concatenate([low, high])


def _joined(bounds: Floats, *points: Floats) -> Floats:
    """Return (4,) bounds widened to hold (N, 2) points."""
    low, high = np.vstack([bounds[None, :2], *points]), np.vstack([bounds[None, 2:], *points])
    return np.concatenate([low.min(axis=0), high.max(axis=0)])


def _corners(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    x = np.stack([low[:, 0], high[:, 0], high[:, 0], low[:, 0]])
    y = np.stack([low[:, 1], low[:, 1], high[:, 1], high[:, 1]])
    return x, y
