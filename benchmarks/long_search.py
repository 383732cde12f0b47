"""A search for upright boxes that takes as long as it likes: many annealed states at once.

It shares no code with `regmap.areas`: states of K boxes are changed side by side at random and
accepted as Metropolis et al. do (J. Chem. Phys. 21, 1953; annealing: Kirkpatrick et al., Science
220, 1983), while steps and temperature shrink. Areas of unions are exact (inclusion and exclusion);
so is staying inside. Covering is searched on small pieces of the polygon, and then without them.
"""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

__all__ = ["anneal_cover", "anneal_inside"]

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]

_CELLS = 20  # each way
_HOT, _COLD = 0.03, 2e-5  # shares of the polygon's area
_LARGE, _SMALL = 0.25, 5e-4  # shares of the polygon's extent


def anneal_inside(
    polygon: Polygon, count: int, rng: np.random.Generator, *, chains: int = 64, steps: int = 12000
) -> float:
    """Return the largest share of a polygon without holes that `count` boxes in it fill."""
    edges = _edges(polygon)
    low, high = np.array(polygon.bounds[:2]), np.array(polygon.bounds[2:])
    start = _points_inside(polygon, chains * count, rng)
    tiny = 1e-3 * (high - low)
    boxes = np.concatenate([start - tiny, start + tiny], axis=1).reshape(chains, count, 4)
    good = _inside(boxes.reshape(-1, 4), edges).reshape(chains, count)
    boxes[~good] = np.nan  # a start too near the border covers nothing until it is replaced
    boxes = np.where(np.isnan(boxes), boxes[good][0], boxes)
    cost = -_union(boxes) / polygon.area
    best = float(-cost.min())
    for step in range(steps):
        tried, at, which = _changed(boxes, (high - low), rng, step / steps)
        fine = _inside(tried[at, which], edges) & (tried[at, which, :2] < tried[at, which, 2:]).all(
            axis=1
        )
        new = np.where(fine, -_union(tried) / polygon.area, np.inf)
        boxes, cost = _accepted(boxes, cost, tried, new, rng, step / steps)
        best = max(best, float(-cost.min()))
    return best


def anneal_cover(
    polygon: Polygon, count: int, rng: np.random.Generator, *, chains: int = 24, steps: int = 6000
) -> float:
    """Return the least spill with which `count` boxes were seen to cover a polygon.

    A change draws one side in, and stretches another box over what that leaves bare; or a box
    shrinks to what it alone covers.
    """
    extent = np.array(polygon.bounds[2:]) - np.array(polygon.bounds[:2])
    pieces = _pieces(polygon)
    boxes = _dealt_out(pieces, chains, count, rng)
    cost = _union(boxes) / polygon.area
    best, least = boxes.copy(), cost.copy()
    for step in range(steps):
        share = step / steps
        tried = _stretched(boxes, pieces, extent, rng, share)
        new = _union(tried) / polygon.area
        boxes, cost = _accepted(boxes, cost, tried, new, rng, share)
        better = cost < least
        best[better], least[better] = boxes[better], cost[better]
    ended = [_ended(polygon, best[i], extent, rng, steps) for i in np.argsort(least)[:3]]
    return min(ended) / polygon.area - 1.0


def _pieces(polygon: Polygon) -> Floats:
    """Return (M, 4) bounds of the pieces into which a grid cuts the polygon."""
    left, low, right, high = polygon.bounds
    x, y = np.linspace(left, right, _CELLS + 1), np.linspace(low, high, _CELLS + 1)
    cells = [shapely.box(a, b, c, d) for a, c in pairwise(x) for b, d in pairwise(y)]
    cut = shapely.intersection(cells, polygon)
    bounds: Floats = shapely.bounds(cut[shapely.area(cut) > 0])
    return bounds


