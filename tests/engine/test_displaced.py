"""Walls that the picture shows elsewhere: drawn floors of which a part was moved by a known way."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import synthetic
from regmap.engine.displaced import (
    Laid,
    displaced_walls,
    lay_walls,
    rooms_beside,
    shifted_part,
)
from regmap.engine.edges import find_edges
from regmap.engine.walls import build_walls
from regmap.register import quietly
from regmap.registration import Registration

Floats = NDArray[np.float64]
Rooms = dict[str, tuple[Floats, ...]]
Boxes = list[tuple[int, int, int, int, tuple[int, int, int]]]

GREEN, RED = (150, 200, 160), (210, 160, 150)


def laid_on(image: NDArray[np.uint8], rings: list[NDArray[Any]]) -> Laid:
    """Rooms of corners in px, rows counted upward, laid on a picture of them."""
    walls = build_walls([(ring.astype(float),) for ring in rings])
    flip = np.diag([1.0, -1.0])
    pose = np.column_stack([flip @ walls.linear, flip @ walls.origin])
    return lay_walls(pose, np.zeros(2), walls, find_edges(image, 1.0))


def two_rooms(*, outlined: int, drawn: int) -> Laid:
    """Two rooms side by side; columns at which the first is outlined and drawn to begin."""
    image = np.full((240, 360, 3), 255, np.uint8)
    image[40:200, drawn:180], image[40:200, 180:320] = GREEN, RED
    return laid_on(image, [box(outlined, 40, 180, 200), box(180, 40, 320, 200)])


def row_of_four() -> tuple[NDArray[np.uint8], list[NDArray[np.int64]], list[int]]:
    """An empty picture, and the rings of four rooms in a row, 80 px wide each, 30 apart, and where
    they begin."""
    lefts = [50, 160, 270, 380]
    return np.full((300, 540, 3), 255, np.uint8), [box(x, 60, x + 80, 240) for x in lefts], lefts


def box(left: int, top: int, right: int, bottom: int) -> NDArray[np.int64]:
    return np.array([[left, -top], [right, -top], [right, -bottom], [left, -bottom]])


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
    """The one between bath and pantry, 450 mm."""
    sample = synthetic.sample("flat", 4)
    moved = {name: (rings[0].copy(), *rings[1:]) for name, rings in sample.outlines.items()}
    middle = {name: ring[:, 0].mean() for name, (ring, *_) in moved.items()}
    moved["bath"][0][moved["bath"][0][:, 0] > middle["bath"], 0] += 450.0
    moved["pantry"][0][moved["pantry"][0][:, 0] < middle["pantry"], 0] += 450.0
    fit = answer(sample, moved)
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
    laid = two_rooms(outlined=50, drawn=40)
    moved = displaced_walls(laid)
    far = moved[np.isfinite(moved)]
    assert len(far) == 1
    assert far[0] == pytest.approx(10.0, abs=1.0)
    assert rooms_beside(moved, laid.walls).tolist() == [True, False]


def moved_walls(
    drawn: Boxes, outlined: list[tuple[int, int, int, int]], size: tuple[int, int] = (360, 240)
) -> dict[tuple[int, int, str], float]:
    """(number of the room, place, "x" or "y") of walls that stand elsewhere -> by how many px.

    Boxes (left, top, right, bottom) px are drawn one upon the other; outlines are of such too.
    """
    image = np.full((size[1], size[0], 3), 255, np.uint8)
    for left, top, right, bottom, colour in drawn:
        image[top:bottom, left:right] = colour
    laid = laid_on(image, [box(*room) for room in outlined])
    moved, walls, pose = displaced_walls(laid), laid.walls, laid.pose
    found = {}
    for start, end, room, bend in zip(walls.start, walls.end, walls.room, walls.bend, strict=True):
        if np.isfinite(moved[bend]):
            first, last = (pose[:, :2] @ point + pose[:, 2] for point in (start, end))
            axis = int(np.abs(last - first).argmin())
            found[int(room), round(float(first[axis])), "xy"[axis]] = float(moved[bend])
    return found


@pytest.mark.parametrize("size", [1, 4])
@pytest.mark.parametrize("by", [-12, -10, -7, 7, 10, 12])
def test_a_wall_beside_is_told_with_its_distance(by: int, size: int) -> None:
    """It is looked for within 4 % of the floor's diagonal: 12.5 px here, or 50."""
    drawn = [(40, 40, 180, 200, GREEN), (180, 40, 320, 200, RED)]
    outlined = [(40 - by, 40, 180, 200), (180, 40, 320, 200)]
    found = moved_walls(
        [(size * a, size * b, size * c, size * d, colour) for a, b, c, d, colour in drawn],
        [(size * a, size * b, size * c, size * d) for a, b, c, d in outlined],
        (size * 360, size * 240),
    )
    assert found == {(0, size * (40 - by), "x"): pytest.approx(-size * by, abs=1.0)}


