"""Decimal commas, packed logs, broken lines, headers of two rows, numbers for names."""

from __future__ import annotations

import base64
import gzip
import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, stamp

__all__: list[str] = []


@captured("C")
def shapely_repr(rooms: Rooms, rng: Generator) -> Written:
    return (
        "{"
        + ", ".join(
            f"{n!r}: <POLYGON ((" + ", ".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]]) + "))>"
            for n, r in rooms.items()
        )
        + "}"
    )


@captured("C")
def decimal_comma_points(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n}: " + " ".join(f"({x / 1000:.4f}; {y / 1000:.4f})".replace(".", ",") for x, y in r)
        for n, r in rooms.items()
    )


@captured("C")
def decimal_comma_lines(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(n)
        out += [f"\t{x / 1000:.4f}\t{y / 1000:.4f}".replace(".", ",") for x, y in r]
    return "\n".join(out)


@captured("C")
def gzip_log_with_map(rooms: Rooms, rng: Generator) -> Written:
    raw = "\n".join(
        f"{stamp(i)} room {n} outline " + " ".join(f"{num(x)},{num(y)}" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )
    return gzip.compress(raw.encode())


@captured("C")
def data_url(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps({"rooms": [{"name": n, "pts": plain(r)} for n, r in rooms.items()]}).encode()
    return f'{{"src": "data:application/json;base64,{base64.b64encode(raw).decode()}", "ok": true}}'


@captured("C")
def bytes_repr(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps(
        {"rooms": [{"name": n, "pts": plain(r)} for n, r in rooms.items()]}, ensure_ascii=False
    ).encode()
    return f"{stamp(2)} DEBUG recv {raw!r}"


@captured("C")
def chunked_over_lines(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps(
        {"rooms": [{"name": n, "pts": plain(r)} for n, r in rooms.items()]}, ensure_ascii=False
    )
    return "\n".join(raw[i : i + 120] for i in range(0, len(raw), 120))


@captured("C")
def utf16_json(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            "Räume": {n: {"Ecken": [{"X": x, "Y": y} for x, y in r]} for n, r in rooms.items()},
            "Sperrzonen": {"1": {"Ecken": [{"X": x, "Y": y} for x, y in box(rooms, rng)]}},
        },
        ensure_ascii=False,
    ).encode("utf-16")


@captured("C")
def timestamps_in_points(rooms: Rooms, rng: Generator) -> Written:
    d = [
        {
            "name": n,
            "boundary": [
                {"ts": 1990000000 + i, "pos": {"x": x, "y": y}, "src": "lidar"}
                for i, (x, y) in enumerate(r)
            ],
        }
        for n, r in rooms.items()
    ]
    return json.dumps(d, ensure_ascii=False)


@captured("C")
def quality_in_rows(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            n: [[i, x, y, round(float(rng.uniform(0.8, 1)), 2)] for i, (x, y) in enumerate(r)]
            for n, r in rooms.items()
        },
        ensure_ascii=False,
    )


@captured("C")
def sheet_two_header_rows(rooms: Rooms, rng: Generator) -> Written:
    out = ["Room,Corner,Position,", ",,x,y"]
    for n, r in rooms.items():
        out += [f"{n if i == 0 else ''},{i + 1},{num(x)},{num(y)}" for i, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("C")
def ids_in_one_column(rooms: Rooms, rng: Generator) -> Written:
    out = ["# id -> name"] + [f"{30 + i} -> {n}" for i, n in enumerate(rooms)] + ["# outlines"]
    out += [
        f"{30 + i}: " + " ".join(f"{num(x)},{num(y)}" for x, y in r)
        for i, r in enumerate(rooms.values())
    ]
    return "\n".join(out)


@captured("C")
def config_paths(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            f'floor.room.{i}.title: "{n}"',
            f'floor.room.{i}.border: "' + " ".join(f"{num(x)},{num(y)}" for x, y in r) + '"',
        ]
    out += [
        'floor.home: "10,20"',
        'floor.avoid.0.border: "' + " ".join(f"{x},{y}" for x, y in box(rooms, rng)) + '"',
    ]
    return "\n".join(out)


@captured("C")
def name_in_comment_above(rooms: Rooms, rng: Generator) -> Written:
    out = ["const polys = ["]
    for n, r in rooms.items():
        out += [f"  // {n}", "  [" + ", ".join(f"[{num(x)}, {num(y)}]" for x, y in r) + "],"]
    return "\n".join([*out, "];"])
