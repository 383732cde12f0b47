"""Spellings that are rare, or that mislead."""

from __future__ import annotations

import base64
import json
import zlib

from tests.corpus.base import Rings, entered, ints, num, pairs


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("'", "&apos;")


# --- columns and wrappers ---


@entered()
def columns_of_a_list(rings: Rings) -> str:
    columns = {
        "room": [n for n, r in rings.items() for _ in r],
        "x": [x for r in rings.values() for x, _ in r],
        "y": [y for r in rings.values() for _, y in r],
    }
    return json.dumps(columns)


@entered()
def columns_of_numbered_rows(rings: Rings) -> str:
    rows = [(n, x, y) for n, r in rings.items() for x, y in r]
    names = enumerate(["room", "x", "y"])
    return json.dumps({key: {str(i): row[j] for i, row in enumerate(rows)} for j, key in names})


@entered()
def rows_under_column_names(rings: Rings) -> str:
    rows = [[n, x, y] for n, r in rings.items() for x, y in r]
    return json.dumps({"columns": ["room", "x", "y"], "data": rows})


@entered()
def values_in_wrappers(rings: Rings) -> str:
    rooms = [
        {
            "name": {"value": n},
            "points": {"point": [{"x": {"value": x}, "y": {"value": y}} for x, y in r]},
        }
        for n, r in rings.items()
    ]
    return json.dumps({"rooms": {"room": rooms}})


@entered()
def values_with_types(rings: Rings) -> str:
    rooms = []
    for name, ring in rings.items():
        points = [{"L": [{"N": num(x)}, {"N": num(y)}]} for x, y in ring]
        rooms.append({"M": {"name": {"S": name}, "outline": {"L": points}}})
    return json.dumps({"L": rooms})


@entered()
def keys_and_values_in_turn(rings: Rings) -> str:
    rooms = ""
    for name, ring in rings.items():
        points = "".join(
            f"<array><real>{num(x)}</real><real>{num(y)}</real></array>" for x, y in ring
        )
        rooms += f"<dict><key>title</key><string>{_escaped(name)}</string>"
        rooms += f"<key>outline</key><array>{points}</array></dict>"
    head = '<?xml version="1.0"?><!DOCTYPE plist PUBLIC "-//X//DTD" "http://x/y.dtd">'
    return f"{head}<dict><key>rooms</key><array>{rooms}</array></dict>"


@entered()
def keys_that_say_nothing(rings: Rings) -> str:
    rooms = enumerate(rings.items())
    content = {
        f"{i:08x}-1111-2222-3333-444455556666": {"nm": n, "g": ints(r)} for i, (n, r) in rooms
    }
    return json.dumps({"r": content})


# --- drawings and languages ---


@entered()
def strokes_of_a_drawing(rings: Rings) -> str:
    shapes = ""
    for name, ring in rings.items():
        first, *rest = (f"{num(x)},{num(y)}" for x, y in ring)
        way = " ".join([f"M{first}", *(f"L{point}" for point in rest), "Z"])
        shapes += f'<path id="{_escaped(name)}" d="{way}"/>'
    return f"<svg>{shapes}</svg>"


@entered()
def strokes_with_spaces(rings: Rings) -> str:
    rooms = [{"name": n, "d": f"M {pairs(r, ' ', ' L ')} Z"} for n, r in rings.items()]
    return json.dumps(rooms)


@entered()
def tuples_a_line(rings: Rings) -> str:
    return "\n".join(repr((n, [(float(x), float(y)) for x, y in r])) for n, r in rings.items())


@entered()
def an_ordered_dictionary(rings: Rings) -> str:
    return f"OrderedDict({[(n, ints(r)) for n, r in rings.items()]!r})"


@entered()
def arrays_in_named_tuples(rings: Rings) -> str:
    rooms = enumerate(rings.items())
    areas = [
        f"Area(label={n!r}, ring=array({ints(r)!r}, dtype=int32), ident={i})" for i, (n, r) in rooms
    ]
    return f"[{', '.join(areas)}]"


@entered()
def polygons_in_angle_brackets(rings: Rings) -> str:
    rooms = [f"{n!r}: <POLYGON (({pairs([*r, r[0]], ' ', ', ')}))>" for n, r in rings.items()]
    return "{" + ", ".join(rooms) + "}"


