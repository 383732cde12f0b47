"""Captures that bring a floor several times, or several floors: what counts is the newest whole."""

from __future__ import annotations

import json

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines

Ring = list[list[int]]

EARLY: dict[str, Ring] = {
    "kiln": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "glazing": [[4100, 0], [9000, 0], [9000, 3000], [4100, 3000]],
    "drying": [[0, 3100], [9000, 3100], [9000, 5000], [0, 5000]],
}
LATE: dict[str, Ring] = {
    "kiln": [[500, 100], [6000, 100], [6000, 2500], [500, 2500]],
    "shop": [[500, 2600], [8000, 2600], [8000, 5200], [500, 5200]],
}
ELSEWHERE: dict[str, Ring] = {
    name: [[x + 20000, y] for x, y in ring]
    for name, ring in zip(("loft", "dovecote", "stair"), EARLY.values(), strict=True)
}


def listed(rooms: dict[str, Ring]) -> list[dict[str, object]]:
    return [{"name": name, "rim": ring} for name, ring in rooms.items()]


def read(text: str) -> dict[str, Ring]:
    found = parse_outlines(text)
    return {n: [[int(x), int(y)] for x, y in p.exterior.coords[:-1]] for n, p in found.items()}


# --- a whole floor again -------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["rev", "floorVersion", "edition"])
def test_a_later_revision_stands_for_all_of_the_former(key: str) -> None:
    lines = [
        f"08:00:0{at} rover/floor {json.dumps({key: at, 'rooms': listed(rooms)})}"
        for at, rooms in enumerate((EARLY, LATE), 4)
    ]
    assert read("\n".join(lines)) == LATE
    other_way = read("\n".join(lines[::-1]))
    assert other_way == LATE


def test_of_a_history_the_last_state_counts_as_a_whole() -> None:
    days = ("2031-04-02T09:00:00Z", "2031-05-11T18:30:00Z")
    for states, newest in (((EARLY, LATE), LATE), ((LATE, EARLY), EARLY)):
        history = [
            {"saved": day, "rooms": listed(rooms)} for day, rooms in zip(days, states, strict=True)
        ]
        assert read(json.dumps({"floors_saved": history}, indent=1)) == newest


def test_lists_beside_each_other_are_parts_of_one_floor() -> None:
    parts = [{"rev": 4, "rooms": listed(EARLY)}, {"rev": 5, "rooms": listed(ELSEWHERE)}]
    assert read("\n".join(map(json.dumps, parts))) == EARLY | ELSEWHERE


def test_a_change_of_few_rooms_leaves_the_others() -> None:
    split: dict[str, Ring] = {
        "kiln": [[0, 0], [1900, 0], [1900, 3000], [0, 3000]],
        "store": [[2000, 0], [4000, 0], [4000, 3000], [2000, 3000]],
    }
    whole = {"rev": 4, "rooms": listed(EARLY)}
    change = {"rev": 5, "rooms": listed(split)}
    assert read(json.dumps(whole) + "\n" + json.dumps(change)) == EARLY | split


# --- one room anew -------------------------------------------------------------------------------

GROWN: Ring = [[0, 3100], [9000, 3100], [9000, 9000], [0, 9000]]
SHRUNK: Ring = [[0, 3100], [2000, 3100], [2000, 5000], [0, 5000]]


@pytest.mark.parametrize(
    ("kind", "ring", "taken"),
    [
        ("room_update", GROWN, True),
        ("room_update", SHRUNK, True),
        ("room", GROWN, True),
        ("room", SHRUNK, False),  # it may be of a thing in the room
    ],
)
def test_a_room_may_change_by_more_than_half(kind: str, ring: Ring, taken: bool) -> None:
    rooms = [room | {"id": 11 + at} for at, room in enumerate(listed(EARLY))]
    change = {"id": 13, "name": "drying", "rim": ring}
    text = "\n".join(
        f"09:1{at}:00 ev {json.dumps(said)}"
        for at, said in enumerate(
            (
                {"type": "all", "rooms": rooms},
                {"type": "power", "pct": 5},
                {"type": kind, "room": change},
            )
        )
    )
    assert read(text) == (EARLY | {"drying": ring} if taken else EARLY)
    if kind == "room_update":
        del change["name"]  # the number alone tells which
        text = json.dumps({"type": "all", "rooms": rooms}) + "\n"
        text += json.dumps({"type": kind, "room": change})
        assert read(text) == EARLY | {"drying": ring}


