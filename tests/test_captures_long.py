"""Long texts: what they may take is bounded, and long lists are read as short ones are."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import figures, list_candidates, parse_outlines, reading
from regmap.inputs.captures.unpack import MAX_PARTS
from tests.test_captures import ROOMS, same

COUNT = 150


def ring(count: int, width: int = 80, left: int = 0) -> list[list[int]]:
    """Corners of a room with battlements along one side, in whole units."""
    steps = range(count // 2 - 1)
    top = [[left + width * (i + j), 3000 + width * (i % 2)] for i in steps for j in (0, 1)]
    return [*top, [top[-1][0], 0], [left, 0]]


def points(corners: list[list[int]], **more: object) -> list[dict[str, object]]:
    return [{"x": x, "y": y, **more} for x, y in corners]


HALL, BAY = ring(COUNT), ring(COUNT, 50, 9000)
ODD = points(HALL)
ODD[70]["door"] = True

LONG = {
    "named": [{"name": "hall", "rim": points(HALL)}, {"name": "bay", "rim": points(BAY)}],
    "by name": {"hall": points(HALL), "bay": points(BAY)},
    "lists": [points(HALL), points(BAY)],
    "beside short ones": {"path": points(HALL), "rooms": ROOMS},
    "a list that goes on": {"hall": [*points(HALL), {"x": -9000, "y": 0, "z": 1}]},
    "one that is marked": {"hall": ODD, "bay": points(BAY)},
    "numbers behind": {"hall": [*points(HALL), 5, 6]},
    "other keys": {"hall": points(HALL, a=0.5), "bay": points(BAY)},
    "corners by place": {
        "nodes": points(ring(COUNT) + BAY),
        "rooms": [{"name": "hall", "nodes": list(range(COUNT))}],
    },
}  # fmt: skip


@pytest.mark.parametrize("indent", [None, 2])
@pytest.mark.parametrize("kind", LONG)
def test_a_long_list_is_read_as_a_short_one_is(
    kind: str, indent: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where lists of points are taken in at once, the answer is that of taking in each point."""
    text = json.dumps(LONG[kind], indent=indent)
    at_once = list_candidates(text)
    monkeypatch.setattr(figures, "ALIKE", re.compile(r"(?!)"))
    one_by_one = list_candidates(text)
    assert len(at_once) == len(one_by_one) > 0
    for one, other in zip(at_once, one_by_one, strict=True):
        assert np.array_equal(one.points, other.points)
        assert (one.name, one.key, one.line) == (other.name, other.key, other.line)
        assert one.chosen == other.chosen


def test_a_long_list_costs_as_much_as_one_part() -> None:
    corners = ring(2_000)
    (found,) = list_candidates(json.dumps({"hall": points(corners)}), most_parts=100)
    assert np.array_equal(found.points, corners)


@pytest.mark.parametrize("cut", [0.3, 0.6, 0.97])
def test_a_long_list_that_is_cut_off_is_no_room(cut: float) -> None:
    text = json.dumps({"bay": points(BAY), "hall": points(HALL)})
    bay = len(json.dumps({"bay": points(BAY)}))
    assert list(parse_outlines(text[: bay + int(cut * (len(text) - bay))])) == ["bay"]


def test_lines_and_brackets_are_more_than_words() -> None:
    """A line is searched for outlines, a word is not: as many of them take a text further."""
    words, lines = "a, " * 2000 + "1", "a\n" * 2000 + "1"
    with pytest.raises(OutlineError, match="no room outlines"):
        parse_outlines(words, most_parts=7000)
    for text in (lines, "(a)" * 2000 + "1", "<a/>" * 2000 + "1"):
        with pytest.raises(OutlineError, match="more than 7000 parts"):
            parse_outlines(text, most_parts=7000)


def test_rows_of_tables_are_parts_too() -> None:
    rows = [f"{name};{x};{y}" for name, corners in ROOMS.items() for x, y in corners]
    text = "\n".join(["room;x;y", *rows])
    assert same(parse_outlines(text, most_parts=200), ROOMS)
    many = "\n".join(["t;x;y", *(f"{i};{i % 97};{i % 89}" for i in range(2000))])
    with pytest.raises(OutlineError, match="more than 2000 parts"):
        parse_outlines(many, most_parts=2000)


@pytest.mark.parametrize("unit", ["1\na\n", "(a)", "- 1\n", "<a/>", "1;2;3\n", "[1, "])
def test_a_text_of_tiny_parts_is_refused(unit: str) -> None:
    rooms = json.dumps({"rooms": ROOMS})
    with pytest.raises(OutlineError, match=r"more than 3000 parts; cut out .* most_parts="):
        parse_outlines(f"{rooms}\n" + unit * 3000, most_parts=3000)


def test_more_tiny_parts_than_the_default_allows() -> None:
    with pytest.raises(OutlineError, match=f"more than {MAX_PARTS} parts"):
        parse_outlines("(1)" * (MAX_PARTS // 4))


def test_lines_alone_may_be_too_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then nothing is done with any of them; empty ones do not count."""
    rooms = json.dumps({"rooms": ROOMS})
    assert same(parse_outlines(rooms + "\n" * 2000, most_parts=1000), ROOMS)
    monkeypatch.setattr(reading, "rewritten", None)
    monkeypatch.setattr(reading, "build", None)
    with pytest.raises(OutlineError, match="more than 1000 parts"):
        parse_outlines(rooms + "\n1" * 2000, most_parts=1000)
