"""Outlines told step by step from a start, as boxes of a place and a size, or in other marks."""

from __future__ import annotations

import itertools
import json

import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines
from tests.test_captures import ROOMS, same

STEPS = {
    name: [(c - a, d - b) for (a, b), (c, d) in itertools.pairwise(ring)]
    for name, ring in ROOMS.items()
}
BOXES = {"kiln": (0, 0, 4000, 3000), "glaze": (4100, 0, 2800, 3000), "yard": (0, 3100, 6900, 2500)}
CORNERS = {
    name: [(x, y), (x + w, y), (x + w, y + h), (x, y + h)] for name, (x, y, w, h) in BOXES.items()
}


@pytest.mark.parametrize("keys", [("start", "steps"), ("first", "deltas"), ("from", "moves_mm")])
def test_steps_are_walked_from_the_start(keys: tuple[str, str]) -> None:
    start, steps = keys
    told = [{"name": n, start: r[0], steps: STEPS[n]} for n, r in ROOMS.items()]
    assert same(parse_outlines(json.dumps(told)), ROOMS)
    assert same(parse_outlines("\n".join(map(json.dumps, told))), ROOMS)


def test_steps_may_have_names_and_close() -> None:
    told = []
    for name, ring in ROOMS.items():
        back = (ring[0][0] - ring[-1][0], ring[0][1] - ring[-1][1])
        steps = [{"dy": dy, "dx": dx} for dx, dy in (*STEPS[name], back)]
        told.append({"name": name, "x": ring[0][0], "y": ring[0][1], "steps": steps})
    assert same(parse_outlines(json.dumps(told)), ROOMS)


def test_steps_without_a_start_are_no_places() -> None:
    with pytest.raises(OutlineError):
        parse_outlines(json.dumps([{"name": n, "steps": s} for n, s in STEPS.items()]))


@pytest.mark.parametrize("way", range(5))
def test_boxes_may_have_a_place_and_a_size(way: int) -> None:
    told = []
    for name, (x, y, w, h) in BOXES.items():
        middle = {"x": x + w / 2, "y": y + h / 2}
        box: list[dict[str, object]] = [
            {"x": x, "y": y, "width": w, "height": h},
            {"x": x, "y": y, "w": w, "h": h},
            {"x": x, "y": y, "width": w, "depth": h, "height": 2400},
            {"centre": middle, "size": {"width": w, "height": h}},
            {"cx": middle["x"], "cy": middle["y"], "size": [w, h]},
        ]
        told.append({"name": name, **box[way]})
    assert same(parse_outlines(json.dumps(told)), CORNERS)


def test_marks_in_a_picture_are_no_floor() -> None:
    apart = [{"name": f"mug {at}", "x": 90 * at, "y": 40 * at, "w": 9, "h": 7} for at in range(5)]
    lying = [{"name": f"mug {at}", "x": 9 * at, "y": 0, "w": 18, "h": 7} for at in range(5)]
    for marks in (apart, lying):
        with pytest.raises(OutlineError, match="no room outlines"):
            parse_outlines(json.dumps(marks))


def test_semicolons_stand_between_grouped_numbers() -> None:
    lines = [f"{n}: " + "  ".join(f"({x:,}; {y:,})" for x, y in r) for n, r in ROOMS.items()]
    assert same(parse_outlines("\n".join(lines)), ROOMS)


def test_marks_may_be_as_wide_as_chinese_signs() -> None:
    lines = [f"{n}：" + "，".join(f"（{x}，{y}）" for x, y in r) for n, r in ROOMS.items()]
    assert same(parse_outlines("\n".join(lines)), ROOMS)
