"""Corners, walls and lines in other orders than an outline's, and numbers that are none of it."""

from __future__ import annotations

import json
import random

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import ROOMS, same
from tests.test_captures_floors import HOUSE


def test_corners_with_their_numbers_in_any_order() -> None:
    rows = [f"{n},{k},{x},{y}" for n, ring in HOUSE.items() for k, (x, y) in enumerate(ring, 1)]
    for seed in range(5):
        random.Random(seed).shuffle(rows)
        found = parse_outlines("\n".join(["room,rank,x,y", *rows]))
        assert {n: sorted(p.exterior.coords[:-1]) for n, p in found.items()} == {
            n: sorted(map(tuple, ring)) for n, ring in HOUSE.items()
        }
        assert all(found[n].area == abs(_area(ring)) for n, ring in HOUSE.items())


def _turned(ring: list[list[int]]) -> list[list[int]]:
    return [*ring[1:], ring[0]]


def _area(ring: list[list[int]]) -> float:
    pairs = zip(ring, _turned(ring), strict=True)
    return sum(a[0] * b[1] - a[1] * b[0] for a, b in pairs) / 2


def test_a_room_whose_corners_are_told_twice_is_not_put_in_order() -> None:
    rows = [f"{n},{k},{x},{y}" for n, ring in ROOMS.items() for k, (x, y) in enumerate(ring)]
    assert same(parse_outlines("\n".join(["room,k,x,y", *rows, *rows])), ROOMS)


def test_walls_in_any_order_and_either_way() -> None:
    for seed in range(5):
        rng = random.Random(seed)
        rooms = []
        for name, ring in HOUSE.items():
            walls = [
                [a, b][:: rng.choice((1, -1))] for a, b in zip(ring, _turned(ring), strict=True)
            ]
            rng.shuffle(walls)
            rooms.append({"name": name, "walls": walls})
        found = parse_outlines(json.dumps(rooms))
        assert set(found) == set(HOUSE)
        assert all(found[n].area == abs(_area(ring)) for n, ring in HOUSE.items())


@pytest.mark.parametrize("sides", ["left bottom width height", "bottom left top right"])
@pytest.mark.parametrize("unit", ["", "_mm"])
def test_boxes_by_their_sides(sides: str, unit: str) -> None:
    rows = []
    for name, ((x0, y0), _, (x1, y1), _) in HOUSE.items():
        known = {"left": x0, "bottom": y0, "right": x1, "top": y1}
        known |= {"width": x1 - x0, "height": y1 - y0}
        rows.append(f"{name};" + ";".join(str(known[side]) for side in sides.split()))
    header = "room;" + ";".join(side + unit for side in sides.split())
    assert same(parse_outlines("\n".join([header, *rows])), HOUSE)


def test_a_box_from_the_top_downwards_is_refused() -> None:
    # Whether y grows upwards is not said, and the room would lie elsewhere.
    rows = [f"{n};{r[0][0]};{r[2][1]};400;300" for n, r in HOUSE.items()]
    with pytest.raises(OutlineError):
        parse_outlines("\n".join(["room;left;top;width;height", *rows]))


def test_y_before_x_is_taken_only_if_asked_for() -> None:
    told = {"axis_order": ["y", "x"], "rooms": [{"name": n, "rim": r} for n, r in ROOMS.items()]}
    for text in (json.dumps(told), json.dumps(told, indent=2)):
        with pytest.raises(OutlineError, match="y is said to come before x"):
            parse_outlines(text)
        assert same(parse_outlines(text, key="rim"), ROOMS)
    told["axis_order"] = ["x", "y"]
    assert same(parse_outlines(json.dumps(told)), ROOMS)


@pytest.mark.parametrize("form", ["[{:05d}] ", "{:06d} ", "({}) "])
@pytest.mark.parametrize("first", [0, 1, 977])
def test_numbers_that_count_lines_are_no_coordinates(form: str, first: int) -> None:
    lines = []
    for name, ring in HOUSE.items():
        lines += [f"cell {name}", *(f"vertex {x} {y}" for x, y in ring)]
    text = "\n".join(form.format(at) + line for at, line in enumerate(lines, first))
    assert same(parse_outlines(text), HOUSE)
    assert same(parse_outlines("\n".join(lines)), HOUSE)


