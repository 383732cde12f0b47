"""At most N upright boxes that cover a polygon, with as little beside it as can be found.

On the grid of cells that the polygon touches, one box becomes two, two become three, and so on: a
box is taken out, and what it alone covered is covered anew by a band from side to side and the box
of the rest, which may cross it. Of the states so made the best few go on; at the end, pairs of
boxes are taken out and covered anew while that helps. Then without the grid: a side moves outwards,
and the other boxes shrink to what they alone cover.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas.content import Alone, Content, RoughContent
from regmap.areas.grid import CellGrid, Covered, Flags, union_area
from regmap.areas.inside import ENOUGH, fewer, greedy_blocks
from regmap.areas.trade import MOST_TRADED, traded

__all__ = ["tightest_cover"]

Floats: TypeAlias = NDArray[np.float64]

_BEAM = 6
_PAIRS = 4
_RANKED = 500
_ENDED = 4
_PIECES = 16
# Of more edges, cells tell what boxes hold until the end. Then so many edges are looked at.
_EDGES = 128
_TRIES = 500_000
# Boxes that are taken out at most, to be covered anew.
_TAKEN = 400
# Share of the polygon's area.
_HOPE = 0.01


def tightest_cover(polygon: BaseGeometry, grid: CellGrid, count: int) -> Floats:
    """Return (K, 4) x0, y0, x1, y1, K <= count, that together cover the polygon.

    Args:
        polygon: valid, of positive area.
        grid: of that polygon.
        count: most boxes, at least 1.
    """
    full = Content(polygon)
    exact = content = Alone(full)
    many = len(full.edges) > _EDGES
    if many:
        content = Alone(RoughContent(grid))
    extent = float(max(np.ptp(grid.x), np.ptp(grid.y)))
    coarse, fine = extent / 2.0 ** np.arange(5, 8), extent / 2.0 ** np.arange(7, 15)
    whole = np.array([[grid.x[0], grid.y[0], grid.x[-1], grid.y[-1]]])
    beam, best = [whole], whole
    if union_area(whole) <= grid.area * (1 + ENOUGH):
        return whole
    inside = greedy_blocks(grid, count)
    for made_of in range(2, count + 1):
        made = _with_rest(grid, inside[: made_of - 1]) + [
            state
            for boxes in beam
            for i in _most_spilling(grid, boxes)[: fewer(MOST_TRADED, made_of)]
            for state in _covered_anew(grid, boxes, (i,), 2)
        ]
        likely = _unlike(made, extent / 12)[: 2 * fewer(_BEAM, made_of)]
        shrunk = [_shrunk(content, boxes, range(len(boxes))) for boxes in likely]
        beam = _unlike(shrunk, extent / 12)[: fewer(_BEAM, made_of)]
        best = _smallest([best, *beam])
        if not beam or union_area(best) <= grid.area * (1 + ENOUGH):
            return _shrunk(exact, best, range(len(best)))
    if count <= MOST_TRADED:
        most = _PIECES if many else 2 * _PIECES
        pieces = CellGrid.of(polygon, lines=_PIECES, most=most)
        beam += traded(pieces.held[pieces.touched], count, 2 * _ENDED)
    likely = _unlike([best, *beam], extent / 12)[: fewer(_ENDED, count)]
    ended = [_bettered(content, grid, boxes, (2,)) for boxes in likely]
    ended = [_polish(content, boxes, coarse.tolist()) for boxes in ended]
    again = _bettered(content, grid, _smallest(ended), (2, 3))
    again = _shrunk(exact, again, range(len(again)))
    tries = _TRIES // max(len(full.edges), _EDGES)
    return _polish(exact, again, [*coarse.tolist(), *fine.tolist()], tries)


def _with_rest(grid: CellGrid, boxes: Floats) -> list[Floats]:
    """Return the cover of some boxes and one that holds what they leave out."""
    held = grid.held[grid.touched & ~_holds(grid, boxes)]
    if not len(held):
        return [boxes]
    return [np.vstack([boxes, [*held[:, :2].min(axis=0), *held[:, 2:].max(axis=0)]])]


def _most_spilling(grid: CellGrid, boxes: Floats) -> list[int]:
    """Return which boxes to split: those with most area beside the polygon first."""
    if len(boxes) <= MOST_TRADED:
        return list(range(len(boxes)))
    held = [grid.weight[_holds(grid, box[None])].sum() for box in boxes]
    spilt = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1) - np.array(held)
    return [int(i) for i in np.argsort(-spilt, kind="stable")]


def _smallest(covers: list[Floats]) -> Floats:
    return min(covers, key=lambda boxes: (round(union_area(boxes), 9), len(boxes)))


def _unlike(covers: list[Floats], gap: float) -> list[Floats]:
    """Return the smallest first, without those whose sides all lie within `gap` of an earlier's."""
    kept: list[Floats] = []
    for boxes in sorted(covers, key=lambda boxes: (union_area(boxes), len(boxes))):
        boxes = boxes[np.lexsort(np.round(boxes / gap).T)]
        alike = (len(boxes) == len(k) and np.abs(boxes - k).max() < gap for k in kept)
        if not any(alike):
            kept.append(boxes)
    return kept


