"""What people and devices write every day: exports, sources, messages under topics, drawings."""

from __future__ import annotations

import base64
import itertools
import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, captured, num, plain
from benchmarks.spellings import clock

_VERTEX, _PLAIN, _MADE = '<vertex x="{}" y="{}"/>', "{},{}", "new Vector2({}f, {}f)"
_COMMA, _SPACE = ",", " "


def _pairs(ring: list[tuple[float, float]], form: str, joint: str) -> str:
    return joint.join(form.format(num(x), num(y)) for x, y in ring)


@captured("G")
def journal_export(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        for message in (f"battery {90 - i}% 14.2 V", f"outline of {n}: {json.dumps(plain(r))}"):
            out += [f"_TIME=17040672{i:02d}123456", "_HOSTNAME=floorbot", f"_PID={400 + i}"]
            out += [f"MESSAGE={message}", ""]
    return "\n".join(out)


@captured("G")
def names_in_topics(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"home/bot/rooms/{n}/outline {json.dumps(plain(r))}", f"home/bot/battery {90 - i}"]
    return "\n".join(out)


@captured("G")
def drawn_with_dashes(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"  % {n}\n  \\draw[thick] {_pairs(r, '({},{})', ' -- ')} -- cycle;"
        for n, r in rooms.items()
    ]
    return "\n".join([r"\begin{tikzpicture}[scale=0.5]", *lines, r"\end{tikzpicture}"])


@captured("G")
def objects_behind_words(rooms: Rooms, rng: Generator) -> Written:
    lines = [
        f"01-06 10:11:{i:02d}.120  4321  4399 D MapView : onRoom "
        f"Room(name={n}, path=[{_pairs(r, '({}, {})', ', ')}])"
        for i, (n, r) in enumerate(rooms.items())
    ]
    return "\n".join(lines)


@captured("G")
def counted_arrays(rooms: Rooms, rng: Generator) -> Written:
    out = ["typedef struct { int32_t x, y; } pt_t;", ""]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"/* {n} */", f"static const pt_t outline_{i}[{len(r)}] = {{"]
        out += [f"    {{ {num(x)}, {num(y)} }}," for x, y in r] + ["};", ""]
    return "\n".join(out)


@captured("G")
def rows_with_counts(rooms: Rooms, rng: Generator) -> Written:
    rows = []
    for i, (n, r) in enumerate(rooms.items()):
        rows.append(f"$BPOSE,{101112 + i},{i * 10},{i * 7},90*4{i % 10}")
        rows.append(f"$BROOM,{n},{len(r)},{_pairs(r, '{},{}', ',')}*{17 + i:02X}")
    return "\r\n".join(rows) + "\r\n"


@captured("G")
def keywords(rooms: Rooms, rng: Generator) -> Written:
    rows = [f'{{:name "{n}" :ring [{_pairs(r, "[{} {}]", " ")}]}}' for n, r in rooms.items()]
    return "{:rev 9\n :rooms\n [" + "\n  ".join(rows) + "]}"


@captured("G")
def a_floor_of_keyed_rooms(rooms: Rooms, rng: Generator) -> Written:
    keyed = {n: {"outline": plain(r), "area": 10 + i} for i, (n, r) in enumerate(rooms.items())}
    floor = {"name": "Ground floor", "level": 0, "rooms": keyed}
    return json.dumps({"building": "home", "floors": [floor]}, ensure_ascii=False, indent=2)


