"""Two robots' traffic in one capture: told apart where only a host or an address differs."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures_newest import EARLY, ELSEWHERE, LATE, Ring, listed, read

Rooms = dict[str, Ring]
HOSTS = ("kermit", "piggy")


def text_of(ring: Ring) -> str:
    return ";".join(f"{x},{y}" for x, y in ring)


def a_room_a_line(write: Callable[[str, str, str, Ring], str], *floors: Rooms) -> str:
    rows = [
        write(HOSTS[at], f"10.0.0.{5 + at}", name, ring)
        for at, rooms in enumerate(floors)
        for name, ring in rooms.items()
    ]
    return "\n".join(rows)


def whole(write: Callable[[str, str, Rooms], str], *floors: Rooms) -> str:
    return "\n".join(write(HOSTS[at], f"10.0.0.{5 + at}", rooms) for at, rooms in enumerate(floors))


def document(rooms: Rooms, **more: object) -> str:
    return json.dumps({**more, "rooms": listed(rooms)})


LINES: dict[str, Callable[[str, str, str, Ring], str]] = {
    "host key": lambda h, a, n, r: f'10:00:01 host={h} room name="{n}" ring={text_of(r)}',
    "port": lambda h, a, n, r: f'10:00:01 {a}:54321 -> 10.0.0.1:1883 room name="{n}" {r}',
    "system log": lambda h, a, n, r: f"Apr  2 10:00:01 {h} mapd[12]: room {n}: {text_of(r)}",
    "address first": lambda h, a, n, r: f"{a} room {n}: {text_of(r)}",
    "objects": lambda h, a, n, r: json.dumps({"source_addr": a, "room": n, "outline": r}),
    "topic": lambda h, a, n, r: f"home/{h}/map/rooms {json.dumps({'name': n, 'rim': r})}",
    "cells": lambda h, a, n, r: f"{a};{n};" + " ".join(f"{x} {y}" for x, y in r),
}
LISTS: dict[str, Callable[[str, str, Rooms], str]] = {
    "key": lambda h, a, rooms: document(rooms, host=a),
    "hardware address": lambda h, a, rooms: document(rooms, mac=f"aa:bb:cc:dd:ee:{len(h):02}"),
    "prefix": lambda h, a, rooms: f"2031-04-02 10:00:01 [{a}:8883] map {document(rooms)}",
    "way": lambda h, a, rooms: json.dumps({a: {"rooms": listed(rooms)}}),
    "headers": lambda h, a, rooms: f"GET /map HTTP/1.1\nHost: {a}\n\n{document(rooms)}\n",
    "topic": lambda h, a, rooms: f"lab/{h}/rooms {json.dumps(listed(rooms))}",
    "yaml": lambda h, a, rooms: (
        f"- host: {a}\n  rooms:\n"
        + "\n".join(f"    - name: {n}\n      rim: {json.dumps(r)}" for n, r in rooms.items())
    ),
}


@pytest.mark.parametrize("other", [LATE, ELSEWHERE], ids=["common names", "apart"])
@pytest.mark.parametrize("spelling", LINES)
def test_rooms_of_two_robots_are_not_mixed_line_by_line(spelling: str, other: Rooms) -> None:
    text = a_room_a_line(LINES[spelling], EARLY, other)
    with pytest.raises(OutlineError, match="come from a source each") as why:
        parse_outlines(text)
    key = HOSTS[1] if f"key={HOSTS[1]!r}" in str(why.value) else "10.0.0.6"
    found = parse_outlines(text, key=key)
    assert {n: p.area for n, p in found.items()} == {
        n: parse_outlines(document(other))[n].area for n in other
    }


@pytest.mark.parametrize("other", [LATE, ELSEWHERE], ids=["common names", "apart"])
@pytest.mark.parametrize("spelling", LISTS)
def test_rooms_of_two_robots_are_not_mixed_list_by_list(spelling: str, other: Rooms) -> None:
    with pytest.raises(OutlineError, match="come from a source each"):
        parse_outlines(whole(LISTS[spelling], EARLY, other))


@pytest.mark.parametrize("spelling", LINES)
def test_one_floor_that_two_hosts_tell_alike_is_one(spelling: str) -> None:
    assert read(a_room_a_line(LINES[spelling], EARLY, EARLY)) == EARLY


def test_an_address_of_whom_all_talk_to_tells_nothing() -> None:
    lines = [
        f"{at} 10.0.0.2 -> 10.0.0.5 {n}: {text_of(r)}"
        for at, rooms in enumerate((EARLY, LATE))
        for n, r in rooms.items()
    ]
    there = "\n".join(lines)
    back = there.replace("10.0.0.2 -> 10.0.0.5", "10.0.0.5 -> 10.0.0.2", len(EARLY))
    assert read(there) == read(back)


def test_a_version_of_four_numbers_that_all_have_is_no_robot() -> None:
    line = "fw=4.12.0.1 room={n} rim={r}"
    rows = [line.format(n=n, r=text_of(r)) for n, r in EARLY.items()]
    assert read("\n".join(rows)) == EARLY
