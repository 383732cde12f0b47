"""At most N upright boxes inside a polygon, together as large as can be found.

First on a grid: the maximal blocks of cells inside, of which N are chosen that cover most (greedily
from several starts, then by exchanging one at a time). Then without the grid: each side in turn
moves to where the boxes together cover most. How much the best N boxes could cover at most is
bounded on the grid of cells that the polygon touches.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas import overlay
from regmap.areas.clearance import Clearance
from regmap.areas.grid import (
    Blocks,
    CellGrid,
    Covered,
    edges_of,
    maximal_blocks,
    union_area,
)

__all__ = ["ENOUGH", "coverage_bound", "fewer", "greedy_blocks", "largest_inside"]

Floats: TypeAlias = NDArray[np.float64]

# Turns for up to _MANY boxes and _EDGES edges; for more there are fewer, see fewer.
_MANY = 6
_EDGES = 1000
_STARTS = 12
_POLISHED = 4
_ROUNDS = 20
_EXCHANGED = 6
_SEEDS = 4
# Places at which a side is tried: evenly spaced ones, and most corners.
_SAMPLES = 17
_CORNERS = 64

ENOUGH = 1e-3
"""Share of the polygon's area that is not worth one more box."""


def largest_inside(polygon: BaseGeometry, grid: CellGrid, count: int) -> Floats:
    """Return (K, 4) x0, y0, x1, y1, K <= count, inside the polygon; largest share first.

    Args:
        polygon: valid, of positive area.
        grid: of that polygon.
        count: most boxes, at least 1.
    """
    if count > 1:
        one = largest_inside(polygon, grid, 1)
        if union_area(one) >= (1 - ENOUGH) * grid.area:  # nearly a rectangle
            return one
    blocks = maximal_blocks(grid.full)
    clearance = Clearance(edges_of(polygon))
    starts = [np.empty((0, 4))]
    if len(blocks):
        weight = grid.weight * grid.full
        firsts = _starts(weight, blocks)[: fewer(_STARTS, count)]
        chosen = {_exchange(weight, blocks, first, count) for first in firsts}
        ranked = sorted(chosen, key=lambda choice: (-_covered(weight, blocks, choice), choice))
        tried = ranked[: fewer(_POLISHED, count, clearance)]
        starts = [grid.boxes(blocks[list(choice)]) for choice in tried]
    first = fewer(2, 1, clearance)
    boxes = max((_polish(clearance, boxes, first) for boxes in starts), key=union_area)
    rounds = fewer(_ROUNDS, count, clearance)
    boxes = _polish(clearance, _filled(polygon, grid, clearance, boxes, count), rounds)
    # Exchange: the box that adds least makes room for a better one, while there is one.
    for _ in range(fewer(_EXCHANGED, count, clearance)):
        if not len(boxes) == count > 1:
            break
        rest = ordered(boxes)[: count - 1]
        other = _polish(clearance, _filled(polygon, grid, clearance, rest, count), rounds)
        if union_area(other) <= union_area(boxes) * (1 + 1e-4):
            break
        boxes = other
    return ordered(boxes, least=ENOUGH * grid.area)


