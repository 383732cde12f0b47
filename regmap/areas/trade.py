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
# Shares of the polygon's extent by which a side is drawn in from what the box alone holds.
_SHARES = np.array([0.0125, 0.025, 0.05, 0.1, 0.2])
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
        made, less = _best_trades(states[going], pieces, extent)
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


def _best_trades(states: Floats, pieces: Floats, extent: Floats) -> tuple[Floats, Floats]:
    """Return of each of (S, K, 4) states the one after the trade that leaves least area, and
    (S,) those areas; infinite where there is no trade."""
    options = [_trades(state, pieces, extent) for state in states]
    areas = union_areas(np.concatenate(options))
    made, less = states.copy(), np.full(len(states), np.inf)
    end = 0
    for number, own in enumerate(options):
        start, end = end, end + len(own)
        if len(own):
            best = int(areas[start:end].argmin())
            made[number], less[number] = own[best], areas[start + best]
    return made, less


def _trades(boxes: Floats, pieces: Floats, extent: Floats) -> Floats:
    """Return (T, K, 4): a side of a box drawn in, another stretched over what that leaves bare."""
    low = np.all(boxes[:, None, :2] <= pieces[:, :2], axis=-1)
    held = np.asarray(low & np.all(pieces[:, 2:] <= boxes[:, None, 2:], axis=-1))
    alone = held & (held.sum(axis=0) == 1)
    made = [np.empty((0, *boxes.shape))]
    # Bounds as x0, y0, -x1, -y1, so that joining bounds is taking the least.
    signs = np.array([1.0, 1.0, -1.0, -1.0])
    for i in np.flatnonzero(alone.any(axis=1)).tolist():  # the others are idle
        own = pieces[alone[i]] * signs
        shrunk = own.min(axis=0)
        drawn_in = boxes.copy()
        drawn_in[i] = shrunk * signs
        made.append(drawn_in[None])
        # For each side (M, 4) what lies nearest to it first, and how many pieces each share takes.
        order = np.argsort(own, axis=0, kind="stable")
        ends = shrunk + np.outer(_SHARES, np.tile(extent, 2))
        count = (own < ends[:, None]).sum(axis=1)
        new = (count > 0) & (count < len(own))
        new[1:] &= count[1:] > count[:-1]
        side, share = np.nonzero(new.T)
        taken, own = count[share, side], own[order]
        bare = np.minimum.accumulate(own, axis=0)[taken - 1, side]
        kept = np.minimum.accumulate(own[::-1], axis=0)[::-1][taken, side]
        made.append(_stretched(boxes, i, kept * signs, bare * signs))
    return np.concatenate(made)


def _stretched(boxes: Floats, drawn_in: int, kept: Floats, bare: Floats) -> Floats:
    """Return (N * (K - 1), K, 4): one box becomes each of (N, 4) `kept`, another holds `bare`."""
    others = np.delete(np.arange(len(boxes)), drawn_in)
    made = np.tile(boxes, (len(others), len(kept), 1, 1))
    made[:, :, drawn_in] = kept
    for j, states in zip(others.tolist(), made, strict=True):
        states[:, j, :2] = np.minimum(boxes[j, :2], bare[:, :2])
        states[:, j, 2:] = np.maximum(boxes[j, 2:], bare[:, 2:])
    return made.reshape(-1, *boxes.shape)
