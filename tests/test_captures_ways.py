"""Driven paths beside the rooms: told apart by their type, by words, and by how they run."""

from __future__ import annotations

import json

import numpy as np
import pytest

from benchmarks.captures import made_rooms
from benchmarks.spellings import SPELLINGS
from regmap.inputs.captures import list_candidates, parse_outlines

Ring = list[list[int]]

ROOMS: dict[str, Ring] = {
    "kiln": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "glazing": [[4100, 0], [9000, 0], [9000, 3000], [4100, 3000]],
    "drying": [[0, 3100], [9000, 3100], [9000, 5000], [0, 5000]],
}
LOOP: Ring = [[0, 9000], [3000, 9000], [3000, 11000], [500, 11500], [0, 10000]]
"""A way around something in the garden: it does not cross itself."""


def wkt(kind: str, ring: Ring) -> str:
    points = ", ".join(f"{x} {y}" for x, y in ring)
    return f"{kind}(({points}))" if kind.startswith("POLYGON") else f"{kind}({points})"


def table(way: str, called: str, space: str = " ") -> str:
    rows = [f"{n}|{wkt('POLYGON' + space, [*ring, ring[0]])}" for n, ring in ROOMS.items()]
    return "\n".join(["name|geometry", *rows, f"{called}|{way}"])


@pytest.mark.parametrize("called", ["driven", "tour", "Trail", "7"])
@pytest.mark.parametrize("kind", ["LINESTRING ", "LINESTRING", "LINESTRING Z ", "linestring "])
def test_where_areas_are_typed_a_line_is_no_room(called: str, kind: str) -> None:
    way = [[x, y, 0] for x, y in LOOP] if "Z" in kind else LOOP
    points = ", ".join(" ".join(map(str, point)) for point in way)
    space = " " if kind.endswith(" ") else ""
    assert set(parse_outlines(table(f"{kind}({points})", called, space))) == set(ROOMS)


def test_a_line_that_crosses_itself_speaks_against_no_room() -> None:
    way = wkt("LINESTRING ", [[0, 0], [9000, 5000], [9000, 0], [0, 5000]])
    assert set(parse_outlines(table(way, "tour"))) == set(ROOMS)


def test_geojson_types_lines_too() -> None:
    def feature(name: str, kind: str, places: object) -> dict[str, object]:
        geometry = {"type": kind, "coordinates": places}
        return {"type": "Feature", "properties": {"name": name}, "geometry": geometry}

    features = [feature(n, "Polygon", [[*ring, ring[0]]]) for n, ring in ROOMS.items()]
    features.append(feature("tour", "LineString", LOOP))
    text = json.dumps({"type": "FeatureCollection", "features": features})
    assert set(parse_outlines(text)) == set(ROOMS)


def test_rooms_that_are_drawn_as_closed_lines_stay() -> None:
    rows = [f"{n}|{wkt('LINESTRING ', [*ring, ring[0]])}" for n, ring in ROOMS.items()]
    assert set(parse_outlines("\n".join(["name|geometry", *rows]))) == set(ROOMS)
    barred = wkt("POLYGON ", [[100, 100], [900, 100], [900, 900], [100, 900], [100, 100]])
    assert set(parse_outlines("\n".join(["name|geometry", *rows, f"no-go|{barred}"]))) == set(ROOMS)


def test_a_line_that_is_asked_for_is_given() -> None:
    text = table(wkt("LINESTRING ", LOOP), "tour")
    assert "tour" in {one.name for one in list_candidates(text)}


def semicolons(ring: Ring) -> str:
    return ";".join(f"{x},{y}" for x, y in ring)


def test_a_word_for_a_way_names_no_room_where_the_rooms_have_names() -> None:
    rows = [f'room name="{n}" ring={semicolons(ring)}' for n, ring in ROOMS.items()]
    text = "\n".join([*rows, f"path ring={semicolons(LOOP)}"])
    assert set(parse_outlines(text)) == set(ROOMS)


@pytest.mark.parametrize("called", ["Dock", "Station"])
def test_a_room_called_by_a_place_stays(called: str) -> None:
    rooms = {**ROOMS, called: [[9100, 0], [12000, 0], [12000, 3000], [9100, 3000]]}
    rows = [f"{n}: {semicolons(ring)}" for n, ring in rooms.items()]
    assert set(parse_outlines("\n".join(rows))) == set(rooms)


@pytest.mark.parametrize("spelling", ["well known text", "a room a line"])
@pytest.mark.parametrize("seed", [5, 9, 13])
def test_a_walk_outside_of_all_rooms_is_none(spelling: str, seed: int) -> None:
    rooms = made_rooms(seed, 0)
    text = SPELLINGS[spelling](rooms, np.random.default_rng([seed, 0]))
    assert set(parse_outlines(text)) == set(rooms)


@pytest.mark.parametrize("mark", [" ", ":", ", "])
@pytest.mark.parametrize("before", ["", "10:00:01 rx "])
def test_a_text_told_byte_by_byte_is_read(before: str, mark: str) -> None:
    text = json.dumps({"rooms": [{"name": n, "rim": r} for n, r in ROOMS.items()]})
    octets = mark.join(f"{byte:02x}" for byte in text.encode())
    assert set(parse_outlines(before + octets)) == set(ROOMS)