@captured("G")
def dashes_alone(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += ["header:", f"  seq: {i}", f"  stamp: {clock(i)}", f'label: "{n}"']
        out += ["polygon:", "  points:"]
        for x, y in r:
            out += ["    -", f"      x: {num(x)}", f"      y: {num(y)}", "      z: 0.0"]
        out.append("---")
    return "\n".join(out)


@captured("G")
def a_room_called_dock(rooms: Rooms, rng: Generator) -> Written:
    named = dict(zip(["Dock", *list(rooms)[1:]], rooms.values(), strict=True))
    rows = [f"| {n} | {_pairs(r, '{}/{}', ' ')} |" for n, r in named.items()]
    return "\n".join(["| Room | Corners |", "|---|---|", *rows]), named


@captured("G")
def ids_as_keys(rooms: Rooms, rng: Generator) -> Written:
    out = ["polygons:"]
    for i, r in enumerate(rooms.values()):
        out += [f"  seg_{i + 1}:", *[f"    - {{x: {num(x)}, y: {num(y)}}}" for x, y in r]]
    out += ["names:", *[f'  seg_{i + 1}: "{n}"' for i, n in enumerate(rooms)]]
    return "\n".join(out)


@captured("G")
def lists_of_each_axis_below(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n}\n  X: {' '.join(num(x) for x, _ in r)}\n  Y: {' '.join(num(y) for _, y in r)}"
        for n, r in rooms.items()
    )


@captured("G")
def sections_of_list_items(rooms: Rooms, rng: Generator) -> Written:
    parts = [
        f"<h2>{n}</h2><ul>{_pairs(r, '<li>{} mm, {} mm</li>', '')}</ul>" for n, r in rooms.items()
    ]
    return f"<!doctype html><body>{''.join(parts)}</body>"


