"""Captures put together at random: words, layouts, spellings of points, company, wrapping."""

from __future__ import annotations

import base64
import gzip
import html
import json
import pprint
import urllib.parse
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Ring, Rooms, box, num, plain, shrunk, stamp, two, walk

__all__ = ["draw"]

Thing = TypeVar("Thing")

_NAME = (
    "name", "label", "title", "caption", "roomName", "room_name", "displayName", "Bezeichnung",
    "naam", "nom", "nombre", "nome", "namn", "nazwa", "isim", "imie", "alias", "text", "n", "nm",
    "friendly_name", "lbl", "名称", "名前", "имя", "tag", "desc", "custom_name", "RoomTitle",
)  # fmt: skip
_RING = (
    "outline", "polygon", "points", "vertices", "corners", "boundary", "contour", "shape", "ring",
    "coords", "border", "perimeter", "Umriss", "Ecken", "hoekpunten", "sommets", "contorno",
    "puntos", "obrys", "hörn", "轮廓", "頂点", "контур", "geom", "g", "p", "poly", "verts", "walls",
    "area_points", "edge", "footprint", "limits",
)  # fmt: skip
_LIST = (
    "rooms", "segments", "areas", "Räume", "Zimmer", "kamers", "pieces", "habitaciones", "stanze",
    "rum", "pokoje", "房间", "部屋", "комнаты", "spaces", "regions", "cells", "parts",
    "floor_areas", "map_rooms", "roomList", "r", "items", "layout", "chambers",
)  # fmt: skip
_BAN = (
    "no_go", "forbidden", "restricted", "keepout", "Sperrzonen", "verboden", "zones_interdites",
    "prohibidas", "vietate", "förbjudet", "禁区", "進入禁止", "запреты", "exclusions", "blocked",
    "ng", "dontEnter", "mop_off", "carpets", "obstacles", "furniture", "virtual", "avoid_zones",
    "things", "x_areas", "limits_red",
)  # fmt: skip
_ID = ("id", "room_id", "segment", "nr", "idx", "number", "rid", "uid", "key", "no")
_KIND = (("type", "room", "zone"), ("kind", 1, 2), ("t", "R", "N"), ("cat", 0, 7))
_NAMES = (
    ("Küche", "Living room", "Bad", "Room 2", "Flur", "Séjour", "Büro 1.OG", "guest WC", "Room 10",
     "Kinderzimmer", "Diele", "office", "Abstellraum", "Zimmer 3"),
    ("Salon", "Chambre 1", "Chambre 2", "Cuisine", "Entrée", "W.C.", "Bureau", "Cellier", "Garage",
     "Buanderie", "Dressing", "Véranda", "Couloir", "Salle d'eau"),
    ("厨房", "客厅", "主卧", "次卧", "卫生间", "书房", "阳台", "走廊", "餐厅", "储物间", "儿童房",
     "玄关", "衣帽间", "洗衣房"),
    ("Master Bedroom", "Kitchen", "Hall", "Bathroom", "Dining Room", "Pantry", "Study", "Laundry",
     "Kid's Room", "Closet", "Foyer", "Den", "Mudroom", "Nursery"),
)  # fmt: skip

_POINTS: Mapping[str, Callable[[Ring], Any]] = {
    "pairs": plain,
    "closed": lambda ring: plain([*ring, ring[0]]),
    "objects": lambda ring: [{"x": x, "y": y} for x, y in ring],
    "capitals": lambda ring: [{"X": x, "Y": y} for x, y in ring],
    "flat": lambda ring: [value for point in plain(ring) for value in point],
    "semicolons": lambda ring: ";".join(f"{num(x)},{num(y)}" for x, y in ring),
    "spaces": lambda ring: " ".join(f"{num(x)},{num(y)}" for x, y in ring),
    "triples": lambda ring: [[x, y, 0] for x, y in ring],
    "texts": lambda ring: [f"{num(x)},{num(y)}" for x, y in ring],
}
_LAYOUTS = ("list", "list", "name last", "by number", "by name", "pairs", "nested", "kinds")
_WRITERS = ("json", "json", "indented", "repr", "pprint", "xml")
_WRAPPINGS = (
    "plain", "plain", "log", "quoted", "twice", "zlib", "file", "utf16", "crlf", "bom", "cut",
    "form", "older",
)  # fmt: skip


@dataclass(frozen=True)
class _Words:
    """The keys of one capture, and how it spells points."""

    name: str
    ring: str
    rooms: str
    number: str
    points: Callable[[Any], Any]


def draw(seed: int, rooms: Rooms) -> tuple[str | bytes, Rooms]:
    """Return a capture of rooms, and the rooms with the names that it gives them."""
    rng = np.random.default_rng([77, seed])
    rooms = dict(zip(_pick(rng, _NAMES), rooms.values(), strict=False))
    name, ring, kept, number = (_pick(rng, keys) for keys in (_NAME, _RING, _LIST, _ID))
    words = _Words(name, ring, kept, number, _POINTS[_pick(rng, list(_POINTS))])
    writer, layout = _pick(rng, _WRITERS), _pick(rng, _LAYOUTS)
    if writer == "xml" and layout in ("by name", "pairs"):
        layout = "list"  # no name of an element, or two nameless things in one
    body = _body(rng, rooms, words, layout)
    body |= _company(rng, rooms)
    if rng.uniform() < 0.3:
        body = dict(reversed(body.items()))
    text = _written(body, writer, ascii_=bool(rng.uniform() < 0.3))
    older = {n: shrunk(ring) for n, ring in rooms.items()}
    before = _written(_body(rng, older, words, layout, bans=0), writer, ascii_=False)
    return _wrapped(text, before, _pick(rng, _WRAPPINGS), writer, seed), rooms


