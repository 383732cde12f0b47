"""Captures to read: floors written out in many spellings, with what else such texts carry.

Every spelling is written by hand after what loggers, message queues, exporters and people produce;
the keys are made up. Around the outlines stand a driven path, a pose, a dock, a two-point barrier,
areas to keep out of, and numbers that are no coordinates.
"""

from __future__ import annotations

import base64
import gzip
import html
import json
import pprint
import zlib
from collections.abc import Callable, Mapping

import numpy as np
from numpy.random import Generator

__all__ = [
    "BARRED",
    "SPELLINGS",
    "Rooms",
    "clock",
    "num",
    "plain",
    "semicolons",
    "spelling",
]

Rooms = Mapping[str, list[tuple[float, float]]]
Spelling = Callable[[Rooms, Generator], str | bytes]

SPELLINGS: dict[str, Spelling] = {}
BARRED = [(400.0, 400.0), (900.0, 400.0), (900.0, 1100.0), (400.0, 1100.0)]


def spelling(function: Spelling) -> Spelling:
    """Enter a spelling under its function's name."""
    SPELLINGS[function.__name__.replace("_", " ")] = function
    return function


def num(value: float) -> str:
    return f"{value:.10g}"


def plain(ring: list[tuple[float, float]]) -> list[list[float]]:
    return [[int(v) if v == int(v) else v for v in point] for point in ring]


def semicolons(ring: list[tuple[float, float]]) -> str:
    return ";".join(f"{num(x)},{num(y)}" for x, y in ring)


def driven(rng: Generator, count: int = 40) -> list[list[int]]:
    steps = rng.normal(0, 300, (count, 2)).cumsum(axis=0)
    return [[int(x), int(y)] for x, y in steps]


def clock(second: int) -> str:
    time = f"{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
    return f"2031-04-{2 + second // 86400:02d} {time}.{second * 37 % 1000:03d}"


def older(rooms: Rooms) -> dict[str, list[tuple[float, float]]]:
    """The rooms as they were before: a little smaller."""
    result = {}
    for name, ring in rooms.items():
        middle = np.mean(ring, axis=0)
        smaller = np.round(middle + 0.93 * (np.array(ring) - middle), 1)
        result[name] = [(float(x), float(y)) for x, y in smaller]
    return result


@spelling
def messages_in_a_log(rooms: Rooms, rng: Generator) -> str:
    lines = []
    for turn, state in enumerate((older(rooms), rooms)):
        inner = {
            "rooms": [
                {"room_id": 16 + i, "label": name, "border": semicolons(ring)}
                for i, (name, ring) in enumerate(state.items())
            ],
            "keep_out": [{"id": 1, "border": semicolons(BARRED)}],
            "barriers": [{"id": 2, "ends": "100,100;900,100"}],
        }
        body = json.dumps({"seq": turn, "channel": "floor/state", "data": json.dumps(inner)})
        lines.append(f"{clock(100 * turn)} [worker-3] DEBUG transport: <- {body}")
        for i, (x, y) in enumerate(driven(rng, 20)):
            pose = {
                "seq": i,
                "channel": "pose",
                "data": json.dumps({"x": x, "y": y, "battery": 87}),
            }
            lines.append(
                f"{clock(100 * turn + i)} [worker-3] DEBUG transport: <- {json.dumps(pose)}"
            )
    return "\n".join(lines) + "\n"


@spelling
def a_room_a_line(rooms: Rooms, rng: Generator) -> str:
    lines = [f"{clock(1)} start version=4.12.0 address=10.0.3.17:8883 battery=64"]
    for i, (name, ring) in enumerate(older(rooms).items()):
        lines.append(f'{clock(2 + i)} room name="{name}" ring={semicolons(ring)}')
    lines.append(f"{clock(40)} path ring={semicolons([(x, y) for x, y in driven(rng)])}")
    for i, (name, ring) in enumerate(rooms.items()):
        lines.append(f'{clock(50 + i)} room name="{name}" ring={semicolons(ring)}')
        lines.append(f"{clock(50 + i)} pose x={i * 100} y={i * 7} heading=1.57")
    return "\r\n".join(lines)


