"""Outlines as they go over wires: frames, envelopes, records of buses, captures of sessions."""

from __future__ import annotations

import base64
import gzip
import json
import zlib
from xml.sax.saxutils import escape, quoteattr

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, captured, num, plain, stamp, walk

__all__: list[str] = []


def _text(ring: list[tuple[float, float]], apart: str, between: str) -> str:
    return between.join(f"{num(x)}{apart}{num(y)}" for x, y in ring)


def _cells(rooms: Rooms) -> list[dict[str, object]]:
    return [{"ref": i, "title": n, "rim": plain(r)} for i, (n, r) in enumerate(rooms.items(), 3)]


@captured("J")
def socket_events(rooms: Rooms, rng: Generator) -> Written:
    out = ['0{"sid":"aF31","pingInterval":25000}', "40", "2", "3"]
    for cell in _cells(rooms):
        out.append(f'42["cell",{json.dumps(cell)}]')
        out.append('42["power",{"pct":81,"mv":15230}]')
    return "\n".join(out)


@captured("J")
def sentences_with_checksums(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items(), 1):
        body = f"RVCEL,{i},{n},{len(r)}," + _text(r, ",", ",")
        check = 0
        for byte in body.encode():
            check ^= byte
        out += [f"$RVPOS,{i * 120},{i * 35},90*3F", f"${body}*{check:02X}"]
    return "\r\n".join(out)


@captured("J")
def structured_syslog(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f'<134>1 {stamp(i)} rover.lan planner 811 ID{i} [cell@32473 no="{i}" title="{n}" '
            f'rim="{_text(r, ",", ";")}"] stored'
        )
        out.append(f"<135>1 {stamp(i)} rover.lan power 12 - - 81 percent, 15230 mV")
    return "\n".join(out)


