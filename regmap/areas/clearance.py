"""How far boxes reach within a polygon before an edge stands in their way."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["Clearance"]

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Clearance:
    """A polygon's edges, (E, 4) x0, y0, x1, y1."""

    edges: Floats

    @cached_property
    def near(self) -> float:
        """Coordinates nearer than this are the same."""
        return float(1e-12 * np.abs(self.edges).max())

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Lower and upper ends of the edges on either axis, (E, 2) each."""
        start, end = self.edges[:, :2], self.edges[:, 2:]
        return np.minimum(start, end), np.maximum(start, end)

    @cached_property
    def corners(self) -> tuple[Floats, Floats]:
        """The corners' coordinates on either axis, increasing."""
        return np.unique(self.edges[:, [0, 2]]), np.unique(self.edges[:, [1, 3]])

    def ahead(self, axis: int, fixed: float, far: float, seed: float) -> Floats:
        """Return the edges that may stand in the way of strips from `fixed` towards `far`.

        Those beyond what stands in the way of the narrowest strip do not.
        """
        sign = 1.0 if far > fixed else -1.0
        below, above = self._nearest(self.edges, axis, fixed, fixed + sign * 4 * self.near, seed)
        low, high = self.ends[0][:, 1 - axis], self.ends[1][:, 1 - axis]
        beyond = self.ends[1][:, axis] >= fixed if sign > 0 else self.ends[0][:, axis] <= fixed
        matters = (high >= below) & (low <= above) & beyond
        return self.edges[matters] if matters.any() else self.edges

    def reach(
        self,
        axis: int,
        fixed: float,
        places: Floats,
        seed: float,
        given: Floats | None = None,
    ) -> tuple[Floats, Floats]:
        """Return how far strips reach across without leaving the polygon.

        A strip holds those nearer to `fixed`: what stands in the way of one stands in the way of
        all beyond it. So each edge is held against those strips only in which it ends or begins.

        Args:
            axis: 0 for strips between x = fixed and each place, which reach along y; 1 the other
                way.
            fixed: one end of all strips.
            places: (N,) increasing, the strips' other ends, all of them on one side of `fixed`.
            seed: a coordinate on the other axis; each strip is cut there between its ends.
            given: (E, 4) the edges that may stand in the way; all where it is left out.

        Returns:
            (N,) and (N,) coordinates on the other axis; equal where an edge crosses the cut.
        """
        given = self.edges if given is None else given
        sign = 1.0 if places[-1] > fixed else -1.0
        outwards = places if sign > 0 else places[::-1]
        under, over = np.full(len(places), -np.inf), np.full(len(places), np.inf)
        # The first strip that has a width tells which edges are too far across to matter.
        nearest = int(np.searchsorted(sign * outwards, sign * fixed + self.near, side="right"))
        if nearest < len(places):
            ends = outwards[nearest:]
            below, above = self._nearest(given, axis, fixed, float(ends[0]), seed)
            one, other = given[:, 1 - axis], given[:, 3 - axis]
            matters = ((one > below) | (other > below)) & ((one < above) | (other < above))
            edges, along = given[matters], sign * given[matters][:, [axis, 2 + axis]]
            first = np.searchsorted(sign * ends, along.min(axis=1))
            last = np.searchsorted(sign * ends, along.max(axis=1) + 2 * self.near)
            last = np.minimum(last, len(ends) - 1)
            count = np.where(along.max(axis=1) > sign * fixed, np.maximum(last - first + 1, 0), 0)
            edge = np.repeat(np.arange(len(edges)), count)
            strip = np.arange(len(edge)) + np.repeat(first - (count.cumsum() - count), count)
            lower, upper = self._hits(edges[edge], axis, fixed, ends[strip], seed)
            np.maximum.at(under[nearest:], strip, lower)
            np.minimum.at(over[nearest:], strip, upper)
            # Edges too far across are no reason to call a strip open.
            under[nearest], over[nearest] = below, above
            under, over = np.maximum.accumulate(under), np.minimum.accumulate(over)
        crossed = (under >= seed) & (over <= seed) | ~np.isfinite(under) | ~np.isfinite(over)
        found = np.where(crossed, seed, under), np.where(crossed, seed, over)
        return found if sign > 0 else (found[0][::-1], found[1][::-1])

    def _nearest(
        self, edges: Floats, axis: int, fixed: float, end: float, seed: float
    ) -> tuple[float, float]:
        """Return how far one strip reaches to either side of the seed."""
        start, stop = min(fixed, end), max(fixed, end)
        a, b = edges[:, axis], edges[:, 2 + axis]
        meets = ((a < stop) | (b < stop)) & ((a > start) | (b > start))
        under, over = self._hits(edges[meets], axis, fixed, np.array([end]), seed)
        return float(under.max(initial=-np.inf)), float(over.min(initial=np.inf))

    def _hits(
        self, edges: Floats, axis: int, fixed: float, ends: Floats, seed: float
    ) -> tuple[Floats, Floats]:
        """Return how far each of (E, 4) edges lets its strip reach to either side of the seed."""
        start, end = np.minimum(fixed, ends), np.maximum(fixed, ends)
        a, b, p, q = (edges[:, i] for i in (axis, 2 + axis, 1 - axis, 3 - axis))
        low, high = np.maximum(np.minimum(a, b), start), np.minimum(np.maximum(a, b), end)
        run = np.where(a == b, 1.0, b - a)
        at_low = np.where(a == b, p, p + (low - a) / run * (q - p))
        at_high = np.where(a == b, q, p + (high - a) / run * (q - p))
        bottom, top = np.minimum(at_low, at_high), np.maximum(at_low, at_high)
        # What only touches the strip's border does not stand in its way.
        near = self.near
        meets = np.where(
            np.abs(a - b) <= near, (start + near < a) & (a < end - near), high - low > near
        )
        under = np.where(meets & (bottom < seed), np.minimum(top, seed), -np.inf)
        over = np.where(meets & (top > seed), np.maximum(bottom, seed), np.inf)
        return under, over
