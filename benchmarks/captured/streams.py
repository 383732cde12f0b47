"""Packed, dumped, cut and doubled texts, odd names, later states."""

from __future__ import annotations

import base64
import gzip
import html
import json
import urllib.parse

from numpy.random import Generator

from benchmarks.captured.parts import (
    ODD,
    Rooms,
    Written,
    box,
    captured,
    named,
    num,
    plain,
    shrunk,
    stamp,
)

__all__: list[str] = []


@captured("B")
def gzip_file_csv(rooms: Rooms, rng: Generator) -> Written:
    out = ["space,vertex,px,py"]
    for n, r in rooms.items():
        out += [f"{n},{i},{num(x)},{num(y)}" for i, (x, y) in enumerate(r)]
    return gzip.compress("\n".join(out).encode("utf-16"))


@captured("B")
def base64_in_xml(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps(
        [{"lbl": n, "pgn": plain(r)} for n, r in rooms.items()], ensure_ascii=False
    ).encode()
    return (
        "<packet n='7'><crc>a91b</crc><body encoding='base64'>"
        f"{base64.b64encode(raw).decode()}</body></packet>"
    )


@captured("B")
def url_form(rooms: Rooms, rng: Generator) -> Written:
    return (
        "POST /save HTTP/1.1\r\nContent-Type: application/x-www-form-urlencoded\r\n\r\n"
        + "&".join(
            urllib.parse.urlencode(
                {
                    f"room[{i}][name]": n,
                    f"room[{i}][pts]": ";".join(f"{num(x)},{num(y)}" for x, y in r),
                }
            )
            for i, (n, r) in enumerate(rooms.items())
        )
    )


@captured("B")
def closed_and_doubled(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"[{n}] " + " ".join(f"{num(x)},{num(y)}" for p in [*r, r[0]] for x, y in (p, p))
        for n, r in rooms.items()
    )


@captured("B")
def old_map_then_other_names(rooms: Rooms, rng: Generator) -> Written:
    old = {f"Zone {chr(65 + i)}": shrunk(r) for i, r in enumerate(rooms.values())}

    def line(rs: Rooms) -> str:
        return "; ".join(
            f"{n} = " + " ".join(f"({num(x)} {num(y)})" for x, y in r) for n, r in rs.items()
        )

    return (
        f"[09:00:01] rooms: {line(old)}\n[09:10:44] charging 34 %\n[09:30:12] rooms: "
        f"{line(rooms)}\n"
    )


@captured("B")
def two_logs_of_single_rooms(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for rnd in range(3):
        for i, (n, r) in enumerate(rooms.items()):
            ring = r if rnd == 2 else shrunk(r)
            out.append(
                f'{stamp(rnd * 600 + i)} <area ident="{i}" bez="{html.escape(n)}" ring="'
                + " ".join(f"{num(x)} {num(y)}" for x, y in ring)
                + '"/>'
            )
    return "\n".join(out)


@captured("B")
def cut_csv(rooms: Rooms, rng: Generator) -> Written:
    out = ["raum,x,y"]
    for n, r in rooms.items():
        out += [f"{n},{num(x)},{num(y)}" for x, y in r]
    out += ["keller,100,100", "keller,40"]
    return "\n".join(out)


@captured("B")
def latex_rows(rooms: Rooms, rng: Generator) -> Written:
    out = ["\\begin{tabular}{lrr}", "Room & $x$ & $y$ \\\\ \\hline"]
    for n, r in rooms.items():
        out += [f"{n} & {num(x)} & {num(y)} \\\\" for x, y in r]
    return "\n".join([*out, "\\end{tabular}"])


@captured("B")
def bullet_list(rooms: Rooms, rng: Generator) -> Written:
    out = ["# Our floor", ""]
    for n, r in rooms.items():
        out.append(f"* **{n}**")
        out += [f"    * ({num(x)} | {num(y)})" for x, y in r]
    return "\n".join(out)


@captured("B")
def chat(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"[{10 + i // 60}:{i % 60:02d}] anna: {n} is at "
        + ", ".join(f"{num(x)}/{num(y)}" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("B")
def odd_names_json(rooms: Rooms, rng: Generator) -> Written:
    rooms = named(rooms, ODD)
    return json.dumps(
        {
            "list": [
                {"ident": i, "bez": n, "lin": plain(r)} for i, (n, r) in enumerate(rooms.items())
            ]
        },
        ensure_ascii=False,
    ), rooms


@captured("B")
def odd_names_keys(rooms: Rooms, rng: Generator) -> Written:
    rooms = named(rooms, ODD)
    return json.dumps({n: plain(r) for n, r in rooms.items()}, indent=1), rooms


@captured("B")
def odd_names_table(rooms: Rooms, rng: Generator) -> Written:
    rooms = named(rooms, ODD)
    out = ["area,px,py"]
    for n, r in rooms.items():
        out += [f'"{n}",{num(x)},{num(y)}' for x, y in r]
    return "\n".join(out), rooms


@captured("B")
def geojson_metres_many(rooms: Rooms, rng: Generator) -> Written:
    fs = [
        {
            "type": "Feature",
            "geometry": {
                "type": "Polygon",
                "coordinates": [[[x / 1000, y / 1000] for x, y in [*r, r[0]]]],
            },
            "properties": {"fid": i, "ref": f"A{i:03d}", "room_name": n, "usage": "living"},
        }
        for i, (n, r) in enumerate(rooms.items())
    ]
    for w in ["furniture", "furniture", "stairs"]:
        b = box(rooms, rng, 500)
        fs.append(
            {
                "type": "Feature",
                "geometry": {
                    "type": "Polygon",
                    "coordinates": [[[x / 1000, y / 1000] for x, y in [*b, b[0]]]],
                },
                "properties": {"fid": 100, "room_name": None, "usage": w},
            }
        )
    return json.dumps(
        {"type": "FeatureCollection", "name": "floor", "features": fs}, ensure_ascii=False
    )


@captured("B")
def wall_table(rooms: Rooms, rng: Generator) -> Written:
    out = ["room,ax,ay,bx,by"]
    for n, r in rooms.items():
        out += [
            f"{n},{num(a[0])},{num(a[1])},{num(b[0])},{num(b[1])}"
            for a, b in zip(r, [*r[1:], r[0]], strict=False)
        ]
    return "\n".join(out)


@captured("B")
def hex_of_json(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps(
        {"rooms": [{"t": n, "g": plain(r)} for n, r in rooms.items()]}, ensure_ascii=False
    ).encode()
    return f"{stamp(3)} uart rx len={len(raw)} data={raw.hex().upper()} crc=0x1f2e\n"


@captured("B")
def hexdump(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps({"rooms": [{"t": n, "g": plain(r)} for n, r in list(rooms.items())]}).encode()
    out = []
    for i in range(0, len(raw), 16):
        part = raw[i : i + 16]
        out.append(
            f"{i:08x}  "
            + " ".join(f"{b:02x}" for b in part[:8]).ljust(24)
            + " "
            + " ".join(f"{b:02x}" for b in part[8:]).ljust(24)
            + " |"
            + "".join(chr(b) if 32 <= b < 127 else "." for b in part)
            + "|"
        )
    return "\n".join(out)
