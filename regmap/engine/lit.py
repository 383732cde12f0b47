"""Walls drawn with light from one side: shadows, bevels, depth.

Where walls that face one way have one line more beside them than walls that face the other way,
they are drawn lit from a side. Which of the lines is the wall is left open then: the floor moved by
half their distance, and walls thicker by as much, lie on the others without a residual, so that
nothing else warns.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .ramp import ramp

Floats = NDArray[np.float64]

# How far from a border other lines are looked at, and in what steps, px.
_BESIDE = np.arange(-10.0, 10.01, 0.5)
# Walls within 30 degrees of a direction face it; fewer of them than this say nothing.
_FACING, _FEW = np.cos(np.deg2rad(30.0)), 4
# Share of all that is drawn beside the borders by which two sides differ, by how much of a border
# at one place, and that in standard errors: what clutter makes up to, and what only light makes.
_DIFFER, _AT_ONE, _ERRORS = (0.08, 0.16), (0.30, 0.50), (4.0, 8.0)
# From this share of the border's step on, or from so many times the noise, something beside it is a
# line.
_A_LINE, _FAINT = 0.4, 2.0
# Steps of `_BESIDE` beyond which a sharp line is over: 2 px.
_ASIDE = 4
# Of several lines beside a wall the nearest that stands out by so much of the most is the next.
_NEXT = 0.9
# Either line may be the wall.
_EITHER = 0.5


def lit_sides(
    strength: NDArray[np.float32],
    noise: NDArray[np.float32],
    steps: Floats,
    residual: Floats,
    normal: Floats,
    weight: Floats,
    wall: NDArray[np.int64],
    line: NDArray[np.intp],
) -> tuple[float, float]:
    """px by which the floor may lie elsewhere, since its walls are lit from a side, and the chance.

    `strength` (Q, K): profiles of colour steps across chunks of walls at `steps` (K,) px outward,
    `noise` (Q, K) below which they mean nothing; `residual` (Q,) px: where on them the border
    stands; `normal` (Q, 2) outward, unit length; `weight` (Q,): of chunks with a border, 0 for
    others; `wall`, `line` (Q,): of which wall they are, on which straight line.
    """
    known = np.flatnonzero(weight > 0.0)
    if not len(known):
        return 0.0, 0.0
    beside = _profiles(strength[known], steps, residual[known])
    quiet = _profiles(noise[known], steps, residual[known])
    middle = len(_BESIDE) // 2
    border = beside[:, middle - 1 : middle + 2].max(axis=1, keepdims=True)
    # Whether there are other lines, not how strong they are: rooms differ in that by themselves. A
    # shadow as dark as the wall that throws it leaves a faint line, which counts as well.
    clear = _A_LINE * border
    lines = np.minimum(beside / np.maximum(clear, 1e-6), 1.0)
    # Beside it that line has nothing, and a soft shadow has more of itself.
    wide = np.pad(beside, ((0, 0), (_ASIDE, _ASIDE)), mode="edge")
    sharp = np.maximum(beside - 0.5 * (wide[:, : -2 * _ASIDE] + wide[:, 2 * _ASIDE :]), 0.0)
    faint = np.minimum(sharp / np.maximum(np.minimum(clear, _FAINT * quiet), 1e-6), 1.0)
    # What is faint right beside the border may be its own flank, on either side.
    faint[:, middle - _ASIDE : middle + _ASIDE + 1] = 0.5
    found = (
        _sides_differ(lines, normal[known], weight[known], wall[known]),
        # One line of a grid is faintly beside all walls in a row.
        _sides_differ(faint, normal[known], weight[known], line[known]),
    )
    return max(found, key=lambda told: told[1])


def _sides_differ(
    beside: Floats, normal: Floats, weight: Floats, wall: NDArray[np.int64]
) -> tuple[float, float]:
    """As `lit_sides`, of the lines `beside` (Q, B) borders, 0..1."""
    turn = np.arctan2(normal[:, 1], normal[:, 0])
    main = 0.25 * np.arctan2(weight @ np.sin(4.0 * turn), weight @ np.cos(4.0 * turn))
    away: list[float] = []
    shapes: list[float] = []
    errors: list[float] = []
    for direction in (main, main + 0.5 * np.pi):
        faces = normal @ np.array([np.cos(direction), np.sin(direction)])
        sides = [np.flatnonzero(faces > _FACING), np.flatnonzero(faces < -_FACING)]
        if min(len(np.unique(wall[side])) for side in sides) < _FEW:
            continue
        (first, loose), (second, also) = (
            _mean(weight[side], beside[side], wall[side]) for side in sides
        )
        gap = np.abs(first - second)
        standing = np.flatnonzero(gap >= _NEXT * gap.max())
        near = int(np.argmin(np.abs(_BESIDE[standing])))
        # All of the nearest line, as wide as it is drawn.
        runs = np.split(standing, np.flatnonzero(np.diff(standing) > 1) + 1)
        line = next(run for run in runs if standing[near] in run)
        most = int(line[np.argmax(gap[line])])
        differ = float(gap.sum() / max(float((first + second).sum()), 1e-9))
        away.append(0.5 * abs(float(_BESIDE[line].mean())))
        shapes.append(min(ramp(differ, *_DIFFER), ramp(float(gap[most]), *_AT_ONE)))
        errors.append(float(gap[most] / np.sqrt(loose[most] + also[most] + 1e-6)))
    seen = [gap for gap, shape in zip(away, shapes, strict=True) if shape > 0.0]
    if not seen:
        return 0.0, 0.0
    # One light makes both: what neither direction proves, both may.
    all_errors = math.hypot(*(e for e, shape in zip(errors, shapes, strict=True) if shape > 0.0))
    # Light comes across both directions, as far as is known.
    unknown = [max(seen)] * (2 - len(away))
    chance = _EITHER * max(shapes) * ramp(all_errors, *_ERRORS)
    return (math.hypot(*seen, *unknown), chance) if chance > 0.0 else (0.0, 0.0)


def _mean(weight: Floats, beside: Floats, wall: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """(B,) weighted mean of profiles (Q, B), and the square of its standard error: all pieces of a
    `wall` (Q,) have the same beside them, and are one piece of evidence."""
    share = weight / weight.sum()
    mean = share @ beside
    _, owner = np.unique(wall, return_inverse=True)
    off = np.zeros((int(owner.max()) + 1, beside.shape[1]))
    np.add.at(off, owner.reshape(-1), share[:, None] * (beside - mean))
    return mean, (off**2).sum(axis=0) * len(off) / (len(off) - 1)


def _profiles(strength: NDArray[np.float32], steps: Floats, residual: Floats) -> Floats:
    """(Q, B) profiles beside where the borders stand, at `_BESIDE` px."""
    step = float(steps[1] - steps[0])
    place = (_BESIDE[None] + residual[:, None] - steps[0]) / step
    place = np.clip(place, 0.0, len(steps) - 1.001)
    low = place.astype(np.int64)
    part = place - low
    before = np.take_along_axis(strength, low, axis=1)
    after = np.take_along_axis(strength, low + 1, axis=1)
    return np.asarray(before * (1.0 - part) + after * part, dtype=np.float64)
