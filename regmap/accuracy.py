"""From covariances to figures that people use: circular error, error ellipse, chance to be right.

The errors are taken as normal, with mean zero. Needs numpy alone, and SciPy where the chance to be
right is asked for: a stored fit has that already.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regmap.errors import RegmapError

__all__ = ["chance_within", "circular_error", "error_ellipses", "point_covariances"]

Floats = NDArray[np.float64]

# Directions over a quarter turn. The integrand is smooth and periodic, so that the midpoint rule
# reaches the last digit with far fewer; 512 shapes of ellipse keep linear interpolation to 1e-6.
_DIRECTIONS = 128
_SHAPES = 512
# Units squared from which on a mean square error says that nothing is known.
_KNOWN_NOTHING = 1e12


def circular_error(covariances: ArrayLike, *, share: float = 0.95) -> Floats:
    """Return the radius that `share` of the errors stay below, for each covariance.

    Args:
        covariances: (..., 2, 2), symmetric, positive semidefinite, in units squared.
        share: of the errors, from 0.5 up to but not including 1.

    Returns:
        (...) radii. They are exact to 1e-6 of themselves for any ratio of the axes, not only for
        equal ones, where the radius is sqrt(-2 ln(1 - share)) times the standard deviation of one
        coordinate: 2.4477 for 95 %. For a vanishing minor axis it is 1.95996.

    With (x, y) = rho (s1 cos t, s2 sin t) the angle t is uniform and rho has a Rayleigh
    distribution, so that P(error > R) is the mean over t of exp(-R^2 / 2 (s1^2 cos^2 t +
    s2^2 sin^2 t)). Its inverse is tabulated over s2 / s1.
    """
    major, minor, _ = _axes(covariances)
    ratio = np.divide(minor, major, out=np.zeros_like(major), where=major > 0)
    shapes, factors = _factors(share)
    radii: Floats = major * np.interp(ratio, shapes, factors)
    return radii


def error_ellipses(covariances: ArrayLike, *, share: float = 0.95) -> Floats:
    """Return the ellipse that holds `share` of the errors, for each covariance.

    Args:
        covariances: (..., 2, 2), symmetric, positive semidefinite, in units squared.
        share: of the errors, from 0.5 up to but not including 1.

    Returns:
        (..., 3): semi-axes major and minor in units, and the direction of the major axis in
        degrees counter-clockwise from +x, within [-90, 90].
    """
    major, minor, angle = _axes(covariances)
    reach = math.sqrt(-2.0 * math.log1p(-_checked(share)))
    return np.stack([reach * major, reach * minor, angle], axis=-1)


def point_covariances(covariance: Floats, offsets: Floats, floor_error: float) -> Floats:
    """Return (N, 2, 2) covariances of mapped points: J covariance J^T + floor_error^2 I.

    Args:
        covariance: (6, 6), units squared, of the coefficients a, b, c, d, e, f of
            x = a u + b v + c, y = d u + e v + f.
        offsets: (N, 2) of the points (u, v) from where the covariance holds.
        floor_error: units, standard deviation per axis of an error that is the same everywhere.
    """
    basis = np.column_stack([offsets, np.ones(len(offsets))])
    spread: Floats = np.einsum("ni,aibj,nj->nab", basis, covariance.reshape(2, 3, 2, 3), basis)
    return spread + floor_error**2 * np.eye(2)


def chance_within(covariance: Floats, offsets: Floats, tolerance: float) -> float:
    """Return the probability that an error, RMS over some points, is within `tolerance` units.

    Args:
        covariance: (6, 6), units squared, of a, b, c, d, e, f in the error (a u + b v + c,
            d u + e v + f) at an offset (u, v).
        offsets: (N, 2) of the points from where the covariance holds.
        tolerance: units.

    The mean square of such an error is a sum of squares of unequal weight, here taken for a scaled
    chi-squared of equal mean and variance (Satterthwaite, Biometrics Bulletin 2(6), 1946).
    """
    from scipy.special import gammainc  # stored fits are used without it

    basis = np.column_stack([offsets, np.ones(len(offsets))])
    spread = np.kron(np.eye(2), basis.T @ basis / len(offsets)) @ covariance
    mean = float(np.trace(spread))
    if not 0.0 < mean < _KNOWN_NOTHING:
        return float(mean <= 0.0)
    freedom = mean**2 / float(np.trace(spread @ spread))
    return float(gammainc(0.5 * freedom, 0.5 * freedom * tolerance**2 / mean))


def _axes(covariances: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Return standard deviations along the major and minor axis, and the angle in degrees."""
    c = np.asarray(covariances, dtype=np.float64)
    if c.ndim < 2 or c.shape[-2:] != (2, 2):
        raise RegmapError(f"covariances have the shape {c.shape}, but (..., 2, 2) is needed")
    mean = (c[..., 0, 0] + c[..., 1, 1]) / 2
    half = (c[..., 0, 0] - c[..., 1, 1]) / 2
    cross = (c[..., 0, 1] + c[..., 1, 0]) / 2
    reach = np.hypot(half, cross)
    angle = np.degrees(np.arctan2(cross, half)) / 2
    # Rounding may push the smaller eigenvalue of a flat ellipse just below zero.
    return np.sqrt(mean + reach), np.sqrt(np.maximum(mean - reach, 0.0)), angle


def _checked(share: float) -> float:
    # Below one half the midpoint rule would be too coarse, and nobody asks for it.
    if not 0.5 <= share < 1.0:
        raise RegmapError(f"share is {share}, but it must be at least 0.5 and below 1: say 0.95")
    return float(share)


@lru_cache(maxsize=16)
def _factors(share: float) -> tuple[Floats, Floats]:
    """Return ratios of the axes, and for each the radius in standard deviations of the major."""
    outside = 1.0 - _checked(share)
    shapes = np.linspace(0.0, 1.0, _SHAPES + 1)
    angles = (np.arange(_DIRECTIONS) + 0.5) * (math.pi / 2 / _DIRECTIONS)
    variance = np.cos(angles) ** 2 + (shapes[:, None] * np.sin(angles)) ** 2
    # Newton on the logarithm of the tail from the equal-axes radius, which is an upper bound: the
    # logarithm falls ever more slowly in q = R^2 / 2, so that the steps end up at the root.
    q = np.full(len(shapes), -math.log(outside))
    for _ in range(30):
        tail = np.exp(-q[:, None] / variance)
        value = tail.mean(axis=1)
        slope = (tail / variance).mean(axis=1)
        q += np.log(value / outside) * value / slope
    return shapes, np.sqrt(2.0 * q)
