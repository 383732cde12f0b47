"""Captures that say of their pairs which stands first, or of each outline its unit."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping, Sequence

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import ROOMS, same

Ring = Sequence[Sequence[float]]


def turned(ring: Ring) -> list[tuple[float, float]]:
    return [(y, x) for x, y in ring]


def cells(rooms: Mapping[str, Ring], key: str = "rim") -> list[dict[str, object]]:
    return [{"name": name, key: ring} for name, ring in rooms.items()]


TURNED = {name: turned(ring) for name, ring in ROOMS.items()}


# --- y before x ----------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["rim_yx", "rimYX", "rim (y, x)", "lat_lon", "north_east"])
def test_pairs_under_a_key_that_says_y_first_are_turned(key: str) -> None:
    assert same(parse_outlines(json.dumps(cells(TURNED, key))), ROOMS)


@pytest.mark.parametrize("order", ["yx", "y,x", "[y, x]", "lat/lon"])
def test_an_order_beside_the_outlines_is_one_of_their_pairs(order: str) -> None:
    assert same(parse_outlines(json.dumps({"axis order": order, "cells": cells(TURNED)})), ROOMS)
    of_each = [{"order": order, **cell} for cell in cells(TURNED)]
    assert same(parse_outlines(json.dumps(of_each)), ROOMS)
    mirrored = order.translate(str.maketrans("xy", "yx")).replace("lat/lon", "lon/lat")
    assert same(parse_outlines(json.dumps({"order": mirrored, "cells": cells(ROOMS)})), ROOMS)


@pytest.mark.parametrize(
    "said", ["// corners as (y, x)", "# y before x", "-- y; x", "northing, easting", '"y",\n "x"']
)
def test_what_is_said_elsewhere_is_not_overheard(said: str) -> None:
    text = f"{said}\n" + "\n".join(f"{n}: {r}" for n, r in TURNED.items())
    with pytest.raises(OutlineError, match="y is said to come before x"):
        parse_outlines(text)
    assert parse_outlines(text, key=min(ROOMS))


def test_named_coordinates_stand_in_any_order() -> None:
    named = [{"name": n, "rim": [{"y": y, "x": x} for x, y in r]} for n, r in ROOMS.items()]
    assert same(parse_outlines(json.dumps({"order": "y, x", "cells": named})), ROOMS)
    rows = [f"{name},{y},{x}" for name, ring in ROOMS.items() for x, y in ring]
    assert same(parse_outlines("room,y,x\n" + "\n".join(rows)), ROOMS)
    for one in ("y {1}, x {0}", "Y{1} X{0}", "N {1} E {0}"):
        lines = [f"{name}: " + "; ".join(one.format(*p) for p in r) for name, r in ROOMS.items()]
        assert same(parse_outlines("\n".join(lines)), ROOMS), one


# --- units ---------------------------------------------------------------------------------------


def scaled(ring: Ring, by: float) -> list[list[float]]:
    return [[x / by, y / by] for x, y in ring]


def several(keys: tuple[str, str]) -> list[dict[str, object]]:
    """Every other room in centimetres."""
    return [
        {"name": name, keys[at % 2]: scaled(ring, 10.0) if at % 2 else ring}
        for at, (name, ring) in enumerate(ROOMS.items())
    ]


def test_outlines_whose_keys_end_in_units_come_in_the_smallest_of_them() -> None:
    assert same(parse_outlines(json.dumps(several(("rim_mm", "rim_cm")))), ROOMS)


def test_outlines_told_in_two_units_each_are_taken_once() -> None:
    both = [{"name": n, "rim_mm": r, "rim_m": scaled(r, 1000.0)} for n, r in ROOMS.items()]
    assert same(parse_outlines(json.dumps(both)), ROOMS)


def test_coordinates_whose_names_end_in_units_come_in_the_smallest_of_them() -> None:
    text = json.dumps(
        [
            {
                "name": name,
                "rim": [
                    {"x_cm": x / 10, "y_cm": y / 10} if at % 2 else {"x_mm": x, "y_mm": y}
                    for x, y in ring
                ],
            }
            for at, (name, ring) in enumerate(ROOMS.items())
        ]
    )
    assert same(parse_outlines(text), ROOMS)


def test_a_newer_list_may_come_in_another_unit() -> None:
    first, *_ = ROOMS
    old = {name: [(x + 20, y) for x, y in ring] for name, ring in ROOMS.items()}
    new = {first: scaled(ROOMS[first], 1000.0)}
    told = f"08:00 map unit=mm {json.dumps(cells(old))}\n08:01 map unit=m {json.dumps(cells(new))}"
    assert same(parse_outlines(told), old | {first: ROOMS[first]})


# --- outlines that cross themselves --------------------------------------------------------------


def test_outlines_are_not_told_if_many_of_their_kind_cross_themselves() -> None:
    bent = {name: [*ring[2:], *ring[:2][::-1]] for name, ring in ROOMS.items()}
    half = {n: (ring if at % 2 else bent[n]) for at, (n, ring) in enumerate(ROOMS.items())}
    text = json.dumps(cells(half))
    with pytest.raises(OutlineError, match="cross themselves"):
        parse_outlines(text)
    assert 0 < len(parse_outlines(text, key="rim")) < len(ROOMS)


# --- headings and broken lines -------------------------------------------------------------------


def test_a_count_of_corners_stands_behind_the_number_of_a_room() -> None:
    named = {f"CELL {at}": ring for at, ring in enumerate(ROOMS.values(), 5)}
    for rooms in (named, ROOMS):
        text = "".join(
            f"{name} {len(ring)}\n" + "".join(f"{x} {y}\n" for x, y in ring)
            for name, ring in rooms.items()
        )
        assert same(parse_outlines(text), rooms)


@pytest.mark.parametrize("speaker", ["mapper", "I (203) map", "mapd: INFO", "08:01 rover-1: cells"])
@pytest.mark.parametrize(
    ("ring", "joint", "head"),
    [
        ("[{0}, {1}]", ", ", "{}="),
        ("{0},{1}", " ", "{}: "),
        ("({0}; {1})", " ", "{} (4 corners): "),
        ("[{0}, {1}]", ", ", "{} -> outline="),
        ("  {0} {1}", "\n", "{}:\n"),
        ("  x={0} y={1}", "\n", "{}:\n"),
    ],
)
@pytest.mark.parametrize("names", [("Kiln room", "Hay loft"), ("Wash house", "Yard")])
def test_names_of_several_words_may_follow_what_speaks(
    speaker: str, ring: str, joint: str, head: str, names: tuple[str, str]
) -> None:
    rims: list[Ring] = [*ROOMS.values(), BEYOND]
    rooms = dict(zip((*names, "Drying loft"), rims, strict=True))
    text = "\n".join(
        f"{speaker}: {head.format(name)}" + joint.join(ring.format(*p) for p in rim)
        for name, rim in rooms.items()
    )
    assert same(parse_outlines(text), rooms)


def test_a_key_behind_a_value_is_no_name() -> None:
    text = "\n".join(f"name: {name} rim={ring}" for name, ring in ROOMS.items())
    assert same(parse_outlines(text), ROOMS)


@pytest.mark.parametrize("width", range(34, 60))
def test_a_point_may_be_broken_at_the_end_of_a_line(width: int) -> None:
    lines = [
        textwrap.fill(f"{name}: {' '.join(str(tuple(p)) for p in ring)}", width,
                      subsequent_indent="    ")
        for name, ring in ROOMS.items()
    ]  # fmt: skip
    assert same(parse_outlines("\n".join(lines)), ROOMS)


def test_commas_within_pairs_are_no_decimal_points() -> None:
    text = "no;name;points\n" + "\n".join(
        f"{at};{name};{'|'.join(f'{x},{y}' for x, y in ring)}"
        for at, (name, ring) in enumerate(MANY.items())
    )
    assert same(parse_outlines(text), MANY)


BEYOND = [(20_000, 0), (24_000, 0), (24_000, 3000), (20_000, 3000)]
MANY = {
    "loft": [(4279, 869), (1078, -59), (1834, -2665), (7274, -1088), (6967, -30), (4728, -679)],
    "shed": [(-9482, 532), (-9131, 2776), (-7106, 2128), (-7410, 3177), (-9867, 3874)],
}
