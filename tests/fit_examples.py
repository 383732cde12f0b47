"""Registrations made by hand for the tests: nothing of the engine is needed for them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from affine import Affine

from regmap.registration import Registration, RoomFit

# 20 mm per px, columns 30 degrees from +x, rows downwards against y upwards: an ordinary picture.
_COS, _SIN = 20 * math.cos(math.radians(30)), 20 * math.sin(math.radians(30))
TURNED = Affine(_COS, _SIN, -3000.0, _SIN, -_COS, 5200.0)
UPRIGHT = Affine(20.0, 0.0, -1000.0, 0.0, -20.0, 6000.0)

# An L with a pillar's hole, and a rectangle beside it; mm, anti-clockwise.
STUDY = (
    np.array([[0, 0], [4000, 0], [4000, 2000], [2500, 2000], [2500, 4500], [0, 4500]], float),
    np.array([[1000, 1000], [1000, 1400], [1400, 1400], [1400, 1000]], float),
)
HALL = (np.array([[4200, 0], [7000, 0], [7000, 2000], [4200, 2000]], float),)


def make_fit(**changes: Any) -> Registration:
    """Return a sure fit of two rooms; `changes` replace fields."""
    spread = np.array([[2e-4, 1e-5, 0], [1e-5, 3e-4, 0], [0, 0, 4.0]])
    covariance = np.zeros((6, 6))
    covariance[:3, :3] = spread
    covariance[3:, 3:] = 2 * spread
    covariance[2, 5] = covariance[5, 2] = 1.5
    fields: dict[str, Any] = {
        "transform": UPRIGHT,
        "model": "similarity",
        "confidence": 0.97,
        "reprojection_error": 0.31,
        "wall_offset": -12.5,
        "covariance": covariance,
        "anchor_px": (200.0, 150.0),
        "floor_error": 4.0,
        "image_size": (640, 480),
        "outlines": {"study": STUDY, "hall": HALL},
        "rooms": (
            RoomFit("study", "agrees", 0.98, 0.3, 0.95, 1.0, (90.0, 240.0)),
            RoomFit("hall", "not shown", math.nan, math.nan, 0.0, 0.25, (330.0, 250.0)),
        ),
        "reasons": ("one wall lies outside the picture",),
        "residuals": np.array([[10.0, 20.0, 0.1], [30.0, 40.0, -0.2]]),
        "engine": "test",
    }
    return Registration(**{**fields, **changes})
