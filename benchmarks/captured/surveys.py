"""Surveys: tables of several kinds, more languages, extents, screens, lists of x and of y."""

from __future__ import annotations

import json

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, px

__all__: list[str] = []


@captured("C")
def centre_table_too(rooms: Rooms, rng: Generator) -> Written:
    out = ["name,cx,cy,area"]
    out += [
        f"{n},{np.mean(r, axis=0)[0]:.1f},{np.mean(r, axis=0)[1]:.1f},12.5"
        for n, r in rooms.items()
    ]
    out += ["", "name,corner,x,y"]
    for n, r in rooms.items():
        out += [f"{n},{i},{num(x)},{num(y)}" for i, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("C")
def mixed_kinds_table(rooms: Rooms, rng: Generator) -> Written:
    out = ["kind;name;n;x;y"]
    for n, r in rooms.items():
        out += [f"room;{n};{i};{num(x)};{num(y)}" for i, (x, y) in enumerate(r)]
    for k in range(2):
        out += [f"ban;ban{k};{i};{x};{y}" for i, (x, y) in enumerate(box(rooms, rng))]
    return "\n".join(out)


@captured("C")
def mixed_kinds_codes_table(rooms: Rooms, rng: Generator) -> Written:
    out = ["type,obj,px,py"]
    for k in range(2):
        out += [f"12,obstacle {'ab'[k]},{x},{y}" for x, y in box(rooms, rng, 400)]
    for n, r in rooms.items():
        out += [f"3,{n},{num(x)},{num(y)}" for x, y in r]
    return "\n".join(out)


@captured("C")
def portuguese_yaml(rooms: Rooms, rng: Generator) -> Written:
    out = ["andar: 1", "divisoes:"]
    for n, r in rooms.items():
        out += [f"  - designacao: {n}", "    cantos:"] + [
            f"      - {{x: {num(x)}, y: {num(y)}}}" for x, y in r
        ]
    out += ["proibidas:"]
    for _ in range(2):
        out += ["  - cantos:"] + [f"      - {{x: {x}, y: {y}}}" for x, y in box(rooms, rng)]
    return "\n".join(out)


@captured("C")
def czech_lines(rooms: Rooms, rng: Generator) -> Written:
    out = [
        f"místnost '{n}' obrys " + " ".join(f"[{num(x)};{num(y)}]" for x, y in r)
        for n, r in rooms.items()
    ]
    out += ["zákaz obrys " + " ".join(f"[{x};{y}]" for x, y in box(rooms, rng)) for _ in range(3)]
    return "\n".join(out)


@captured("C")
def arabic(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "الغرف": [{"الاسم": n, "الحدود": plain(r)} for n, r in rooms.items()],
        "ممنوع": [{"الحدود": box(rooms, rng)} for _ in range(2)],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("C")
def hindi_csv(rooms: Rooms, rng: Generator) -> Written:
    out = ["कमरा,क्रम,एक्स,वाई"]
    for n, r in rooms.items():
        out += [f"{n},{i},{num(x)},{num(y)}" for i, (x, y) in enumerate(r, 1)]
    return "\n".join(out)


@captured("C")
def greek_xml(rooms: Rooms, rng: Generator) -> Written:
    return (
        "<σχέδιο>"
        + "".join(
            f"<δωμάτιο όνομα={json.dumps(n, ensure_ascii=False)}>"
            + "".join(f'<γωνία α="{num(x)}" β="{num(y)}"/>' for x, y in r)
            + "</δωμάτιο>"
            for n, r in rooms.items()
        )
        + "</σχέδιο>"
    )


@captured("C")
def wkt_multi(rooms: Rooms, rng: Generator) -> Written:
    out = [
        f"{i}\t{n}\tMULTIPOLYGON ((("
        + ", ".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]])
        + ")))"
        for i, (n, r) in enumerate(rooms.items())
    ]
    return "ogc_fid\tname\twkb_geometry\n" + "\n".join(out)


@captured("C")
def wkt_z(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"INSERT INTO room (name, geom) VALUES ('{n}', ST_GeomFromText('POLYGON Z (("
        + ", ".join(f"{num(x)} {num(y)} 0" for x, y in [*r, r[0]])
        + "))', 0));"
        for n, r in rooms.items()
    )


@captured("C")
def collection_with_extent(rooms: Rooms, rng: Generator) -> Written:
    a = np.concatenate([np.array(r) for r in rooms.values()])
    x0, y0 = map(float, a.min(axis=0))
    x1, y1 = map(float, a.max(axis=0))
    fs: list[dict[str, object]] = [
        {
            "type": "Feature",
            "id": "site",
            "properties": {"label": "site"},
            "geometry": {
                "type": "Polygon",
                "coordinates": [
                    [
                        [x0 - 300, y0 - 300],
                        [x1 + 300, y0 - 300],
                        [x1 + 300, y1 + 300],
                        [x0 - 300, y1 + 300],
                        [x0 - 300, y0 - 300],
                    ]
                ],
            },
        }
    ]
    fs += [
        {
            "type": "Feature",
            "id": i,
            "properties": {"label": n},
            "geometry": {"type": "Polygon", "coordinates": [plain([*r, r[0]])]},
        }
        for i, (n, r) in enumerate(rooms.items())
    ]
    return json.dumps(
        {"type": "FeatureCollection", "bbox": [x0, y0, x1, y1], "features": fs}, ensure_ascii=False
    )


@captured("C")
def screen_and_world_lines(rooms: Rooms, rng: Generator) -> Written:
    out = [f"ui poly {n!r} " + " ".join(f"{x},{y}" for x, y in px(r)) for n, r in rooms.items()]
    out += [
        f"map poly {n!r} " + " ".join(f"{num(x)},{num(y)}" for x, y in r) for n, r in rooms.items()
    ]
    return "\n".join(out)


@captured("C")
def cells_and_mm(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "grid_step": 50,
        "rooms": [
            {"n": n, "cells": [[round(x / 50), round(y / 50)] for x, y in r], "corners": plain(r)}
            for n, r in rooms.items()
        ],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("C")
def xy_arrays_per_room(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "rooms": [
            {"label": n, "xs": [x for x, _ in r], "ys": [y for _, y in r]} for n, r in rooms.items()
        ],
        "dock": {"xs": [0], "ys": [0]},
    }
    return json.dumps(d, ensure_ascii=False)


@captured("C")
def xy_strings_per_room(rooms: Rooms, rng: Generator) -> Written:
    return "\n\n".join(
        f"name: {n}\nx: "
        + " ".join(num(x) for x, _ in r)
        + "\ny: "
        + " ".join(num(y) for _, y in r)
        for n, r in rooms.items()
    )


@captured("C")
def numpy_lines(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n} = np.array([" + ", ".join(f"[{num(x)}, {num(y)}]" for x, y in r) + "])"
        for n, r in {k.replace(" ", "_").replace(".", "_"): v for k, v in rooms.items()}.items()
    ), {k.replace(" ", "_").replace(".", "_"): v for k, v in rooms.items()}
