"""Whatever rooms there are and however they are written down, the same rooms are read."""

from __future__ import annotations

import base64
import json
import pprint
import zlib
from collections.abc import Callable
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from regmap.errors import OutlineError
from regmap.inputs.captures import list_candidates, parse_outlines

Ring = list[list[float]]
Rooms = dict[str, Ring]


def _flat(ring: Ring) -> list[float]:
    return [value for point in ring for value in point]


def _number(value: float) -> str:
    return format(value, ".15g")


POINTS: dict[str, Callable[[Ring], Any]] = {
    "pairs": lambda ring: ring,
    "closed": lambda ring: [*map(list, ring), list(ring[0])],
    "flat": _flat,
    "objects": lambda ring: [{"x": x, "y": y} for x, y in ring],
    "columns": lambda ring: {"x": [x for x, _ in ring], "y": [y for _, y in ring]},
    "semicolons": lambda ring: ";".join(f"{_number(x)},{_number(y)}" for x, y in ring),
    "spaces": lambda ring: " ".join(f"{_number(x)},{_number(y)}" for x, y in ring),
    "commas": lambda ring: ", ".join(f"{_number(x)} {_number(y)}" for x, y in ring),
    "brackets": lambda ring: " ".join(f"({_number(x)}, {_number(y)})" for x, y in ring),
    "texts": lambda ring: [f"{_number(x)},{_number(y)}" for x, y in ring],
    "lists as texts": lambda ring: json.dumps(ring),
    "nested": lambda ring: [ring],
}

LAYOUTS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "list": lambda rooms: [{"id": 3, "name": n, "outline": r} for n, r in rooms.items()],
    "name last": lambda rooms: [{"outline": r, "clean": True, "name": n} for n, r in rooms.items()],
    "pairs": lambda rooms: [[n, r] for n, r in rooms.items()],
    "parallel": lambda rooms: {"names": list(rooms), "outlines": list(rooms.values())},
    "keyed": lambda rooms: {
        f"k{i}": {"title": n, "ring": r} for i, (n, r) in enumerate(rooms.items())
    },
}

WRITERS: dict[str, Callable[[Any], str]] = {
    "json": json.dumps,
    "letters as they are": lambda content: json.dumps(content, ensure_ascii=False),
    "indented": lambda content: json.dumps(content, indent=2),
    "python": repr,
    "pretty python": lambda content: pprint.pformat(content, width=70),
    "yaml": lambda content: str(yaml.safe_dump(content, allow_unicode=True, sort_keys=False)),
}

WRAPPERS: dict[str, Callable[[str], str | bytes]] = {
    "plain": lambda text: text,
    "bytes": lambda text: text.encode(),
    "wide": lambda text: text.encode("utf-16"),
    "quoted": lambda text: json.dumps({"seq": 7, "payload": text}),
    "quoted twice": lambda text: json.dumps({"payload": json.dumps({"data": text})}),
    "logged": lambda text: f"2031-04-02 10:00:00.123 [net] DEBUG rx {json.dumps(text)}\n",
    "packed": lambda text: f"rx {base64.b64encode(zlib.compress(text.encode())).decode()}",
}


NO_NAMES = frozenset(
    ("null", "none", "nil", "undefined", "nan", "true", "false", "yes", "no", "on", "off", "ok",
     "trace", "debug", "info", "notice", "warn", "warning", "error", "fatal")
)  # fmt: skip
"""Words that stand where there is no name, and those by which logs tell how grave a line is."""

BARRED = ("nogo", "noentry", "nomop", "keepout", "forbidden", "restricted", "sperr", "verboten")
"""What has such a word in its name is no room, but is to be kept out of."""


def _may_name(word: str) -> bool:
    folded = word.casefold()
    return folded not in NO_NAMES and not any(barred in folded for barred in BARRED)


