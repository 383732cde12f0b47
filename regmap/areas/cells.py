"""What the cells of a grid hold of a polygon: areas, bounds, and which lie inside altogether.

Every edge is cut at the grid's lines. Its pieces tell how the sum of turns about a point changes
from column to column, as they do for fonts that are drawn with soft borders: so the time grows with
the number of pieces alone, whatever the polygon looks like.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["cut_into_cells"]

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
Ints: TypeAlias = NDArray[np.intp]

# What rounding may do to a coordinate, as a share of what is near.
_SAME = 1e-3


def cut_into_cells(
    edges: Floats, x: Floats, y: Floats, near: float
) -> tuple[Floats, Flags, Flags, Floats]:
    """Return weight (R, C), full (R, C), touched (R, C) and held (R, C, 4) of every cell.

    Args:
        edges: (E, 4) x0, y0, x1, y1 of all rings of a valid polygon, which lies on their left.
        x: (C + 1,) increasing; the first and the last hold all edges between them.
        y: (R + 1,) increasing, likewise.
        near: coordinates nearer than this are the same.
    """
    pieces = _Pieces.of(edges, x, y, _SAME * near)
    rows, columns = len(y) - 1, len(x) - 1
    width, height = np.diff(x), np.diff(y)
    size = np.outer(height, width)
    # Going right, the polygon begins at what runs down.
    down = pieces.start[:, 1] - pieces.end[:, 1]
    middle = (pieces.start + pieces.end) / 2
    own = pieces.sums(down * (x[pieces.column + 1] - middle[:, 0]), rows, columns)
    passed = pieces.sums(down, rows, columns).cumsum(axis=1)
    passed = np.hstack([np.zeros((rows, 1)), passed[:, :-1]])
    weight = np.clip(own + passed * width, 0.0, size)
    deep = (middle - near > np.stack([x[pieces.column], y[pieces.row]], axis=1)).all(axis=1)
    deep &= (middle + near < np.stack([x[pieces.column + 1], y[pieces.row + 1]], axis=1)).all(
        axis=1
    )
    cut = np.zeros((rows, columns), dtype=bool)
    cut[pieces.row[deep], pieces.column[deep]] = True
    # A cell that nothing cuts lies inside or outside, but for what is too thin to matter.
    full = ~cut & (weight > size / 2)
    weight = np.where(cut, weight, np.where(full, size, 0.0))
    x0, y0 = np.meshgrid(x[:-1], y[:-1])
    x1, y1 = np.meshgrid(x[1:], y[1:])
    held = np.stack([x0, y0, x1, y1], axis=-1)
    held[cut] = _held(pieces, held, x)[cut]
    return weight, full, full | cut, held


def _snapped(points: Floats, x: Floats, y: Floats, near: float) -> Floats:
    """Return (N, 2) points of which coordinates near a line are on the line."""
    found = points.copy()
    for axis, lines in ((0, x), (1, y)):
        place = points[:, axis]
        after = np.clip(np.searchsorted(lines, place), 1, len(lines) - 1)
        before, line = lines[after - 1], lines[after]
        line = np.where(place - before < line - place, before, line)
        found[:, axis] = np.where(np.abs(place - line) <= near, line, place)
    return found


def _on(places: Floats, lines: Floats) -> Flags:
    after = np.minimum(np.searchsorted(lines, places), len(lines) - 1)
    return np.asarray(lines[after] == places, dtype=np.bool_)


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Edges cut at all lines.

    Attributes:
        start, end: (P, 2); row, column: (P,) of the cell. What runs along a line between two
            columns counts as in the left one, at its end; what runs between two rows is left out.
        along: (P,) it runs along a line between columns.
    """

    start: Floats
    end: Floats
    row: Ints
    column: Ints
    along: Flags

    @classmethod
    def of(cls, edges: Floats, x: Floats, y: Floats, near: float) -> _Pieces:
        """Cut (E, 4) edges at the lines x and y."""
        edges = _snapped(edges.reshape(-1, 2), x, y, near).reshape(-1, 4)
        level = edges[:, 1] == edges[:, 3]
        # Along a row nothing changes from column to column; within one, bounds want the ends.
        kept = ~level | ~_on(edges[:, 1], y)
        edges = edges[kept]
        number = np.arange(len(edges))
        owners, shares = [number, number], [np.zeros(len(edges)), np.ones(len(edges))]
        at = [edges[:, :2], edges[:, 2:]]
        for axis, lines in ((0, x), (1, y)):
            a, b = edges[:, axis], edges[:, 2 + axis]
            first = np.searchsorted(lines, np.minimum(a, b), side="right")
            count = np.maximum(np.searchsorted(lines, np.maximum(a, b), side="left") - first, 0)
            owner = np.repeat(number, count)
            line = np.arange(len(owner)) + np.repeat(first - (count.cumsum() - count), count)
            share = (lines[line] - a[owner]) / (b - a)[owner]
            point = edges[owner, :2] + share[:, None] * (edges[owner, 2:] - edges[owner, :2])
            point[:, axis] = lines[line]
            owners.append(owner)
            shares.append(share)
            at.append(point)
        owner, place = np.concatenate(owners), np.concatenate(at)
        # Where an edge meets a crossing of lines, both its cuts are the crossing, to the last bit.
        place = _snapped(place, x, y, near)
        order = np.lexsort((np.concatenate(shares), owner))
        owner, place = owner[order], place[order]
        joined = (owner[1:] == owner[:-1]) & (place[1:] != place[:-1]).any(axis=1)
        start, end = place[:-1][joined], place[1:][joined]
        middle = (start + end) / 2
        column = np.clip(np.searchsorted(x, middle[:, 0], side="left") - 1, 0, len(x) - 2)
        row = np.clip(np.searchsorted(y, middle[:, 1], side="right") - 1, 0, len(y) - 2)
        along = (start[:, 0] == end[:, 0]) & _on(start[:, 0], x)
        return cls(start, end, row, column, along)

    def sums(self, values: Floats, rows: int, columns: int) -> Floats:
        """Return (R, C) sums of (P,) values by cell."""
        cell = self.row * columns + self.column
        found: Floats = np.bincount(cell, values, rows * columns).astype(np.float64)
        return found.reshape(rows, columns)


