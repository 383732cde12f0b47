"""Captures that say of a room that it is gone, or of outlines that they do not hold."""

from __future__ import annotations

import json

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import ROOMS, SQUARE, same

DRYING = [[0, 3100], [9000, 3100], [9000, 5000], [0, 5000]]
STORE = [[9100, 0], [12000, 0], [12000, 5000], [9100, 5000]]
HOUSE = {**ROOMS, "drying loft": DRYING, "clay store": STORE}
LEFT = {name: ring for name, ring in HOUSE.items() if name != "drying loft"}
NUMBERS = {name: number for number, name in enumerate(HOUSE, 21)}
CELLS: list[dict[str, object]] = [
    {"no": NUMBERS[name], "name": name, "rim": ring} for name, ring in HOUSE.items()
]


@pytest.mark.parametrize(
    ("flag", "gone", "held"),
    [
        ("deleted", True, False),
        ("removed_at", "2025-02-03T10:00:00Z", None),
        ("state", "archived", "in use"),
    ],
)
def test_an_outline_with_the_word_that_it_is_gone_is_left_out(
    flag: str, gone: object, held: object
) -> None:
    cells = [{**c, flag: gone if c["name"] == "drying loft" else held} for c in CELLS]
    assert same(parse_outlines(json.dumps({"cells": cells})), LEFT)
    # It is gone also where an earlier message brought it.
    log = "\n".join(json.dumps(cell) for cell in (*CELLS, *cells))
    assert same(parse_outlines(log), LEFT)


def test_a_column_says_which_rooms_are_gone() -> None:
    rows = [f"{n},{int(n not in LEFT)},{x},{y}" for n, ring in HOUSE.items() for x, y in ring]
    assert same(parse_outlines("\n".join(["cell,deleted,x,y", *rows])), LEFT)


@pytest.mark.parametrize(
    "said",
    [
        '{"ev": "cell_removed", "no": 23}',
        '10:31 roomDeleted {"no": 23}',
        "DELETE /rooms/23 HTTP/1.1",
        "DELETE FROM cells WHERE no = 23;",
        "DELETE FROM cells WHERE name = 'drying loft';",
        '{"removed": [19, 23]}',
        '{"op": "remove", "path": "/cells/2"}',
        '{"name": "drying loft", "rim": []}',
        '{"no": 23, "rim": null}',
    ],
)
def test_a_room_of_which_it_is_said_later_that_it_is_gone_is_refused(said: str) -> None:
    cells = json.dumps({"cells": CELLS}) if "cells/2" in said else "\n".join(map(json.dumps, CELLS))
    with pytest.raises(OutlineError, match="is said to be gone"):
        parse_outlines(f"{cells}\n{said}\n")
    assert same(parse_outlines(f"{said}\n{cells}\n"), HOUSE)


@pytest.mark.parametrize("nothing", ["(null)", "", "{}"])
def test_an_empty_message_takes_a_room_away(nothing: str) -> None:
    lines = [f"bot/cells/{c['no']} {json.dumps(c)}" for c in CELLS]
    with pytest.raises(OutlineError, match="'drying loft' is said to be gone"):
        parse_outlines("\n".join([*lines, f"bot/cells/23 {nothing}"]))


@pytest.mark.parametrize(
    "said",
    [
        '{"ev": "task_removed", "task": 23}',
        "removed 23 stale poses",
        '{"name": "drying loft", "alias": null}',
        '{"cells": null}',
        "DELETE /schedule/23 HTTP/1.1",
    ],
)
def test_what_is_said_of_other_things_takes_no_room_away(said: str) -> None:
    lines = map(json.dumps, CELLS)
    assert same(parse_outlines("\n".join([*lines, said])), HOUSE)


def test_a_corner_that_changed_later_is_not_overlooked() -> None:
    step = {"op": "replace", "path": "/cells/1/rim/2", "value": [9100, 3000]}
    with pytest.raises(OutlineError, match=r"corners .* changed \(replace /cells/1/rim/2\)"):
        parse_outlines(f"{json.dumps({'cells': CELLS})}\n{json.dumps([step])}")


