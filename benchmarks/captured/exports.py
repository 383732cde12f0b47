"""Scripts, headers, rows of points, records of points, renamed rooms, many obstacles."""

from __future__ import annotations

import html
import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, stamp

__all__: list[str] = []


@captured("D")
def c_header(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            f"/* {n} */",
            f"static const float room_{i}[{len(r)}][2] = {{",
            *[f"    {{{x:.1f}f, {y:.1f}f}}," for x, y in r],
            "};",
            "",
        ]
    return "\n".join(out)


@captured("D")
def tuple_rows(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out += [f"('{n}', {i}, {num(x)}, {num(y)})," for i, (x, y) in enumerate(r)]
    return "[" + "\n ".join(out) + "]"


@captured("D")
def json_rows(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        [
            {"room": n, "n": i, "east_mm": x, "north_mm": y}
            for n, r in rooms.items()
            for i, (x, y) in enumerate(r)
        ],
        ensure_ascii=False,
    )


@captured("D")
def json_columns_table(rooms: Rooms, rng: Generator) -> Written:
    rows = [(n, i, x, y) for n, r in rooms.items() for i, (x, y) in enumerate(r)]
    return json.dumps({"columns": ["room", "i", "x", "y"], "data": rows}, ensure_ascii=False)


@captured("D")
def jsonl_points(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        json.dumps({"t": 1990000000 + i, "room": n, "x": x, "y": y}, ensure_ascii=False)
        for n, r in rooms.items()
        for i, (x, y) in enumerate(r)
    )


@captured("D")
def english_report(rooms: Rooms, rng: Generator) -> Written:
    return "FLOOR REPORT\n============\n\n" + "\n\n".join(
        f"{i + 1}. {n}\n   Corners: "
        + "; ".join(f"({num(x)}, {num(y)})" for x, y in r)
        + f"\n   Area: {rng.uniform(4, 30):.1f} m2"
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("D")
def dutch_lines(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"Kamer: {n} | Hoeken: " + " ".join(f"{num(x)};{num(y)}" for x, y in r) + " | Vloer: hout"
        for n, r in rooms.items()
    )


@captured("D")
def french_csv_first_only(rooms: Rooms, rng: Generator) -> Written:
    out = ["Pièce;Sommet;Abscisse;Ordonnée"]
    for n, r in rooms.items():
        out += [
            f"{n if i == 0 else ''};S{i + 1};" + f"{x:.1f};{y:.1f}".replace(".", ",")
            for i, (x, y) in enumerate(r)
        ]
    return "\n".join(out)


@captured("D")
def psql_points(rooms: Rooms, rng: Generator) -> Written:
    out = ["    room     | seq |     x     |     y", "-------------+-----+-----------+-----------"]
    for n, r in rooms.items():
        out += [f" {n:<12}| {i:3d} | {x:9.1f} | {y:9.1f}" for i, (x, y) in enumerate(r)]
    return "\n".join(out) + f"\n({sum(map(len, rooms.values()))} rows)\n"


@captured("D")
def wkt_with_kinds(rooms: Rooms, rng: Generator) -> Written:
    out = ["kind|name|wkt"]
    out += [
        f"room|{n}|POLYGON((" + ",".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]]) + "))"
        for n, r in rooms.items()
    ]
    out += [
        "nogo||POLYGON((" + ",".join(f"{x} {y}" for x, y in [*b, b[0]]) + "))"
        for b in (box(rooms, rng), box(rooms, rng))
    ]
    return "\n".join(out)


@captured("D")
def geojson_lines(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        json.dumps(
            {
                "type": "Feature",
                "id": f"r{i}",
                "geometry": {"type": "Polygon", "coordinates": [plain([*r, r[0]])]},
                "properties": {"titel": n, "stand": stamp(i)},
            },
            ensure_ascii=False,
        )
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("D")
def xml_in_xml_escaped(rooms: Rooms, rng: Generator) -> Written:
    inner = (
        "<rooms>"
        + "".join(
            f'<room name="{html.escape(n)}" pts="'
            + " ".join(f"{num(x)},{num(y)}" for x, y in r)
            + '"/>'
            for n, r in rooms.items()
        )
        + "</rooms>"
    )
    return (
        f"<message id='4'><time>2032-09-01T10:00:00</time><content>{html.escape(inner)}<"
        "/content></message>"
    )


@captured("D")
def repr_of_json_text(rooms: Rooms, rng: Generator) -> Written:
    return (
        "DEBUG:root:payload="
        f"{json.dumps({'rooms': [{'name': n, 'pts': plain(r)} for n, r in rooms.items()]})!r}"
        " len=811"
    )


@captured("D")
def renamed_by_id_table(rooms: Rooms, rng: Generator) -> Written:
    a = json.dumps(
        {
            "map": [
                {"id": i, "name": f"Room {chr(65 + i)}", "edge": plain(r)}
                for i, r in enumerate(rooms.values())
            ]
        }
    )
    b = json.dumps(
        {"event": "renamed", "rooms": [{"id": i, "name": n} for i, n in enumerate(rooms)]},
        ensure_ascii=False,
    )
    return f"{stamp(1)} {a}\n{stamp(2)} {b}"


@captured("D")
def obstacles_far_more(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "objs": [{"k": 3, "v": box(rooms, rng, 150)} for _ in range(60)]
        + [{"k": 1, "nm": n, "v": plain(r)} for n, r in rooms.items()]
    }
    return json.dumps(d, ensure_ascii=False)
