"""Sessions as they are recorded: requests, answers, several carriers at once, much else."""

from __future__ import annotations

import base64
import gzip
import json
import zlib

from numpy.random import Generator

from benchmarks.captured.parts import (
    Ring,
    Rooms,
    Written,
    box,
    captured,
    dump,
    num,
    plain,
    shrunk,
    stamp,
    two,
    walk,
)

__all__: list[str] = []


def _text(ring: Ring, apart: str, between: str) -> str:
    return between.join(f"{num(x)}{apart}{num(y)}" for x, y in ring)


@captured("N")
def requests_and_answers(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items(), 5):
        body = dump({"cell": {"no": i, "title": n, "rim": plain(r), "seen": stamp(i)}})
        out += [f"GET /v3/cells/{i} HTTP/1.1", "Host: 192.168.7.31", "Accept: */*", ""]
        out += ["HTTP/1.1 200 OK", f"Content-Length: {len(body.encode())}", 'ETag: "a31f"']
        out += ["", body, ""]
    out += ["GET /v3/way HTTP/1.1", "", "HTTP/1.1 200 OK", "", dump({"way": walk(rooms, rng, 30)})]
    return "\r\n".join(out)


@captured("N")
def archive_of_requests(rooms: Rooms, rng: Generator) -> Written:
    entries = []
    for i, (n, r) in enumerate(rooms.items()):
        text = base64.b64encode(dump({"title": n, "rim": plain(r)}).encode()).decode()
        content = {
            "size": len(text),
            "mimeType": "application/json",
            "text": text,
            "encoding": "base64",
        }
        request = {"method": "GET", "url": f"http://192.168.7.31/cells/{i}", "headers": []}
        response = {"status": 200, "content": content}
        entries.append({"startedDateTime": stamp(i), "request": request, "response": response})
    return json.dumps({"log": {"version": "1.2", "entries": entries}})


@captured("N")
def commands_of_a_terminal(rooms: Rooms, rng: Generator) -> Written:
    out = ["$ rover status", "battery: 81 %  state: docked  fw: 3.14.2", "$ rover cells --long"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += [f"{i}. {n}", f"   corners: {len(r)}", f"   rim: {_text(r, ',', ' ')}", "   fan: 2"]
    return "\n".join([*out, "$ rover where", "x=120 y=455 heading=90", "$ exit"])


@captured("N")
def two_answers_differ(rooms: Rooms, rng: Generator) -> Written:
    old = {n: plain(shrunk(r)) for n, r in rooms.items()}
    new = {n: plain(r) for n, r in rooms.items()}
    out = []
    for k, cells in enumerate((old, new)):
        out.append(f"{stamp(k * 600)} >> {dump({'ask': 'plan', 'seq': 40 + k})}")
        plan = {"cells": cells, "rev": 12 + k}
        out.append(f"{stamp(k * 600 + 1)} << {dump({'seq': 40 + k, 'plan': plan})}")
    return "\n".join(out)


@captured("N")
def way_within_each_room(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {"title": n, "rim": plain(r), "way": walk({n: r}, rng, 18), "took_s": 311, "area_m2": 9.5}
        for n, r in rooms.items()
    ]
    return dump({"run": 311, "cells": cells, "begun": stamp(0), "ended": stamp(2820)})


@captured("N")
def wishes_beside_rooms(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        {
            "cells": [{"title": n, "rim": plain(r)} for n, r in rooms.items()],
            "wishes": {
                "no_entry": [box(rooms, rng), box(rooms, rng, 500.0)],
                "walls": [two(rooms, rng)],
                "only": [{"title": "under the table", "rim": box(rooms, rng, 900.0)}],
            },
        }
    )


@captured("N")
def corners_with_doors(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {
            "title": n,
            "corners": [
                {"x": x, "y": y, "z": 0, "door": i == 1, "angle": 90}
                for i, (x, y) in enumerate(plain(r))
            ],
        }
        for n, r in rooms.items()
    ]
    return dump({"cells": cells})


@captured("N")
def names_in_two_languages(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {"title": n, "title_short": n[:3].upper(), "code": f"c{i}", "rim": _text(r, " ", ", ")}
        for i, (n, r) in enumerate(rooms.items())
    ]
    return dump({"cells": cells})


@captured("N")
def centimetres(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {"title": n, "rim": [[round(x / 10, 2), round(y / 10, 2)] for x, y in r]}
        for n, r in rooms.items()
    ]
    return dump({"unit": "cm", "cells": cells})


@captured("N")
def packed_twice(rooms: Rooms, rng: Generator) -> Written:
    cells = dump({n: plain(r) for n, r in rooms.items()}).encode()
    inner = base64.b64encode(gzip.compress(cells, mtime=0)).decode()
    outer = base64.b64encode(zlib.compress(dump({"kind": "plan", "blob": inner}).encode())).decode()
    return f"{stamp(3)} plan/up {dump({'seq': 9, 'data': outer})}"


@captured("N")
def quoted_three_times(rooms: Rooms, rng: Generator) -> Written:
    text = dump([{"title": n, "rim": plain(r)} for n, r in rooms.items()])
    for key in ("cells", "payload", "message"):
        text = dump({key: text, "n": 1})
    return f"{stamp(3)} forwarder: {text}"


@captured("N")
def element_with_json(rooms: Rooms, rng: Generator) -> Written:
    out = ["<events>"]
    for i, (n, r) in enumerate(rooms.items()):
        cell, pose = dump({"title": n, "rim": plain(r)}), dump({"x": 12 * i, "y": 40})
        out.append(f'<event at="{stamp(i)}" kind="cell"><![CDATA[{cell}]]></event>')
        out.append(f'<event at="{stamp(i)}" kind="pose"><![CDATA[{pose}]]></event>')
    return "\n".join([*out, "</events>"])


@captured("N")
def json_with_elements(rooms: Rooms, rng: Generator) -> Written:
    cells = ""
    for n, r in rooms.items():
        corners = "".join(f"<p>{num(x)} {num(y)}</p>" for x, y in r)
        cells += f'<cell title="{n}">{corners}</cell>'
    return dump({"seq": 12, "ok": True, "xml": f"<plan rev='12'>{cells}</plan>"})


@captured("N")
def sheet_within_json(rooms: Rooms, rng: Generator) -> Written:
    rows = [f"{n},{i},{num(x)},{num(y)}" for n, r in rooms.items() for i, (x, y) in enumerate(r)]
    return dump({"name": "plan.csv", "content": "\n".join(["cell,k,x,y", *rows])})


@captured("N")
def upper_case_log(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"{stamp(i)} MAPPING.CELL NO={i} TITLE=[{n}] N={len(r)} RIM=[{_text(r, ';', '|')}]"
        )
        out.append(f"{stamp(i)} POWER.STATE MV=15230 MA=-811 PCT=81")
    return "\n".join(out)


@captured("N")
def chat_with_a_helper(rooms: Rooms, rng: Generator) -> Written:
    out = ["[23:41] Mia: it maps the flat wrong again, here is what it says", "[23:42] Mia:"]
    out += [f"{n} = {_text(r, '/', '  ')}" for n, r in rooms.items()]
    return "\n".join([*out, "[23:44] Tom: thanks! 3 of 5 look odd to me", "[23:45] Mia: yes, +1"])


@captured("N")
def notes_with_bullets(rooms: Rooms, rng: Generator) -> Written:
    out = ["# Flat", "", "Measured on 5 April, all in mm.", ""]
    for n, r in rooms.items():
        out += [f"* **{n}** ({len(r)} corners)", ""]
        out += [f"  1. {num(x)} / {num(y)}" for x, y in r]
        out.append("")
    return "\n".join(out)


@captured("N")
def zones_by_hex_ids(rooms: Rooms, rng: Generator) -> Written:
    cells = {
        f"{0xA31F00 + 977 * i:x}": {"t": n, "p": [v for p in plain(r) for v in p]}
        for i, (n, r) in enumerate(rooms.items())
    }
    return dump({"c": cells, "d": {"s": "a31f00", "b": 81}})


@captured("N")
def columns_without_names(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n}\t{i}\t{num(x)}\t{num(y)}\tok" for n, r in rooms.items() for i, (x, y) in enumerate(r)
    )


