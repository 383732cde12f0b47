"""A polygon on a grid of unequal cells whose lines run through its corners."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas.cells import cut_into_cells

__all__ = [
    "CellGrid",
    "Covered",
    "disjoint",
    "edges_of",
    "maximal_blocks",
    "outside",
    "union_area",
    "union_areas",
]

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
Blocks: TypeAlias = NDArray[np.intp]

# Corners closer than this share of the extent share a line.
_NEAR = 1e-9


@dataclass(frozen=True, eq=False)
class CellGrid:
    """Cells between lines x and y, row by row along y.

    Attributes:
        x: (C + 1,) increasing.
        y: (R + 1,) increasing.
        weight: (R, C), area of the polygon within each cell.
        full: (R, C), the cell lies inside the polygon altogether.
        touched: (R, C), some of the cell lies inside.
        held: (R, C, 4), bounds x0, y0, x1, y1 of what each cell holds of the polygon.
    """

    x: Floats
    y: Floats
    weight: Floats
    full: Flags
    touched: Flags
    held: Floats

    @classmethod
    def of(cls, polygon: BaseGeometry, *, lines: int, most: int = 200) -> CellGrid:
        """Lay lines through the corners of a polygon, and more so that gaps are small.

        Args:
            polygon: valid, of positive area.
            lines: the extent is divided into at least so many parts each way, unless all edges run
                along the axes: then the corners' lines are all that matter.
            most: lines each way; of more corners, only some give a line.
        """
        left, low, right, high = polygon.bounds
        near = _NEAR * max(right - left, high - low)
        edges = edges_of(shapely.orient_polygons(polygon))
        steps = np.abs(edges[:, 2:] - edges[:, :2])
        slanted = edges[steps.min(axis=1) > near]
        gap = max(right - left, high - low) / lines if len(slanted) else np.inf
        # Along a slanted edge the best corners of boxes lie somewhere between its ends.
        parts = max(1, min(lines // 8, lines // max(1, len(slanted))))
        share = np.arange(1, parts)[:, None, None] / parts
        between = (slanted[:, :2] + share * (slanted[:, 2:] - slanted[:, :2])).reshape(-1, 2)
        corners = np.concatenate([edges[:, :2], between])
        x = _lines(corners[:, 0], near, gap, most)
        y = _lines(corners[:, 1], near, gap, most)
        return cls(x, y, *cut_into_cells(edges, x, y, near))

    @cached_property
    def area(self) -> float:
        """Area of the polygon."""
        return float(self.weight.sum())

    def boxes(self, blocks: Blocks) -> Floats:
        """Return (N, 4) x0, y0, x1, y1 of (N, 4) blocks r0, r1, c0, c1 (ends excluded)."""
        r0, r1, c0, c1 = blocks.T
        return np.column_stack([self.x[c0], self.y[r0], self.x[c1], self.y[r1]])


def edges_of(polygon: BaseGeometry) -> Floats:
    """Return (E, 4) x0, y0, x1, y1 of all rings' edges that have a length."""
    rings = shapely.get_rings(shapely.get_parts(polygon))
    pieces = [shapely.get_coordinates(ring) for ring in rings]
    edges = np.concatenate([np.hstack([ring[:-1], ring[1:]]) for ring in pieces])
    kept: Floats = edges[(edges[:, :2] != edges[:, 2:]).any(axis=1)]
    return kept


def _lines(corners: Floats, near: float, gap: float, most: int) -> Floats:
    lines = np.unique(corners)
    new = np.concatenate([[True], np.diff(lines) > near])
    if not new.all():
        # One after the other: in a long row of corners each may be near the one before it.
        ends = np.append(np.flatnonzero(new), len(lines))
        for start, end in pairwise(ends.tolist()):
            if end == start + 1:
                continue
            while (start := int(np.searchsorted(lines[:end], lines[start] + near, "right"))) < end:
                new[start] = True
        last, lines = lines[-1], lines[new]
        lines = np.append(lines[:-1] if len(lines) > 1 else lines, last)
    if len(lines) > most:
        # One corner's line for each of many equal strips, and the two ends.
        strips = (lines - lines[0]) * ((most - 1) / (lines[-1] - lines[0])) + 1e-6
        strips = np.floor(strips)
        lines = lines[np.concatenate([[True], np.diff(strips) > 0])]
    parts = np.maximum(np.ceil(np.diff(lines) / gap - 1e-6), 1).astype(int)
    filled = [
        np.linspace(start, end, n, endpoint=False)
        for start, end, n in zip(lines[:-1], lines[1:], parts.tolist(), strict=True)
    ]
    return np.concatenate([*filled, lines[-1:]])


def maximal_blocks(cells: Flags) -> Blocks:
    """Return (N, 4) blocks r0, r1, c0, c1 (ends excluded) of true cells that cannot grow.

    Row by row, a stack holds the runs of columns over which cells are true as far up as possible,
    as for the largest rectangle in a histogram; a block counts if the row below cuts it short.
    """
    rows, columns = cells.shape
    found: list[tuple[int, int, int, int]] = []
    height = np.zeros(columns + 1, dtype=int)  # one more column of height 0 empties the stack
    for row in range(rows):
        height[:-1] = np.where(cells[row], height[:-1] + 1, 0)
        # Below: how many false cells of the next row lie before each column.
        below = ~cells[row + 1] if row + 1 < rows else np.ones(columns, dtype=bool)
        before = np.concatenate([[0], np.cumsum(below)]).tolist()
        stack: list[tuple[int, int]] = []  # (first column, height), heights increasing
        for column, tall in enumerate(height.tolist()):
            start = column
            while stack and stack[-1][1] >= tall:
                first, reach = stack.pop()
                if reach > tall and before[column] > before[first]:
                    found.append((row + 1 - reach, row + 1, first, column))
                start = first
            if tall:
                stack.append((start, tall))
    return np.array(found, dtype=np.intp).reshape(-1, 4)


