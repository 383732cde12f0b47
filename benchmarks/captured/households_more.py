"""More of what is logged and exported about rooms at home, names and neighbours of many kinds."""

from __future__ import annotations

import base64
import csv
import gzip
import html
import io
import json
import zlib

import numpy as np
from numpy.random import Generator

from benchmarks.captured.households import MIXED
from benchmarks.captured.parts import (
    Rooms,
    Written,
    box,
    captured,
    dump,
    named,
    num,
    plain,
    shrunk,
    stamp,
    two,
    walk,
)
from benchmarks.spellings import clock, semicolons

__all__: list[str] = []

HOMES = (
    "Kitchen", "Room 1", "Office 2", "Mom's Bedroom", "Café", "Master bath", "Flur/Diele", "TV",
    "Zimmer 12", "Stairs (up)", "Dining area", "Bodega",
)  # fmt: skip


def _spaced(ring: list[tuple[float, float]], close: bool = True) -> str:
    return ", ".join(f"{num(x)} {num(y)}" for x, y in (ring + ring[:1] if close else ring))


@captured("H")
def json_utf16_crlf(rooms: Rooms, rng: Generator) -> Written:
    body = {
        "model": "V-200",
        "serial": "0012-3344-9921",
        "rooms": [{"name": n, "polygon": plain(r), "floor_type": 2} for n, r in rooms.items()],
        "obstacles": [{"type": "shoe", "at": p} for p in walk(rooms, rng, 5)],
    }
    return json.dumps(body, indent=1).replace("\n", "\r\n").encode("utf-16")


@captured("H")
def quoted_names_in_csv(rooms: Rooms, rng: Generator) -> Written:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["floor", "room", "vertex", "x", "y"])
    truth = named(rooms, HOMES)
    for n, r in truth.items():
        for k, (x, y) in enumerate(r):
            writer.writerow([0, n, k, x, y])
    return out.getvalue(), truth


@captured("H")
def csv_kinds_beside(rooms: Rooms, rng: Generator) -> Written:
    rows = ["type,id,name,idx,x,y"]
    for i, (n, r) in enumerate(rooms.items()):
        rows += [f"room,{i},{n},{k},{num(x)},{num(y)}" for k, (x, y) in enumerate(r)]
    rows += [f"nogo,1,,{k},{x},{y}" for k, (x, y) in enumerate(box(rooms, rng))]
    rows += [f"wall,1,,{k},{x},{y}" for k, (x, y) in enumerate(two(rooms, rng))]
    rows += [f"path,1,,{k},{x},{y}" for k, (x, y) in enumerate(walk(rooms, rng))]
    return "\n".join(rows)


@captured("H")
def headless_csv(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n};{num(x)};{num(y)}" for n, r in named(rooms, HOMES).items() for x, y in r
    ), named(rooms, HOMES)


@captured("H")
def multipolygon_wkt(rooms: Rooms, rng: Generator) -> Written:
    rows = ["id|name|geom|updated"]
    for i, (n, r) in enumerate(rooms.items()):
        rows.append(f"{i}|{n}|SRID=0;MULTIPOLYGON((({_spaced(r)})))|2024-03-0{i % 9 + 1} 10:00:00")
    return "\n".join(rows)


@captured("H")
def geojson_escaped_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    body = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": {"type": "Polygon", "coordinates": [[*plain(r), plain(r)[0]]]},
                "properties": {"id": i, "label": n},
            }
            for i, (n, r) in enumerate(rooms.items())
        ],
    }
    return f"{clock(7)} [http] POST /api/v2/map body={json.dumps(json.dumps(body))} -> 200 (31 ms)"


@captured("H")
def cdata_json(rooms: Rooms, rng: Generator) -> Written:
    body = dump([{"n": n, "p": plain(r)} for n, r in rooms.items()])
    return f'<?xml version="1.0"?><msg id="77" t="1699999999"><body><![CDATA[{body}]]></body></msg>'


