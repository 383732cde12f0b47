"""Rooms told from what lies on them by their ground alone: no word here says what is what."""

from __future__ import annotations

import json
from typing import Any

import pytest
import shapely

from regmap.errors import OutlineError
from regmap.inputs.captures import list_candidates, parse_outlines


def rectangle(x: float, y: float, wide: float, tall: float) -> list[list[float]]:
    return [[x, y], [x + wide, y], [x + wide, y + tall], [x, y + tall]]


ROOMS = {
    "kiln": rectangle(0, 0, 4000, 3000),
    "glazing": rectangle(4100, 0, 5000, 3000),
    "store": rectangle(0, 3100, 9100, 2000),
}
SMALL = {
    "qa": rectangle(500, 500, 800, 600),
    "qb": rectangle(5000, 1000, 900, 900),
    "qc": rectangle(2000, 3500, 700, 700),
}


def same(text: str, truth: dict[str, Any]) -> bool:
    found = parse_outlines(text)
    return set(found) == set(truth) and all(
        found[name].equals(shapely.Polygon(ring)) for name, ring in truth.items()
    )


@pytest.mark.parametrize("small_first", [True, False])
def test_what_lies_on_rooms_is_none(small_first: bool) -> None:
    def listed(shapes: dict[str, Any]) -> list[dict[str, Any]]:
        return [{"uu": name, "vv": ring} for name, ring in shapes.items()]

    lists = [listed(ROOMS), listed(SMALL)]
    first, second = reversed(lists) if small_first else lists
    assert same(json.dumps(first + second), ROOMS)
    assert same(json.dumps({"aa": first, "bb": second}), ROOMS)
    assert same("\n".join(json.dumps(one) for one in first + second), ROOMS)


def test_the_whole_floor_is_no_room() -> None:
    whole = rectangle(-200, -200, 9500, 5500)
    for shapes in ({"ww": whole} | ROOMS, ROOMS | {"ww": whole}):
        rows = [{"uu": name, "vv": ring} for name, ring in shapes.items()]
        assert same(json.dumps(rows), ROOMS)
    assert same(json.dumps({"ww": whole, "parts": ROOMS}), ROOMS)


def test_a_thing_between_rooms_is_of_the_kind_of_those_on_them() -> None:
    things = [*SMALL.values(), rectangle(3950, 500, 200, 400)]  # the last over a wall
    rows = [{"q": 1, "uu": n, "vv": r} for n, r in ROOMS.items()]
    rows += [{"q": 9, "uu": "", "vv": ring} for ring in things]
    assert same(json.dumps(rows), ROOMS)


def test_the_robots_own_unit_is_taken() -> None:
    def on_screen(ring: list[list[float]]) -> list[list[float]]:
        return [[300 + x / 50, 200 - y / 50] for x, y in ring]

    rows = [{"uu": n, "aa": on_screen(r), "bb": r} for n, r in ROOMS.items()]
    assert same(json.dumps(rows), ROOMS)
    two = {"one": [{"uu": n, "v": on_screen(r)} for n, r in ROOMS.items()]}
    two |= {"two": [{"uu": n, "v": r} for n, r in ROOMS.items()]}
    assert same(json.dumps(two), ROOMS)
    assert same(json.dumps(dict(reversed(two.items()))), ROOMS)


def test_a_list_of_all_rooms_takes_away_what_it_lacks() -> None:
    def message(rooms: dict[str, Any], key: str = "rooms") -> str:
        return json.dumps({key: [{"uu": n, "vv": r} for n, r in rooms.items()]})

    more = ROOMS | {"shed": rectangle(9200, 0, 2000, 2000)}
    assert same(f"{message(more)}\n{message(ROOMS)}\n", ROOMS)
    assert same(f"{message(ROOMS)}\n{message(more)}\n", more)
    few = {"kiln": rectangle(0, 0, 4000, 2900)}
    assert same(f"{message(more)}\n{message(few)}\n", more | few)
    two = few | {"shed": more["shed"]}
    assert same(f"{message(more)}\n{message(two, 'updated_rooms')}\n", more | few)
    cut = message(more)
    assert same(f"{message(more)}\n{cut[: cut.rindex('store') - 10]}", more)


def test_nested_rooms_can_be_asked_for() -> None:
    """Two rooms of which one lies in the other do not come on real floors, but in plans."""
    text = json.dumps({"rooms": ROOMS | {"closet": SMALL["qa"]}})
    assert same(text, ROOMS)
    assert set(parse_outlines(text, key="rooms")) == {*ROOMS, "closet"}
    left = [one.name for one in list_candidates(text) if not one.chosen]
    assert left == ["closet"]