def union_area(boxes: Floats) -> float:
    """Return the area that (N, 4) boxes x0, y0, x1, y1 cover together."""
    pieces = disjoint(boxes)
    return float(((pieces[:, 2] - pieces[:, 0]) * (pieces[:, 3] - pieces[:, 1])).sum())


def union_areas(states: Floats) -> Floats:
    """Return (S,) the area that the boxes of each of (S, N, 4) states cover together.

    By inclusion and exclusion, which is quick for many states of few boxes: what boxes have in
    common is that of one box less, cut by the last, and only where that was something.
    """
    count = states.shape[1]
    boxes = np.ascontiguousarray(states.T.swapaxes(0, 1))
    total = np.zeros(len(states))
    shared = [(-1, np.arange(len(states)), np.full((4, 1), [[-np.inf]] * 2 + [[np.inf]] * 2))]
    for size in range(1, count + 1):
        sign = 1 if size % 2 else -1
        smaller, shared = shared, []
        for last, rows, held in smaller:
            for box in range(last + 1, count):
                own = boxes[box][:, rows]
                low, high = np.maximum(held[:2], own[:2]), np.minimum(held[2:], own[2:])
                width, height = high - low
                some = np.flatnonzero((width > 0) & (height > 0))
                if len(some):
                    both = np.concatenate([low, high])[:, some]
                    shared.append((box, rows[some], both))
                    total[rows[some]] += sign * (width[some] * height[some])
    return total


def disjoint(boxes: Floats) -> Floats:
    """Return (M, 4) boxes that do not overlap and cover the same as (N, 4) boxes do."""
    if not len(boxes):
        return np.empty((0, 4))
    x, y = _distinct(boxes[:, [0, 2]].ravel()), _distinct(boxes[:, [1, 3]].ravel())
    row, column = np.nonzero(_covered(x, y, boxes))
    return np.column_stack([x[column], y[row], x[column + 1], y[row + 1]])


@dataclass(frozen=True, eq=False)
class Covered:
    """What some boxes cover together: how much of it lies left of and below any point.

    That area is bilinear between the lines of their sides, so that a table over these gives it.

    Attributes:
        x: (C,) lines, increasing; none without boxes.
        y: (R,) lines, increasing.
        table: (R, C) areas left of and below the lines' crossings.
    """

    x: Floats
    y: Floats
    table: Floats

    @classmethod
    def by(cls, boxes: Floats) -> Covered:
        """Make the table of (M, 4) boxes, which may overlap."""
        x, y = np.unique(boxes[:, [0, 2]]), np.unique(boxes[:, [1, 3]])
        table = np.zeros((len(y), len(x)))
        if len(boxes):
            cells = _covered(x, y, boxes) * np.outer(np.diff(y), np.diff(x))
            table[1:, 1:] = cells.cumsum(axis=0).cumsum(axis=1)
        return cls(x, y, table)

    def areas_outside(self, boxes: Floats) -> Floats:
        """Return the area of each of (N, 4) boxes that is not covered."""
        x0, y0, x1, y1 = boxes.T
        size: Floats = (x1 - x0) * (y1 - y0)
        if min(self.table.shape) < 2:
            return size
        table = self.table
        columns = (_between(self.x, p) for p in (x0, x1))
        rows = [_between(self.y, q) for q in (y0, y1)]
        for sign, (i, s) in zip((-1, 1), columns, strict=True):
            for other_sign, (j, t) in zip((-1, 1), rows, strict=True):
                low = table[j, i] * (1 - s) + table[j, i + 1] * s
                high = table[j + 1, i] * (1 - s) + table[j + 1, i + 1] * s
                size = size - sign * other_sign * (low * (1 - t) + high * t)
        return size


def _between(lines: Floats, places: Floats) -> tuple[Blocks, Floats]:
    """Return the line before each place, and the share (0..1) of the way to the next one."""
    before = np.clip(np.searchsorted(lines, places, side="right") - 1, 0, len(lines) - 2)
    share = (places - lines[before]) / (lines[before + 1] - lines[before])
    return before, np.clip(share, 0.0, 1.0)


def outside(box: Floats, others: Floats) -> Floats:
    """Return (M, 4) boxes that do not overlap: what of a (4,) box no other (N, 4) box covers."""
    ends = np.concatenate([box[None], others]).reshape(-1, 2)
    x, y = (_distinct(np.clip(ends[:, axis], box[axis], box[2 + axis])) for axis in (0, 1))
    row, column = np.nonzero(~_covered(x, y, others))
    return np.column_stack([x[column], y[row], x[column + 1], y[row + 1]])


def _covered(x: Floats, y: Floats, boxes: Floats) -> Flags:
    """Tell which cells between the lines x and y are covered by boxes that end on these lines."""
    middle_x, middle_y = (x[:-1] + x[1:]) / 2, (y[:-1] + y[1:]) / 2
    across = (boxes[:, None, 0] < middle_x) & (middle_x < boxes[:, None, 2])
    along = (boxes[:, None, 1] < middle_y) & (middle_y < boxes[:, None, 3])
    # How many boxes: a product of small whole numbers, which is exact and quick.
    found: Flags = along.T.astype(np.float32) @ across.astype(np.float32) > 0.5
    return found


def _distinct(values: Floats) -> Floats:
    """Return the values that differ, increasing: numpy's unique, which takes longer for a few."""
    values = np.sort(values)
    found: Floats = values[np.concatenate([[True], values[1:] > values[:-1]])]
    return found
