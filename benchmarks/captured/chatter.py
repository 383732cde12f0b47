"""Rooms in the middle of what else machines say: every few lines something that is no room."""

from __future__ import annotations

import base64
import gzip
import html
import json
import zlib

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import (
    Ring,
    Rooms,
    Written,
    box,
    captured,
    dump,
    named,
    num,
    plain,
    shrunk,
    two,
    walk,
)
from benchmarks.spellings import clock, semicolons

__all__: list[str] = []

OWN = (
    "Schlafzimmer", "Kids' Room", "Raum 7", "Ess-/Wohnbereich", "Bad OG", "Hallway #2", "Ünal",
    "Living", "Garage", "Mudroom", "Flur 1. Stock", "Playroom",
)  # fmt: skip


def _noise(rng: Generator, i: int) -> str:
    x, y = (int(v) for v in rng.integers(-5000, 5000, 2))
    volts, current = rng.uniform(14, 15), rng.integers(-900, -200)
    ranges = ", ".join(str(v) for v in rng.integers(200, 6000, 12))
    return (
        f"{clock(i)} [nav] odom x={x} y={y} th={rng.uniform(-3, 3):.3f}",
        f"{clock(i)} [pwr] battery {50 + i % 50}% {volts:.2f} V {current} mA",
        f"{clock(i)} [net] peer 192.168.1.{i % 250}:8883 rtt 12/14/31 ms",
        f"{clock(i)} [lidar] 5.5 Hz scan [{ranges}]",
        f"{clock(i)} [ota] version 4.3.5_1092 -> 4.3.6_1101, size 31457280",
        f"{clock(i)} [cliff] L=12 R=14 FL=8 FR=9",
        f"{clock(i)} [goal] ({x}, {y}) -> ({y}, {x}) eta 12 s",
    )[int(rng.integers(7))]


def _between(lines: list[str], rng: Generator) -> str:
    out = [_noise(rng, 0)]
    for i, line in enumerate(lines):
        out.append(line)
        out += [_noise(rng, 10 * i + k) for k in range(int(rng.integers(1, 4)))]
    return "\n".join(out)


@captured("H")
def outlines_between_noise(rooms: Rooms, rng: Generator) -> Written:
    return _between(
        [f"{clock(i)} [map] room '{n}' {semicolons(r)}" for i, (n, r) in enumerate(rooms.items())],
        rng,
    )


@captured("H")
def brackets_between_noise(rooms: Rooms, rng: Generator) -> Written:
    return _between(
        [f"{clock(i)} [map] {n}: {plain(r)}" for i, (n, r) in enumerate(rooms.items())], rng
    )


@captured("H")
def json_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"{clock(i)} [map] {dump({'room': n, 'id': i, 'poly': [{'x': x, 'y': y} for x, y in r]})}"
        for i, (n, r) in enumerate(named(rooms, OWN).items())
    ]
    return _between(lines, rng), named(rooms, OWN)


@captured("H")
def escaped_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"{clock(i)} [mqtt] "
        + json.dumps({"topic": "v1/map", "payload": json.dumps({"name": n, "outline": plain(r)})})
        for i, (n, r) in enumerate(rooms.items())
    ]
    return _between(lines, rng)


@captured("H")
def xml_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"{clock(i)} [soap] &lt;room name=&quot;{html.escape(html.escape(n))}&quot; outline=&quot;"
        + " ".join(f"{num(x)},{num(y)}" for x, y in r)
        + "&quot;/&gt;"
        for i, (n, r) in enumerate(rooms.items())
    ]
    return _between(lines, rng)


@captured("H")
def repr_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"{clock(i)} [py] { {'id': i, 'name': n, 'outline': [*r]}!r}"
        for i, (n, r) in enumerate(named(rooms, OWN).items())
    ]
    return _between(lines, rng), named(rooms, OWN)