@spelling
def names_as_keys(rooms: Rooms, rng: Generator) -> str:
    content = {
        "version": 3,
        "rooms": {name: plain(ring) for name, ring in rooms.items()},
        "restricted": {"stairs": plain(BARRED)},
        "path": driven(rng),
        "dock": [120, 80],
    }
    return json.dumps(content, indent=2, ensure_ascii=False)


@spelling
def flat_number_lists(rooms: Rooms, rng: Generator) -> str:
    areas = [
        {"id": i + 1, "name": name, "polygon": [v for point in plain(ring) for v in point]}
        for i, (name, ring) in enumerate(rooms.items())
    ]
    way = [v for point in driven(rng) for v in point]
    return json.dumps({"stamp": 1933145000, "areas": areas, "trace": way, "grid": [0] * 64})


@spelling
def an_object_a_line(rooms: Rooms, rng: Generator) -> str:
    lines = []
    for name, ring in rooms.items():
        corners = [{"x": x, "y": y} for x, y in plain(ring)]
        lines.append(json.dumps({"kind": "room", "title": name, "corners": corners}))
    for x, y in driven(rng, 6):
        lines.append(json.dumps({"kind": "pose", "at": {"x": x, "y": y}}))
    corners = [{"x": x, "y": y} for x, y in plain(BARRED)]
    lines.append(json.dumps({"kind": "forbidden", "title": "rug", "corners": corners}))
    return "\n".join(lines) + "\n"


@spelling
def lists_of_x_and_y(rooms: Rooms, rng: Generator) -> str:
    content = [
        {"room": name, "x": [p[0] for p in plain(ring)], "y": [p[1] for p in plain(ring)]}
        for name, ring in rooms.items()
    ]
    return json.dumps({"rooms": content, "robot": {"x": 1200, "y": -300, "theta": 0.3}})


@spelling
def geojson(rooms: Rooms, rng: Generator) -> str:
    features: list[object] = [
        {
            "type": "Feature",
            "id": i,
            "properties": {"name": name, "floor": 1},
            "geometry": {"type": "Polygon", "coordinates": [[*plain(ring), plain(ring)[0]]]},
        }
        for i, (name, ring) in enumerate(rooms.items())
    ]
    line = {"type": "LineString", "coordinates": driven(rng)}
    features.append({"type": "Feature", "properties": {"name": "driven"}, "geometry": line})
    dock = {"type": "Point", "coordinates": [10, 20]}
    features.append({"type": "Feature", "properties": {"name": "dock"}, "geometry": dock})
    return json.dumps({"type": "FeatureCollection", "features": features}, indent=1)


@spelling
def xml_attributes(rooms: Rooms, rng: Generator) -> str:
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<floor revision="7"><rooms>']
    for i, (name, ring) in enumerate(rooms.items()):
        points = " ".join(f"{num(x)},{num(y)}" for x, y in ring)
        lines.append(f'  <room id="{i}" name="{html.escape(name)}" points="{points}"/>')
    points = " ".join(f"{num(x)},{num(y)}" for x, y in BARRED)
    lines.append(f'</rooms><barred><area id="9" points="{points}"/></barred></floor>')
    return "\n".join(lines)


@spelling
def xml_elements(rooms: Rooms, rng: Generator) -> str:
    lines = ["<plan>", "  <!-- exported -->", '  <dock x="10" y="20"/>']
    for name, ring in rooms.items():
        lines += ["  <room>", f"    <label>{html.escape(name)}</label>", "    <contour>"]
        lines += [f"      <vertex><x>{num(x)}</x><y>{num(y)}</y></vertex>" for x, y in ring]
        lines += ["    </contour>", "  </room>"]
    way = "".join(f"<vertex><x>{x}</x><y>{y}</y></vertex>" for x, y in driven(rng))
    return "\n".join([*lines, f"  <route>{way}</route>", "</plan>", ""])


@spelling
def xml_escaped_in_a_log(rooms: Rooms, rng: Generator) -> str:
    document = "".join(
        f'<space title="{html.escape(name)}"><outline>{semicolons(ring)}</outline></space>'
        for name, ring in rooms.items()
    )
    lines = [f"{clock(i)} INFO heartbeat rssi=-{50 + i} load=0.{i}" for i in range(10)]
    lines.insert(5, f"{clock(5)} INFO got &lt;plan&gt;{html.escape(document)}&lt;/plan&gt;")
    return "\n".join(lines)


