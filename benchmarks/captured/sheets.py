"""Sheets of all layouts, names by number, keys of more languages, layers and flags."""

from __future__ import annotations

import base64
import html
import json
import zlib

from numpy.random import Generator

from benchmarks.captured.parts import (
    Rooms,
    Written,
    box,
    captured,
    num,
    plain,
    px,
    stamp,
    two,
    walk,
)

__all__: list[str] = []


@captured("B")
def columns_side_by_side(rooms: Rooms, rng: Generator) -> Written:
    rooms = {n.replace(" ", "_"): r for n, r in rooms.items()}
    k = max(map(len, rooms.values()))
    rows = [
        [f"{num(r[i][0])};{num(r[i][1])}" if i < len(r) else ";" for r in rooms.values()]
        for i in range(k)
    ]
    head = [f"{n} x;{n} y" for n in rooms]
    return "\n".join(";".join(row) for row in [head, *rows]), rooms


@captured("B")
def fixed_width(rooms: Rooms, rng: Generator) -> Written:
    out = ["ROOM            PT         X         Y", "--------------- -- --------- ---------"]
    for n, r in rooms.items():
        out += [f"{n:<15} {i + 1:2d} {x:9.1f} {y:9.1f}" for i, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("B")
def numbered_points_in_line(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n}: " + " ".join(f"P{i + 1}={num(x)}/{num(y)}" for i, (x, y) in enumerate(r))
        for n, r in rooms.items()
    )


@captured("B")
def words_x_y(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f'begin "{n}"')
        out += [f"  x {num(x)} y {num(y)}" for x, y in r]
        out.append("end")
    return "\n".join(out)


@captured("B")
def names_by_line_later(rooms: Rooms, rng: Generator) -> Written:
    out = [
        f"seg[{20 + i}] = " + " ".join(f"({num(x)},{num(y)})" for x, y in r)
        for i, r in enumerate(rooms.values())
    ]
    out += [f"name[{20 + i}] = {n}" for i, n in enumerate(rooms)]
    return "\n".join(out)


@captured("B")
def renamed_by_event(rooms: Rooms, rng: Generator) -> Written:
    rings = list(rooms.values())
    out = [
        f"{stamp(1)} plan "
        + json.dumps(
            [{"id": i, "name": f"Segment {i}", "ring": plain(r)} for i, r in enumerate(rings)]
        )
    ]
    out.append(
        f"{stamp(5)} plan "
        + json.dumps(
            [{"id": i, "name": n, "ring": plain(r)} for i, (n, r) in enumerate(rooms.items())],
            ensure_ascii=False,
        )
    )
    return "\n".join(out)


@captured("B")
def meta_apart(rooms: Rooms, rng: Generator) -> Written:
    a = {"ids": [f"s{i}" for i in range(len(rooms))], "rings": [plain(r) for r in rooms.values()]}
    b = {f"s{i}": {"label": n, "colour": f"#ff0{i:03d}"} for i, n in enumerate(rooms)}
    return json.dumps({"geometry": a, "annotations": b}, ensure_ascii=False)


@captured("B")
def italian(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "piano": 0,
        "stanze": [
            {"nome": n, "vertici": [{"ascissa": x, "ordinata": y} for x, y in r]}
            for n, r in rooms.items()
        ],
        "zoneVietate": [{"vertici": [{"ascissa": x, "ordinata": y} for x, y in box(rooms, rng)]}],
        "base": {"ascissa": 1, "ordinata": 2},
    }
    return json.dumps(d, ensure_ascii=False)


@captured("B")
def swedish_xml(rooms: Rooms, rng: Generator) -> Written:
    out = ["<våning>"]
    for n, r in rooms.items():
        out.append(
            f'<rum benämning="{html.escape(n)}"><kontur>'
            + " ".join(f"{num(x)},{num(y)}" for x, y in r)
            + "</kontur></rum>"
        )
    out.append(
        "<spärr><kontur>" + " ".join(f"{x},{y}" for x, y in box(rooms, rng)) + "</kontur></spärr>"
    )
    out.append(
        "<spärr><kontur>"
        + " ".join(f"{x},{y}" for x, y in box(rooms, rng))
        + "</kontur></spärr></våning>"
    )
    return "\n".join(out)


@captured("B")
def korean(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "지도": {
            "방": [{"이름": n, "꼭짓점": plain(r)} for n, r in rooms.items()],
            "금지구역": [
                {"이름": "A", "꼭짓점": box(rooms, rng)},
                {"이름": "B", "꼭짓점": box(rooms, rng)},
                {"이름": "C", "꼭짓점": box(rooms, rng)},
            ],
        }
    }
    return json.dumps(d, ensure_ascii=False, indent=2)


@captured("B")
def turkish_csv(rooms: Rooms, rng: Generator) -> Written:
    out = ["oda\tsıra\tyatay\tdikey"]
    for n, r in rooms.items():
        out += [f"{n}\t{i}\t{num(x)}\t{num(y)}" for i, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("B")
def layers_in_one_list(rooms: Rooms, rng: Generator) -> Written:
    items = [
        {"layer": "A-AREA", "text": n, "verts": plain(r), "closed": True} for n, r in rooms.items()
    ]
    items += [
        {"layer": "A-FURN", "text": w, "verts": box(rooms, rng, 600), "closed": True}
        for w in ["sofa", "table", "bed", "shelf"]
    ]
    items += [{"layer": "A-DIMS", "text": "", "verts": two(rooms, rng), "closed": False}]
    rng.shuffle(items)
    return json.dumps({"entities": items}, ensure_ascii=False)


@captured("B")
def flags_only(rooms: Rooms, rng: Generator) -> Written:
    items = [{"nm": n, "fl": 1, "q": [v for p in plain(r) for v in p]} for n, r in rooms.items()]
    items += [{"nm": "", "fl": 6, "q": [v for p in box(rooms, rng) for v in p]} for _ in range(4)]
    return "M:" + json.dumps(items, ensure_ascii=False, separators=(",", ":"))


@captured("B")
def rectangles_beside(rooms: Rooms, rng: Generator) -> Written:
    bs = [box(rooms, rng) for _ in range(3)]
    d = {
        "r": [{"l": n, "o": plain(r)} for n, r in rooms.items()],
        "z": [[b[0][0], b[0][1], b[2][0], b[2][1]] for b in bs],
        "w": [[b[0][0], b[0][1], b[2][0], b[2][1]] for b in bs],
        "p": walk(rooms, rng),
    }
    return json.dumps(d, ensure_ascii=False)


@captured("B")
def plan_units_pair(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "rooms": [
            {"name": n, "polygon": {"image": px(r), "floor": plain(r)}} for n, r in rooms.items()
        ]
    }
    return json.dumps(d, ensure_ascii=False)


@captured("B")
def metres_and_mm(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(
            f"room={n!r} m={[[round(x / 1000, 4), round(y / 1000, 4)] for x, y in r]} mm={plain(r)}"
        )
    return "\n".join(out)


@captured("B")
def zlib_lines(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        raw = json.dumps({"title": n, "verts": plain(r)}, ensure_ascii=False).encode()
        out.append(
            f"{stamp(i)} chunk {i + 1}/{len(rooms)} {base64.b64encode(zlib.compress(raw)).decode()}"
        )
    return "\n".join(out)
