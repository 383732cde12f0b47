"""At most N upright boxes that cover a polygon, with as little beside it as can be found.

First on the grid of cells that the polygon touches: a beam search over cuts from side to side, each
part shrunk to the box of what it holds, started from nothing or from boxes that lie inside anyway.
Then without the grid: a side moves outwards, and the other boxes shrink to what they alone cover.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas.grid import (
    Blocks,
    CellGrid,
    Flags,
    edges_of,
    maximal_blocks,
    outside,
    union_area,
)

__all__ = ["tightest_cover"]

Floats: TypeAlias = NDArray[np.float64]
Block: TypeAlias = tuple[int, int, int, int]

_BEAM = 60
_TRIED = 10
_SPREAD = 8
_POLISHED = 6


def tightest_cover(polygon: BaseGeometry, grid: CellGrid, count: int) -> Floats:
    """Return (K, 4) x0, y0, x1, y1, K <= count, that together cover the polygon.

    Args:
        polygon: valid, of positive area.
        grid: of that polygon.
        count: most boxes, at least 1.
    """
    cutter = _Cutter(grid)
    found: list[Floats] = []
    for inside in _inside_choices(grid, count):
        left = grid.touched.copy()
        for r0, r1, c0, c1 in inside:
            left[r0:r1, c0:c1] = False
        found += [
            grid.boxes(np.concatenate([inside, blocks]))
            for blocks in cutter.cut(left, count - len(inside))
        ]
    content = _Content(polygon)
    found = [_shrunk(content, boxes, range(len(boxes))) for boxes in found]
    ranked = sorted(found, key=lambda boxes: (round(union_area(boxes) / grid.area, 9), len(boxes)))
    extent = float(max(np.diff(grid.x).sum(), np.diff(grid.y).sum()))
    coarse, fine = extent / 2.0 ** np.arange(5, 8), extent / 2.0 ** np.arange(7, 15)
    unlike = _unlike(ranked, extent / 12)[:_POLISHED]
    polished = [_polish(content, boxes, coarse.tolist()) for boxes in unlike]
    return _polish(content, min(polished, key=union_area), fine.tolist())


def _unlike(covers: list[Floats], gap: float) -> list[Floats]:
    """Leave out the covers of which all sides lie within `gap` of an earlier one's."""
    kept: list[Floats] = []
    for boxes in covers:
        boxes = boxes[np.lexsort(np.round(boxes / gap).T)]
        alike = (len(boxes) == len(k) and np.abs(boxes - k).max() < gap for k in kept)
        if not any(alike):
            kept.append(boxes)
    return kept


def _inside_choices(grid: CellGrid, count: int) -> list[Blocks]:
    """Return no block, and the first 1, 2, ... of blocks inside the polygon that cover most."""
    choices = [np.empty((0, 4), dtype=np.intp)]
    blocks = maximal_blocks(grid.full)
    left = grid.weight * grid.full
    while len(blocks) and len(choices) <= count and left.any():
        table = np.zeros((left.shape[0] + 1, left.shape[1] + 1))
        table[1:, 1:] = left.cumsum(axis=0).cumsum(axis=1)
        r0, r1, c0, c1 = blocks.T
        gains = table[r1, c1] - table[r0, c1] - table[r1, c0] + table[r0, c0]
        best = blocks[gains.argmax()]
        left[best[0] : best[1], best[2] : best[3]] = 0.0
        choices.append(np.vstack([choices[-1], best]))
    return choices


