"""Point-to-line ICP of one pose after the other, on the working picture and then on finer ones.

The outlines may lie inside or outside the borders that the picture draws. The distance between the
two, outward from the room, is an unknown of every step: one for walls between rooms, one for walls
with nothing behind them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .faces import settle
from .lit import lit_sides
from .measure import (
    MARGIN,
    Fit,
    Probe,
    View,
    carried,
    gap_px,
    look,
    paint_rooms,
    read,
    robust_weights,
    usual_width,
)
from .moves import apply_step, design_matrix
from .precision import wall_lines
from .profiles import Paint
from .pyramid import Level, reduced
from .wall_offset import offset_prior

Floats = NDArray[np.float64]

# How many times their own scatter edges are sought to either side.
_ROUGH = 3.0
# Farther than this, px, no edge is sought: there other walls begin.
_WIDEST = 9.0
# Scatter of the borders about the outlines, px of a level, up to which that is not too fine.
_TOO_FINE = 1.5
# px of a level: nearer to each other than this, two poses on their way are one.
_SAME = 0.5
# px of a level: a pose that a step moves by less is not looked at again, in passing and where it is
# refined fully; and rooms' colours, taken well inside, are read anew where it moved by more.
_STILL_IN_PASSING, _STILL, _REPAINTED = 0.05, 0.02, 0.5
# px of a level to either side within which edges are sought in passing, in the last steps, and at
# the end.
_IN_PASSING, _STRETCHED_IN_PASSING = (4.0, 3.0), (4.0, 4.0, 3.0, 3.0)
_LAST_HALF, _END_HALF = 2.0, 3.0
# px by which a floor with walls lit from a side may be off without harm; from twice that on, with.
_HARMLESS = 0.8
# Quality from which on a chunk has a border to look beside.
_SEEN = 0.1
# Full px from which on the walls of two fits stand otherwise.
_OTHER_WALLS = 1.0
# px of a level by which a fit that is read out would move on; and how many such steps it may take.
_UNSETTLED, _MORE_STEPS = 0.1, 8
# What the scatter must fall to on the finest picture where it is worth seeing against all odds.
_CLEARED_UP = 0.25
# px of a usual room where a thick wall is within reach, and the share of the next picture's factor
# from which on it is there as well.
_ROOM_PX, _AFAR = 160.0, 0.8
# A smaller picture than this shows no wall, px.
_LEAST_PX = 32.0
# How many times lines are listed anew, and px of a level beyond which that is worth while.
_LOOKS, _FAR = 3, 2.0


def refine_apart(
    level: Level,
    poses: Floats,
    offsets: Floats,
    probe: Probe,
    *,
    affine: bool,
) -> list[Fit]:
    """Refines poses (C, 2, 3), best first, on one level as `refine_fine` does. One that comes upon
    a fit that is known already ends there: it would become the same."""
    fits: list[Fit] = []
    # Stretch and the two wall offsets are much alike, and settle slowly.
    halves = _STRETCHED_IN_PASSING if affine else _IN_PASSING
    for pose, offset in zip(poses, offsets, strict=True):
        fit = _refine([level], pose, offset, probe, affine, halves, exact=False, known=fits)
        if fit is not None:
            fits.append(fit)
    return fits


def refine_with_walls(
    level: Level,
    fits: list[Fit],
    offset: Floats,
    probe: Probe,
    *,
    affine: bool,
) -> list[Fit]:
    """Those of `fits` whose walls stand otherwise than `offset` (2,) full px, refined from there.

    How a picture draws its walls does not depend on how the floor lies in it: a twin of the best
    pose is one with the same offsets alone.
    """
    others = [fit for fit in fits if np.abs(fit.offset - offset).max() > _OTHER_WALLS]
    return refine_apart(
        level,
        np.stack([fit.pose for fit in others]) if others else np.zeros((0, 2, 3)),
        np.repeat(offset[None], len(others), axis=0),
        probe,
        affine=affine,
    )


def refine_fine(
    levels: list[Level],
    pose: Floats,
    offset: Floats,
    probe: Probe,
    *,
    affine: bool,
    halves: tuple[float, ...],
    exact: bool = False,
) -> Fit:
    """Refines one pose (own -> full px) through `levels` (factor, image), coarse to fine.

    `offset` (2,) full px: where the borders stand outside inner and outer walls at the start;
    `halves`: for each step on a level, how far an edge is sought to either side, in its px.
    """
    fit = _refine(levels, pose, offset, probe, affine, halves, exact=exact, known=[])
    assert fit is not None
    return fit


def _refine(
    levels: list[Level],
    pose: Floats,
    offset: Floats,
    probe: Probe,
    affine: bool,
    halves: tuple[float, ...],
    *,
    exact: bool,
    known: list[Fit],
) -> Fit | None:
    """As `refine_fine`; None where the way leads to one of the `known` fits."""
    start, rough, elsewhere = (pose, offset), 0.0, 0.0
    still = _STILL if exact else _STILL_IN_PASSING
    for number, level in enumerate(levels):
        factor, last = level[0], exact and number == len(levels) - 1
        paint, painted, moved = paint_rooms(levels[0], pose, probe), (pose, offset), np.inf
        for step, half in enumerate((*halves, _LAST_HALF, _LAST_HALF) if last else halves):
            same, final = moved < still and _ROUGH * rough * factor <= half, step >= len(halves)
            # Another step of the kind would find it where it is.
            if same and step != len(halves):
                continue
            # On the finest picture lines part that were one.
            if exact and step == 0 and (number == 0 or last):
                pose, offset, probe, chance = _settle_down(
                    level, pose, offset, probe, paint, affine=affine
                )
                elsewhere = max(elsewhere, chance)
            elif factor * gap_px(pose, offset, *painted, probe) > _REPAINTED:
                paint, painted = paint_rooms(levels[0], pose, probe), (pose, offset)
            if same:
                # One of another kind sees what the last one saw.
                pose, offset = start
            else:
                # Outlines that are rough by several pixels need the wider look to the end.
                half = max(half, min(_ROUGH * rough * factor, halves[0]))
                start, reach = (pose, offset), max(half, _END_HALF) if last else half
                view = _look(level, pose, offset, probe, paint, reach, exact=last)
            fit = read(view, factor, pose, offset, probe, half=half)
            pose, offset, rough = _step_from(
                fit, level[1], factor, half, affine=affine, exact=final
            )
            moved = factor * gap_px(pose, offset, *start, probe)
            if any(
                gap_px(pose, offset, fit.pose, fit.offset, probe) * factor < _SAME for fit in known
            ):
                return None
    # What the last step saw is still there to see.
    seen = (start, reach) if moved < still else ((pose, offset), 0.0)
    fit = _read_out(level, pose, offset, probe, paint, rough, seen, view, affine, exact=exact)
    return replace(fit, elsewhere=elsewhere)


def _read_out(
    level: Level,
    pose: Floats,
    offset: Floats,
    probe: Probe,
    paint: Paint,
    rough: float,
    seen: tuple[tuple[Floats, Floats], float],
    view: View,
    affine: bool,
    *,
    exact: bool,
) -> Fit:
    """The fit at a pose, read as widely as its scatter, `rough` px, asks for; `seen`: at which pose
    and offsets `view` was taken, and px of the level to either side within which it tells."""
    factor, image = level
    (at, reach), half, steps = seen, _END_HALF, _MORE_STEPS if exact else 0
    while True:
        half = max(half, min(_ROUGH * rough * factor, _WIDEST if exact else 6.0))
        if reach < half:
            at, reach = (pose, offset), half
            view = _look(level, *at, probe, paint, half, exact=exact)
        fit = read(view, factor, *at, probe, half=half)
        # Within too narrow a look any outlines would seem to be off by no more than that.
        _, rough = robust_weights(fit, smallest=0.35 / factor)
        if exact and half < min(_ROUGH * rough * factor, _WIDEST):
            continue
        if steps:
            # Rough outlines settle slowly; and the wider look may show that walls stand on the
            # other faces of their lines.
            on = _step_from(fit, image, factor, half, affine=affine, exact=True)[:2]
            if factor * gap_px(*on, pose, offset, probe) > _UNSETTLED:
                (pose, offset), reach, steps = on, 0.0, steps - 1
                continue
        return carried(fit, pose, offset)


def seen_in_light(levels: list[Level], fit: Fit, probe: Probe) -> Fit:
    """A fit with the chance that its walls are drawn lit from a side, as a `probe` shows it, by how
    much that leaves it open, and the chance to be elsewhere for that."""
    factor, image = worth_seeing(levels, fit)[0]
    paint = paint_rooms(levels[0], fit.pose, probe)
    view = look(image, factor, fit.pose, fit.offset, probe, paint, half=_WIDEST, exact=False)
    seen = read(view, factor, fit.pose, fit.offset, probe, half=_END_HALF)
    # Outer walls have nothing behind them: they differ from inner ones by themselves.
    asked = seen.chunks.weight * (seen.quality > _SEEN) * ~seen.outer
    away, lit = lit_sides(
        view.strength,
        view.noise,
        view.steps,
        seen.residual * factor,
        seen.normal,
        asked,
        seen.chunks.wall,
        wall_lines(seen, seen.place.mean(axis=0))[0],
    )
    off = lit * float(np.clip((away / factor - _HARMLESS) / _HARMLESS, 0.0, 1.0))
    both = 1.0 - (1.0 - fit.elsewhere) * (1.0 - off)
    return replace(fit, elsewhere=both, lit=lit, lit_px=away / factor)


def _look(
    level: Level,
    pose: Floats,
    offset: Floats,
    probe: Probe,
    paint: Paint,
    half: float,
    *,
    exact: bool,
) -> View:
    """Profiles across the walls in which edges can be sought `half` px to either side."""
    factor, image = level
    return look(image, factor, pose, offset, probe, paint, half=half + MARGIN, exact=exact)


def _settle_down(
    level: Level,
    pose: Floats,
    offset: Floats,
    probe: Probe,
    paint: Paint,
    *,
    affine: bool,
) -> tuple[Floats, Floats, Probe, float]:
    """Pose, offsets, probe and chance to be elsewhere, from where `settle` leads to no other place:
    lines that lie out of reach of the first look are in that of the next."""
    for _ in range(_LOOKS):
        settled = settle(level, pose, offset, probe, paint, affine=affine)
        moved = level[0] * gap_px(pose, offset, settled.pose, settled.offset, probe)
        pose, offset, probe = settled.pose, settled.offset, settled.probe
        if moved < _FAR:
            break
    return pose, offset, probe, settled.elsewhere


def refine_fully(
    levels: list[Level],
    fit: Fit,
    probe: Probe,
    *,
    affine: bool,
    halves: tuple[float, ...],
) -> Fit:
    """Refines a fit on the levels beyond the first that are worth seeing, as `refine_fine` does.

    Walls that lay on different faces seem rough until they have settled: what is worth seeing is
    asked once more then.
    """
    seen = worth_seeing(levels, fit)
    fit = _settled_afar(levels[0], seen[0][0], fit, probe, affine=affine)
    while True:
        fit = refine_fine(
            seen, fit.pose, fit.offset, probe, affine=affine, halves=halves, exact=True
        )
        finer = worth_seeing(levels, fit)
        if finer[-1][0] <= seen[-1][0]:
            break
        seen = finer
    return _cleared_up(levels, fit, probe, affine=affine, halves=halves) or fit


def _settled_afar(level: Level, finer: float, fit: Fit, probe: Probe, *, affine: bool) -> Fit:
    """A fit whose walls were taken to their faces on a smaller picture than `level`, where a thick
    wall's faces are out of each other's reach on the next, of factor `finer`."""
    room = usual_width(np.bincount(fit.chunks.room, fit.chunks.weight), fit.pose)
    factor = _ROOM_PX / max(room, 1e-9)
    # A pose may be absurd, and a picture one px high.
    left = min(level[1].shape[:2]) * factor / level[0]
    if factor >= _AFAR * finer or left < _LEAST_PX:
        return fit
    small = reduced(level, min(factor, level[0]))
    paint = paint_rooms(small, fit.pose, probe)
    pose, offset, *_ = _settle_down(small, fit.pose, fit.offset, probe, paint, affine=affine)
    return replace(fit, pose=pose, offset=offset)


def _cleared_up(
    levels: list[Level],
    fit: Fit,
    probe: Probe,
    *,
    affine: bool,
    halves: tuple[float, ...],
) -> Fit | None:
    """A rough fit refined on the finest level after all, where nearly all of its scatter goes: its
    walls stood on both faces of lines too thin for the coarser levels."""
    rough = robust_weights(fit, smallest=0.35)[1]
    if len(levels) == 1 or rough * levels[-1][0] <= _TOO_FINE:
        return None
    finest = refine_fine(
        levels[1:], fit.pose, fit.offset, probe, affine=affine, halves=halves, exact=True
    )
    return finest if robust_weights(finest, smallest=0.35)[1] <= _CLEARED_UP * rough else None


def worth_seeing(levels: list[Level], fit: Fit) -> list[Level]:
    """Those of `levels` beyond the first on which a fit is worth refining, or else the first.

    Where outlines are rough by several of its pixels, a finer picture says nothing new, and with
    its narrow look would take for a border whatever stands nearest: all would seem to fit well.
    """
    _, rough = robust_weights(fit, smallest=0.35)
    return [level for level in levels[1:] if rough * level[0] <= _TOO_FINE] or levels[:1]


def _step_from(
    fit: Fit,
    image: NDArray[np.uint8],
    factor: float,
    half: float,
    *,
    affine: bool,
    exact: bool,
) -> tuple[Floats, Floats, float]:
    """One step from what a fit saw within `half` px of a level, `image` and its `factor`: weigh,
    solve, move.

    Returns the moved pose, the wall offsets, and the scatter of the edges about them in px.
    """
    pose, offset = fit.pose, fit.offset
    weight, rough = robust_weights(fit, smallest=0.35 / factor)
    middle = 0.5 * np.array([image.shape[1], image.shape[0]]) / factor
    size = 0.5 * float(np.hypot(*image.shape[:2])) / factor
    design = design_matrix((fit.place - middle) / size, fit.normal, affine=affine)
    walls_part = np.stack([~fit.outer, fit.outer], axis=1).astype(np.float64)
    design = np.concatenate([design, walls_part], axis=1)
    total = max(float(weight.sum()), 1e-9)
    matrix = design.T @ (weight[:, None] * design)
    right = design.T @ (weight * fit.residual)
    count = design.shape[1]
    matrix += np.eye(count) * 1e-7 * total
    # On the way a prior that grows with the scatter would keep a bad fit bad.
    prior = 1e-3 * total * np.array([[1.0, -1.0], [-1.0, 1.0]])
    if exact:
        prior, _ = offset_prior(fit, weight, rough)
    matrix[-2:, -2:] += prior
    right[-2:] -= prior @ offset
    step = np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
    moved = apply_step(pose[None], step[None], middle, size, affine=affine)[0]
    limit = half / factor
    return moved, offset + np.clip(step[-2:], -limit, limit), rough
