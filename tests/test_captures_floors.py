"""Several floors in one text, and sets of outlines that cannot be one floor."""

from __future__ import annotations

import itertools
import json

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import LONG, ROOMS, SQUARE, same

UPSTAIRS = [
    ("kiln", [[x, y + 1400] for x, y in SQUARE]),
    ("loft", [[x, y + 4500] for x, y in LONG]),
]


@pytest.mark.parametrize(
    "text",
    [
        json.dumps(
            {
                "floors": [
                    {"name": "ground", "cells": [{"name": n, "rim": r} for n, r in ROOMS.items()]},
                    {"name": "upper", "cells": [{"name": n, "rim": r} for n, r in UPSTAIRS]},
                ]
            }
        ),
        "\n".join(
            ["floor,room,x,y"]
            + [f"ground,{n},{x},{y}" for n, r in ROOMS.items() for x, y in r]
            + [f"upper,{n},{x},{y}" for n, r in UPSTAIRS for x, y in r]
        ),
        f"== ground ==\nkiln: {SQUARE}\nglazing: {LONG}\n\n== upper ==\n"
        + "\n".join(f"{n}: {r}" for n, r in UPSTAIRS),
    ],
    ids=["document", "table", "headings"],
)
def test_a_room_upstairs_of_the_same_name_is_another_one(text: str) -> None:
    with pytest.raises(OutlineError, match="2 floors lie on each other"):
        parse_outlines(text)
    assert same(parse_outlines(text, key="ground"), ROOMS)


@pytest.mark.parametrize("key", ["floors", "levels"])
def test_storeys_without_names_are_told_apart_by_their_places(key: str) -> None:
    storeys = [
        {"cells": [{"name": n, "rim": r} for n, r in rooms]} for rooms in (ROOMS.items(), UPSTAIRS)
    ]
    text = json.dumps({"height": 2600, key: storeys})
    with pytest.raises(OutlineError, match=r"2 floors .*key='floor 1', key='floor 2'"):
        parse_outlines(text)
    assert same(parse_outlines(text, key="floor 2"), dict(UPSTAIRS))
    assert same(parse_outlines(json.dumps({key: storeys[:1]})), ROOMS)


def test_a_floor_is_not_mixed_with_another_that_lies_on_one_of_its_rooms() -> None:
    ground = ROOMS | {"yard": [[x * 4 - 20000, y * 4] for x, y in SQUARE]}
    upper = {"loft": LONG, "terrace": [[x * 4 + 20000, y * 4] for x, y in SQUARE]}
    with pytest.raises(OutlineError, match="2 floors lie on each other"):
        parse_outlines(json.dumps({"ground": {"rooms": ground}, "upper": {"rooms": upper}}))


# --- outlines that lie on each other -------------------------------------------------------------

TERRACE = [[0, 3100], [9000, 3100], [9000, 5000], [0, 5000]]
HOUSE = ROOMS | {"terrace": TERRACE, "sink": [[x + 9100, y] for x, y in SQUARE]}


@pytest.mark.parametrize("count", [3, 4])
def test_rooms_told_from_their_own_corner_are_no_floor(count: int) -> None:
    own = {
        name: [[x - ring[0][0], y - ring[0][1]] for x, y in ring]
        for name, ring in list(HOUSE.items())[:count]
    }
    for text in (
        json.dumps({"rooms": own}),
        json.dumps([{"name": name, "ring": ring} for name, ring in own.items()]),
    ):
        with pytest.raises(OutlineError, match="most of the outlines lie on each other"):
            parse_outlines(text)


def test_small_things_on_rooms_may_be_more_than_the_rooms() -> None:
    things = {f"crate {at}": [[at, at], [at + 300, at], [at + 300, at + 300]] for at in range(9)}
    text = json.dumps([{"name": n, "ring": r} for n, r in (HOUSE | things).items()])
    assert same(parse_outlines(text), HOUSE)