def _bettered(content: Alone, grid: CellGrid, boxes: Floats, sizes: tuple[int, ...]) -> Floats:
    """Cover anew what so many of the boxes alone cover, while that helps."""
    helped, tries = True, fewer(_TAKEN, len(boxes))
    while helped:
        helped = False
        total = union_area(boxes)
        for size in sizes:
            for taken in combinations(_most_spilling(grid, boxes)[:MOST_TRADED], size):
                if (tries := tries - size) < 0:
                    return boxes
                for tried in _covered_anew(grid, boxes, taken, size):
                    # Cover by cells is a little too large; shrinking may well make up for that.
                    if union_area(tried) < total + _HOPE * grid.area:
                        tried = _shrunk(content, tried, range(len(tried)))
                        if union_area(tried) < total * (1 - 1e-6):
                            boxes, total, helped = tried, union_area(tried), True
                if helped:
                    break
            if helped:
                break
    return boxes


def _covered_anew(
    grid: CellGrid, boxes: Floats, taken: tuple[int, ...], count: int
) -> list[Floats]:
    """Return covers in which `count` boxes, two or more, stand at the end for those taken out."""
    others = np.delete(boxes, taken, axis=0)
    left = grid.touched & ~_holds(grid, others)
    if not left.any():
        return []
    states = [np.vstack([others, pair]) for pair in _band_and_rest(grid, left, others)]
    for _ in range(count - 2):
        finer = [
            state
            for rough in states
            for i in range(len(others), len(rough))
            for state in _covered_anew(grid, rough, (i,), 2)
        ]
        states = sorted(finer, key=union_area)[:_PAIRS]
    return states


def _holds(grid: CellGrid, boxes: Floats) -> Flags:
    """Tell of which cells one of (N, 4) boxes holds all that lies within the polygon."""
    x0, y0, x1, y1 = (boxes[:, side, None, None] for side in range(4))
    left, low, right, high = np.moveaxis(grid.held, -1, 0)
    return np.asarray(((x0 <= left) & (y0 <= low) & (right <= x1) & (high <= y1)).any(axis=0))


