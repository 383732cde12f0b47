"""Rooms of which much is said beside the name and the outline, in records of every kind."""

from __future__ import annotations

import base64
import html
import json
import uuid
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
    stamp,
    two,
    walk,
)
from benchmarks.spellings import clock, semicolons

__all__: list[str] = []

CALLED = (
    "Bath", "Map Room", "Zone A", "Area 51", "Living Room 2", "Home office", "Wall closet",
    "Küche/Essen", "Salle de bain 1", "1st floor hall", "Lena", "Point Loma",
)  # fmt: skip


def _xy(ring: Ring) -> list[dict[str, float]]:
    return [{"x": x, "y": y} for x, y in ring]


def _uuid(rng: Generator) -> str:
    return str(uuid.UUID(bytes=rng.bytes(16)))


@captured("H")
def records_full_of_fields(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, CALLED)
    body = [
        {
            "uuid": _uuid(rng),
            "type": "bedroom" if i % 2 else "other",
            "color": "#a1b2c3",
            "material": "wood",
            "status": "clean",
            "last_cleaned": f"2024-05-0{i % 9 + 1}T10:00:00Z",
            "name": n,
            "area": 12.5 + i,
            "settings": {"mode": "quiet", "passes": 1},
            "outline": plain(r),
            "label_pos": [round(float(v), 1) for v in np.mean(r, axis=0)],
            "bbox": [
                min(x for x, _ in r),
                min(y for _, y in r),
                max(x for x, _ in r),
                max(y for _, y in r),
            ],
        }
        for i, (n, r) in enumerate(truth.items())
    ]
    return dump({"ok": True, "result": body}), truth


@captured("H")
def fields_in_logfmt_order(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, CALLED)
    return "\n".join(
        f'{stamp(i)} level=info event=room_saved user="app" id={i + 3} type=custom label="{n}" '
        f'material=tile polygon="{dump(plain(r))}" perimeter_mm={20000 + i} by=10.0.0.{i}'
        for i, (n, r) in enumerate(truth.items())
    ), truth


@captured("H")
def uuid_keys(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            "rooms": {_uuid(rng): {"name": n, "vertices": _xy(r)} for n, r in rooms.items()},
            "zones": {
                _uuid(rng): {
                    "name": "Rug",
                    "vertices": _xy([(float(x), float(y)) for x, y in box(rooms, rng)]),
                }
            },
        }
    )


@captured("H")
def ids_then_table_of_names(rooms: Rooms, rng: Generator) -> Written:
    out = [f"{clock(1)} names: " + ", ".join(f"{i + 1}={n}" for i, n in enumerate(rooms))]
    out += [f"{clock(2 + i)} room {i + 1}: {semicolons(r)}" for i, r in enumerate(rooms.values())]
    return "\n".join(out)


@captured("H")
def named_in_json_apart(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        [
            dump(
                {
                    "op": "room_info",
                    "rooms": [{"id": i + 10, "name": n, "order": i} for i, n in enumerate(rooms)],
                }
            ),
            dump({"op": "pose", "x": 1, "y": 2, "phi": 90}),
            dump(
                {
                    "op": "map",
                    "segments": [
                        {"id": i + 10, "points": plain(r)} for i, r in enumerate(rooms.values())
                    ],
                }
            ),
            dump({"op": "path", "points": walk(rooms, rng)}),
        ]
    )


@captured("H")
def arrays_of_name_and_ring(rooms: Rooms, rng: Generator) -> Written:
    return dump([[n, plain(r)] for n, r in rooms.items()])


