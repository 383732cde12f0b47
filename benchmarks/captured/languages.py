"""Spellings of programming languages and of data formats."""

from __future__ import annotations

import html
import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num

__all__: list[str] = []


@captured("B")
def quoted_sheet(rooms: Rooms, rng: Generator) -> Written:
    out = ['"Space","No","Xm","Ym"']
    for n, r in rooms.items():
        out += [f'"{n}","{i + 1}","{x / 1000:.4f}","{y / 1000:.4f}"' for i, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("B")
def quoted_commas(rooms: Rooms, rng: Generator) -> Written:
    out = ['"Espace","No","X","Y"']
    for n, r in rooms.items():
        out += [
            f'"{n}","{i + 1}",' + f'"{x / 1000:.4f}","{y / 1000:.4f}"'.replace(".", ",")
            for i, (x, y) in enumerate(r)
        ]
    return "\n".join(out)


@captured("B")
def html_table(rooms: Rooms, rng: Generator) -> Written:
    out = ["<html><body><h1>Floor</h1><table><tr><th>Room</th><th>x</th><th>y</th></tr>"]
    for n, r in rooms.items():
        for _i, (x, y) in enumerate(r):
            out.append(f"<tr><td>{html.escape(n)}</td><td>{num(x)}</td><td>{num(y)}</td></tr>")
    return "\n".join(out) + "</table></body></html>"


@captured("B")
def html_table_span(rooms: Rooms, rng: Generator) -> Written:
    out = ["<table>"]
    for n, r in rooms.items():
        for i, (x, y) in enumerate(r):
            head = f'<td rowspan="{len(r)}">{html.escape(n)}</td>' if i == 0 else ""
            out.append(f"<tr>{head}<td>{num(x)}</td><td>{num(y)}</td></tr>")
    return "\n".join(out) + "</table>"


@captured("B")
def php_dump(rooms: Rooms, rng: Generator) -> Written:
    out = ["Array", "("]
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            f"    [{i}] => Array",
            "        (",
            f"            [name] => {n}",
            "            [points] => Array",
            "                (",
        ]
        for k, (x, y) in enumerate(r):
            out += [
                f"                    [{k}] => Array",
                "                        (",
                f"                            [0] => {num(x)}",
                f"                            [1] => {num(y)}",
                "                        )",
                "",
            ]
        out += ["                )", "", "        )", ""]
    return "\n".join([*out, ")"])


@captured("B")
def ruby_hash(rooms: Rooms, rng: Generator) -> Written:
    return (
        "{"
        + ", ".join(
            f':{"abcdefghijklmnop"[i]}room => {{:title=>"{n}", :ring=>{[[x, y] for x, y in r]}}}'
            for i, (n, r) in enumerate(rooms.items())
        )
        + "}"
    )


@captured("B")
def go_print(rooms: Rooms, rng: Generator) -> Written:
    rooms = {n.replace(" ", "-"): r for n, r in rooms.items()}
    rows = " ".join(
        f"{{ID:{i} Name:{n} Ring:[{' '.join(f'{{X:{num(x)} Y:{num(y)}}}' for x, y in r)}]}}"
        for i, (n, r) in enumerate(rooms.items())
    )
    return f"2032/09/01 10:11:12 plan {{Rev:3 Rooms:[{rows}] Home:{{X:0 Y:1}}}}", rooms


@captured("B")
def rust_debug(rooms: Rooms, rng: Generator) -> Written:
    out = ["Plan {", "    rev: 4,", "    rooms: ["]
    for n, r in rooms.items():
        out += ["        Room {", f'            name: "{n}",', "            ring: ["]
        for x, y in r:
            out += [
                "                Vertex {",
                f"                    x: {x:.1f},",
                f"                    y: {y:.1f},",
                "                },",
            ]
        out += ["            ],", "        },"]
    return "\n".join([*out, "    ],", "}"])


@captured("B")
def kotlin_print(rooms: Rooms, rng: Generator) -> Written:
    rows = ", ".join(
        f"Space(title={n}, corners=["
        + ", ".join(f"Corner(first={x}, second={y})" for x, y in r)
        + "])"
        for n, r in rooms.items()
    )
    return (
        f"I/Floor   ( 812): Plan(spaces=[{rows}], banned=[Area(corners=["
        + ", ".join(f"Corner(first={x}, second={y})" for x, y in box(rooms, rng))
        + "])])"
    )


@captured("B")
def erlang_terms(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f'{{room, "{n}", [' + ", ".join(f"{{{num(x)},{num(y)}}}" for x, y in r) + "]}."
        for n, r in rooms.items()
    )


@captured("B")
def edn(rooms: Rooms, rng: Generator) -> Written:
    rows = " ".join(
        f'{{:name "{n}" :outline [' + " ".join(f"[{num(x)} {num(y)}]" for x, y in r) + "]}"
        for n, r in rooms.items()
    )
    return "{:rev 3 :rooms [" + rows + "] :dock [1 2]}"


@captured("B")
def property_list(rooms: Rooms, rng: Generator) -> Written:
    out = ['<?xml version="1.0"?><plist version="1.0"><dict><key>rooms</key><array>']
    for n, r in rooms.items():
        out.append(
            f"<dict><key>title</key><string>{html.escape(n)}</string><key>outline</key><array>"
            + "".join(f"<array><real>{num(x)}</real><real>{num(y)}</real></array>" for x, y in r)
            + "</array></dict>"
        )
    return "\n".join([*out, "</array></dict></plist>"])


@captured("B")
def typed_json(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "rooms": {
            "L": [
                {
                    "M": {
                        "name": {"S": n},
                        "ring": {"L": [{"L": [{"N": num(x)}, {"N": num(y)}]} for x, y in r]},
                    }
                }
                for n, r in rooms.items()
            ]
        }
    }
    return json.dumps(d, ensure_ascii=False)


@captured("B")
def proto_text(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            "segment {",
            f"  id: {i + 1}",
            f"  title: {json.dumps(n, ensure_ascii=False)}",
            "  ring {",
        ]
        for x, y in r:
            out.append(f"    vertex {{ east: {num(x)} north: {num(y)} }}")
        out += ["  }", "}"]
    out += (
        ["forbidden {", "  ring {"]
        + [f"    vertex {{ east: {x} north: {y} }}" for x, y in box(rooms, rng)]
        + ["  }", "}"]
    )
    return "\n".join(out)


@captured("B")
def hcl(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out += (
            [f'room "{n}" {{', "  border = ["]
            + [f"    [{num(x)}, {num(y)}]," for x, y in r]
            + ["  ]", "}", ""]
        )
    return "\n".join(out)


@captured("B")
def yaml_scalar_block(rooms: Rooms, rng: Generator) -> Written:
    out = ["rooms:"]
    for n, r in rooms.items():
        out += [f"  - title: '{n}'", "    outline: |"] + [f"      {num(x)} {num(y)}" for x, y in r]
    return "\n".join(out)


@captured("B")
def yaml_keyed_points(rooms: Rooms, rng: Generator) -> Written:
    out = ["floor:"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"  r{i}:", f"    name: {n}", "    p:"]
        for k, (x, y) in enumerate(r):
            out += [f"      {k}: {{x: {num(x)}, y: {num(y)}}}"]
    return "\n".join(out)