@spelling
def python_repr_in_a_log(rooms: Rooms, rng: Generator) -> str:
    state = {
        "rooms": [
            {"id": i, "name": name, "floor": None, "wet": False, "outline": list(map(tuple, ring))}
            for i, (name, ring) in enumerate(rooms.items())
        ],
        "no_go": [list(map(tuple, BARRED))],
        "pose": (12.5, 30.0, 1.57),
    }
    return f"{clock(9)} mapper.py:212 state is {state!r}\n"


@spelling
def csv_with_commas(rooms: Rooms, rng: Generator) -> str:
    out = ["room,vertex,x,y"]
    for name, ring in rooms.items():
        out += [f'"{name}",{i},{num(x)},{num(y)}' for i, (x, y) in enumerate(ring)]
    return "\r\n".join(out) + "\r\n"


@spelling
def csv_in_metres_with_decimal_commas(rooms: Rooms, rng: Generator) -> bytes:
    out = ["Raum;X [m];Y [m];Stand"]
    for name, ring in rooms.items():
        for x, y in ring:
            cells = [f"{v / 1000:.4f}".replace(".", ",") for v in (x, y)]
            out.append(";".join([name, *cells, "2031-04-02 10:00"]))
    return "\n".join(out).encode("cp1252")


@spelling
def tabs_with_more_columns(rooms: Rooms, rng: Generator) -> str:
    out = ["stamp\tid\tlabel\tn\tpos_x\tpos_y\tquality"]
    for number, (name, ring) in enumerate(rooms.items()):
        for i, (x, y) in enumerate(ring):
            cells = [1933145000 + i, number, name, i, num(x), num(y), f"{rng.uniform():.3f}"]
            out.append("\t".join(map(str, cells)))
    return "\n".join(out)


@spelling
def well_known_text(rooms: Rooms, rng: Generator) -> str:
    lines = ["name|geometry"]
    for name, ring in rooms.items():
        points = ", ".join(f"{num(x)} {num(y)}" for x, y in [*ring, ring[0]])
        lines.append(f"{name}|POLYGON (({points}))")
    way = ", ".join(f"{x} {y}" for x, y in driven(rng))
    return "\n".join([*lines, f"driven|LINESTRING ({way})", "dock|POINT (10 20)"])


@spelling
def yaml_blocks(rooms: Rooms, rng: Generator) -> str:
    lines = ["# a floor", "dock:", "  x: 10", "  y: 20", "rooms:"]
    for name, ring in rooms.items():
        lines += [f"  - name: {name}", "    type: room", "    outline:"]
        lines += [f"      - [{num(x)}, {num(y)}]" for x, y in ring]
    lines += ["blocked:", "  - outline:"]
    return "\n".join([*lines, *(f"      - [{num(x)}, {num(y)}]" for x, y in BARRED), ""])


@spelling
def yaml_of_keys(rooms: Rooms, rng: Generator) -> str:
    lines = ["floor:", "  rooms:"]
    for name, ring in rooms.items():
        lines += [f'    "{name}":', "      points:"]
        for x, y in ring:
            lines += [f"      - x: {num(x)}", f"        y: {num(y)}"]
    return "\n".join(lines)


@spelling
def a_point_a_line(rooms: Rooms, rng: Generator) -> str:
    lines = []
    second = 0
    for name, ring in rooms.items():
        for i, (x, y) in enumerate(ring):
            second += 1
            lines.append(f'{clock(second)} room="{name}" corner={i} x={num(x)} y={num(y)}')
    return "\n".join(lines)


@spelling
def zlib_in_json(rooms: Rooms, rng: Generator) -> str:
    inner = {"rooms": [{"name": n, "outline": plain(r)} for n, r in rooms.items()]}
    packed = base64.b64encode(zlib.compress(json.dumps(inner).encode())).decode()
    return json.dumps({"id": 77, "method": "floor", "packed": packed})


