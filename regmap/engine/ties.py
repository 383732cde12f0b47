"""Tie points: pairs of places that somebody says are one, known to a few pixels."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# How far off a tie point may be, px, and as a share of the picture's diagonal.
_FARTHEST_PX, _FARTHEST = 12.0, 0.03
# px by which a place that was read off by eye usually misses, along either axis.
_BY_EYE_PX = 4.0
# Share of a pose's evidence from which on another fits as well; and nats by which that one meets
# the points better, of odds of a hundred.
_AS_GOOD, _NO_SLIP = 0.65, 4.6
# More no single point makes sure of.
_SUREST = 0.98


def tie_reach(size: Sequence[int]) -> float:
    """Full px within which a pose of a picture of `size` (rows, columns) meets a tie point."""
    return max(_FARTHEST_PX, _FARTHEST * math.hypot(*size))


def tie_gaps(poses: Floats, image: Floats, own: Floats) -> Floats:
    """(C,) full px by which poses (C, 2, 3), own frame -> full px, miss the worst of the tie
    points `image` (M, 2) px, `own` (M, 2) in the walls' own frame."""
    placed = np.einsum("cij,mj->cmi", poses[:, :, :2], own) + poses[:, None, :, 2]
    return np.asarray(np.sqrt(((placed - image) ** 2).sum(axis=2).max(axis=1)))


def misses_clearly(gaps: Floats, total: Floats) -> NDArray[np.bool_]:
    """(C,) which poses, of evidence `total` (C,), miss the tie points by so much more than another
    one that fits as well that it is no slip of the hand: a likelihood ratio."""
    as_good = total >= _AS_GOOD * total[:, None]
    nats = (gaps[:, None] ** 2 - gaps**2) / (2.0 * _BY_EYE_PX**2)
    return np.asarray((as_good & (nats > _NO_SLIP)).any(axis=1))


def vouched(sure: float, gap: float, reach: float) -> float:
    """The probability `sure` of a fit, once it has come within `gap` px of a tie point when `reach`
    would have done.

    Bayes' rule: a wrong pose meets the point anywhere within reach, a right one as nearly as eyes
    can tell. A wide miss takes nothing away: the hand may have slipped.
    """
    spread = 2.0 * _BY_EYE_PX**2
    likelihood = max(reach**2 / spread * float(np.exp(-(gap**2) / spread)), 1.0)
    return max(sure, min(sure * likelihood / (sure * likelihood + 1.0 - sure), _SUREST))