@entered()
def assignments_to_subscripts(rings: Rings) -> str:
    lines = []
    for name, ring in rings.items():
        points = ", ".join(f"Vec2({num(x)}, {num(y)})" for x, y in ring)
        lines.append(f'rooms["{name}"] = {{ {points} }};')
    return "\n".join(lines)


@entered()
def packed_room_by_room(rings: Rings) -> str:
    lines = []
    for name, ring in rings.items():
        packed = base64.b64encode(zlib.compress(pairs(ring).encode())).decode()
        lines.append(f"10:00:00 room {json.dumps(name)} {packed}")
    return "\n".join(lines)


@entered()
def words_around_names(rings: Rings) -> str:
    entries = [
        f"<entry><msg>room {_escaped(n)}</msg><poly>{pairs(r, ',', ' ')}</poly></entry>"
        for n, r in rings.items()
    ]
    return f"<log>{''.join(entries)}</log>"


# --- what misleads ---


@entered()
def features_of_other_kinds(rings: Rings) -> str:
    shapes = [("room", n, ints(r)) for n, r in rings.items()]
    shapes += [("desk", "d", [[1, 1], [50, 1], [50, 70]])]
    shapes += [("forbidden", "f", [[1, 1], [500, 1], [500, 700]])]
    features = [
        {
            "type": "Feature",
            "properties": {"kind": kind, "title": name},
            "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
        }
        for kind, name, ring in shapes
    ]
    return json.dumps({"type": "FeatureCollection", "features": features})


@entered()
def objects_of_other_classes(rings: Rings) -> str:
    objects = [{"class": "room", "caption": n, "poly": pairs(r)} for n, r in rings.items()]
    objects.append({"class": "carpet", "caption": "red", "poly": "1,1;5,1;5,5;1,5"})
    return json.dumps({"objects": objects})


@entered()
def other_things_with_the_same_ids(rings: Rings) -> str:
    rooms = [{"id": i, "name": n, "shape": ints(r)} for i, (n, r) in enumerate(rings.items(), 1)]
    spots = [{"id": i, "shape": [[0, 0], [100, 0], [100, 100]]} for i in (1, 2)]
    return json.dumps({"rooms": rooms, "hotspots": spots})


@entered()
def an_update_under_another_key(rings: Rings) -> str:
    first = next(iter(rings))
    old = dict(rings) | {first: [(x + 5, y - 5) for x, y in rings[first]]}
    rooms = [{"name": n, "outline": ints(r)} for n, r in old.items()]
    update = {"event": "edited", "room": first, "shape": ints(rings[first])}
    return json.dumps({"rooms": rooms}) + "\n" + json.dumps(update)


@entered()
def a_room_added_later(rings: Rings) -> str:
    *others, last = rings
    rooms = [{"name": n, "outline": ints(rings[n])} for n in others]
    added = {"room_added": {"name": last, "outline": ints(rings[last])}}
    return json.dumps({"rooms": rooms}) + "\n" + json.dumps(added)


@entered()
def areas_that_were_cleaned(rings: Rings) -> str:
    rooms = [{"name": n, "outline": ints(r)} for n, r in rings.items()]
    lines = [json.dumps({"rooms": rooms})]
    for name, ring in rings.items():
        area = [[x * 0.9, y * 0.9] for x, y in ring]
        lines.append(json.dumps({"event": "cleaned", "room": name, "area": area}))
    return "\n".join(lines)


@entered()
def places_and_doors_in_rooms(rings: Rings) -> str:
    rooms = [
        {
            "name": n,
            "outline": ints(r),
            "label": {"x": r[0][0] + 50, "y": r[0][1] + 50},
            "doors": [[0, 0], [0, 900]],
            "carpets": [[[1, 1], [2, 1], [2, 2]]],
        }
        for n, r in rings.items()
    ]
    return json.dumps({"rooms": rooms})


@entered()
def a_raster_and_colours(rings: Rings) -> str:
    rooms = [
        {
            "id": i,
            "name": n,
            "vertices": [{"x": x, "y": y, "z": 0.0} for x, y in r],
            "color": [255, i, 0],
        }
        for i, (n, r) in enumerate(rings.items())
    ]
    raster = {"size": [100, 80], "cells": [0, 1] * 300}
    return json.dumps({"floor": {"rooms": rooms, "raster": raster}})
