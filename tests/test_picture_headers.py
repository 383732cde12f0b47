"""What headers of picture files claim, by the formats' own specifications."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from regmap.errors import PictureError
from regmap.inputs import picture_headers
from regmap.inputs.pictures import read_picture
from tests.test_pictures_hostile import NOISE, pillow, png_of


def test_colours_of_a_picture_within_a_gif() -> None:
    """GIF89a specification, sections 18 to 21: a table of colours may belong to the whole file or
    to one picture; bit 7 of the flags says whether there is one, bits 0 to 2 how long it is."""
    file = io.BytesIO()
    Image.fromarray(NOISE[:6, :8]).quantize(16).save(file, "GIF")
    data = file.getvalue()
    flags, length = data[10], 3 * 2 ** ((data[10] & 7) + 1)
    table, rest = data[13 : 13 + length], data[13 + length :]
    assert flags & 0x80
    at = rest.index(b",")
    assert not rest[at + 9] & 0x80
    moved = data[:10] + bytes([flags & 0x70]) + data[11:13] + rest[: at + 9]
    moved += bytes([rest[at + 9] | 0x80 | flags & 7]) + table + rest[at + 10 :]
    own, whole = Image.open(io.BytesIO(moved)), Image.open(io.BytesIO(data))
    np.testing.assert_array_equal(own.convert("RGB"), whole.convert("RGB"))
    for one in (data, moved):
        assert picture_headers.read_header(one) == picture_headers.Header("GIF", 8, 6)
        # Two bytes end the picture and the file. Short of the first of them, it is not whole.
        picture_headers.read_header(one[:-1])
        for end in range(len(one) - 20, len(one) - 1):
            with pytest.raises(PictureError, match="cut off"):
                picture_headers.read_header(one[:end])


@pytest.mark.parametrize(
    "data",
    [
        b"GIF89a" + struct.pack("<HHBBB", 8, 6, 0, 0, 0) + b"!\xfe\0" * 2000,
        b"\xff\x4f\xff\x51" * 2000,
    ],
)
def test_very_many_parts_without_content(data: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """Comments of no length in a GIF, headers upon headers in a JPEG 2000 codestream."""
    monkeypatch.setattr(picture_headers, "MAX_PARTS", 1000)
    with pytest.raises(PictureError, match="more than 1000 parts"):
        picture_headers.read_header(data)


@pytest.mark.parametrize(
    ("image", "bands", "pixel_bytes"),
    [(NOISE[..., 0], 1, 1), (NOISE, 3, 3), (np.dstack([NOISE, NOISE[..., :1]]), 4, 4)],
)
def test_bits_of_a_tiff(image: NDArray[np.uint8], bands: int, pixel_bytes: int) -> None:
    """TIFF 6.0, BitsPerSample: one number for each band; more than fit stand elsewhere."""
    expected = picture_headers.Header("TIFF", 64, 48, bands, pixel_bytes)
    assert picture_headers.read_header(pillow(image, "TIFF")) == expected


def test_the_largest_picture_that_is_decoded_unless_told_otherwise() -> None:
    with pytest.raises(PictureError, match="more than the 268435456 pixels allowed"):
        read_picture(png_of(2**14, 2**14 + 1))