@spelling
def gzip_in_a_log(rooms: Rooms, rng: Generator) -> str:
    inner = "\n".join(f"{name}: {semicolons(ring)}" for name, ring in rooms.items())
    packed = base64.b64encode(gzip.compress(inner.encode(), mtime=0)).decode()
    lines = [f"{clock(i)} TRACE frame {rng.bytes(20).hex()}" for i in range(8)]
    return "\n".join([*lines[:4], f"{clock(4)} TRACE frame {packed}", *lines[4:]])


@spelling
def utf16_with_crlf(rooms: Rooms, rng: Generator) -> bytes:
    lines = [
        f"{name}\t{' '.join(f'({num(x)} {num(y)})' for x, y in r)}" for name, r in rooms.items()
    ]
    return "\r\n".join(["Räume", *lines]).encode("utf-16")


@spelling
def cut_off_at_the_end(rooms: Rooms, rng: Generator) -> str:
    whole = json.dumps({"rooms": [{"name": n, "ring": plain(r)} for n, r in rooms.items()]})
    old = json.dumps({"rooms": [{"name": n, "ring": r} for n, r in older(rooms).items()]})
    return "\n".join(
        [f"{clock(1)} rx {old}", f"{clock(2)} rx {whole}", f"{clock(3)} rx {old[:90]}"]
    )


@spelling
def three_times_quoted(rooms: Rooms, rng: Generator) -> str:
    text = json.dumps({"areas": [{"outline": plain(r), "name": n} for n, r in rooms.items()]})
    for key in ("payload", "body", "event"):
        text = json.dumps({"v": 2, key: text})
    return f"{clock(0)} {text}\n"


@spelling
def names_in_a_list_beside(rooms: Rooms, rng: Generator) -> str:
    content = {
        "labels": list(rooms),
        "outlines": [plain(ring) for ring in rooms.values()],
        "sizes": [len(ring) for ring in rooms.values()],
    }
    return json.dumps({"floor": content}, indent=1)


@spelling
def ini_sections(rooms: Rooms, rng: Generator) -> str:
    lines = ["[device]", "serial = A12-7781", "battery = 91", "dock = 10, 20", ""]
    for i, (name, ring) in enumerate(rooms.items()):
        points = " ".join(f"({num(x)}, {num(y)})" for x, y in ring)
        lines += [f"[room.{i}]", f"name = {name}", f"outline = {points}", ""]
    return "\n".join(lines)


@spelling
def pretty_python(rooms: Rooms, rng: Generator) -> str:
    state = {
        f"R{i:02d}": {"title": n, "shape": [(float(x), float(y)) for x, y in r], "visits": i}
        for i, (n, r) in enumerate(rooms.items())
    }
    return pprint.pformat({"rooms": state, "path": driven(rng)}, width=60)


@spelling
def exponents_in_metres(rooms: Rooms, rng: Generator) -> str:
    zones = []
    for i, (name, ring) in enumerate(rooms.items()):
        points = ",".join(f"[{x / 1000:.7e},{y / 1000:.7e}]" for x, y in ring)
        zones.append(f'{{"pts":[{points}],"uid":"q{i}","alias":{json.dumps(name)}}}')
    return f'{{"zones":[{",".join(zones)}]}}'


@spelling
def an_update_of_one_room(rooms: Rooms, rng: Generator) -> str:
    first = next(iter(rooms))
    state = dict(rooms) | {first: older(rooms)[first]}
    full = {"op": "all", "rooms": [{"name": n, "edge": plain(r)} for n, r in state.items()]}
    one = {"op": "edit", "room": {"name": first, "edge": plain(rooms[first])}}
    return f"{json.dumps(full)}\n{json.dumps({'op': 'ping'})}\n{json.dumps(one)}\n"


@spelling
def reprs_of_objects(rooms: Rooms, rng: Generator) -> str:
    parts = []
    for i, (name, ring) in enumerate(rooms.items()):
        points = ", ".join(f"Point(x={num(x)}, y={num(y)})" for x, y in ring)
        parts.append(f"Room(id={i}, name={name!r}, corners=[{points}])")
    return f"Floor(level=0, rooms=[{', '.join(parts)}], dock=Point(x=10, y=20))"
