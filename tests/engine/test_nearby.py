"""Walls found again where a stretch or a bend has them: by hand, and on pictures that were."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import synthetic
from regmap.engine.nearby import Nearby, _found_again, _moves, _Voters, stretched_or_bent
from regmap.register import quietly
from tests.engine import walls_by_hand

Floats = NDArray[np.float64]

STEPS = np.arange(-12.0, 12.1, 0.5)


def seen(places: Floats, side: Floats, moved: Floats) -> Nearby:
    """What is beside walls at `places` (N,) px along an axis, which stand `moved` (N,) px farther
    along it; nan: nowhere."""
    value = np.zeros((len(places), len(STEPS)), dtype=np.float32)
    for number, by in enumerate(moved * side):
        value[number, np.abs(STEPS - by) <= 0.5] = 0.9
    return Nearby(value, STEPS)


def sure(moved: Floats, across: Floats | None = None, *, affine: bool = False) -> float:
    places, side = walls()
    beside = seen(places, side, moved)
    share = np.full(len(places), 1.0 / len(places))
    now = beside.value[:, len(STEPS) // 2].astype(np.float64)
    place = np.stack([places, np.zeros(len(places)) if across is None else across])
    return _found_again(_Voters(place, side, share, beside.value, now), STEPS, affine=affine)


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


def test_an_affine_fit_has_taken_up_a_stretch_and_no_bend() -> None:
    assert (np.abs(_moves(affine=True)[:, 2]) >= 2.0).all()
    along = walls()[0] / 400.0
    assert sure(24.0 * along * (1.0 - along), affine=True) == 1.0


@pytest.mark.parametrize("form", ["squeezed", "bent", "at an angle"])
def test_walls_that_a_bend_has_moved_are_found_where_it_has_them(form: str) -> None:
    along = walls()[0] / 400.0
    # The four pieces of a wall lie one beyond the other.
    across = np.tile([0.0, 0.3, 0.7, 1.0], len(along) // 4)
    moved = {
        "squeezed": 24.0 * along * (1.0 - along),
        "bent": 28.0 * across * (1.0 - across),
        "at an angle": 7.0 * (2.0 * along - 1.0) * (2.0 * across - 1.0),
    }[form]
    assert sure(moved, 400.0 * across) == 1.0


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


@pytest.mark.parametrize(("outward", "stretched"), [(6.0, 0.0), (0.0, 1.0)])
def test_outer_walls_on_their_other_faces_are_no_stretch(outward: float, stretched: float) -> None:
    """Those across one direction stand 6 px outside; so do those across the other, or they are in
    their places."""
    rng = np.random.default_rng(4)
    fit = walls_by_hand.walls(rng, 4, angles=(0, 90))
    away = ((fit.place - 0.5 * walls_by_hand.SIZE) * fit.normal).sum(axis=1)
    by = np.where(np.abs(fit.normal[:, 0]) > 0.5, 6.0, outward)
    value = (np.abs(STEPS - by[:, None]) <= 0.5).astype(np.float32)
    all_outer = replace(
        fit,
        outer=np.ones(len(by), dtype=np.bool_),
        normal=fit.normal * np.sign(away)[:, None],
        quality=np.where(by > 0.0, 0.0, fit.quality),
    )
    told, share = stretched_or_bent(all_outer, Nearby(value, STEPS), affine=False)
    assert told == stretched
    assert share == 1.0


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