def _pick(rng: Generator, things: Sequence[Thing]) -> Thing:
    return things[int(rng.integers(len(things)))]


def _body(
    rng: Generator, rooms: Rooms, words: _Words, layout: str, bans: int | None = None
) -> dict[str, Any]:
    """The rooms and some areas to keep out of, in one layout."""
    w, p = words, words.points
    count = int(rng.integers(0, 3)) if bans is None else bans
    keys = [_BAN[int(i)] for i in rng.permutation(len(_BAN))[:count]]
    rings = {key: [p(box(rooms, rng)) for _ in range(int(rng.integers(1, 4)))] for key in keys}
    banned: dict[str, Any] = {
        key: [{w.number: i, w.ring: ring} for i, ring in enumerate(several)]
        for key, several in rings.items()
    }
    items = list(enumerate(rooms.items()))
    if layout == "name last":
        return {
            w.rooms: [{w.ring: p(r), "color": i % 4, w.name: n} for i, (n, r) in items]
        } | banned
    if layout == "by number":
        return {w.rooms: {str(16 + i): {w.name: n, w.ring: p(r)} for i, (n, r) in items}} | banned
    if layout == "by name":
        return {w.rooms: {n: p(r) for n, r in rooms.items()}} | rings
    if layout == "pairs":
        return {w.rooms: [[n, p(r)] for n, r in rooms.items()]} | rings
    if layout == "nested":
        nested = [
            {"info": {w.number: i, w.name: n, "clean": True}, "geometry": {w.ring: p(r)}}
            for i, (n, r) in items
        ]
        return {w.rooms: nested} | {
            key: [{"geometry": {w.ring: ring}} for ring in several]
            for key, several in rings.items()
        }
    if layout == "kinds":
        key, own, other = _pick(rng, _KIND)
        rows = [{key: own, w.name: n, w.ring: p(r)} for n, r in rooms.items()]
        if bans is None:
            blank = rng.uniform() < 0.5
            rows += [
                {key: other, w.name: "" if blank else f"z{i}", w.ring: p(box(rooms, rng))}
                for i in range(2)
            ]
        return {w.rooms: [rows[int(i)] for i in rng.permutation(len(rows))]}
    return {w.rooms: [{w.number: i + 1, w.name: n, w.ring: p(r)} for i, (n, r) in items]} | banned


def _company(rng: Generator, rooms: Rooms) -> dict[str, Any]:
    """Some of what else such messages hold."""
    every: dict[str, Any] = {
        "version": "2.1.4",
        "ts": 1990000000,
        "battery": 77,
        "pose": {"x": 12, "y": -40, "theta": 1.2},
        "dock": [10, 20],
        "ip": "10.0.0.9",
        _pick(rng, ("path", "track", "trajet", "traj", "weg", "trace")): walk(rooms, rng, 30),
        _pick(rng, ("wall", "barrier", "line", "Wand")): [two(rooms, rng)],
        "scan": [12, 44, 31, 9],
    }
    keys = [list(every)[int(i)] for i in rng.permutation(len(every))[: int(rng.integers(0, 6))]]
    return {key: every[key] for key in keys}


def _written(body: dict[str, Any], writer: str, *, ascii_: bool) -> str:
    if writer == "xml":
        return '<?xml version="1.0"?>\n' + _xml("map", body)
    if writer == "repr":
        return repr(body)
    if writer == "pprint":
        return pprint.pformat(body, width=90, sort_dicts=False)
    return json.dumps(body, ensure_ascii=ascii_, indent=2 if writer == "indented" else None)


def _xml(key: str, value: Any) -> str:
    key = "".join(c if c.isalnum() or c == "_" else "_" for c in key)
    key = f"k{key}" if key[0].isdigit() else key
    if isinstance(value, dict):
        inner = "".join(_xml(below, content) for below, content in value.items())
    elif isinstance(value, list) and all(isinstance(one, int | float) for one in value):
        inner = " ".join(map(str, value))
    elif isinstance(value, list):
        inner = "".join(_xml("item", one) for one in value)
    else:
        inner = html.escape(str(value))
    return f"<{key}>{inner}</{key}>"


def _wrapped(text: str, before: str, way: str, writer: str, seed: int) -> str | bytes:
    """The text in a log, in other texts, packed, in some encoding, or with older ones before it."""
    in_lines = writer in ("indented", "pprint")
    packed = base64.b64encode(zlib.compress(text.encode())).decode()
    ways: dict[str, str | bytes] = {
        "quoted": f"{stamp(seed)} rx {json.dumps({'seq': seed, 'payload': text})}",
        "twice": json.dumps({"a": json.dumps({"b": text})}),
        "zlib": f"blob: {packed}\ncrc: 0x91ab\n",
        "file": gzip.compress(text.encode()),
        "utf16": text.encode("utf-16"),
        "crlf": text.replace("\n", "\r\n"),
        "bom": b"\xef\xbb\xbf" + text.encode(),
    }
    if not in_lines:
        ways["log"] = f"{stamp(seed)} DEBUG <- topic=a/b len={len(text)} {text}\n{stamp(seed)} ok\n"
    if writer in ("json", "repr"):
        ways["cut"] = f"{stamp(1)} {text}\n{stamp(2)} {text[: int(len(text) * 0.4)]}"
        ways["older"] = f"{stamp(1)} {before}\n{stamp(2)} {text}\n"
    if writer == "json":
        ways["form"] = f"x=1&payload={urllib.parse.quote(text)}&sig=aa81"
    return ways.get(way, text)
