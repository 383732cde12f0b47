"""Texts that hold outlines, in many spellings: the corpus that the tests of the readers go through.

The keys are made up. Each spelling takes {name: ring} and gives a text (or bytes) from which the very
same must be read; a spelling that cannot carry names in its text says what they become instead.
"""

from __future__ import annotations

import base64
import gzip
import json
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

__all__ = ["CORPUS", "FLOORS", "Case", "Rings"]

Rings = Mapping[str, list[tuple[float, float]]]


@dataclass(frozen=True)
class Case:
    """A spelling; `expected` gives names and rings where they differ from those written."""

    name: str
    write: Callable[[Rings], str | bytes]
    expected: Callable[[Rings], Rings]


CORPUS: list[Case] = []


def _entered(
    expected: Callable[[Rings], Rings] = lambda rings: rings,
) -> Callable[[Callable[[Rings], str | bytes]], Callable[[Rings], str | bytes]]:
    def enter(write: Callable[[Rings], str | bytes]) -> Callable[[Rings], str | bytes]:
        CORPUS.append(Case(write.__name__, write, expected))
        return write

    return enter


def _stairs() -> Rings:
    """Eleven rooms whose borders run along square cells, as a robot's grid has them."""
    rng = np.random.default_rng(5)
    rooms = {}
    for i in range(11):
        left, low = 25000 + 3000 * (i % 4), -18000 + 2500 * (i // 4)
        heights = 1500 + 50 * rng.integers(0, 12, 8)
        ring: list[tuple[float, float]] = [(left, low), (left + 8 * 350, low)]
        for k in range(7, -1, -1):
            ring += [(left + (k + 1) * 350, low + heights[k]), (left + k * 350, low + heights[k])]
        clean = [ring[0], ring[1]]
        for point in ring[2:]:
            if point != clean[-1]:
                clean.append((float(point[0]), float(point[1])))
        rooms[f"Room {i + 1}" if i % 3 else f"Zimmer {chr(65 + i)}"] = clean
    return rooms


FLOORS: dict[str, Rings] = {
    "three": {
        "Küche": [(0, 0), (4200, 0), (4200, 3100), (0, 3100)],
        "Bad": [(-2100, 0), (-100, 0), (-100, 1500), (-900, 1500), (-900, 3100), (-2100, 3100)],
        "Living room": [(0, 3200), (6400, 3200), (6400, 8000), (2500, 8000), (0, 6500)],
    },
    "six": {
        "Room 1": [(1000.5, 2000.25), (4000.5, 2000.25), (4000.5, 5000.75), (1000.5, 5000.75)],
        "Room 2": [(4100.5, 2000.25), (7000, 2000.25), (7000, 5000.75), (4100.5, 5000.75)],
        "Büro Süd": [(-3000, -2000), (900, -2000), (900, 1900), (-1000, 1900), (-3000, 500)],
        "WC": [(-3000, 600), (-1100, 2000), (-3000, 2000)],
        "Kids' room": [(1000, -2000), (7000, -2000), (7000, 1900), (1000, 1900)],
        "Flur/Diele": [(-3000, 2100), (900, 2100), (900, 5000), (-500, 5000), (-3000, 4000)],
    },
    "stairs": _stairs(),
}


def _ints(ring: list[tuple[float, float]]) -> list[list[float]]:
    return [[int(v) if float(v).is_integer() else float(v) for v in point] for point in ring]


def _g(value: float) -> str:
    return format(value, ".12g")


def _pairs(ring: list[tuple[float, float]], inner: str = ",", outer: str = ";") -> str:
    return outer.join(f"{_g(x)}{inner}{_g(y)}" for x, y in ring)


def _numbered(first: int = 1) -> Callable[[Rings], Rings]:
    return lambda rings: {str(i): ring for i, ring in enumerate(rings.values(), first)}


WAY = [[0, 0], [500, 40], [900, 300], [400, 800], [700, 100], [100, 900], [950, 950], [20, 400]]
NO_GO = [[100, 100], [700, 100], [700, 800], [100, 800]]


# --- JSON --------------------------------------------------------------------------------------


@_entered()
def keyed_rooms_with_an_outline_each(rings: Rings) -> str:
    rooms = {
        name: {
            "outline": _ints(ring),
            "colour": "#3fa9c2",
            "label_at": _ints(ring)[0],
            "tidy": True,
        }
        for name, ring in rings.items()
    }
    return json.dumps({"map": {"rooms": rooms, "doors": [[[0, 1], [0, 2]]], "trail": WAY}})


@_entered()
def keyed_rooms_at_the_top(rings: Rings) -> str:
    return json.dumps({name: _ints(ring) for name, ring in rings.items()} | {"path": WAY})


@_entered()
def keyed_texts(rings: Rings) -> str:
    return json.dumps({name: _pairs(ring) for name, ring in rings.items()}, ensure_ascii=False)


@_entered()
def texts_of_numbers_alone(rings: Rings) -> str:
    rooms = [{"name": n, "outline": _pairs(r, " ", " "), "wifi": "-61"} for n, r in rings.items()]
    return json.dumps({"rooms": rooms, "path": _pairs(NO_GO, " ", " ")})  # type: ignore[arg-type]


@_entered(_numbered(16))
def ids_only(rings: Rings) -> str:
    rooms = [{"id": i, "polygon": _ints(ring)} for i, ring in enumerate(rings.values(), 16)]
    return json.dumps(
        {"time": 1933145000123, "rooms": rooms, "zones": [{"id": 1, "polygon": NO_GO}]}
    )


@_entered()
def ids_here_and_names_there(rings: Rings) -> str:
    names = [{"id": i, "name": name} for i, name in enumerate(rings, 5)]
    shapes = [{"room_id": i, "polygon": _ints(ring)} for i, ring in enumerate(rings.values(), 5)]
    first = json.dumps({"event": "names", "rooms": names})
    return first + "\n" + json.dumps({"event": "shapes", "list": shapes}) + "\n"


@_entered()
def ids_as_keys_and_names_there(rings: Rings) -> str:
    names = {str(i): name for i, name in enumerate(rings, 1)}
    shapes = {str(i): _ints(ring) for i, ring in enumerate(rings.values(), 1)}
    return json.dumps({"room_names": names, "room_outlines": shapes, "path": WAY}, indent=2)


@_entered()
def in_german(rings: Rings) -> str:
    rooms = [{"umriss": _ints(r), "bezeichnung": n, "fläche": 12.5} for n, r in rings.items()]
    text = {"räume": rooms, "sperrzonen": [{"umriss": NO_GO}], "fahrweg": WAY}
    return json.dumps(text, ensure_ascii=False, indent=4)


@_entered()
def lists_of_name_and_ring(rings: Rings) -> str:
    return json.dumps([[name, _ints(ring)] for name, ring in rings.items()])


@_entered()
def lists_of_number_name_and_ring(rings: Rings) -> str:
    rows = [[i, name, "floor", _ints(ring)] for i, (name, ring) in enumerate(rings.items())]
    return json.dumps({"columns": ["id", "name", "kind", "shape"], "rows": rows})


@_entered()
def closed_rings(rings: Rings) -> str:
    rooms = [{"title": n, "ring": [*_ints(r), _ints(r)[0]]} for n, r in rings.items()]
    return json.dumps({"spaces": rooms}, separators=(",", ":"))


@_entered()
def coordinates_as_texts(rings: Rings) -> str:
    rooms = [
        {"name": n, "points": [{"x": _g(x), "y": _g(y)} for x, y in r]} for n, r in rings.items()
    ]
    return json.dumps({"result": {"rooms": rooms}, "code": 0})


@_entered()
def points_with_numbers_of_their_own(rings: Rings) -> str:
    rooms = [
        {"room": n, "points": [{"id": i, "x": x, "y": y, "z": 0} for i, (x, y) in enumerate(r)]}
        for n, r in rings.items()
    ]
    return json.dumps(rooms)


@_entered()
def points_with_heights(rings: Rings) -> str:
    rooms = [{"name": n, "outline": [[x, y, 0.0] for x, y in r]} for n, r in rings.items()]
    return json.dumps({"rooms": rooms}, indent=1)


@_entered()
def points_under_numbered_keys(rings: Rings) -> str:
    rooms = {n: {f"p{i}": p for i, p in enumerate(_ints(r))} for n, r in rings.items()}
    return json.dumps({"rooms": rooms})


@_entered()
def numbered_coordinates(rings: Rings) -> str:
    rooms = []
    for name, ring in rings.items():
        room: dict[str, object] = {"name": name}
        for i, (x, y) in enumerate(ring):
            room |= {f"x{i}": x, f"y{i}": y}
        rooms.append(room)
    return json.dumps({"rooms": rooms})


@_entered()
def rows_of_an_interface(rings: Rings) -> str:
    rows = [{"room": n, "x": x, "y": y} for n, r in rings.items() for x, y in r]
    return "\n".join(json.dumps(row) for row in rows)


@_entered()
def written_by_hand(rings: Rings) -> str:
    lines = ["// measured on site", "{", "  rooms: [", ""]
    for name, ring in rings.items():
        points = ", ".join(f"[{_g(x)}, {_g(y)}]" for x, y in ring)
        lines.append(f'    {{name: "{name}", outline: [{points},]}}, /* checked */')
    return "\n".join([*lines, "  ],", "}"])


@_entered()
def marked_as_forbidden(rings: Rings) -> str:
    areas = [{"name": n, "forbidden": False, "shape": _ints(r)} for n, r in rings.items()]
    areas.insert(1, {"name": "pond", "forbidden": True, "shape": NO_GO})
    return json.dumps({"areas": areas})


@_entered()
def rings_of_features(rings: Rings) -> str:
    features = [
        {"attributes": {"OBJECTID": i, "NAME": n}, "geometry": {"rings": [_ints(r)]}}
        for i, (n, r) in enumerate(rings.items())
    ]
    return json.dumps({"geometryType": "polygon", "wkid": 4326, "features": features})


# --- logs --------------------------------------------------------------------------------------


@_entered()
def a_log_with_history(rings: Rings) -> str:
    lines = []
    for day, grow in enumerate((0.8, 0.9, 1.0)):
        for i, (name, ring) in enumerate(rings.items()):
            middle = np.mean(ring, axis=0)
            now = (
                ring if grow == 1 else np.round(middle + grow * (np.array(ring) - middle)).tolist()
            )
            body = json.dumps({"n": name, "o": _pairs(now), "seq": 10 * day + i})
            lines.append(f"0{day + 1}.04.2031 10:00:{i:02d},120 room {body}")
            lines.append(
                f"0{day + 1}.04.2031 10:00:{i:02d},480 pose {{'x': {i}, 'y': 7, 'a': 0.1}}"
            )
    return "\n".join(lines)


@_entered()
def syslog_with_escaped_quotes(rings: Rings) -> str:
    body = json.dumps({"rooms": [{"name": n, "pts": _ints(r)} for n, r in rings.items()]})
    escaped = body.replace("\\", "\\\\").replace('"', '\\"')
    lines = [f"Apr  2 10:00:0{i} host agent[412]: alive, 192.168.4.{i}:1883" for i in range(4)]
    return "\n".join([*lines, f"Apr  2 10:00:05 host agent[412]: rx {escaped}", *lines])


@_entered()
def cut_lines_in_between(rings: Rings) -> str:
    good = [json.dumps({"room": {"name": n, "outline": _ints(r)}}) for n, r in rings.items()]
    lines = []
    for line in good:
        lines += [line[: len(line) * 2 // 3], line]
    return "\n".join([*lines, good[0][:60]])


@_entered()
def a_pretty_message_in_a_log(rings: Rings) -> str:
    body = json.dumps(
        {"rooms": [{"name": n, "edge": _ints(r)} for n, r in rings.items()]}, indent=2
    )
    return (
        f"2031-04-02T10:00:00Z INFO start\n2031-04-02T10:00:01Z INFO state:\n{body}\n"
        "2031-04-02T10:00:02Z INFO done (took 5 s)\n"
    )


@_entered()
def arrows_in_a_log(rings: Rings) -> str:
    lines = ["10:00:00 mapper: don't wait :("]
    for name, ring in rings.items():
        lines.append(f'10:00:01 mapper: "{name}" -> [{_pairs(ring, " ", ", ")}]')
    return "\n".join([*lines, "10:00:02 mapper: way -> [1 2, 3 4]"])


@_entered()
def braces_and_equals(rings: Rings) -> str:
    return "\n".join(
        f"[10:00:{i:02d}] Room{{id={i}, name={name}, outline=[{_pairs(ring, ', ', ', ')}]}}"
        for i, (name, ring) in enumerate(rings.items())
    )


@_entered()
def a_room_merged_with_another(rings: Rings) -> str:
    first, second, *_ = rings
    west = [(x - 1, y) for x, y in rings[first]]
    old = {n: _ints(r) for n, r in rings.items()} | {"Old corner": _ints(west)}
    del old[first]
    lines = [{"op": "rooms", "rooms": [{"name": n, "edge": r} for n, r in old.items()]}]
    lines.append(
        {"op": "rooms", "rooms": [{"name": n, "edge": _ints(r)} for n, r in rings.items()]}
    )
    return "\n".join(f"10:0{i}:00 {json.dumps(line)}" for i, line in enumerate(lines))


@_entered()
def a_room_renamed(rings: Rings) -> str:
    lines = [
        json.dumps({"id": i, "name": f"Room {90 + i}", "edge": _ints(r)})
        for i, r in enumerate(rings.values())
    ]
    lines += [
        json.dumps({"id": i, "name": n, "edge": _ints(r)}) for i, (n, r) in enumerate(rings.items())
    ]
    return "\n".join(lines)


@_entered()
def kinds_of_messages(rings: Rings) -> str:
    lines = [{"topic": "room", "label": n, "polygon": _pairs(r)} for n, r in rings.items()]
    lines.insert(1, {"topic": "no-go", "label": "stairs", "polygon": "9,9;700,9;700,800"})
    lines.append({"topic": "track", "label": "run 3", "polygon": "0,0;9,9;9,0;0,9;40,3"})
    return "\n".join(f"10:00 {json.dumps(line)}" for line in lines)


# --- other languages ---------------------------------------------------------------------------


@_entered()
def yaml_with_dashes_in_dashes(rings: Rings) -> str:
    lines = ["rooms:"]
    for name, ring in rings.items():
        lines += [f"- name: {name!r}" if "'" not in name else f'- name: "{name}"', "  outline:"]
        for x, y in ring:
            lines += [f"  - - {_g(x)}", f"    - {_g(y)}"]
    return "\n".join([*lines, "path:", "- - 1", "  - 2", "- - 3", "  - 4", "- - 5", "  - 7", ""])


@_entered()
def yaml_with_keys(rings: Rings) -> str:
    lines = ["---", "floor: ground", "spaces:"]
    for name, ring in rings.items():
        lines += [f"    {name}:", f"        shape: {_ints(ring)}", "        swept: yes"]
    return "\n".join(lines)


@_entered()
def python_arrays(rings: Rings) -> str:
    return repr({name: np.array(ring, float) for name, ring in rings.items()})


@_entered()
def python_numbers(rings: Rings) -> str:
    return repr({n: [(np.float64(x), np.float64(y)) for x, y in r] for n, r in rings.items()})


@_entered()
def initialisers(rings: Rings) -> str:
    rows = [
        f'  {{"{n}", {{{", ".join(f"{{{_g(x)}, {_g(y)}}}" for x, y in r)}}}}},'
        for n, r in rings.items()
    ]
    return "\n".join(["static const Area areas[] = {", *rows, "};"])


@_entered()
def tables_in_braces(rings: Rings) -> str:
    rows = [
        f'  {{ name = "{n}", ring = {{ {", ".join(f"{{{_g(x)}, {_g(y)}}}" for x, y in r)} }} }},'
        for n, r in rings.items()
    ]
    return "\n".join(["return {", *rows, "}"])


@_entered()
def arrays_of_sections(rings: Rings) -> str:
    parts = [f'[[rooms]]\nname = "{n}"\noutline = {_ints(r)}\n' for n, r in rings.items()]
    return 'title = "floor"\n\n' + "\n".join(parts) + f"\n[[blocked]]\noutline = {NO_GO}\n"


@_entered()
def dotted_keys(rings: Rings) -> str:
    lines = ["unit=mm"]
    for i, (name, ring) in enumerate(rings.items()):
        lines += [f"room.{i}.name={name}", f"room.{i}.points={_pairs(ring, ',', ' ')}"]
    return "\n".join(lines)


@_entered()
def separate_lines(rings: Rings) -> str:
    return "\n\n".join(f"name: {n}\noutline: {_pairs(r)}" for n, r in rings.items())


@_entered()
def separate_lines_name_last(rings: Rings) -> str:
    return "\n\n".join(f"outline: {_pairs(r, ' ', ', ')}\nname: {n}" for n, r in rings.items())


@_entered()
def lines_with_units(rings: Rings) -> str:
    lines = []
    for name, ring in rings.items():
        lines.append(f"{name}:")
        lines += [f"  x={_g(x)}mm y={_g(y)}mm" for x, y in ring]
    return "\n".join(lines)


@_entered()
def headings(rings: Rings) -> str:
    return "\n".join(
        f"## {n}\n\n" + "\n".join(f"- {_g(x)}, {_g(y)}" for x, y in r) + "\n"
        for n, r in rings.items()
    )


# --- tables ------------------------------------------------------------------------------------


@_entered()
def a_table_without_header(rings: Rings) -> str:
    return "\n".join(f"{n};{_g(x)};{_g(y)}" for n, r in rings.items() for x, y in r)


@_entered()
def a_table_with_id_and_name(rings: Rings) -> str:
    lines = ["id,name,seq,X,Y"]
    for number, (name, ring) in enumerate(rings.items()):
        lines += [f"{number},{name},{i},{_g(x)},{_g(y)}" for i, (x, y) in enumerate(ring)]
    return "\ufeff" + "\n".join(lines) + "\n"


@_entered()
def a_row_a_room(rings: Rings) -> str:
    rows = [f'{i},"{n}","{_pairs(r, " ", ";")}",{len(r)}' for i, (n, r) in enumerate(rings.items())]
    return "\n".join(["id,name,points,count", *rows])


@_entered()
def a_row_a_room_in_well_known_text(rings: Rings) -> str:
    rows = [f'"{n}","POLYGON(({_pairs([*r, r[0]], " ", ",")}))"' for n, r in rings.items()]
    return "\r\n".join(['"label","wkt"', *rows])


# --- XML ---------------------------------------------------------------------------------------


def _xml(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace("'", "&apos;")


@_entered()
def placemarks(rings: Rings) -> str:
    marks = [
        f"<Placemark><name>{_xml(n)}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>\n"
        + "\n".join(f"  {_g(x)},{_g(y)},0" for x, y in [*r, r[0]])
        + "\n</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
        for n, r in rings.items()
    ]
    return '<?xml version="1.0"?>\n<Document>' + "\n".join(marks) + "</Document>"


@_entered()
def drawn_polygons(rings: Rings) -> str:
    shapes = [f'<polygon id="{_xml(n)}" points="{_pairs(r, ",", " ")}"/>' for n, r in rings.items()]
    return '<svg viewBox="0 0 100 100">' + "".join(shapes) + '<path d="M0 0"/></svg>'


@_entered()
def lists_of_positions(rings: Rings) -> str:
    rooms = [
        f'<g:Room g:id="r{i}"><g:name>{_xml(n)}</g:name><g:shape><g:posList srsDimension="2">'
        f"{_pairs(r, ' ', ' ')}</g:posList></g:shape></g:Room>"
        for i, (n, r) in enumerate(rings.items())
    ]
    return f'<g:Floor xmlns:g="urn:example:floor">{"".join(rooms)}</g:Floor>'


@_entered()
def rows_of_a_page(rings: Rings) -> str:
    rows = [
        f"<tr><td>{_xml(n)}</td><td>{_g(x)}</td><td>{_g(y)}</td></tr>"
        for n, r in rings.items()
        for x, y in r
    ]
    return (
        "<html><body><table><tr><th>room</th><th>x</th><th>y</th></tr>"
        + "\n".join(rows)
        + "</table>"
    )


@_entered()
def elements_named_after_rooms(rings: Rings) -> str:
    rooms = [
        f"<room><caption><![CDATA[{n}]]></caption>{''.join(f'<c>{_g(x)};{_g(y)}</c>' for x, y in r)}</room>"
        for n, r in rings.items()
    ]
    return f"<rooms>{''.join(rooms)}</rooms><dock><c>1;2</c></dock>"


# --- packed ------------------------------------------------------------------------------------


def _inner(rings: Rings) -> bytes:
    rooms = [{"name": n, "outline": _ints(r)} for n, r in rings.items()]
    return json.dumps({"rooms": rooms, "path": WAY}).encode()


@_entered()
def plain_base64(rings: Rings) -> str:
    return f"10:00:00 rx data={base64.b64encode(_inner(rings)).decode()} len=7\n"


@_entered()
def url_safe_base64(rings: Rings) -> str:
    return json.dumps(
        {"blob": base64.urlsafe_b64encode(zlib.compress(_inner(rings))).decode().rstrip("=")}
    )


@_entered()
def wrapped_base64(rings: Rings) -> bytes:
    return base64.encodebytes(gzip.compress(_inner(rings), mtime=0))


@_entered()
def packed_in_an_element(rings: Rings) -> str:
    packed = base64.b64encode(zlib.compress(placemarks(rings).encode())).decode()  # type: ignore[union-attr]
    return f'<message><id>5</id><body encoding="zlib">{packed}</body></message>'


@_entered()
def a_packed_file(rings: Rings) -> bytes:
    return gzip.compress(_inner(rings), mtime=0)


@_entered()
def wide_letters_without_mark(rings: Rings) -> bytes:
    return json.dumps(
        {"rooms": {n: _ints(r) for n, r in rings.items()}}, ensure_ascii=False
    ).encode("utf-16-be")


@_entered()
def a_mark_in_front(rings: Rings) -> bytes:
    lines = [f"{n} | {_pairs(r, '/', ' ')}" for n, r in rings.items()]
    return "\r\n".join(lines).encode("utf-8-sig")
