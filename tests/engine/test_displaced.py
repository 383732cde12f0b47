"""Walls that the picture shows elsewhere: drawn floors of which a part was moved by a known way."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import synthetic
from regmap.engine import confidence
from regmap.engine.displaced import displaced_walls, rooms_beside
from regmap.engine.edges import find_edges
from regmap.engine.walls import build_walls
from regmap.register import quietly
from regmap.registration import Registration

Floats = NDArray[np.float64]
Rooms = dict[str, tuple[Floats, ...]]


def answer(sample: synthetic.Sample, outlines: Rooms) -> Registration:
    return quietly(sample.image, outlines)


def moved_beyond(
    sample: synthetic.Sample, share: float, by_mm: float
) -> dict[str, tuple[Floats, ...]]:
    """The outlines, of which all corners beyond a share of the floor's width stand `by_mm` off."""
    every = np.concatenate([ring for rings in sample.outlines.values() for ring in rings])
    low, high = every[:, 0].min(), every[:, 0].max()
    limit = low + share * (high - low)

    def move(ring: Floats) -> Floats:
        shifted = ring.copy()
        shifted[ring[:, 0] > limit, 0] += by_mm
        return shifted

    return {name: tuple(map(move, rings)) for name, rings in sample.outlines.items()}


@pytest.mark.parametrize(
    ("seed", "share", "by_mm"), [(2, 0.55, 450), (2, 0.55, -300), (5, 0.4, 450)]
)
def test_a_floor_of_which_a_part_has_moved_is_doubted_and_rooms_are_named(
    seed: int, share: float, by_mm: float
) -> None:
    sample = synthetic.sample("flat", seed)
    whole = answer(sample, dict(sample.outlines))
    assert {room.state for room in whole.rooms} == {"agrees"}
    assert whole.confidence >= 0.9
    fit = answer(sample, moved_beyond(sample, share, by_mm))
    assert fit.confidence < 0.55
    named = [room.name for room in fit.rooms if room.state == "disagrees"]
    assert len(named) >= 3
    said = next(reason for reason in fit.reasons if "part of the floor has moved" in reason)
    assert all(name in said for name in named[:5])


def test_a_wall_that_was_moved_is_told_and_the_fit_is_believed() -> None:
    sample = synthetic.sample("flat", 4)
    fit = answer(sample, moved_beyond(sample, 0.4, 450.0))
    assert fit.confidence >= 0.9
    assert [room.name for room in fit.rooms if room.state == "disagrees"] == ["bath", "pantry"]
    assert any("bath, pantry" in reason and "moved since" in reason for reason in fit.reasons)


@pytest.mark.parametrize(("by", "believed"), [(0.0, True), (8.0, False)])
def test_a_floor_of_which_one_line_alone_is_in_its_place_is_doubted(
    by: float, believed: bool
) -> None:
    """Three rooms beside a fourth; all walls that run upright but the one between were moved."""
    image = np.full((420, 560, 3), 240, np.uint8)
    boxes = [(60, 40, 220, 130), (60, 130, 220, 240), (60, 240, 220, 380), (220, 40, 500, 380)]
    colours = [(150, 200, 160), (210, 160, 150), (150, 160, 210), (220, 210, 140)]
    outlines = {}
    for name, box, colour in zip("abcd", boxes, colours, strict=True):
        left, top, right, bottom = box
        image[top:bottom, left:right] = colour
        first, last = (edge - by * (edge != 220) for edge in (left, right))
        ring = np.array([[first, top], [last, top], [last, bottom], [first, bottom]])
        outlines[name] = (ring * [20.0, -20.0],)
    fit = quietly(image, outlines)
    assert (fit.confidence >= 0.9) is believed
    assert any("one line of the picture alone" in reason for reason in fit.reasons) is not believed


def test_walls_are_found_where_they_were_moved_to() -> None:
    """Two rooms side by side; the outline of one ends 10 px before its drawn wall."""
    image = np.full((240, 360, 3), 255, np.uint8)
    image[40:200, 40:180] = (150, 200, 160)
    image[40:200, 180:320] = (210, 160, 150)
    rings = [
        np.array([[left, -40.0], [right, -40.0], [right, -200.0], [left, -200.0]])
        for left, right in ((50.0, 180.0), (180.0, 320.0))
    ]
    walls = build_walls([(ring,) for ring in rings])
    flip = np.diag([1.0, -1.0])
    pose = np.column_stack([flip @ walls.linear, flip @ walls.origin])
    moved = displaced_walls(pose, np.zeros(2), walls, find_edges(image, 1.0))
    far = moved[np.isfinite(moved)]
    assert len(far) == 1
    assert far[0] == pytest.approx(10.0, abs=1.0)
    assert rooms_beside(moved, walls).tolist() == [True, False]


@pytest.mark.parametrize(
    ("beside", "rooms", "least", "most"),
    [(0, 9, 0.0, 0.0), (2, 4, 0.0, 0.0), (3, 9, 1.0, 1.0), (3, 100, 0.0, 0.0), (30, 100, 1.0, 1.0)],
)
def test_two_rooms_share_a_wall_and_three_do_not(
    beside: int, rooms: int, least: float, most: float
) -> None:
    assert least <= confidence.bent(beside, rooms) <= most
