"""What else is said to `register`, checked: a model, tie points, a start."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from regmap.errors import RegmapError
from regmap.registration import MODELS, Registration

__all__ = ["TiePoint", "as_pairs", "check_options"]

Floats: TypeAlias = NDArray[np.float64]
TiePoint: TypeAlias = tuple[tuple[float, float], tuple[float, float]]


def check_options(model: str, mirrored: object, near: object, on_stage: object) -> None:
    """Refuse, as a RegmapError, what none of these options of `register` can be."""
    if not isinstance(model, str) or model not in MODELS:
        raise RegmapError(f"model is {model!r}, but it must be among {MODELS}")
    if mirrored is not None and not isinstance(mirrored, bool | np.bool_):
        raise RegmapError(f"mirrored is {mirrored!r}, but it must be True, False or None")
    if near is not None and not isinstance(near, Registration | Affine):
        raise RegmapError(f"near is {near!r}, but it must be a Registration, an Affine or None")
    if on_stage is not None and not callable(on_stage):
        raise RegmapError(f"on_stage is {on_stage!r}, but it must be a function of a stage's name")


def as_pairs(tie_points: Sequence[TiePoint]) -> tuple[Floats, Floats]:
    """Tie points as picture points and device points, (N, 2) each."""
    try:
        pairs = np.array([[image, device] for image, device in tie_points], dtype=np.float64)
        table = pairs.reshape(-1, 2, 2).reshape(-1, 4)
        if pairs.size and pairs.shape[1:] != (2, 2):
            raise ValueError
    except (TypeError, ValueError):
        raise RegmapError(
            f"tie_points is {tie_points!r}, but it must be pairs ((column, row), (x, y)) of numbers"
        ) from None
    if not np.isfinite(table).all():
        raise RegmapError(f"tie_points hold {table.tolist()}, but all numbers must be finite")
    return table[:, :2], table[:, 2:]
