"""First poses from the shapes of regions and rooms, whatever direction they run in.

A lawn has no main direction, and the stripes of a mower or of a path have one that says nothing. A
shape is told by how far its border lies from its middle, all round (the centroid distance: Zhang &
Lu, Pattern Recognition 37(1), 2004), and turned until that of a room lies on that of a region.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .segment import Region
from .walls import Walls, following, signed_area

Floats = NDArray[np.float64]

# Directions in which a border is asked for, and how close its points are taken, as a share of the
# root of its area.
_DIRECTIONS, _STEP = 180, 0.02
# How many regions and rooms, the largest, are paired, and of how many pairs poses are made.
_REGIONS, _ROOMS, _PAIRS = 120, 48, 60
# Shares of the root of the area by which the border of another shape lies elsewhere, RMS, and by
# which that of a circle leaves it.
_UNLIKE, _ROUND = 0.10, 0.02
_TURN = 2.0 * np.pi / _DIRECTIONS


def match_shapes(regions: list[Region], walls: Walls, flips: Sequence[float]) -> Floats:
    """Poses (C, 2, 3) that lay one room on one region of the same shape, the likest pairs first.

    `flips`: -1 for the flip that y-up and y-down cause, +1 for a mirrored picture.
    """
    largest = sorted(regions, key=lambda region: -region.area)[:_REGIONS]
    seen = [_Shape(region.contour) for region in largest]
    rooms = [
        _Shape(walls.rings[int(n)][0]) for n in np.argsort(-walls.areas, kind="stable")[:_ROOMS]
    ]
    seen, rooms = ([one for one in some if one.border.std() > _ROUND] for some in (seen, rooms))
    if not seen or not rooms:
        return np.zeros((0, 2, 3))
    found: list[tuple[float, Floats]] = []
    for flip in flips:
        away, turn = _best_turns(seen, rooms, flip)
        for first, second in zip(*np.nonzero(away < _UNLIKE), strict=True):
            pose = _laid(seen[first], rooms[second], flip, float(turn[first, second]))
            found.append((float(away[first, second]), pose))
    found.sort(key=lambda pair: pair[0])
    return np.array([pose for _, pose in found[:_PAIRS]]).reshape(-1, 2, 3)


class _Shape:
    """`middle` (2,) and root of the area, `size`, of a ring (N, 2); `border` (_DIRECTIONS,): how
    far it lies from the middle, as a share of the size, farthest first where it does so twice."""

    def __init__(self, ring: Floats) -> None:
        after = following(ring)
        cross = ring[:, 0] * after[:, 1] - after[:, 0] * ring[:, 1]
        self.size = float(np.sqrt(max(abs(signed_area(ring)), 1e-12)))
        whole = cross.sum() if abs(cross.sum()) > 1e-12 else 1e-12
        self.middle = ((ring + after) * cross[:, None]).sum(axis=0) / (3.0 * whole)
        way = after - ring
        pieces = np.hypot(way[:, 0], way[:, 1]) / (_STEP * self.size)
        count = np.clip(np.ceil(pieces), 1, 10.0 / _STEP).astype(np.int64)
        first = np.repeat(np.cumsum(count) - count, count)
        part = (np.arange(len(first)) - first) / np.repeat(count, count)
        off = np.repeat(ring, count, axis=0) + part[:, None] * np.repeat(way, count, axis=0)
        off -= self.middle
        angle = np.mod(np.arctan2(off[:, 1], off[:, 0]), 2.0 * np.pi)
        place = np.minimum((angle / _TURN).astype(np.int64), _DIRECTIONS - 1)
        border = np.zeros(_DIRECTIONS)
        np.maximum.at(border, place, np.hypot(off[:, 0], off[:, 1]) / self.size)
        there = np.flatnonzero(border)
        self.border = np.interp(
            np.arange(_DIRECTIONS), there, border[there], period=float(_DIRECTIONS)
        )


def _best_turns(seen: list[_Shape], rooms: list[_Shape], flip: float) -> tuple[Floats, Floats]:
    """(R, K) how far borders of rooms lie off those of regions, RMS, when turned as suits them
    best, and by what angle."""
    region = np.array([one.border for one in seen])
    # A room seen in a looking-glass: the direction at an angle comes to lie at minus that angle.
    room = np.array([one.border[::-1] if flip < 0.0 else one.border for one in rooms])
    spectrum = np.fft.rfft(region)[:, None] * np.conj(np.fft.rfft(room))[None]
    alike = np.fft.irfft(spectrum, _DIRECTIONS, axis=2)
    best = alike.argmax(axis=2)
    most = np.take_along_axis(alike, best[:, :, None], axis=2)[:, :, 0]
    square = (region**2).sum(axis=1)[:, None] + (room**2).sum(axis=1) - 2.0 * most
    return np.sqrt(np.maximum(square / _DIRECTIONS, 0.0)), best * _TURN


def _laid(seen: _Shape, room: _Shape, flip: float, turn: float) -> Floats:
    """(2, 3) the pose that lays a room on a region."""
    cos, sin = np.cos(turn), np.sin(turn)
    linear = (seen.size / room.size) * np.array([[cos, -sin * flip], [sin, cos * flip]])
    return np.column_stack([linear, seen.middle - linear @ room.middle])
