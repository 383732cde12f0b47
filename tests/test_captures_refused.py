"""Captures that say themselves that outlines are missing, or are no rooms where they stand."""

from __future__ import annotations

import json
import random

import pytest
import shapely

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import ROOMS, same

CELLS = [{"name": name, "rim": ring} for name, ring in ROOMS.items()]


def refused(text: str, why: str) -> None:
    with pytest.raises(OutlineError, match=why):
        parse_outlines(text)


def taken_by_key(text: str, key: str, why: str) -> None:
    refused(text, why)
    assert same(parse_outlines(text, key=key), ROOMS)


# --- no rooms ------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["keepOut", "no_entry_areas", "virtual walls", "barriers"])
def test_areas_to_keep_out_of_are_no_rooms(key: str) -> None:
    areas = [*ROOMS.values()]
    driven = [[at, at * at % 977] for at in range(40)]
    text = json.dumps({key: areas, "path": driven})
    refused(text, f"areas to keep out of .{key}.*key=")
    assert len(parse_outlines(text, key=key)) == len(ROOMS)
    refused(f"09:00 unit mm\n09:01 {key} {areas}\n09:02 path {driven}", "areas to keep out of")
    assert same(
        parse_outlines(json.dumps({key: [[[9, 9], [99, 9], [99, 99]]], "cells": CELLS})), ROOMS
    )


def test_a_unit_is_no_name() -> None:
    for unit in ("mm", "cm", "pixels", "metres"):
        assert unit not in parse_outlines(f"unit {unit}\n{next(iter(ROOMS.values()))}\n")


@pytest.mark.parametrize(
    ("told", "key", "why"),
    [
        ({"units": "canvas pixels"}, "rim", "pixels of a picture"),
        ({"note": "corners are relative to the anchor"}, "rim", "origin of their own"),
        ({"transform": "scale(2)"}, "rim", "under a transform"),
    ],
)
def test_outlines_elsewhere_are_taken_only_if_asked_for(
    told: dict[str, str], key: str, why: str
) -> None:
    taken_by_key(json.dumps(told | {"rooms": CELLS}), key, why)


@pytest.mark.parametrize("key", ["rim_px", "outline_cells"])
def test_keys_may_say_that_outlines_are_elsewhere(key: str) -> None:
    cells = [{"name": name, key: ring} for name, ring in ROOMS.items()]
    taken_by_key(json.dumps(cells), key, "pixels of a picture|cells of a grid")


# --- units ---------------------------------------------------------------------------------------


def test_units_that_contradict_each_other() -> None:
    cells = [{"name": name, "rim_mm": ring} for name, ring in ROOMS.items()]
    taken_by_key(json.dumps({"lengths_in": "cm", "rooms": cells}), "rim", "in cm and in mm")
    assert same(parse_outlines(json.dumps({"lengths_in": "mm", "rooms": cells})), ROOMS)
    area = {"area_unit": "m", "rooms": cells}
    assert same(parse_outlines(json.dumps(area)), ROOMS)


def test_rooms_of_several_units_come_in_one() -> None:
    scales = [("mm", 1), ("cm", 10), ("metre", 1000)]
    cells = [
        {"name": name, "unit": unit, "rim": [[x / by, y / by] for x, y in ring]}
        for (name, ring), (unit, by) in zip(ROOMS.items(), scales, strict=False)
    ]
    for one in (cells, cells[1:]):
        factor = 1 if one is cells else 10
        rooms = parse_outlines(json.dumps(one))
        assert {
            name: [[round(x * factor), round(y * factor)] for x, y in room.exterior.coords[:-1]]
            for name, room in rooms.items()
        } == {cell["name"]: ROOMS[str(cell["name"])] for cell in one}


# --- what is missing -----------------------------------------------------------------------------


def test_fewer_corners_than_the_text_says() -> None:
    for key, more in (("corners", 2), ("n", 3), ("vertex_count", 2)):
        lines = [f"{name}: {key}={len(ring) + more} rim={ring}" for name, ring in ROOMS.items()]
        refused("\n".join(lines), f"corners are missing of .*{key}=.*key=")
        cells = [{"name": n, key: len(r) + more, "rim": r} for n, r in ROOMS.items()]
        taken_by_key(json.dumps(cells), "rim", "corners are missing")
        for right in (0, 1):  # the first may count as the last
            cells = [{"name": n, key: len(r) + right, "rim": r} for n, r in ROOMS.items()]
            assert same(parse_outlines(json.dumps(cells)), ROOMS)


def test_a_number_that_counts_no_corners() -> None:
    cells = [{"n": 17 + 4 * at, "name": c["name"], "rim": c["rim"]} for at, c in enumerate(CELLS)]
    assert same(parse_outlines(json.dumps(cells)), ROOMS)


def test_fewer_rooms_than_the_text_says() -> None:
    told = {"room_count": len(ROOMS) + 2, "rooms": CELLS}
    taken_by_key(json.dumps(told), "rim", f"room_count={len(ROOMS) + 2}, and outlines of")
    whole = json.dumps({"rooms_total": len(ROOMS), "rooms": CELLS}, indent=1)
    assert same(parse_outlines(whole), ROOMS)
    refused(whole[: int(0.9 * len(whole))], "rooms are missing")


