"""Corners between other lines, headings with numbers, the newest first, things beside a list."""

from __future__ import annotations

import html
import json
from collections.abc import Sequence

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Ring, Rooms, Written, captured, dump, num, walk

__all__: list[str] = []


def _strewn(lines: Sequence[str], others: Sequence[str], every: int) -> list[str]:
    """Lines, and behind each so many of them another one."""
    result: list[str] = []
    for at, line in enumerate(lines):
        result.append(line)
        if at % every == every - 1:
            result.append(others[at // every % len(others)])
    return result


def _older(rooms: Rooms) -> Rooms:
    """The rooms as they were seen before: a little aside, and each lower than it is."""
    return {
        name: [(x + 45.0, y - (60.0 if y == max(b for _, b in ring) else 0.0)) for x, y in ring]
        for name, ring in rooms.items()
    }


def _bars(ring: Ring) -> str:
    return " | ".join(f"{num(x)} {num(y)}" for x, y in ring)


# --- corners between other lines ------------------------------------------------------------------


@captured("L")
def events_of_a_tracer(rooms: Rooms, rng: Generator) -> Written:
    """A JSON object a line; a wheel's place is an object with x and y too."""
    others = [dump({"ev": "wheel", "x": x, "y": y, "slip": 0.02}) for x, y in walk(rooms, rng)]
    lines = [dump({"ev": "hello", "proto": 7})]
    for number, (name, ring) in enumerate(rooms.items(), 51):
        lines.append(dump({"ev": "hull_on", "id": number, "label": name, "edges": len(ring)}))
        corners = [dump({"ev": "hull_pt", "x": x, "y": y}) for x, y in ring]
        lines += _strewn(corners, others[number % 9 :], 2)
        lines.append(dump({"ev": "hull_off", "id": number}))
    return "\n".join(lines)


@captured("L")
def marks_of_a_surveyor(rooms: Rooms, rng: Generator) -> Written:
    lines = ["Survey bot ready."]
    others = ["Fan now at 40 %.", "Wheel current 0.31 A.", "Heard 2 voices."]
    for name, ring in rooms.items():
        lines.append(f'Walking around "{name}".')
        lines += _strewn([f"mark at {num(x)} ; {num(y)}" for x, y in ring], others, 3)
        lines.append(f'Back where "{name}" began.')
    return "\n".join(lines)


@captured("L")
def arrows_in_and_out(rooms: Rooms, rng: Generator) -> Written:
    others = [f"(drv) {x};{y};{k % 7}" for k, (x, y) in enumerate(walk(rooms, rng))]
    lines = []
    for name, ring in rooms.items():
        corners = [f"(geo) {num(x)};{num(y)}" for x, y in ring]
        lines += [f"(geo) >> {name}", *_strewn(corners, others, 2), "(geo) <<"]
    return "\n".join(
        f"14:{at // 60 % 60:02d}:{at % 60:02d} {line}" for at, line in enumerate(lines)
    )


@captured("L")
def counts_at_the_end(rooms: Rooms, rng: Generator) -> Written:
    others = ["(bumper touched)", "(brush 1210 rpm)"]
    lines = []
    for name, ring in rooms.items():
        lines.append(f"tracing: {name}")
        lines += _strewn([f"  at {num(x)} / {num(y)}" for x, y in ring], others, 3)
        lines.append(f"  that made {len(ring)} of them")
    return "\n".join(lines)


@captured("L")
def corners_and_whereabouts_in_elements(rooms: Rooms, rng: Generator) -> Written:
    others = [f'<here x="{x}" y="{y}" turn="{k}"/>' for k, (x, y) in enumerate(walk(rooms, rng))]
    out = ["<recording>"]
    for name, ring in rooms.items():
        corners = [f'<nook x="{num(x)}" y="{num(y)}"/>' for x, y in ring]
        out.append(f'<enter what="{html.escape(name)}" nooks="{len(ring)}"/>')
        out += [*_strewn(corners, others, 3), "<leave/>"]
    return "\n".join([*out, "</recording>"])


@captured("L")
def numbered_statements(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for number, (name, ring) in enumerate(rooms.items()):
        lines.append(f"SURFACE {number} NAMED '{name}' WITH {len(ring)} VERTICES")
        lines += _strewn(
            [f"VERTEX {num(x)} {num(y)}" for x, y in ring], ["IDLE 20", "LAMP OFF", "VOLT 14.81"], 2
        )
    return "\n".join(f"{10 * at} {line}" for at, line in enumerate(lines, 1))


# --- headings with numbers ------------------------------------------------------------------------


@captured("L")
def inventory_of_rooms(rooms: Rooms, rng: Generator) -> Written:
    out = ["Inventory no. 12 of flat 3", ""]
    for number, (name, ring) in enumerate(rooms.items(), 1):
        out.append(f"{number}. {name}, {rng.uniform(4, 30):.1f} m2, {number % 3 + 1} lamps")
        out += [f"     {chr(97 + at % 26)})  {num(x)} | {num(y)}" for at, (x, y) in enumerate(ring)]
        out.append("")
    return "\n".join(out)


@captured("L")
def underlined_headings(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for number, (name, ring) in enumerate(rooms.items(), 1):
        out += [name, "=" * len(name), f"wiped {number + 2} times since 4 May"]
        out += [f"nook {at}: {num(x)} across, {num(y)} up" for at, (x, y) in enumerate(ring, 1)]
        out.append("")
    return "\n".join(out)


@captured("L")
def bullets_below_titles(rooms: Rooms, rng: Generator) -> Written:
    out = ["# Flat 3, floor 2", ""]
    for number, (name, ring) in enumerate(rooms.items(), 1):
        out += [f"### {number}. {name} ({len(ring)} corners, {rng.uniform(4, 30):.1f} m²)", ""]
        out += [f"- {num(x)} / {num(y)}" for x, y in ring]
        out.append("")
    return "\n".join(out)


@captured("L")
def tables_of_a_calculator(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for number, (name, ring) in enumerate(rooms.items(), 7):
        out.append(f"{name} [no. {number}], {len(ring)} rows and 2 columns:")
        out += [f"   {x:>10.1f}   {y:>10.1f}" for x, y in ring]
        out.append("")
    return "\n".join(out)


@captured("L")
def arrays_of_a_shell(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for number, (name, ring) in enumerate(rooms.items(), 7):
        rows = ",\n       ".join(f"[{x:8.1f}, {y:8.1f}]" for x, y in ring)
        out += [f"{name} (key {number}), float64, size {2 * len(ring)}:", f"array([{rows}])", ""]
    return "\n".join(out)


# --- the newest first -----------------------------------------------------------------------------


@captured("L")
def rows_with_the_newest_first(rooms: Rooms, rng: Generator) -> Written:
    rows = ["when;what;x;y"]
    for day, state in ((17, rooms), (16, _older(rooms))):
        second = 59
        for name, ring in state.items():
            rows += [f"{day}.11.2033 06:30:{second:02d};{name};{num(x)};{num(y)}" for x, y in ring]
            second -= 1
    return "\n".join(rows)


@captured("L")
def messages_with_the_newest_first(rooms: Rooms, rng: Generator) -> Written:
    tick = 1_950_000_000_000
    lines = [dump({"tick": tick, "volt": 14.6})]
    for state in (rooms, _older(rooms)):
        for name, ring in state.items():
            tick -= 431
            lines.append(dump({"tick": tick, "space": {"label": name, "hull": ring}}))
        lines.append(dump({"tick": tick - 5, "volt": 14.9}))
    return "\n".join(lines)


@captured("L")
def a_diary_with_the_newest_first(rooms: Rooms, rng: Generator) -> Written:
    out = ['<?xml version="1.0"?>', "<diary>"]
    for day, state in ((12, rooms), (9, _older(rooms))):
        out.append(f'  <entry made="2033-11-{day:02d}T06:30:00Z">')
        out += [
            f'    <space called="{html.escape(name)}">{_bars(ring)}</space>'
            for name, ring in state.items()
        ]
        out.append("  </entry>")
    return "\n".join([*out, "</diary>"])


@captured("L")
def pages_with_the_newest_first(rooms: Rooms, rng: Generator) -> Written:
    out = ["latest on top"]
    for hour, state in ((9, rooms), (7, _older(rooms))):
        for second, (name, ring) in enumerate(state.items()):
            head = f"Nov 12 {hour:02d}:30:{59 - second:02d} cellar botd[77]: space"
            body = json.dumps({"title": name, "hull": ring}, indent=2, ensure_ascii=False)
            out.append(f"{head} {body}")
        out.append(f"Nov 12 {hour:02d}:29:00 cellar botd[77]: heart beats")
    return "\n".join(out)


# --- things beside a list -------------------------------------------------------------------------


@captured("L")
def a_drawing_with_a_legend(rooms: Rooms, rng: Generator) -> Written:
    x, y = np.round(np.concatenate([np.array(ring) for ring in rooms.values()]).mean(axis=0), 1)
    out = [
        '<svg viewBox="0 0 40000 40000">',
        f'<rect class="viewport" x="{x}" y="{y}" width="900" height="400"/>',
        f'<ellipse class="charger" cx="{x}" cy="{y}" rx="90" ry="60"/>',
    ]
    for number, (name, ring) in enumerate(rooms.items()):
        points = " ".join(f"{num(a)},{num(b)}" for a, b in ring)
        out.append(f'<polygon id="p{number}" data-name="{html.escape(name)}" points="{points}"/>')
    way = " ".join(f"{a},{b}" for a, b in walk(rooms, rng))
    return "\n".join([*out, f'<polyline class="trail" points="{way}"/>', "</svg>"])


@captured("L")
def a_plan_with_one_station(rooms: Rooms, rng: Generator) -> Written:
    out = ['<plan made="2033-11-12">']
    out += [
        f'<space kind="room" called="{html.escape(name)}" hull="{_bars(ring)}"/>'
        for name, ring in rooms.items()
    ]
    out.append('<station kind="charger"><model>S4</model><label>Base 1</label></station>')
    return "\n".join([*out, "</plan>"])
