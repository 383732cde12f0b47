"""Devices: status lines, commands for pens and robots, updates, parts that changed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, shrunk, stamp, walk

__all__: list[str] = []


def first(rooms: Rooms, count: int) -> Rooms:
    return dict(list(rooms.items())[:count])


@captured("C")
def one_room_only(rooms: Rooms, rng: Generator) -> Written:
    rooms = first(rooms, 1)
    ((n, r),) = rooms.items()
    return json.dumps(
        {
            "zone_map": {"title": n, "wall_points": plain(r)},
            "bins": [box(rooms, rng, 300)],
            "track": walk(rooms, rng),
        },
        ensure_ascii=False,
    ), rooms


@captured("C")
def two_rooms_obstacles_before(rooms: Rooms, rng: Generator) -> Written:
    rooms = first(rooms, 2)
    d = {
        "hinderances": [{"kind": "bowl", "hull": box(rooms, rng, 250)} for _ in range(9)],
        "spaces": [{"called": n, "hull": plain(r)} for n, r in rooms.items()],
    }
    return json.dumps(d, ensure_ascii=False), rooms


@captured("C")
def dry_areas(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "map_id": 4,
        "partition": [
            {"pid": i, "alias": n, "edge": plain(r)} for i, (n, r) in enumerate(rooms.items())
        ],
        "dry_only": [{"pid": i, "edge": box(rooms, rng)} for i in range(3)],
        "quiet": [{"pid": 0, "edge": box(rooms, rng, 1500)}],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("C")
def status_blob(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "st": 8,
        "bat": 97,
        "fw": "4.1.9",
        "ip": "10.2.0.77",
        "mac": "aa:01:bc:22:10:9f",
        "pos": [1022, -331, 90],
        "seg": ";".join(
            f"{i + 16}:{n}:" + "|".join(f"{num(x)},{num(y)}" for x, y in r)
            for i, (n, r) in enumerate(rooms.items())
        ),
    }
    return json.dumps(d, ensure_ascii=False)


@captured("C")
def colon_rows(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{16 + i}:{n}:" + "|".join(f"{num(x)},{num(y)}" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("C")
def at_signs(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"@{n}@ " + " ".join(f"<{num(x)},{num(y)}>" for x, y in r) for n, r in rooms.items()
    )


@captured("C")
def angle_brackets(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n} => " + " ".join(f"<{num(x)}, {num(y)}>" for x, y in r) for n, r in rooms.items()
    )


@captured("C")
def braces_points(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f'add_room("{n}", {{' + ", ".join(f"{{{num(x)}, {num(y)}}}" for x, y in r) + "});"
        for n, r in rooms.items()
    )


@captured("C")
def function_calls(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f'room = Room("{n}")')
        out += [f"room.add_corner({num(x)}, {num(y)})" for x, y in r]
    return "\n".join(out)


@captured("C")
def draw_commands(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"# {n}")
        out.append(f"moveto {num(r[0][0])} {num(r[0][1])}")
        out += [f"lineto {num(x)} {num(y)}" for x, y in r[1:]]
        out.append("closepath")
    return "\n".join(out)


@captured("C")
def pen_commands(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"({n})")
        out.append(f"G0 X{num(r[0][0])} Y{num(r[0][1])}")
        out += [f"G1 X{num(x)} Y{num(y)} F1500" for x, y in r[1:]]
    return "\n".join(out)


@captured("C")
def three_updates_moved(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k, shift in enumerate((900, 300, 0)):
        d = {
            "seq": 100 + k,
            "floor": [
                {"rid": i + 1, "rname": n, "bound": [[x + shift, y - shift] for x, y in r]}
                for i, (n, r) in enumerate(rooms.items())
            ],
        }
        out.append(f"{1990000000 + k * 60} MAP {json.dumps(d, ensure_ascii=False)}")
        out.append(f'{1990000030 + k * 60} POS {{"x": {k}, "y": 4}}')
    return "\n".join(out)


@captured("C")
def split_room(rooms: Rooms, rng: Generator) -> Written:
    names = list(rooms)
    whole = np.concatenate([np.array(rooms[n]) for n in names[:2]])
    x0, y0 = whole.min(axis=0)
    x1, y1 = whole.max(axis=0)
    old = {"Big one": [(x0, y0), (x1, y0), (x1, y1), (x0, y1)], **{n: rooms[n] for n in names[2:]}}

    def msg(rs: Mapping[str, Any]) -> str:
        return json.dumps(
            {
                "regions": [
                    {"label": n, "path": [[float(a), float(b)] for a, b in r]}
                    for n, r in rs.items()
                ]
            },
            ensure_ascii=False,
        )

    return f"{stamp(3)} {msg(old)}\n{stamp(9)} {msg(rooms)}"


@captured("C")
def removed_two(rooms: Rooms, rng: Generator) -> Written:
    a = np.concatenate([np.array(r) for r in rooms.values()])
    x1, y0 = a[:, 0].max() + 100, a[:, 1].min()
    extra = {
        f"annex {k}": [
            (x1 + 3000 * k, y0),
            (x1 + 3000 * k + 2500, y0),
            (x1 + 3000 * k + 2500, y0 + 2000),
            (x1 + 3000 * k, y0 + 2000),
        ]
        for k in range(2)
    }

    def msg(rs: Mapping[str, Any], rev: int) -> str:
        return (
            f"<house rev='{rev}'>"
            + "".join(
                f"<cell name={json.dumps(n, ensure_ascii=False)}>"
                + " ".join(f"{num(x)},{num(y)}" for x, y in r)
                + "</cell>"
                for n, r in rs.items()
            )
            + "</house>"
        )

    return msg({**rooms, **extra}, 1) + "\n" + msg(rooms, 2)


@captured("C")
def partial_update(rooms: Rooms, rng: Generator) -> Written:
    items = list(rooms.items())
    full = {
        "rooms": [
            {"id": i, "name": n, "poly": plain(shrunk(r) if i == 0 else r)}
            for i, (n, r) in enumerate(items)
        ]
    }
    part = {"rooms": [{"id": 0, "name": items[0][0], "poly": plain(items[0][1])}]}
    return (
        f"{stamp(1)} full {json.dumps(full, ensure_ascii=False)}\n{stamp(2)} part "
        f"{json.dumps(part, ensure_ascii=False)}\n"
    )


@captured("C")
def label_points_too(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "rooms": [
            {
                "name": n,
                "label_at": [float(v) for v in np.round(np.array(r).mean(axis=0))],
                "outline": plain(r),
                "doors": [[list(map(float, r[0])), list(map(float, r[1]))]],
            }
            for n, r in rooms.items()
        ]
    }
    return json.dumps(d, ensure_ascii=False)
