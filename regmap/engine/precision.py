"""Residuals -> covariance -> the error to expect at a point.

Samples of one wall share what is wrong with that wall (the sub-pixel phase of its line, a bump of
the outline), so a wall is one piece of evidence and not a hundred: residuals are averaged wall by
wall and the covariance is that of a fit to walls (cluster-robust: Liang & Zeger, Biometrika 73(1),
1986, with the spread pooled over the walls).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc

from regmap import accuracy

from .measure import Fit, main_axes, of_equal_weight, robust_weights
from .moves import design_matrix
from .ramp import ramp
from .wall_offset import offset_prior

Floats = NDArray[np.float64]

# No wall along the pixels is known better than this, px: its samples share one phase.
_PHASE_PX = 0.02
# A border without anti-aliasing lies anywhere within half a pixel: 1 / sqrt(12).
_CRISP_PX = 0.2887
# A line leaves at least this share of its own error to be seen.
_LEFT = 0.05
# How rarely walls fit so well by chance that they are not off by what is known beforehand.
_BY_CHANCE = (0.001, 0.02)
BEFOREHAND = 2.0
"""What is known of the scatter of walls beforehand counts as so many walls more."""

# Lines that agree, and their share of all that run one way, below which the position across them is
# not known, and from which on it is.
_LINES, _MOST_LINES = (1.5, 2.5), (0.40, 0.60)
# Walls within 25 degrees of a direction run across it.
_FACING = np.cos(np.deg2rad(25.0))
# An edge is of a line if it is off by no more than this, px, or so many times what is usual.
_ON_LINE_PX, _ON_LINE = 1.5, 3.0


@dataclass(frozen=True, eq=False)
class Precision:
    """`covariance` (6, 6) of the six picture coefficients (see `position_covariance`), px^2, about
    `anchor` (2,) px; `wall_px`: standard deviation of walls about the fit, px; `walls`: how
    many walls of equal weight would carry as much; `guessed`: 0..1, what of the walls' variance is
    told by how they scatter, and not known beforehand."""

    covariance: Floats
    anchor: Floats
    wall_px: float
    walls: float
    guessed: float


def estimate_precision(fit: Fit, sharpness: float, *, affine: bool) -> Precision:
    """Covariance of a refined pose from how its walls scatter about it.

    `sharpness`: see `profiles.step_sharpness`; borders without anti-aliasing hide their position
    within a pixel, and walls that are parallel to the axes share it.
    """
    weight, rough = robust_weights(fit, smallest=0.35)
    total = max(float(weight.sum()), 1e-12)
    anchor = weight @ fit.place / total if weight.any() else fit.place.mean(axis=0)
    size = max(float(np.sqrt(((fit.place - anchor) ** 2).sum(axis=1).mean())), 1e-9)
    design = design_matrix((fit.place - anchor) / size, fit.normal, affine=affine)
    design = np.concatenate([design, np.stack([~fit.outer, fit.outer], axis=1)], axis=1)
    owner, side = wall_lines(fit, anchor)
    number = int(owner.max()) + 1
    # Not the robust weights: they would hide the very scatter that is looked for.
    plain = fit.chunks.weight * fit.quality
    heavy = np.bincount(owner, plain, minlength=number)
    share = heavy / max(float(heavy.sum()), 1e-12)
    walls = 1.0 / max(float((share**2).sum()), 1e-12)
    # A line that is off moves outward for the room on one side, inward for that on the other.
    outward = np.bincount(owner, plain * side * fit.residual, minlength=number)
    off = np.abs(outward / np.maximum(heavy, 1e-12))
    most = max(4.0 * rough + 0.5, _of_majority(off, share, walls, design.shape[1]))
    capped = np.clip(fit.residual, -most, most)
    mean = np.bincount(owner, plain * side * capped, minlength=number) / np.maximum(heavy, 1e-12)
    count = design.shape[1]
    bread = design.T @ (weight[:, None] * design)
    bread += 1e-9 * total * np.eye(count)
    prior, unit = offset_prior(fit, weight, rough)
    bread[-2:, -2:] += prior
    inverse = np.linalg.inv(bread)
    pulls = sums_by_line(weight * side, design, owner, number)
    seen = sums_by_line(plain * side, design, owner, number) / np.maximum(heavy, 1e-12)[:, None]
    follows = seen @ inverse
    spread, free = spread_of_lines(share, mean, follows, pulls, fit.grain**2)
    guessed = 1.0 - min(fit.grain**2 / max(spread, 1e-12), 1.0)
    # Few walls say little of their own scatter: the variance of Student's t in place of the
    # normal one.
    spread *= max(free, 3.0) / max(free - 2.0, 1.0)
    # A line that the fit follows hides what is wrong with it: what it would be off by without it
    # (the jackknife: Efron & Stein, Annals of Statistics 9(3), 1981). Some lines are worse than
    # others, but one error says little of how bad a line is: it counts half against what all are.
    keeps = 1.0 - (follows * pulls).sum(axis=1)
    alone = mean / np.maximum(keeps, _LEFT)
    variance = 0.5 * (spread + alone**2)
    variance = np.maximum(variance, _phase(fit, plain, owner, sharpness))
    meat = pulls.T @ (variance[:, None] * pulls)
    pull = (weight * side)[:, None] * design
    meat += _of_faces(fit.chunks.wall, plain, plain * side * capped, owner, pull)
    # What the offsets may differ from what is usual pulls as well.
    meat[-2:, -2:] += unit * prior
    small = (inverse @ meat @ inverse)[: count - 2, : count - 2]
    spreading = _coefficients(count - 2) @ np.diag([1.0, 1.0] + [1.0 / size] * (count - 4))
    covariance = spreading @ small @ spreading.T
    return Precision(covariance, anchor, float(np.sqrt(variance.mean())), walls, guessed)


def _of_majority(off: Floats, share: Floats, number: float, unknowns: int) -> float:
    """px by which lines are `off` (L,) that are no strays: of the least majority, by their `share`
    (L,), that says something. `number`: how many lines of equal weight these are.

    A fit of P unknowns takes P lines with it, whatever they are off by: of few lines, half may lie
    exactly while all are rough. So it is not half of n lines that tells the scatter, but
    (n + P) / 2 (Rousseeuw, Journal of the American Statistical Association 79, 1984).
    """
    order = np.argsort(off, kind="stable")
    least = min(0.5 + 0.5 * unknowns / number, 1.0)
    place = int(np.searchsorted(np.cumsum(share[order]), least - 1e-9))
    return float(off[order[min(place, len(order) - 1)]])


def _phase(fit: Fit, plain: Floats, owner: NDArray[np.intp], sharpness: float) -> Floats:
    """(L,) px^2: what the pixels leave open about each line that is parallel to them. `plain`
    (Q,): weights of the chunks; `owner` (Q,) their lines."""
    straight = np.abs(fit.normal).max(axis=1) > 0.9999
    share = np.bincount(owner, plain * straight) / np.maximum(np.bincount(owner, plain), 1e-12)
    crisp = float(np.clip((sharpness - 0.85) / 0.1, 0.0, 1.0))
    return np.asarray(share * (_PHASE_PX**2 + crisp * _CRISP_PX**2))


def sums_by_line(weight: Floats, design: Floats, owner: NDArray[np.intp], number: int) -> Floats:
    """(L, P) sums of weight (Q,) times design (Q, P) over the chunks of each line."""
    columns = [np.bincount(owner, weight * column, minlength=number) for column in design.T]
    return np.stack(columns, axis=1)


def spread_of_lines(
    share: Floats, mean: Floats, follows: Floats, pulls: Floats, least: float
) -> tuple[float, float]:
    """px^2, the variance of a line, from the `mean` (L,) px that a fit leaves of each, and its
    degrees of freedom. `share`, `follows`, `pulls` as in `_left_by_fit`.

    A few rough walls can fit by chance: what is known beforehand of each, `least`, px^2, counts as
    two walls more; and it is not undercut unless they fit so well that it cannot be so. Corners
    that were rounded to a grid are off by as much, unless the picture was drawn from the same grid.
    """
    left, free = _left_by_fit(share, follows, pulls)
    spread = float((share * mean**2).sum()) / left
    both = (free * spread + BEFOREHAND * max(spread, least)) / (free + BEFOREHAND)
    by_chance = float(gammainc(0.5 * free, 0.5 * free * spread / max(least, 1e-12)))
    return max(both, least * ramp(by_chance, *_BY_CHANCE)), free


def _left_by_fit(share: Floats, follows: Floats, pulls: Floats) -> tuple[float, float]:
    """Share of the lines' own variance that is left in their residuals, and degrees of freedom.

    `share` (L,) weights that add up to 1; K = 1 - `follows` `pulls`', both (L, P), leads from the
    lines' errors to what is seen of them after the fit. The weighted sum of squares is taken for a
    scaled chi-squared (Satterthwaite, Biometrics Bulletin 2(6), 1946): its mean is the trace of
    D K K' and its variance twice that of the square, D = diag(`share`). There may be thousands of
    lines, so K K' = 1 + U C U' is never written out, U = [`follows`, `pulls`].
    """
    count = follows.shape[1]
    both = np.concatenate([follows, pulls], axis=1)
    core = np.zeros((2 * count, 2 * count))
    core[:count, :count] = pulls.T @ pulls
    core[:count, count:] = core[count:, :count] = -np.eye(count)
    once = (both * share[:, None]).T @ both @ core
    twice = (both * share[:, None] ** 2).T @ both @ core
    left = float(share.sum() + np.trace(once))
    spread = float((share**2).sum() + 2.0 * np.trace(twice) + np.trace(once @ once))
    return max(left, 1e-3), left**2 / max(spread, 1e-12)


def _of_faces(
    wall: NDArray[np.int64], plain: Floats, moved: Floats, owner: NDArray[np.intp], pull: Floats
) -> Floats:
    """(P, P) what the outlines' own errors add to the spread of the pulls.

    The rooms on both sides of a line have outlines of their own. What those are off by against each
    other does not move the line: it hides in the wall offset, and with it in the scale. `wall` (Q,)
    tells the faces of lines apart; `plain` (Q,): weights; `moved` (Q,), `pull` (Q, P): residuals
    across the line and pulls, both weighted; `owner` (Q,) which line.
    """
    face = numbered(owner, wall)
    number = int(face.max()) + 1
    line = np.zeros(number, dtype=np.intp)
    line[face] = owner
    heavy = np.bincount(face, plain, minlength=number)
    own = np.bincount(face, moved, minlength=number) / np.maximum(heavy, 1e-12)
    of_line = np.bincount(line, heavy)
    share = heavy / np.maximum(of_line[line], 1e-12)
    apart = own - np.bincount(line, share * own)[line]
    # A face's part in the common mean of its line is not seen apart from it.
    left = float((heavy * (1.0 - share)).sum())
    if left <= 1e-9 * float(heavy.sum()):
        return np.zeros((pull.shape[1], pull.shape[1]))
    spread = float((heavy * apart**2).sum()) / left
    pulls = sums_by_line(np.ones(len(pull)), pull, face, number)
    both = np.stack([np.bincount(line, column) for column in pulls.T], axis=1)
    pulls -= share[:, None] * both[line]
    return np.asarray(spread * pulls.T @ pulls)


def chance_within(precision: Precision, place: Floats, tolerance: float) -> float:
    """Probability that the true error, RMS over points `place` (N, 2) px, is within `tolerance` px;
    see `accuracy.chance_within`."""
    return accuracy.chance_within(precision.covariance, place - precision.anchor, tolerance)


def rests_on_one_line(fit: Fit) -> float:
    """0..1: how surely the position across one of the floor's two main directions rests on a single
    line of the picture, while most walls that run that way are not where the fit lays them.

    One line can be laid on any wall; what tells that it is the right one are the others. Where the
    picture shows one line alone, as if it is cut off, nothing contradicts it.
    """
    owner, agrees = _on_lines(fit)
    shown = fit.chunks.weight * fit.shown
    alone = 0.0
    for axis in main_axes(fit.pose):
        facing = np.abs(fit.normal @ axis) > _FACING
        total = float((agrees * facing).sum())
        if total > 0.0:
            number = of_equal_weight(owner, agrees * facing)
            share = total / float((shown * facing).sum())
            alone = max(alone, 1.0 - max(ramp(number, *_LINES), ramp(share, *_MOST_LINES)))
    return alone


def lines_held(fit: Fit) -> float:
    """On how many lines of equal weight a fit rests: a room of four walls can be laid anywhere, and
    a lawn of many bends nowhere but where it is."""
    return of_equal_weight(*_on_lines(fit))


def _on_lines(fit: Fit) -> tuple[NDArray[np.intp], Floats]:
    """(Q,) the line of each chunk, and what of its weight lies on it."""
    rough = robust_weights(fit, smallest=0.35)[1]
    owner, _ = wall_lines(fit, fit.place.mean(axis=0))
    on_line = np.abs(fit.residual) <= max(_ON_LINE * rough, _ON_LINE_PX)
    return owner, fit.chunks.weight * fit.quality * on_line


def wall_lines(fit: Fit, anchor: Floats) -> tuple[NDArray[np.intp], Floats]:
    """(Q,) number of the straight line that each chunk lies on, of direction and distance in bins;
    and (Q,) +1 or -1, the side of it to which the chunk's normal points.

    Both faces of a wall, and walls of several rooms in one line, are drawn as one line and share
    what is wrong with it.
    """
    angle = np.arctan2(fit.normal[:, 1], fit.normal[:, 0])
    turn = np.rint(angle / np.deg2rad(5.0)).astype(np.int64)
    turn = np.mod(turn, 36)
    rounded = turn * np.deg2rad(5.0)
    side = np.where(np.cos(angle - rounded) < 0.0, -1.0, 1.0)
    exact = np.where(side < 0.0, angle + np.pi, angle)
    gap = fit.place - anchor
    away = gap[:, 0] * np.cos(exact) + gap[:, 1] * np.sin(exact)
    width = 3.0 + 2.0 * float(np.abs(fit.offset).max())
    return numbered(turn, np.floor(away / width).astype(np.int64)), side


def numbered(first: NDArray[np.int64], second: NDArray[np.int64]) -> NDArray[np.intp]:
    """(N,) number of each pair among all different ones, in their order: numpy's `unique` along an
    axis takes ten times as long."""
    second = second - second.min(initial=0)
    pair = first * (second.max(initial=0) + 1) + second
    return np.unique(pair, return_inverse=True)[1].reshape(-1)


def position_covariance(precision: Precision, linear: Floats) -> Floats:
    """(6, 6) covariance of the device position's coefficients, from the one in the picture.

    `linear` (2, 2): picture px -> device units. With (u, v) = px - anchor, a point's position is
    x = a u + b v + c, y = d u + e v + f; the order is (a, b, c, d, e, f).
    """
    lift = np.kron(linear, np.eye(3))
    covariance = lift @ precision.covariance @ lift.T
    # Rounding may leave a direction in which nothing is known a hair below zero.
    value, vector = np.linalg.eigh(0.5 * (covariance + covariance.T))
    return np.asarray((vector * np.maximum(value, 0.0)) @ vector.T)


def _coefficients(count: int) -> Floats:
    """(6, P): parameters of a small move (shift x, y, growth, turn, stretch, shear) -> the six
    coefficients of the displacement it makes."""
    moves = np.array(
        [
            [0, 0, 1, 0, 0, 0],
            [0, 0, 0, 0, 0, 1],
            [1, 0, 0, 0, 1, 0],
            [0, -1, 0, 1, 0, 0],
            [1, 0, 0, 0, -1, 0],
            [0, 1, 0, 1, 0, 0],
        ],
        dtype=np.float64,
    )
    return moves[:count].T
