"""Tables and rows: names in first rows alone, columns of all names, walls, grouped digits."""

from __future__ import annotations

import json
from typing import Any

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, stamp, walk

__all__: list[str] = []


def feature(
    props: dict[str, Any], kind: str, coords: Any, *, after: bool = False
) -> dict[str, Any]:
    if after:
        return {
            "type": "Feature",
            "geometry": {"type": kind, "coordinates": coords},
            "properties": props,
        }
    return {
        "type": "Feature",
        "properties": props,
        "geometry": {"type": kind, "coordinates": coords},
    }


@captured("A")
def geojson_kinds(rooms: Rooms, rng: Generator) -> Written:
    fs = [
        feature({"id": i, "label": n, "kind": "room"}, "Polygon", [plain([*r, r[0]])])
        for i, (n, r) in enumerate(rooms.items())
    ]
    b = box(rooms, rng)
    fs += [
        feature({"id": 90, "label": "no entry", "kind": "keepout"}, "Polygon", [[*b, b[0]]]),
        feature({"kind": "track"}, "LineString", walk(rooms, rng)),
        feature({"kind": "dock"}, "Point", [3, 4]),
    ]
    return json.dumps({"type": "FeatureCollection", "features": fs}, indent=1, ensure_ascii=False)


@captured("A")
def geojson_multi_3d(rooms: Rooms, rng: Generator) -> Written:
    fs = [
        feature(
            {"bezeichnung": n, "hoehe": 2.5},
            "MultiPolygon",
            [[[[x, y, 0.0] for x, y in [*r, r[0]]]]],
            after=True,
        )
        for n, r in rooms.items()
    ]
    return json.dumps(
        {"type": "FeatureCollection", "bbox": [0, 0, 0, 10000, 8000, 0], "features": fs},
        ensure_ascii=False,
    )


@captured("A")
def csv_name_first_row(rooms: Rooms, rng: Generator) -> Written:
    out = ["room,x,y"]
    for n, r in rooms.items():
        out += [f"{n if i == 0 else ''},{num(x)},{num(y)}" for i, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("A")
def csv_german_surveyor(rooms: Rooms, rng: Generator) -> Written:
    out = ["Bereich;Nr;Rechtswert;Hochwert;Bemerkung"]
    for n, r in rooms.items():
        out += [
            f"{n};{i + 1};{x / 1000:.4f};{y / 1000:.4f};".replace(".", ",")
            if False
            else f"{n};{i + 1};" + f"{x / 1000:.4f};{y / 1000:.4f}".replace(".", ",") + ";"
            for i, (x, y) in enumerate(r)
        ]
    return "\n".join(out).encode("cp1252")


@captured("A")
def csv_first_row_excel(rooms: Rooms, rng: Generator) -> Written:
    out = ["sep=;", "Raum;Ecke;X [m];Y [m]"]
    for n, r in rooms.items():
        out += [
            f"{n if i == 0 else ''};{i + 1};" + f"{x / 1000:.4f};{y / 1000:.4f}".replace(".", ",")
            for i, (x, y) in enumerate(r)
        ]
    return b"\xef\xbb\xbf" + "\r\n".join(out).encode()


@captured("A")
def csv_wide(rooms: Rooms, rng: Generator) -> Written:
    k = max(len(r) for r in rooms.values())
    out = ["name," + ",".join(f"x{i},y{i}" for i in range(1, k + 1))]
    for n, r in rooms.items():
        out.append(
            n + "," + ",".join(f"{num(x)},{num(y)}" for x, y in r) + "," * (2 * (k - len(r)))
        )
    return "\n".join(out)


@captured("A")
def csv_cell_of_pairs(rooms: Rooms, rng: Generator) -> Written:
    out = ["name;area_m2;corners"]
    for n, r in rooms.items():
        out.append(f"{n};{rng.uniform(5, 30):.1f};" + " ".join(f"{num(x)},{num(y)}" for x, y in r))
    return "\n".join(out)


@captured("A")
def two_tables(rooms: Rooms, rng: Generator) -> Written:
    out = ["# rooms", "id,name,colour"]
    out += [f"{40 + i},{n},blue" for i, n in enumerate(rooms)]
    out += ["", "# corners", "room_id,seq,x,y"]
    for i, r in enumerate(rooms.values()):
        out += [f"{40 + i},{k},{num(x)},{num(y)}" for k, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("A")
def sql_inserts(rooms: Rooms, rng: Generator) -> Written:
    out = [
        "CREATE TABLE spaces (id INTEGER PRIMARY KEY, name TEXT);",
        "CREATE TABLE corner (space INTEGER, ord INTEGER, x REAL, y REAL);",
    ]
    out += [f"INSERT INTO spaces VALUES ({i + 1}, '{n}');" for i, n in enumerate(rooms)]
    for i, r in enumerate(rooms.values()):
        out += [
            f"INSERT INTO corner VALUES ({i + 1}, {k}, {num(x)}, {num(y)});"
            for k, (x, y) in enumerate(r)
        ]
    return "\n".join(out)


@captured("A")
def logfmt(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            f'ts={stamp(i)} lvl=info room="{n}" corner={k} x={num(x)} y={num(y)}'
            for k, (x, y) in enumerate(r)
        ]
    return "\n".join(out)


@captured("A")
def capitals_with_colons(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"== {n} ==")
        out += [f"X:{num(x)} Y:{num(y)}" for x, y in r]
    return "\n".join(out)


@captured("A")
def arrows_in_a_line(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n}: " + " -> ".join(f"({num(x)},{num(y)})" for x, y in r) for n, r in rooms.items()
    )


@captured("A")
def walls_as_rows(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"{n}:")
        out += [
            f"  ({num(a[0])},{num(a[1])}) -> ({num(b[0])},{num(b[1])})"
            for a, b in zip(r, [*r[1:], r[0]], strict=False)
        ]
    return "\n".join(out)


@captured("A")
def walls_as_objects(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "rooms": [
            {
                "name": n,
                "walls": [
                    {"from": [*a], "to": [*b]} for a, b in zip(r, [*r[1:], r[0]], strict=False)
                ],
            }
            for n, r in rooms.items()
        ]
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def bars(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{i}\t{n}\t" + "|".join(f"{num(x)},{num(y)}" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("A")
def thousands(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"Room: {n}")
        out += [f"  {k + 1}.  x = {x:,.1f} mm   y = {y:,.1f} mm" for k, (x, y) in enumerate(r)]
        out.append("")
    return "\n".join(out)


@captured("A")
def thousands_in_a_table(rooms: Rooms, rng: Generator) -> Written:
    out = ["room\tx mm\ty mm"]
    for n, r in rooms.items():
        out += [f"{n}\t{x:,.1f}\t{y:,.1f}" for x, y in r]
    return "\n".join(out)


@captured("A")
def thousands_swiss(rooms: Rooms, rng: Generator) -> Written:
    out = ["| Raum | x | y |", "|---|---|---|"]
    for n, r in rooms.items():
        out += [f"| {n} | {x:,.1f} | {y:,.1f} |".replace(",", "'") for x, y in r]
    return "\n".join(out)


@captured("A")
def exponents(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        json.dumps(n, ensure_ascii=False) + " " + " ".join(f"[{x:.6e} {y:.6e}]" for x, y in r)
        for n, r in rooms.items()
    )
