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


def test_every_colour_under_every_alpha_is_rounded_to_the_nearest() -> None:
    """Over white: c a + 1 (1 - a), all 65,536 of them; none lies half-way, for 255 is odd."""
    colour, alpha = np.meshgrid(np.arange(256, dtype=np.uint8), np.arange(256, dtype=np.uint8))
    c, a = colour / 255.0, alpha / 255.0
    expected = np.rint(255.0 * (c * a + (1.0 - a))).astype(np.uint8)
    np.testing.assert_array_equal(read_picture(np.dstack([colour, alpha])), expected)
    rgba = np.dstack([colour, colour[:, ::-1], colour, alpha])
    read = read_picture(rgba)
    np.testing.assert_array_equal(read[..., 2], expected)
    np.testing.assert_array_equal(read[..., 1], expected[:, ::-1])


def test_sixteen_bits_are_rounded_to_the_nearest_eight() -> None:
    every = np.arange(2**16, dtype=np.uint16).reshape(256, 256)
    expected = np.rint(every / 65535.0 * 255.0).astype(np.uint8)
    for kind in (np.uint16, np.int32, np.uint64):
        np.testing.assert_array_equal(read_picture(every.astype(kind)), expected)


@pytest.mark.parametrize(
    ("least", "largest", "kind", "good"),
    [
        (0, 65535, np.int64, True),
        (0, 65536, np.int64, False),
        (-1, 255, np.int16, False),
        (0.0, 255.4, np.float64, True),
        (0.0, 255.5, np.float64, True),
        (0.0, 255.6, np.float64, False),
        # What resizing leaves of zero is zero; what is clearly below it is none of a picture.
        (-1e-4, 1.0, np.float32, True),
        (-0.01, 1.0, np.float32, False),
        (0.0, 1.0005, np.float32, True),
    ],
)
def test_numbers_run_from_zero_to_what_the_kind_holds(
    least: float, largest: float, kind: Any, good: bool
) -> None:
    pixels = np.full((9, 9), least, dtype=kind)
    pixels[4:] = largest
    if good:
        read = read_picture(pixels)
        assert read[:4].max() == 0
        assert read[4:].min() == 255
    else:
        with pytest.raises(PictureError, match="its numbers run from"):
            read_picture(pixels)


def test_the_largest_number_tells_what_the_numbers_run_to() -> None:
    """Above 255 they are of 16 bits, and above 1 in floating point of 8."""
    for largest, kind, expected in (
        (255, np.uint16, 255),
        (256, np.uint16, 1),
        (1.0, np.float64, 255),
        (1.3, np.float64, 1),
        (200.4, np.float32, 200),
    ):
        pixels = np.zeros((9, 9), dtype=kind)
        pixels[4:] = largest
        read = read_picture(pixels)
        assert (read[:4].max(), read[4:].min(), read.max()) == (0, expected, expected)


def test_an_alpha_from_zero_to_one_beside_colours_up_to_255() -> None:
    colours = np.random.default_rng(5).integers(0, 256, (9, 9, 3)).astype(np.float64)
    alpha = np.linspace(0.0, 1.0, 81).reshape(9, 9, 1)
    read = read_picture(np.concatenate([colours, alpha], axis=2))
    expected = colours * alpha + 255.0 * (1.0 - alpha)
    assert np.abs(read - expected).max() <= 1.0  # the alpha itself is rounded to 8 bits


def test_a_pixel_is_hidden_if_one_of_its_bands_is() -> None:
    pixels, mask = np.full((9, 9, 3), 40, np.uint8), np.zeros((9, 9, 3), dtype=bool)
    mask[2, 3, 1] = True
    values = np.ma.array(pixels, mask=mask)
    first = np.ma.array(np.moveaxis(pixels, -1, 0), mask=np.moveaxis(mask, -1, 0))
    for given in (values, first):
        read = read_picture(given)
        assert (read == 255).all(axis=2).nonzero() == (2, 3)
        assert (read == 40).sum() == 3 * 80
