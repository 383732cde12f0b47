"""The wall offset: how far outside the outlines the picture's borders stand.

One offset for walls between rooms, one for walls with nothing behind them: on which face of the
walls each lies, which wall is of which kind, and what is known of both beforehand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .measure import Fit, Probe, look, measure
from .profiles import Paint

Floats = NDArray[np.float64]

# How far to either side the faces of walls are sought, px of the level at hand.
_FACE_REACH = 5.0
# How many times better a border must support the other kind of wall.
_OTHER_KIND = 1.5
# Standard deviations of a wall offset, and of the gap between those of inner and outer walls, as
# shares of the floor's half diagonal (common practice, no source: 140 mm and 30 mm on 14 m).
_USUAL_OFFSET = 0.02
_USUAL_GAP = 0.004
# No border is better known than this, px.
_FINEST = 0.02


def choose_faces(
    level: tuple[float, NDArray[np.uint8]],
    pose: Floats,
    offset: Floats,
    probe: Probe,
    paint: Paint,
) -> Floats:
    """Offsets (2,) at which the walls as a whole stand on the borders that end their rooms.

    A drawn wall has two faces, and nearest edges from the start snap some walls to the one and some
    to the other. Summed over all inner walls, and over all outer ones, the right face stands out.
    """
    factor, image = level
    view = look(image, factor, pose, offset, probe, paint, half=_FACE_REACH + 3.0, exact=False)
    outer = probe.walls.outer[probe.chunks.piece]
    chosen = offset.copy()
    near = np.abs(view.steps) <= _FACE_REACH
    prior = np.exp(-0.5 * (view.steps / _FACE_REACH) ** 2)
    for kind in (0, 1):
        weight = probe.chunks.weight * (outer == bool(kind))
        if weight.sum() < 0.05 * probe.chunks.weight.sum():
            continue
        curve = (
            np.convolve(weight @ (view.value * view.lasting), [0.25, 0.5, 0.25], mode="same")
            * prior
            * near
        )
        chosen[kind] += view.steps[int(np.argmax(curve))] / factor
    return chosen


def settle_kinds(
    level: tuple[float, NDArray[np.uint8]],
    pose: Floats,
    offset: Floats,
    probe: Probe,
    paint: Paint,
) -> Probe:
    """The probe with those outer walls taken for inner ones whose borders stand as those do.

    Nothing is known to lie behind them, but the picture may show a room there that the outlines
    lack: the robot could not get in, or it is newer.
    """
    factor, image = level
    walls, chunks = probe.walls, probe.chunks
    outer = walls.outer[chunks.piece]
    if abs(offset[1] - offset[0]) * factor < 0.5 or not outer.any():
        return probe
    # Walls too short for a sample have no chunk.
    walls_count = int(walls.bend.max()) + 1
    support = []
    for kind in (1, 0):
        shared = np.array([offset[0], offset[kind]])
        fit = measure(image, factor, pose, shared, probe, paint, half=3.0, exact=False)
        good = fit.quality * np.exp(-0.5 * (fit.residual * factor) ** 2)
        support.append(
            np.bincount(chunks.wall, chunks.weight * good * outer, minlength=walls_count)
        )
    other = support[1] > _OTHER_KIND * support[0] + 1e-9
    outer_walls = walls.outer & ~other[walls.bend]
    return replace(probe, walls=replace(walls, outer=outer_walls))


def offset_prior(fit: Fit, weight: Floats, rough: float) -> tuple[Floats, float]:
    """(2, 2) what is known of the offsets of inner and outer walls beforehand, in the units of
    `weight` (Q,): neither is large against the floor, and they differ less than they are large.

    Where few walls of rough outlines leave scale and offset apart, this decides; where the walls
    say anything at all, they outvote it. `rough`: scatter of the edges, px. Returns as well the
    unit: how much weight one piece of information, 1 / px^2, is worth.
    """
    total = max(float(weight.sum()), 1e-12)
    per_wall = np.bincount(fit.chunks.wall, weight)
    walls = total**2 / max(float((per_wall**2).sum()), 1e-12)
    # The own frame has half the floor's diagonal as its unit.
    size = float(np.sqrt(abs(np.linalg.det(fit.pose[:, :2]))))
    unit = total / max(walls, 1.0) * (rough**2 + _FINEST**2)
    # Heavy tails (Student's t, 3 degrees of freedom): where the gap surely is large, as with thick
    # outer walls, what is usual says little.
    gap = float(fit.offset[0] - fit.offset[1])
    alike = np.array([[1.0, -1.0], [-1.0, 1.0]]) * 4.0 / (3.0 * (_USUAL_GAP * size) ** 2 + gap**2)
    return unit * (alike + np.eye(2) / (_USUAL_OFFSET * size) ** 2), unit