@st.composite
def rooms_of_a_floor(draw: st.DrawFn) -> Rooms:
    """Rooms that do not lie on each other: boxes in a grid, some with a corner cut out."""
    count = draw(st.integers(1, 6))
    letters = st.characters(codec="utf-8", categories=("Lu", "Ll", "Lo"))
    words = st.text(letters, min_size=2, max_size=8).filter(_may_name)
    tails = st.sampled_from(["", " 2", " 17", " room", "/WC", " (oben)", " & co", "'s"])
    names = draw(st.lists(words, min_size=count, max_size=count, unique_by=str.casefold))
    step = draw(st.sampled_from([1.0, 0.001, 0.25]))
    rooms: Rooms = {}
    for i, name in enumerate(names):
        left, low = (draw(st.integers(-40, 40)) * 100 + 20000 * k for k in (i % 3, i // 3))
        width, height = (draw(st.integers(900, 9000)) for _ in range(2))
        ring = [
            [left, low],
            [left + width, low],
            [left + width, low + height],
            [left, low + height],
        ]
        if draw(st.booleans()):
            inner = [left + width // 3, low + height // 2]
            ring[3:] = [[inner[0], ring[3][1]], inner, [left, inner[1]]]
        scaled = [[round(x * step, 6), round(y * step, 6)] for x, y in ring]
        start = draw(st.integers(0, len(ring) - 1))
        rooms[name + draw(tails)] = scaled[start:] + scaled[:start]
    return rooms


KEYS = st.sampled_from(["rooms", "areas", "spaces", "Räume", "r"])
OTHERS = st.dictionaries(
    st.sampled_from(["battery", "version", "address", "time", "pose", "dock", "path", "no_go"]),
    st.nothing(),
    max_size=0,
) | st.fixed_dictionaries(
    {},
    optional={
        "battery": st.integers(0, 100),
        "version": st.just("1.12.0"),
        "address": st.just("192.168.1.17:8883"),
        "time": st.integers(10**9, 2 * 10**9),
        "pose": st.just({"x": 12, "y": -40, "theta": 1.5}),
        "dock": st.just([100, 20]),
        "path": st.just([[0, 0], [500, 40], [900, 300], [400, 800], [700, 100]]),
        "no_go": st.just([{"id": 1, "outline": [[1, 1], [9, 1], [9, 9], [1, 9]]}]),
        "barriers": st.just([[[0, 0], [500, 0]]]),
    },
)


@settings(max_examples=250, deadline=None, derandomize=True)
@given(rooms_of_a_floor(), st.data())
def test_rooms_come_back(rooms: Rooms, data: st.DataObject) -> None:
    points, layout, writer, wrapper = (
        data.draw(st.sampled_from(sorted(table)))
        for table in (POINTS, LAYOUTS, WRITERS, WRAPPERS)
    )  # fmt: skip
    content = data.draw(OTHERS) | {
        data.draw(KEYS): LAYOUTS[layout]({n: POINTS[points](ring) for n, ring in rooms.items()})
    }
    if data.draw(st.booleans()):
        content = {"map": content, "seq": 5}
    text = WRAPPERS[wrapper](WRITERS[writer](content))
    found = parse_outlines(text)
    read = {name: [list(p) for p in room.exterior.coords[:-1]] for name, room in found.items()}
    assert read == rooms, (points, layout, writer, wrapper, text)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.text(max_size=300) | st.binary(max_size=300))
def test_any_text_is_read_or_refused(text: str | bytes) -> None:
    found, refusal = {}, ""
    try:
        found = parse_outlines(text)
    except OutlineError as error:
        refusal = str(error)
    if not found:
        assert refusal
        return
    assert all(room.is_valid and room.area > 0 for room in found.values())
    assert {one.name for one in list_candidates(text) if one.chosen} == set(found)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_reading_twice_gives_the_same(layout: str) -> None:
    rooms = {"a b": [[0, 0], [9, 0], [9, 9]], "c": [[10, 0], [19, 0], [19, 9]]}
    text = json.dumps({"rooms": LAYOUTS[layout](rooms)})
    first, second = parse_outlines(text), parse_outlines(text)
    assert list(first) == list(second) == list(rooms)
    assert all(first[name].equals_exact(second[name], 0) for name in rooms)
