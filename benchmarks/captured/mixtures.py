"""Captures of our own words: bodies of messages, drawings, sources, dumps, chatter, versions."""

from __future__ import annotations

import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, captured, num, plain, stamp, walk

__all__: list[str] = []
from urllib.parse import quote


@captured("I")
def lua_tables(rooms: Rooms, rng: Generator) -> Written:
    out = ["-- plan.lua", "return {", "  version = 3,", "  spaces = {"]
    for k, (name, r) in enumerate(rooms.items()):
        out.append(
            f'    [{k + 1}] = {{ name = "{name}", border = {{ '
            + ", ".join(f"{{ x = {num(x)}, y = {num(y)} }}" for x, y in r)
            + " } },"
        )
    return "\n".join([*out, "  },", "}"])


@captured("I")
def markdown_rows(rooms: Rooms, rng: Generator) -> Written:
    out = [
        "# Plan of the ground floor",
        "",
        "| # | Space | Corners (mm) | Area |",
        "|---|:------|:-------------|-----:|",
    ]
    for k, (name, r) in enumerate(rooms.items(), 1):
        out.append(
            f"| {k} | {name} | "
            + ", ".join(f"({num(x)}, {num(y)})" for x, y in r)
            + f" | {9 + k}.5 m² |"
        )
    return "\n".join(out)


@captured("I")
def boxed_rows(rooms: Rooms, rng: Generator) -> Written:
    w = max(len(m) for m in rooms) + 2
    bar = "+" + "-" * w + "+------+----------+----------+"
    out = [bar, "|" + "space".center(w) + "| node |        x |        y |", bar]
    for name, r in rooms.items():
        out += [
            "|" + f" {name}".ljust(w) + f"| {i:4d} | {num(x):>8} | {num(y):>8} |"
            for i, (x, y) in enumerate(r)
        ]
        out.append(bar)
    return "\n".join(out)


@captured("I")
def hex_dump(rooms: Rooms, rng: Generator) -> Written:
    raw = json.dumps(
        {"op": 17, "rooms": [{"n": name, "p": plain(r)} for name, r in rooms.items()]},
        ensure_ascii=False,
    ).encode()
    out = ["rx 41 frames"]
    for i in range(0, len(raw), 16):
        part = raw[i : i + 16]
        h = " ".join(f"{b:02x}" for b in part)
        out.append(f"{i:08x}  {h:<47}  |{''.join(chr(b) if 32 <= b < 127 else '.' for b in part)}|")
    return "\n".join(out)


