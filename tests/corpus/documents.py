"""Spellings in other languages, tables, XML, and packed."""

from __future__ import annotations

import base64
import gzip
import json
import zlib

import numpy as np

from tests.corpus.base import NO_GO, WAY, Rings, entered, ints, num, pairs

# --- other languages ---------------------------------------------------------------------------


@entered()
def yaml_with_dashes_in_dashes(rings: Rings) -> str:
    lines = ["rooms:"]
    for name, ring in rings.items():
        lines += [f"- name: {name!r}" if "'" not in name else f'- name: "{name}"', "  outline:"]
        for x, y in ring:
            lines += [f"  - - {num(x)}", f"    - {num(y)}"]
    return "\n".join([*lines, "path:", "- - 1", "  - 2", "- - 3", "  - 4", "- - 5", "  - 7", ""])


@entered()
def yaml_with_keys(rings: Rings) -> str:
    lines = ["---", "floor: ground", "spaces:"]
    for name, ring in rings.items():
        lines += [f"    {name}:", f"        shape: {ints(ring)}", "        swept: yes"]
    return "\n".join(lines)


@entered()
def python_arrays(rings: Rings) -> str:
    return repr({name: np.array(ring, float) for name, ring in rings.items()})


@entered()
def python_numbers(rings: Rings) -> str:
    return repr({n: [(np.float64(x), np.float64(y)) for x, y in r] for n, r in rings.items()})


@entered()
def initialisers(rings: Rings) -> str:
    rows = [
        f'  {{"{n}", {{{", ".join(f"{{{num(x)}, {num(y)}}}" for x, y in r)}}}}},'
        for n, r in rings.items()
    ]
    return "\n".join(["static const Area areas[] = {", *rows, "};"])


@entered()
def tables_in_braces(rings: Rings) -> str:
    rows = [
        f'  {{ name = "{n}", ring = {{ {", ".join(f"{{{num(x)}, {num(y)}}}" for x, y in r)} }} }},'
        for n, r in rings.items()
    ]
    return "\n".join(["return {", *rows, "}"])


@entered()
def arrays_of_sections(rings: Rings) -> str:
    parts = [f'[[rooms]]\nname = "{n}"\noutline = {ints(r)}\n' for n, r in rings.items()]
    return 'title = "floor"\n\n' + "\n".join(parts) + f"\n[[blocked]]\noutline = {NO_GO}\n"


@entered()
def dotted_keys(rings: Rings) -> str:
    lines = ["unit=mm"]
    for i, (name, ring) in enumerate(rings.items()):
        lines += [f"room.{i}.name={name}", f"room.{i}.points={pairs(ring, ',', ' ')}"]
    return "\n".join(lines)


@entered()
def separate_lines(rings: Rings) -> str:
    return "\n\n".join(f"name: {n}\noutline: {pairs(r)}" for n, r in rings.items())


@entered()
def separate_lines_name_last(rings: Rings) -> str:
    return "\n\n".join(f"outline: {pairs(r, ' ', ', ')}\nname: {n}" for n, r in rings.items())


@entered()
def lines_with_units(rings: Rings) -> str:
    lines = []
    for name, ring in rings.items():
        lines.append(f"{name}:")
        lines += [f"  x={num(x)}mm y={num(y)}mm" for x, y in ring]
    return "\n".join(lines)


@entered()
def headings(rings: Rings) -> str:
    return "\n".join(
        f"## {n}\n\n" + "\n".join(f"- {num(x)}, {num(y)}" for x, y in r) + "\n"
        for n, r in rings.items()
    )


# --- tables ------------------------------------------------------------------------------------


@entered()
def a_table_without_header(rings: Rings) -> str:
    return "\n".join(f"{n};{num(x)};{num(y)}" for n, r in rings.items() for x, y in r)


@entered()
def a_table_with_id_and_name(rings: Rings) -> str:
    lines = ["id,name,seq,X,Y"]
    for number, (name, ring) in enumerate(rings.items()):
        lines += [f"{number},{name},{i},{num(x)},{num(y)}" for i, (x, y) in enumerate(ring)]
    return "\ufeff" + "\n".join(lines) + "\n"


