"""Captures whose newest records stand first: turned where stamps say so, and only there."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

import pytest

from regmap.inputs.captures import list_candidates, parse_outlines
from regmap.inputs.captures.order import in_time
from tests.test_captures import LONG, ROOMS, SQUARE, same

Rings = Mapping[str, Sequence[Sequence[float]]]

OLDER = {name: [[x + 30, y] for x, y in ring] for name, ring in ROOMS.items()}
STAMPS = {
    "iso": ("2031-05-04T09:12:00Z", "2031-05-04T09:10:30Z", "2031-05-03T22:00:00Z"),
    "brackets": ("[2031-05-04 09:12:00,5]", "[2031-05-04 09:12:00,1]", "[2031-05-04 09:11:00,0]"),
    "days first": ("04.05.2031 09:12", "04.05.2031 09:10", "28.04.2031 23:10"),
    "syslog": ("May  4 09:12:00 attic", "May  4 09:10:30 attic", "Apr 30 22:00:00 attic"),
    "seconds": ("1935652320", "1935652230", "1935612000"),
    "since the start": ("[  812.04]", "[  811.90]", "[   12.00]"),
    "rank first": ("I 09:12:00.5", "W 09:10:30.5", "I 08:00:00.5"),
    "past midnight": ("00:10:00", "23:58:00", "23:50:00"),
}


def records(stamps: Sequence[str]) -> list[str]:
    """Newest first."""
    told = [
        f"plan {json.dumps({'rooms': [{'name': n, 'ring': r} for n, r in rings.items()]})}"
        for rings in (ROOMS, OLDER)
    ]
    return [f"{stamps[0]} {told[0]}", f"{stamps[1]} charge 81", f"{stamps[2]} {told[1]}"]


@pytest.mark.parametrize("stamps", STAMPS.values(), ids=STAMPS)
def test_the_newest_counts_wherever_it_stands(stamps: Sequence[str]) -> None:
    lines = records(stamps)
    for order in (lines, lines[::-1], ["# of the cellar", *lines]):
        assert same(parse_outlines("\n".join(order)), ROOMS), order
    assert {one.line for one in list_candidates("\n".join(lines)) if one.chosen} == {1}


@pytest.mark.parametrize(
    "stamps",
    [
        ("09:12:00", "09:12:00", "09:11:00"),  # a step back that may lead past midnight
        ("2031-05-04 09:12", "2031-05-05 09:10", "2031-05-04 09:00"),  # back and forth
        ("2031-05-04 09:12", "2031-05-04 09:12", "2031-05-04 09:12"),
        ("", "", ""),
    ],
)
def test_without_plain_stamps_the_last_counts(stamps: Sequence[str]) -> None:
    assert same(parse_outlines("\n".join(records(stamps))), OLDER)


def test_records_of_several_lines_are_turned_whole() -> None:
    lines = []
    for day, rings in ((4, ROOMS), (3, OLDER)):
        for at, (name, ring) in enumerate(rings.items()):
            lines.append(f"2031-05-0{day} 10:00:{59 - at} {name}")
            lines += [f"    {x}, {y}" for x, y in ring]
    assert same(parse_outlines("\n".join(lines)), ROOMS)


@pytest.mark.parametrize("onward", [False, True])
def test_records_of_one_moment(onward: bool) -> None:
    """A log that was turned as a whole, and one that was sorted by its stamps alone."""
    lines = []
    for minute, (name, ring) in enumerate([*OLDER.items(), *ROOMS.items()], 10):
        head = f"2031-05-04 10:{minute}:00"
        corners = [f"{head} {at} {x} {y}" for at, (x, y) in enumerate(ring)]
        lines.append([f"{head} start of {name}", *corners])
    turned = [line for moment in lines[::-1] for line in (moment if onward else moment[::-1])]
    straight = "\n".join(line for moment in lines for line in moment)
    assert in_time("\n".join(turned).encode()).data.decode().strip() == straight


def test_a_document_is_not_turned_line_by_line() -> None:
    lines = ["[", *(f'{{"at": "2031-05-0{day} 10:00"}},' for day in (4, 3, 2)), "]"]
    text = "\n".join(lines).encode()
    assert in_time(text).data == text


@pytest.mark.parametrize("indent", [None, 1])
@pytest.mark.parametrize(
    "stamps",
    [("2031-05-04T09:12:00+02:00", "2031-05-03T09:12:00+02:00"), (1935652320500, 1935652230000)],
)
def test_states_of_one_document(stamps: Sequence[object], indent: int | None) -> None:
    both = zip(stamps, (ROOMS, OLDER), strict=True)
    states = [
        {"when": stamp, "rooms": [{"name": n, "ring": r} for n, r in rings.items()]}
        for stamp, rings in both
    ]
    for order in (states, states[::-1]):
        assert same(parse_outlines(json.dumps({"states": order}, indent=indent)), ROOMS)


def test_what_a_room_says_of_itself_turns_nothing() -> None:
    swept = ("2031-05-04", "2031-05-03")
    rooms = [
        {"name": name, "swept": f"{day} 10:00", "ring": ring}
        for (name, ring), day in zip((("kiln", SQUARE), ("glazing", LONG)), swept, strict=True)
    ]
    assert list(parse_outlines(json.dumps(rooms))) == ["kiln", "glazing"]