# --- several floors ------------------------------------------------------------------------------


def _lines(rooms: dict[str, Ring]) -> str:
    return "".join(f"{n}: {' '.join(f'({x}, {y})' for x, y in r)}\n" for n, r in rooms.items())


@pytest.mark.parametrize(
    "text",
    [
        f"Floor 1\n{_lines(EARLY)}\nFloor 2\n{_lines(ELSEWHERE)}",
        f"ground floor:\n{_lines(EARLY)}\nupper floor:\n{_lines(ELSEWHERE)}",
        json.dumps(
            [{"level": 0, "rooms": listed(EARLY)}, {"level": 1, "rooms": listed(ELSEWHERE)}]
        ),
        json.dumps(
            [room | {"floor": 1} for room in listed(EARLY)]
            + [room | {"floor": 2} for room in listed(ELSEWHERE)]
        ),
    ],
    ids=["headings", "headings with colons", "lists", "fields"],
)
def test_storeys_are_no_one_floor_wherever_they_lie(text: str) -> None:
    with pytest.raises(OutlineError, match=r"outlines of 2 floors .*choose one of key='"):
        parse_outlines(text)
    above = text.replace("20000", "1").replace("24", "4").replace("29", "9")
    with pytest.raises(OutlineError, match=r"outlines of 2 floors .*choose one of key='"):
        parse_outlines(above)


def test_a_headed_floor_is_read_by_its_name() -> None:
    text = f"Floor 1\n{_lines(EARLY)}\nFloor 2\n{_lines(ELSEWHERE)}"
    assert set(parse_outlines(text, key="Floor 2")) == set(ELSEWHERE)


def test_what_lies_on_the_floor_is_no_storey() -> None:
    rooms = listed(EARLY | ELSEWHERE)
    laid = [room | {"floor": ("tiles", "oak")[at % 2]} for at, room in enumerate(rooms)]
    assert read(json.dumps(laid)) == EARLY | ELSEWHERE


def test_of_two_proposals_none_is_taken() -> None:
    moved = dict(zip(EARLY, (*[*EARLY.values()][1:], EARLY["kiln"]), strict=True))
    two = {"proposal_a": {"rooms": listed(EARLY)}, "proposal_b": {"rooms": listed(moved)}}
    with pytest.raises(OutlineError, match="key='proposal_a', key='proposal_b'"):
        parse_outlines(json.dumps(two))
    assert set(parse_outlines(json.dumps(two), key="proposal_b")) == set(EARLY)


def test_rooms_that_are_keys_are_mapped_anew_in_another_frame() -> None:
    moved = {name: [[x + 3300, y + 3300] for x, y in ring] for name, ring in EARLY.items()}
    lines = [
        f"2031-05-0{day} 08:00 room {name}: {ring}"
        for day, rooms in ((1, moved), (2, EARLY))
        for name, ring in rooms.items()
    ]
    assert read("\n".join(lines)) == EARLY


def test_a_count_of_corners_is_no_name_and_no_number_of_a_room() -> None:
    text = "".join(
        f"> {{title: '{name}', pts: Array({len(ring)})}}\n    pts: Array({len(ring)})\n"
        + "".join(f"      {at}: {{x: {x}, y: {y}}}\n" for at, (x, y) in enumerate(ring))
        + f"      length: {len(ring)}\n"
        for name, ring in EARLY.items()
    )
    assert read(text) == EARLY
