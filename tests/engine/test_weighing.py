"""How sharply walls stand, and how wide rooms are: evidence that hands can work out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from regmap.engine import judge
from regmap.engine.score import Scores
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


UNEVEN = fit_of(
    [0.0, 1.0, -1.0, 0.0, 0.5],
    quality=[1.0, 0.5, 0.5, 0.0, 1.0],
    room=[0, 0, 1, 1, 1],
    weight=[1.0, 2.0, 3.0, 2.0, 1.0],
    shown=[1.0, 1.0, 0.5, 1.0, 1.0],
    outer=[True, False, False, False, False],
)
"""Of two rooms; 1 + 2 + 1.5 + 2 + 1 = 7.5 units are shown."""


def test_each_figure_by_hand() -> None:
    fit = replace(UNEVEN, flat=np.array([0.0, 0.1, 0.0, 0.9, 0.0]), lasting=np.full(5, 0.5))
    found = weighed(fit, rooms=2)
    near, nearer = np.exp(-0.5), np.exp(-0.125)  # a pixel off and half of one, of one px reach
    assert found.forward == pytest.approx((1 + near + 0.75 * near + nearer) / 7.5)
    assert found.inner == pytest.approx((near + 0.75 * near + nearer) / 6.5)
    assert found.absent == pytest.approx((0.2 + 1.8) / 7.5)
    assert (found.missing, found.gone) == pytest.approx((2 / 6.5, 1 / 4))
    np.testing.assert_allclose(found.room_support[0], (1 + near) / 3)
    explains = (0.25 + 0.75 * 0.7) * np.sqrt(0.64) * 0.8
    assert found.total == pytest.approx(0.5 * found.forward * explains)
    assert found.rough == pytest.approx(0.6 * explains)


def test_standing_grows_with_the_root_of_what_is_no_chance() -> None:
    """log(100) nats some of a hundred poses have by chance (Desolneux et al., 2000)."""
    outer, inner = (weighed(fit_of([0.0] * 9, outer=[kind] * 9)) for kind in (True, False))
    assert outer.surprise == 0.0
    beyond = np.sqrt(inner.surprise - np.log(100.0))
    assert inner.standing / outer.standing == pytest.approx(1.0 + beyond / judge._BLUNT, rel=1e-3)
    assert outer.standing == pytest.approx(judge._BLUNT * outer.rough)
    none = judge.weigh(fit_of([0.0]), Scores(*(np.full(1, v) for v in (-0.1, 1, 1, 1))), 0,
                       (1.0, 1.0), 1, 1.0)  # fmt: skip
    assert none.standing == none.rough == 0.0


def test_evidence_is_a_matter_of_shares() -> None:
    """A floor of walls as short as can be, in its own unit, is weighed as one of long walls."""
    tiny = replace(UNEVEN, chunks=replace(UNEVEN.chunks, weight=1e-3 * UNEVEN.chunks.weight))
    large, small = weighed(UNEVEN, rooms=2), weighed(tiny, rooms=2)
    for name in (
        "forward", "inner", "missing", "absent", "room_support", "room_shown", "surprise",
        "sharpness", "scatter", "total", "standing",
    ):  # fmt: skip
        np.testing.assert_allclose(
            getattr(small, name), getattr(large, name), rtol=1e-6, err_msg=name
        )


def test_a_scrap_of_inner_wall_is_not_asked() -> None:
    """Of 40 units 1.6 lie between rooms and are missing: what holds for all holds for them. Of 2.4
    it is told."""
    flat = np.array([0.0, 1.0])
    for scrap, asked in ((1.6, False), (2.4, True)):
        fit = fit_of([0.0, 0.0], quality=[1, 0], outer=[True, False], weight=[40.0 - scrap, scrap])
        found = weighed(replace(fit, flat=flat))
        told = (0.0, 1.0, 1.0) if asked else (found.forward, 0.0, 0.0)
        assert (found.inner, found.missing, found.gone) == told


def test_rooms_scatter_as_their_own_edges_do() -> None:
    fit = fit_of([0.3, -0.4, 0.2, 9.0, 0.1], quality=[1, 0.4, 1, 0.2, 0.3], room=[0, 0, 1, 1, 2])
    found = judge.room_scatter(fit, 4)
    np.testing.assert_allclose(found, [np.sqrt((0.09 + 0.16) / 2), 0.2, np.nan, np.nan])


def test_a_wall_that_is_all_there_is_may_be_gone() -> None:
    wall, weight = np.zeros(4, dtype=np.int64), np.ones(4)
    assert judge._lost_walls(wall, weight, np.ones(4), 0.5) == (1.0, 1.0)


def test_rooms_with_half_the_support_of_the_clear_ones_are_not_denied() -> None:
    support = np.array([0.8] * 8 + [0.5, 0.3])
    assert judge._denied_rooms(support, np.zeros(10)) == pytest.approx(0.1)


@pytest.mark.parametrize(("flat", "denied"), [(0.3, 1 / 3), (0.7, 0.0)])
def test_a_room_is_denied_where_most_of_its_walls_show_something(
    flat: float, denied: float
) -> None:
    fit = fit_of([0.0] * 6, quality=[1, 1, 1, 1, 0, 0], room=[0, 0, 1, 1, 2, 2], weight=[8.0] * 6)
    fit = replace(fit, flat=np.array([0.0] * 4 + [flat] * 2))
    assert weighed(fit, rooms=3).denied == pytest.approx(denied)


def test_walls_cross_where_those_that_are_seen_do() -> None:
    """Four units face right and two face down; of what is not seen, or hardly, nothing holds."""
    fit = fit_of([0.0] * 3, weight=[2.0, 2.0, 2.0])
    fit = replace(fit, normal=np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0]]))
    assert judge.crossed(fit)
    assert not judge.crossed(replace(fit, quality=np.array([1.0, 1.0, 0.05])))
    short = replace(fit.chunks, weight=np.array([2.0, 2.0, 0.1]))
    assert not judge.crossed(replace(fit, chunks=short))
    long = replace(fit.chunks, weight=np.array([2.0, 2.0, 0.2]))
    assert judge.crossed(replace(fit, chunks=long))
    assert not judge.crossed(replace(fit, quality=np.zeros(3)))


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
