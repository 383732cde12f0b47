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


# --- poses between -------------------------------------------------------------------------------


@pytest.mark.parametrize("word", ["pose", "TRACE pos", "odom"])
def test_poses_in_a_row_are_no_outline(word: str) -> None:
    lines = []
    for name, ring in ROOMS.items():
        x, y = ring[0]
        lines += [f"09:00 {word} {x + 40 * at} {y + at * at} {at}" for at in range(1, 5)]
        lines.append(f"09:01 cell '{name}' {' '.join(f'{x},{y}' for x, y in ring)}")
    assert same(parse_outlines("\n".join(lines)), ROOMS)


@pytest.mark.parametrize("pose", ["TRACE pose x=410 y=620", "TRACE pose 410 620"])
def test_a_pose_between_corners_is_no_corner(pose: str) -> None:
    lines = []
    for name, ring in ROOMS.items():
        lines.append(f"09:00:01 INFO begin {name}")
        for at, (x, y) in enumerate(ring):
            lines += [f"09:00:01 DEBUG corner {x} {y}", *[f"09:00:01 {pose}"] * (at in (0, 2))]
        lines.append(f"09:00:01 INFO end {name}")
    assert same(parse_outlines("\n".join(lines)), ROOMS)


def test_rooms_between_poses_are_rooms_whatever_their_corners_are_called() -> None:
    lines = []
    for at, (name, ring) in enumerate((ROOMS | ELSEWHERE).items()):
        rim = " ".join(f"x={x},y={y}" for x, y in ring)
        lines += [f'09:00 INFO room="{name}" id={at + 3} rim="{rim}"', "09:00 INFO battery 36 %"]
        lines += [f"09:01 TRACE pose x={90 * at} y={31 * at * at} a={at}"] * (at > 0)
    assert same(parse_outlines("\n".join(lines)), ROOMS | ELSEWHERE)


ELSEWHERE = {
    f"{name} {wing}": [[x + 20_000 * wing, y] for x, y in ring]
    for wing in (1, 2)
    for name, ring in ROOMS.items()
}