def test_lists_of_x_and_y_of_other_lengths() -> None:
    cells = [
        {"name": name, "xs": [x for x, _ in ring], "ys": [y for _, y in ring]}
        for name, ring in ROOMS.items()
    ]
    assert same(parse_outlines(json.dumps(cells)), ROOMS)
    for cell in cells[::-1]:
        assert isinstance(cell["ys"], list)
        cell["ys"].pop()
        refused(json.dumps(cells), f"{cell['name']!r} has 4 values of x and 3 of y|of y")


# --- pieces --------------------------------------------------------------------------------------


def _pieces(count: int, *, framed: bool) -> list[str]:
    text = json.dumps({"rooms": CELLS})
    size = -(-len(text) // count)
    parts = [text[at * size : (at + 1) * size] for at in range(count)]
    if framed:
        return [
            json.dumps({"k": "fl", "i": i, "of": count, "d": p}) for i, p in enumerate(parts, 1)
        ]
    return [f"09:00:0{i} floor {i}/{count}: {part}" for i, part in enumerate(parts, 1)]


@pytest.mark.parametrize("framed", [True, False])
def test_pieces_in_any_order_with_other_lines_between(framed: bool) -> None:
    for seed in range(6):
        lines = _pieces(5, framed=framed)
        random.Random(seed).shuffle(lines)
        lines.insert(2 + seed % 3, '{"charge": 81}' if framed else "09:00:03 charge: 81")
        lines.append(lines[0])  # sent again
        assert same(parse_outlines("\n".join(lines)), ROOMS)


@pytest.mark.parametrize("framed", [True, False])
@pytest.mark.parametrize("lost", [1, 2, 4])
def test_a_piece_that_is_missing(framed: bool, lost: int) -> None:
    lines = _pieces(5, framed=framed)
    del lines[lost]
    refused("\n".join(lines), rf"in 5 pieces 1 are missing \({lost + 1}\)")
    again = "\n".join([*lines, *_pieces(5, framed=framed)])
    assert same(parse_outlines(again), ROOMS)


# --- cells and what was left out -----------------------------------------------------------------


@pytest.mark.parametrize("told", ["resolution: 0.05", "cell size 50 mm", '"metres_per_cell": 0.05'])
def test_a_floor_that_is_one_only_in_its_cells_is_in_cells(told: str) -> None:
    small = {name: [(x // 50, y // 50) for x, y in ring] for name, ring in ROOMS.items()}
    rows = "\n".join(f"{name}: {ring}" for name, ring in small.items())
    refused(f"{told}\n{rows}", "in cells of a grid .*per_cell|in cells of a grid .*(resol|size)")
    # A picture's resolution stands beside outlines in the robot's own unit, or in one that is told.
    assert same(parse_outlines(f"{told}\n" + json.dumps({"cells": CELLS})), ROOMS)
    assert len(parse_outlines(f"unit: cm\n{told}\n{rows}")) == len(ROOMS)


def test_rows_and_columns_are_cells() -> None:
    rims = [
        {"name": name, "rim": [{"row": y, "col": x} for x, y in ring]}
        for name, ring in ROOMS.items()
    ]
    taken_by_key(json.dumps(rims), "rim", "in cells of a grid .rows and columns")


@pytest.mark.parametrize("gap", ["...", "[null, null]", "\u2026"])
def test_an_outline_of_which_corners_are_left_out_is_cut_off(gap: str) -> None:
    first, *others = ROOMS
    rims = {name: json.dumps(ring) for name, ring in ROOMS.items()}
    rims[first] = rims[first].replace("], [", f"], {gap}, [", 1)
    text = "\n".join(f"{name}: {rim}" for name, rim in rims.items())
    assert same(parse_outlines(text), {name: ROOMS[name] for name in others})
    rims[first] = json.dumps(ROOMS[first])[:-1] + f", {gap}]"
    text = "\n".join(f"{name}: {rim}" for name, rim in rims.items())
    assert same(parse_outlines(text), {name: ROOMS[name] for name in others})


@pytest.mark.parametrize(
    "said", ["delete room {}", '{{"event": "room_removed", "name": "{}"}}', "09:10 erased '{}'"]
)
def test_a_room_that_is_said_to_be_gone_is_not_told(said: str) -> None:
    first, *_ = ROOMS
    lines = [f"09:0{at} {json.dumps(cell)}" for at, cell in enumerate(CELLS)]
    taken_by_key("\n".join([*lines, said.format(first)]), "rim", f"{first}. is said to be gone")
    assert same(parse_outlines("\n".join([said.format(first), *lines])), ROOMS)
    for other in (f"{first}-east", "mat in it"):
        assert same(parse_outlines("\n".join([*lines, said.format(other)])), ROOMS)


def test_outlines_whose_overlay_fails_are_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Polygons that nearly touch can defeat the geometry engine, whatever they are."""

    def fail(*_: object, **__: object) -> None:
        raise shapely.errors.GEOSException("TopologyException: side location conflict")

    monkeypatch.setattr("regmap.inputs.captures.reading.choose", fail)
    with pytest.raises(OutlineError, match="nearly touch"):
        parse_outlines('{"Loft": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]}')
