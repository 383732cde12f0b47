"""Pictures that come as arrays: odd ones that are read, and those that are refused."""

from __future__ import annotations

import io
import math
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from regmap.errors import PictureError
from regmap.inputs.picture_pixels import MAX_ASPECT, MAX_SIDE
from regmap.inputs.pictures import read_picture
from tests.test_pictures import encoded, geotiff

NOISE = np.random.default_rng(1).integers(0, 256, (48, 64, 3), dtype=np.uint8)
OTHER = 255 - NOISE
SMOOTH = cv2.resize(NOISE[:6, :8], (64, 48), interpolation=cv2.INTER_CUBIC)


GREY = NOISE[:, :, 0]
HOLES = GREY < 50
FILLED = np.where(HOLES, 255, GREY)


class Failing:
    """Something whose pixels cannot be had after all."""

    @property
    def __array_interface__(self) -> dict[str, Any]:
        raise RuntimeError("lies on another device")


@pytest.mark.parametrize(
    ("array", "expected"),
    [
        (GREY.astype(">u2") * 257, GREY),
        (GREY.astype(">f8"), GREY),
        (NOISE[::2, ::-3], NOISE[::2, ::-3]),
        (np.broadcast_to(GREY[:1], (48, 64)), np.repeat(GREY[:1], 48, axis=0)),
        (NOISE.astype(np.float16), NOISE),
        (NOISE.astype(np.longdouble) / 255, NOISE),
        (np.dstack([NOISE.astype(float), np.ones((48, 64))]), NOISE),  # alpha from 0 to 1
        (np.ma.array(GREY, mask=HOLES), FILLED),
        (np.ma.array(GREY.astype(np.uint16) * 257, mask=HOLES), FILLED),
        (np.ma.array(np.where(HOLES, np.nan, GREY), mask=HOLES), FILLED),
        (np.ma.array(np.where(HOLES, -1e300, GREY / 255), mask=HOLES), FILLED),
        (np.ma.array(np.where(HOLES, -(2**63), GREY.astype(int)), mask=HOLES), FILLED),
        (np.ma.array(GREY > 0, mask=GREY >= 0), np.full((48, 64), 255)),
        (np.ma.array(np.moveaxis(NOISE, 2, 0), mask=np.broadcast_to(HOLES, (3, 48, 64))),
         np.where(HOLES[..., None], 255, NOISE)),
    ],
)  # fmt: skip
def test_odd_arrays(array: Any, expected: NDArray[Any]) -> None:
    found = read_picture(array)
    np.testing.assert_allclose(found.astype(int), expected, atol=1)
    assert found.flags.c_contiguous


@pytest.mark.parametrize(
    ("array", "message"),
    [
        (np.full((9, 9), -0.5), "run from -0.5 to -0.5"),
        (np.full((9, 9), 1e300), "run from"),
        (np.full((9, 9), 2**64 - 1, np.uint64), "run from"),
        (np.array([[None] * 9] * 9), "array of object"),
        (np.array([[print] * 9] * 9), "array of object"),
        (np.zeros((9, 9), "M8[s]"), "array of datetime64"),
        (np.zeros((9, 9), [("r", "u1")]), "array of"),
        (np.ma.array(np.full((9, 9), np.nan), mask=np.eye(9) > 0), "NaN or infinite"),
        (np.broadcast_to(np.uint8(0), (10**6, 10**6)), "at most 32766 along a side"),
        (np.zeros((8, MAX_SIDE + 1), np.uint8), "at most 32766 along a side"),
        (np.zeros((8, 8 * MAX_ASPECT + 1), np.uint8), "a strip more than 100 times as long"),
        (np.zeros((1, 5000), np.uint8), "at least 8 x 8"),
        (np.zeros((1, 1), np.uint8), "at least 8 x 8"),
        (Failing(), "lies on another device"),
        (Image.open(io.BytesIO(encoded(".png", NOISE)[:3000])), "cannot be read as an array"),
    ],
)
def test_arrays_that_are_refused(array: Any, message: str) -> None:
    with pytest.raises(PictureError, match=message):
        read_picture(array)


def test_kinds_of_numbers_that_no_picture_has() -> None:
    for bands in (np.zeros((1, 9, 9), np.complex64), np.full((1, 9, 9), math.nan)):
        with pytest.raises(PictureError):
            read_picture(geotiff(bands))