class _Cutter:
    """Splits cells into parts along cuts from side to side, keeping the best few states."""

    def __init__(self, grid: CellGrid) -> None:
        self.x, self.y = grid.x, grid.y

    def cut(self, cells: Flags, count: int) -> list[Blocks]:
        """Return some covers of the true cells by at most `count` blocks, best first."""
        if not cells.any():
            return [np.empty((0, 4), dtype=np.intp)]
        if count < 1:
            return []
        splits: dict[Block, list[tuple[float, Block, Block]]] = {}
        start = _bounds(cells)
        beam: list[tuple[float, tuple[Block, ...]]] = [
            (float(self._size(np.array(start))), (start,))
        ]
        best = beam[:1]
        for _ in range(count - 1):
            states: dict[tuple[Block, ...], float] = {}
            for size, blocks in beam:
                for i, block in enumerate(blocks):
                    if block not in splits:
                        splits[block] = self._splits(cells, block)
                    for saved, one, other in splits[block]:
                        state = tuple(sorted((*blocks[:i], one, other, *blocks[i + 1 :])))
                        states[state] = size - saved
            beam = sorted((size, state) for state, size in states.items())[:_BEAM]
            best = sorted([*best, *beam])[:_BEAM]
        tried = best[:: _BEAM // _TRIED]
        bettered = {self._exchanged(splits, cells, *state) for state in tried}
        # Off the grid the order may be another one: some that are nearly as good come along.
        return [np.array(blocks) for _, blocks in sorted(bettered.union(best[:_POLISHED]))]

    def _exchanged(
        self,
        splits: dict[Block, list[tuple[float, Block, Block]]],
        cells: Flags,
        size: float,
        blocks: tuple[Block, ...],
    ) -> tuple[float, tuple[Block, ...]]:
        """Join two blocks and split another one, while the blocks together become smaller."""
        while True:
            best = (size * (1 - 1e-9), blocks)
            for one, other in combinations(blocks, 2):
                joined = _around(one, other)
                rest = [block for block in blocks if block not in (one, other)]
                if any(_overlap(joined, block) for block in rest):
                    continue
                parts = [*rest, joined]
                total = float(self._size(np.array(parts)).sum())
                for block in parts:
                    if block not in splits:
                        splits[block] = self._splits(cells, block)
                    for saved, first, second in splits[block]:
                        if total - saved < best[0]:
                            others = [part for part in parts if part != block]
                            best = (total - saved, tuple(sorted((*others, first, second))))
            if best[1] == blocks:
                return size, blocks
            size, blocks = best

    def _size(self, blocks: Blocks) -> Floats:
        """Return the area of (..., 4) blocks."""
        r0, r1, c0, c1 = np.moveaxis(blocks, -1, 0)
        size: Floats = (self.x[c1] - self.x[c0]) * (self.y[r1] - self.y[r0])
        return size

    def _splits(self, cells: Flags, block: Block) -> list[tuple[float, Block, Block]]:
        """Return the cuts of a block worth trying: the area saved, and the two shrunk parts."""
        r0, r1, c0, c1 = block
        part = cells[r0:r1, c0:c1]
        offset = np.array([r0, r0, c0, c0])
        kept = []
        for turned in (False, True):
            # Cuts between columns; then between rows, with the part on its side.
            lying = part.T if turned else part
            order = [2, 3, 0, 1] if turned else [0, 1, 2, 3]
            before = _prefixes(lying)[:, order] + offset
            mirror = np.array([0, 0, lying.shape[1], lying.shape[1]])
            after = np.abs(mirror - _prefixes(lying[:, ::-1])[::-1])[:, [0, 1, 3, 2]]
            after = after[:, order] + offset
            saved = self._size(np.array(block)) - self._size(before) - self._size(after)
            kept += [
                (float(saved[i]), tuple(before[i].tolist()), tuple(after[i].tolist()))
                for i in _worth_trying(saved).tolist()
            ]
        return kept


def _around(one: Block, other: Block) -> Block:
    return (
        min(one[0], other[0]),
        max(one[1], other[1]),
        min(one[2], other[2]),
        max(one[3], other[3]),
    )


def _overlap(one: Block, other: Block) -> bool:
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]


def _prefixes(cells: Flags) -> Blocks:
    """Return the blocks r0, r1, c0, c1 that bound the true cells of the first 1, 2, ... columns.

    The first and last column hold true cells, and all columns together are left out.
    """
    rows, columns = cells.shape
    so_far = np.logical_or.accumulate(cells, axis=1)[:, :-1]
    filled = np.where(cells.any(axis=0), np.arange(1, columns + 1), 0)[:-1]
    last = np.maximum.accumulate(filled)
    return np.column_stack(
        [so_far.argmax(axis=0), rows - so_far[::-1].argmax(axis=0), np.zeros_like(last), last]
    )


