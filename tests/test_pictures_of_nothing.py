"""Pictures that hold no floor: no sure fit, and no other error."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest
from affine import Affine
from numpy.typing import NDArray

import regmap
from regmap.errors import NoFitError
from regmap.inputs.picture_pixels import MAX_SIDE
from regmap.inputs.pictures import MAX_PIXELS
from regmap.registration import Registration

NOISE = np.random.default_rng(1).integers(0, 256, (48, 64, 3), dtype=np.uint8)


def chessboard(cell: int) -> NDArray[np.uint8]:
    row, column = np.mgrid[0:480, 0:640] // cell
    return np.asarray((row + column) % 2 * 255, dtype=np.uint8)


def islands() -> NDArray[np.uint8]:
    rng = np.random.default_rng(2)
    image = np.full((480, 640, 3), 255, np.uint8)
    for row, column in zip(rng.integers(0, 470, 4000), rng.integers(0, 630, 4000), strict=True):
        image[row : row + rng.integers(2, 9), column : column + 5] = rng.integers(0, 256, 3)
    return image


NOTHING: dict[str, Callable[[], NDArray[Any]]] = {
    "white": lambda: np.full((480, 640, 3), 255, np.uint8),
    "black": lambda: np.zeros((480, 640), bool),
    "smallest": lambda: np.zeros((8, 8), np.uint8),
    "smallest noise": lambda: NOISE[:8, :8],
    "longest": lambda: cv2.resize(NOISE, (3200, 32)),
    "narrowest": lambda: cv2.resize(NOISE, (8, 800)),
    "noise": lambda: np.random.default_rng(3).integers(0, 256, (480, 640, 3), dtype=np.uint8),
    "black and white noise": lambda: np.random.default_rng(4).random((480, 640)) > 0.5,
    "chessboard of pixels": lambda: chessboard(1),
    "chessboard": lambda: chessboard(7),
    "large chessboard": lambda: chessboard(80),
    "stripes": lambda: np.tile((np.arange(640) // 3 % 2 * 255).astype(np.uint8), (480, 1)),
    "slope": lambda: np.tile(np.linspace(0, 1, 640), (480, 1)),
    "islands": islands,
    "one dot": lambda: np.where(np.arange(480 * 640) == 99_999, 0, 255).reshape(480, 640),
}

FLOOR = {
    "hall": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "bay": [[4000, 0], [8000, 0], [8000, 5000], [6000, 5000], [6000, 3000], [4000, 3000]],
    "shed": [[0, 3000], [6000, 3000], [6000, 6000], [0, 6000]],
}


@pytest.mark.parametrize("kind", NOTHING)
@pytest.mark.filterwarnings("default::regmap.errors.DoubtfulFitWarning")
def test_a_picture_of_nothing_is_no_sure_fit(kind: str) -> None:
    try:
        fit: Registration | None = regmap.register(NOTHING[kind](), FLOOR)
    except NoFitError as error:
        fit = error.best
    assert fit is not None
    assert fit.doubtful
    assert fit.reasons


def test_the_longest_side_that_is_taken() -> None:
    """More pixels along a side than OpenCV's remap can count are refused; fewer pass all stages.

    Whether a floor that fills a hundredth of the picture is found is another matter.
    """
    image = np.full((400, MAX_SIDE), 255, np.uint8)
    for ring in FLOOR.values():
        corners = (np.array(ring) / 20 + [16_000, 50]).astype(np.int32)
        cv2.polylines(image, [corners], True, 0, 3)
    near = Affine(20, 0, -320_030, 0, 20, -1010)
    fit: regmap.Registration | None
    try:
        fit = regmap.register(image, FLOOR, mirrored=True, near=near)
    except NoFitError as error:
        fit = error.best
    assert fit is not None
    assert fit.image_size == (MAX_SIDE, 400)
    assert np.isfinite(fit.to_device([[16_000.5, 50.5]])).all()
    assert MAX_PIXELS < MAX_SIDE**2
