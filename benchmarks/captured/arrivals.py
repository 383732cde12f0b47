"""Outlines that come in no order, anew, counted or with other numbers beside them."""

from __future__ import annotations

import json

from numpy.random import Generator

from benchmarks.captured.parts import Ring, Rooms, Written, captured, num, plain, stamp

__all__: list[str] = []


def _older(rooms: Rooms) -> Rooms:
    """A floor of other rooms on the same ground: two and two were one, under other names."""
    names, rings = [f"{name} alt" for name in rooms], [*rooms.values()]
    boxes: list[Ring] = []
    for one, other in zip(rings[::2], rings[1::2], strict=False):
        xs, ys = zip(*one, *other, strict=True)
        low_x, low_y, high_x, high_y = min(xs), min(ys), max(xs), max(ys)
        boxes.append([(low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y)])
    return dict(zip(names, boxes, strict=False))


def _listed(rooms: Rooms) -> list[dict[str, object]]:
    return [{"called": name, "rim": plain(ring)} for name, ring in rooms.items()]


def _shuffled(rows: list[str], rng: Generator) -> list[str]:
    return [rows[int(at)] for at in rng.permutation(len(rows))]


@captured("P")
def revisions_of_a_floor(rooms: Rooms, rng: Generator) -> Written:
    said = [
        f"{stamp(at)} rover/plan {json.dumps({'revision': 30 + at, 'cells': _listed(state)})}"
        for at, state in enumerate((_older(rooms), rooms))
    ]
    return "\n".join([said[0], f"{stamp(1)} rover/power 71", said[1]])


@captured("P")
def states_kept_by_day(rooms: Rooms, rng: Generator) -> Written:
    states = [{"kept": stamp(9), "cells": _listed(_older(rooms))}]
    states.append({"kept": stamp(90_000), "cells": _listed(rooms)})
    return json.dumps({"states": states}, indent=1)


@captured("P")
def parts_out_of_order(rooms: Rooms, rng: Generator) -> Written:
    text = json.dumps({"cells": _listed(rooms)})
    size = -(-len(text) // 7)
    parts = [text[at * size : (at + 1) * size] for at in range(7)]
    lines = [f"{stamp(at)} plan part {at + 1}/7: {part}" for at, part in enumerate(parts)]
    lines = _shuffled(lines, rng)
    lines.insert(3, f"{stamp(3)} power 70")
    return "\n".join(lines)


@captured("P")
def frames_out_of_order(rooms: Rooms, rng: Generator) -> Written:
    text = json.dumps({"cells": _listed(rooms)})
    size = -(-len(text) // 5)
    frames = [
        json.dumps({"ev": "plan", "k": at, "of": 5, "part": text[at * size : (at + 1) * size]})
        for at in range(5)
    ]
    return "\n".join(_shuffled(frames, rng))


@captured("P")
def rows_in_no_order(rooms: Rooms, rng: Generator) -> Written:
    rows = [f"{n};{k};{num(x)};{num(y)}" for n, r in rooms.items() for k, (x, y) in enumerate(r)]
    return "\n".join(["room;rank;x;y", *_shuffled(rows, rng)])


@captured("P")
def corners_of_all_rooms_in_turn(rooms: Rooms, rng: Generator) -> Written:
    lines: list[str] = []
    longest = max(map(len, rooms.values()))
    for k in range(longest):
        for name, ring in rooms.items():
            if k < len(ring):
                x, y = ring[k]
                lines.append(f'{0.25 * len(lines):.3f} room="{name}" k={k} x={num(x)} y={num(y)}')
        lines.append(f"{0.25 * len(lines):.3f} power={80 - k % 60}")
    return "\n".join(lines)


@captured("P")
def apostrophes_and_blanks(rooms: Rooms, rng: Generator) -> Written:
    def grouped(value: float) -> str:
        return f"{value:,.1f}".replace(",", "'")

    return "\n".join(
        f"{n}: " + " / ".join(f"{grouped(x)} {grouped(y)}" for x, y in r) for n, r in rooms.items()
    )


@captured("P")
def words_in_angle_brackets_above(rooms: Rooms, rng: Generator) -> Written:
    names = [f"cell{at:02d}" for at in range(len(rooms))]
    named = dict(zip(names, rooms.values(), strict=True))
    text = "".join(
        f"<{n}>\n" + "".join(f"{num(x)} {num(y)}\n" for x, y in r) for n, r in named.items()
    )
    return text, named


@captured("P")
def arrays_of_a_program(rooms: Rooms, rng: Generator) -> Written:
    letters = "abcdefghijklmnop"
    named = {f"hall_{letters[at]}": ring for at, ring in enumerate(rooms.values())}
    text = "\n".join(
        f"static const float {n}[{len(r)}][2] = {{"
        + ", ".join(f"{{{num(x)}, {num(y)}}}" for x, y in r)
        + "};"
        for n, r in named.items()
    )
    return text, named


@captured("P")
def places_of_labels(rooms: Rooms, rng: Generator) -> Written:
    lines = ["cells:"]
    for at, (name, ring) in enumerate(rooms.items(), 4):
        x, y = ring[0]
        lines += [f"  '{at}':", f'    title: "{name}"', f"    x: {num(x + 250)}"]
        lines += [f"    y: {num(y + 250)}", f"    rim: {plain(ring)}"]
    return "\n".join(lines)


@captured("P")
def northing_and_easting_in_mm(rooms: Rooms, rng: Generator) -> Written:
    rows = [f"{name};{num(y)};{num(x)}" for name, ring in rooms.items() for x, y in ring]
    return "\n".join(["cell;northing_mm;easting_mm", *rows])


@captured("P")
def a_unit_a_room(rooms: Rooms, rng: Generator) -> Written:
    units = (("mm", 1.0), ("cm", 10.0), ("m", 1000.0))
    cells = []
    for at, (name, ring) in enumerate(rooms.items()):
        unit, scale = units[at % 3]
        rim = [[round(x / scale, 4), round(y / scale, 4)] for x, y in ring]
        cells.append({"called": name, "unit": unit, "rim": rim})
    return json.dumps({"cells": cells}, ensure_ascii=False)


@captured("P")
def counted_lines(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for name, ring in rooms.items():
        lines += [f"cell {name}", *(f"vertex {num(x)} {num(y)}" for x, y in ring)]
    return "\n".join(f"[{at:05d}] {line}" for at, line in enumerate(lines, 1))


@captured("P")
def subscripts_and_quoted_names(rooms: Rooms, rng: Generator) -> Written:
    lines = ["plan: dump of cells, in mm"]
    for at, (name, ring) in enumerate(rooms.items()):
        lines.append(f'plan: cell[{at}] title = "{name}"')
        lines += [
            f"plan: cell[{at}] c[{k}] = ({num(x)}, {num(y)})" for k, (x, y) in enumerate(ring)
        ]
    return "\n".join([*lines, "plan: end of dump"])
