"""What four sets of mainstream spellings held that was not read at first sight.

Lines that announce a room before its points, chatter between the points, tables of several kinds.
"""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Sequence

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
    stamp,
    two,
    walk,
)

__all__: list[str] = []

_CHATTER = (
    "pwr: 14.87 V, -1.12 A, 83 %, 29.4 C",
    "net rssi=-61 addr=192.168.1.77 gw=192.168.1.1",
    "odom x=1203 y=-87 th=0.713",
    "build 3.5.8-1147 of 20260814",
)


def _logged(lines: list[str], every: int) -> str:
    """Lines with times, and one of chatter before each group of them."""
    out: list[str] = []
    for i, line in enumerate(lines):
        if i % every == 0:
            out.append(_CHATTER[i // every % len(_CHATTER)])
        out.append(line)
    return "\n".join(f"{stamp(i)} {line}" for i, line in enumerate(out))


def _pair(point: Sequence[float]) -> str:
    return f"x={num(point[0])} y={num(point[1])}"


def _text(ring: list[tuple[float, float]], apart: str, between: str) -> str:
    return between.join(f"{num(x)}{apart}{num(y)}" for x, y in ring)


@captured("F")
def numbered_segments(rooms: Rooms, rng: Generator) -> Written:
    return _logged(
        [
            f"segment #{i} {n} {json.dumps(plain(r))}"
            for i, (n, r) in enumerate(rooms.items(), 16)
        ],
        5,
    )  # fmt: skip


@captured("F")
def wkt_behind_a_tab(rooms: Rooms, rng: Generator) -> Written:
    return "".join(
        f"{n}\tPOLYGON (({_text([*r, r[0]], ' ', ', ')}))\n" for n, r in rooms.items()
    )  # fmt: skip


@captured("F")
def wkt_behind_odd_names(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, ODD)
    lines = [f"{n}: POLYGON (({_text([*r, r[0]], ' ', ', ')}))" for n, r in odd.items()]
    return "\n".join(lines), odd


@captured("F")
def counted_headings(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += [f"room {i}: {n}", *(f"  {_pair(point)}" for point in r)]
    return "\n".join(out)


@captured("F")
def begin_and_end(rooms: Rooms, rng: Generator) -> Written:
    out = ["[pose] x=11 y=-40 theta=88"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out.append(f'[map] begin area id={i} name="{n}"')
        out += [f"[map]   corner {k} {_pair(point)}" for k, point in enumerate(r)]
        out.append("[map] end area")
    return "\n".join(f"{stamp(i)} {line}" for i, line in enumerate(out))


@captured("F")
def start_and_end(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items(), 3):
        out += [f'room start id={i} "{n}"', *map(_pair, [*r, r[0]]), "room end"]
    return "\n".join([*out, "track start", *map(_pair, walk(rooms, rng)), "track end"])


@captured("F")
def path_below_the_rooms(rooms: Rooms, rng: Generator) -> Written:
    out = ["pose x=312 y=-1077 theta=1.234"]
    for i, (n, r) in enumerate(rooms.items(), 3):
        out += [f"room id={i} name={json.dumps(n)}", *map(_pair, r)]
    out += ["path", *map(_pair, walk(rooms, rng))]
    return "\n".join([*out, "barrier", *map(_pair, two(rooms, rng))])


@captured("F")
def packed_lists_of_pairs(rooms: Rooms, rng: Generator) -> Written:
    raw = "".join(f"{n}:{_text(r, ',', ';')}\n" for n, r in rooms.items())
    packed = base64.b64encode(zlib.compress(raw.encode())).decode()
    return json.dumps({"id": 5, "result": {"ts": 1795248843, "map": packed}})


@captured("F")
def counts_before_colons(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f'ROOM id={i} name="{n}" pts={len(r)} : {_text(r, " ", " ")}'
        for i, (n, r) in enumerate(rooms.items(), 3)
    ]
    track = " ".join(f"{x} {y}" for x, y in walk(rooms, rng))
    return _logged([*lines, f"TRACK n=60 : {track}", "FENCE id=1 : -500 200 1500 200"], 3)


@captured("F")
def chatter_between_corners(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"room={n!r} corner={k} {_pair(point)}"
        for n, r in rooms.items()
        for k, point in enumerate(r)
    ]
    return _logged(lines, 3)


@captured("F")
def pairs_in_turn(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f'INFO  bridge: room {i} "{n}": {" ".join(map(_pair, r))}'
        for i, (n, r) in enumerate(rooms.items(), 4)
    ]
    return _logged([*lines, f"path: {' '.join(map(_pair, walk(rooms, rng)))}"], 4)


@captured("F")
def unquoted_values(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, ("Bad (oben)", "Wohnen/Essen", "Küche & Bar", *ODD[5:]))
    lines = [
        f"INFO  bridge: room={n} id={i} outline={json.dumps(plain(r))}"
        for i, (n, r) in enumerate(odd.items(), 1)
    ]
    return _logged([f"INFO  bridge: path={walk(rooms, rng)}", *lines], 4), odd


def _mixed(rooms: Rooms, rng: Generator, mark: str) -> str:
    rows: list[tuple[str, str, Sequence[float]]]
    rows = [("room", n, point) for n, r in rooms.items() for point in [*plain(r), plain(r)[0]]]
    rows += [("path", "", point) for point in walk(rooms, rng)]
    rows += [("barrier", "B1", point) for point in two(rooms, rng)]
    rows += [("restricted", "Z1", point) for point in box(rooms, rng)]
    lines = [mark.join((kind, n, *map(num, point))) for kind, n, point in rows]
    head = "# exported 2026-11-22 19:03:11, firmware 3.5.8"
    return "\n".join([head, mark.join(("type", "name", "x", "y")), *lines])


@captured("F")
def mixed_rows_comma(rooms: Rooms, rng: Generator) -> Written:
    return _mixed(rooms, rng, ",")


@captured("F")
def mixed_rows_semicolon(rooms: Rooms, rng: Generator) -> Written:
    return _mixed(rooms, rng, ";")


@captured("F")
def mixed_rows_tab(rooms: Rooms, rng: Generator) -> Written:
    return _mixed(rooms, rng, "\t")


_KNOWN = ("Entry", "Home Office", "Hall", "Bath", "Entry Hall", "Kitchen", *ODD[6:])
"""Names made of words that elsewhere tell what follows; in a small share of the lines."""


@captured("F")
def known_words_in_a_mapping(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, _KNOWN)
    return f"rooms update\n{json.dumps({n: plain(r) for n, r in odd.items()})}", odd


@captured("F")
def numbered_rooms_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, _KNOWN)
    lines = [
        f"[map] room {7 * i % 17} {n}: {_text(r, ',', ';')}" for i, (n, r) in enumerate(odd.items())
    ]
    return "\n".join(f"{stamp(i)} {line}" for i, line in enumerate(lines)), odd


@captured("F")
def chatter_between_bare_corners(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for i, (n, r) in enumerate(rooms.items(), 16):
        lines.append(f'(map) area {i} name="{n}" corners={len(r)}')
        lines += [f"(map) corner {_pair(point)}" for point in r]
    return _logged(lines, 2)


@captured("F")
def counts_behind_names(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"{i} {n.replace(' ', '_')} {len(r)} {_text(r, ' ', ' ')}"
        for i, (n, r) in enumerate(rooms.items(), 16)
    ]
    return "\n".join(lines), {n.replace(" ", "_"): r for n, r in rooms.items()}


@captured("F")
def names_in_angle_brackets(rooms: Rooms, rng: Generator) -> Written:
    lines = [f"<{n}> [({_text(r, ', ', '), (')})]" for n, r in rooms.items()]
    return _logged(lines, 3)
