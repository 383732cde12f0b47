"""Outlines in rows and records: a value a row, a point an event, metrics, names and rings by id."""

from __future__ import annotations

import json

from numpy.random import Generator

from benchmarks.captured.parts import Ring, Rooms, Written, captured, dump, num, plain, stamp, walk

__all__: list[str] = []


def _text(ring: Ring, apart: str, between: str) -> str:
    return between.join(f"{num(x)}{apart}{num(y)}" for x, y in ring)


@captured("M")
def a_value_a_row(rooms: Rooms, rng: Generator) -> Written:
    out = ["cell,corner,axis,value"]
    for n, r in rooms.items():
        for i, (x, y) in enumerate(r):
            out += [f"{n},{i},x,{num(x)}", f"{n},{i},y,{num(y)}"]
    return "\n".join(out)


@captured("M")
def metrics_by_axis(rooms: Rooms, rng: Generator) -> Written:
    out = ["# TYPE battery_percent gauge", "battery_percent 81", "# TYPE corner_x gauge"]
    for which in (0, 1):
        for n, r in rooms.items():
            out += [
                f'corner_{"xy"[which]}{{cell="{n}",k="{i}"}} {num(point[which])}'
                for i, point in enumerate(r)
            ]
    return "\n".join(out)


@captured("M")
def points_with_tags(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        title = n.replace(" ", "\\ ")
        for i, (x, y) in enumerate(r):
            at = 1932844112000000000 + i
            out.append(f"corner,cell={title} k={i}i,x={num(x)},y={num(y)} {at}")
    return "\n".join(out)


@captured("M")
def an_event_a_corner(rooms: Rooms, rng: Generator) -> Written:
    out = []
    at = 0
    for n, r in rooms.items():
        for i, (x, y) in enumerate(r):
            at += 1
            out.append(dump({"t": stamp(at), "cell": n, "k": i, "at": [x, y]}))
            if at % 3 == 0:
                out.append(dump({"t": stamp(at), "power": {"pct": 81, "mv": 15230}}))
    return "\n".join(out)


@captured("M")
def events_in_a_sheet(rooms: Rooms, rng: Generator) -> Written:
    out = ["time;what;cell;x;y"]
    at = 0
    for n, r in rooms.items():
        out.append(f"{stamp(at)};begin;{n};;")
        for x, y in r:
            at += 2
            out.append(f"{stamp(at)};corner;{n};{num(x)};{num(y)}")
        out.append(f"{stamp(at)};end;{n};;")
    return "\n".join(out)


@captured("M")
def rows_of_x_above_rows_of_y(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(";".join([n, "x", *(num(x) for x, _ in r)]))
        out.append(";".join([n, "y", *(num(y) for _, y in r)]))
    return "\n".join(out)


@captured("M")
def cells_with_line_breaks(rooms: Rooms, rng: Generator) -> Written:
    out = ['"cell","fan","rim"']
    out += [f'"{n}","2","{_text(r, " ", chr(10))}"' for n, r in rooms.items()]
    return "\n".join(out)


@captured("M")
def included_by_reference(rooms: Rooms, rng: Generator) -> Written:
    data = [
        {
            "type": "cell", "id": str(i), "attributes": {"title": n},
            "relationships": {"rim": {"data": {"type": "rim", "id": f"r{i}"}}},
        }
        for i, n in enumerate(rooms)
    ]  # fmt: skip
    included = [
        {"type": "rim", "id": f"r{i}", "attributes": {"corners": plain(r)}}
        for i, r in enumerate(rooms.values())
    ]
    return json.dumps({"data": data, "included": included})


@captured("M")
def two_tables_by_id(rooms: Rooms, rng: Generator) -> Written:
    out = ["id;title", *(f"{i};{n}" for i, n in enumerate(rooms, 31)), "", "cell;k;x;y"]
    for i, r in enumerate(rooms.values(), 31):
        out += [f"{i};{k};{num(x)};{num(y)}" for k, (x, y) in enumerate(r)]
    return "\n".join(out)


@captured("M")
def flattened_paths(rooms: Rooms, rng: Generator) -> Written:
    out = ["json = {};", "json.rev = 12;", "json.cells = [];"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"json.cells[{i}].title = {json.dumps(n, ensure_ascii=False)};")
        for k, (x, y) in enumerate(r):
            out += [f"json.cells[{i}].rim[{k}][0] = {num(x)};"]
            out += [f"json.cells[{i}].rim[{k}][1] = {num(y)};"]
    return "\n".join(out)


@captured("M")
def numbered_replies(rooms: Rooms, rng: Generator) -> Written:
    out = ["> HGETALL plan"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f'{2 * i + 1}) "{n}"', f'{2 * i + 2}) "{_text(r, ",", " ")}"']
    return "\n".join([*out, "> GET battery", '"81"'])


@captured("M")
def variables_of_a_shell(rooms: Rooms, rng: Generator) -> Written:
    out = ["ROVER_BATTERY=81", "ROVER_VERSION=3.14.2"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += [f"CELL_{i}_TITLE='{n}'", f"CELL_{i}_RIM='{_text(r, ',', ' ')}'", f"CELL_{i}_FAN=2"]
    return "\n".join(out)


@captured("M")
def escaped_properties(rooms: Rooms, rng: Generator) -> Written:
    out = ["# saved 2031-04-05"]
    for i, (n, r) in enumerate(rooms.items()):
        title = n.encode("ascii", "backslashreplace").decode().replace("\\xe", "\\u00e")
        title = title.replace("\\xf", "\\u00f")
        out += [f"cell.{i}.title = {title}", f"cell.{i}.rim = {_text(r, ',', ';')}"]
    return "\n".join(out)


@captured("M")
def attributes_by_number(rooms: Rooms, rng: Generator) -> Written:
    out = ['<plan rev="12">']
    for n, r in rooms.items():
        at = " ".join(f'x{i}="{num(x)}" y{i}="{num(y)}"' for i, (x, y) in enumerate(r))
        out.append(f'  <cell title="{n}" {at}/>')
    return "\n".join([*out, "</plan>"])


@captured("M")
def elements_of_axes(rooms: Rooms, rng: Generator) -> Written:
    out = ["<plan>"]
    for n, r in rooms.items():
        out += [f"<cell><title>{n}</title>", f"<xs>{' '.join(num(x) for x, _ in r)}</xs>"]
        out += [f"<ys>{' '.join(num(y) for _, y in r)}</ys></cell>"]
    return "\n".join([*out, "</plan>"])


@captured("M")
def other_names_of_axes(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {"title": n, "rim": [{"posXMm": x, "posYMm": y, "kind": 0} for x, y in plain(r)]}
        for n, r in rooms.items()
    ]
    return dump({"cells": cells, "robot": {"posXMm": 120, "posYMm": 455, "yaw": 90}})


@captured("M")
def two_frames_dumped(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        raw = dump({"title": n, "rim": plain(r)}).encode()
        out.append(f"11:12:{i:02d}.004211 IP 192.168.7.31.8883 > 192.168.7.2.41822: {len(raw)}")
        for at in range(0, len(raw), 16):
            row = raw[at : at + 16].hex()
            pairs = " ".join(row[k : k + 4] for k in range(0, len(row), 4))
            shown = "".join(chr(b) if 32 <= b < 127 else "." for b in raw[at : at + 16])
            out.append(f"\t0x{at:04x}:  {pairs:<39}  {shown}")
    return "\n".join(out)


@captured("M")
def ways_and_cells_alike(rooms: Rooms, rng: Generator) -> Written:
    items = [{"layer": "way", "pts": walk(rooms, rng, 14)} for _ in range(3)]
    cells = [{"layer": "cells", "title": n, "pts": plain(r)} for n, r in rooms.items()]
    return "\n".join(dump(item) for item in [*items[:2], *cells, items[2]])
