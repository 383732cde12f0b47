"""Captures of our own words: documents in messages, sheets, statements, sections, facts."""

from __future__ import annotations

import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, captured, num, plain, stamp, walk

__all__: list[str] = []
import base64
import gzip
import zlib


@captured("I")
def state_with_plan(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {"tag": 11 + k, "caption": name, "rim": plain(r), "visited": bool(k % 2)}
        for k, (name, r) in enumerate(rooms.items())
    ]
    first = next(iter(rooms.values()))
    return json.dumps(
        {
            "seq": 48211,
            "fw": [3, 14, 2],
            "power": {"mv": 15230, "pct": 81},
            "here": {"x": num(first[0][0] + 500), "y": num(first[0][1] + 400), "heading": 271},
            "plan": {
                "rev": 12,
                "made": 1932844112,
                "cells": cells,
                "gates": [[plain(first)[0], plain(first)[1]]],
                "trail": walk(rooms, rng, 40),
            },
        },
        ensure_ascii=False,
    )


@captured("I")
def bus_lines_json_in_json(rooms: Rooms, rng: Generator) -> Written:
    beats = [json.dumps({"up": 9000 + k, "mv": 14800 - k, "rssi": -61}) for k in range(6)]
    lines = [f"{stamp(k)} <- house/sweeper/7f31/beat {beat}" for k, beat in enumerate(beats)]
    inner = json.dumps(
        {
            "kind": "areas",
            "n": len(rooms),
            "areas": [
                {"no": k + 1, "called": name, "hull": ";".join(f"{num(x)},{num(y)}" for x, y in r)}
                for k, (name, r) in enumerate(rooms.items())
            ],
        },
        ensure_ascii=False,
    )
    state = json.dumps({"crc": "a91f", "payload": inner}, ensure_ascii=False)
    lines.append(f"{stamp(7)} <- house/sweeper/7f31/state {state}")
    lines.append(
        f"{stamp(8)} -> house/sweeper/7f31/do {json.dumps({'job': 'go', 'to': [1200, 3400]})}"
    )
    return "\n".join(lines) + "\n"