# --- tables ------------------------------------------------------------------------------------

ROWS = [(name, at, *point) for name, ring in ROOMS.items() for at, point in enumerate(ring, 1)]


@pytest.mark.parametrize("mark", [";", "\t", "|", ","])
def test_coordinates_are_found_under_any_names(mark: str) -> None:
    lines = [mark.join(("uu", "vv", "ww", "zz"))]
    lines += [mark.join(map(str, row)) for row in ROWS]
    assert same("\n".join(lines), ROOMS)
    first = [mark.join(map(str, (n if at == 1 else "", at, x, y))) for n, at, x, y in ROWS]
    assert same("\n".join([lines[0], *first]), ROOMS)


@pytest.mark.parametrize(
    "spell",
    [
        lambda v: f"{v / 1000:.4f}".replace(".", ","),
        lambda v: f"{v:,.1f}",
        lambda v: f"{v:,.2f}".translate({ord(","): ".", ord("."): ","}),
        lambda v: f"{v:,.1f}".replace(",", "'"),
        lambda v: f"{v:,.0f}",
    ],
    ids=["comma", "grouped", "grouped by points", "grouped by strokes", "whole"],
)
def test_numbers_as_countries_write_them(spell: Any) -> None:
    lines = ["uu;vv;ww;zz", *(f"{n};{at};{spell(x)};{spell(y)}" for n, at, x, y in ROWS)]
    found = parse_outlines("\n".join(lines))
    assert set(found) == set(ROOMS)
    wide = found["kiln"].bounds[2]
    assert wide in (4000, 4)


def test_rows_with_text_are_no_table() -> None:
    text = "One, two\nthree, four\nfive, six\n"
    with pytest.raises(OutlineError):
        parse_outlines(text)


@pytest.mark.parametrize(
    "text",
    [
        "day;min;max\n1;12;20\n2;13;25\n3;11;22\n4;9;18",
        "time,temp,hum\n10:00,21.2,44\n10:05,21.5,43\n10:10,21.1,47\n",
        "room,area,height\nKitchen,12.5,2.4\nBath,6.1,2.3\nHall,9.9,2.4\nDen,14.1,2.5",
        json.dumps([{"volt": v, "amp": a} for v, a in ((12.1, 3.3), (12.4, 3.1), (11.9, 3.6))]),
        "anna 12 4\nbert 3 9\ncarl 7 7\ndora 8 2\n",
        "kiln 4000 3000\nglazing 5000 3000\nstore 9100 2000\n",
        "In 2031 we had 12 rooms and 4 halls.\nIn 2032 we had 14 rooms and 6 halls.\n",
    ],
)
def test_a_few_numbers_are_no_room(text: str) -> None:
    with pytest.raises(OutlineError, match="no room outlines were found"):
        parse_outlines(text)


# --- by numbers alone --------------------------------------------------------------------------


def test_the_last_resort_needs_no_form() -> None:
    calls = "".join(
        f'begin("{name}")\n' + "".join(f"put({x}, {y}, 7)\n" for x, y in ring)
        for name, ring in ROOMS.items()
    )
    assert same(calls, ROOMS)
    commas = "\n".join(
        f"{name} {' '.join(f'<{x / 8:.3f} / {y / 8:.3f}>' for x, y in ring)}".replace(".", ",")
        for name, ring in ROOMS.items()
    )
    assert set(parse_outlines(commas)) == set(ROOMS)


def test_walls_in_a_row_close_rings() -> None:
    for spell in ("({}, {}) -> ({}, {})", "from ({}; {}) to ({}; {})", "[[{}, {}], [{}, {}]],"):
        lines = []
        for name, ring in ROOMS.items():
            lines.append(f"{name}:")
            pairs = zip(ring, [*ring[1:], ring[0]], strict=True)
            lines += ["  " + spell.format(*begin, *end) for begin, end in pairs]
        assert same("\n".join(lines), ROOMS), spell


def test_lines_cut_out_of_another_text() -> None:
    lines = [f"{n}: " + " ".join(f"{x},{y}" for x, y in r) for n, r in ROOMS.items()]
    records = [json.dumps({"log": f"{line}\n", "to": "out"}) for line in lines]
    assert same("\n".join(records), ROOMS)
    data = json.dumps(ROOMS).encode()
    rows = [f"{at:06x}: {data[at : at + 16].hex(' ')}" for at in range(0, len(data), 16)]
    assert same("\n".join(rows), ROOMS)
    whole = json.dumps([{"name": n, "vv": r} for n, r in ROOMS.items()])
    assert same("\n".join(whole[at : at + 60] for at in range(0, len(whole), 60)), ROOMS)
