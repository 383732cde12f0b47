"""What else lies on the floor: boxes, holes, obstacles, zones, doors, the whole floor."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import shapely
from numpy.random import Generator

from benchmarks.captured.parts import Ring, Rooms, Written, box, captured, num, plain, two

__all__: list[str] = []


@captured("A")
def markdown_row_a_room(rooms: Rooms, rng: Generator) -> Written:
    out = ["| # | Space | m² | Corners (mm) |", "|--:|---|--:|---|"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"| {i + 1} | {n} | {rng.uniform(4, 30):.1f} | "
            + " ".join(f"({num(x)}, {num(y)})" for x, y in r)
            + " |"
        )
    return "\n".join(out)


@captured("A")
def ini_numbered(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += (
            [f"[space.{i}]", f"title = {n}", "colour = 12, 40, 200"]
            + [f"p{k} = {num(x)}, {num(y)}" for k, (x, y) in enumerate(r)]
            + [""]
        )
    return "\n".join(out)


@captured("A")
def js_literal(rooms: Rooms, rng: Generator) -> Written:
    out = ["// generated 2032-09-01", "export const floor = {", "  rev: 4,", "  rooms: ["]
    for n, r in rooms.items():
        out.append(
            f"    {{ title: '{n}', pts: ["
            + ", ".join(f"{{x: {num(x)}, y: {num(y)}}}" for x, y in r)
            + ",], },"
        )
    out += ["  ],", "  start: {x: 0, y: 12},", "};"]
    return "\n".join(out)


@captured("A")
def flattened_keys(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"rooms.{i}.name={n}")
        for k, (x, y) in enumerate(r):
            out += [f"rooms.{i}.points.{k}.x={num(x)}", f"rooms.{i}.points.{k}.y={num(y)}"]
    return "\n".join(out)


@captured("A")
def noisy_syslog(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"<13>Sep  1 10:0{i % 10}:11 sweeper[812]: 00:1b:44:11:3a:b7 192.168.4.{i + 2} f"
            f"w=3.11.2-b88 bat=91% crc=0x8f3a rssi=-61,-62,-60 room '{n}' outline "
            f"{[(x, y) for x, y in r]}"
        )
        out.append(
            f"<13>Sep  1 10:0{i % 10}:12 sweeper[812]: temp 31.2 31.4 31.9 fan 1200 1210 1220 1180"
        )
    return "\n".join(out)


@captured("A")
def with_units(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"{n} ({len(r)} corners)")
        out += [f"   {num(x)} mm, {num(y)} mm" for x, y in r]
    return "\n".join(out)


@captured("A")
def centimetres(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "unit": "cm",
        "rooms": [
            {"name": n, "shape": [[round(x / 10, 2), round(y / 10, 2)] for x, y in r]}
            for n, r in rooms.items()
        ],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def boxes_beside(rooms: Rooms, rng: Generator) -> Written:
    def bb(r: Ring) -> list[list[float]]:
        a = np.array(r)
        x0, y0 = a.min(axis=0)
        x1, y1 = a.max(axis=0)
        return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]

    d = {
        "rooms": [
            {
                "name": n,
                "bounds": bb(r),
                "middle": [float(v) for v in np.mean(r, axis=0)],
                "outline": plain(r),
            }
            for n, r in rooms.items()
        ]
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def holes(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "rooms": [
            {
                "name": n,
                "geometry": [
                    plain(r),
                ],
            }
            for n, r in rooms.items()
        ]
    }
    p = shapely.maximum_inscribed_circle(shapely.Polygon(next(iter(rooms.values()))), 50).coords[0]
    first = np.array(p) - 45
    outer: Any = d["rooms"][0]["geometry"]
    outer.append(
        [
            [float(first[0] + a), float(first[1] + b)]
            for a, b in ((0, 0), (90, 0), (90, 90), (0, 90))
        ]
    )
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def many_obstacles(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "areas": [{"label": n, "polygon": plain(r)} for n, r in rooms.items()],
        "things": [
            {"label": w, "prob": round(float(rng.uniform()), 2), "polygon": box(rooms, rng, 180)}
            for w in [
                "shoe",
                "cable",
                "scale",
                "bowl",
                "toy",
                "shoe",
                "pedestal",
                "cable",
                "shoe",
                "bowl",
                "lamp",
                "toy",
                "bag",
                "shoe",
                "toy",
                "toy",
                "cable",
            ]
        ],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def marked_zones(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "rooms": [{"label": n, "polygon": plain(r)} for n, r in rooms.items()],
        "zones": [
            {"label": w, "polygon": box(rooms, rng, 2500)}
            for w in ["under the table", "by the door"]
        ],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def doors_and_rugs(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for n, r in rooms.items():
        lines.append(f'raum "{n}" ' + " ".join(f"{num(x)}/{num(y)}" for x, y in r))
    for _ in range(4):
        a, b = two(rooms, rng)
        lines.append(f"tuer {a[0]}/{a[1]} {b[0]}/{b[1]}")
    rugs = [box(rooms, rng, 1200) for _ in range(2)]
    lines += ['teppich "Läufer" ' + " ".join(f"{x}/{y}" for x, y in rug) for rug in rugs]
    return "\n".join(lines)


@captured("A")
def whole_floor_too(rooms: Rooms, rng: Generator) -> Written:
    a = np.concatenate([np.array(r) for r in rooms.values()])
    x0, y0 = a.min(axis=0) - 200
    x1, y1 = a.max(axis=0) + 200
    hull = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    return json.dumps(
        {
            "flat": {"label": "all", "pg": hull},
            "parts": [{"label": n, "pg": plain(r)} for n, r in rooms.items()],
        },
        ensure_ascii=False,
    )


@captured("A")
def plain_rows_counted(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f'room {i + 3} "{n}" {len(r)} pts: ' + " ".join(f"{num(x)} {num(y)}" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )
