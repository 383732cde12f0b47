"""Names apart, behind and below the outlines; drawings, elements, prose."""

from __future__ import annotations

import html
import json

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, px, stamp, walk

__all__: list[str] = []


@captured("A")
def names_by_id(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "names": {str(3 + i): n for i, n in enumerate(rooms)},
        "segments": {str(3 + i): plain(r) for i, r in enumerate(rooms.values())},
        "order": [3, 5, 4],
        "blocked": [box(rooms, rng)],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def names_in_pairs_after(rooms: Rooms, rng: Generator) -> Written:
    flat = [[v for point in plain(r) for v in point] for r in rooms.values()]
    rings = [{"i": 3 + i, "p": values} for i, values in enumerate(flat)]
    a = f"{stamp(1)} rsp get_plan {json.dumps({'s': rings})}"
    b = (
        f"{stamp(2)} rsp get_labels "
        f"{json.dumps([[3 + i, n, 0] for i, n in enumerate(rooms)], ensure_ascii=False)}"
    )
    return a + "\n" + b


@captured("A")
def names_table_objects(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "shapes": [{"zoneId": f"z{i}", "coords": plain(r)} for i, r in enumerate(rooms.values())],
        "meta": [{"zoneId": f"z{i}", "displayName": n, "icon": 3} for i, n in enumerate(rooms)],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def name_after_in_meta(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "plan": [
            {"poly": plain(r), "meta": {"title": n, "floor": "wood", "created": stamp(i)}}
            for i, (n, r) in enumerate(rooms.items())
        ]
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def name_after_as_comment(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        " ".join(f"{num(x)},{num(y)}" for x, y in r) + f"  # {n}" for n, r in rooms.items()
    )


@captured("A")
def name_after_in_row(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        " ".join(f"{num(x)};{num(y)}" for x, y in r) + f"\t{n}\t{12 + i}"
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("A")
def mm_and_px(rooms: Rooms, rng: Generator) -> Written:
    d = [{"name": n, "outline_px": px(r), "outline_mm": plain(r)} for n, r in rooms.items()]
    return json.dumps({"rooms": d}, ensure_ascii=False)


@captured("A")
def px_list_after(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "scale": 0.02,
        "world": [{"name": n, "pts": plain(r)} for n, r in rooms.items()],
        "screen": [{"name": n, "pts": px(r)} for n, r in rooms.items()],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def picture_polygons(rooms: Rooms, rng: Generator) -> Written:
    out = ['<svg viewBox="0 0 900 700">']
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f'<g id="g{i}"><title>{n}</title><polygon fill="#ffe0{i:02x}" stroke-width="2" points="'
            + " ".join(f"{num(x)},{num(y)}" for x, y in r)
            + '"/></g>'
        )
    out.append(
        '<polyline points="'
        + " ".join(f"{x},{y}" for x, y in walk(rooms, rng))
        + '"/><circle cx="10" cy="20" r="40"/></svg>'
    )
    return "\n".join(out)


@captured("A")
def picture_paths(rooms: Rooms, rng: Generator) -> Written:
    out = ["<svg>"]
    for n, r in rooms.items():
        d = "M " + " L ".join(f"{num(x)} {num(y)}" for x, y in r) + " Z"
        out.append(f'<path d="{d}" data-name="{html.escape(n)}" style="opacity:0.5"/>')
    return "".join(out) + "</svg>"


@captured("A")
def pos_lists(rooms: Rooms, rng: Generator) -> Written:
    out = ['<?xml version="1.0" encoding="UTF-8"?>', '<floor xmlns:g="http://example.org/geo/3.2">']
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f'<member><Space g:id="sp.{i}"><label>{n}</label><g:exterior><g:posList srsDimen'
            'sion="2">'
            + " ".join(f"{num(x)} {num(y)}" for x, y in [*r, r[0]])
            + "</g:posList></g:exterior></Space></member>"
        )
    return "\n".join(out) + "</floor>"


@captured("A")
def placemarks(rooms: Rooms, rng: Generator) -> Written:
    out = ["<doc>"]
    for n, r in rooms.items():
        out.append(
            f"<mark><name>{n}</name><ring><coordinates>\n"
            + "\n".join(f"  {num(x)},{num(y)},0" for x, y in [*r, r[0]])
            + "\n</coordinates></ring></mark>"
        )
    return "\n".join(out) + "</doc>"


@captured("A")
def german_elements(rooms: Rooms, rng: Generator) -> Written:
    out = ["<Grundriss stand='2032-09-01'>"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"<Raum><Kennung>{i}</Kennung><Bezeichnung>{n}</Bezeichnung><Umriss>"
            + "".join(f"<Ecke><Rechts>{num(x)}</Rechts><Hoch>{num(y)}</Hoch></Ecke>" for x, y in r)
            + "</Umriss></Raum>"
        )
    b = box(rooms, rng)
    out.append(
        "<Sperrbereich><Umriss>"
        + "".join(f"<Ecke><Rechts>{x}</Rechts><Hoch>{y}</Hoch></Ecke>" for x, y in b)
        + "</Umriss></Sperrbereich></Grundriss>"
    )
    return "\n".join(out)


@captured("A")
def prose(rooms: Rooms, rng: Generator) -> Written:
    out = ["Hi both, I measured on 3 Sept 2032 between 14:05 and 16:30, in millimetres.", ""]
    for n, r in rooms.items():
        pts = [f"({num(x)}, {num(y)})" for x, y in r]
        out.append(
            f"{n} runs from {pts[0]} to " + ", then ".join(pts[1:-1]) + f" and finally {pts[-1]}."
        )
    out += ["", "Call me on 0555 0102 33 if unclear. Version 1.2.3 of the sheet follows."]
    return "\n".join(out)
