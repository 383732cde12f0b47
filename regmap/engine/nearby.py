"""What stands right beside the walls of a fit on the full picture, and whether it is bent.

Walls that a stretch or a bend has moved by more than a border reaches are no longer seen by the
fit, and its wall offsets take up some of the rest. But all that run across one direction are found
again at once where the stretch or the bend would have them: three unknowns, voted for by all walls
(the Hough transform: Duda & Hart, Communications of the ACM 15(1), 1972).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .measure import (
    FACING,
    MARGIN,
    Fit,
    Probe,
    look,
    main_axes,
    missed_chunks,
    of_equal_weight,
    walls_apart,
)
from .profiles import Paint
from .ramp import ramp

Floats = NDArray[np.float64]

# Share of the outlines that a fit must miss for this to be worth a look.
_MISSES = 0.02
# px to either side within which walls are looked for, by which a bend may move them, and between
# two moves that are tried: a border is as near as one step.
_REACH_PX, _MOST_PX, _STEP_PX = 12.0, 10.0, 2.0
# px by which a stretch moves the ends apart at least, and a bend the middle: less harms nothing,
# and walls have two faces.
_LEAST_PX = 2.0
# What usual borders are worth at least where anything is seen.
_CLEAR = 0.05
# How many pieces of wall vote: more say the same.
_VOTERS = 400
# How much more of the walls across one direction is found under a bend, as a share of all and of
# what is found without, and how many walls of equal length that is: by chance, and surely no
# chance.
_MORE, _MORE_THAN, _OF_WALLS = (0.06, 0.12), (0.25, 0.45), (1.4, 1.9)


@dataclass(frozen=True, eq=False)
class Nearby:
    """`value` (Q, K) 0..1: how well each place at `steps` (K,) px outward of each chunk of a fit is
    a border that ends its room."""

    value: NDArray[np.float32]
    steps: Floats


def look_nearby(image: NDArray[np.uint8], fit: Fit, probe: Probe, paint: Paint) -> Nearby | None:
    """What is beside the walls of a fit on a full picture, or None where it misses none of them;
    `probe` is the fit's own."""
    shown, missed = missed_chunks(fit)
    weight = fit.chunks.weight
    if float(weight[missed].sum()) < _MISSES * float(weight[shown].sum()):
        return None
    half = _REACH_PX + MARGIN
    view = look(image, 1.0, fit.pose, fit.offset, probe, paint, half=half, exact=False)
    # A border is as near as two steps of half a px.
    value = cv2.dilate(view.value * view.lasting, np.ones((1, 5), dtype=np.uint8))
    near = np.abs(view.steps) <= _REACH_PX
    return Nearby(np.asarray(value[:, near], dtype=np.float32), view.steps[near])


def stretched_or_bent(fit: Fit, nearby: Nearby, *, affine: bool) -> tuple[float, float]:
    """0..1, how surely the picture is stretched or bent along one of the floor's two main
    directions, by so much that the fit misses walls; and the share missed of those across it. An
    `affine` fit has taken up what is a mere stretch."""
    shown, missed = missed_chunks(fit)
    now = _on_their_faces(fit, nearby, shown)
    # In a pale picture, or a drawing of lines, no border is worth all.
    usual = float(fit.chunks.weight @ now**2) / max(float(fit.chunks.weight @ now), 1e-12)
    if usual < _CLEAR:
        return 0.0, 0.0
    now, value = np.minimum(now / usual, 1.0), np.minimum(nearby.value / usual, 1.0)
    axes = main_axes(fit.pose)
    found = (0.0, 0.0)
    for axis, other in zip(axes, axes[::-1], strict=True):
        facing = fit.normal @ axis
        asked = np.flatnonzero(shown & (np.abs(facing) > FACING))
        if not len(asked):
            continue
        weight = fit.chunks.weight[asked]
        lost = float(weight @ missed[asked]) / max(float(weight.sum()), 1e-12)
        asked = asked[:: -(-len(asked) // _VOTERS)]
        place = np.stack([fit.place[asked] @ axis, fit.place[asked] @ other])
        share = fit.chunks.weight[asked] / max(float(fit.chunks.weight[asked].sum()), 1e-12)
        voters = _Voters(place, np.sign(facing[asked]), share, value[asked], now[asked])
        found = max(found, (_found_again(voters, nearby.steps, affine=affine), lost))
    return found


@dataclass(frozen=True, eq=False)
class _Voters:
    """Pieces of wall across one direction: their `place` (2, N) px along it and across it, to which
    `side` of it they face, their `share` (N,) of all, and what is seen beside them, `value` (N, K),
    and `now` (N,), where they are."""

    place: Floats
    side: Floats
    share: Floats
    value: NDArray[np.float32]
    now: Floats


def _on_their_faces(fit: Fit, nearby: Nearby, shown: NDArray[np.bool_]) -> Floats:
    """(Q,) what of the walls is found where the fit has them, or at one step outward of all outer
    walls, and of all inner ones: the other face of a wall is no stretch."""
    now = np.zeros(len(shown))
    nearest = np.argsort(np.abs(nearby.steps), kind="stable")
    for part in (shown & fit.outer, shown & ~fit.outer):
        support = fit.chunks.weight[part] @ nearby.value[part].astype(np.float64)
        now[part] = nearby.value[part, nearest[int(support[nearest].argmax())]]
    return now


def _found_again(voters: _Voters, steps: Floats, *, affine: bool) -> float:
    """0..1, how surely walls stand where a stretch or a bend has them; `steps` (K,) px outward."""
    share, now = voters.share, voters.now
    there = float(now @ share)
    near = np.abs(steps) <= _MOST_PX
    if float(voters.value[:, near].max(axis=1, initial=0.0) @ share) - there < _MORE[0]:
        return 0.0
    along, across = ((p - p.min()) / max(float(np.ptp(p)), 1e-9) for p in voters.place)
    # Squeezed more in the middle than at its ends, bent across, and seen at an angle.
    forms = (
        (along, 4.0 * along * (1.0 - along)),
        (across, 4.0 * across * (1.0 - across)),
        (along, (2.0 * along - 1.0) * (2.0 * across - 1.0)),
    )
    moves = _moves(affine=affine)
    each = np.arange(len(share))
    sure = 0.0
    for straight, curved in forms:
        moved = moves @ np.stack([1.0 - straight, straight, curved]) * voters.side
        number = np.rint((moved - steps[0]) / (steps[1] - steps[0])).astype(np.int64)
        seen = voters.value[each, number.clip(0, len(steps) - 1)]
        support = seen @ share
        best = int(support.argmax())
        more = float(support[best]) - there
        gained = share * np.maximum(seen[best] - now, 0.0)
        sure = max(
            sure,
            min(
                ramp(more, *_MORE),
                ramp(more / max(there, 1e-12), *_MORE_THAN),
                ramp(of_equal_weight(walls_apart(voters.place[0]), gained), *_OF_WALLS),
            ),
        )
    return sure


def _moves(*, affine: bool) -> Floats:
    """(M, 3) px by which the two ends of a floor and its middle may have moved, but all alike."""
    each = np.arange(-_MOST_PX, _MOST_PX + 0.5, _STEP_PX)
    ends = np.stack(np.meshgrid(each, each, each, indexing="ij"), axis=-1).reshape(-1, 3)
    bent = np.abs(ends[:, 2]) >= _LEAST_PX
    longer = np.abs(ends[:, 0] - ends[:, 1]) >= _LEAST_PX
    return np.asarray(ends[bent | (longer & (not affine))])
