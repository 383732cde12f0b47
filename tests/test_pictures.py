"""A picture in any shape -> one uint8 array."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from rasterio.io import MemoryFile

from regmap.errors import PictureError
from regmap.inputs.pictures import pixels_of, read_picture

Pixels = NDArray[np.uint8]

HEIGHT, WIDTH = 20, 30


def colours() -> Pixels:
    """A picture without symmetry: each channel runs another way."""
    rows, columns = np.mgrid[0:HEIGHT, 0:WIDTH]
    return np.stack([rows * 12, columns * 8, 255 - rows * 5 - columns * 3], axis=2).astype(np.uint8)


RGB = colours()
GREY = RGB[:, :, 0].copy()
ALPHA = RGB[:, :, 1].copy()
RGBA = np.dstack([RGB, ALPHA])


def over_white(colour: Pixels, alpha: Pixels) -> Pixels:
    """The definition: a share alpha / 255 of the colour, the rest white, rounded."""
    share = (alpha / 255.0)[..., None] if colour.ndim == 3 else alpha / 255.0
    return np.rint(colour * share + 255 * (1 - share)).astype(np.uint8)


def png(
    samples: NDArray[Any], kind: int, depth: int = 8, palette: bytes = b"", **more: bytes
) -> bytes:
    """A PNG file, written by hand after the W3C specification (sections 5 and 11)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        crc = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", crc)

    height, width = samples.shape[:2]
    if depth == 16:
        rows = samples.astype(">u2").reshape(height, -1).view(np.uint8)
    elif depth == 8:
        rows = samples.astype(np.uint8).reshape(height, -1)
    else:
        bits = np.unpackbits(samples.astype(np.uint8)[..., None], axis=2)[:, :, 8 - depth :]
        rows = np.packbits(bits.reshape(height, -1), axis=1)
    raw = b"".join(b"\0" + row.tobytes() for row in np.ascontiguousarray(rows))
    header = struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0)
    data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header)
    data += chunk(b"PLTE", palette) if palette else b""
    data += b"".join(chunk(name.encode(), content) for name, content in more.items())
    return data + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b"")


def encoded(extension: str, pixels: NDArray[Any], *options: int) -> bytes:
    """The picture as OpenCV writes it; it takes blue first."""
    if pixels.ndim == 3:
        pixels = pixels[:, :, [2, 1, 0, 3][: pixels.shape[2]]]
    ok, data = cv2.imencode(extension, np.ascontiguousarray(pixels), list(options))
    assert ok
    return bytes(data)


def geotiff(bands: NDArray[Any], **profile: Any) -> bytes:
    """A TIFF file as rasterio writes it; `bands` (C, H, W)."""
    colormap = profile.pop("colormap", None)
    with MemoryFile() as memory:
        count, height, width = bands.shape
        options = {"count": count, "height": height, "width": width, "dtype": bands.dtype.name}
        options["transform"] = Affine(0.05, 0, 5, 0, -0.05, 9)
        with memory.open(driver="GTiff", **(options | profile)) as dataset:
            dataset.write(bands)
            if colormap:
                dataset.write_colormap(1, colormap)
        return bytes(memory.read())