@captured("G")
def paths_by_steps(rooms: Rooms, rng: Generator) -> Written:
    out = ['<svg xmlns="http://www.w3.org/2000/svg">']
    for n, r in rooms.items():
        steps = [(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(r)]
        d = f"m{num(r[0][0])},{num(r[0][1])} {_pairs(steps, '{:.7},{:.7}', ' ')}z"
        out.append(f'<path id="{n}" d="{d}"/>')
    return "\n".join([*out, "</svg>"])


@captured("G")
def corners_counted_in_words(rooms: Rooms, rng: Generator) -> Written:
    named = dict(zip(["Entry", "Map Room", *list(rooms)[2:]], rooms.values(), strict=True))
    return "\n".join(
        f"room {n} vertex {k} of {len(r)}: {num(x)} {num(y)}"
        for n, r in named.items()
        for k, (x, y) in enumerate(r, 1)
    ), named


@captured("G")
def numbered_fields(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"room{i}_name={n}", f"room{i}_pts={_pairs(r, '{}:{}', ',')}"]
    return "\n".join(out)


@captured("G")
def boxes_behind_names(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        xs, ys = zip(*r, strict=True)
        box = f"({num(min(xs))},{num(min(ys))},{num(max(xs))},{num(max(ys))})"
        out.append(f"{n} bbox={box} poly=[{_pairs(r, '({},{})', ',')}]")
    return "\n".join(out)


@captured("G")
def bold_names_with_asides(rooms: Rooms, rng: Generator) -> Written:
    out = ["# Rooms measured"]
    for n, r in rooms.items():
        out += [f"* **{n}** ({len(r)} corners)", *[f"  * {num(x)}, {num(y)}" for x, y in r]]
    return "\n".join(out)


@captured("G")
def quoted_headings(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f'[rooms."{n}"]\nlevel = 0\nxs = {[x for x, _ in r]}\nys = {[y for _, y in r]}\n'
        for n, r in rooms.items()
    )


@captured("G")
def versions_before_names(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for version in (1, 2):
        for i, (n, r) in enumerate(rooms.items()):
            moved = [(x + 40 * (2 - version), y) for x, y in r]
            out.append(f"10:0{version}:{i:02d} map v{version} {n} {_pairs(moved, '{},{}', ' ')}")
    return "\n".join(out)


@captured("G")
def numbers_beside_times(rooms: Rooms, rng: Generator) -> Written:
    numbers = [str(16 + 3 * i) for i in range(len(rooms))]
    lines = [
        json.dumps({"t": 100 + i, "seg": int(number), "contour": plain(r)})
        for i, (number, r) in enumerate(zip(numbers, rooms.values(), strict=True))
    ]
    return "\n".join(lines), dict(zip(numbers, rooms.values(), strict=True))


@captured("G")
def walls_whose_ends_rise(rooms: Rooms, rng: Generator) -> Written:
    # The left ends of the last room's walls rise, as times do.
    rooms = {**rooms, "Nook": [(-9e3, 900.0), (-8e3, 0.0), (-7e3, 500.0), (-6e3, 2900.0)]}
    said = []
    for n, r in rooms.items():
        pairs = zip(r, [*r[1:], r[0]], strict=True)
        walls = [{"x1": a[0], "y1": a[1], "x2": b[0], "y2": b[1]} for a, b in pairs]
        said.append({"name": n, "walls": walls})
    return json.dumps({"rooms": said}, ensure_ascii=False), rooms


@captured("G")
def names_behind_arrows(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(f"polygon {_pairs(r, '{},{}', ' ')} -> {n}" for n, r in rooms.items())


@captured("G")
def attributes_spelt_out(rooms: Rooms, rng: Generator) -> Written:
    parts = [
        f'<segment id="{i}"><attributes><attribute key="name">{n}</attribute>'
        f'<attribute key="carpet">no</attribute></attributes><outline>'
        f"{_pairs(r, _VERTEX, '')}</outline></segment>"
        for i, (n, r) in enumerate(rooms.items())
    ]
    return f"<map>{''.join(parts)}</map>"


@captured("G")
def elements_without_ends(rooms: Rooms, rng: Generator) -> Written:
    areas = [
        f'<area shape="poly" alt="{n}" coords="{_pairs(r, _PLAIN, _COMMA)}" href="#">'
        for n, r in rooms.items()
    ]
    return '<map name="floor">' + "\n".join(areas) + "</map>"


@captured("G")
def announced_by_number_and_name(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        head = f"Apr 04 10:00:{i:02d} pi mapper[877]: "
        out += [f"{head}Room {i}: '{n}' with {len(r)} points"]
        out += [f"{head}  ({num(x)}, {num(y)})" for x, y in r]
    return "\n".join(out)


@captured("G")
def marks_before_names(rooms: Rooms, rng: Generator) -> Written:
    named = dict(zip(["Home gym", *list(rooms)[1:]], rooms.values(), strict=True))
    lines = [f"+ {n}: {_pairs(r, '({},{})', ' ')}" for n, r in named.items()]
    return "\n".join([*lines, lines[-1]]), named


@captured("G")
def columns_of_corners(rooms: Rooms, rng: Generator) -> Written:
    rows = ["," + ",".join(f"{n} x,{n} y" for n in rooms)]
    for k in range(max(map(len, rooms.values()))):
        cells = [_pairs(r[k : k + 1], "{},{}", "") or "," for r in rooms.values()]
        rows.append(f"P{k + 1},{','.join(cells)}")
    return "\n".join(rows)


@captured("G")
def commas_in_fractions(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for i, (n, r) in enumerate(rooms.items(), 1):
        metres = [(f"{x / 1000:.4f}".replace(".", ","), f"{y / 1000:.4f}") for x, y in r]
        corners = "; ".join(f"{x} | {y.replace('.', ',')}" for x, y in metres)
        lines.append(f"{i}. {n}: corners (in m) {corners}")
    return "Measured on 3 April\n\n" + "\n".join(lines)


@captured("G")
def bold_names_before_dashes(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{i}. **{n}** – {_pairs(r, '({}, {})', ' → ')}"
        for i, (n, r) in enumerate(rooms.items(), 1)
    )


@captured("G")
def marks_called_names(rooms: Rooms, rng: Generator) -> Written:
    shapes = [
        f'<Polygon Name="p{i}" ToolTip="{n}" Points="{_pairs(r, _PLAIN, _SPACE)}" Fill="#220000"/>'
        for i, (n, r) in enumerate(rooms.items())
    ]
    return f"<Canvas>{''.join(shapes)}</Canvas>"


@captured("G")
def constructors_in_source(rooms: Rooms, rng: Generator) -> Written:
    rows = [
        f'    new Room {{ Name = "{n}", Corners = new[] {{ {_pairs(r, _MADE, _COMMA)} }} }}'
        for n, r in rooms.items()
    ]
    return "var rooms = new List<Room> {\n" + ",\n".join(rows) + "\n};"


@captured("G")
def boxes_by_their_ends(rooms: Rooms, rng: Generator) -> Written:
    out = ["rooms:"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        (x0, x1), (y0, y1) = ((min(axis), max(axis)) for axis in zip(*r, strict=True))
        out += [
            f"  {i}:",
            *(
                f"    {k}: {num(v)}"
                for k, v in zip(("x0", "y0", "x1", "y1"), (x0, y0, x1, y1), strict=True)
            ),
        ]
        out += [
            f'    name: "{n}"',
            "    outline:",
            *(f"      - - {num(x)}\n        - {num(y)}" for x, y in r),
        ]
    return "\n".join(out)


@captured("G")
def names_under_topics_of_their_own(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items(), 1):
        head = f"2024-05-01T08:00:{i:02d}+0200 bot/floor/0/room/{i}"
        out += [f"{head}/name {n}", f"{head}/polygon {_pairs(r, _PLAIN, _SPACE)}"]
    return "\n".join(out)


@captured("G")
def names_as_code(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(f"- `{n}`: `{json.dumps(plain(r))}`" for n, r in rooms.items())


@captured("G")
def known_words_below_rooms(rooms: Rooms, rng: Generator) -> Written:
    named = dict(zip(["Home gym", "Corner", *list(rooms)[2:]], rooms.values(), strict=True))
    out = ["floor 0"]
    for n, r in named.items():
        out += [f"    room {n}", *[f"        vertex {num(x)} {num(y)}" for x, y in r]]
    return "\n".join(out), named


@captured("G")
def tabs_behind_topics(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"bot/rooms\t{json.dumps({'n': n, 'pts': plain(r)})}", f"bot/power\t{90 - i}"]
    return "\n".join(out)


@captured("G")
def wrapped_in_lines(rooms: Rooms, rng: Generator) -> Written:
    said = {"rooms": [{"name": n, "pts": plain(r)} for n, r in rooms.items()]}
    text = json.dumps(said, ensure_ascii=False)
    while len(text.encode()) % 48:
        text += " "  # the last line is as long as the others
    packed = base64.b64encode(text.encode()).decode()
    lines = [packed[at : at + 64] for at in range(0, len(packed), 64)]
    return "\n".join(["-----BEGIN MAP-----", *lines, "-----END MAP-----", ""])


@captured("G")
def headings_open_to_the_right(rooms: Rooms, rng: Generator) -> Written:
    parts = [
        f"== {n}\n\n[cols=2]\n|===\n{_pairs(r, '| {} | {}', chr(10))}\n|===\n"
        for n, r in rooms.items()
    ]
    return "= Rooms\n\n" + "\n".join(parts)


@captured("G")
def arrows_behind_asides(rooms: Rooms, rng: Generator) -> Written:
    named = dict(zip(["Storage (north)", *list(rooms)[1:]], rooms.values(), strict=True))
    return "\n".join(
        f"0{i % 9}:00:00 INFO {n} -> {json.dumps(plain(r))}"
        for i, (n, r) in enumerate(named.items())
    ), named


@captured("G")
def arrays_of_numbered_values(rooms: Rooms, rng: Generator) -> Written:
    parts = []
    for i, (n, r) in enumerate(rooms.items()):
        corners = "".join(
            f"      {k} => \n      array (\n        0 => {num(x)},\n        1 => {num(y)},\n"
            "      ),\n"
            for k, (x, y) in enumerate(r)
        )
        points = f"    'points' => \n    array (\n{corners}    ),\n"
        parts.append(f"  {i} => \n  array (\n    'name' => '{n}',\n{points}  ),\n")
    return f"array (\n{''.join(parts)})"
