"""More captures to read: blocks, tables for people, addresses, lists, and what is packed as hex."""

from __future__ import annotations

import io
import json
import urllib.parse
import zlib

from numpy.random import Generator

from benchmarks.spellings import Rooms, clock, num, plain, spelling

__all__: list[str] = []


@spelling
def blocks_of_lines(rooms: Rooms, rng: Generator) -> str:
    out = io.StringIO()
    for name, ring in rooms.items():
        out.write(f"{name}\n")
        for x, y in ring:
            out.write(f"{x:12.3f} {y:12.3f}\n")
        out.write("\n")
    return out.getvalue()


@spelling
def a_table_for_people(rooms: Rooms, rng: Generator) -> str:
    lines = ["| room | x | y |", "|------|---:|---:|"]
    for name, ring in rooms.items():
        lines += [f"| {name} | {num(x)} | {num(y)} |" for x, y in ring]
    return "# Floor\n\n" + "\n".join(lines) + "\n\nMeasured twice.\n"


@spelling
def a_query_string(rooms: Rooms, rng: Generator) -> str:
    inner = json.dumps([{"name": n, "poly": plain(r)} for n, r in rooms.items()])
    query = urllib.parse.urlencode({"token": "a81c", "rooms": inner, "v": 3})
    return f'10.0.3.17 - - [02/Apr/2031:10:00:00 +0200] "GET /floor?{query} HTTP/1.1" 200 17\n'


@spelling
def lists_of_lists(rooms: Rooms, rng: Generator) -> str:
    lines = ["(floor"]
    for name, ring in rooms.items():
        points = " ".join(f"({num(x)} {num(y)})" for x, y in ring)
        lines.append(f'  (room (name "{name}") (outline {points}))')
    return "\n".join([*lines, ")"])


@spelling
def blocks_in_braces(rooms: Rooms, rng: Generator) -> str:
    lines = ["stamp: 1933145000"]
    for i, (name, ring) in enumerate(rooms.items()):
        lines += ["rooms {", f"  id: {i}", f'  name: "{name}"']
        lines += [f"  corner {{ x: {num(x)} y: {num(y)} }}" for x, y in ring]
        lines.append("}")
    return "\n".join(lines)


@spelling
def points_as_texts(rooms: Rooms, rng: Generator) -> str:
    rows = [
        {"name": name, "points": [f"[{num(x)},{num(y)}]" for x, y in ring]}
        for name, ring in rooms.items()
    ]
    return json.dumps({"data": {"rooms": rows, "pose": "[5,6]"}})


@spelling
def packed_as_hex(rooms: Rooms, rng: Generator) -> str:
    inner = json.dumps({"rooms": [{"n": n, "outline": plain(r)} for n, r in rooms.items()]})
    return f"{clock(3)} rx 0x{zlib.compress(inner.encode()).hex()}\n"