def _worth_trying(saved: Floats) -> Blocks:
    """Return indices of the cuts that save most, or more than their neighbours; and evenly some.

    The first cut that serves best in the end is seldom the best by itself.
    """
    if not len(saved):
        return np.empty(0, dtype=np.intp)
    around = np.array([-np.inf, *saved, -np.inf])
    kept = (saved >= around[:-2]) & (saved > around[2:])
    kept[:: max(1, len(saved) // _SPREAD)] = True
    kept[np.argsort(-saved, kind="stable")[:_SPREAD]] = True
    return np.flatnonzero(kept)


def _bounds(cells: Flags) -> Block:
    """Return the block r0, r1, c0, c1 that bounds the true cells."""
    rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    return int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1


# --- Without the grid


class _Content:
    """What boxes hold of a polygon."""

    def __init__(self, polygon: BaseGeometry) -> None:
        self.edges = edges_of(polygon)
        self.near = 1e-10 * float(np.ptp(self.edges[:, [0, 2]]) + np.ptp(self.edges[:, [1, 3]]))

    def bounds(self, boxes: Floats) -> Floats | None:
        """Return (4,) bounds of what (M, 4) boxes hold of the polygon; None if it is nothing.

        The ends are those of the border's pieces within a box, and of the box's corners within the
        polygon. Each box is taken a little smaller, so that what only touches it does not count.
        """
        low, high = boxes[:, :2] + self.near, boxes[:, 2:] - self.near
        start, end = self.edges[:, None, :2], self.edges[:, None, 2:]
        run = np.where(end == start, 1.0, end - start)
        one, other = (low - start) / run, (high - start) / run
        within = (low < start) & (start < high)
        enter = np.where(end == start, np.where(within, -1.0, 2.0), np.minimum(one, other))
        leave = np.where(end == start, np.where(within, 2.0, -1.0), np.maximum(one, other))
        t0 = np.maximum(enter.max(axis=2), 0.0)[..., None]
        t1 = np.minimum(leave.min(axis=2), 1.0)[..., None]
        held = (t0 < t1)[..., 0]
        ends = [np.where(t == 1.0, end, start + t * (end - start))[held] for t in (t0, t1)]
        x, y = [c.ravel() for c in np.broadcast_arrays(*_corners(low, high))]
        inside = self._contains(x, y)
        points = np.concatenate([*ends, np.column_stack([x, y])[inside]])
        if not len(points):
            return None
        found = np.concatenate([points.min(axis=0), points.max(axis=0)])
        # Ends at a box that was made smaller are ends at the box.
        sides = np.concatenate([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])
        lines = np.concatenate([boxes[:, :2], boxes[:, 2:]])
        for side in range(4):
            gaps = np.abs(lines[:, side % 2] - found[side])
            if gaps.min() <= 2 * self.near:
                found[side] = lines[gaps.argmin(), side % 2]
        clipped: Floats = np.clip(found, np.tile(sides[:2], 2), np.tile(sides[2:], 2))
        return clipped

    def _contains(self, x: Floats, y: Floats) -> Flags:
        """Tell which points lie inside: those from which a ray crosses the border an odd time."""
        a, b = self.edges[:, 1, None], self.edges[:, 3, None]
        across = (a > y) != (b > y)
        run = np.where(a == b, 1.0, b - a)
        at = self.edges[:, 0, None] + (y - a) / run * (self.edges[:, 2] - self.edges[:, 0])[:, None]
        odd: Flags = (across & (at > x)).sum(axis=0) % 2 == 1
        return odd


def _corners(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    x = np.stack([low[:, 0], high[:, 0], high[:, 0], low[:, 0]])
    y = np.stack([low[:, 1], low[:, 1], high[:, 1], high[:, 1]])
    return x, y


def _shrunk(content: _Content, boxes: Floats, order: Iterable[int]) -> Floats:
    """Shrink boxes in this order to what each alone covers; drop those that are idle then."""
    boxes = boxes.copy()
    idle: list[int] = []
    for i in order:
        others = np.delete(boxes, [i, *idle], axis=0)
        bounds = content.bounds(outside(boxes[i], others))
        if bounds is None:
            idle.append(i)
        else:
            boxes[i] = bounds
    return np.delete(boxes, idle, axis=0)


def _polish(content: _Content, boxes: Floats, steps: Iterable[float]) -> Floats:
    """Move sides outwards by these steps while the boxes together become smaller."""
    total = union_area(boxes)
    for step in steps:
        since = 0  # tries without a gain
        turn = 0
        while since < 4 * len(boxes) and len(boxes) > 1:
            i, side = divmod(turn % (4 * len(boxes)), 4)
            tried = _tried(content, boxes, i, side, step)
            area = union_area(tried)
            if area < total * (1 - 1e-9):
                boxes, total, since = tried, area, 0
            else:
                turn, since = turn + 1, since + 1
    return boxes


def _tried(content: _Content, boxes: Floats, i: int, side: int, step: float) -> Floats:
    """Return the boxes after one side moved outwards and whom that relieves shrank."""
    grown = boxes.copy()
    grown[i, side] += step if side >= 2 else -step
    meets = (boxes[:, :2] < grown[i, 2:]).all(axis=1) & (grown[i, :2] < boxes[:, 2:]).all(axis=1)
    relieved = [j for j in np.flatnonzero(meets).tolist() if j != i]
    return _shrunk(content, grown, [*relieved, i]) if relieved else boxes
