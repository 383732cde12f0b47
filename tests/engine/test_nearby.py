"""Walls found again where a stretch has them: by hand, and on pictures that were stretched."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import synthetic
from regmap.engine import nearby
from regmap.engine.nearby import Nearby
from regmap.register import quietly

Floats = NDArray[np.float64]

STEPS = np.arange(-12.0, 12.1, 0.5)


def seen(places: Floats, side: Floats, moved: Floats) -> Nearby:
    """What is beside walls at `places` (N,) px along an axis, which stand `moved` (N,) px farther
    along it; nan: nowhere."""
    value = np.zeros((len(places), len(STEPS)), dtype=np.float32)
    for number, by in enumerate(moved * side):
        value[number, np.abs(STEPS - by) <= 0.5] = 0.9
    return Nearby(value, STEPS)


def sure(moved: Floats, weight: Floats | None = None) -> float:
    places, side = walls()
    some = np.ones(len(places)) if weight is None else weight
    return nearby._found_again(
        places, side, some, seen(places, side, moved), np.arange(len(places))
    )


def walls() -> tuple[Floats, Floats]:
    """Both faces of five walls 100 px apart, four chunks each."""
    places = np.repeat([0.0, 97.0, 103.0, 197.0, 203.0, 297.0, 303.0, 400.0], 4)
    return places, np.repeat([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0], 4)


@pytest.mark.parametrize("ends", [(-6.0, 6.0), (0.0, 9.0), (8.0, -4.0), (-2.0, 10.0)])
def test_walls_that_a_stretch_has_moved_are_found_where_it_has_them(
    ends: tuple[float, float],
) -> None:
    places, _ = walls()
    along = places / 400.0
    moved = ends[0] * (1.0 - along) + ends[1] * along
    assert sure(moved) == 1.0
    # Half of them hidden, and the others are enough.
    hidden = np.where(np.arange(len(moved)) % 2 == 0, moved, np.nan)
    assert sure(hidden) == 1.0


def test_what_is_in_its_place_or_moved_as_one_is_not_stretched() -> None:
    places, _ = walls()
    assert sure(np.zeros(len(places))) == 0.0
    assert sure(np.full(len(places), np.nan)) == 0.0
    # One wall that was moved.
    one = np.where(places == 0.0, 7.0, 0.0)
    assert sure(one) == 0.0
    # Lines that agree with no stretch.
    wild = np.random.default_rng(1).uniform(-9.0, 9.0, len(places))
    assert sure(np.where(np.arange(len(places)) % 4 == 0, wild, 0.0)) == 0.0


@pytest.mark.parametrize(("family", "seed", "by"), [("chrome", 45, 0.965), ("dark", 47, 1.013)])
def test_a_picture_that_was_stretched_is_doubted_and_said_to_be(
    family: str, seed: int, by: float
) -> None:
    sample = synthetic.sample(family, seed)
    height, width = sample.image.shape[:2]
    wide = cv2.resize(sample.image, (round(by * width), height), interpolation=cv2.INTER_AREA)
    fit = quietly(np.asarray(wide, dtype=np.uint8), sample.outlines)
    assert quietly(sample.image, sample.outlines).confidence >= 0.9
    assert fit.confidence < 0.9
    assert any('model="affine"' in reason for reason in fit.reasons)
    free = quietly(np.asarray(wide, dtype=np.uint8), sample.outlines, model="affine")
    assert free.confidence >= 0.9