@captured("I")
def one_room_a_line(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k, (name, r) in enumerate(rooms.items()):
        out.append(
            json.dumps(
                {
                    "t": 1932844112 + k,
                    "ev": "cell",
                    "cell": k + 3,
                    "human": name,
                    "edge": "|".join(f"{num(x)}:{num(y)}" for x, y in r),
                }
            )
        )
        out.append(json.dumps({"t": 1932844113 + k, "ev": "power", "pct": 80 - k, "mv": 15000 + k}))
    return "\n".join(out)


@captured("I")
def xml_paths(rooms: Rooms, rng: Generator) -> Written:
    out = ['<?xml version="1.0" encoding="UTF-8"?>', '<floor id="g" scale="1">']
    for k, (name, r) in enumerate(rooms.items()):
        d = "M" + " L".join(f"{num(x)} {num(y)}" for x, y in r) + " Z"
        out.append(f'  <space no="{k}" label="{name}" d="{d}"/>')
    out.append('  <barrier d="M 10 10 L 400 10"/>')
    return "\n".join([*out, "</floor>"])


@captured("I")
def xml_elements(rooms: Rooms, rng: Generator) -> Written:
    out = ["<reply><status>ok</status><stamp>1932844112</stamp><chambers>"]
    for k, (name, r) in enumerate(rooms.items()):
        out.append(f"<chamber><ref>{k + 40}</ref><designation>{name}</designation><boundary>")
        ring = [*r, r[0]]
        out += [f"<corner><east>{num(x)}</east><north>{num(y)}</north></corner>" for x, y in ring]
        out.append("</boundary></chamber>")
    return "".join([*out, "</chambers></reply>"])


@captured("I")
def xml_escaped_in_log(rooms: Rooms, rng: Generator) -> Written:
    body = (
        "<m>"
        + "".join(
            f'<r i="{k}" n="{name}"><v>{" ".join(f"{num(x)},{num(y)}" for x, y in r)}</v></r>'
            for k, (name, r) in enumerate(rooms.items())
        )
        + "</m>"
    )
    body = (
        body.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    )
    return (
        "[00:01:02.113] link up 192.168.4.17:8883\n[00:01:02.401] RX 4312B: "
        f"&lt;?xml version=&quot;1.0&quot;?&gt;{body}\n[00:01:02.500] battery 88%\n"
    )


@captured("I")
def python_objects(rooms: Rooms, rng: Generator) -> Written:
    rs = ", ".join(
        f"Space(uid={k}, title={name!r}, hull=["
        + ", ".join(f"Pt(x={num(x)}, y={num(y)})" for x, y in r)
        + "], clean=True)"
        for k, (name, r) in enumerate(rooms.items())
    )
    pose = "Pose(x=100.0, y=220.0, a=1.57)"
    return f"DEBUG:robot.link:decoded Floor(version=(2, 1), at={pose}, spaces=[{rs}])\n"


@captured("I")
def sheet_decimal_comma(rooms: Rooms, rng: Generator) -> Written:
    out = ["Raum;Nr;Ost;Nord"]
    for name, r in rooms.items():
        for i, (x, y) in enumerate(r, 1):
            out.append(f"{name};{i};" + f"{x / 1000:.4f};{y / 1000:.4f}".replace(".", ","))
    return ("\ufeff" + "\r\n".join(out) + "\r\n").encode()


@captured("I")
def sheet_name_once(rooms: Rooms, rng: Generator) -> Written:
    out = ["area\tcorner\tx_mm\ty_mm"]
    for name, r in rooms.items():
        out += [
            f"{name if i == 1 else ''}\t{i}\t{num(x)}\t{num(y)}" for i, (x, y) in enumerate(r, 1)
        ]
    return "\n".join(out)


@captured("I")
def features(rooms: Rooms, rng: Generator) -> Written:
    fs = [
        {
            "type": "Feature",
            "id": k,
            "properties": {"title": name, "level": 0},
            "geometry": {"type": "Polygon", "coordinates": [[*plain(r), plain(r)[0]]]},
        }
        for k, (name, r) in enumerate(rooms.items())
    ]
    fs.append(
        {
            "type": "Feature",
            "properties": {"title": "last run"},
            "geometry": {"type": "LineString", "coordinates": walk(rooms, rng, 40)},
        }
    )
    fs.append(
        {
            "type": "Feature",
            "properties": {"title": "dock"},
            "geometry": {"type": "Point", "coordinates": [5, 9]},
        }
    )
    return json.dumps({"type": "FeatureCollection", "features": fs}, indent=1, ensure_ascii=False)


@captured("I")
def statements_of_sql(rooms: Rooms, rng: Generator) -> Written:
    out = ["BEGIN;", "CREATE TABLE spaces (id int, label text, shape geometry, changed timestamp);"]
    for k, (name, r) in enumerate(rooms.items()):
        ring = ", ".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]])
        out.append(
            f"INSERT INTO spaces VALUES ({k + 1}, '{name}', "
            f"ST_GeomFromText('POLYGON(({ring}))', 0), '2031-04-05 11:12:13');"
        )
    return "\n".join([*out, "COMMIT;"])