@captured("H")
def wkt_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"{clock(i)} [gis] {n} POLYGON(({','.join(f'{num(x)} {num(y)}' for x, y in [*r, r[0]])}))"
        for i, (n, r) in enumerate(rooms.items())
    ]
    return _between(lines, rng)


@captured("H")
def packed_between_noise(rooms: Rooms, rng: Generator) -> Written:
    data = dump({"rooms": [{"name": n, "outline": semicolons(r)} for n, r in rooms.items()]})
    blob = base64.b64encode(gzip.compress(data.encode(), mtime=0)).decode()
    return _between([f"{clock(1)} [map] full {blob}", f"{clock(2)} [map] end"], rng)


@captured("H")
def rows_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for i, (n, r) in enumerate(rooms.items()):
        rows = [f"{clock(i)} [map] begin {n}"]
        rows += [f"{clock(i)} [map] x={num(x)} y={num(y)}" for x, y in r]
        lines.append("\n".join([*rows, f"{clock(i)} [map] end {n}"]))
    return _between(lines, rng)


@captured("H")
def several_maps_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for turn in range(3):
        state = rooms if turn == 2 else {n: shrunk(r) for n, r in rooms.items()}
        lines.append(
            f"{clock(turn)} [map] "
            + dump({"v": turn, "rooms": [{"n": n, "o": plain(r)} for n, r in state.items()]})
        )
        lines.append(f"{clock(turn)} [map] {dump({'v': turn, 'path': walk(rooms, rng)})}")
        lines.append(
            f"{clock(turn)} [map] "
            + dump({"v": turn, "walls": [two(rooms, rng)], "nogo": [box(rooms, rng)]})
        )
    return _between(lines, rng)


@captured("H")
def cut_in_the_middle(rooms: Rooms, rng: Generator) -> Written:
    lines = [f"{clock(i)} [map] {n}: {plain(r)}" for i, (n, r) in enumerate(rooms.items())]
    text = _between(lines, rng)
    tail = f"\n{clock(99)} [map] {next(iter(rooms))}: {plain(next(iter(rooms.values())))[:2]}"
    return text + tail[:-2]


@captured("H")
def flat_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f'{clock(i)} [map] room id={i + 1} name="{n}" n={len(r)} pts='
        + f"[{','.join(num(v) for p in r for v in p)}]"
        for i, (n, r) in enumerate(named(rooms, OWN).items())
    ]
    return _between(lines, rng), named(rooms, OWN)


@captured("H")
def spaces_between_noise(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"{clock(i)} [map] outline of {n}: {' '.join(f'{num(x)},{num(y)}' for x, y in r)}"
        for i, (n, r) in enumerate(rooms.items())
    ]
    return _between(lines, rng)


@captured("H")
def events_with_a_room_each(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            dump(
                {
                    "time": clock(i),
                    "event": "ROOM_CHANGED",
                    "detail": {
                        "roomName": n,
                        "roomId": 100 + i,
                        "shape": {"closed": True, "nodes": [[x, y] for x, y in [*r, r[0]]]},
                    },
                }
            )
        )
        out.append(
            dump(
                {
                    "time": clock(i),
                    "event": "POSITION",
                    "detail": {"x": 10 * i, "y": -7 * i, "heading": 90},
                }
            )
        )
        out.append(
            dump({"time": clock(i), "event": "PATH", "detail": {"nodes": walk(rooms, rng, 9)}})
        )
    return "\n".join(out)


@captured("H")
def spot_and_target_areas(rooms: Rooms, rng: Generator) -> Written:
    body = {
        "rooms": {n: semicolons(r) for n, r in rooms.items()},
        "patches": [";".join(f"{x},{y}" for x, y in box(rooms, rng, 1100)) for _ in range(2)],
        "carpets": [";".join(f"{x},{y}" for x, y in box(rooms, rng, 800))],
        "furniture": [{"type": "bed", "rect": box(rooms, rng, 900)}],
        "doors": [two(rooms, rng) for _ in range(3)],
    }
    return dump(body)


