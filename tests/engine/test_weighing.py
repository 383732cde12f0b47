"""How sharply walls stand, and how wide rooms are: evidence that hands can work out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from regmap.engine import judge
from tests.engine.test_judge import GOOD, fit_of, weighed

FAR_PX = 3.5


def test_a_usual_room_is_as_wide_as_a_square_of_its_outline() -> None:
    sides = [20.0] * 4 + [30.0] * 4 + [100.0] * 4
    fit = fit_of([0.0] * 12, weight=sides, room=[0] * 4 + [1] * 4 + [2] * 4)
    assert weighed(fit, rooms=3).room_px == pytest.approx(30.0)
    # Twice as large in the picture.
    assert weighed(replace(fit, pose=2.0 * fit.pose), rooms=3).room_px == pytest.approx(60.0)
    # A room of which half is hidden is as wide as it is.
    hidden = replace(fit, shown=np.tile([1.0, 0.0], 6))
    assert weighed(hidden, rooms=3).room_px == pytest.approx(30.0)


def surprise(off: list[float], **how: Any) -> float:
    inner = [False] * len(off)
    return weighed(fit_of(off, outer=inner, **how)).surprise


def test_walls_are_the_more_surprising_the_nearer_their_borders_are() -> None:
    said = [surprise([off] * 6) for off in (0.0, 0.1, 0.3, 0.6, 1.0, 2.0, FAR_PX)]
    assert said == sorted(said, reverse=True)
    assert said[0] > 0.0 > said[-1]


@pytest.mark.parametrize("off", [0.1, 0.4, 1.5, FAR_PX])
def test_it_is_the_same_to_either_side(off: float) -> None:
    assert surprise([off, off, off]) == pytest.approx(surprise([-off, -off, off]))


def test_walls_that_are_not_seen_say_nothing() -> None:
    """By Bayes' rule: what is as likely either way leaves the odds as they are."""
    assert abs(surprise([0.0] * 6, quality=0.0)) < 0.05 * 6  # a line in twenty is none of either
    seen = surprise([0.0] * 6)
    half = surprise([0.0] * 6, quality=[1.0, 0.0] * 3)
    assert half == pytest.approx(0.5 * seen, rel=0.03)


def test_outer_walls_are_not_asked() -> None:
    """They stand off the outlines by an amount of their own."""
    off = [0.0] * 3 + [FAR_PX] * 3
    outer = [False] * 3 + [True] * 3
    assert weighed(fit_of(off, outer=outer)).surprise > 0.0
    assert weighed(fit_of(off, outer=[not one for one in outer])).surprise < 0.0
    none = weighed(fit_of(off, outer=[True] * 6))
    assert none.surprise == 0.0
    assert none.sharpness == 1.0


def test_sharpness_is_surprise_by_wall() -> None:
    few, many = (weighed(fit_of([0.0] * n, outer=[False] * n)) for n in (4, 16))
    assert many.sharpness == pytest.approx(few.sharpness)
    assert many.surprise == pytest.approx(4.0 * few.surprise)


def test_what_stands_sharply_ranks_before_what_does_not() -> None:
    """The scores are the same; the nearer borders are to all of many walls the more it stands."""
    said = [
        weighed(fit_of([off] * 40, outer=[False] * 40)).standing for off in (0.0, 0.2, 0.4, 0.8)
    ]
    assert said == sorted(said, reverse=True)
    assert said[0] > 1.2 * said[-1] > 0.0


def test_a_fit_outside_the_picture_has_nothing_to_show() -> None:
    best = weighed(fit_of([0.0] * 4, shown=0.0))
    assert best.forward == best.denied == best.standing == 0.0
    assert np.isnan(best.room_support).all()


def test_a_pose_is_worth_refining_where_one_figure_says_so() -> None:
    names = ("total", "standing", "rough")
    half = GOOD
    for name in names:
        half = replace(half, **{name: 0.5 * getattr(GOOD, name)})
    alone = [replace(half, **{name: getattr(GOOD, name)}) for name in names]
    assert judge.likely([GOOD, half, *alone]) == [True, False, True, True, True]
    # What is better than the best in one of them is likely, the worse it may be else.
    assert judge.likely([half, GOOD]) == [True, True]