@pytest.mark.parametrize("by", [-17, 0, 1, 2, 17])
def test_a_wall_in_its_place_or_far_from_it_is_not_told(by: int) -> None:
    drawn = [(40, 40, 180, 200, GREEN), (180, 40, 320, 200, RED)]
    assert moved_walls(drawn, [(40 - by, 40, 180, 200), (180, 40, 320, 200)]) == {}


def test_a_line_that_is_of_another_outline_is_no_wall_beside() -> None:
    """The green room ends where it is drawn, and its outline ends where the red one's begins."""
    drawn = [(40, 40, 180, 200, GREEN), (180, 40, 320, 200, RED)]
    assert moved_walls(drawn, [(40, 40, 170, 200), (180, 40, 320, 200)]) == {}
    assert moved_walls(drawn[:1], [(40, 40, 170, 200)]) == {(0, 170, "x"): pytest.approx(10, abs=1)}


@pytest.mark.parametrize(("apart", "told"), [(10, False), (20, False), (34, True)])
def test_lines_on_both_sides_of_a_wall_are_no_walls_beside(apart: int, told: bool) -> None:
    """A path goes along the wall on either side of it, unless what is between is no wall."""
    first, last = 180 - apart // 2, 180 + apart // 2
    drawn = [(40, 40, 320, 200, GREEN), (first - 9, 40, last + 9, 200, RED)]
    found = moved_walls(drawn, [(40, 40, first, 200), (last, 40, 320, 200)])
    wanted = {(0, first, "x"): -9.0, (1, last, "x"): -9.0} if told else {}
    assert found == {wall: pytest.approx(by, abs=1.0) for wall, by in wanted.items()}


def test_a_line_on_one_side_of_a_wall_is_a_wall_beside() -> None:
    drawn = [(40, 40, 171, 200, GREEN), (171, 40, 320, 200, RED)]
    found = moved_walls(drawn, [(40, 40, 180, 200), (184, 40, 320, 200)])
    assert (0, 180, "x") in found


@pytest.mark.parametrize(("grey", "told"), [(250, False), (246, False), (215, True), (190, True)])
def test_a_faint_line_beside_is_no_wall(grey: int, told: bool) -> None:
    """A border beside parts colours as the others do; their step is 100 grey levels here."""
    drawn = [(180, 40, 190, 200, (grey,) * 3), (40, 40, 180, 200, (155,) * 3)]
    found = moved_walls(drawn, [(40, 40, 200, 200)])
    assert bool(found) is told


@pytest.mark.parametrize(("shown", "told"), [(0.9, True), (0.5, False)])
def test_a_wall_that_the_picture_shows_a_part_of_is_not_told(shown: float, told: bool) -> None:
    drawn = [(40, 40, 180, 240, GREEN)]
    bottom = 40 + round(200 / shown)
    found = moved_walls(drawn, [(50, 40, 180, bottom)])
    assert ((0, 50, "x") in found) is told


@pytest.mark.parametrize(
    ("family", "seed", "by"),
    [
        *(("flat", 502, 22), ("dark", 504, 22), ("one-colour", 501, 22)),
        *(("flat", 533, -6), ("near-colours", 530, 8), ("dark", 538, -6), ("chrome", 533, 8)),
    ],
)
def test_a_picture_of_which_one_side_has_slid_is_doubted(family: str, seed: int, by: int) -> None:
    """Whole walls and pieces of others stand at one shift along the cut, far off or right beside
    where they should be: `by` px."""
    sample = synthetic.sample(family, seed)
    image = sample.image.copy()
    seen = sample.visible_px[:, 0]
    cut = int(seen.min() + 0.65 * np.ptp(seen))
    image[:, cut:] = np.roll(image[:, cut:], by, axis=0)
    assert quietly(sample.image, sample.outlines).confidence >= 0.9
    fit = quietly(image, sample.outlines)
    assert fit.confidence < 0.9
    assert any("part of the floor has moved" in reason for reason in fit.reasons)