@captured("H")
def xml_in_json(rooms: Rooms, rng: Generator) -> Written:
    inner = (
        "<map>"
        + "".join(
            f"<room name={html.escape(n)!r}>".replace("'", '"')
            + "".join(f"<p><x>{num(x)}</x><y>{num(y)}</y></p>" for x, y in r)
            + "</room>"
            for n, r in rooms.items()
        )
        + "</map>"
    )
    return "\n".join(
        [
            json.dumps({"t": 1, "event": "battery", "value": 71}),
            json.dumps({"t": 2, "event": "map", "value": inner}),
            json.dumps({"t": 3, "event": "pose", "value": [12, 44, 90]}),
        ]
    )


@captured("H")
def attribute_points(rooms: Rooms, rng: Generator) -> Written:
    rows = "\n".join(
        f'  <Room id="r{i}" label="{html.escape(n)}" points="'
        + " ".join(f"{num(x)},{num(y)}" for x, y in r)
        + '"/>'
        for i, (n, r) in enumerate(named(rooms, HOMES).items())
    )
    walls = "\n".join(
        f'  <VirtualWall x1="{a[0]}" y1="{a[1]}" x2="{b[0]}" y2="{b[1]}"/>'
        for a, b in [two(rooms, rng) for _ in range(3)]
    )
    return f"<Map unit='mm'>\n{rows}\n{walls}\n</Map>", named(rooms, HOMES)


@captured("H")
def repr_in_mixed_quotes(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, HOMES)
    value = [
        {"id": i, "name": n, "pts": [(float(x), float(y)) for x, y in r], "visited": bool(i % 2)}
        for i, (n, r) in enumerate(truth.items())
    ]
    return f"INFO:bot:rooms={value!r} path={[tuple(p) for p in walk(rooms, rng)]!r}\n", truth


@captured("H")
def numpy_arrays_logged(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"{stamp(i)} DEBUG {n}:\n{np.array2string(np.array(r), threshold=10**6)}")
    return "\n".join(out)