@captured("I")
def topic_a_field(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k, (name, r) in enumerate(rooms.items(), 1):
        out += [
            f"robo/plan/space/{k}/name {name}",
            f"robo/plan/space/{k}/kind 2",
            f"robo/plan/space/{k}/outline {json.dumps(plain(r))}",
        ]
        out.append(f"robo/power {90 - k}")
    return "\n".join(out)


@captured("I")
def http_chunked(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps(
        {
            "spaces": [
                {"id": k, "name": name, "ring": plain(r)}
                for k, (name, r) in enumerate(rooms.items())
            ]
        }
    )
    out = (
        "GET /plan HTTP/1.1\r\nHost: 192.168.4.17:8080\r\n\r\nHTTP/1.1 200 OK\r\n"
        "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
    )
    for i in range(0, len(body), 256):
        part = body[i : i + 256]
        out += f"{len(part):x}\r\n{part}\r\n"
    return (out + "0\r\n\r\n").encode()


@captured("I")
def server_events(rooms: Rooms, rng: Generator) -> Written:
    out = ["retry: 3000", ""]
    for k, (name, r) in enumerate(rooms.items()):
        out += [
            f"id: {900 + k}",
            "event: space",
            "data: "
            + json.dumps({"name": name, "poly": [{"x": num(x), "y": num(y)} for x, y in r]}),
            "",
        ]
        out += [
            f"id: {950 + k}",
            "event: pose",
            "data: " + json.dumps({"x": 100 * k, "y": 50, "deg": 90}),
            "",
        ]
    return "\n".join(out)


@captured("I")
def positional_calls(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k, (name, r) in enumerate(rooms.items(), 1):
        out.append(
            json.dumps(
                {
                    "jsonrpc": "2.0",
                    "method": "space.put",
                    "params": [k, name, [c for p in plain(r) for c in p], True],
                    "id": 700 + k,
                },
                ensure_ascii=False,
            )
        )
        out.append(json.dumps({"jsonrpc": "2.0", "result": "ok", "id": 700 + k}))
    return "\n".join(out)


@captured("I")
def walls_of_rooms(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for name, r in rooms.items():
        out.append(f"space {name}:")
        out += [
            f"  wall {i}: ({num(a[0])}, {num(a[1])}) -> ({num(b[0])}, {num(b[1])})"
            for i, (a, b) in enumerate(zip(r, r[1:] + r[:1], strict=True), 1)
        ]
    return "\n".join(out)


@captured("I")
def xs_beside_ys(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            "plan": {
                "rooms": {
                    name: {
                        "xs": [p[0] for p in plain(r)],
                        "ys": [p[1] for p in plain(r)],
                        "color": k,
                    }
                    for k, (name, r) in enumerate(rooms.items())
                },
                "origin": [0, 0],
            }
        },
        ensure_ascii=False,
    )


@captured("I")
def text_of_messages(rooms: Rooms, rng: Generator) -> Written:
    out = ["header { stamp: 1932844112 version: 7 }"]
    for k, (name, r) in enumerate(rooms.items(), 1):
        out += ["space {", f"  id: {k}", f'  label: "{name}"']
        out += [f"  vertex {{ x: {num(x)} y: {num(y)} }}" for x, y in r]
        out.append("}")
    return "\n".join(out)


@captured("I")
def drawing_with_titles(rooms: Rooms, rng: Generator) -> Written:
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-5000 -5000 20000 20000">',
        '<g id="spaces">',
    ]
    for k, (name, r) in enumerate(rooms.items()):
        out += [
            f'<g id="s{k}"><title>{name}</title>',
            '<polygon class="room" points="'
            + " ".join(f"{num(x)},{num(y)}" for x, y in r)
            + '" fill="#9cf"/></g>',
        ]
    out.append(
        '<polyline class="trail" points="'
        + " ".join(f"{x},{y}" for x, y in walk(rooms, rng, 40))
        + '"/>'
    )
    return "\n".join([*out, "</g></svg>"])


@captured("I")
def c_arrays(rooms: Rooms, rng: Generator) -> Written:
    out = ["#include <stdint.h>", f"#define SPACES {len(rooms)}", ""]
    for k, (name, r) in enumerate(rooms.items()):
        out += [f"/* {name} */", f"static const float space_{k}[{len(r)}][2] = {{"]
        out += [
            f"    {{ {num(x)}f, {num(y)}f }},"
            if "." in num(x) and "." in num(y)
            else f"    {{ {num(x)}, {num(y)} }},"
            for x, y in r
        ]
        out += ["};", ""]
    return "\n".join(out)


@captured("I")
def log_prefix_on_each_line(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps(
        {
            "spaces": [
                {"name": name, "contour": [{"x": num(x), "y": num(y)} for x, y in r]}
                for name, r in rooms.items()
            ]
        },
        indent=2,
        ensure_ascii=False,
    )
    return "\n".join(
        f"04-05 11:12:{i % 60:02d}.{(i * 7) % 1000:03d}  1831  2204 D PlanSvc : {line}"
        for i, line in enumerate(body.split("\n"))
    )


@captured("I")
def comments_of_pascal(rooms: Rooms, rng: Generator) -> Written:
    out = ["program Plan;", "const"]
    for k, (name, r) in enumerate(rooms.items()):
        out += [f"  (* {name} *)", f"  Space{k}: array[1..{len(r)}] of TPoint = ("]
        out.append(",\n".join(f"    (X: {num(x)}; Y: {num(y)})" for x, y in r) + ");")
    return "\n".join([*out, "begin", "end."])


@captured("I")
def strokes_of_paths(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        {
            "objects": [
                {
                    "type": "path",
                    "name": name,
                    "path": [["M" if i == 0 else "L", num(x), num(y)] for i, (x, y) in enumerate(r)]
                    + [["z"]],
                    "stroke": "#333",
                    "strokeWidth": 2,
                }
                for name, r in rooms.items()
            ]
        }
    )


@captured("I")
def codes_and_values(rooms: Rooms, rng: Generator) -> Written:
    out = ["0", "SECTION", "2", "ENTITIES"]
    for name, r in rooms.items():
        out += ["0", "LWPOLYLINE", "8", name, "90", str(len(r)), "70", "1"]
        for x, y in r:
            out += [" 10", num(x), " 20", num(y)]
    return "\n".join([*out, "0", "ENDSEC", "0", "EOF"])


@captured("I")
def url_encoded(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps(
        [{"name": name, "pts": plain(r)} for name, r in rooms.items()], ensure_ascii=False
    )
    form = f"token=af31&rev=12&spaces={quote(body)}&mode=full"
    return f"POST /v2/plan HTTP/1.1\nHost: robot.lan\n\n{form}\n"


@captured("I")
def bare_corners_under_headings(rooms: Rooms, rng: Generator) -> Written:
    out = ["Survey of 5 April, second attempt.", ""]
    for name, r in rooms.items():
        out.append(f"== {name} ==")
        for i, (x, y) in enumerate(r):
            out.append(f"{num(x)}, {num(y)}")
            if i == 2:
                out.append("(sensor wiped here)")
        out.append("")
    return "\n".join(out)


@captured("I")
def erlang_terms(rooms: Rooms, rng: Generator) -> Written:
    out = [
        f'#{{id => {k}, name => <<"{name}"/utf8>>, points => ['
        + ",".join(f"{{{num(x)},{num(y)}}}" for x, y in r)
        + "]}"
        for k, (name, r) in enumerate(rooms.items())
    ]
    return (
        "=INFO REPORT==== 5-Apr-2031::11:12:13 ===\n    spaces: ["
        + ",\n             ".join(out)
        + "]\n"
    )


@captured("I")
def ruby_hashes(rooms: Rooms, rng: Generator) -> Written:
    return (
        "I, [2031-04-05T11:12:13.004 #812]  INFO -- : plan {:rev=>12, :spaces=>["
        + ", ".join(
            f'{{:id=>{k}, :label=>"{name}", :ring=>['
            + ", ".join(f"[{num(x)}, {num(y)}]" for x, y in r)
            + "]}"
            for k, (name, r) in enumerate(rooms.items())
        )
        + "]}"
    )


@captured("I")
def placemarks(rooms: Rooms, rng: Generator) -> Written:
    out = ["<kml><Document><name>Ground</name>"]
    for name, r in rooms.items():
        out.append(
            f"<Placemark><name>{name}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
            + " ".join(f"{num(x)},{num(y)},0" for x, y in [*r, r[0]])
            + "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
        )
    return "\n".join([*out, "</Document></kml>"])


@captured("I")
def wide_rows(rooms: Rooms, rng: Generator) -> Written:
    most = max(len(r) for r in rooms.values())
    out = ["name," + ",".join(f"x{i},y{i}" for i in range(1, most + 1))]
    for name, r in rooms.items():
        out.append(
            f'"{name}",'
            + ",".join(f"{num(x)},{num(y)}" for x, y in r)
            + "," * (2 * (most - len(r)))
        )
    return "\n".join(out)


@captured("I")
def traced_calls(rooms: Rooms, rng: Generator) -> Written:
    out = ['openat(AT_FDCWD, "/data/plan", O_RDONLY) = 5']
    for k, (name, r) in enumerate(rooms.items()):
        msg = json.dumps({"id": k, "name": name, "ring": plain(r)})
        esc = msg.replace("\\", "\\\\").replace('"', '\\"')
        out.append(
            f'[pid  812] 11:12:{k:02d}.004211 write(7, "{esc}\\n", {len(msg) + 1}) = {len(msg) + 1}'
        )
    return "\n".join(out)


@captured("I")
def older_then_newer(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for off in (370, 140, 0):
        for k, (name, r) in enumerate(rooms.items()):
            moved = [(x + off, y - off) for x, y in r]
            out.append(
                f'{stamp(k)} plan/space {k} "{name}" ['
                + ", ".join(f"({num(x)},{num(y)})" for x, y in moved)
                + "]"
            )
        out.append(
            f"{stamp(20)} path [" + ", ".join(f"({x},{y})" for x, y in walk(rooms, rng, 40)) + "]"
        )
    return "\n".join(out)


@captured("I")
def names_in_angles(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"<{name}> " + " ".join(f"{num(x)},{num(y)}" for x, y in r) for name, r in rooms.items()
    )