def _dealt_out(pieces: Floats, chains: int, count: int, rng: np.random.Generator) -> Floats:
    """Deal the pieces out to the nearest of a few of them, in a plane that is stretched at random;
    return the boxes about each hand, (chains, count, 4)."""
    middles = (pieces[:, :2] + pieces[:, 2:]) / 2
    boxes = np.empty((chains, count, 4))
    for chain in range(chains):
        scale = np.exp(rng.normal(0, 1, 2))
        seeds = middles[rng.choice(len(middles), count, replace=False)]
        hand = (((middles[:, None] - seeds) * scale) ** 2).sum(axis=2).argmin(axis=1)
        for i in range(count):
            boxes[chain, i] = _around(pieces[hand == i])
    return boxes


def _around(pieces: Floats) -> Floats:
    return np.concatenate([pieces[:, :2].min(axis=0), pieces[:, 2:].max(axis=0)])


def _stretched(
    boxes: Floats, pieces: Floats, extent: Floats, rng: np.random.Generator, share: float
) -> Floats:
    """Change one box of each state inwards, and another so that all pieces stay covered."""
    chains, count, _ = boxes.shape
    at = np.arange(chains, dtype=np.int64)
    which = np.asarray(rng.integers(0, count, chains))
    side = np.asarray(rng.integers(0, 4, chains))
    size = _LARGE * (_SMALL / _LARGE) ** share
    tried = boxes.copy()
    inwards = np.where(side < 2, 1.0, -1.0)
    tried[at, which, side] += inwards * np.abs(rng.normal(0, 1, chains)) * size * extent[side % 2]
    shrinking = np.asarray(rng.random(chains) < 0.3)
    tried[shrinking] = boxes[shrinking]
    held = _holds(tried, pieces)
    held[at, which] &= ~shrinking[:, None]
    bare: Flags = np.asarray(~np.any(held, axis=1))
    low = np.where(bare[..., None], pieces[:, :2], np.inf).min(axis=1)
    high = np.where(bare[..., None], pieces[:, 2:], -np.inf).max(axis=1)
    shrunk = bare.any(axis=1) & shrinking
    tried[shrunk, which[shrunk]] = np.concatenate([low, high], axis=1)[shrunk]
    options = np.repeat(tried[None], count, axis=0)
    for i in range(count):
        options[i, :, i, :2] = np.minimum(tried[:, i, :2], low)
        options[i, :, i, 2:] = np.maximum(tried[:, i, 2:], high)
    costs = _union(options.reshape(-1, count, 4)).reshape(count, chains)
    costs[which, at] += rng.exponential(size, chains) * extent.prod()
    taken = options[costs.argmin(axis=0), at]
    return np.where((shrinking | ~bare.any(axis=1))[:, None, None], tried, taken)


def _holds(boxes: Floats, pieces: Floats) -> Flags:
    """Tell which of (N, K, 4) boxes hold which of (M, 4) pieces, (N, K, M)."""
    low = np.all(boxes[:, :, None, :2] <= pieces[:, :2], axis=-1)
    return np.asarray(low & np.all(boxes[:, :, None, 2:] >= pieces[:, 2:], axis=-1), dtype=np.bool_)


