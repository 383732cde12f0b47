"""What is known beforehand of the wall offset: how far outside the outlines the borders stand.

It is solved for in `refine`, after `faces` has told on which of its lines each wall stands.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .measure import Fit

Floats = NDArray[np.float64]

# Standard deviations of a wall offset, and of the gap between those of inner and outer walls, as
# shares of the floor's half diagonal (common practice, no source: 140 mm and 30 mm on 14 m).
_USUAL_OFFSET = 0.02
_USUAL_GAP = 0.004
# No border is better known than this, px.
_FINEST = 0.02


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
