"""What is said of a fit: never less than what keeps it down, nothing of what does not matter."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from regmap.engine import judge
from regmap.engine.doubts import doubts, lost_walls, near_misses, other_storey, strained, unclear
from regmap.engine.judge import Evidence
from regmap.engine.strain import Strain
from tests.engine.test_judge import GOOD, NO_RIVAL, sure


def weak(name: str, value: float) -> Evidence:
    change: dict[str, Any] = {name: value}
    return replace(GOOD, **change)


def of_rooms(weak_rooms: int, rooms: int) -> Evidence:
    """So many of the rooms have a border here and there only."""
    support = np.where(np.arange(rooms) < weak_rooms, 0.3, 0.9)
    return replace(GOOD, room_support=support, room_shown=np.ones(rooms))


@pytest.mark.parametrize("name", ["forward", "backward", "shown"])
def test_a_sign_that_takes_the_confidence_is_named_before_it_does(name: str) -> None:
    """And the figure in the text is the sign's own."""
    said = []
    for percent in range(90, 0, -1):
        reasons = doubts(weak(name, percent / 100), NO_RIVAL, 6, 0, 0.995)
        said.append(len(reasons))
        if reasons:
            assert f"only {percent} %" in reasons[0]
        else:
            assert sure(weak(name, percent / 100)) > 0.9
    # Once it is said, it stays said.
    assert said == sorted(said)
    assert said[-1] == 1


def test_a_rival_is_named_before_it_takes_the_confidence() -> None:
    for percent in range(35, 101):
        reasons = doubts(GOOD, percent / 100, 6, 0, 0.995)
        if percent / 100 > judge.TOLD:
            assert f"{percent} % as well" in reasons[0]
        if not reasons:
            assert sure(GOOD, rival=percent / 100) > 0.9


USUAL: dict[str, Callable[[], Evidence]] = {
    "a third of the outlines is hidden by furniture": lambda: weak("forward", 0.67),
    "half of what is drawn in the rooms is furniture": lambda: weak("backward", 0.5),
    "a fifth of the floor is cut off": lambda: weak("shown", 0.8),
    "one room in five has no clear border": lambda: of_rooms(2, 10),
    "one wall in ten is not drawn": lambda: replace(GOOD, missing=0.1, gone=0.1),
    "a room of a score is drawn otherwise": lambda: weak("denied", 0.05),
    "rooms are a dozen pixels wide": lambda: weak("room_px", 12.0),
}
TELLING: dict[str, tuple[Callable[[], Evidence], str]] = {
    "half of the outlines is on no edge": (lambda: weak("forward", 0.5), "only 50 % of the outl"),
    "a third of the rooms is not clear": (lambda: of_rooms(3, 9), "3 of 9 rooms are not confirmed"),
    "three walls in ten are missing": (lambda: weak("missing", 0.3), "lacks 30 % of the walls"),
    "most walls are missing": (lambda: weak("missing", 0.8), "lacks 80 % of the walls"),
    "three short walls in ten are missing": (lambda: weak("gone", 0.3), "lacks 30 % of the walls"),
    "a third of the drawing is explained": (lambda: weak("backward", 0.33), "explain only 33 %"),
    "half the floor is cut off": (lambda: weak("shown", 0.5), "only 50 % of the outlines lie ins"),
    "rooms are a few pixels wide": (lambda: weak("room_px", 6.0), "6 px wide"),
}


@pytest.mark.parametrize("name", USUAL)
def test_of_what_is_usual_nothing_is_said(name: str) -> None:
    evidence = USUAL[name]()
    assert doubts(evidence, NO_RIVAL, 10, 0, 0.995) == []
    assert sure(evidence) > 0.9


@pytest.mark.parametrize("name", TELLING)
def test_what_is_out_of_the_ordinary_is_said_alone(name: str) -> None:
    evidence, text = TELLING[name]
    (said,) = doubts(evidence(), NO_RIVAL, 10, 0, 0.995)
    assert text in said


def test_rooms_drawn_otherwise_are_counted_and_few_of_them_are_chance() -> None:
    """Two rooms may have been rebuilt; of three in a dozen another storey is likelier."""
    storey = replace(GOOD, room_support=np.full(12, 0.9), room_shown=np.ones(12))
    assert doubts(replace(storey, denied=2 / 12), NO_RIVAL, 12, 0, 0.995) == []
    (said,) = doubts(replace(storey, denied=3 / 12), NO_RIVAL, 12, 0, 0.995)
    assert "3 of 12 rooms are drawn otherwise" in said
    # Three of forty are no storey of their own.
    large = replace(storey, room_support=np.full(40, 0.9), denied=3 / 40)
    assert doubts(large, NO_RIVAL, 40, 0, 0.995) == []