@pytest.mark.parametrize("form", ["{}: {}", '{{"name": "{}", "rim": {}}}'])
def test_outlines_from_a_corner_of_their_own_a_line_each_are_no_floor(form: str) -> None:
    own = {n: [[x - r[0][0], y - r[0][1]] for x, y in r] for n, r in HOUSE.items()}
    with pytest.raises(OutlineError, match="most of the outlines lie on each other"):
        parse_outlines("\n".join(form.format(n, r) for n, r in own.items()))
    assert same(parse_outlines("\n".join(form.format(n, r) for n, r in HOUSE.items())), HOUSE)


def test_digits_grouped_by_apostrophes_with_blanks_between_x_and_y() -> None:
    def grouped(value: int) -> str:
        return f"{value:,}".replace(",", "'")

    for apart in (" / ", "; ", " | "):
        lines = [
            f"{n}: " + apart.join(f"{grouped(x)} {grouped(y)}" for x, y in r)
            for n, r in HOUSE.items()
        ]
        assert same(parse_outlines("\n".join(lines)), HOUSE)


@pytest.mark.parametrize("below", ["{} {}\n", "({}, {})\n", "{};{} "])
def test_words_in_angle_brackets_above_outlines(below: str) -> None:
    text = "".join(
        f"<{n}>\n" + "".join(below.format(x, y) for x, y in r) + "\n" for n, r in HOUSE.items()
    )
    assert same(parse_outlines(text), HOUSE)


def test_the_place_of_a_label_beside_an_outline() -> None:
    rooms = [{"title": n, "x": r[0][0] + 9, "y": r[0][1] + 7, "rim": r} for n, r in HOUSE.items()]
    assert same(parse_outlines(json.dumps(rooms)), HOUSE)


def test_names_of_a_programs_arrays() -> None:
    for before in ("static const int ", "const ", "public static final double "):
        lines = [
            f"{before}{n}[4][2] = {str(r).replace('[', '{').replace(']', '}')};"
            for n, r in HOUSE.items()
        ]
        assert same(parse_outlines("\n".join(lines)), HOUSE)


def test_quoted_names_with_numbers_are_no_points() -> None:
    named = {f"store {at}": ring for at, ring in enumerate(HOUSE.values(), 2)}
    lines = ["plan: dump of cells, in mm"]
    for at, (name, ring) in enumerate(named.items()):
        lines.append(f'plan: cell[{at}] title = "{name}"')
        lines += [f"plan: cell[{at}] c[{k}] = ({x}, {y})" for k, (x, y) in enumerate(ring)]
    assert same(parse_outlines("\n".join(lines)), named)


def test_complex_numbers_of_which_the_real_part_is_nothing() -> None:
    rooms = {n: [complex(x, y) for x, y in r] for n, r in HOUSE.items()}
    assert any(corner.real == 0 for ring in rooms.values() for corner in ring)
    assert same(parse_outlines(repr(rooms)), HOUSE)


def test_rings_in_a_list_are_several_though_together_they_would_be_one() -> None:
    rings = {
        "Foyer": [(0, 0), (900, 0), (900, 900), (0, 900)],
        "Wardrobe": [(20000, 901), (20000, 0), (20900, 0), (20900, 901)],
        "Stage": [(40000, 0), (40900, 0), (40900, 900), (40000, 900)],
        "Loft": [(800, 20000), (800, 20900), (-100, 20900), (-100, 20000)],
    }
    lines = ["- " + " ".join(f"({x}, {y})" for x, y in ring) for ring in rings.values()]
    names = [f"    - {name}" for name in rings]
    text = "\n".join(["rooms:", "  names:", *names, "  outlines:", *(f"    {ln}" for ln in lines)])
    found = {k: list(v.exterior.coords)[:-1] for k, v in parse_outlines(text).items()}
    assert found == rings