@captured("H")
def unnamed_kinds_by_number(rooms: Rooms, rng: Generator) -> Written:
    out = [
        dump({"k": 1, "id": i, "nm": n, "v": plain(r)}) for i, (n, r) in enumerate(rooms.items())
    ]
    out += [dump({"k": 3, "id": 40 + i, "nm": "", "v": box(rooms, rng)}) for i in range(2)]
    out += [dump({"k": 4, "id": 60, "nm": "", "v": two(rooms, rng)})]
    out += [dump({"k": 9, "id": 70, "nm": "", "v": walk(rooms, rng)})]
    return "\n".join(out)


@captured("H")
def csv_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    out = [f"{clock(1)} dump rooms.csv (4 columns)", "room,n,x,y"]
    for n, r in rooms.items():
        out += [f"{n},{k},{num(x)},{num(y)}" for k, (x, y) in enumerate(r)]
    out += [
        f"{clock(2)} dump path.csv (2 columns)",
        "x,y",
        *[f"{x},{y}" for x, y in walk(rooms, rng)],
    ]
    return "\n".join(out)


@captured("H")
def yaml_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    out = [f"{clock(1)} config loaded:", "rooms:"]
    for n, r in rooms.items():
        out += [f"  {n}:", f"    points: {dump(plain(r))}", "    clean: true"]
    out += ["dock: {x: 0, y: 0}", f"{clock(2)} ready, battery 93%"]
    return "\n".join(out)


@captured("H")
def shouted_fields(rooms: Rooms, rng: Generator) -> Written:
    return "\r\n".join(
        f'+MAP: ROOM,{i},"{n}",{len(r)},{",".join(f"({num(x)},{num(y)})" for x, y in r)}'
        for i, (n, r) in enumerate(named(rooms, OWN).items())
    ), named(rooms, OWN)


@captured("H")
def points_of_x_then_y_keys(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        [
            {
                "room_name": n,
                **{f"x{k}": x for k, (x, _) in enumerate(r)},
                **{f"y{k}": y for k, (_, y) in enumerate(r)},
            }
            for n, r in rooms.items()
        ]
    )


@captured("H")
def windows_1252_crlf(rooms: Rooms, rng: Generator) -> Written:
    out = ["Raumplan vom 03.05.2024 10:11", ""]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += [f"{i}. {n}", "   " + "; ".join(f"{num(x)} / {num(y)}" for x, y in r), ""]
    return "\r\n".join(out).encode("cp1252")


@captured("H")
def hex_of_zlib(rooms: Rooms, rng: Generator) -> Written:
    data = "\n".join(f"{n} {dump(plain(r))}" for n, r in rooms.items())
    return f"{clock(1)} RX {zlib.compress(data.encode()).hex()}\n{clock(2)} TX 00ff12\n"


@captured("H")
def wrapped_at_a_width(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"{n}:")
        pairs = [f"({num(x)}, {num(y)})" for x, y in r]
        out += ["    " + " ".join(pairs[i : i + 4]) for i in range(0, len(pairs), 4)]
    return "\n".join(out)


@captured("H")
def heights_beside(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        {"rooms": [{"name": n, "outline": [[x, y, 0.0] for x, y in r]} for n, r in rooms.items()]}
    )


@captured("H")
def statistics_above(rooms: Rooms, rng: Generator) -> Written:
    stats = {
        n: {"area": round(float(abs(np.ptp([x for x, _ in r]) / 1000)), 2), "times": [1, 2, 3]}
        for n, r in rooms.items()
    }
    return f"stats: {dump(stats)}\noutlines: {dump({n: plain(r) for n, r in rooms.items()})}\n"


@captured("H")
def two_keys_for_one_ring(rooms: Rooms, rng: Generator) -> Written:
    def scaled(ring: Ring) -> list[list[int]]:
        return [[round(x / 50) + 400, 400 - round(y / 50)] for x, y in ring]

    return dump([{"name": n, "outline": plain(r), "pixels": scaled(r)} for n, r in rooms.items()])
