"""What robots at home log about rooms, with much else on the same lines."""

from __future__ import annotations

import base64
import gzip
import html
import json
import zlib

from numpy.random import Generator

from benchmarks.captured.parts import (
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

MIXED = (
    "Küche", "Bad 2", "Room 14", "Wohn- und Esszimmer", "WC", "Kids' Room", "2. Schlafzimmer",
    "Büro", "Flur EG", "Gäste-WC", "HWR", "Zimmer 3b",
)  # fmt: skip


@captured("H")
def parts_with_restrictions(rooms: Rooms, rng: Generator) -> Written:
    lines = [f"{clock(0)} boot build=2.7.1 ip=10.20.0.44 mac=02:00:5e:10:00:01"]
    lines += [
        f"{clock(1 + i)} status: battery=9{i}, blower=2, pos=({i * 40},{-i * 37},12)"
        for i in range(4)
    ]
    for i, (n, r) in enumerate(rooms.items()):
        lines.append(f"{clock(9 + i)} part id={3 + i} name={n} outline={semicolons(r)}")
    lines.append(
        f"{clock(30)} nogo id=1 outline={';'.join(f'{x},{y}' for x, y in box(rooms, rng))}"
    )
    lines.append(f"{clock(31)} wall id=2 ends={';'.join(f'{x},{y}' for x, y in two(rooms, rng))}")
    lines.append(f"{clock(32)} path {';'.join(f'{x},{y}' for x, y in walk(rooms, rng))}")
    return "\n".join(lines)


@captured("H")
def escaped_payloads(rooms: Rooms, rng: Generator) -> Written:
    inner = {
        "ts": 1730000000,
        "map": {
            "rooms": [
                {"name": n, "id": i, "vertices": [{"x": x, "y": y} for x, y in r]}
                for i, (n, r) in enumerate(rooms.items())
            ],
            "forbidden": [{"id": 1, "vertices": [{"x": x, "y": y} for x, y in box(rooms, rng)]}],
            "walls": [{"id": 1, "vertices": [{"x": x, "y": y} for x, y in two(rooms, rng)]}],
        },
    }
    outer = {"topic": "dev/8842/up", "qos": 1, "payload": json.dumps(inner)}
    pose = {"topic": "dev/8842/up", "qos": 0, "payload": '{"x":12,"y":-40,"yaw":1.2}'}
    return "\n".join([json.dumps(pose), json.dumps(outer), json.dumps(pose), json.dumps(pose)])


@captured("H")
def twice_escaped(rooms: Rooms, rng: Generator) -> Written:
    inner = {"areas": [{"label": n, "poly": plain(r)} for n, r in rooms.items()]}
    outer = {"data": json.dumps({"msg": json.dumps(inner), "v": "1.2.3"}), "battery": 55}
    return f'{clock(3)} RX {json.dumps(outer)}\n{clock(4)} RX {{"data": "{{}}"}}\n'


@captured("H")
def flat_lists_a_line(rooms: Rooms, rng: Generator) -> Written:
    rows = [
        dump({"t": 1700000000 + i, "room": n, "pts": [v for p in plain(r) for v in p]})
        for i, (n, r) in enumerate(rooms.items())
    ]
    path = [v for p in walk(rooms, rng) for v in p]
    rows.insert(1, dump({"t": 1700000001, "trace": path}))
    return "\r\n".join(rows)


@captured("H")
def corners_a_row_semicolon(rooms: Rooms, rng: Generator) -> Written:
    rows = ["Raum;Nr;X [mm];Y [mm]"]
    for n, r in rooms.items():
        rows += [
            f"{n};{k};{x:.1f};{y:.1f}".replace(".", ",")
            if "." not in n
            else f"{n};{k};" + f"{x:.1f};{y:.1f}".replace(".", ",")
            for k, (x, y) in enumerate(r, 1)
        ]
    return ("\ufeff" + "\r\n".join(rows)).encode("utf-8")


@captured("H")
def corners_a_row_tab_metres(rooms: Rooms, rng: Generator) -> Written:
    rows = ["# exported 2024-11-02 18:03", "room_id\troom_name\tseq\tx_m\ty_m"]
    for i, (n, r) in enumerate(named(rooms, MIXED).items()):
        rows += [
            f"{i + 10}\t{n}\t{k}\t{x / 1000:.4f}\t{y / 1000:.4f}" for k, (x, y) in enumerate(r)
        ]
    return "\n".join(rows), named(rooms, MIXED)


@captured("H")
def pipes_utf16(rooms: Rooms, rng: Generator) -> Written:
    rows = ["name|x|y"]
    for n, r in rooms.items():
        rows += [f"{n}|{num(x)}|{num(y)}" for x, y in [*r, r[0]]]
    return "\r\n".join(rows).encode("utf-16")


@captured("H")
def xml_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    inner = "".join(
        f'<room id="{i}" name="{html.escape(n)}">'
        + "".join(f'<pt x="{num(x)}" y="{num(y)}"/>' for x, y in r)
        + "</room>"
        for i, (n, r) in enumerate(rooms.items())
    )
    inner += (
        "<zone type='nogo'>"
        + "".join(f'<pt x="{x}" y="{y}"/>' for x, y in box(rooms, rng))
        + "</zone>"
    )
    body = html.escape(f"<map ver='2.1'>{inner}</map>")
    return (
        f"{clock(1)} INFO http: GET /map 200 12ms 10.0.0.4:443\n"
        f"{clock(2)} DEBUG soap: <reply>{body}</reply>\n{clock(3)} INFO bat 77\n"
    )


@captured("H")
def xml_with_text_points(rooms: Rooms, rng: Generator) -> Written:
    rows = "".join(
        f"  <area>\n    <name>{html.escape(n)}</name>\n    <id>{i}</id>\n    <points>"
        + " ".join(f"{num(x)},{num(y)}" for x, y in r)
        + "</points>\n  </area>\n"
        for i, (n, r) in enumerate(rooms.items())
    )
    bars = "".join(
        "  <barrier><points>"
        + " ".join(f"{x},{y}" for x, y in two(rooms, rng))
        + "</points></barrier>\n"
        for _ in range(2)
    )
    head = '<?xml version="1.0" encoding="UTF-8"?>'
    return f'{head}\n<floorplan version="1.4">\n{rows}{bars}</floorplan>'


@captured("H")
def python_tuples(rooms: Rooms, rng: Generator) -> Written:
    state = {
        "fw": "1.6.10",
        "pose": (120.5, -33.0, 90),
        "rooms": {n: [(x, y) for x, y in r] for n, r in rooms.items()},
        "no_go": [[tuple(p) for p in box(rooms, rng)]],
        "path": [tuple(p) for p in walk(rooms, rng)],
        "docked": True,
        "error": None,
    }
    return f"{clock(5)} DEBUG state={state!r}"


@captured("H")
def geojson_polygons(rooms: Rooms, rng: Generator) -> Written:
    features = [
        {
            "type": "Feature",
            "id": i,
            "properties": {"name": n, "floor": 0, "kind": "room"},
            "geometry": {"type": "Polygon", "coordinates": [[*plain(r), plain(r)[0]]]},
        }
        for i, (n, r) in enumerate(rooms.items())
    ]
    features.append(
        {
            "type": "Feature",
            "properties": {"kind": "path"},
            "geometry": {"type": "LineString", "coordinates": walk(rooms, rng)},
        }
    )
    features.append(
        {
            "type": "Feature",
            "properties": {"kind": "dock", "name": "Dock"},
            "geometry": {"type": "Point", "coordinates": [12, 40]},
        }
    )
    return json.dumps({"type": "FeatureCollection", "features": features})


@captured("H")
def wkt_rows(rooms: Rooms, rng: Generator) -> Written:
    rows = [
        f"{n}\tPOLYGON(({', '.join(f'{num(x)} {num(y)}' for x, y in [*r, r[0]])}))"
        for n, r in rooms.items()
    ]
    rows.append(f"track\tLINESTRING({', '.join(f'{x} {y}' for x, y in walk(rooms, rng))})")
    return "\n".join(rows)


@captured("H")
def yaml_maps(rooms: Rooms, rng: Generator) -> Written:
    out = ["device:", "  ip: 10.1.2.3", "  firmware: 4.3.5-1092", "  battery: 100", "rooms:"]
    for i, (n, r) in enumerate(named(rooms, MIXED).items()):
        out += [f"  - id: {i}", f'    name: "{n}"', "    outline:"]
        out += [f"      - [{num(x)}, {num(y)}]" for x, y in r]
    out += ["no_go_zones:", "  - outline:", *[f"      - [{x}, {y}]" for x, y in box(rooms, rng)]]
    out += ["virtual_walls:", *[f"  - {two(rooms, rng)}" for _ in range(2)]]
    return "\n".join(out), named(rooms, MIXED)


@captured("H")
def x_is_y_is(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"{clock(i * 60)} [map] room {n} ({len(r)} points)")
        out += [f"{clock(i * 60 + k)} [map]   x={num(x)} y={num(y)}" for k, (x, y) in enumerate(r)]
    out += [f"{clock(999)} [nav] pose x=120 y=-33 theta=1.57"]
    return "\n".join(out)


@captured("H")
def zlib_base64(rooms: Rooms, rng: Generator) -> Written:
    data = json.dumps({"rooms": [{"name": n, "outline": plain(r)} for n, r in rooms.items()]})
    blob = base64.b64encode(zlib.compress(data.encode())).decode()
    return f'{clock(1)} map {{"seq": 4, "enc": "zlib", "data": "{blob}"}}\n{clock(2)} bat 55\n'


@captured("H")
def gzip_base64_bare(rooms: Rooms, rng: Generator) -> Written:
    text = "\n".join(f"{n}: {semicolons(r)}" for n, r in rooms.items())
    return base64.encodebytes(gzip.compress(text.encode(), mtime=0)).decode()


@captured("H")
def cut_last_line(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"{stamp(i)} room={n} ring={dump(plain(r))}")
    last = f"{stamp(50)} room={next(iter(rooms))} ring={dump(plain(next(iter(rooms.values()))))}"
    return "\n".join([*out, last[: len(last) // 2 + 14]])


@captured("H")
def newer_wins_by_line(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for turn in range(3):
        for i, (n, r) in enumerate(rooms.items()):
            ring = r if turn == 2 else shrunk(r) if turn == 1 else shrunk(shrunk(r))
            out.append(f'{stamp(turn * 900 + i)} MAP {i} "{n}" {dump(plain(ring))}')
        out.append(f"{stamp(turn * 900 + 40)} PATH {dump(walk(rooms, rng))}")
    return "\n".join(out)


@captured("H")
def newer_in_messages(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for turn in range(2):
        body = {
            "mapVersion": turn + 7,
            "rooms": [
                {"roomId": i, "roomName": n, "boundary": plain(r if turn else shrunk(r))}
                for i, (n, r) in enumerate(rooms.items())
            ],
            "charger": [10, 20],
            "robot": {"x": 100, "y": 200, "angle": 30},
        }
        out.append(f"[{stamp(turn * 500)}] recv {dump(body)}")
    return "\n".join(out)


@captured("H")
def spaces_only(rooms: Rooms, rng: Generator) -> Written:
    out = [f"# {len(rooms)} rooms, mm"]
    for n, r in rooms.items():
        out.append(f"{n}: " + " ".join(f"{num(x)} {num(y)}" for x, y in r))
    return "\n".join(out)


@captured("H")
def commas_only(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{i},{n}," + ",".join(f"{num(x)},{num(y)}" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("H")
def brackets_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(named(rooms, MIXED).items()):
        out.append(
            f"{stamp(i)} I/Map(4411): room [{n}] polygon "
            f"[{', '.join(f'[{num(x)}, {num(y)}]' for x, y in r)}] area={12 + i}.4m2"
        )
        out.append(f"{stamp(i)} D/Net(4411): rtt 12 13 14 ms via 10.0.0.{i}")
    return "\n".join(out), named(rooms, MIXED)


@captured("H")
def nested_parentheses(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n} = (({'), ('.join(f'{num(x)}, {num(y)}' for x, y in [*r, r[0]])}))"
        for n, r in rooms.items()
    )


@captured("H")
def keyed_objects_pretty(rooms: Rooms, rng: Generator) -> Written:
    body = {
        "version": "2.0.1",
        "updated": "2024-05-06T07:08:09+02:00",
        "rooms": {
            str(i + 1): {"name": n, "corners": [{"x": x, "y": y} for x, y in r], "color": [9, 8, 7]}
            for i, (n, r) in enumerate(named(rooms, MIXED).items())
        },
        "keepOut": {"1": {"corners": [{"x": x, "y": y} for x, y in box(rooms, rng)]}},
        "path": [{"x": x, "y": y} for x, y in walk(rooms, rng)],
    }
    return json.dumps(body, indent=2), named(rooms, MIXED)


@captured("H")
def names_apart(rooms: Rooms, rng: Generator) -> Written:
    body = {
        "names": {str(i + 1): n for i, n in enumerate(rooms)},
        "outlines": {str(i + 1): plain(r) for i, r in enumerate(rooms.values())},
        "dock": [0, 0],
    }
    return dump(body)


@captured("H")
def logfmt(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f'ts={stamp(i)} lvl=info msg="room updated" id={i} name="{n}" n={len(r)} '
            f'outline="{" ".join(f"{num(x)},{num(y)}" for x, y in r)}" took=3.2ms'
        )
        out.append(f'ts={stamp(i)} lvl=info msg="pose" x=12.5 y={i} theta=0.2 battery=77')
    return "\n".join(out)


@captured("H")
def cm_negative(rooms: Rooms, rng: Generator) -> Written:
    body = [
        {"id": i, "name": n, "outline": [[round(x / 10, 2), round(y / 10, 2)] for x, y in r]}
        for i, (n, r) in enumerate(rooms.items())
    ]
    return f"map(cm)={dump(body)} zones(cm)={dump([box(rooms, rng, 90)])}"
