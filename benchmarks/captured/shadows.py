"""States of devices, tables with kinds, histories, corners under letters."""

from __future__ import annotations

import html
import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, shrunk, two

__all__: list[str] = []


@captured("E")
def state_topics(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "state": {
            "reported": {
                "firmware": "7.2.11",
                "charge": 81,
                "map": {
                    "uid": "7f1c",
                    "cells": {
                        f"c{i}": {
                            "about": {"title": n, "floor": 0},
                            "line": [{"x": x, "y": y} for x, y in r],
                        }
                        for i, (n, r) in enumerate(rooms.items())
                    },
                    "guards": {
                        "g0": {"line": [{"x": x, "y": y} for x, y in box(rooms, rng)]},
                        "g1": {"line": [{"x": x, "y": y} for x, y in two(rooms, rng)]},
                    },
                },
            }
        }
    }
    return f"bot/7f1c/shadow {json.dumps(d, ensure_ascii=False)}"


@captured("E")
def xml_in_log_escaped_with_areas(rooms: Rooms, rng: Generator) -> Written:
    x = (
        "<M><L>"
        + "".join(
            f'<R i="{i}" n="{html.escape(n)}">'
            + " ".join(f"{num(a)},{num(b)}" for a, b in r)
            + "</R>"
            for i, (n, r) in enumerate(rooms.items())
        )
        + "</L><K>"
        + "".join(
            f'<R i="{i}">' + " ".join(f"{a},{b}" for a, b in box(rooms, rng)) + "</R>"
            for i in range(2)
        )
        + "</K></M>"
    )
    return (
        f"2032-09-01 08:00:01,221 INFO sync body={html.escape(x)}\n2032-09-01 08:00:02,0"
        "03 INFO done 12 3 44\n"
    )


@captured("E")
def spanish_json(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "plano": {
            "estancias": [
                {
                    "codigo": 100 + i,
                    "denominacion": n,
                    "lados": len(r),
                    "vertices": [[*p] for p in r],
                }
                for i, (n, r) in enumerate(rooms.items())
            ],
            "zonasProhibidas": [{"codigo": 900, "vertices": box(rooms, rng)}],
            "muebles": [{"codigo": 950 + i, "vertices": box(rooms, rng, 300)} for i in range(6)],
        }
    }
    return json.dumps(d, ensure_ascii=False)


@captured("E")
def csv_tab_quoted_names_header_ru(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        ["Помещение\tТочка\tВосток\tСевер"]
        + [
            f'"{n}"\t{k}\t{num(x)}\t{num(y)}'
            for n, r in rooms.items()
            for k, (x, y) in enumerate(r, 1)
        ]
    )


@captured("E")
def csv_space_aligned_units(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        ["room;x_mm;y_mm;z_mm"]
        + [f"{n};{num(x)};{num(y)};0" for n, r in rooms.items() for x, y in [*r, r[0]]]
    )


@captured("E")
def csv_with_barred(rooms: Rooms, rng: Generator) -> Written:
    out = ["id,label,category,x,y"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"{i},{n},room,{num(x)},{num(y)}" for x, y in r]
    for i in range(2):
        out += [f"{90 + i},,restricted,{x},{y}" for x, y in box(rooms, rng)]
    return "\n".join(out)


@captured("E")
def three_maps_over_time_yaml(rooms: Rooms, rng: Generator) -> Written:
    def one(t: int, rs: Rooms) -> str:
        return f"- time: {t}\n  rooms:\n" + "".join(
            f"    {json.dumps(n, ensure_ascii=False)}: "
            f"{json.dumps([[float(a), float(b)] for a, b in r])}\n"
            for n, r in rs.items()
        )

    return (
        "history:\n"
        + one(100, {n: shrunk(r) for n, r in rooms.items()})
        + one(
            200,
            {f"{n} (old)" if i == 0 else n: shrunk(r) for i, (n, r) in enumerate(rooms.items())},
        )
        + one(300, rooms)
    )


@captured("E")
def xy_equals_with_prefix(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f'[map] area "{n}" begin')
        out += [f"[map]   vertex x={num(x)} y={num(y)} flags=0x01" for x, y in r]
        out.append("[map] area end")
    return "\n".join(out)


@captured("E")
def wkt_collection(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            "names": list(rooms),
            "wkt": [
                "POLYGON ((" + ", ".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]]) + "))"
                for r in rooms.values()
            ],
        },
        ensure_ascii=False,
    )


@captured("E")
def geojson_rooms_and_furniture(rooms: Rooms, rng: Generator) -> Written:
    fs = []
    for i, (n, r) in enumerate(rooms.items()):
        fs.append(
            {
                "type": "Feature",
                "properties": {"class": "Room", "room": {"name": n, "no": i}},
                "geometry": {"type": "Polygon", "coordinates": [[list(p) for p in [*r, r[0]]]]},
            }
        )
        b = box(rooms, rng, 400)
        fs.append(
            {
                "type": "Feature",
                "properties": {"class": "Thing"},
                "geometry": {"type": "Polygon", "coordinates": [[*b, b[0]]]},
            }
        )
    return json.dumps({"type": "FeatureCollection", "features": fs}, ensure_ascii=False)


@captured("E")
def numbers_as_texts(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            "r": [
                {"nm": n, "pt": [{"x": f"{x:.1f}", "y": f"{y:.1f}"} for x, y in r]}
                for n, r in rooms.items()
            ]
        },
        ensure_ascii=False,
    )


@captured("E")
def named_corners(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            n: {chr(65 + k) if k < 26 else f"A{k}": [x, y] for k, (x, y) in enumerate(r)}
            for n, r in rooms.items()
        },
        ensure_ascii=False,
    )