@captured("I")
def yaml_documents(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k, (name, r) in enumerate(rooms.items()):
        out += [
            "---",
            f"stamp: {{sec: 19328{k}, nanosec: 8711}}",
            f"space: {name}",
            f"index: {k}",
            "footprint:",
        ]
        for x, y in r:
            out += [f"  - x: {num(x)}", f"    y: {num(y)}", "    z: 0.0"]
    return "\n".join(out) + "\n"


@captured("I")
def corner_lines(rooms: Rooms, rng: Generator) -> Written:
    out = []
    k = 0
    for name, r in rooms.items():
        for i, (x, y) in enumerate(r):
            out.append(
                f'{stamp(k % 24)} mapd[411]: corner space="{name}" i={i} '
                f"x={num(x)} y={num(y)} q=0.9{i % 10}"
            )
            k += 1
        out.append(f"{stamp(k % 24)} mapd[411]: pose x={k * 10} y={k * 7} th=0.2{k % 10}")
    return "\n".join(out)


@captured("I")
def deflated_in_json(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps(
        {
            "v": 4,
            "polys": [
                {"id": k, "alias": name, "xy": [c for p in plain(r) for c in p]}
                for k, (name, r) in enumerate(rooms.items())
            ],
        }
    ).encode()
    return json.dumps(
        {
            "dev": "R-0031",
            "ts": 1932844112,
            "enc": "z64",
            "len": len(raw),
            "blob": base64.b64encode(zlib.compress(raw)).decode(),
        }
    )


@captured("I")
def gzip_utf16(rooms: Rooms, rng: Generator) -> Written:
    out = ["Etage 0"]
    for name, r in rooms.items():
        out.append(f"{name}: " + "  ".join(f"({num(x)} / {num(y)})" for x, y in r))
    return gzip.compress("\r\n".join(out).encode("utf-16"))


@captured("I")
def cut_off(rooms: Rooms, rng: Generator) -> Written:
    names = list(rooms)
    out = [
        json.dumps(
            {"type": "patch", "room": {"id": k, "name": name, "pts": plain(r)}}, ensure_ascii=False
        )
        for k, (name, r) in enumerate(rooms.items())
    ]
    out[-1] = out[-1][: len(out[-1]) * 2 // 3]
    return "\r\n".join(out), {m: rooms[m] for m in names[:-1]}


@captured("I")
def s_expressions(rooms: Rooms, rng: Generator) -> Written:
    out = ["(floor (level 0) (units mm)"]
    for k, (name, r) in enumerate(rooms.items()):
        out.append(
            f'  (room (id {k}) (name "{name}")\n    (border '
            + " ".join(f"(pt {num(x)} {num(y)})" for x, y in r)
            + "))"
        )
    return "\n".join([*out, "  (dock (pt 0 0) 90))"])


@captured("I")
def ini_sections(rooms: Rooms, rng: Generator) -> Written:
    out = ["; saved by the robot", "[general]", "version=2.4.1", "host=10.0.0.17", ""]
    for k, (name, r) in enumerate(rooms.items()):
        out += [
            f"[space_{k}]",
            f"label={name}",
            f"corners={len(r)}",
            "shape=" + " ".join(f"{num(x)},{num(y)}" for x, y in r),
            "fan=2",
            "",
        ]
    return "\r\n".join(out)


@captured("I")
def logfmt_rows(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k, (name, r) in enumerate(rooms.items()):
        out.append(
            f'ts={stamp(k)} lvl=info src=planner.go:218 msg="space stored" '
            f'space="{name}" id={k} outline="'
            + " ".join(f"{num(x)},{num(y)}" for x, y in r)
            + f'" took=1{k}ms'
        )
        out.append(f"ts={stamp(k)} lvl=debug src=power.go:31 pct={77 - k} mv=15{k}00")
    return "\n".join(out)


@captured("I")
def toml_tables(rooms: Rooms, rng: Generator) -> Written:
    out = ['title = "plan"', "saved = 2031-04-05T11:12:13Z", ""]
    for k, (name, r) in enumerate(rooms.items()):
        out += ["[[space]]", f"id = {k}", f'label = "{name}"', "ring = ["]
        out += [f"  {{ x = {num(x)}, y = {num(y)} }}," for x, y in r]
        out += ["]", ""]
    return "\n".join(out)


@captured("I")
def prolog_facts(rooms: Rooms, rng: Generator) -> Written:
    out = ["% spaces of the ground floor"]
    out += [f"space({k}, '{name}')." for k, name in enumerate(rooms, 1)]
    for k, r in enumerate(rooms.values(), 1):
        out += [f"corner({k}, {i}, {num(x)}, {num(y)})." for i, (x, y) in enumerate(r, 1)]
    return "\n".join(out)


@captured("I")
def prolog_named_corners(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for name, r in rooms.items():
        out += [f"corner('{name}', {i}, {num(x)}, {num(y)})." for i, (x, y) in enumerate(r)]
    return "\n".join(out)
