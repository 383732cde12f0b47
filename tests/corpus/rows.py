"""Spellings with a point or a room a line, and tables."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator

from tests.corpus.base import Rings, entered, ints, num, pairs


def _rows(rings: Rings) -> Iterator[tuple[str, int, str, str]]:
    """Yield (room, number of the point, x, y)."""
    for name, ring in rings.items():
        for i, (x, y) in enumerate(ring):
            yield name, i, num(x), num(y)


def _lines(rings: Rings, line: Callable[[str, int, str, str], str]) -> str:
    return "\n".join(line(*row) for row in _rows(rings))


@entered()
def seconds_before_rows(rings: Rings) -> str:
    return _lines(rings, lambda n, i, x, y: f"1712052{i:03d}.25 {n} {x} {y}")


@entered()
def seconds_in_brackets(rings: Rings) -> str:
    rooms = enumerate(rings.items())
    return "\n".join(f"[1712052{i:03d}.25] {n}: {pairs(r)}" for i, (n, r) in rooms)


@entered()
def seconds_since_start(rings: Rings) -> str:
    rooms = enumerate(rings.items())
    lines = [f'[  12.{i:06d}] map: room "{n}" outline {pairs(r, " ", ", ")}' for i, (n, r) in rooms]
    return "\n".join(lines)


@entered()
def milliseconds_in_a_column(rings: Rings) -> str:
    blocks = []
    for name, ring in rings.items():
        rows = [f"{1712052000 + i * 7}\t{num(x)}\t{num(y)}" for i, (x, y) in enumerate(ring)]
        blocks.append("\n".join([f"# {name}", *rows, ""]))
    return "\n".join(blocks)


@entered()
def rows_of_a_system_log(rings: Rings) -> str:
    return _lines(rings, lambda n, i, x, y: f"Apr  2 10:00:00 box agent[41]: {n} {x} {y}")


@entered()
def rooms_of_a_telephone_log(rings: Rings) -> str:
    head = "04-02 10:00:00.123  1234  5678 D Mapper:"
    rooms = [f"{head} room={json.dumps(n)} poly={json.dumps(ints(r))}" for n, r in rings.items()]
    return "\n".join(rooms)


@entered()
def two_lines_a_room(rings: Rings) -> str:
    rooms = rings.items()
    return "\n".join(f"10:00:01 room {n}\n10:00:01 corners {pairs(r, ' ', ', ')}" for n, r in rooms)


@entered()
def numbered_corners(rings: Rings) -> str:
    return _lines(rings, lambda n, i, x, y: f"{n} corner {i}: {x}, {y}")


@entered()
def subscripts(rings: Rings) -> str:
    return _lines(rings, lambda n, i, x, y: f"{n}[{i}] = ({x}, {y})")


@entered()
def a_way_to_every_number(rings: Rings) -> str:
    lines = ["json = {};", "json.rooms = [];"]
    for i, (name, ring) in enumerate(rings.items()):
        lines.append(f"json.rooms[{i}].name = {json.dumps(name)};")
        for j, point in enumerate(ring):
            lines += [f"json.rooms[{i}].outline[{j}][{k}] = {num(point[k])};" for k in (0, 1)]
    return "\n".join(lines)


@entered()
def points_between_bars(rings: Rings) -> str:
    return "\n".join(
        f"{n}: " + " ".join(f"P{i}({num(x)}|{num(y)})" for i, (x, y) in enumerate(r))
        for n, r in rings.items()
    )


@entered()
def sections_of_points(rings: Rings) -> str:
    return "\n".join(
        f"[{n}]\n"
        + "\n".join(f"point{i} = {num(x)}, {num(y)}" for i, (x, y) in enumerate(r))
        + "\n"
        for n, r in rings.items()
    )


@entered()
def sections_of_coordinates(rings: Rings) -> str:
    return "\n".join(
        f"[{n}]\n"
        + "\n".join(f"x{i} = {num(x)}\ny{i} = {num(y)}" for i, (x, y) in enumerate(r))
        + "\n"
        for n, r in rings.items()
    )


@entered()
def dotted_columns(rings: Rings) -> str:
    lines = []
    for i, (name, ring) in enumerate(rings.items()):
        xs, ys = (",".join(num(point[k]) for point in ring) for k in (0, 1))
        lines += [f"room.{i}.name={name}", f"room.{i}.x={xs}", f"room.{i}.y={ys}"]
    return "\n".join(lines)


@entered()
def a_row_of_all_corners(rings: Rings) -> str:
    most = max(map(len, rings.values()))
    lines = [",".join(["name", *(f"{axis}{i}" for i in range(most) for axis in "xy")])]
    for name, ring in rings.items():
        values = [num(v) for point in ring for v in point]
        lines.append(",".join([name, *values, *[""] * (2 * most - len(values))]))
    return "\n".join(lines)


@entered()
def columns_with_long_names(rings: Rings) -> str:
    head = "Zimmer;Ecke;x-Koordinate (mm);y-Koordinate (mm)\n"
    rows = _lines(rings, lambda n, i, x, y: f"{n};{i};{x};{y}".replace(".", ","))
    return head + rows


@entered()
def columns_with_units(rings: Rings) -> str:
    rows = _lines(rings, lambda n, i, x, y: f"{n}\t{x}\t{y}".replace(".", ","))
    return "room\tX_m\tY_m\n" + rows


@entered()
def columns_called_px(rings: Rings) -> str:
    return "label,px,py\n" + _lines(rings, lambda n, i, x, y: f"{n},{x},{y}")


@entered()
def columns_called_easting(rings: Rings) -> str:
    return "area,easting,northing\n" + _lines(rings, lambda n, i, x, y: f"{n},{x},{y}")


@entered()
def columns_after_a_time(rings: Rings) -> str:
    rows = _lines(rings, lambda n, i, x, y: f"2031-04-02T10:00:{i:02d},{n},{x},{y}")
    return "time,room,x,y\n" + rows


@entered()
def columns_with_spaces(rings: Rings) -> str:
    return "room,  x,   y\n" + _lines(rings, lambda n, i, x, y: f"{n}, {x}, {y}")


@entered()
def statements_of_points(rings: Rings) -> str:
    return "\n".join(
        "INSERT INTO corner (room, x, y) VALUES ('{}', {}, {});".format(n.replace("'", "''"), x, y)
        for n, _, x, y in _rows(rings)
    )


@entered()
def statements_of_rooms(rings: Rings) -> str:
    rooms = []
    for i, (name, ring) in enumerate(rings.items()):
        quoted, points = name.replace("'", "''"), pairs([*ring, ring[0]], " ", ",")
        rooms.append(f"INSERT INTO room VALUES ({i}, '{quoted}', 'POLYGON(({points}))');")
    return "\n".join(rooms)


@entered()
def well_known_text_after_a_number(rings: Rings) -> str:
    rooms = rings.items()
    return "\n".join(f"{n};SRID=0;POLYGON(({pairs([*r, r[0]], ' ', ',')}))" for n, r in rooms)


@entered()
def a_line_for_all(rings: Rings) -> str:
    return " | ".join(f"{n}: {pairs(r, ' ', ', ')}" for n, r in rings.items())


@entered()
def quoted_keys_in_a_line(rings: Rings) -> str:
    return " ".join(f'"{n}"=[{pairs(r, " ", ", ")}]' for n, r in rings.items())


@entered()
def sentences(rings: Rings) -> str:
    lines = []
    for name, ring in rings.items():
        points = ", ".join(f"({num(x)}, {num(y)})" for x, y in ring)
        lines.append(f"The outline of {name} is {points}.\n")
    return "".join(lines)


@entered()
def numbered_names_before_a_bar(rings: Rings) -> str:
    rows = [
        f"{i}|{name}|{' '.join(f'{num(x)},{num(y)}' for x, y in ring)}|ok"
        for i, (name, ring) in enumerate(rings.items())
    ]
    return "\n".join([*rows, "99|attic|0,0 10"])


@entered()
def counted_headings_between_dashes(rings: Rings) -> str:
    blocks = []
    for i, (name, ring) in enumerate(rings.items(), 1):
        rows = [f"x={num(x)} y={num(y)}" for x, y in ring]
        blocks.append("\n".join([f"--- room {i}: {name} ({len(ring)} corners) ---", *rows, ""]))
    return "\n".join(blocks)


@entered()
def a_kind_before_each_name(rings: Rings) -> str:
    lines = [
        f"I (4{i:03d}) ROOM: {name} n={len(ring)} pts: "
        + " ".join(f"[{num(x)}|{num(y)}]" for x, y in ring)
        for i, (name, ring) in enumerate(rings.items())
    ]
    lines.append("I (5000) NOGO: zone1 n=4 pts: [0|0] [400|0] [400|300] [0|300]")
    return "\n".join([*lines, "I (5001) WALL: w1 n=2 pts: [0|0] [400|0]"])
