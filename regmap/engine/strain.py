"""Does one move lay the whole floor? Parts of it that lie apart, and stretched pictures.

A map that drifted, or of which a part has moved by less than a wall is thick, is laid between its
parts: edges are off one way in the one, the other way in the other. Each of them is off by no more
than rough outlines are, and only their order tells. So the floor is cut in two, and the parts are
fitted apart: what they differ by must be what the predicted error allows (the splitting test of
Pennec & Thirion, International Journal of Computer Vision 25(3), 1997). In the same way a
similarity must leave nothing to a stretch. Where it leaves so much that walls are no longer found
at all, see `nearby`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from regmap.frames import apply, fit_similarity, invert

from .judge import Evidence
from .measure import Fit, main_axes, missed_chunks, robust_weights, spread
from .moves import design_matrix
from .precision import BEFOREHAND, spread_of_lines, sums_by_line, wall_lines
from .ramp import ramp
from .wall_offset import offset_prior

Floats = NDArray[np.float64]

# Where the floor is cut, across either of its directions: shares of the evidence on one side.
_CUTS = (0.35, 0.5, 0.65)
# Edges farther off are not of these walls, px.
_REACH_PX = 8.0
# No line is better known than this, px.
_LINE_PX = 0.05
# Variance of an unknown, of px^2 of all evidence, from which on nothing is known of it.
_UNKNOWN = 1e5
# Standard errors, and px, by which a floor is strained: below the first it is chance, or does no
# harm; from the second on it surely is. A dozen differences are looked at.
_ERRORS, _STRAIN_PX = (3.2, 4.5), (1.5, 3.0)
# px by which borders scatter, and share of the walls that is missed, below which all are exact.
_EXACT_PX, _MISSES = 0.1, 0.05
# px RMS that no similarity follows: no harm, and surely one. Nats by which walls stand more sharply
# under a stretch, and what it is worth as a share of the similarity: by chance, and surely none.
_HARMS_PX, _SHARPER, _BETTER = (1.2, 2.0), (3.0, 6.0), (1.25, 1.5)


@dataclass(frozen=True)
class Strain:
    """`sure`: 0..1, how surely no one move lays the whole floor; `by_px`: by how much parts of it
    lie apart, or what a stretch moves the usual wall by; `errors`: the same in standard errors;
    `stretched`: which of the two it is."""

    sure: float
    by_px: float
    errors: float
    stretched: bool


@dataclass(frozen=True, eq=False)
class _Lines:
    """Residuals (Q,) px of chunks, their weights, and the straight `line` and `side` of it on which
    each lies; `least`: px^2, the least variance of a line."""

    residual: Floats
    weight: Floats
    line: NDArray[np.int64]
    side: Floats
    least: float


def strain_of(fit: Fit, *, affine: bool) -> Strain:
    """The strain of a floor under a refined pose, 0 where there is none."""
    weight = fit.chunks.weight * fit.quality * (np.abs(fit.residual) < _REACH_PX)
    total = float(weight.sum())
    if total <= 0.0:
        return Strain(0.0, 0.0, 0.0, stretched=False)
    anchor = weight @ fit.place / total
    away = fit.place - anchor
    size = max(float(np.sqrt((away**2).sum(axis=1).mean())), 1e-9)
    line, side = wall_lines(fit, anchor)
    seen = _Lines(fit.residual, weight, line, side, max(fit.grain, _LINE_PX) ** 2)
    moves = design_matrix(away / size, fit.normal, affine=True)
    same = moves if affine else moves[:, :4]
    same = np.concatenate([same, np.stack([~fit.outer, fit.outer], axis=1)], axis=1)
    offsets = offset_prior(fit, weight, robust_weights(fit, smallest=0.35)[1])[0]
    found = [] if affine else [_strain(seen, same, moves[:, 4:], offsets, stretched=True)]
    axes = main_axes(fit.pose)
    bends = _bends(away @ axes.T / size, fit.normal @ axes.T)
    found += [_strain(seen, same, bend, offsets, stretched=False) for bend in bends]
    for axis in axes:
        place = away @ axis
        order = np.argsort(place, kind="stable")
        sofar = np.cumsum(weight[order])
        for share in _CUTS:
            beyond = place > place[order[np.searchsorted(sofar, share * total)]]
            part = _Lines(fit.residual, weight, 2 * line + beyond, side, seen.least)
            apart = fit.normal @ axes.T * beyond[:, None]
            found.append(_strain(part, same, apart, offsets, stretched=False))
    # A stretch parts a floor too, and a moved part stretches it: what is clearest is the cause.
    most = max(strain.sure for strain in found)
    return max((s for s in found if s.sure >= 0.5 * most), key=lambda strain: strain.errors)


def may_hide_a_stretch(fit: Fit) -> bool:
    """False where all borders lie so exactly that none can be on the wrong face of its wall."""
    shown, missed = missed_chunks(fit)
    weight = fit.chunks.weight
    few = float(weight[missed].sum()) < _MISSES * float(weight[shown].sum())
    return not few or float(spread(fit.residual, weight * fit.quality)) >= _EXACT_PX


def stretch_of(fit: Fit, free: Fit, evidence: Evidence, freed: Evidence) -> Strain:
    """The stretch under a similarity `fit`, told from the affine fit that it becomes when it is
    `free`. Walls have two faces, and rough outlines leave it open which of them: under a stretch
    some have gone over to the wrong ones, and none is left that is off.

    The stretch must be more than harms nothing, and walls must stand more sharply by more than two
    unknowns give by chance: `evidence` and `freed`, of the one and the other.
    """
    shown = fit.shown > 0.5
    if shown.sum() < 3:
        return Strain(0.0, 0.0, 0.0, stretched=True)
    place, weight = fit.place[shown], fit.chunks.weight[shown]
    moved = apply(free.pose, apply(invert(fit.pose), place))
    # Of one picture onto itself: rows go down in both.
    best = fit_similarity(place, moved, weights=weight, mirrored=True)
    left = ((apply(best, place) - moved) ** 2).sum(axis=1)
    by_px = float(np.sqrt(weight @ left / max(float(weight.sum()), 1e-12)))
    nats = freed.surprise - evidence.surprise
    better = freed.standing / max(evidence.standing, 1e-12)
    clearly = max(ramp(nats, *_SHARPER), ramp(better, *_BETTER))
    errors = float(np.sqrt(2.0 * max(nats, 0.0)))
    return Strain(min(clearly, ramp(by_px, *_HARMS_PX)), by_px, errors, stretched=True)


def _bends(place: Floats, normal: Floats) -> tuple[Floats, ...]:
    """Three pairs (Q, 2) of what a floor is moved by outward at `place` (Q, 2), in units of its
    size, and `normal` (Q, 2), along its axes: squeezed along an axis more in the middle than at
    its ends, bent across it, and seen at an angle."""
    square, product = place**2, place[:, :1] * place[:, 1:]
    squeezed = square * normal
    bent = square[:, ::-1] * normal
    tilted = np.stack(
        [
            square[:, 0] * normal[:, 0] + product[:, 0] * normal[:, 1],
            product[:, 0] * normal[:, 0] + square[:, 1] * normal[:, 1],
        ],
        axis=1,
    )
    return squeezed, bent, tilted


def _strain(
    seen: _Lines, same: Floats, other: Floats, offsets: Floats, *, stretched: bool
) -> Strain:
    """What two more unknowns, of columns `other` (Q, 2), are found to be beside those of all, of
    columns `same` (Q, P), the last two of which are wall offsets, known beforehand (2, 2)."""
    found, errors = _unknowns(seen, np.concatenate([same, other], axis=1), offsets)
    each = [
        Strain(
            min(ramp(error, *_ERRORS), ramp(px, *_STRAIN_PX)), float(px), float(error), stretched
        )
        for px, error in zip(found, errors, strict=True)
    ]
    return max(each, key=lambda strain: (strain.sure, strain.errors))


def _unknowns(seen: _Lines, design: Floats, offsets: Floats) -> tuple[Floats, Floats]:
    """(2,) px, sizes of the last two unknowns of a fit of `design` (Q, P) to the residuals, and by
    how many standard errors of a normal distribution they differ from nothing. Lines are the pieces
    of evidence, as in `precision`."""
    weight = seen.weight
    total, count = float(weight.sum()), design.shape[1]
    normal = design.T @ (weight[:, None] * design) + 1e-9 * total * np.eye(count)
    normal[-4:-2, -4:-2] += offsets
    inverse = np.linalg.inv(normal)
    found = inverse @ (design.T @ (weight * seen.residual))
    left = seen.residual - design @ found
    owner = np.unique(seen.line, return_inverse=True)[1].reshape(-1)
    number = int(owner.max()) + 1
    heavy = np.maximum(np.bincount(owner, weight, minlength=number), 1e-12)
    mean = np.bincount(owner, weight * seen.side * left, minlength=number) / heavy
    pulls = sums_by_line(weight * seen.side, design, owner, number)
    share = heavy / float(heavy.sum())
    follows = (pulls / heavy[:, None]) @ inverse
    of_line, free = spread_of_lines(share, mean, follows, pulls, seen.least)
    covariance = inverse @ (of_line * pulls.T @ pulls) @ inverse
    size = np.abs(found[-2:])
    # Where a part has no walls of a direction, nothing is known of its place across them.
    size[np.diag(inverse)[-2:] * total > _UNKNOWN] = 0.0
    error = np.sqrt(np.maximum(np.diag(covariance)[-2:], 1e-12))
    return size, _as_normal(size / error, free + BEFOREHAND)


def _as_normal(ratio: Floats, free: float) -> Floats:
    """Student's t of so many degrees of freedom -> what is as rare of a normal distribution
    (Wallace, Annals of Mathematical Statistics 30(4), 1959)."""
    shrink = (8.0 * free + 1.0) / (8.0 * free + 3.0)
    return np.asarray(shrink * np.sqrt(free * np.log1p(ratio**2 / free)))