def fewer(turns: int, count: int, clearance: Clearance | None = None) -> int:
    """Return how many turns to take: with many boxes or edges each turn takes the longer."""
    edges = _EDGES if clearance is None else max(len(clearance.edges), _EDGES)
    return max(1, turns * _MANY * _EDGES // (max(count, _MANY) * edges))


def ordered(boxes: Floats, least: float = 0.0) -> Floats:
    """Put the box first that covers most, then the one that adds most.

    What adds nothing, or no more area than `least`, is dropped.
    """
    order: list[int] = []
    total = union_area(boxes)
    covered = 0.0
    while len(order) < len(boxes):
        gains = [
            -1.0 if i in order else union_area(boxes[[*order, i]]) - covered
            for i in range(len(boxes))
        ]
        best = int(np.argmax(gains))
        if gains[best] <= max(1e-9 * total, least):
            break
        order.append(best)
        covered += gains[best]
    return boxes[order]


# --- On the grid


def greedy_blocks(grid: CellGrid, count: int) -> Floats:
    """Return (K, 4) boxes of cells inside, K <= count, each adding most to those before it."""
    blocks = maximal_blocks(grid.full)
    left = grid.weight * grid.full
    chosen: list[int] = []
    while len(blocks) and len(chosen) < count and left.any():
        chosen.append(int(_sums(left, blocks).argmax()))
        left = _uncovered(left, blocks, (chosen[-1],))
    return grid.boxes(blocks[chosen])


def _sums(weight: Floats, blocks: Blocks) -> Floats:
    """Return the weight within each block."""
    table = np.zeros((weight.shape[0] + 1, weight.shape[1] + 1))
    table[1:, 1:] = weight.cumsum(axis=0).cumsum(axis=1)
    r0, r1, c0, c1 = blocks.T
    sums: Floats = table[r1, c1] - table[r0, c1] - table[r1, c0] + table[r0, c0]
    return sums


def _uncovered(weight: Floats, blocks: Blocks, choice: tuple[int, ...]) -> Floats:
    left = weight.copy()
    for r0, r1, c0, c1 in blocks[list(choice)]:
        left[r0:r1, c0:c1] = 0.0
    return left


def _covered(weight: Floats, blocks: Blocks, choice: tuple[int, ...]) -> float:
    return float(weight.sum() - _uncovered(weight, blocks, choice).sum())


def _starts(weight: Floats, blocks: Blocks) -> list[int]:
    """Return blocks that differ: the largest, then each time the one that would add most."""
    left, starts = weight.copy(), []
    for _ in range(_STARTS):
        best = int(_sums(left, blocks).argmax())
        starts.append(best)
        r0, r1, c0, c1 = blocks[best]
        left[r0:r1, c0:c1] *= 0.5  # what was taken counts half, so that variants come up, too
    return list(dict.fromkeys(starts))


def _exchange(weight: Floats, blocks: Blocks, first: int, count: int) -> tuple[int, ...]:
    """Choose greedily after `first`, then exchange one block at a time while that helps."""
    choice = [first]
    for _ in range(count - 1):
        choice.append(int(_sums(_uncovered(weight, blocks, tuple(choice)), blocks).argmax()))
    best = _covered(weight, blocks, tuple(choice))
    improved = True
    while improved:
        improved = False
        for i in range(count):
            others = (*choice[:i], *choice[i + 1 :])
            left = _uncovered(weight, blocks, others)
            gains = _sums(left, blocks)
            total = float(weight.sum() - left.sum() + gains.max())
            if total > best * (1 + 1e-9):
                choice[i], best, improved = int(gains.argmax()), total, True
    return tuple(sorted(set(choice)))


# --- Without the grid


def _filled(
    polygon: BaseGeometry, grid: CellGrid, clearance: Clearance, boxes: Floats, count: int
) -> Floats:
    """Add boxes, up to `count`, each grown from a place in what is not covered yet."""
    while len(boxes) < count:
        seeds = _places_left(polygon, grid, clearance, boxes)[: fewer(_SEEDS, count, clearance)]
        if not len(seeds):
            break
        others = Covered.by(boxes)
        grown = np.array([_grown(clearance, seed, others) for seed in seeds])
        boxes = np.vstack([boxes, grown[others.areas_outside(grown).argmax()]])
    return boxes


def _places_left(
    polygon: BaseGeometry, grid: CellGrid, clearance: Clearance, boxes: Floats
) -> Floats:
    """Return (N, 2) places in what is not covered yet, in large pieces first."""
    if len(boxes) and len(clearance.edges) > _EDGES:
        # An overlay may take seconds here. Of what is left, the cells inside tell what is large.
        blocks = maximal_blocks(grid.full)
        places = grid.boxes(blocks)
        gains = Covered.by(boxes).areas_outside(places)
        order = np.argsort(-gains, kind="stable")
        order = order[gains[order] > 1e-6 * grid.area]
        middles: Floats = (places[order, :2] + places[order, 2:]) / 2
        inside_one = (boxes[:, None, :2] <= middles) & (middles <= boxes[:, None, 2:])
        return middles[~inside_one.all(axis=2).any(axis=0)]
    covered = overlay.union(shapely.box(*box) for box in boxes)
    left = shapely.get_parts(overlay.difference(polygon, covered) if len(boxes) else polygon)
    left = left[np.argsort(-shapely.area(left), kind="stable")]
    left = left[shapely.area(left) > 1e-6 * polygon.area]
    found: Floats = shapely.get_coordinates(shapely.point_on_surface(left))
    return found


def _grown(clearance: Clearance, seed: Floats, others: Covered) -> Floats:
    """Return a box about a place: first as tall as the polygon is there, then each side moved."""
    near = 1e-6 * np.ptp(clearance.edges)
    grown = []
    for axis in (0, 1):
        start, end = float(seed[axis] - near), float(seed[axis] + near)
        (low,), (high,) = clearance.reach(axis, start, np.array([end]), float(seed[1 - axis]))
        box = np.empty(4)
        box[axis], box[2 + axis], box[1 - axis], box[3 - axis] = start, end, low, high
        for side in (0, 1, 2, 3, 0, 1, 2, 3):
            box = _moved(clearance, box, side, others)
        grown.append(box)
    return max(grown, key=lambda box: float(others.areas_outside(box[None])[0]))


def _polish(clearance: Clearance, boxes: Floats, rounds: int) -> Floats:
    """Move sides while the boxes together cover more."""
    boxes = boxes.copy()
    total = union_area(boxes)
    for _ in range(rounds):
        for i in range(len(boxes)):
            others = Covered.by(np.delete(boxes, i, axis=0))
            for side in range(4):
                boxes[i] = _moved(clearance, boxes[i], side, others)
        before, total = total, union_area(boxes)
        if total - before <= 1e-5 * total:
            break
    return boxes


def _moved(clearance: Clearance, box: Floats, side: int, others: Covered) -> Floats:
    """Return the box with one side where it adds most to `others`, reaching across in full."""
    axis, upper = side % 2, side >= 2
    fixed = float(box[axis] if upper else box[2 + axis])
    seed = (box[1 - axis] + box[3 - axis]) / 2
    corners = clearance.corners[axis]
    far = float(corners[-1] if upper else corners[0])
    low, high = sorted((fixed, far))
    best, gain = box, others.areas_outside(box[None])[0]
    places = box[side : side + 1]
    edges = clearance.ahead(axis, fixed, far, seed)
    for _ in range(3):
        between = corners[(corners >= low) & (corners <= high)]
        if len(between) > _CORNERS:
            between = between[np.linspace(0, len(between) - 1, _CORNERS).astype(int)]
        even = np.linspace(low, high, _SAMPLES)
        places = np.unique(np.concatenate([between, places, even]))
        made = np.empty((len(places), 4))
        made[:, axis], made[:, 2 + axis] = np.minimum(places, fixed), np.maximum(places, fixed)
        made[:, 1 - axis], made[:, 3 - axis] = clearance.reach(axis, fixed, places, seed, edges)
        gains = others.areas_outside(made)
        top_one = int(gains.argmax())
        if gains[top_one] > gain * (1 + 1e-9):
            best, gain = made[top_one], gains[top_one]
        low = float(places[max(top_one - 1, 0)])
        high = float(places[min(top_one + 1, len(places) - 1)])
        places = places[top_one : top_one + 1]
    return best


# --- What cannot be exceeded


def coverage_bound(grid: CellGrid, count: int, found: float) -> float:
    """Return an area that no `count` boxes inside the polygon can exceed together.

    Every box inside lies within a maximal block of cells that the polygon touches, and covers no
    more of a cell than the polygon does. For any prices 0 <= p <= w of the cells, `count` blocks
    cover at most the sum of (w - p) plus `count` times the dearest block (Lagrange's relaxation of
    the maximal covering problem; see Church & ReVelle, Papers of the Regional Science Association
    32, 1974). Prices are bettered by subgradient steps.

    Args:
        grid: of the polygon.
        count: most boxes.
        found: area that some boxes cover: the bound is not below it.
    """
    blocks = maximal_blocks(grid.touched)
    weight = grid.weight
    price = weight.copy()
    dearest = _sums(price, blocks)
    bound = min(float(weight.sum()), count * float(dearest.max()))
    if count == 1:
        return max(found, bound)
    price *= min(1.0, weight.sum() / (count * dearest.max()))
    for turn in range(80):
        dearest = _sums(price, blocks)
        worst = int(dearest.argmax())
        bound = min(bound, float((weight - price).sum() + count * dearest[worst]))
        if bound <= found * (1 + 1e-6):
            break
        # A cell's price pulls down by one, and each time it lies in the dearest block up by count.
        slope = np.full(weight.shape, -1.0)
        r0, r1, c0, c1 = blocks[worst]
        slope[r0:r1, c0:c1] += count
        size = float((slope**2 * (weight > 0)).sum())
        move = (bound - found) / (1 + turn / 20) / max(size, 1.0)
        price = np.clip(price - move * slope, 0.0, weight)
    return max(found, bound)
