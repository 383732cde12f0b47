"""What else is said to `register`, checked: a model, tie points, a start."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from typing import TypeAlias

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from regmap import frames
from regmap.errors import RegmapError
from regmap.given import callback, chosen, instance, short
from regmap.registration import MODELS, Registration

__all__ = ["MOST_TIES", "TiePoint", "as_pairs", "check_options", "check_ties", "within_reach"]

Floats: TypeAlias = NDArray[np.float64]
TiePoint: TypeAlias = tuple[tuple[float, float], tuple[float, float]]

MOST_TIES = 1000
"""More tie points than this are refused: they are known by eye, one by one."""

_FARTHEST_PX = 1e12


def check_options(
    model: object, mirrored: object, near: object, unit: object, on_stage: object
) -> None:
    """Refuse what none of these options of `register` can be.

    Raises:
        RegmapError: the text says which one, what came and what is allowed.
    """
    chosen(model, MODELS, "model")
    instance(unit, str, "unit")
    if mirrored is not None and not isinstance(mirrored, bool | np.bool_):
        raise RegmapError(f"mirrored is {short(mirrored)}, but it must be True, False or None")
    if near is not None and not isinstance(near, Registration | Affine):
        raise RegmapError(
            f"near is {short(near)}, but it must be a Registration, an Affine or None"
        )
    callback(on_stage, "on_stage")


def as_pairs(tie_points: Sequence[TiePoint]) -> tuple[Floats, Floats]:
    """Return tie points as picture points, px, and device points, (N, 2) each.

    Raises:
        RegmapError: if they are no pairs of pairs of finite numbers.
    """
    try:
        few = islice(tie_points, MOST_TIES + 1)
        pairs = np.array([[image, device] for image, device in few], dtype=np.float64)
        table = pairs.reshape(-1, 4)
        if pairs.size and pairs.shape[1:] != (2, 2):
            raise ValueError
    except Exception:  # a sequence of somebody else's may fail in ways of its own
        raise RegmapError(
            f"tie_points is {short(tie_points)}, but it must be pairs ((column, row), (x, y)) of "
            "numbers"
        ) from None
    return check_ties(table)[:, :2], table[:, 2:]


def check_ties(table: Floats) -> Floats:
    """Return tie points (N, 4), if they are few, and numbers whose squares do not overflow."""
    if len(table) > MOST_TIES:
        raise RegmapError(
            f"more than {MOST_TIES} tie_points came: a few suffice, well apart; one may do"
        )
    if not np.isfinite(table).all():
        raise RegmapError(f"tie_points hold {table.tolist()}, but all numbers must be finite")
    frames.as_points(table.reshape(-1, 2), "tie_points")
    return table


def within_reach(pose: Floats) -> Floats:
    """Return the (2, 3) pose that `near` gives the outlines, if it is one that can be worked with.

    Raises:
        RegmapError: if it lays them farther off than any picture reaches.
    """
    if np.abs(pose).max() > _FARTHEST_PX:
        raise RegmapError(
            f"near lays the outlines {np.abs(pose).max():.3g} px away, or as large: it must lead "
            "from this picture's px to the outlines' unit, and not back"
        )
    return pose
