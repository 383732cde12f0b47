"""A last short round: names with marks and numbers in them, in the commonest spellings."""

from __future__ import annotations

import base64
import html
import json
import zlib

from numpy.random import Generator

from benchmarks.captured.parts import Ring, Rooms, Written, box, captured, named, num, walk
from benchmarks.spellings import clock, semicolons

__all__: list[str] = []

NAMES = (
    "Küche", "Room 3", "Anna's room", "WC 2", "Eßzimmer", "2. OG Flur", "Atelier", "Bad",
    "Hobbyraum", "Zimmer 11", "Loggia", "Hall",
)  # fmt: skip


def _pairs(ring: Ring, form: str, joint: str) -> str:
    return joint.join(form.format(num(x), num(y)) for x, y in ring)


@captured("H")
def rings_before_other_fields(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    return "\n".join(
        f"{clock(i)} room '{n}': [{_pairs(r, '({}, {})', ', ')}]; battery=77%"
        for i, (n, r) in enumerate(truth.items())
    ), truth


@captured("H")
def names_with_a_count(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    return "\n".join(
        f"{n} ({i + 3}) has {len(r)} corners: {semicolons(r)}"
        for i, (n, r) in enumerate(truth.items())
    ), truth


@captured("H")
def names_between_bars(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    rows = [f"{i}|{n}|{_pairs(r, '{},{}', ' ')}" for i, (n, r) in enumerate(truth.items())]
    return "\n".join(["id|name|corners", *rows]), truth


@captured("H")
def areas_that_are_not_forbidden(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    areas = [
        {"plotId": i, "plotName": n, "border": [[*p] for p in r], "isForbidden": False}
        for i, (n, r) in enumerate(truth.items())
    ]
    barred = [{"plotId": 99, "border": box(rooms, rng)}]
    body = {"map": {"areas": areas, "forbidden": barred, "trace": walk(rooms, rng)}}
    return json.dumps(body, ensure_ascii=False), truth


@captured("H")
def text_quoted_twice(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    bodies = [json.dumps({"n": n, "pts": [v for p in r for v in p]}) for n, r in truth.items()]
    return "\n".join(f"{clock(i)} recv {json.dumps(b)}" for i, b in enumerate(bodies)), truth


@captured("H")
def flow_maps_in_a_list(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    rows = [
        f"  - {{id: {i}, name: {json.dumps(n)}, points: [{_pairs(r, '[{}, {}]', ', ')}]}}"
        for i, (n, r) in enumerate(truth.items())
    ]
    return "\n".join(["rooms:", *rows, "dock: [1, 2]", ""]), truth


@captured("H")
def rows_cut_in_a_quote(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    rows = [f'"{n}",{num(x)},{num(y)}' for n, r in truth.items() for x, y in r]
    return "\r\n".join(["room,x,y", *rows, '"Kü']), truth


@captured("H")
def elements_of_semicolons(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    return "\n".join(
        f"<room><name>{html.escape(n)}</name>{_pairs(r, '<p>{};{}</p>', '')}</room>"
        for n, r in truth.items()
    ), truth


@captured("H")
def fields_over_corner_lines(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    below = "\n"
    return "\n".join(
        f"Room: {n}\nid={i}\n{_pairs(r, 'x={} y={}', below)}\n"
        for i, (n, r) in enumerate(truth.items())
    ), truth


@captured("H")
def tabs_before_metres(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    metres = {n: [(x / 1000, y / 1000) for x, y in [*r, r[0]]] for n, r in truth.items()}
    return "\n".join(
        f"{n}\t{i}\tPOLYGON (({_pairs(r, '{} {}', ', ')}))"
        for i, (n, r) in enumerate(metres.items())
    ), truth


@captured("H")
def packed_reprs_in_an_element(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    blob = base64.b64encode(zlib.compress(repr(dict(truth)).encode())).decode()
    return f'{clock(1)} <map size="{len(blob)}">{blob}</map>\n{clock(2)} pose 1 2 3', truth


@captured("H")
def bars_around_pairs(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, NAMES)
    return "\n".join(
        f"{clock(i)} {n} | {_pairs(r, '{} {}', ' | ')}" for i, (n, r) in enumerate(truth.items())
    ), truth
