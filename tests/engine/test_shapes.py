"""Rooms laid on regions of their shape: blobs without a straight side, moved by known poses."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import frames
from regmap.engine.segment import Region
from regmap.engine.shapes import match_shapes
from regmap.engine.walls import Walls, build_walls
from regmap.register import quietly

Floats = NDArray[np.float64]


def blob(seed: int, middle: tuple[float, float], size: float) -> Floats:
    """(90, 2) a ring about a middle, nowhere straight, of bumps that a seed tells."""
    chance = np.random.default_rng(seed)
    angle = np.arange(90) * (2.0 * np.pi / 90)
    radius = np.full(90, size)
    for waves in (2, 3, 4, 5):
        bump, phase = chance.uniform(0.04, 0.12), chance.uniform(0.0, 2.0 * np.pi)
        radius += size * bump * np.cos(waves * angle + phase)
    around = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.asarray(np.array(middle) + radius[:, None] * around)


LAWNS = [blob(1, (0.0, 0.0), 6.0), blob(2, (15.0, 4.0), 7.0), blob(3, (6.0, 17.0), 5.0)]


def seen_under(pose: Floats, rings: list[Floats]) -> list[Region]:
    """What a picture shows of rings under a pose (2, 3)."""
    regions = []
    for ring in rings:
        contour = frames.apply(pose, ring)
        area = float(cv2.contourArea(contour.astype(np.float32)))
        regions.append(Region(contour, contour, area))
    return regions


def lawns() -> Walls:
    return build_walls([(ring,) for ring in LAWNS])


def farthest(poses: Floats, pose: Floats, walls: Walls) -> Floats:
    """(C,) px by which poses lay the corners of a floor elsewhere than the true one, at most."""
    true = frames.apply(pose, walls.corners)
    return np.array([np.abs(frames.apply(p, walls.corners) - true).max() for p in poses])


@pytest.mark.parametrize("flip", [1.0, -1.0])
@pytest.mark.parametrize("turn_deg", [0.0, 33.0, 171.0, -100.0])
def test_a_room_is_laid_on_the_region_of_its_shape(flip: float, turn_deg: float) -> None:
    walls = lawns()
    own = build_walls([(ring,) for ring in walls.rings[0]])
    assert own.rooms == 1
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    linear = 200.0 * np.array([[cos, -sin * flip], [sin, cos * flip]])
    pose = np.column_stack([linear, [300.0, 200.0]])
    regions = seen_under(pose, [rings[0] for rings in walls.rings])
    found = match_shapes(regions, walls, (-1.0, 1.0))
    off = farthest(found, pose, walls)
    # Each of the three alone tells where all are, and nothing is as alike.
    assert off[:3].max() < 12.0
    assert (np.sign(np.linalg.det(found[:3, :, :2])) == flip).all()
    one_way = match_shapes(regions, walls, (-flip,))
    assert not len(one_way) or farthest(one_way, pose, walls).min() > 30.0


def test_circles_have_no_direction_and_squares_have_four() -> None:
    walls = lawns()
    angle = np.arange(200) * (2.0 * np.pi / 200)
    circle = 50.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    assert not len(match_shapes([Region(circle, circle, 7854.0)], walls, (1.0,)))
    assert not len(match_shapes([], walls, (1.0,)))
    square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    room = build_walls([(square,)])
    found = match_shapes(
        seen_under(np.array([[70.0, 0.0, 5.0], [0.0, 70.0, 5.0]]), [room.rings[0][0]]), room, (1.0,)
    )
    # One turn of four that are the same is as good as any.
    assert len(found) == 1
    placed = frames.apply(found[0], room.rings[0][0])
    true = frames.apply(np.array([[70.0, 0.0, 5.0], [0.0, 70.0, 5.0]]), room.rings[0][0])
    gaps = np.hypot(*(placed[:, None] - true[None]).transpose(2, 0, 1))
    assert gaps.min(axis=1).max() < 2.0


def test_a_ring_that_touches_itself_or_has_no_area_breaks_nothing() -> None:
    walls = lawns()
    line = np.array([[0.0, 0.0], [10.0, 0.0], [5.0, 0.0]])
    bow = np.array([[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]])
    regions = [Region(ring, ring, area) for ring, area in ((line, 0.0), (bow, 0.0))]
    assert np.isfinite(match_shapes(regions, walls, (1.0, -1.0))).all()


@pytest.mark.parametrize("turn_deg", [15.0, 200.0])
def test_mown_lawns_are_found_whatever_way_the_stripes_run(turn_deg: float) -> None:
    outlines = {f"lawn {n + 1}": 1000.0 * ring for n, ring in enumerate(LAWNS)}
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    linear = 0.016 * np.array([[cos, sin], [sin, -cos]])
    middle = np.concatenate(list(outlines.values())).mean(axis=0)
    pose = np.column_stack([linear, np.array([320.0, 300.0]) - linear @ middle])
    image = np.full((620, 640, 3), (36, 40, 38), dtype=np.uint8)
    stripes = image.copy()
    row, column = np.mgrid[:620, :640]
    for number, ring in enumerate(outlines.values()):
        mask = np.zeros((620, 640), dtype=np.uint8)
        place = frames.apply(pose, ring) - 0.5
        cv2.fillPoly(mask, [np.round(place * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
        way = column * np.cos(number + 1.0) + row * np.sin(number + 1.0)
        stripes[(mask > 0) & (way % 9 < 4.5)] = (60, 130, 70)
        stripes[(mask > 0) & (way % 9 >= 4.5)] = (76, 150, 84)
    fit = quietly(stripes, outlines)
    assert fit.confidence > 0.9
    placed = np.concatenate([fit.to_image(ring) for ring in outlines.values()])
    true = np.concatenate([frames.apply(pose, ring) for ring in outlines.values()])
    assert np.sqrt(((placed - true) ** 2).sum(axis=1).mean()) < 1.0
