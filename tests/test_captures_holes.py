"""Rings inside rooms, and outlines told twice, in tables and lists."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest
import shapely

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import LONG, ROOMS, SQUARE, rings_of, same

STOVE = [[1000, 1000], [1800, 1000], [1800, 1900], [1000, 1900]]
AWAY = STOVE[::-1]
WALLED = {
    "kiln": [[-60, -60], [4050, -60], [4050, 3060], [-60, 3060]],
    "glazing": [[4050, -60], [9060, -60], [9060, 3060], [4050, 3060]],
}

Ring = Sequence[Sequence[int]]


def rows_of(mark: str, name: str, text: str, ring: Ring, *, closed: bool = False) -> list[str]:
    return [mark.join(map(str, (name, text, *p))) for p in [*ring, *(ring[:1] if closed else [])]]


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("stove", [STOVE, AWAY], ids=["as turned", "against"])
@pytest.mark.parametrize(
    ("key", "outer", "inner"),
    [
        ("ring", "outer", "inner"),
        ("is_hole", "0", "1"),
        ("part", "1", "2"),
        ("type", "rim", "hole"),
    ],
)
@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_column_tells_rings_inside(
    mark: str, key: str, outer: str, inner: str, stove: Ring, closed: bool
) -> None:
    rows = [
        mark.join(("cell", key, "x", "y")),
        *rows_of(mark, "kiln", outer, SQUARE, closed=closed),
        *rows_of(mark, "kiln", inner, stove, closed=closed),
        *rows_of(mark, "glazing", outer, LONG, closed=closed),
    ]
    found = parse_outlines("\n".join(rows) + "\n")
    assert found["kiln"].equals(shapely.Polygon(SQUARE, [STOVE]))
    assert found["glazing"].equals(shapely.Polygon(LONG))


@pytest.mark.parametrize(("key", "text"), [("kind", "no_go"), ("layer", "rug"), ("nogo", "1")])
def test_things_in_a_room_are_no_holes(key: str, text: str) -> None:
    rows = [f"cell,{key},x,y"]
    for name, ring in ROOMS.items():
        rows += rows_of(",", name, "0" if text == "1" else "cell", ring)
        rows += rows_of(",", name, text, STOVE) if name == "kiln" else []
    found = parse_outlines("\n".join(rows))
    assert not any(len(room.interiors) for room in found.values())
    assert found["glazing"].equals(shapely.Polygon(LONG))


def test_what_is_said_of_single_corners_makes_no_hole() -> None:
    bay = [[0, 0], [4000, 0], [4000, 3000], [2500, 3000], [2500, 2000], [1500, 2000], [1500, 3000],
           [0, 3000]]  # fmt: skip
    rooms = {"kiln": bay, "glazing": LONG}
    rows = [
        f"{name},{'low' if 3 <= at <= 6 and name == 'kiln' else 'high'},{x},{y}"
        for name, ring in rooms.items()
        for at, (x, y) in enumerate(ring)
    ]
    assert same(parse_outlines("\n".join(["cell,quality,x,y", *rows])), rooms)


def test_floors_of_a_table_do_not_meet_in_a_room_of_one_name() -> None:
    upper = {"glazing": [[0, 0], [3000, 0], [3000, 3000], [0, 3000]], "loft": LONG}
    rows = [
        f"{floor},{name},{x},{y}"
        for floor, rooms in (("ground", ROOMS), ("upper", upper))
        for name, ring in rooms.items()
        for x, y in ring
    ]
    text = "\n".join(["level,cell,x,y", *rows])
    with pytest.raises(OutlineError, match="2 floors lie on each other"):
        parse_outlines(text)
    assert same(parse_outlines(text, key="ground"), ROOMS)
    assert same(parse_outlines(text, key="upper"), upper)


def test_an_outline_of_the_walls_is_no_ring_around_a_room() -> None:
    rows = ["cell,contour,x,y"]
    for name, ring in ROOMS.items():
        rows += rows_of(",", name, "outer", WALLED[name]) + rows_of(",", name, "inner", ring)
    assert same(parse_outlines("\n".join(rows)), WALLED)
    cells = [{"name": name, "rims": [WALLED[name], ring]} for name, ring in ROOMS.items()]
    assert same(parse_outlines(json.dumps(cells)), WALLED)


def test_a_walk_around_a_block_keeps_its_hole() -> None:
    block = [[1200, 1200], [2800, 1200], [2800, 1800], [1200, 1800]]
    cells = [{"name": "kiln", "rims": [SQUARE, block]}, {"name": "glazing", "rims": [LONG]}]
    found = parse_outlines(json.dumps(cells))
    assert found["kiln"].equals(shapely.Polygon(SQUARE, [block]))


def test_a_column_may_mark_rings_inside_and_leave_the_others_empty() -> None:
    rows = [*rows_of(",", "kiln", "", SQUARE), *rows_of(",", "kiln", "x", STOVE)]
    rows += rows_of(",", "glazing", "", LONG)
    found = parse_outlines("\n".join(["cell,inner ring,x,y", *rows]))
    assert found["kiln"].equals(shapely.Polygon(SQUARE, [STOVE]))
    assert found["glazing"].equals(shapely.Polygon(LONG))


# --- layouts of tables ---------------------------------------------------------------------------


def test_rooms_stand_beside_each_other_below_two_lines_of_names() -> None:
    rooms = {"kiln": SQUARE, "yard": [[0, 3100], [9000, 3100], [4000, 6000]]}
    rows = [";".join(f"{n};" for n in rooms)[:-1] + ";", "x;y;x;y"]
    rows += [
        ";".join(f"{r[at][0]};{r[at][1]}" if at < len(r) else ";" for r in rooms.values())
        for at in range(4)
    ]
    assert same(parse_outlines("\n".join(rows)), rooms)


def test_numbered_columns_hold_an_outline_each_or_a_corner_each() -> None:
    yard = [[0, 3100], [4000, 3100], [4000, 6000], [0, 6000]]
    pond = [[4100, 3100], [9000, 3100], [9000, 6000], [4100, 6000]]
    rings = [SQUARE, LONG, yard, pond]
    head = ",".join(f"x{n},y{n}" for n in range(1, 5))
    flat = [",".join(f"{x},{y}" for x, y in ring) for ring in rings]
    across = [",".join(f"{ring[at][0]},{ring[at][1]}" for ring in rings) for at in range(4)]
    wanted = sorted(shapely.Polygon(ring).normalize().wkt for ring in rings)
    for first, rows in (("cell", flat), ("corner", across)):
        text = "\n".join([f"{first},{head}", *(f"{n},{row}" for n, row in enumerate(rows, 1))])
        found = parse_outlines(text)
        assert sorted(room.normalize().wkt for room in found.values()) == wanted


@pytest.mark.parametrize(("x", "y"), [("E", "N"), ("Ost", "Nord"), ("col", "row")])
def test_columns_of_the_compass_and_of_grids_tell_x_and_y(x: str, y: str) -> None:
    rows = [f"{n},{b},{a}" for n, ring in ROOMS.items() for a, b in ring]
    assert same(parse_outlines("\n".join([f"cell,{y},{x}", *rows])), ROOMS)


@pytest.mark.parametrize("order", ["xy", "yx"])
def test_a_row_of_all_x_and_one_of_all_y_stand_below_a_name(order: str) -> None:
    rows = []
    for name, ring in ROOMS.items():
        told = {"x": [p[0] for p in ring], "y": [p[1] for p in ring]}
        rows += [name, *(f"{which};{';'.join(map(str, told[which]))}" for which in order), ""]
    assert same(parse_outlines("\n".join(rows)), ROOMS)


@pytest.mark.parametrize("names", [True, False])
def test_columns_keep_their_names_below_an_empty_line(names: bool) -> None:
    blocks = [
        "".join(f"{n + ',' if names else ''}{y},{x}\n" for x, y in ring)
        for n, ring in ROOMS.items()
    ]
    text = ("name,y,x\n" if names else "y,x\n") + "\n".join(blocks)
    found = parse_outlines(text + "\nmade by hand, 3 of 4\n")
    assert [*rings_of(found).values()] == [*ROOMS.values()]
    assert not names or set(found) == set(ROOMS)


def test_paths_with_curves_are_no_corners() -> None:
    arcs = "".join(
        f'<path id="{n}" d="M{a} {b} L{c} {d} A 500 500 0 0 1 {e} {f} L{g} {h} Z"/>'
        for n, ((a, b), (c, d), (e, f), (g, h)) in ROOMS.items()
    )
    with pytest.raises(OutlineError, match="no room outlines"):
        parse_outlines(f"<svg>{arcs}</svg>")
    straight = arcs.replace("A 500 500 0 0 1 ", "L")
    assert same(parse_outlines(f"<svg>{straight}</svg>"), ROOMS)
