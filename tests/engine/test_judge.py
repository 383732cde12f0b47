"""Evidence counted by hand, and what it may and may not make of itself."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import synthetic
from regmap.engine import judge
from regmap.engine.confidence import at_most, confidence
from regmap.engine.doubts import doubts, near_misses
from regmap.engine.judge import Evidence
from regmap.engine.measure import Fit
from regmap.engine.score import Scores
from regmap.register import quietly
from tests.engine import boxes

Floats = NDArray[np.float64]

GOOD = Evidence(
    forward=0.9,
    inner=0.9,
    missing=0.02,
    gone=0.02,
    absent=0.01,
    unmet=0.02,
    unmet_inner=0.02,
    excess=0.85,
    room_support=np.full(6, 0.9),
    room_shown=np.ones(6),
    denied=0.0,
    room_px=90.0,
    surprise=40.0,
    sharpness=2.0,
    backward=0.9,
    captured=0.85,
    shown=1.0,
    scatter=0.1,
    total=0.75,
    standing=0.75,
    rough=0.75,
)
NO_RIVAL = 0.35


def sure(
    evidence: Evidence,
    *,
    rival: float = NO_RIVAL,
    rooms: int = 6,
    crossed: bool = True,
    lines: float = 5.0,
) -> float:
    return confidence(evidence, rival, at_most(evidence, rooms, crossed, lines), lines)


# --- counting ------------------------------------------------------------------------------------


def fit_of(
    residual: list[float],
    *,
    quality: float | list[float] = 1.0,
    shown: float | list[float] = 1.0,
    room: list[int] | None = None,
    outer: list[bool] | None = None,
    weight: float | list[float] = 1.0,
) -> Fit:
    count = len(residual)
    return boxes.made_fit(
        np.zeros((count, 2)),
        np.tile([1.0, 0.0], (count, 1)),
        np.array(residual, dtype=np.float64),
        wall=np.arange(count),
        room=None if room is None else np.array(room),
        outer=None if outer is None else np.array(outer),
        quality=np.array(quality, dtype=np.float64),
        shown=np.array(shown, dtype=np.float64),
        weight=np.array(weight, dtype=np.float64),
    )


def weighed(fit: Fit, *, rooms: int = 1, factor: float = 1.0) -> Evidence:
    one = np.ones(1)
    scores = Scores(forward=0.6 * one, backward=one, captured=one, shown=0.8 * one)
    return judge.weigh(fit, scores, 0, (0.7, 0.64), rooms, factor)


def test_forward_is_the_share_of_length_on_an_edge() -> None:
    """Four chunks: one on an edge, one on none, one twice as long and on an edge, one unseen."""
    fit = fit_of(
        [0.0, 0.0, 0.0, 0.0], quality=[1, 0, 1, 0], shown=[1, 1, 1, 0], weight=[1, 1, 2, 5]
    )
    assert weighed(fit).forward == pytest.approx(3 / 4)


def test_edges_that_are_off_count_less_and_the_more_the_larger_the_working_picture() -> None:
    near, far = weighed(fit_of([0.3] * 4)), weighed(fit_of([1.5] * 4))
    assert 1.0 > near.forward > 0.9 > 0.5 > far.forward > 0.0
    # The same full px are fewer px of a working picture of half the size.
    assert weighed(fit_of([1.5] * 4), factor=0.5).forward > far.forward


def test_inner_walls_are_counted_apart() -> None:
    fit = fit_of([0.0] * 4, quality=[1, 1, 1, 0], outer=[True, True, False, False])
    found = weighed(fit)
    assert found.forward == pytest.approx(3 / 4)
    assert found.inner == pytest.approx(1 / 2)
    # A single room has no inner walls: what holds for all holds for them.
    alone = weighed(fit_of([0.0] * 4, quality=[1, 1, 1, 0], outer=[True] * 4))
    assert alone.inner == alone.forward == pytest.approx(3 / 4)


def test_support_is_counted_room_by_room() -> None:
    fit = fit_of(
        [0.0] * 6,
        quality=[1, 1, 0, 1, 1, 1],
        room=[0, 0, 1, 1, 2, 2],
        shown=[1, 1, 1, 1, 0.2, 0.2],
    )
    found = weighed(fit, rooms=4)
    np.testing.assert_allclose(found.room_support[:2], [1.0, 0.5])
    # Too little of the third is shown to say anything; of the fourth there is nothing at all.
    assert np.isnan(found.room_support[2:]).all()
    np.testing.assert_allclose(found.room_shown, [1, 1, 0.2, 0])


def test_scatter_is_a_root_mean_square_of_what_counts() -> None:
    fit = fit_of([0.3, -0.4, 9.0, 0.0], quality=[1, 1, 1, 0])
    assert weighed(fit).scatter == pytest.approx(np.sqrt((0.09 + 0.16) / 2))
    assert np.isnan(weighed(fit_of([0.0, 0.0], quality=0.0)).scatter)


def test_the_figure_to_rank_by_falls_with_each_part() -> None:
    fit = fit_of([0.0] * 4)
    scores = Scores(*(np.ones(1),) * 4)
    best = judge.weigh(fit, scores, 0, (1.0, 1.0), 1, 1.0).total
    assert best == pytest.approx(1.0)
    less = [
        judge.weigh(fit_of([1.0] * 4), scores, 0, (1.0, 1.0), 1, 1.0),
        judge.weigh(fit, scores, 0, (0.5, 1.0), 1, 1.0),
        judge.weigh(fit, scores, 0, (1.0, 0.5), 1, 1.0),
        judge.weigh(fit, Scores(*(np.ones(1),) * 3, 0.5 * np.ones(1)), 0, (1.0, 1.0), 1, 1.0),
    ]
    assert all(evidence.total < 0.8 * best for evidence in less)


# --- confidence ----------------------------------------------------------------------------------


def test_good_evidence_is_trusted() -> None:
    assert 0.97 < sure(GOOD) < 1.0


def test_one_room_and_parallel_walls_are_never_more_than_a_guess() -> None:
    best = replace(GOOD, forward=1.0, inner=1.0, excess=1.0, backward=1.0, captured=1.0)
    assert sure(best, rooms=1) <= 0.5
    # Two rooms alike may be others, unless the picture shows nothing else.
    assert sure(replace(best, captured=0.4), rooms=2) < 0.9
    assert sure(best, rooms=2) > 0.9
    assert sure(best, crossed=False) <= 0.5
    assert sure(best, rooms=1, crossed=False, lines=30.0) <= 0.5


@pytest.mark.parametrize("rooms", [1, 2])
def test_one_room_of_many_bends_is_like_no_other(rooms: int) -> None:
    """A lawn: of one piece or two, and its border has dozens of directions."""
    best = replace(GOOD, forward=1.0, inner=1.0, excess=1.0, backward=1.0, captured=0.4)
    said = [sure(best, rooms=rooms, lines=lines) for lines in (4.0, 7.0, 9.0, 10.0, 12.0, 30.0)]
    assert said[0] == said[1] < 0.9
    assert said == sorted(said)
    assert said[-1] == said[-2] > 0.9


@pytest.mark.parametrize("value", [0.0, 1.0])
@pytest.mark.parametrize("support", [0.0, 1.0, np.nan])
def test_confidence_is_a_probability(value: float, support: float) -> None:
    extreme = Evidence(
        *(value,) * 8,
        np.full(6, support),
        np.full(6, value),
        1.0 - value,
        9.0 * value,
        40.0 * value,
        2.0 * value,
        *(value,) * 3,
        np.nan,
        value,
        value,
        value,
    )
    for rival in (0.0, 1.0):
        for rooms in (1, 2, 500):
            assert 0.0 <= sure(extreme, rival=rival, rooms=rooms) <= 1.0
    if value == 0.0 and support == 0.0:
        assert sure(extreme) < 0.05


def weaker(name: str, share: float) -> Evidence:
    if name == "rooms":
        supported = np.where(np.arange(6) < round(6 * share), 0.9, 0.05)
        return replace(GOOD, room_support=supported)
    return replace(GOOD, **{name: share * getattr(GOOD, name)})


PARTS = ["forward", "inner", "excess", "backward", "captured", "shown", "rooms"]


def test_walls_that_stand_no_more_sharply_than_chance_are_not_sure_beside_other_marks() -> None:
    few = replace(GOOD, surprise=5.0, backward=0.5)
    said = [sure(replace(few, sharpness=nats)) for nats in (-1.0, 0.1, 0.3, 0.5, 2.0)]
    assert said[0] == said[1] == 0.5 < said[2] < 0.9 < said[3] == said[4]
    # Of hundreds of walls the small say of each adds up.
    assert sure(replace(few, sharpness=0.1, surprise=100.0)) > 0.9


def test_chances_of_being_a_few_pixels_off_are_told_apart() -> None:
    assert near_misses(0.0, 0.05, 0.05, 2.0, (0.0, 0.0)) == []
    blur, off, elsewhere = near_misses(3.25, 0.31, 0.22, 2.0, (0.0, 0.0))
    assert "3.2 px away" in blur
    assert "31 % of being more than 2 px off" in off
    assert "22 %" in elsewhere
    assert "other lines" in elsewhere


def test_rooms_of_a_few_pixels_are_told_from_other_marks_with_doubt_only() -> None:
    said = [sure(replace(GOOD, room_px=width)) for width in (3.0, 5.0, 8.0, 20.0)]
    assert said[0] == 0.0 < said[1] < 0.5 < 0.9 < said[2] == said[3]
    (why,) = doubts(replace(GOOD, room_px=5.0), NO_RIVAL, 6, 0, 0.995)
    assert "5 px wide" in why
    assert "larger picture" in why


@pytest.mark.parametrize("name", PARTS)
def test_every_sign_has_a_veto(name: str) -> None:
    """However good all other signs are: where one of them is as good as missing, the fit is no
    longer one to rely on, and it never becomes surer as the sign gets weaker."""
    steps = [sure(weaker(name, share)) for share in (1.0, 0.5, 0.25, 0.05)]
    assert steps == sorted(steps, reverse=True)
    assert steps[-1] < 0.9


def test_a_rival_that_is_as_good_is_a_veto_too() -> None:
    steps = [sure(GOOD, rival=rival) for rival in (0.35, 0.6, 0.8, 0.9)]
    assert steps == sorted(steps, reverse=True)
    assert steps[-1] < 0.9


# --- words ---------------------------------------------------------------------------------------


def said(evidence: Evidence, *, rival: float = 0.4, rooms: int = 6, alternatives: int = 0) -> str:
    most = at_most(evidence, rooms, True, 5.0)
    return "; ".join(doubts(evidence, rival, rooms, alternatives, most))


def test_reasons_name_what_is_weak_and_what_helps() -> None:
    assert said(GOOD) == ""
    assert "3 other position(s)" in said(GOOD, alternatives=3)
    assert "tie point" in said(GOOD, alternatives=3)
    assert "80 % as well" in said(GOOD, rival=0.8)
    support = np.array([0.9, 0.9, 0.9, 0.1, 0.1, np.nan])
    text = said(replace(GOOD, forward=0.41, room_support=support))
    assert "41 %" in text
    assert "2 of 5 rooms" in text
    assert "22 %" in said(replace(GOOD, backward=0.22))
    assert "35 %" in said(replace(GOOD, shown=0.35))
    assert "1 room(s) alone" in said(GOOD, rooms=1)


@pytest.mark.parametrize(
    ("support", "expected"),
    [
        ([1.0, 0.9, 0.5, 0.3, 0.0, np.nan], [True, True, True, False, False, False]),
        # A pale picture: no border is clear, and one room has none at all.
        ([0.3, 0.3, 0.25, 0.2, 0.05], [True, True, True, True, False]),
        # What any line gives confirms nothing.
        ([0.1, 0.05, 0.1], [False, False, False]),
        ([], []),
    ],
)
def test_rooms_agree_where_most_of_their_walls_do(
    support: list[float], expected: list[bool]
) -> None:
    assert judge.agreeing(np.array(support)).tolist() == expected


def test_a_pose_that_print_hides_is_a_twin_and_one_that_the_picture_contradicts_is_none() -> None:
    hidden = replace(GOOD, total=0.8 * GOOD.total, forward=0.7)
    assert judge.is_twin(hidden, GOOD, False)
    assert judge.is_twin(replace(GOOD, total=0.9 * GOOD.total, absent=0.2), GOOD, False)
    far = replace(hidden, absent=0.1, excess=0.85 * GOOD.excess)
    assert not judge.is_twin(far, GOOD, False)
    # One that has all of its edges would be a smaller copy.
    assert not judge.is_twin(replace(hidden, total=0.6 * GOOD.total, excess=0.7), GOOD, False)


def test_a_room_in_a_row_that_print_hides_is_a_twin_of_the_others() -> None:
    """Its edges are all there, and half of what speaks for it is covered."""
    covered = replace(GOOD, total=0.45 * GOOD.total, absent=0.3, backward=0.8 * GOOD.backward)
    assert judge.is_twin(covered, GOOD, True)
    # Another turn or size may explain as many edges by chance.
    assert not judge.is_twin(covered, GOOD, False)
    assert not judge.is_twin(replace(covered, total=0.2 * GOOD.total), GOOD, True)
    assert not judge.is_twin(replace(covered, excess=0.85 * GOOD.excess), GOOD, True)
    assert not judge.is_twin(replace(covered, backward=0.6 * GOOD.backward), GOOD, True)


def test_a_shifted_twin_may_lack_walls_between_rooms_of_one_colour() -> None:
    lacking = replace(GOOD, total=0.7 * GOOD.total, absent=GOOD.absent + 0.2, excess=0.7)
    assert judge.is_twin(lacking, GOOD, True)
    assert not judge.is_twin(lacking, GOOD, False)
    assert not judge.is_twin(replace(lacking, total=0.6 * GOOD.total), GOOD, True)


def test_a_pose_under_which_walls_stand_much_less_sharply_is_ruled_out() -> None:
    """e^4 is odds of 55 to 1; of hundreds of nats a few are nothing."""
    fewer = 0.8 * GOOD.excess
    blunt = replace(GOOD, surprise=GOOD.surprise - 20.0, excess=fewer)
    assert judge.is_ruled_out(blunt, GOOD, False)
    assert not judge.is_ruled_out(blunt, GOOD, True)
    assert not judge.is_ruled_out(replace(blunt, excess=GOOD.excess), GOOD, False)
    assert not judge.is_ruled_out(replace(blunt, surprise=GOOD.surprise - 3.0), GOOD, False)
    for nats, less in ((400.0, 380.0), (-10.0, -13.0)):
        best, other = replace(GOOD, surprise=nats), replace(blunt, surprise=less)
        assert not judge.is_ruled_out(other, best, False)
        assert not judge.is_outdone(other, best)
    # Pixels beside the best pose as many edges lie near, and that says nothing.
    assert judge.is_outdone(replace(blunt, excess=GOOD.excess), GOOD)


def test_walls_that_the_picture_lacks_are_told() -> None:
    said = doubts(replace(GOOD, missing=0.55), NO_RIVAL, 6, 0, 0.995)
    assert any("lacks 55 % of the walls between rooms" in reason for reason in said)
    assert not doubts(GOOD, NO_RIVAL, 6, 0, 0.995)


def test_missing_walls_speak_of_another_floor_where_others_stand_in_their_stead() -> None:
    joined = replace(GOOD, missing=0.55, gone=0.55, inner=0.4, backward=0.99)
    other = replace(joined, backward=0.7)
    assert sure(other) < 0.5 < sure(joined) <= sure(GOOD)
    # A robot that has not been everywhere shows most walls clearly, or very many of them.
    assert sure(replace(other, inner=0.6)) > 0.5
    assert sure(replace(other, surprise=150.0, sharpness=1.0)) > 0.5
    assert sure(replace(other, surprise=150.0, sharpness=0.2)) < 0.5


def test_clear_rooms_beside_others_drawn_otherwise_are_another_storey() -> None:
    """Stacked storeys share their bearing walls: what is common to both stands as sharply as can
    be, and only the rooms that differ tell them apart."""
    support = np.repeat([0.9, 0.2], [20, 9])
    assert judge._denied_rooms(support, np.zeros(29)) == pytest.approx(9 / 29)
    # Where the picture is flat, it shows nothing else: a robot has not been there.
    assert judge._denied_rooms(support, np.ones(29)) == 0.0
    # Where print hides all rooms alike, none is denied.
    assert judge._denied_rooms(np.full(29, 0.3), np.zeros(29)) == 0.0
    storey = replace(GOOD, room_support=support, denied=9 / 29, excess=0.5, backward=0.82)
    assert sure(replace(storey, denied=0.0), rooms=29) > 0.9
    assert sure(storey, rooms=29) <= 0.5
    assert any(
        "9 of 29 rooms are drawn otherwise" in why for why in doubts(storey, 0.0, 29, 0, 0.995)
    )


def test_inner_walls_may_be_hidden_rather_than_missing() -> None:
    hidden = replace(GOOD, inner=0.19)
    assert sure(hidden) > 0.8
    assert sure(replace(hidden, missing=0.49, gone=0.5)) < 0.5
    assert sure(replace(hidden, inner=0.03)) < 0.1


def test_of_two_walls_between_rooms_one_alone_tells_no_storey() -> None:
    half = replace(GOOD, inner=0.45, missing=0.55, gone=0.4, backward=1.0, captured=1.0)
    assert sure(replace(half, surprise=20.0)) > 0.9
    assert sure(replace(half, surprise=7.0)) < 0.9
    # The picture shows others in place of those that are missing.
    others = replace(half, backward=0.97, captured=0.97)
    assert sure(replace(others, surprise=12.0)) < 0.9 < sure(replace(others, surprise=30.0))
    many = replace(half, missing=0.4, backward=0.8, captured=0.8, surprise=30.0)
    assert sure(many) < 0.9 < sure(replace(many, missing=0.15, gone=0.1))
    assert sure(replace(GOOD, surprise=7.0)) > 0.9


def test_a_passage_is_no_missing_wall() -> None:
    """Two walls of equal length: one with a passage in its middle, one that is not there."""
    wall = np.repeat([0, 1], 10)
    passage = np.where(np.abs(np.arange(10) - 4.5) < 2.0, 1.0, 0.0)
    flat = np.concatenate([passage, np.ones(10)])
    assert judge._lost_walls(wall, np.ones(20), flat, 0.5) == pytest.approx((0.5, 0.5))
    assert judge._lost_walls(wall[:10], np.ones(10), passage, 0.5) == (0.0, 0.0)
    # Three short walls that are gone beside a long one that is there: three of four.
    wall, weight = np.array([0, 1, 2, 3]), np.array([0.7, 0.1, 0.1, 0.1])
    gone = np.array([0.0, 1.0, 1.0, 1.0])
    assert judge._lost_walls(wall, weight, gone, 0.5) == pytest.approx((0.3, 0.75))


def test_rough_outlines_are_believed_where_walls_and_borders_are_one_to_one() -> None:
    """Walls that stand on their borders by some px only may be on the wrong ones, unless there are
    no others: each wall has one, and most borders have their wall."""
    rough = replace(GOOD, surprise=0.0, sharpness=0.0, forward=0.6, inner=0.6)
    assert sure(rough) > 0.9
    for other in (
        replace(rough, gone=0.25, missing=0.25),
        replace(rough, backward=0.5),
        replace(rough, excess=0.5),
    ):
        assert sure(other) <= 0.8


def test_print_on_some_of_very_many_rooms_makes_no_other_storey() -> None:
    """Twelve of sixty rooms are drawn otherwise; hundreds of nats speak for the walls."""
    support = np.where(np.arange(60) < 12, 0.1, 0.9)
    covered = replace(GOOD, denied=0.2, room_support=support, excess=0.5, surprise=50.0)
    few = sure(covered, rooms=60)
    many = sure(replace(covered, surprise=250.0), rooms=60)
    blunt = sure(replace(covered, surprise=250.0, sharpness=0.2), rooms=60)
    assert few == blunt <= 0.75
    assert many > 0.9


@pytest.mark.parametrize(
    ("flat", "best_flat", "left"),
    [(0.0, 0.0, 1.0), (0.05, 0.0, 1.0), (0.12, 0.0, 0.0), (0.30, 0.15, 1.0), (0.45, 0.15, 0.0)],
)
def test_a_pose_under_which_the_picture_is_flat_speaks_against_no_other(
    flat: float, best_flat: float, left: float
) -> None:
    best = replace(GOOD, absent=best_flat)
    other = replace(GOOD, absent=flat, total=0.8 * GOOD.total)
    assert judge.rivalry(other, best, False) == pytest.approx(0.8 * left)
    # Along a row of rooms print hides walls, and what is flat says nothing.
    assert judge.rivalry(other, best, True) == pytest.approx(0.8)


def test_a_smaller_copy_of_the_floor_is_another_answer_and_an_overview_is_none() -> None:
    copy = replace(GOOD, captured=0.5 * GOOD.captured, total=0.6 * GOOD.total)
    assert judge.is_twin(copy, GOOD, False)
    assert not judge.is_twin(replace(copy, captured=0.2 * GOOD.captured), GOOD, False)
    for name, share in (("excess", 0.8), ("backward", 0.8), ("surprise", 0.25)):
        weak = replace(copy, **cast(Any, {name: share * getattr(GOOD, name)}))
        assert not judge.is_twin(weak, GOOD, False)
    assert not judge.is_twin(replace(copy, absent=GOOD.absent + 0.05), GOOD, False)


def test_a_floor_drawn_twice_is_told_as_two() -> None:
    """Twice beside each other, the second time at two thirds of the size."""
    sample = synthetic.sample("flat", 611)
    small = cv2.resize(sample.image, None, fx=0.66, fy=0.66, interpolation=cv2.INTER_AREA)
    high, wide = sample.image.shape[:2]
    both = np.full((high, wide + small.shape[1], 3), sample.image[0, 0], np.uint8)
    both[:, :wide] = sample.image
    both[: len(small), wide:] = small
    alone, fit = quietly(sample.image, sample.outlines), quietly(both, sample.outlines)
    assert alone.confidence >= 0.9
    assert len(fit.alternatives) == 1
    assert fit.confidence <= 0.5
    sizes = sorted(found.unit_per_px / alone.unit_per_px for found in (fit, *fit.alternatives))
    assert sizes == pytest.approx([1.0, 1.0 / 0.66], rel=0.01)


def test_a_floor_that_is_nearly_symmetric_is_told_from_its_image() -> None:
    """Three rooms, of which one wall alone is not where its mirror image would be."""
    rooms = {"Nave": (0.0, 0.0, 8e3, 6e3), "Vestry": (8e3, 0.0, 11e3, 3e3)}
    rooms["Tower"] = (-3e3, 0.0, 0.0, 2.2e3)
    image = np.full((420, 760, 3), 245, np.uint8)
    for number, (left, low, right, high) in enumerate(rooms.values()):
        corner, other = (int((x + 4e3) / 20) for x in (left, right))
        image[400 - int(high / 20) : 400 - int(low / 20), corner:other] = (
            150 + 30 * number,
            190,
            170,
        )
    outlines = {
        name: [(left, low), (right, low), (right, high), (left, high)]
        for name, (left, low, right, high) in rooms.items()
    }
    fit = quietly(image, outlines)
    assert not fit.mirrored
    assert not fit.alternatives
    assert fit.confidence >= 0.9


def test_a_room_lacks_the_longest_wall_that_stands_on_no_border() -> None:
    """Two rooms of two walls each; of the second room one wall has a border along a fifth."""
    wall, room = np.repeat([0, 1, 2, 3], 5), np.repeat([0, 1], 10)
    quality = np.where((wall != 3) | (np.arange(20) == 15), 0.9, 0.0)
    fit = cast(
        Fit,
        SimpleNamespace(
            chunks=SimpleNamespace(weight=np.ones(20), wall=wall, room=room),
            shown=np.ones(20),
            quality=quality,
        ),
    )
    assert judge.rooms_unmet(fit, 3).tolist() == [0.0, 0.5, 0.0]
    # The same in five pieces, as about a shelf.
    fit.chunks.wall[15:] = np.arange(3, 8)
    assert judge.rooms_unmet(fit, 3) == pytest.approx([0.0, 0.1, 0.0])


def test_a_clear_border_that_does_not_end_the_room_is_a_far_face() -> None:
    """Four walls: on their borders, on a far face, on nothing, and on one along half of it."""
    wall = np.repeat([0, 1, 2, 3], 10)
    quality = np.repeat([0.9, 0.1, 0.0, 0.9], 10)
    quality[30:35] = 0.1
    chunks = SimpleNamespace(weight=np.ones(40), wall=wall)
    fit = cast(Fit, SimpleNamespace(chunks=chunks, shown=np.ones(40), quality=quality))
    assert judge.on_far_faces(fit).tolist() == [False] * 4
    # Three walls more that are on their borders, and most are.
    chunks = SimpleNamespace(weight=np.ones(70), wall=np.repeat(np.arange(7), 10))
    quality = np.concatenate([quality, np.full(30, 0.9)])
    fit = cast(Fit, SimpleNamespace(chunks=chunks, shown=np.ones(70), quality=quality))
    assert judge.on_far_faces(fit).tolist() == [False, True] + [False] * 5
