"""Rows of databases, mail, and corners of several outlines that are told at once."""

from __future__ import annotations

import itertools
import json
import quopri

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import ROOMS, rings_of, same

CORNERS = [(name, at, x, y) for name, ring in ROOMS.items() for at, (x, y) in enumerate(ring)]


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(f"INSERT INTO corner (cell, at, pos_y, pos_x) VALUES ('{n}', {i}, {y}, {x});"
                  for n, i, x, y in CORNERS),
        "INSERT INTO plan.corner(cell, y, x) VALUES\n"
        + ",\n".join(f"  ('{n}', {y}, {x})" for n, _, x, y in CORNERS) + ";",
        'CREATE TABLE "corner" (cell TEXT, at INT, y REAL, x REAL, PRIMARY KEY (cell, at));\n'
        + "\n".join(f"INSERT INTO \"corner\" VALUES('{n}',{i},{y}.0,{x}.0);"
                    for n, i, x, y in CORNERS),
        "COPY public.corner (cell, at, y, x) FROM stdin;\n"
        + "\n".join(f"{n}\t{i}\t{y}\t{x}" for n, i, x, y in CORNERS) + "\n\\.\n",
    ],
    ids=["a row each", "rows of one statement", "columns of the table", "copied"],
)  # fmt: skip
def test_rows_of_a_database_have_the_names_of_their_columns(text: str) -> None:
    assert same(parse_outlines(text), ROOMS)


def test_a_row_may_hold_text_in_quotes_brackets_and_calls() -> None:
    rims = [", ".join(f"{x} {y}" for x, y in ring) for ring in ROOMS.values()]
    rows = ",\n".join(
        f"({at},'the {n}''s, (cell)',AsPlace('POLYGON(({rim}))'))"
        for at, (n, rim) in enumerate(zip(ROOMS, rims, strict=True))
    )
    found = parse_outlines(f"INSERT INTO `cells` (`no`,`name`,`rim`) VALUES\n{rows};")
    assert list(rings_of(found).values()) == [*ROOMS.values()]


def test_rows_of_other_lengths_than_their_columns_stay_as_they_are() -> None:
    text = "INSERT INTO cells (name, rim) VALUES ('kiln', '0 0', 3);\n"
    rooms = "\n".join(f"{n}: {r}" for n, r in ROOMS.items())
    assert same(parse_outlines(text + rooms), ROOMS)


@pytest.mark.parametrize("end", ["", "\n--part--\n"])
def test_mail_is_read_as_it_was_written(end: str) -> None:
    text = "Gr\u00fc\u00dfe:\n" + "\n".join(f"{n} = {json.dumps(r)}" for n, r in ROOMS.items())
    body = quopri.encodestring((text.replace(", ", " , ")).encode()).decode()
    head = "Subject: rims\nContent-Transfer-Encoding: quoted-printable\nX-Kiln: 3\n\n"
    assert same(parse_outlines(head + body + end), ROOMS)


def test_fields_with_numbers_alone_are_read() -> None:
    cells = "\n".join(
        f'5 {{\n  1: {at}\n  2: "{n}"\n  3: 17\n'
        + "\n".join(f"  4 {{\n    1: {x}\n    2: {y}\n  }}" for x, y in ring)
        + "\n}"
        for at, (n, ring) in enumerate(ROOMS.items())
    )
    assert same(parse_outlines(f"1: 7\n{cells}\n"), ROOMS)


def test_numbers_on_lines_of_their_own_are_no_lengths_of_chunks() -> None:
    many = {
        f"{n} {k}": [[x + 20000 * k, y] for x, y in r] for n, r in ROOMS.items() for k in range(6)
    }
    drawing = "0\nSECTION\n2\nENTITIES\n"
    for name, ring in many.items():
        corners = "".join(f"10\n{x}.0\n20\n{y}.0\n" for x, y in ring)
        drawing += f"0\nLWPOLYLINE\n8\n{name}\n90\n4\n70\n1\n{corners}"
    assert len(parse_outlines(drawing + "0\nENDSEC\n0\nEOF\n")) == 12


# --- outlines told at once -----------------------------------------------------------------------

MIXED = [CORNERS[at] for at in (0, 4, 1, 2, 5, 6, 3, 7)]


@pytest.mark.parametrize(
    "line",
    [
        "[{0}] corner at ({2}, {3})",
        "{0}: ({2}, {3})",
        "[{0}] x={2} y={3}",
        "09:{1:02d} {0}: {2}, {3}",
    ],
)
def test_corners_of_several_outlines_come_by_turns(line: str) -> None:
    text = "\n".join(line.format(*corner) for corner in MIXED)
    assert {tuple(map(tuple, r)) for r in rings_of(parse_outlines(text)).values()} == {
        tuple((float(x), float(y)) for x, y in ring) for ring in ROOMS.values()
    }


def test_names_of_corners_are_no_names_of_rooms() -> None:
    names = ("south west", "south east", "north east", "north west")
    text = "\n".join(
        f"{corner}: {x}, {y}"
        for ring in ROOMS.values()
        for corner, (x, y) in zip(names, ring, strict=True)
    )
    try:
        found = parse_outlines(text)
    except OutlineError:
        return
    assert {tuple(map(tuple, r)) for r in rings_of(found).values()} <= {
        tuple((float(x), float(y)) for x, y in ring) for ring in ROOMS.values()
    }


def test_cells_of_a_page_that_are_left_empty_mean_the_one_above() -> None:
    rows = "".join(
        f"<tr><td>{'' if at else n}</td><td>{at}</td><td>{x}</td><td>{y}</td></tr>"
        for n, at, x, y in CORNERS
    )
    head = "<tr><th>cell</th><th>at</th><th>x (mm)</th><th>y (mm)</th></tr>"
    assert same(parse_outlines(f"<table>{head}{rows}</table>"), ROOMS)


# --- robots and steps ----------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["device", "robot_id", "serial"])
def test_each_robot_has_a_frame_of_its_own(key: str) -> None:
    moved = {n: [[-y, x] for x, y in ring] for n, ring in ROOMS.items()}
    lines = [
        json.dumps({key: robot, "cell": n, "rim": ring})
        for robot, rooms in (("pug-1", ROOMS), ("pug-2", moved))
        for n, ring in rooms.items()
    ]
    with pytest.raises(OutlineError, match=r"a robot each.*key='pug-1'"):
        parse_outlines("\n".join(lines))
    assert same(parse_outlines("\n".join(lines), key="pug-1"), ROOMS)
    assert same(parse_outlines("\n".join(lines[:2])), ROOMS)


def test_outlines_that_are_said_to_be_told_by_steps_are_refused() -> None:
    steps = {
        n: [ring[0], *([c[0] - b[0], c[1] - b[1]] for b, c in itertools.pairwise(ring))]
        for n, ring in ROOMS.items()
    }
    with pytest.raises(OutlineError, match=r"step by step \(encoding: delta\)"):
        parse_outlines(json.dumps({"encoding": "delta", "cells": steps}))
    assert same(parse_outlines(json.dumps({"encoding": "plain", "cells": ROOMS})), ROOMS)