@pytest.mark.parametrize("word", ["deltas", "moves", "rel_points", "stepsFromLast"])
def test_ways_from_corner_to_corner_are_walked_or_are_no_corners(word: str) -> None:
    ways = {
        name: [[b[0] - a[0], b[1] - a[1]] for a, b in itertools.pairwise(ring)]
        for name, ring in HOUSE.items()
    }
    starts = {name: ring[0] for name, ring in HOUSE.items()}
    text = json.dumps([{"name": n, "start": starts[n], word: ways[n]} for n in HOUSE])
    lines = "\n".join(f"{n} start={starts[n]} {word}={ways[n]}" for n in HOUSE)
    if word != "rel_points":
        assert same(parse_outlines(text), HOUSE)
        assert same(parse_outlines(lines), HOUSE)
        return
    for told in (text, lines):
        with pytest.raises(OutlineError):
            parse_outlines(told)


@pytest.mark.parametrize(
    "header",
    ["cell,range,bearing", "cell,distance_mm,azimuth", "cell,dx,dy", "cell,step_1,step_2"],
)
def test_columns_that_say_they_are_no_coordinates_are_none(header: str) -> None:
    rows = [f"{name},{x},{y}" for name, ring in HOUSE.items() for x, y in ring]
    assert same(parse_outlines("\n".join(["cell,east,north", *rows])), HOUSE)
    with pytest.raises(OutlineError):
        parse_outlines("\n".join([header, *rows]))


# --- rooms that are told as boxes ----------------------------------------------------------------


@pytest.mark.parametrize(
    "names", ["minX minY maxX maxY", "x_min y_min x_max y_max", "ymax xmin xmax ymin"]
)
def test_boxes_are_rooms_where_nothing_else_is_told(names: str) -> None:
    boxes = []
    for name, ((x0, y0), _, (x1, y1), _) in HOUSE.items():
        ends = {"xmin": x0, "minx": x0, "ymin": y0, "miny": y0, "xmax": x1, "maxx": x1, "ymax": y1}
        ends["maxy"] = y1
        sides = {key: ends[key.replace("_", "").lower()] for key in names.split()}
        boxes.append({"title": name} | sides)
    for text in (json.dumps(boxes), json.dumps({"rooms": boxes}, indent=1)):
        assert same(parse_outlines(text), HOUSE)
    rim = {"rooms": [{"title": n, "rim": r} for n, r in HOUSE.items()], "boxes": boxes}
    assert same(parse_outlines(json.dumps(rim)), HOUSE)


def test_boxes_by_two_corners() -> None:
    boxes = [{"title": n, "min": r[0], "max": r[2], "seen": 3} for n, r in HOUSE.items()]
    assert same(parse_outlines(json.dumps(boxes)), HOUSE)
    inner = [{"title": b["title"], "bounds": {"min": b["min"], "max": b["max"]}} for b in boxes]
    assert same(parse_outlines(json.dumps(inner)), HOUSE)
    driven = {"path": [[at, at * at % 977] for at in range(40)]}
    assert same(parse_outlines(json.dumps({"cells": boxes} | driven)), HOUSE)
    for other in ("obstacles", "no_go_zones"):
        with pytest.raises(OutlineError):
            parse_outlines(json.dumps({other: boxes} | driven))
    with pytest.raises(OutlineError):
        parse_outlines(json.dumps(boxes[:1]))
    with pytest.raises(OutlineError):
        parse_outlines(json.dumps({"speed": [{"min": [9, 8], "max": [7, 6]}] * 3}))


@pytest.mark.parametrize("key", ["map", "map_id", "plan no"])
def test_maps_of_two_numbers_are_not_one_floor_wherever_they_lie(key: str) -> None:
    lines = [
        json.dumps({key: number, "name": f"{name} {number}", "rim": [[x + by, y] for x, y in ring]})
        for number, by in ((1, 0), (2, 90_000))
        for name, ring in ROOMS.items()
    ]
    with pytest.raises(OutlineError, match="2 floors stand in one text"):
        parse_outlines("\n".join(lines))
    assert len(parse_outlines("\n".join(lines), key="2")) == len(ROOMS)


def test_floors_of_two_robots_are_two() -> None:
    lines = [
        f"10:0{at} site/robot-{robot}/cells "
        + json.dumps({"name": f"{name} {robot}", "rim": [[x + by, y] for x, y in ring]})
        for robot, by in (("north", 0), ("south", 70_000))
        for at, (name, ring) in enumerate(ROOMS.items())
    ]
    with pytest.raises(OutlineError, match="2 floors stand in one text"):
        parse_outlines("\n".join(lines))
    assert len(parse_outlines("\n".join(lines), key="robot-south")) == len(ROOMS)