def _band_and_rest(grid: CellGrid, left: Flags, others: Floats) -> Floats:
    """Return (N, 2, 4): pairs of boxes that cover what is left, those that add least first.

    One box bounds what is left between two lines, the other what is left on both sides of them.

    Args:
        grid: of the polygon.
        left: (R, C), cells whose content is to be covered.
        others: (M, 4) boxes; what they cover costs nothing.
    """
    # Bounds as x0, y0, -x1, -y1, so that joining bounds is taking the least.
    signs = np.array([1.0, 1.0, -1.0, -1.0])
    rows, columns = (np.flatnonzero(left.any(axis=axis)) for axis in (1, 0))
    some = np.ix_(rows, columns)
    held = np.where(left[some][..., None], grid.held[some] * signs, np.inf)
    pairs = []
    for axis in (0, 1):
        strips = held.min(axis=axis)
        nothing = np.full((1, 4), np.inf)
        before = np.vstack([nothing, np.minimum.accumulate(strips)])
        after = np.vstack([np.minimum.accumulate(strips[::-1])[::-1], nothing])
        first, last = np.triu_indices(len(strips))
        spans = np.where(
            (np.arange(len(strips)) >= np.arange(len(strips))[:, None])[..., None], strips, np.inf
        )
        band = np.minimum.accumulate(spans, axis=1)[first, last]
        rest = np.minimum(before[first], after[last + 1])
        good = np.isfinite(band[:, 0]) & np.isfinite(rest[:, 0])
        pairs.append(np.stack([band[good] * signs, rest[good] * signs], axis=1))
    both = np.concatenate(pairs)
    shared = np.concatenate([both[:, :, :2].max(axis=1), both[:, :, 2:].min(axis=1)], axis=1)
    shared[:, 2:] = np.maximum(shared[:, 2:], shared[:, :2])
    covered = Covered.by(others)
    one, other, twice = (covered.areas_outside(b) for b in (both[:, 0], both[:, 1], shared))
    cost = one + other - twice
    order = np.argsort(cost, kind="stable")[:_RANKED]
    return _spread_out(both[order], float(np.ptp(grid.x) + np.ptp(grid.y)) / 24)


def _spread_out(pairs: Floats, gap: float) -> Floats:
    """Return the first few pairs of which none is nearly the same as an earlier one."""
    kept: list[Floats] = []
    while len(pairs) and len(kept) < _PAIRS:
        kept.append(pairs[0])
        pairs = pairs[np.abs(pairs - pairs[0]).max(axis=(1, 2)) > gap]
    return np.array(kept).reshape(-1, 2, 4)


# --- Without the grid


def _shrunk(content: Alone, boxes: Floats, order: Iterable[int]) -> Floats:
    """Shrink boxes in this order to what each alone covers; drop those that are idle then."""
    boxes = boxes.copy()
    idle: list[int] = []
    for i in order:
        others = np.delete(boxes, [i, *idle], axis=0)
        bounds = content.alone(boxes[i], others)
        if bounds is None:
            idle.append(i)
        else:
            boxes[i] = bounds
    return np.delete(boxes, idle, axis=0)


def _polish(content: Alone, boxes: Floats, steps: Iterable[float], tries: int = 4000) -> Floats:
    """Move sides outwards by these steps while the boxes together become smaller."""
    total = union_area(boxes)
    tries = fewer(tries, len(boxes) ** 2)
    for step in steps:
        since = 0  # tries without a gain
        turn = 0
        while since < 4 * len(boxes) and len(boxes) > 1 and tries > 0:
            tries -= 1
            i, side = divmod(turn % (4 * len(boxes)), 4)
            tried = _tried(content, boxes, i, side, step)
            area = union_area(tried)
            if area < total * (1 - 1e-9):
                boxes, total, since = tried, area, 0
            else:
                turn, since = turn + 1, since + 1
    return boxes


def _tried(content: Alone, boxes: Floats, i: int, side: int, step: float) -> Floats:
    """Return the boxes after one side moved outwards and whom that relieves shrank."""
    grown = boxes.copy()
    grown[i, side] += step if side >= 2 else -step
    meets = (boxes[:, :2] < grown[i, 2:]).all(axis=1) & (grown[i, :2] < boxes[:, 2:]).all(axis=1)
    relieved = [j for j in np.flatnonzero(meets).tolist() if j != i]
    return _shrunk(content, grown, [*relieved, i]) if relieved else boxes
