"""Documents: JSON and WKT in cells, Python's and YAML's spelling, TOML."""

from __future__ import annotations

import json

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, walk

__all__: list[str] = []


@captured("A")
def points_in_csv_cells(rooms: Rooms, rng: Generator) -> Written:
    out = ["id,name,area_m2,corners"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f'{i + 1},{n},{10 + i * 1.5:.2f},"{json.dumps(plain(r))}"')
    return "\r\n".join(out) + "\r\n"


@captured("A")
def wkt_in_csv(rooms: Rooms, rng: Generator) -> Written:
    out = ["fid;bezeichnung;geom"]
    for i, (n, r) in enumerate(rooms.items()):
        ring = ", ".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]])
        out.append(f'{i + 1};{n};"POLYGON (({ring}))"')
    return "\n".join(out)


@captured("A")
def numpy_repr(rooms: Rooms, rng: Generator) -> Written:
    np.set_printoptions(suppress=True, threshold=10**6)
    out = []
    for n, r in rooms.items():
        out.append(f"{n!r}: {np.array(r)!r},")
    return "{" + "\n ".join(out) + "}"


@captured("A")
def namedtuples(rooms: Rooms, rng: Generator) -> Written:
    rows = ", ".join(
        f"Cell(no={i}, title={n!r}, border=("
        + ", ".join(f"P(x={x!r}, y={y!r})" for x, y in r)
        + "))"
        for i, (n, r) in enumerate(rooms.items())
    )
    return (
        f"DEBUG:mapper:got Plan(rev=17, cells=[{rows}], home=P(x=12.0, y=44.0), blocked="
        "[Rect(a=P(x=1.0, y=2.0), b=P(x=700.0, y=800.0))])"
    )


@captured("A")
def yaml_flow(rooms: Rooms, rng: Generator) -> Written:
    out = ["version: 2.4.1", "rooms:"]
    for n, r in rooms.items():
        out.append(f"- {{name: {json.dumps(n, ensure_ascii=False)}, ring: {json.dumps(plain(r))}}}")
    out += [
        "keepout:",
        f"- {{name: stairs, ring: {json.dumps(box(rooms, rng))}}}",
        f"- {{name: vase, ring: {json.dumps(box(rooms, rng))}}}",
    ]
    return "\n".join(out)


@captured("A")
def yaml_dashes(rooms: Rooms, rng: Generator) -> Written:
    out = ["# exported", "floor: 1", "spaces:"]
    for n, r in rooms.items():
        out += [f'  - label: "{n}"', "    perimeter:"]
        for x, y in r:
            out += [f"      - - {num(x)}", f"        - {num(y)}"]
    return "\n".join(out) + "\n"


@captured("A")
def toml_tables(rooms: Rooms, rng: Generator) -> Written:
    out = ["title = 'floor'", "rev = 3", ""]
    for n, r in rooms.items():
        out += [
            "[[space]]",
            f"name = {json.dumps(n, ensure_ascii=False)}",
            f"border = {json.dumps(plain(r))}",
            "",
        ]
    out += ["[[taboo]]", f"border = {json.dumps(box(rooms, rng))}", "", "[dock]", "at = [10, 20]"]
    return "\n".join(out)


@captured("A")
def wkt_lines(rooms: Rooms, rng: Generator) -> Written:
    out = [
        f"{n}: POLYGON((" + ",".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]]) + "))"
        for n, r in rooms.items()
    ]
    out.append("track: LINESTRING(" + ",".join(f"{x} {y}" for x, y in walk(rooms, rng)) + ")")
    out.append("home: POINT(12 44)")
    return "\n".join(out)


@captured("A")
def ewkt_table(rooms: Rooms, rng: Generator) -> Written:
    out = [" gid | name | geom ", "-----+------+------"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"  {i + 1} | {n} | SRID=0;POLYGON(("
            + ",".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]])
            + "))"
        )
    out.append(f"({len(rooms)} rows)")
    return "\n".join(out)