@pytest.mark.parametrize("by", [-11, -8, 8, 11])
@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize(("moved", "sure"), [("room", 1.0), ("wall", 0.0), ("nothing", 0.0)])
def test_what_stands_at_one_shift_is_a_part_and_one_wall_is_none(
    moved: str, sure: float, axis: int, by: int
) -> None:
    """Four rooms in a row, 80 px each, 30 apart; the third is drawn `by` px off its outline."""
    image, rings, lefts = row_of_four()
    for number, colour in enumerate([GREEN, RED, GREEN, RED]):
        left = lefts[number]
        # One wall: of the two that face along the shift, the first alone.
        off = by if number == 2 and moved != "nothing" else 0
        first, last = off, off * (moved == "room")
        if axis == 0:
            image[60:240, left + first : left + 80 + last] = colour
        else:
            image[60 + first : 240 + last, left : left + 80] = colour
    laid = laid_on(image, rings)
    part = shifted_part(laid)
    assert part.sure == pytest.approx(sure)
    if sure:
        linear = laid.pose[:, :2]
        direction = linear / np.hypot(*linear)
        along = direction[axis, np.abs(direction[axis]).argmax()]
        # Edges are looked up in cells of 2 px.
        assert part.by_px * np.sign(along) == pytest.approx(by, abs=2.0)
        assert part.rooms.tolist() == [False, False, True, False]


@pytest.mark.parametrize("by", [-9, 9])
@pytest.mark.parametrize(("rooms", "sure"), [(1, 0.0), (3, 0.3)])
def test_a_whole_side_of_the_house_moves_less_easily_than_a_room(
    rooms: int, sure: float, by: int
) -> None:
    """The upper outer wall of some of four rooms in a row stands elsewhere, and no other wall."""
    image, rings, lefts = row_of_four()
    for number, colour in enumerate([GREEN, RED, GREEN, RED]):
        top = 60 + by * (number < rooms)
        image[top:240, lefts[number] : lefts[number] + 80] = colour
    assert shifted_part(laid_on(image, rings)).sure == pytest.approx(sure)


def test_a_path_along_the_walls_of_a_room_that_is_not_drawn_is_no_shift() -> None:
    """Four rooms in a row; in place of the walls of the third is nothing but a driven path."""
    image, rings, lefts = row_of_four()
    for number, colour in enumerate([GREEN, RED, None, RED]):
        left = lefts[number]
        if colour is not None:
            image[60:240, left : left + 80] = colour
        else:
            cv2.rectangle(image, (left + 11, 71), (left + 69, 229), (90, 90, 90), 3)
    laid = laid_on(image, rings)
    part = shifted_part(laid)
    assert part.sure == 0.0


@pytest.mark.parametrize(("drawn", "sure"), [("moved", 1.0), ("side", 0.0)])
def test_a_room_of_which_the_picture_shows_no_other_wall_has_not_moved(
    drawn: str, sure: float
) -> None:
    """Two walls of the third room stand 9 px aside; the other two where they should, or nowhere."""
    image, rings, lefts = row_of_four()
    for number, colour in enumerate([GREEN, RED, GREEN, RED]):
        left = lefts[number]
        if number == 2 and drawn == "side":
            for wall in (left + 9, left + 89):
                image[60:240, wall : wall + 12] = colour
        else:
            off = 9 if number == 2 else 0
            image[60:240, left + off : left + off + 80] = colour
    laid = laid_on(image, rings)
    part = shifted_part(laid)
    assert part.sure == pytest.approx(sure)


@pytest.mark.parametrize("thick", [9, 14])
def test_a_wall_is_not_where_the_far_face_of_its_own_is(thick: int) -> None:
    """A room is drawn shorter, and its outline lies on the far side of its thick wall: an edge, but
    none that ends the room."""
    image, rings, lefts = row_of_four()
    for number, colour in enumerate([GREEN, RED, GREEN, RED]):
        left, right = lefts[number], lefts[number] + 80
        image[60:240, left:right] = colour
        if number == 3:
            image[60:240, right - thick : right] = (60, 60, 70)
    laid = laid_on(image, rings)
    assert not np.isfinite(displaced_walls(laid)).any()
    far = int(np.argmax(laid.point[:, 0]))
    last = np.arange(int(laid.walls.bend.max()) + 1) == laid.walls.bend[laid.samples.wall[far]]
    without = lay_walls(laid.pose, laid.offset, laid.walls, laid.edges, last)
    moved = displaced_walls(without)
    assert np.isfinite(moved).tolist() == last.tolist()
    assert moved[last].item() == pytest.approx(-thick, abs=2.0)
