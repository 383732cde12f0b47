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

from .refine import Fit, design_matrix, robust_weights

Floats = NDArray[np.float64]

# No wall is known better than this, px: the shared phase of an axis-parallel line.
_PHASE_PX = 0.02


@dataclass(frozen=True, eq=False)
class Precision:
    """`covariance` (6, 6) of the six picture coefficients (see `position_covariance`), px^2, about
    `anchor` (2,) px; `wall_px`: pooled standard deviation of walls about the fit, px; `walls`:
    how many walls carried the fit."""

    covariance: Floats
    anchor: Floats
    wall_px: float
    walls: int


def estimate_precision(fit: Fit, *, affine: bool) -> Precision:
    """Covariance of a refined pose from how its walls scatter about it."""
    weight, _ = robust_weights(fit, smallest=0.35)
    total = max(float(weight.sum()), 1e-12)
    anchor = weight @ fit.place / total if weight.any() else fit.place.mean(axis=0)
    size = max(float(np.sqrt(((fit.place - anchor) ** 2).sum(axis=1).mean())), 1e-9)
    design = design_matrix((fit.place - anchor) / size, fit.normal, affine=affine)
    design = np.concatenate([design, np.stack([~fit.outer, fit.outer], axis=1)], axis=1)
    wall, owner = np.unique(fit.chunks.wall, return_inverse=True)
    heavy = np.bincount(owner, weight, minlength=len(wall))
    mean = np.bincount(owner, weight * fit.residual, minlength=len(wall)) / np.maximum(heavy, 1e-12)
    seen = heavy > 1e-3 * heavy.max() if len(heavy) else np.zeros(0, dtype=bool)
    free = float(seen.sum() - design.shape[1])
    # Few walls say little of their own scatter: the variance of Student's t in place of the
    # normal one.
    spread = float((heavy * mean**2).sum() / max(heavy.sum(), 1e-12)) * seen.sum() / max(free, 1.0)
    variance = (spread + _PHASE_PX**2) * max(free, 3.0) / max(free - 2.0, 1.0)
    count = design.shape[1]
    bread = design.T @ (weight[:, None] * design)
    # The offsets are known beforehand to some extent; without that a single room leaves scale and
    # offset apart.
    bread += np.diag([1e-9 * total] * (count - 2) + [1e-3 * total] * 2)
    pulls = np.stack(
        [np.bincount(owner, weight * design[:, n], minlength=len(wall)) for n in range(count)], 1
    )
    meat = variance * pulls.T @ pulls
    inverse = np.linalg.inv(bread)
    small = (inverse @ meat @ inverse)[: count - 2, : count - 2]
    spreading = _coefficients(count - 2) @ np.diag([1.0, 1.0] + [1.0 / size] * (count - 4))
    covariance = spreading @ small @ spreading.T
    return Precision(covariance, anchor, float(np.sqrt(variance)), int(seen.sum()))


def position_covariance(precision: Precision, linear: Floats) -> Floats:
    """(6, 6) covariance of the device position's coefficients, from the one in the picture.

    `linear` (2, 2): picture px -> device units. With (u, v) = px - anchor, a point's position is
    x = a u + b v + c, y = d u + e v + f; the order is (a, b, c, d, e, f).
    """
    lift = np.kron(linear, np.eye(3))
    return np.asarray(lift @ precision.covariance @ lift.T)


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