def _ended(
    polygon: Polygon, boxes: Floats, extent: Floats, rng: np.random.Generator, steps: int
) -> float:
    """Go on without the pieces, one change at a time; return the area of the boxes."""
    area = float(_union(boxes[None])[0])
    for step in range(steps // 2):
        size = 0.05 * (_SMALL / 0.05) ** (2 * step / steps)
        which, side = int(rng.integers(len(boxes))), int(rng.integers(4))
        tried = boxes.copy()
        by = abs(rng.normal()) * size * extent[side % 2]
        tried[which, side] += by if side < 2 else -by
        left = polygon.difference(shapely.union_all([shapely.box(*box) for box in tried]))
        if left.area > 1e-14 * polygon.area:
            tried = _over(tried, np.array(left.bounds), but=which)
        new = float(_union(tried[None])[0])
        if new < area:
            boxes, area = tried, new
    return area


def _over(boxes: Floats, bounds: Floats, but: int) -> Floats:
    """Stretch the box that costs least over what was left bare; not the one that was drawn in."""
    grown = np.repeat(boxes[None], len(boxes), axis=0)
    for i in range(len(boxes)):
        grown[i, i, :2] = np.minimum(boxes[i, :2], bounds[:2])
        grown[i, i, 2:] = np.maximum(boxes[i, 2:], bounds[2:])
    costs = _union(grown)
    costs[but] = np.inf
    stretched: Floats = grown[int(costs.argmin())]
    return stretched


def _changed(
    boxes: Floats, extent: Floats, rng: np.random.Generator, share: float
) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Move one side, or shift one box, of each state; return the states and what was changed."""
    chains, count, _ = boxes.shape
    size = _LARGE * (_SMALL / _LARGE) ** share
    at = np.arange(chains, dtype=np.int64)
    which = np.asarray(rng.integers(0, count, chains))
    side = np.asarray(rng.integers(0, 4, chains))
    by = rng.normal(0, 1, chains) * size * extent[side % 2]
    tried = boxes.copy()
    tried[at, which, side] += by
    shifted = rng.random(chains) < 0.25
    tried[at, which, (side + 2) % 4] += np.where(shifted, by, 0.0)
    return tried, at, which


def _accepted(
    boxes: Floats,
    cost: Floats,
    tried: Floats,
    new: Floats,
    rng: np.random.Generator,
    share: float,
) -> tuple[Floats, Floats]:
    heat = _HOT * (_COLD / _HOT) ** share
    taken = rng.random(len(cost)) < np.exp(np.minimum((cost - new) / heat, 0.0))
    boxes, cost = boxes.copy(), cost.copy()
    boxes[taken], cost[taken] = tried[taken], new[taken]
    if rng.random() < 0.02:  # now and then the worst states make room for copies of the best
        order = np.argsort(cost)
        tenth = max(1, len(order) // 10)
        boxes[order[-tenth:]], cost[order[-tenth:]] = boxes[order[:tenth]], cost[order[:tenth]]
    return boxes, cost


def _union(boxes: Floats) -> Floats:
    """Return (N,) the area of each union of (N, K, 4) boxes, by inclusion and exclusion."""
    total = np.zeros(len(boxes))
    for size in range(1, boxes.shape[1] + 1):
        for chosen in combinations(range(boxes.shape[1]), size):
            some = boxes[:, list(chosen)]
            sides = some[..., 2:].min(axis=1) - some[..., :2].max(axis=1)
            total += (1 if size % 2 else -1) * np.maximum(sides, 0.0).prod(axis=1)
    return total


def _edges(polygon: Polygon) -> Floats:
    ring = shapely.get_coordinates(polygon.exterior)
    return np.hstack([ring[:-1], ring[1:]])


def _inside(boxes: Floats, edges: Floats) -> Flags:
    """Tell which of (N, 4) boxes lie in a simple polygon: no edge enters them, the middle is in."""
    start, run = edges[:, :2], edges[:, 2:] - edges[:, :2]
    with np.errstate(divide="ignore", invalid="ignore"):
        one = (boxes[:, None, :2] - start) / run
        other = (boxes[:, None, 2:] - start) / run
    still = run == 0
    strictly = (boxes[:, None, :2] < start) & (start < boxes[:, None, 2:])
    enter = np.where(still, np.where(strictly, -np.inf, np.inf), np.minimum(one, other))
    leave = np.where(still, np.where(strictly, np.inf, -np.inf), np.maximum(one, other))
    first, last = np.maximum(enter.max(axis=2), 0.0), np.minimum(leave.min(axis=2), 1.0)
    entered = (first < last - 1e-12).any(axis=1)
    x, y = ((boxes[:, :2] + boxes[:, 2:]) / 2).T[..., None]
    crosses = (edges[:, 1] > y) != (edges[:, 3] > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = edges[:, 0] + (y - edges[:, 1]) / run[:, 1] * run[:, 0] > x
    within = (crosses & ahead).sum(axis=1) % 2 == 1
    kept: Flags = within & ~entered
    return kept


def _points_inside(polygon: Polygon, count: int, rng: np.random.Generator) -> Floats:
    found: list[Floats] = []
    while sum(map(len, found)) < count:
        tried = rng.uniform(polygon.bounds[:2], polygon.bounds[2:], (count, 2))
        found.append(tried[shapely.contains_xy(polygon, tried)])
    return np.concatenate(found)[:count]