def test_without_a_room_that_is_seen_something_is_said_all_the_same() -> None:
    unseen = replace(GOOD, forward=0.0, room_support=np.full(4, np.nan), shown=0.0)
    said = doubts(unseen, NO_RIVAL, 4, 0, 0.995)
    assert "only 0 % of the outlines" in said[0]
    assert "rooms are not confirmed" not in said[0]
    assert "0 % of the outlines lie inside" in said[1]


@pytest.mark.parametrize("rooms", [1, 2, 3, 50])
def test_one_room_or_two_are_named_as_too_few_unless_they_are_like_no_others(rooms: int) -> None:
    few = [f"{rooms} room(s) alone can be laid on most pictures somewhere"]
    assert doubts(GOOD, NO_RIVAL, rooms, 0, 0.9) == (few if rooms < 3 else [])
    assert doubts(GOOD, NO_RIVAL, rooms, 0, 0.995) == []


def test_alternatives_are_counted_and_no_rival_is_told_beside_them() -> None:
    (said,) = doubts(GOOD, 1.0, 6, 2, 0.995)
    assert said.startswith("2 other position(s)")
    (one,) = doubts(GOOD, 1.0, 6, 1, 0.995)
    assert one.startswith("1 other position(s)")


@pytest.mark.parametrize("place", [0, 1])
def test_a_chance_to_be_off_is_told_from_one_in_twenty_on(place: int) -> None:
    """One in twenty is what a CE95 leaves, too."""
    for percent in range(101):
        off, elsewhere = (percent / 100, 0.0) if place == 0 else (0.0, percent / 100)
        said = near_misses(0.0, off, elsewhere, 2.0, (0.0, 0.0))
        assert len(said) == (percent > 5)
        if said:
            assert re.findall(r"(\d+) %", said[0]) == [str(percent)]


def test_a_second_place_is_told_however_near_it_is() -> None:
    (said,) = near_misses(0.04, 0.0, 0.0, 2.0, (0.0, 0.0))
    assert "0.0 px away" in said
    (said,) = near_misses(0.6, 0.0, 0.0, 2.0, (0.0, 0.0))
    assert "0.6 px away" in said


@pytest.mark.parametrize(("sure", "said"), [(0.0, False), (0.05, False), (0.1, True), (1.0, True)])
def test_a_floor_that_no_one_move_lays_is_told_with_its_remedy(sure: float, said: bool) -> None:
    apart = strained(Strain(sure, 7.3, 4.0, stretched=False))
    longer = strained(Strain(sure, 7.3, 4.0, stretched=True))
    assert bool(apart) is bool(longer) is said
    if said:
        assert "7 px beside" in apart[0]
        assert "of the same day" in apart[0]
        assert "7 px" in longer[0]
        assert 'model="affine"' in longer[0]


def test_who_gave_a_tie_point_is_not_asked_for_one() -> None:
    assert "tie point" in unclear(tied=False)
    assert "tie point" not in unclear(tied=True)
    for tied in (True, False):
        assert unclear(tied=tied).endswith("would help")


def test_rooms_across_which_walls_stand_are_named_where_there_are_any() -> None:
    cut = np.array([False, True, False])
    (said,) = other_storey(["hall", "attic", "shed"], cut, 0.5)
    assert "across attic," in said
    assert "storey" in said
    (said,) = other_storey(["hall", "attic", "shed"], cut & False, 0.4)
    assert "across" not in said
    assert "storey" in said
    assert other_storey(["hall", "attic", "shed"], cut, 0.0) == []


def test_the_rooms_are_named_whose_walls_are_nowhere() -> None:
    names = ["hall", "attic", "shed", "barn", "loft", "bay"]
    nothing = np.zeros(6, dtype=bool)
    unmet = np.array([0.0, 0.3, 0.15, 0.1, 0.0, 0.0])
    (said,) = lost_walls(names, unmet, nothing)
    assert "walls of attic, shed are not" in said
    # What stands beside is told as that, and where most are missing no room is named.
    (said,) = lost_walls(names, unmet, np.array(names) == "shed")
    assert "walls of attic are not" in said
    assert lost_walls(names, np.full(6, 0.3), nothing) == []
    assert lost_walls(names, np.zeros(6), nothing) == []
