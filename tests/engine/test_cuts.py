"""Walls that the picture shows across rooms: drawn by hand, so that which are cut is known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from regmap.engine.cuts import rooms_cut
from regmap.engine.displaced import lay_walls
from regmap.engine.edges import find_edges
from regmap.engine.rasterise import rasterise
from regmap.engine.walls import build_walls
from tests.engine.test_displaced import GREEN, box

Picture = NDArray[np.uint8]

ROOMS = ((40, 40, 180, 200), (190, 40, 330, 200), (40, 210, 330, 320))


def drawn() -> Picture:
    """Three rooms, as they are outlined."""
    image = np.full((360, 370, 3), 255, np.uint8)
    for left, top, right, bottom in ROOMS:
        image[top:bottom, left:right] = GREEN
    return image


def cut(image: Picture, turn: float = 0.0) -> list[bool]:
    """Which of the rooms are cut; picture and outlines turned by degrees about its middle."""
    walls = build_walls([(box(*room).astype(float),) for room in ROOMS])
    height, width = image.shape[:2]
    turned = np.asarray(cv2.getRotationMatrix2D((0.5 * width, 0.5 * height), turn, 1.0))
    image = np.asarray(
        cv2.warpAffine(image, turned, (width, height), borderValue=(255, 255, 255)), dtype=np.uint8
    )
    # warpAffine counts from pixel centres; half a pixel is nothing here.
    flip = turned[:, :2] @ np.diag([1.0, -1.0])
    pose = np.column_stack([flip @ walls.linear, flip @ walls.origin + turned[:, 2]])
    laid = lay_walls(pose, np.zeros(2), walls, find_edges(image, 1.0))
    return [bool(there) for there in rooms_cut(laid, rasterise(walls))]


@pytest.mark.parametrize("turn", [0.0, 10.0])
def test_a_wall_across_a_room_cuts_it_and_no_other(turn: float) -> None:
    assert cut(drawn(), turn) == [False, False, False]
    across = drawn()
    across[40:200, 100:108] = 255
    assert cut(across, turn) == [True, False, False]
    along = drawn()
    along[260:268, 40:330] = 255
    assert cut(along, turn) == [False, False, True]
    # Two colours that meet are a wall as well.
    two = drawn()
    two[40:200, 260:330] = 90
    assert cut(two, turn) == [False, True, False]


def test_what_does_not_reach_from_side_to_side_or_is_no_border_cuts_nothing() -> None:
    half = drawn()
    half[40:120, 100:108] = 255
    assert cut(half) == [False, False, False]
    path = drawn()
    cv2.line(path, (100, 40), (100, 200), (255, 255, 255), 1)
    assert cut(path) == [False, False, False]
    pale = drawn()
    pale[40:200, 100:180] = np.array(GREEN) + 8
    assert cut(pale) == [False, False, False]
    # Right beside the outline is the outline's own border, or a shelf.
    shelf = drawn()
    shelf[40:200, 40:44] = 90
    assert cut(shelf) == [False, False, False]


def test_an_empty_picture_cuts_nothing() -> None:
    assert cut(np.full((360, 370, 3), 200, np.uint8)) == [False, False, False]
