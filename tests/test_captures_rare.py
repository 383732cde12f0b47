"""Spellings that come seldom, each of which has a rule of its own."""

from __future__ import annotations

import json

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import list_candidates, parse_outlines

HALL = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
BATH = [[4000, 0], [6500, 0], [6500, 2000], [4000, 2000]]


def corners(text: str) -> dict[str, list[list[float]]]:
    found = parse_outlines(text)
    return {name: [list(p) for p in room.exterior.coords[:-1]] for name, room in found.items()}


def test_points_in_brackets_may_bring_the_number_of_their_room() -> None:
    told = [f"[{room}, {x}, {y}]" for room, ring in ((3, HALL), (8, BATH)) for x, y in ring]
    assert [*corners(" ".join(told)).values()] == [HALL, BATH]


def test_of_points_in_brackets_some_may_bring_a_height() -> None:
    assert [*corners("rim: (0, 0, 25) (4000, 0) (4000, 3000, 25) (0, 3000)").values()] == [HALL]


def test_numbers_in_brackets_may_be_broken_anywhere() -> None:
    text = "{hall: [0 0 4000\n 0 4000 3000 0\n 3000], bath: [4000 0\n 6500 0 6500 2000 4000 2000]}"
    assert corners(text) == {"hall": HALL, "bath": BATH}


def test_things_with_marks_and_two_numbers_are_no_points() -> None:
    """Their marks do not count, as those of corners would."""
    things = [
        {"id": name, "p": low, "q": low + low % 7}
        for name, low in (("s7", 10), ("q2", 30), ("k9", 5), ("m1", 70))
    ]
    text = json.dumps({"limits": things, "rooms": {"hall": HALL, "bath": BATH}})
    assert corners(text) == {"hall": HALL, "bath": BATH}
    with pytest.raises(OutlineError, match="no room outlines"):
        parse_outlines(json.dumps({"limits": things}))
    assert not list_candidates(json.dumps({"limits": things}))


def test_a_quoted_text_that_goes_on_in_another() -> None:
    """As in C and in Python: they are one text."""
    hall = '"0,0 4000,0 "\n         "4000,3000 0,3000"'
    bath = '"4000,0 6500,0 "\n"6500,2000 4000,2000"'
    text = f'{{"hall": {hall}, "bath": {bath}}}'
    assert corners(text) == {"hall": HALL, "bath": BATH}


def test_corners_of_two_rooms_in_turn() -> None:
    told = [
        {"room": room, "x": x, "y": y}
        for pair in zip(HALL, BATH, strict=True)
        for room, (x, y) in zip(("hall", "bath"), pair, strict=True)
    ]
    assert corners(json.dumps(told)) == {"hall": HALL, "bath": BATH}


def test_a_cell_that_is_too_long_for_a_table() -> None:
    rows = "".join(f"hall;{x};{y}\n" for x, y in HALL)
    assert corners(f"room;x;y\n{rows}") == {"hall": HALL}
    noise = '"' + "q" * 200_000 + '";1;2\n'
    assert corners(f"room;x;y\n{rows}\n{noise}") == {"hall": HALL}


@pytest.mark.parametrize("stamp", ["2031-02-31 10:00:00", "2031-04-05 25:61:00", "99:99:99"])
def test_times_that_there_are_not_are_no_times(stamp: str) -> None:
    lines = [f"{stamp} {json.dumps({'hall': HALL})}", f"{stamp} {json.dumps({'bath': BATH})}"]
    assert set(corners("\n".join(lines))) <= {"hall", "bath"}


@pytest.mark.parametrize("opens", ["[", '{"a":'])
@pytest.mark.parametrize("depth", [30, 37, 38, 39, 40, 41, 45, 150])
def test_what_lies_too_deep_is_read_whole_or_not_at_all(opens: str, depth: int) -> None:
    """Not without its brackets, which leave three of the four corners."""
    rooms = json.dumps({"hall": HALL, "bath": BATH})
    text = opens * depth + rooms + ("]" if opens == "[" else "}") * depth
    if depth < 39:
        assert corners(text) == {"hall": HALL, "bath": BATH}
    else:
        with pytest.raises(OutlineError, match="no room outlines"):
            parse_outlines(text)
    assert corners(f"{'[' * depth}7{']' * depth}\n{rooms}") == {"hall": HALL, "bath": BATH}