@pytest.mark.parametrize("key", ["previous", "before", "draft", "backup_map"])
def test_outlines_that_do_not_hold_are_no_rooms_beside_such_as_do(key: str) -> None:
    moved = {name: [[x + 900, y] for x, y in ring] for name, ring in HOUSE.items()}
    for sets in ({"now": HOUSE, key: moved}, {key: moved, "now": HOUSE}):
        assert same(parse_outlines(json.dumps(sets)), HOUSE)
    assert same(parse_outlines(json.dumps({key: HOUSE})), HOUSE)


def test_of_two_places_of_the_same_rooms_none_is_taken() -> None:
    moved = {name: [[x + 400, y] for x, y in ring] for name, ring in HOUSE.items()}
    text = json.dumps({"in_use": "ash", "slots": {"ash": HOUSE, "elm": moved}})
    with pytest.raises(OutlineError, match="nothing says which of them hold"):
        parse_outlines(text)
    assert same(parse_outlines(text, key="slots.ash"), HOUSE)


def test_of_guesses_at_a_room_the_surest_counts() -> None:
    guesses = [
        {
            "name": name,
            "guesses": [
                {"score": 0.9, "rim": ring},
                {"score": 0.2, "rim": [[x + 70, y - 90] for x, y in ring]},
            ],
        }
        for name, ring in HOUSE.items()
    ]
    assert same(parse_outlines(json.dumps(guesses)), HOUSE)


def test_rooms_that_were_left_out_of_a_list_are_missed() -> None:
    listed = ",\n".join(f"Cell({name!r}, {ring})" for name, ring in ROOMS.items())
    with pytest.raises(OutlineError, match=r"rooms are missing.*'\.\.\.'"):
        parse_outlines(f"cells = [{listed},\n ...]")
    page = {"page": 1, "pages": 2, "cells": CELLS}
    with pytest.raises(OutlineError, match="of 2 pages the text has 1"):
        parse_outlines(json.dumps(page))
    more = {"page": 2, "pages": 2, "cells": [{"no": 31, "name": "yard", "rim": _beside(SQUARE)}]}
    both = f"{json.dumps(page)}\n{json.dumps(more)}"
    assert same(parse_outlines(both), {**HOUSE, "yard": _beside(SQUARE)})


def test_corners_that_were_left_out_are_missed() -> None:
    cut = ",\n".join(
        f"{{ name: '{name}', rim: [ {', '.join(map(str, ring))}, ... 3 more items ] }}"
        for name, ring in ROOMS.items()
    )
    with pytest.raises(OutlineError, match="cut off"):
        parse_outlines(f"[\n{cut}\n]")


def _beside(ring: list[list[int]]) -> list[list[int]]:
    return [[x + 20000, y] for x, y in ring]


@pytest.mark.parametrize("key", ["active", "exists", "isActive"])
def test_a_room_that_is_not_active_is_left_out_where_most_are(key: str) -> None:
    names = list(HOUSE)
    cells = [{"name": n, "rim": HOUSE[n], key: n != names[-1]} for n in names]
    assert len(names) > 2
    assert list(parse_outlines(json.dumps(cells))) == names[:-1]
    rows = "\n".join(f"{n};{int(n != names[-1])};{x};{y}" for n in names for x, y in HOUSE[n])
    assert list(parse_outlines(f"room;{key};x;y\n{rows}")) == names[:-1]


@pytest.mark.parametrize("key", ["enabled", "visible", "selected"])
def test_a_room_that_the_robot_leaves_out_of_its_work_stays(key: str) -> None:
    names = list(HOUSE)
    cells = [{"name": n, "rim": HOUSE[n], key: n != names[-1]} for n in names]
    assert list(parse_outlines(json.dumps(cells))) == names


def test_where_few_rooms_are_active_those_are_being_worked_in() -> None:
    names = list(HOUSE)
    cells = [{"name": n, "rim": HOUSE[n], "active": n == names[0]} for n in names]
    assert list(parse_outlines(json.dumps(cells))) == names
