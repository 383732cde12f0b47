"""Covers by many starts: boxes trade pieces of the polygon while that makes them smaller together.

The polygon is cut into small pieces; a box that is drawn in at one side leaves pieces bare, and
another is stretched over them. All such trades of a state are looked at at once and the best one is
made, until none helps. From many starts this finds what a search that adds box after box misses:
areas with arms in several directions.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from regmap.areas.grid import union_areas

__all__ = ["MOST_TRADED", "traded"]

Floats: TypeAlias = NDArray[np.float64]

MOST_TRADED = 6
"""Of more boxes there are too many trades to look at all."""

_DIRECTIONS = 8
_STRETCHES = (0.4, 1.0, 2.5)
_FIRST = 8  # first seeds: pieces far apart
# Shares of the polygon's extent by which a side is drawn in.
_STEPS = (0.2, 0.1, 0.05, 0.025, 0.0125)
_ROUNDS = 60


def traded(pieces: Floats, count: int, kept: int) -> list[Floats]:
    """Return the best few covers, each (count, 4) x0, y0, x1, y1, least area first.

    Args:
        pieces: (M, 4) bounds of small pieces of a polygon; a piece counts as covered if one box
            holds all of it.
        count: boxes, from 2 to MOST_TRADED.
        kept: how many covers, at most.
    """
    starts = _starts(pieces, count)
    if not starts:  # fewer pieces than boxes
        return []
    states = np.unique(np.array(starts), axis=0)
    extent = pieces[:, 2:].max(axis=0) - pieces[:, :2].min(axis=0)
    areas = union_areas(states)
    going = np.ones(len(states), dtype=bool)
    for _ in range(_ROUNDS):
        better = [_best_trade(state, pieces, extent) for state in states[going]]
        made = np.array([state for state, _ in better])
        less = np.array([area for _, area in better])
        helped = less < areas[going] * (1 - 1e-4)
        index = np.flatnonzero(going)
        states[index[helped]], areas[index[helped]] = made[helped], less[helped]
        going[index[~helped]] = False
        if not going.any():
            break
    return [states[i] for i in np.argsort(areas, kind="stable")[:kept]]


def _starts(pieces: Floats, count: int) -> list[Floats]:
    """Deal the pieces out: in slabs of several directions, and to the nearest of a few of them."""
    middles = (pieces[:, :2] + pieces[:, 2:]) / 2
    hands = []
    for turn in np.arange(_DIRECTIONS) * np.pi / _DIRECTIONS:
        order = np.argsort(middles @ np.array([np.cos(turn), np.sin(turn)]), kind="stable")
        hand = np.empty(len(pieces), dtype=int)
        hand[order] = np.arange(len(pieces)) * count // len(pieces)
        hands.append(hand)
    for stretch in _STRETCHES:
        plane = middles * (stretch, 1.0 / stretch)
        for first in _far_apart(plane, 0, _FIRST):
            seeds = plane[_far_apart(plane, first, count)]
            hands.append(((plane[:, None] - seeds) ** 2).sum(axis=2).argmin(axis=1))
    return [
        np.array([_around(pieces[hand == i]) for i in range(count)])
        for hand in hands
        if len(np.unique(hand)) == count
    ]


def _far_apart(places: Floats, first: int, count: int) -> list[int]:
    chosen = [first]
    away = ((places - places[first]) ** 2).sum(axis=1)
    while len(chosen) < count:
        chosen.append(int(away.argmax()))
        away = np.minimum(away, ((places - places[chosen[-1]]) ** 2).sum(axis=1))
    return chosen


def _around(pieces: Floats) -> Floats:
    return np.concatenate([pieces[:, :2].min(axis=0), pieces[:, 2:].max(axis=0)])


def _best_trade(boxes: Floats, pieces: Floats, extent: Floats) -> tuple[Floats, float]:
    """Return the state after the trade that leaves least area, and that area."""
    count = len(boxes)
    low = np.all(boxes[:, None, :2] <= pieces[:, :2], axis=-1)
    held = np.asarray(low & np.all(pieces[:, 2:] <= boxes[:, None, 2:], axis=-1))
    often = held.sum(axis=0)
    made: list[Floats] = []
    for i in range(count):
        alone = held[i] & (often == 1)
        if not alone.any():  # idle
            continue
        own = pieces[alone]
        shrunk = _around(own)
        for side in range(4):
            cuts = np.array(_STEPS) * extent[side % 2]
            cuts = shrunk[side] + (cuts if side < 2 else -cuts)
            for cut in cuts:
                bare = own[:, side] < cut if side < 2 else own[:, side] > cut
                if bare.all():
                    continue
                tried = boxes.copy()
                tried[i] = _around(own[~bare])
                if not bare.any():
                    made.append(tried)
                    continue
                more = _around(own[bare])
                for j in range(count):
                    if j != i:
                        option = tried.copy()
                        option[j, :2] = np.minimum(tried[j, :2], more[:2])
                        option[j, 2:] = np.maximum(tried[j, 2:], more[2:])
                        made.append(option)
    if not made:
        return boxes, np.inf
    areas = union_areas(np.array(made))
    best = int(areas.argmin())
    return made[best], float(areas[best])