# --- files -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (png(RGB, 2), RGB),
        (png(RGBA, 6), over_white(RGB, ALPHA)),
        (png(GREY, 0), GREY),
        (png(GREY[..., None] * 257.0, 0, 16), GREY),
        (png(RGB.astype(int) * 257, 2, 16), RGB),
        (png(np.dstack([GREY, ALPHA]), 4), over_white(GREY, ALPHA)),
        (png(GREY // 16, 0, 4), (GREY // 16) * 17),
        (png(GREY // 128, 0, 1), (GREY // 128) * 255),
        (encoded(".png", RGB), RGB),
        (encoded(".bmp", RGB), RGB),
        (encoded(".tiff", RGB), RGB),
        (encoded(".tiff", RGBA), over_white(RGB, ALPHA)),
        (encoded(".ppm", RGB), RGB),
        (encoded(".pgm", GREY), GREY),
        (encoded(".webp", RGB, cv2.IMWRITE_WEBP_QUALITY, 101), RGB),
        (geotiff(np.moveaxis(RGB, 2, 0)), RGB),
        (geotiff(np.moveaxis(RGBA, 2, 0), photometric="RGB"), over_white(RGB, ALPHA)),
        (geotiff(GREY[None].astype(np.uint16) * 257), GREY),
        (geotiff(GREY[None] / np.float32(255)), GREY),
        (geotiff(np.moveaxis(RGB, 2, 0), compress="deflate", interleave="band"), RGB),
    ],
)  # fmt: skip
def test_lossless_files(data: bytes, expected: Pixels, tmp_path: Path) -> None:
    found = read_picture(data)
    if found.ndim > expected.ndim:  # some decoders give grey in three equal bands
        assert (found == found[:, :, :1]).all()
        found = found[:, :, 0]
    np.testing.assert_allclose(found.astype(int), expected, atol=1)
    assert found.dtype == np.uint8
    path = tmp_path / "picture"
    path.write_bytes(data)
    for source in (path, str(path), bytearray(data), memoryview(data), io.BytesIO(data)):
        np.testing.assert_array_equal(read_picture(source), read_picture(data))


def test_palettes() -> None:
    table = np.array([[255, 0, 0], [0, 255, 0], [0, 0, 255], [9, 9, 9]], np.uint8)
    indices = (np.arange(HEIGHT * WIDTH).reshape(HEIGHT, WIDTH) * 7 // 5 % 4).astype(np.uint8)
    for depth in (2, 4, 8):
        found = read_picture(png(indices, 3, depth, table.tobytes()))
        np.testing.assert_array_equal(found, table[indices])
    clear = read_picture(png(indices, 3, 8, table.tobytes(), tRNS=bytes([255, 0, 255, 255])))
    white = np.where((indices == 1)[..., None], 255, table[indices])
    np.testing.assert_array_equal(clear, white)
    colormap = {i: (*map(int, colour), 255) for i, colour in enumerate(table)}
    tiff = geotiff(indices[None], photometric="palette", colormap=colormap)
    np.testing.assert_array_equal(read_picture(tiff), table[indices])


def test_lossy_files_keep_colours_and_places() -> None:
    for extension in (".jpg", ".webp"):
        found = read_picture(encoded(extension, RGB))
        assert found.shape == RGB.shape
        assert np.abs(found.astype(int) - RGB).mean() < 8


def test_exif_orientation_is_ignored() -> None:
    plain = encoded(".jpg", RGB)
    # Orientation 6 says: turn the picture by a quarter to show it (CIPA DC-008, tag 0x0112).
    tag = struct.pack("<HHII", 0x0112, 3, 1, 6)
    exif = b"Exif\0\0II*\0" + struct.pack("<IH", 8, 1) + tag + struct.pack("<I", 0)
    turned = plain[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + plain[2:]
    obeying = cv2.imdecode(np.frombuffer(turned, np.uint8), cv2.IMREAD_COLOR)
    assert obeying is not None
    assert obeying.shape[:2] == (WIDTH, HEIGHT)
    np.testing.assert_array_equal(read_picture(turned), read_picture(plain))


# --- arrays and datasets -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("array", "expected"),
    [
        (RGB, RGB),
        (GREY, GREY),
        (GREY[..., None], GREY),
        (RGBA, over_white(RGB, ALPHA)),
        (np.dstack([GREY, ALPHA]), over_white(GREY, ALPHA)),
        (np.moveaxis(RGB, 2, 0), RGB),
        (np.asfortranarray(RGB), RGB),
        (RGB[::-1, ::-1], RGB[::-1, ::-1]),
        (RGB.astype(np.int64), RGB),
        (RGB.astype(np.uint16) * 257, RGB),
        (RGB / 255.0, RGB),
        (RGB.astype(np.float32), RGB),
        (GREY > 99, np.where(GREY > 99, 255, 0)),
        (np.ma.masked_equal(GREY, 0), np.where(GREY == 0, 255, GREY)),
    ],
)
def test_arrays(array: NDArray[Any], expected: Pixels) -> None:
    before = array.copy()
    found = read_picture(array)
    np.testing.assert_allclose(found.astype(int), expected, atol=1)
    assert found.dtype == np.uint8
    assert found.flags.c_contiguous
    found[:] = 0
    np.testing.assert_array_equal(array, before)


@pytest.mark.parametrize("array", [RGB, GREY, GREY[..., None], RGB[::-1], RGBA, RGB / 255.0])
def test_to_be_looked_at_alone_a_picture_is_not_copied(array: NDArray[Any]) -> None:
    looked_at = pixels_of(array)
    np.testing.assert_array_equal(looked_at, read_picture(array))
    as_it_is = array.dtype == np.uint8 and array.flags.c_contiguous and array.shape[2:] != (4,)
    assert np.shares_memory(looked_at, array) == as_it_is


class Image:
    """Something that only shows its pixels through the array interface."""

    def __init__(self, pixels: Pixels) -> None:
        self.pixels = np.ascontiguousarray(pixels)
        self.__array_interface__ = self.pixels.__array_interface__


def test_the_array_interface() -> None:
    np.testing.assert_array_equal(read_picture(Image(RGB)), RGB)


def test_open_datasets() -> None:
    bands = np.moveaxis(RGB, 2, 0)
    for count, expected in ((1, GREY), (3, RGB)):
        with MemoryFile(geotiff(bands[:count])) as memory, memory.open() as dataset:
            np.testing.assert_array_equal(read_picture(dataset), expected)
    with pytest.raises(PictureError, match="closed"):
        read_picture(dataset)
    holes = np.where(GREY == 0, np.nan, GREY)[None].astype(np.float32)
    with MemoryFile(geotiff(holes, nodata=np.nan)) as memory, memory.open() as dataset:
        np.testing.assert_array_equal(read_picture(dataset), np.where(GREY == 0, 255, GREY))


@pytest.mark.parametrize(
    ("picture", "message"),
    [
        (None, "came as NoneType; give a path, bytes, an array"),
        (5, "came as int"),
        ([[1, 2], [3, 4]], "came as list"),
        (io.StringIO("text"), "came as StringIO"),
        (np.zeros((0, 5)), r"shape \(0, 5\)"),
        (np.zeros(50), r"shape \(50,\)"),
        (np.zeros((9, 9, 5)), r"shape \(9, 9, 5\) came; give"),
        (np.zeros((2, 9, 9, 3)), "shape"),
        (np.zeros((7, 40)), "40 x 7 px; at least 8 x 8"),
        (np.full((9, 9), np.nan), "NaN or infinite"),
        (np.full((9, 9), np.inf), "NaN or infinite"),
        (np.full((9, 9), -1), "run from -1 to -1"),
        (np.full((9, 9), 70000), "run from 70000"),
        (np.full((9, 9), 1e4), "run from 10000"),
        (np.zeros((9, 9), complex), "array of complex128"),
        (np.full((9, 9), "a"), "array of <U1"),
        (b"", "the picture file is empty"),
        (b"hello, this is no picture at all", "a text file, not a picture; allowed are PNG"),
        ("une cafetière est une cafetièr".encode()[:29], "a text file, not a picture"),
        (b"\x00\x01\x02 no picture", "unknown picture format .*allowed are PNG"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "a drawing of lines"),
        (b"%PDF-1.7", "a drawing of lines"),
        (b'{"rooms": []}', "a text file, not a picture"),
    ],
)
def test_what_is_refused(picture: Any, message: str) -> None:
    with pytest.raises(PictureError, match=message):
        read_picture(picture)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for path in (tmp_path / "none.png", tmp_path, "a\0b"):
        with pytest.raises(PictureError, match="cannot read the picture"):
            read_picture(path)


def test_too_many_pixels_are_refused_before_they_are_decoded() -> None:
    with pytest.raises(PictureError, match="30 x 20 px, more than the 599 pixels allowed"):
        read_picture(encoded(".png", RGB), max_pixels=599)
    read_picture(encoded(".png", RGB), max_pixels=600)
    read_picture(RGB, max_pixels=599)  # it is in memory already
    claims = [
        # 60,000 x 60,000 in a few bytes: a decoder would ask for 10 gigabytes.
        png(np.zeros((1, 1)), 0).replace(
            struct.pack(">II", 1, 1), struct.pack(">II", 60000, 60000)
        ),
        encoded(".bmp", RGB)[:18] + struct.pack("<ii", 60000, 60000) + encoded(".bmp", RGB)[26:],
        b"P6 60000 60000 255\n" + bytes(99),
    ]
    for data in claims:
        with pytest.raises(PictureError):
            read_picture(data)


FILES = {
    "png": encoded(".png", RGB),
    "jpeg": encoded(".jpg", RGB),
    "webp": encoded(".webp", RGB),
    "bmp": encoded(".bmp", RGB),
    "tiff": encoded(".tiff", RGB),
    "geotiff": geotiff(np.moveaxis(RGBA, 2, 0)),
    "ppm": encoded(".ppm", RGB),
}


@pytest.mark.parametrize("kind", FILES)
def test_a_file_that_was_cut_off_gives_no_picture(
    kind: str, capfd: pytest.CaptureFixture[str]
) -> None:
    whole = FILES[kind]
    ends = {*range(0, len(whole) - 1, max(len(whole) // 40, 1)), len(whole) * 9 // 10}
    for end in sorted(ends):
        try:
            found = read_picture(whole[:end])
        except PictureError:
            continue
        # A trailer may be missing, a row of pixels may not.
        np.testing.assert_array_equal(found, read_picture(whole), err_msg=f"{kind} {end}")
    if hasattr(cv2.utils, "logging"):  # OpenCV 4.8 prints past its own log
        assert capfd.readouterr().err == ""


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(FILES)), st.data())
def test_damaged_files_are_refused_or_read(kind: str, data: st.DataObject) -> None:
    content = bytearray(FILES[kind])
    places = st.integers(0, len(content) - 1)
    for place, value in data.draw(st.lists(st.tuples(places, st.integers(0, 255)), max_size=8)):
        content[place] = value
    try:
        found = read_picture(bytes(content), max_pixels=10**6)
    except PictureError:
        return
    assert found.dtype == np.uint8
    assert found.size <= 3 * 10**6