@entered()
def a_row_a_room(rings: Rings) -> str:
    rows = [f'{i},"{n}","{pairs(r, " ", ";")}",{len(r)}' for i, (n, r) in enumerate(rings.items())]
    return "\n".join(["id,name,points,count", *rows])


@entered()
def a_row_a_room_in_well_known_text(rings: Rings) -> str:
    rows = [f'"{n}","POLYGON(({pairs([*r, r[0]], " ", ",")}))"' for n, r in rings.items()]
    return "\r\n".join(['"label","wkt"', *rows])


# --- XML ---------------------------------------------------------------------------------------


def _xml(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace("'", "&apos;")


@entered()
def placemarks(rings: Rings) -> str:
    marks = [
        f"<Placemark><name>{_xml(n)}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>\n"
        + "\n".join(f"  {num(x)},{num(y)},0" for x, y in [*r, r[0]])
        + "\n</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
        for n, r in rings.items()
    ]
    return '<?xml version="1.0"?>\n<Document>' + "\n".join(marks) + "</Document>"


@entered()
def drawn_polygons(rings: Rings) -> str:
    shapes = [f'<polygon id="{_xml(n)}" points="{pairs(r, ",", " ")}"/>' for n, r in rings.items()]
    return '<svg viewBox="0 0 100 100">' + "".join(shapes) + '<path d="M0 0"/></svg>'


@entered()
def lists_of_positions(rings: Rings) -> str:
    rooms = [
        f'<g:Room g:id="r{i}"><g:name>{_xml(n)}</g:name><g:shape><g:posList srsDimension="2">'
        f"{pairs(r, ' ', ' ')}</g:posList></g:shape></g:Room>"
        for i, (n, r) in enumerate(rings.items())
    ]
    return f'<g:Floor xmlns:g="urn:example:floor">{"".join(rooms)}</g:Floor>'


@entered()
def rows_of_a_page(rings: Rings) -> str:
    rows = [
        f"<tr><td>{_xml(n)}</td><td>{num(x)}</td><td>{num(y)}</td></tr>"
        for n, r in rings.items()
        for x, y in r
    ]
    return (
        "<html><body><table><tr><th>room</th><th>x</th><th>y</th></tr>"
        + "\n".join(rows)
        + "</table>"
    )


@entered()
def elements_named_after_rooms(rings: Rings) -> str:
    rooms = ""
    for name, ring in rings.items():
        points = "".join(f"<c>{num(x)};{num(y)}</c>" for x, y in ring)
        rooms += f"<room><caption><![CDATA[{name}]]></caption>{points}</room>"
    return f"<rooms>{rooms}</rooms><dock><c>1;2</c></dock>"


# --- packed ------------------------------------------------------------------------------------


def _inner(rings: Rings) -> bytes:
    rooms = [{"name": n, "outline": ints(r)} for n, r in rings.items()]
    return json.dumps({"rooms": rooms, "path": WAY}).encode()


@entered()
def plain_base64(rings: Rings) -> str:
    return f"10:00:00 rx data={base64.b64encode(_inner(rings)).decode()} len=7\n"


@entered()
def url_safe_base64(rings: Rings) -> str:
    return json.dumps(
        {"blob": base64.urlsafe_b64encode(zlib.compress(_inner(rings))).decode().rstrip("=")}
    )


@entered()
def wrapped_base64(rings: Rings) -> bytes:
    return base64.encodebytes(gzip.compress(_inner(rings), mtime=0))


@entered()
def packed_in_an_element(rings: Rings) -> str:
    packed = base64.b64encode(zlib.compress(str(placemarks(rings)).encode())).decode()
    return f'<message><id>5</id><body encoding="zlib">{packed}</body></message>'


@entered()
def a_packed_file(rings: Rings) -> bytes:
    return gzip.compress(_inner(rings), mtime=0)


@entered()
def wide_letters_without_mark(rings: Rings) -> bytes:
    return json.dumps({"rooms": {n: ints(r) for n, r in rings.items()}}, ensure_ascii=False).encode(
        "utf-16-be"
    )


@entered()
def a_mark_in_front(rings: Rings) -> bytes:
    lines = [f"{n} | {pairs(r, '/', ' ')}" for n, r in rings.items()]
    return "\r\n".join(lines).encode("utf-8-sig")