@captured("N")
def stars_and_counts(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"*** {n} ({len(r)}) ***")
        out += [*(f"#{i:02d} [{num(x)} : {num(y)}]" for i, (x, y) in enumerate(r)), ""]
    return "\n".join(out)


@captured("N")
def lines_of_a_spoken_log(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"{stamp(i)} mapper finished room '{n}' with polygon {plain(r)} after {20 + i} s"
        )
        goal = f"({i + 40}, {2 * i + 80})"
        out.append(f"{stamp(i)} driver moved from ({i}, {2 * i}) to {goal} in {3 + i} s")
    return "\n".join(out)


@captured("N")
def rooms_in_a_tree_of_yaml(rooms: Rooms, rng: Generator) -> Written:
    out = ["plan: &plan", "  rev: 12", "  cells:"]
    for n, r in rooms.items():
        out += [f"    ? {json.dumps(n, ensure_ascii=False)}", "    : rim: >-"]
        out += [f"        {_text(r, ',', ' ')}"]
    return "\n".join([*out, "copy: *plan"])


@captured("N")
def doubled_quotes(rooms: Rooms, rng: Generator) -> Written:
    out = ["id,seen,payload"]
    for i, (n, r) in enumerate(rooms.items()):
        text = dump({"title": n, "rim": plain(r)}).replace('"', '""')
        out.append(f'{i},{stamp(i)},"{text}"')
    return "\n".join(out)


@captured("N")
def ends_of_boxes(rooms: Rooms, rng: Generator) -> Written:
    out = ["┌" + "─" * 14 + "┬" + "─" * 30 + "┐"]
    for n, r in rooms.items():
        for i, (x, y) in enumerate(r):
            out.append(f"│ {n if i == 0 else '':12} │ {num(x):>13} {num(y):>14} │")
        out.append("├" + "─" * 14 + "┼" + "─" * 30 + "┤")
    return "\n".join([*out[:-1], "└" + "─" * 14 + "┴" + "─" * 30 + "┘"])