@captured("H")
def ring_before_its_name(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(f"{semicolons(r)} # {n}" for n, r in rooms.items())


@captured("H")
def ring_then_fields(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        dump({"outline": plain(r), "area": 3.5 + i, "id": i, "name": n, "visible": True})
        for i, (n, r) in enumerate(named(rooms, CALLED).items())
    ), named(rooms, CALLED)


@captured("H")
def xml_elements_of_everything(rooms: Rooms, rng: Generator) -> Written:
    rows = []
    for i, (n, r) in enumerate(named(rooms, CALLED).items()):
        corners = "".join(f"<corner><x>{num(x)}</x><y>{num(y)}</y></corner>" for x, y in r)
        rows.append(
            f"<room><id>{i}</id><name>{html.escape(n)}</name><type>living</type><clean>1</clean>"
            f"<center><x>{num(r[0][0] + 700)}</x><y>{num(r[0][1] + 900)}</y></center>"
            f"<outline>{corners}</outline></room>"
        )
    path = "".join(f"<pt><x>{x}</x><y>{y}</y></pt>" for x, y in walk(rooms, rng))
    return (
        f"<robot><ip>10.0.0.7</ip><pose><x>1</x><y>2</y><a>90</a></pose><rooms>{''.join(rows)}"
        f"</rooms><path>{path}</path></robot>"
    ), named(rooms, CALLED)


@captured("H")
def xml_escaped_with_uuids(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        inner = f'<room uuid="{_uuid(rng)}"><name>{html.escape(n)}</name>'
        inner += f"<poly>{semicolons(r)}</poly></room>"
        out.append(f'{clock(i)} <event type="room">{html.escape(inner)}</event>')
    return "\n".join(out)


@captured("H")
def csv_with_many_columns(rooms: Rooms, rng: Generator) -> Written:
    rows = ["timestamp,device,room_id,room_name,point_index,pos_x,pos_y,pos_z,quality"]
    for i, (n, r) in enumerate(named(rooms, CALLED).items()):
        rows += [
            f"2024-05-06T07:08:{k % 60:02d}Z,bot-1,{i + 1},{n},{k},{num(x)},{num(y)},0.0,"
            + str(rng.integers(80, 99))
            for k, (x, y) in enumerate(r)
        ]
    return "\r\n".join(rows), named(rooms, CALLED)


@captured("H")
def csv_with_flat_cells(rooms: Rooms, rng: Generator) -> Written:
    rows = ["id;name;type;points;area"]
    rows += [
        f'{i};{n};room;"{" ".join(f"{num(x)},{num(y)}" for x, y in r)}";{12 + i},5'
        for i, (n, r) in enumerate(rooms.items())
    ]
    ring = " ".join(f"{x},{y}" for x, y in box(rooms, rng))
    rows.append(f'99;Blocked;nogo;"{ring}";1,0')
    return "\n".join(rows)


@captured("H")
def older_session_above(rooms: Rooms, rng: Generator) -> Written:
    old = {n: [(x + 130, y - 75) for x, y in r] for n, r in rooms.items()}
    out = []
    for turn, state in enumerate((old, rooms)):
        out.append(f"=== session {turn + 1} {stamp(turn * 86400)} ===")
        out += [
            f"room {n}: {' '.join(f'{num(x)},{num(y)}' for x, y in r)}" for n, r in state.items()
        ]
        out.append(f"track: {' '.join(f'{x},{y}' for x, y in walk(rooms, rng))}")
    return "\n".join(out)


@captured("H")
def room_changed_later(rooms: Rooms, rng: Generator) -> Written:
    first = next(iter(rooms))
    old = {**rooms, first: shrunk(rooms[first])}
    out = [f"{clock(i)} room {n!r} -> {plain(r)}" for i, (n, r) in enumerate(old.items())]
    out += [f"{clock(50 + i)} battery {90 - i}% {14.1 + i / 10:.1f}V" for i in range(5)]
    out += [f"{clock(90)} room {first!r} -> {plain(rooms[first])}"]
    return "\n".join(out)


@captured("H")
def python_objects_in_a_trace(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{clock(i)},{i:03d} - mapper - DEBUG - Room(id={i}, name={n!r}, polygon="
        + f"[{', '.join(f'Point(x={x}, y={y})' for x, y in r)}], area={10 + i}.5, visited=True)"
        for i, (n, r) in enumerate(named(rooms, CALLED).items())
    ), named(rooms, CALLED)


@captured("H")
def set_of_tuples_under_names(rooms: Rooms, rng: Generator) -> Written:
    body = ",\n".join(f"    {n!r}: {tuple((x, y) for x, y in r)!r}" for n, r in rooms.items())
    barriers = [tuple(map(tuple, two(rooms, rng)))]
    return f"ROOMS = {{\n{body},\n}}\nBARRIERS = {barriers!r}\nDOCK = (0, 0)\n"


@captured("H")
def packed_room_by_room(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        blob = base64.b64encode(zlib.compress(dump(plain(r)).encode())).decode()
        out.append(dump({"id": i, "name": n, "geometry": blob, "crc": 12345 + i}))
    return "\n".join(out)


@captured("H")
def packed_map_in_xml(rooms: Rooms, rng: Generator) -> Written:
    data = dump({"rooms": [{"name": n, "pts": plain(r)} for n, r in rooms.items()]})
    blob = base64.encodebytes(zlib.compress(data.encode())).decode()
    return f'<layer encoding="base64" compression="zlib">\n{blob}</layer>\n'


@captured("H")
def wkt_in_json(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        [
            {
                "id": i,
                "name": n,
                "wkt": f"POLYGON (({', '.join(f'{num(x)} {num(y)}' for x, y in [*r, r[0]])}))",
            }
            for i, (n, r) in enumerate(rooms.items())
        ]
    )


@captured("H")
def geojson_titles_and_zones(rooms: Rooms, rng: Generator) -> Written:
    def feature(n: str, kind: str, ring: list[list[float]], i: int) -> dict[str, object]:
        return {
            "type": "Feature",
            "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
            "properties": {"fid": i, "class": kind, "title": n, "stroke": "#333", "opacity": 0.5},
        }

    features = [feature(n, "room", plain(r), i) for i, (n, r) in enumerate(rooms.items())]
    features += [
        feature(f"No-go {i}", "no_go", [[float(a), float(b)] for a, b in box(rooms, rng)], 50 + i)
        for i in range(2)
    ]
    return json.dumps(
        {"type": "FeatureCollection", "name": "floor", "features": features}, indent=1
    )


@captured("H")
def yaml_of_flat_numbers(rooms: Rooms, rng: Generator) -> Written:
    out = ["map:", "  id: 12", "  rooms:"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            f"    - name: {n}",
            f"      id: {i}",
            f"      polygon: [{', '.join(num(v) for p in r for v in p)}]",
            "      enabled: true",
        ]
    out += ["  path: [" + ", ".join(str(v) for p in walk(rooms, rng) for v in p) + "]"]
    return "\n".join(out)


@captured("H")
def yaml_pairs_as_text(rooms: Rooms, rng: Generator) -> Written:
    out = ["rooms:"]
    for n, r in named(rooms, CALLED).items():
        out += [f"  - name: '{n}'", f'    outline: "{semicolons(r)}"', "    clean_times: 2"]
    out += [
        "no_go:",
        *[f'  - "{";".join(f"{x},{y}" for x, y in box(rooms, rng))}"' for _ in range(2)],
    ]
    return "\n".join(out), named(rooms, CALLED)


@captured("H")
def words_between_pairs(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"The room '{n}' has {len(r)} corners: "
        + ", ".join(f"({num(x)}, {num(y)})" for x, y in r[:-1])
        + f" and ({num(r[-1][0])}, {num(r[-1][1])})."
        for n, r in rooms.items()
    )


@captured("H")
def x_y_lines_under_names(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(named(rooms, CALLED).items(), 1):
        out += [f"[{n}]", f"id = {i}", f"count = {len(r)}"]
        out += [f"x={x / 1000:.4f} y={y / 1000:.4f}" for x, y in r] + [""]
    return "\n".join(out), named(rooms, CALLED)


@captured("H")
def wrapped_brackets(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"{n} => [")
        out += [f"  [{num(x)}, {num(y)}]," for x, y in r]
        out.append("]")
    return "\n".join(out)


@captured("H")
def semicolons_inside_brackets(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{stamp(i)} <{i}> room:{n} "
        + f"[{'; '.join(f'{num(x)} {num(y)}' for x, y in r)}] conf:0.9{i % 10}"
        for i, (n, r) in enumerate(rooms.items())
    )