@captured("J")
def journal_records(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        json.dumps(
            {
                "__REALTIME_TIMESTAMP": str(1932844112000000 + i),
                "PRIORITY": "6",
                "_PID": "811",
                "SYSLOG_IDENTIFIER": "planner",
                "MESSAGE": f"cell {i} '{n}' rim {plain(r)}",
            },
            ensure_ascii=False,
        )
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("J")
def multipart_body(rooms: Rooms, rng: Generator) -> Written:
    mark = "----rover8f31"
    out = [f"POST /upload HTTP/1.1\r\nContent-Type: multipart/form-data; boundary={mark}\r\n\r\n"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f'--{mark}\r\nContent-Disposition: form-data; name="cell"; filename="{i}.json"\r\n'
            f"Content-Type: application/json\r\n\r\n"
            f"{json.dumps({'title': n, 'rim': plain(r)})}\r\n"
        )
    return "".join([*out, f"--{mark}--\r\n"])


@captured("J")
def soap_envelope(rooms: Rooms, rng: Generator) -> Written:
    cells = "".join(
        f"<r:Cell><r:Id>{i}</r:Id><r:Title>{escape(n)}</r:Title><r:Rim>"
        + "".join(f'<r:P r:x="{num(x)}" r:y="{num(y)}"/>' for x, y in r)
        + "</r:Rim></r:Cell>"
        for i, (n, r) in enumerate(rooms.items())
    )
    return (
        '<?xml version="1.0"?><s:Envelope xmlns:s="urn:s" xmlns:r="urn:r"><s:Header><r:Rev>12'
        f"</r:Rev></s:Header><s:Body><r:GetPlanResponse>{cells}</r:GetPlanResponse></s:Body>"
        "</s:Envelope>"
    )


@captured("J")
def remote_call_values(rooms: Rooms, rng: Generator) -> Written:
    def number(value: float) -> str:
        return f"<value><double>{num(value)}</double></value>"

    def member(name: str, value: str) -> str:
        return f"<member><name>{name}</name>{value}</member>"

    cells = ""
    for n, r in rooms.items():
        points = "".join(
            f"<value><array><data>{number(x)}{number(y)}</data></array></value>" for x, y in r
        )
        rim = f"<value><array><data>{points}</data></array></value>"
        title = member("title", f"<value><string>{escape(n)}</string></value>")
        cells += f"<value><struct>{title}{member('rim', rim)}</struct></value>"
    return (
        "<methodResponse><params><param><value><array><data>"
        f"{cells}</data></array></value></param></params></methodResponse>"
    )


@captured("J")
def property_list(rooms: Rooms, rng: Generator) -> Written:
    cells = "".join(
        f"<dict>\n<key>title</key><string>{escape(n)}</string>\n<key>rim</key>\n<array>\n"
        + "".join(f"<real>{num(x)}</real><real>{num(y)}</real>\n" for x, y in r)
        + "</array>\n</dict>\n"
        for n, r in rooms.items()
    )
    return (
        '<?xml version="1.0"?>\n<plist version="1.0"><dict><key>rev</key><integer>12</integer>'
        f"<key>cells</key><array>\n{cells}</array></dict></plist>"
    )


@captured("J")
def nodes_and_ways(rooms: Rooms, rng: Generator) -> Written:
    nodes, ways, at = [], [], 0
    for i, (n, r) in enumerate(rooms.items(), 900):
        refs = []
        for x, y in r:
            at += 1
            nodes.append(f'<node id="{at}" x="{num(x)}" y="{num(y)}"/>')
            refs.append(f'<nd ref="{at}"/>')
        tag = f'<tag k="name" v={quoteattr(n)}/>'
        ways.append(f'<way id="{i}">{"".join([*refs, refs[0]])}{tag}</way>')
    return "<plan>\n" + "\n".join(nodes + ways) + "\n</plan>"


@captured("J")
def meshes(rooms: Rooms, rng: Generator) -> Written:
    vertices, faces, at = [], [], 1
    for n, r in rooms.items():
        vertices += [f"v {num(x)} {num(y)} 0.0" for x, y in r]
        faces += [f"g {n}", "f " + " ".join(str(at + k) for k in range(len(r)))]
        at += len(r)
    return "\n".join(["# exported", "o plan", *vertices, *faces])


@captured("J")
def can_like_rows(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items(), 1):
        out.append(f"({1932844112 + i}.104211) bus0 CELL_BEGIN id={i} title='{n}'")
        for k, (x, y) in enumerate(r):
            out.append(f"({1932844112 + i}.10{k + 5000}) bus0 CELL_CORNER x={num(x)} y={num(y)}")
            if k % 3 == 1:
                out.append(f"({1932844112 + i}.10{k + 5000}) bus1 POWER mv={15000 + k} ma=-811")
        out.append(f"({1932844112 + i}.990000) bus0 CELL_END")
    return "\n".join(out)


@captured("J")
def pieces_of_one_message(rooms: Rooms, rng: Generator) -> Written:
    whole = json.dumps({"rev": 12, "cells": _cells(rooms)})
    parts = [whole[i : i + 180] for i in range(0, len(whole), 180)]
    return "\n".join(
        json.dumps({"part": i + 1, "of": len(parts), "msg": "8f31", "data": part})
        for i, part in enumerate(parts)
    )


@captured("J")
def pieces_in_base64(rooms: Rooms, rng: Generator) -> Written:
    packed = base64.b64encode(zlib.compress(json.dumps(_cells(rooms)).encode())).decode()
    size = 120
    rows = [packed[i : i + size] for i in range(0, len(packed), size)]
    return "\n".join(f"{stamp(i)} blob {i + 1}/{len(rows)} {row}" for i, row in enumerate(rows))


@captured("J")
def gzip_in_hex_field(rooms: Rooms, rng: Generator) -> Written:
    packed = gzip.compress(json.dumps({"cells": _cells(rooms)}).encode(), mtime=0).hex()
    return f"{stamp(1)} <= 0x21 len={len(packed) // 2} payload={packed}\n{stamp(2)} => ack"


@captured("J")
def bytes_escaped(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps({"cells": _cells(rooms)}, ensure_ascii=False).encode()
    return f"{stamp(1)} recv {raw!r}\n{stamp(2)} send b'\\x01\\x00ok'"


@captured("J")
def topics_with_retained(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"rover/31/power/pct {rng.integers(20, 99)}")
        out.append(f"rover/31/plan/{n}/rim {_text(r, ' ', ', ')}")
    return "\n".join(out)


@captured("J")
def patches_of_a_document(rooms: Rooms, rng: Generator) -> Written:
    steps = [{"op": "replace", "path": "/rev", "value": 12}]
    for i, (n, r) in enumerate(rooms.items()):
        steps.append({"op": "add", "path": f"/cells/{i}", "value": {"title": n, "rim": plain(r)}})
    return json.dumps(steps, ensure_ascii=False)


@captured("J")
def keyed_columns(rooms: Rooms, rng: Generator) -> Written:
    columns = ["title", "fan", "rim", "area_m2"]
    rows = [[n, 2, _text(r, " ", ","), 9.5 + i] for i, (n, r) in enumerate(rooms.items())]
    return json.dumps({"table": "cells", "columns": columns, "rows": rows}, ensure_ascii=False)


@captured("J")
def insert_statements_by_point(rooms: Rooms, rng: Generator) -> Written:
    out = ["CREATE TABLE cell (id INTEGER, title TEXT);", "CREATE TABLE corner (cell, k, x, y);"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        title = n.replace("'", "''")
        out.append(f"INSERT INTO cell VALUES({i},'{title}');")
        out += [
            f"INSERT INTO corner VALUES({i},{k},{num(x)},{num(y)});" for k, (x, y) in enumerate(r)
        ]
    return "\n".join(out)


@captured("J")
def copy_blocks(rooms: Rooms, rng: Generator) -> Written:
    out = ["COPY public.cell (id, title, rim, seen) FROM stdin;"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out.append(f"{i}\t{n}\t({_text(r, ',', '),(').join(['(', ')'])})\t2031-04-05 11:12:13+02")
    return "\n".join([*out, "\\.", ""])


@captured("J")
def replies_to_commands(rooms: Rooms, rng: Generator) -> Written:
    out = ["AT+CELLS?"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f'+CELL: {i},"{n}",{len(r)},{_text(r, ",", ",")}')
    return "\r\n".join([*out, "OK", "AT+BATT?", "+BATT: 81,15230", "OK"])


@captured("J")
def way_then_cells(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k in range(3):
        way = ";".join(f"{x},{y}" for x, y in walk(rooms, rng, 20))
        out.append(f"{stamp(k)} T|way|{k}|{way}")
    out += [f"{stamp(9)} T|cell|{n}|{_text(r, ',', ';')}" for n, r in rooms.items()]
    return "\n".join(out)


@captured("J")
def moved_by_later_messages(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for shift in (400.0, 150.0, 0.0):
        for n, r in rooms.items():
            moved = [(x + shift, y + shift) for x, y in r]
            out.append(json.dumps({"cell": {"title": n}, "rim": _text(moved, ":", "|")}))
        out.append(json.dumps({"pose": {"x": 12 + shift, "y": 44, "yaw": 90}, "pct": 81}))
    return "\n".join(out)