def _held(pieces: _Pieces, cells: Floats, x: Floats) -> Floats:
    """Return (R, C, 4) bounds of the pieces in each cell, and of its corners inside."""
    rows, columns, _ = cells.shape
    cell = (pieces.row * columns + pieces.column)[~pieces.along]
    low = np.minimum(pieces.start, pieces.end)[~pieces.along]
    high = np.maximum(pieces.start, pieces.end)[~pieces.along]
    found = np.tile([np.inf, np.inf, -np.inf, -np.inf], (rows * columns, 1))
    order = np.argsort(cell, kind="stable")
    if len(order):
        which, first = np.unique(cell[order], return_index=True)
        found[which, :2] = np.minimum.reduceat(low[order], first)
        found[which, 2:] = np.maximum.reduceat(high[order], first)
    found = found.reshape(rows, columns, 4)
    bottom, top = cells[:, 0, 1], cells[:, 0, 3]
    for side, level in ((1, bottom), (3, top)):
        # How often the border winds about the cell's corners is told by what meets its row's end.
        meets = np.stack([pieces.start[:, 1], pieces.end[:, 1]]) == level[pieces.row]
        signs = np.sign(pieces.start[:, 1] - pieces.end[:, 1]) * meets.any(axis=0)
        within = pieces.sums(np.where(pieces.along, 0.0, signs), rows, columns).cumsum(axis=1)
        on_line = np.searchsorted(x, pieces.start[:, 0]) * pieces.along + pieces.row * len(x)
        lines = np.bincount(on_line, np.where(pieces.along, signs, 0.0), rows * len(x))
        lines = lines.reshape(rows, len(x)).cumsum(axis=1)[:, :-1]
        left = np.hstack([np.zeros((rows, 1)), within[:, :-1]]) + lines > 0.5
        right = within + lines > 0.5
        for corner, across in ((left, 0), (right, 2)):
            for end in (side, across):
                found[corner, end] = cells[corner, end]
    return found