@captured("H")
def metres_in_objects(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        dump(
            {
                "ts": 1712345678.123 + i,
                "type": "room_update",
                "room": {
                    "id": i,
                    "name": n,
                    "corners": [{"x": round(x / 1000, 4), "y": round(y / 1000, 4)} for x, y in r],
                },
            }
        )
        + "\n"
        + dump({"ts": 1712345678.2 + i, "type": "pose", "x": 1.5 + i, "y": -0.2, "theta": 0.1})
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("H")
def x_lists_and_y_lists(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        {
            "segments": [
                {"id": i, "name": n, "xs": [x for x, _ in r], "ys": [y for _, y in r]}
                for i, (n, r) in enumerate(rooms.items())
            ],
            "trace": {
                "xs": [x for x, _ in walk(rooms, rng)],
                "ys": [y for _, y in walk(rooms, rng)],
            },
        }
    )


@captured("H")
def yaml_x_y(rooms: Rooms, rng: Generator) -> Written:
    out = [
        "# robot map",
        "timestamp: 2024-05-01T12:00:00Z",
        "resolution: 0.05",
        "origin: [-10.0, -10.0, 0.0]",
    ]
    out += ["segments:"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"  {i + 16}:", f"    name: {n}", "    vertices:"]
        for x, y in r:
            out += [f"      - x: {num(x)}", f"        y: {num(y)}"]
    out += ["charger:", "  x: 10", "  y: 20", "battery: 88"]
    return "\r\n".join(out)


@captured("H")
def deflate_and_urlsafe(rooms: Rooms, rng: Generator) -> Written:
    data = "\n".join(f"{n};{semicolons(r)}" for n, r in rooms.items()).encode()
    blob = base64.urlsafe_b64encode(zlib.compress(data, 9)).decode()
    return f"{clock(3)} rx len={len(blob)} blob={blob}\n{clock(4)} tx ack=1\n"


@captured("H")
def gzip_json_lines(rooms: Rooms, rng: Generator) -> Written:
    lines = "\n".join(dump({"room": n, "outline": semicolons(r)}) for n, r in rooms.items())
    return gzip.compress(lines.encode(), mtime=0)


@captured("H")
def cut_json_message(rooms: Rooms, rng: Generator) -> Written:
    body = {"seq": 9, "rooms": [{"name": n, "outline": plain(r)} for n, r in rooms.items()]}
    text = f"{clock(1)} map {dump(body)}\n"
    return text + f"{clock(9)} map {dump(body)}"[: len(text) // 2]


@captured("H")
def id_before_name(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, HOMES)
    return "\n".join(
        f"{clock(i)} room id=r{i + 100} name={n!r} pts={[[*p] for p in r]} area={10 + i}.25"
        for i, (n, r) in enumerate(truth.items())
    ), truth


@captured("H")
def updates_of_single_rooms(rooms: Rooms, rng: Generator) -> Written:
    out = [
        f"{clock(1)} map.full {dump({'rooms': {n: plain(shrunk(r)) for n, r in rooms.items()}})}"
    ]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"{clock(10 + i)} map.room {dump({'rooms': {n: plain(r)}})}")
        out.append(f"{clock(10 + i)} pose {dump({'x': i, 'y': -i, 'a': 12})}")
    return "\n".join(out)


@captured("H")
def sections_of_lines(rooms: Rooms, rng: Generator) -> Written:
    out = ["Map report 2024-06-07 08:09", f"Rooms: {len(rooms)}", "Battery: 84 %", ""]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += [f"Room {i}: {n}", f"  Area: {10.5 + i} m2", "  Corners:"]
        out += [f"    {num(x)}, {num(y)}" for x, y in r] + [""]
    out += ["Path:", *[f"    {x}, {y}" for x, y in walk(rooms, rng)]]
    return "\n".join(out)


@captured("H")
def names_in_quotes_before_rings(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f'"{n}" ({i + 1}): ' + " ".join(f"({num(x)};{num(y)})" for x, y in r)
        for i, (n, r) in enumerate(named(rooms, MIXED).items())
    ), named(rooms, MIXED)


@captured("H")
def zones_with_names_too(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        {
            "map": {
                "rooms": [
                    {"id": i + 1, "name": n, "outline": [{"x": x, "y": y} for x, y in r]}
                    for i, (n, r) in enumerate(rooms.items())
                ],
                "zones": [
                    {
                        "id": 1,
                        "name": "Sofa",
                        "outline": [{"x": x, "y": y} for x, y in box(rooms, rng, 900)],
                    },
                    {
                        "id": 2,
                        "name": "Table",
                        "outline": [{"x": x, "y": y} for x, y in box(rooms, rng, 900)],
                    },
                ],
                "stay_dry": [{"id": 3, "outline": [{"x": x, "y": y} for x, y in box(rooms, rng)]}],
                "cleaned_path": [{"x": x, "y": y} for x, y in walk(rooms, rng)],
            }
        }
    )


@captured("H")
def colons_between(rooms: Rooms, rng: Generator) -> Written:
    return "\r\n".join(
        f"{clock(i)};ROOM;{i};{n};" + "|".join(f"{num(x)}:{num(y)}" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("H")
def flat_with_closing(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {n: [v for p in [*plain(r), plain(r)[0]] for v in p] for n, r in rooms.items()}, indent=2
    )


@captured("H")
def statement_inserts(rooms: Rooms, rng: Generator) -> Written:
    out = ["CREATE TABLE rooms (id INT, name TEXT, outline TEXT);"]
    for i, (n, r) in enumerate(named(rooms, HOMES).items(), 1):
        quoted = n.replace("'", "''")
        out.append(f"INSERT INTO rooms VALUES ({i}, '{quoted}', '{semicolons(r)}');")
    return "\n".join(out), named(rooms, HOMES)


@captured("H")
def fields_with_tabs(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{stamp(i)}\tINFO\tmapper\troom\t{i}\t{n}\t{dump(plain(r))}\t{10 + i}.2"
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("H")
def markdown_corner_rows(rooms: Rooms, rng: Generator) -> Written:
    out = ["## Rooms", ""]
    for n, r in rooms.items():
        out += [f"### {n}", "", "| # | x (mm) | y (mm) |", "|---|-------:|-------:|"]
        out += [f"| {k} | {num(x)} | {num(y)} |" for k, (x, y) in enumerate(r, 1)] + [""]
    return "\n".join(out)


@captured("H")
def properties_file(rooms: Rooms, rng: Generator) -> Written:
    out = ["#Tue May 07 10:11:12 CEST 2024", "map.version=4.2.1"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"room.{i}.name={n}", f"room.{i}.outline={semicolons(r)}"]
    out += [f"nogo.0.outline={';'.join(f'{x},{y}' for x, y in box(rooms, rng))}"]
    return "\n".join(out)
