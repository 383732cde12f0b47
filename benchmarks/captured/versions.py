"""Points with more fields, packed texts, encodings, and rooms that changed."""

from __future__ import annotations

import base64
import gzip
import json
import zlib
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, shrunk, stamp

__all__: list[str] = []


@captured("A")
def triples(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {"level": 0, "rooms": {n: {"xyz": [[x, y, 0] for x, y in r]} for n, r in rooms.items()}},
        ensure_ascii=False,
    )


@captured("A")
def trailing_flags(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "list": [
            {"n": n, "ol": [[x, y, int(rng.integers(0, 3))] for x, y in r]}
            for n, r in rooms.items()
        ]
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def trailing_flat(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f'AREA {i + 1} "{n}" {len(r)} '
            + " ".join(f"{num(x)} {num(y)}" for x, y in r)
            + " 0 2 1"
        )
    return "\n".join(out)


@captured("A")
def fields_in_points(rooms: Rooms, rng: Generator) -> Written:
    d = [
        {
            "id": i,
            "label": n,
            "pts": [{"t": 1000 + k, "x": x, "y": y, "z": 0, "q": 3} for k, (x, y) in enumerate(r)],
        }
        for i, (n, r) in enumerate(rooms.items())
    ]
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def zlib_in_topic(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps(
        {"m": [{"nm": n, "c": plain(r)} for n, r in rooms.items()], "na": [box(rooms, rng)]},
        ensure_ascii=False,
    )
    blob = base64.b64encode(zlib.compress(raw.encode())).decode()
    return f"{stamp(1)} [rx] up/raw/88af {json.dumps({'enc': 'z', 'crc': 88127, 'blob': blob})}"


@captured("A")
def gzip_wrapped(rooms: Rooms, rng: Generator) -> Written:
    raw = "\n".join(
        f"{n}\t" + " ".join(f"{num(x)},{num(y)}" for x, y in r) for n, r in rooms.items()
    )
    return b"Content-Transfer-Encoding: base64\n\n" + base64.encodebytes(
        gzip.compress(raw.encode())
    )


@captured("A")
def utf16_tabs(rooms: Rooms, rng: Generator) -> Written:
    out = ["Zimmer\tEcke\tX\tY"]
    for n, r in rooms.items():
        out += [f"{n}\t{k}\t{num(x)}\t{num(y)}" for k, (x, y) in enumerate(r, 1)]
    return b"\xfe\xff" + "\r\n".join(out).encode("utf-16-be")


@captured("A")
def bom_crlf(rooms: Rooms, rng: Generator) -> Written:
    return (
        b"\xef\xbb\xbf"
        + json.dumps(
            {
                "Raeume": [
                    {"Titel": n, "Ecken": [f"{num(x)}/{num(y)}" for x, y in r]}
                    for n, r in rooms.items()
                ]
            },
            indent=2,
            ensure_ascii=False,
        )
        .replace("\n", "\r\n")
        .encode()
    )


@captured("A")
def cut_message(rooms: Rooms, rng: Generator) -> Written:
    m = json.dumps(
        {"rooms": [{"name": n, "outline": plain(r)} for n, r in rooms.items()]}, ensure_ascii=False
    )
    return (
        f"{stamp(1)} map {m}\n{stamp(2)} pose [1, 2, 90]\n{stamp(3)} map {m[: int(len(m) * 0.6)]}"
    )


@captured("A")
def renamed_rooms(rooms: Rooms, rng: Generator) -> Written:
    old = [
        {"id": i, "name": f"Area {i}", "poly": plain(shrunk(r))}
        for i, r in enumerate(rooms.values())
    ]
    new = [{"id": i, "name": n, "poly": plain(r)} for i, (n, r) in enumerate(rooms.items())]
    return (
        f"{stamp(1)} state {json.dumps({'rooms': old})}\n{stamp(2)} ping 17 ms\n"
        f"{stamp(9)} state {json.dumps({'rooms': new})}\n"
    )


@captured("A")
def removed_room(rooms: Rooms, rng: Generator) -> Written:
    a = np.concatenate([np.array(r) for r in rooms.values()])
    x1, y0 = a[:, 0].max() + 100, a[:, 1].min()
    shed = [[x1, y0], [x1 + 2500, y0], [x1 + 2500, y0 + 2000], [x1, y0 + 2000]]

    def msg(rs: Mapping[str, Any]) -> str:
        return json.dumps(
            {
                "rooms": [
                    {"name": n, "poly": [list(map(float, p)) for p in r]} for n, r in rs.items()
                ]
            },
            ensure_ascii=False,
        )

    return f"{stamp(1)} state {msg({'shed': shed, **rooms})}\n{stamp(9)} state {msg(rooms)}\n"


@captured("A")
def merged_rooms(rooms: Rooms, rng: Generator) -> Written:
    first = next(iter(rooms))
    r = np.array(rooms[first])
    x0, y0 = r.min(axis=0)
    x1, y1 = r.max(axis=0)
    xm = (x0 + x1) / 2
    old = {
        "left bit": [[x0, y0], [xm, y0], [xm, y1], [x0, y1]],
        "right bit": [[xm, y0], [x1, y0], [x1, y1], [xm, y1]],
        **{n: r for n, r in rooms.items() if n != first},
    }

    def msg(rs: Mapping[str, Any]) -> str:
        return "".join(
            f"<room t={json.dumps(n, ensure_ascii=False)} p='"
            + " ".join(f"{num(p[0])},{num(p[1])}" for p in r)
            + "'/>"
            for n, r in rs.items()
        )

    return (
        f"{stamp(1)} <plan rev='1'>{msg(old)}</plan>\n{stamp(9)} <plan rev='2'>"
        f"{msg(rooms)}</plan>\n"
    )


@captured("A")
def delta_by_id(rooms: Rooms, rng: Generator) -> Written:
    items = list(rooms.items())
    old = {n: shrunk(r) if i == 1 else r for i, (n, r) in enumerate(items)}
    out = [
        f"{stamp(i)} set-room "
        f"{json.dumps({'rid': i + 5, 'caption': n, 'ring': plain(old[n])}, ensure_ascii=False)}"
        for i, (n, r) in enumerate(items)
    ]
    out.append(
        f"{stamp(70)} set-room "
        f"{json.dumps({'rid': 6, 'ring': plain(items[1][1])}, ensure_ascii=False)}"
    )
    return "\n".join(out)
