"""What else is said to `register`, checked: a model, tie points, a start."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from regmap.errors import RegmapError
from regmap.given import callback, chosen, instance, short
from regmap.registration import MODELS, Registration

__all__ = ["TiePoint", "as_pairs", "check_options"]

Floats: TypeAlias = NDArray[np.float64]
TiePoint: TypeAlias = tuple[tuple[float, float], tuple[float, float]]


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
        pairs = np.array([[image, device] for image, device in tie_points], dtype=np.float64)
        table = pairs.reshape(-1, 4)
        if pairs.size and pairs.shape[1:] != (2, 2):
            raise ValueError
    except Exception:  # a sequence of somebody else's may fail in ways of its own
        raise RegmapError(
            f"tie_points is {short(tie_points)}, but it must be pairs ((column, row), (x, y)) of "
            "numbers"
        ) from None
    if not np.isfinite(table).all():
        raise RegmapError(f"tie_points hold {table.tolist()}, but all numbers must be finite")
    return table[:, :2], table[:, 2:]
