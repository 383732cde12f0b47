"""What the confidence makes of evidence, whatever its constants are."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.special import logit

from regmap.engine import calibration, confidence
from regmap.engine.judge import WORTH, Evidence
from tests.engine.test_judge import GOOD, NO_RIVAL

SHARE = st.floats(0.0, 1.0)
BETTER = {
    "forward": 1.0, "inner": 1.0, "missing": -1.0, "gone": -1.0, "excess": 1.0, "denied": -1.0,
    "unmet": -1.0, "unmet_inner": -1.0,
    "room_px": 100.0, "surprise": 300.0, "sharpness": 3.0, "backward": 1.0, "captured": 1.0,
    "shown": 1.0,
}  # fmt: skip
"""Which way each kind of evidence speaks for a fit, and how much of it there may be."""

BLUNT = replace(GOOD, sharpness=0.1, surprise=5.0)
"""Of walls that stand no more sharply than on any line, all of which have borders."""

PERFECT = replace(GOOD, forward=1.0, inner=1.0, excess=1.0, backward=1.0, captured=1.0)


@st.composite
def evidence(draw: st.DrawFn) -> Evidence:
    """Any evidence, the strange included."""
    drawn: dict[str, Any] = {name: draw(SHARE) * abs(most) for name, most in BETTER.items()}
    drawn["surprise"] -= draw(SHARE) * 300.0
    drawn["sharpness"] -= draw(SHARE) * 2.0
    support = draw(st.lists(SHARE | st.just(np.nan), min_size=1, max_size=12))
    return replace(GOOD, **drawn, room_support=np.array(support))


@settings(max_examples=400, deadline=None)
@given(evidence(), st.sampled_from(sorted(BETTER)), SHARE, SHARE)
@example(BLUNT, "gone", NO_RIVAL, 0.5)
@example(BLUNT, "missing", NO_RIVAL, 0.5)
@example(replace(GOOD, shown=0.2), "shown", NO_RIVAL, 0.5)
def test_better_evidence_is_never_vetoed_more(
    given_: Evidence, name: str, rival: float, by: float
) -> None:
    more: Any = getattr(given_, name) + by * BETTER[name]
    if abs(BETTER[name]) == 1.0:
        more = float(np.clip(more, 0.0, 1.0))
    better = replace(given_, **{name: more})
    for admits in (confidence.veto, lambda some: confidence.told_apart(some, rival)):
        worse, said = admits(given_), admits(better)
        assert 0.0 <= worse <= said + 1e-12
        assert said <= 1.0


@settings(max_examples=100, deadline=None)
@given(evidence(), SHARE, SHARE)
def test_a_rival_that_is_nearer_vetoes_more(given_: Evidence, one: float, other: float) -> None:
    far, near = sorted((one, other))
    assert confidence.told_apart(given_, near) <= confidence.told_apart(given_, far)


@settings(max_examples=100, deadline=None)
@given(evidence(), SHARE, st.integers(1, 40), st.booleans(), st.floats(0.0, 50.0))
@example(PERFECT, NO_RIVAL, 6, True, 12.0)
def test_the_weakest_sign_decides(
    given_: Evidence, rival: float, rooms: int, crossed: bool, lines: float
) -> None:
    most = confidence.at_most(given_, rooms, crossed, lines)
    found = confidence.confidence(given_, rival, most, lines)
    # What says much is told as more.
    weakest = float(np.interp(confidence.veto(given_), *confidence._SURER))
    admitted = max(weakest, confidence.every_wall(given_, lines))
    assert 0.0 <= found <= min(admitted, confidence.told_apart(given_, rival), most)
    assert 0.45 <= most <= 0.995
    if (rooms == 1 and lines < 7.0) or not crossed:
        assert most == 0.5


def test_a_floor_of_which_every_wall_has_its_border_may_be_full_of_other_marks() -> None:
    marked = replace(GOOD, backward=0.13, captured=0.12)
    most = confidence.at_most(marked, 5, True, 12.0)
    assert confidence.veto(marked) < 0.6
    assert confidence.confidence(marked, 0.0, most, 12.0) >= 0.9
    # A rival as good, a small part of the floor, or rooms of a few pixels are doubts all the same.
    assert confidence.confidence(marked, 0.95, most, 12.0) < 0.5
    for doubt in ({"shown": 0.15}, {"room_px": 4.0}):
        assert confidence.confidence(replace(marked, **cast(Any, doubt)), 0.0, most, 12.0) < 0.5
    for lack in ({"missing": 0.2}, {"absent": 0.15}, {"excess": 0.55}, {"surprise": 5.0}):
        assert confidence.every_wall(replace(marked, **cast(Any, lack)), 12.0) == 0.0
    two = replace(marked, room_support=np.array([0.9, 0.9, np.nan]))
    assert confidence.every_wall(two, 12.0) == 0.0
    # But the bends of a lawn are like no other's.
    assert confidence.every_wall(two, 30.0) == 1.0
    assert confidence.every_wall(replace(two, excess=0.6), 30.0) == 0.0
    # Of very many, stains on a third of the border leave enough, of however many lawns.
    for lawns in (two, marked):
        stained = replace(lawns, absent=0.35, surprise=3.0, excess=0.75)
        assert confidence.every_wall(stained, 30.0) == 0.0
        assert confidence.every_wall(stained, 100.0) == 1.0
        assert confidence.every_wall(replace(stained, excess=0.6), 100.0) == 0.0


def test_what_says_much_of_three_rooms_is_told_as_more_and_little_as_it_is() -> None:
    weak = replace(GOOD, forward=0.5, inner=0.6, excess=0.5, backward=0.6, missing=0.05)
    said, told = [], []
    for shown in np.linspace(0.3, 1.0, 8):
        some = replace(weak, shown=float(shown))
        two = replace(some, room_support=some.room_support[:2], excess=some.excess)
        standard = (confidence.signs(some, 0.0) - calibration.MEAN) / calibration.SPREAD
        score = standard @ calibration.WEIGHT + calibration.BIAS
        said.append(min(1.0 / (1.0 + np.exp(-score)), confidence.veto(some)))
        told.append(confidence.confidence(some, 0.0, 0.999, 12.0))
        assert confidence.confidence(two, 0.0, 0.999, 12.0) <= confidence.veto(two)
    assert told == sorted(told)
    for before, after in zip(said, told, strict=True):
        assert before - 1e-9 <= after <= before + 0.1
        assert after == pytest.approx(before) or before > 0.7


def test_signs_by_hand() -> None:
    some = replace(
        GOOD, missing=0.16, backward=0.75, captured=0.49, surprise=36.0,
        room_support=np.array([0.9, 0.9, 0.9, 0.1, np.nan]),
    )  # fmt: skip
    told = dict(zip(confidence.SIGNS, confidence.signs(some, 0.6), strict=True))
    assert told["contradicted"] == pytest.approx(0.2)  # sqrt(0.16 * 0.25)
    assert told["captured"] == pytest.approx(0.7)
    assert told["surprise"] == pytest.approx(6.0)
    assert told["rooms"] == pytest.approx(np.log(4))
    assert told["agreeing"] == pytest.approx(0.75)
    assert told["weak_rooms"] == pytest.approx(0.7)  # 3/4 of the way from 0.1 to 0.9
    assert told["rival"] == 0.6
    assert dict(zip(confidence.SIGNS, confidence.signs(some, 0.1), strict=True))["rival"] == WORTH
    nothing = replace(some, room_support=np.full(3, np.nan), surprise=-5.0)
    told = dict(zip(confidence.SIGNS, confidence.signs(nothing, 0.6), strict=True))
    assert told["rooms"] == told["agreeing"] == told["weak_rooms"] == told["surprise"] == 0.0


@pytest.mark.parametrize("name", ["forward", "inner", "excess", "backward"])
def test_log_odds_add_up_sign_by_sign(name: str) -> None:
    """A logistic regression: what one sign adds to the log-odds, the others leave alone."""
    weak = replace(GOOD, forward=0.5, inner=0.6, excess=0.5, backward=0.6, missing=0.05)
    added = []
    for other in (weak, replace(weak, shown=0.8)):
        fits = [other, replace(other, **{name: getattr(other, name) - 0.05})]
        found = [confidence.confidence(fit, NO_RIVAL, 0.999, 12.0) for fit in fits]
        # What says much is told as more.
        found = np.interp(found, *confidence._SURER[::-1]).tolist()
        least = min(confidence.veto(fit) for fit in fits)
        assert 0.01 < min(found) < max(found) < min(least, 0.995)
        added.append(logit(found[0]) - logit(found[1]))
    assert added[0] == pytest.approx(added[1], rel=1e-6)
    told = [confidence.signs(fit, NO_RIVAL) for fit in fits]
    steps = (told[0] - told[1]) * calibration.WEIGHT / calibration.SPREAD
    assert added[0] == pytest.approx(steps.sum(), rel=1e-6)


@pytest.mark.parametrize(
    ("beside", "rooms", "least", "most"),
    [(0, 9, 0.0, 0.0), (2, 4, 0.0, 0.0), (3, 9, 1.0, 1.0), (3, 100, 0.0, 0.0), (30, 100, 1.0, 1.0)],
)
def test_two_rooms_share_a_wall_and_three_do_not(
    beside: int, rooms: int, least: float, most: float
) -> None:
    assert least <= confidence.bent(beside, rooms) <= most


def test_the_nearer_a_rival_is_the_less_is_left_and_at_last_nothing() -> None:
    said = [
        confidence.told_apart(PERFECT, rival) for rival in (0.0, 0.72, 0.8, 0.9, 0.95, 0.99, 1.0)
    ]
    assert said == sorted(said, reverse=True)
    assert said[0] == said[1] == 1.0
    assert said[-2] > 0.0 == said[-1]


def test_walls_that_are_gone_where_no_others_stand_say_nothing() -> None:
    """Rooms were joined, or have one colour: without a wall in its stead a missing one is none."""
    joined = replace(PERFECT, gone=0.5, inner=0.41, surprise=0.0, sharpness=0.5)
    assert confidence.veto(joined) == confidence.veto(replace(joined, gone=0.0))
    other = replace(joined, backward=0.8)
    assert confidence.veto(other) < 0.5
    # A few are hidden on any picture, however much else is drawn there.
    assert confidence.veto(replace(joined, backward=0.3, gone=0.15)) == 1.0


def test_one_room_or_two_drawn_otherwise_are_no_other_storey() -> None:
    """However large a share of the floor they are: furniture, or a room that was rebuilt."""
    said = []
    for rooms in (4, 8, 12, 16, 40):
        storey = replace(PERFECT, room_support=np.full(rooms, 0.9), denied=0.25, excess=0.5)
        said.append(confidence.veto(storey))
    assert said[0] == said[1] == 1.0 > said[2] > said[3] == said[4] == 0.5


def test_a_floor_may_be_a_small_part_of_its_picture() -> None:
    """Beside it are buttons and a legend: an eighth of what the picture shows is enough, and of
    what is hardly any part of it nothing is believed."""
    said = [
        confidence.veto(replace(PERFECT, captured=part))
        for part in (0.01, 0.02, 0.05, 0.10, 0.125, 0.5)
    ]
    assert said == sorted(said)
    assert said[0] == said[1] == 0.0 < said[2] < said[3] < said[4] == said[5] == 1.0


def test_walls_across_rooms_and_none_where_they_should_be_are_another_storey() -> None:
    """Either alone is furniture, or a wall that print hides; and of a floor of which all else is
    seen neither says anything."""
    storey = replace(GOOD, unmet_inner=0.4, surprise=5.0, absent=0.05)
    half = np.array([True, True, True, False, False, False])
    assert confidence.other_storey(storey, half, 5.0) == 1.0
    assert confidence.told_apart(storey, NO_RIVAL, 1.0) < 0.5
    assert confidence.confidence(storey, NO_RIVAL, 0.995, 5.0, 1.0) < 0.5
    for other, cut in (
        (replace(storey, unmet_inner=0.34), half & (np.arange(6) == 0)),
        (replace(storey, unmet_inner=0.1), half),
        (replace(storey, surprise=40.0), half),
        (replace(storey, surprise=13.0, absent=0.01), half),
    ):
        assert confidence.other_storey(other, cut, 5.0) == 0.0
    # That half of them stand nowhere is a doubt by itself, unless very many others do.
    none = np.zeros(6, dtype=bool)
    lacking = replace(storey, unmet_inner=0.5, surprise=20.0, absent=0.2)
    assert confidence.told_apart(lacking, 0.0, confidence.other_storey(lacking, none, 5.0)) < 0.8
    assert confidence.other_storey(replace(lacking, surprise=45.0), none, 5.0) == 0.0
    storey = replace(storey, unmet_inner=0.35)
    said = [
        confidence.other_storey(storey, np.arange(20) < count, 5.0) for count in (4, 5, 6, 7, 8)
    ]
    assert said[0] == 0.0 < said[1] < said[2] < said[3] < said[4] == 1.0


def test_of_two_rooms_all_walls_must_be_there() -> None:
    two = replace(GOOD, room_support=np.array([0.9, 0.9]))
    said = [
        confidence.at_most(replace(two, unmet=share), 2, True, 20.0)
        for share in (0.0, 0.10, 0.14, 0.18, 0.5)
    ]
    assert said[0] == said[1] > 0.99 > 0.9 > said[2] > 0.5 > said[3] == said[4]
    # Of more rooms others speak.
    assert confidence.at_most(replace(GOOD, unmet=0.5), 3, True, 20.0) == 0.995
