"""Pictures that are odd, broken or meant to do harm: an answer or a clear error, bounded memory."""

from __future__ import annotations

import io
import os
import struct
import threading
import tracemalloc
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from rasterio.io import MemoryFile

from regmap.errors import PictureError
from regmap.inputs import picture_headers
from regmap.inputs.pictures import read_picture
from tests.test_pictures import encoded, geotiff

NOISE = np.random.default_rng(1).integers(0, 256, (48, 64, 3), dtype=np.uint8)
OTHER = 255 - NOISE
SMOOTH = cv2.resize(NOISE[:6, :8], (64, 48), interpolation=cv2.INTER_CUBIC)


def pillow(image: NDArray[Any], kind: str, mode: str = "", more: int = 0, **options: Any) -> bytes:
    """The picture as Pillow writes it, a library that regmap does not use."""
    frames = [Image.fromarray(image)]
    frames += [Image.fromarray(255 - image)] * more if more else []
    frames = [frame.convert(mode) if mode else frame for frame in frames]
    if more:
        options |= {"save_all": True, "append_images": frames[1:]}
    file = io.BytesIO()
    frames[0].save(file, kind, **options)
    return file.getvalue()


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png_of(
    width: int, height: int, *more: bytes, data: bytes = b"", kind: int = 2, depth: int = 0
) -> bytes:
    """A PNG of 16 or 8 bits that claims a size, whatever its pixels are."""
    depth = depth or (16 if kind == 6 else 8)
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0))
    parts = [header, *more, chunk(b"IDAT", zlib.compress(data, 9)), chunk(b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def claiming(data: bytes, mark: bytes, offset: int, claim: bytes, count: int = 1) -> bytes:
    """A file with other bytes at a place after a mark."""
    content = bytearray(data)
    at = -1
    for _ in range(count):
        at = content.index(mark, at + 1)
        content[at + offset : at + offset + len(claim)] = claim
    return bytes(content)


# --- what other programs write --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "tolerance"),
    [
        (pillow(NOISE, "PNG"), 0),
        (pillow(NOISE, "PNG", more=3), 0),  # animated: the first picture counts
        (pillow(NOISE, "TIFF"), 0),
        (pillow(NOISE, "TIFF", more=20), 0),  # many pages
        (pillow(NOISE, "TIFF", compression="tiff_lzw"), 0),
        (pillow(NOISE, "WEBP", lossless=True), 0),
        (pillow(NOISE, "JPEG2000", irreversible=False), 0),
        (pillow(NOISE, "JPEG2000", no_jp2=True, tile_size=(16, 16)), 0),
        (pillow(NOISE, "BMP"), 0),
        (pillow(NOISE, "PPM"), 0),
        (pillow(SMOOTH, "JPEG", quality=95), 6),
        (pillow(SMOOTH, "JPEG", quality=95, progressive=True), 6),
        (pillow(SMOOTH, "JPEG", mode="CMYK", quality=95), 6),
        (pillow(SMOOTH, "TIFF", compression="jpeg", quality=95), 10),
        (geotiff(np.moveaxis(NOISE, 2, 0), photometric="YCBCR", compress="jpeg"), 80),
        (geotiff(np.repeat(np.moveaxis(NOISE, 2, 0), 4, axis=0)[[0, 4, 8, *range(9)]]), 0),
        (geotiff(np.moveaxis(NOISE, 2, 0).astype(np.int16)), 0),
        (geotiff(np.moveaxis(NOISE, 2, 0).astype(np.int32)), 0),
        (geotiff(np.moveaxis(NOISE, 2, 0) / 255.0), 0),
        (geotiff(np.moveaxis(NOISE, 2, 0).astype(np.uint16) * 257, compress="lzw"), 0),
    ],
)
def test_files_of_other_programs(data: bytes, tolerance: int) -> None:
    expected = SMOOTH if tolerance in (6, 10) else NOISE
    found = read_picture(data)
    assert found.shape == expected.shape
    assert np.abs(found.astype(int) - expected).mean() <= tolerance


@pytest.mark.parametrize(
    "data",
    [
        *(pillow(SMOOTH, kind, more=more) for kind in ("GIF", "AVIF") for more in (0, 2)),
        pillow(SMOOTH, "WEBP", more=2),
    ],
)
def test_what_only_some_decoders_know(data: bytes) -> None:
    """OpenCV 4.8 knows no GIF and no animation, and says so; else the first picture counts."""
    found, said = None, ""
    try:
        found = read_picture(data)
    except PictureError as error:
        said = str(error)
    if found is None:
        assert "or OpenCV" in said
    else:
        assert np.abs(found.astype(int) - SMOOTH).mean() < 25


def test_palettes_and_bits_of_other_programs() -> None:
    indexed = Image.fromarray(NOISE).quantize(64)
    expected = np.asarray(indexed.convert("RGB"))
    for kind in ("PNG", "TIFF", "BMP"):
        file = io.BytesIO()
        indexed.save(file, kind)
        np.testing.assert_array_equal(read_picture(file.getvalue()), expected)
    np.testing.assert_array_equal(read_picture(indexed), expected)
    bits = NOISE[:, :, 0] > 127
    for kind in ("PNG", "TIFF", "BMP"):
        found = read_picture(pillow(bits, kind))
        np.testing.assert_array_equal(found if found.ndim == 2 else found[:, :, 0], bits * 255)


# --- files that lie -------------------------------------------------------------------------------

JP2 = pillow(NOISE, "JPEG2000")
JPEG = pillow(NOISE, "JPEG", progressive=True)
SCAN = JPEG[JPEG.rindex(b"\xff\xda") : -2]
HUGE = struct.pack(">II", 60_000, 60_000)
RLE = struct.pack("<IiiHHIIiiII", 40, 60_000, 60_000, 1, 8, 1, 0, 0, 0, 256, 0) + bytes(1026)

LIES: dict[str, bytes] = {
    "png, far too large": png_of(20_000, 20_000),
    "png, no pixels": png_of(16_384, 16_384, kind=6),
    "png, two headers": png_of(64, 48, chunk(b"IHDR", HUGE + b"\x08\2\0\0\0")),
    "png, header second": b"\x89PNG\r\n\x1a\n" + chunk(b"tEXt", bytes(40)) + png_of(64, 48)[8:],
    "jpeg, few bytes": claiming(JPEG, b"\xff\xc2", 5, struct.pack(">HH", 9000, 9000)),
    "jpeg, far too large": claiming(JPEG, b"\xff\xc2", 5, struct.pack(">HH", 65_000, 65_000)),
    "png, no such depth": png_of(64, 48, kind=2, depth=3),
    "png, no such kind": png_of(64, 48, kind=5, depth=8),
    "png, no palette": png_of(64, 48, kind=3),
    "jpeg, many scans": JPEG[:-2] + SCAN * 40 + JPEG[-2:],
    "jpeg, no end of scans": JPEG[:-2] + SCAN * 3000 + JPEG[-2:],
    "gif, screen": claiming(pillow(NOISE, "GIF"), b"GIF8", 6, struct.pack("<HH", 65_000, 65_000)),
    "gif, picture": claiming(pillow(NOISE, "GIF"), b",\0\0\0\0", 5, b"\xff\xff\xff\xff"),
    "webp": claiming(pillow(NOISE, "WEBP", more=1), b"VP8X", 12, b"\xff\xff\xff" * 2),
    "avif": claiming(pillow(NOISE, "AVIF"), b"ispe", 8, HUGE),
    "jpeg 2000, box": claiming(JP2, b"ihdr", 4, HUGE),
    "jpeg 2000, codestream": claiming(JP2, b"\xff\x4f\xff\x51", 8, HUGE),
    "jpeg 2000, bands": claiming(JP2, b"\xff\x4f\xff\x51", 40, b"\x40\0"),
    "jpeg 2000, no stream": JP2[: JP2.index(b"\xff\x4f\xff\x51")],
    "tiff, width": claiming(geotiff(NOISE[None, :, :, 0]), b"\0\1\3\0\1\0\0\0", 8, b"\xff\xff"),
    "bmp": b"BM" + struct.pack("<IHHI", 99, 0, 0, 1078) + RLE,
    "ppm": b"P6 16000 16000 65535\n" + bytes(99),
    "ppm, digits": b"P6 " + b"9" * 4000 + b" 9 255\n",
    "ppm, negative": b"P2 16 16 255\n" + b"-1 " * 256,
    "vrt": b'<VRTDataset rasterXSize="9" rasterYSize="9"><VRTRasterBand><SimpleSource>'
    b"<SourceFilename>/etc/hostname</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>",
}  # fmt: skip


@pytest.mark.parametrize("kind", LIES)
def test_a_file_that_lies(kind: str) -> None:
    if kind == "jpeg 2000, box":  # decoders believe the codestream, and so does regmap
        assert read_picture(LIES[kind]).shape == NOISE.shape
        return
    with pytest.raises(PictureError) as caught:
        read_picture(LIES[kind])
    assert 30 < len(str(caught.value)) < 400


@pytest.mark.parametrize(("width", "bits"), [(33, 1), (30, 4), (31, 8), (31, 24)])
def test_rows_of_a_bmp_are_padded_to_four_bytes(width: int, bits: int) -> None:
    """BITMAPINFOHEADER: each row takes a whole number of 32 bits. A byte less is a file cut off."""
    rows = -(-width * bits // 32) * 4 * 12
    sizes = struct.pack("<IiiHHIIiiII", 40, width, 12, 1, bits, 0, 0, 0, 0, 0, 0)
    palette = bytes(4 * 2**bits if bits <= 8 else 0)
    start = 14 + len(sizes) + len(palette)
    whole = b"BM" + struct.pack("<IHHI", start + rows, 0, 0, start) + sizes + palette + bytes(rows)
    assert read_picture(whole).shape[:2] == (12, width)
    with pytest.raises(PictureError, match="the BMP file is cut off"):
        read_picture(whole[:-1])


@pytest.mark.parametrize("name", [b"zTXt", b"iCCP", b"eXIf"])
def test_notes_that_unpack_to_much_do_no_harm(
    name: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    """They are not looked at, so that no decoder complains of them on the terminal either."""
    bomb = chunk(name, b"a\0\0" + zlib.compress(bytes(30_000_000), 9))
    pixels = b"".join(b"\0" + row.tobytes() for row in NOISE)
    np.testing.assert_array_equal(read_picture(png_of(64, 48, bomb, data=pixels)), NOISE)
    assert capfd.readouterr() == ("", "")


def test_transparency_and_palettes_outlive_the_notes() -> None:
    indexed = Image.fromarray(NOISE).quantize(8)
    indexed.info["transparency"] = 3
    for image in (indexed, Image.fromarray(NOISE).convert("RGBA")):
        plain, noted = io.BytesIO(), io.BytesIO()
        image.save(plain, "PNG")
        image.save(noted, "PNG", dpi=(300, 300), icc_profile=b"none", exif=b"Exif\0\0MM")
        assert len(noted.getvalue()) > len(plain.getvalue())
        np.testing.assert_array_equal(
            read_picture(noted.getvalue()), read_picture(plain.getvalue())
        )


def test_files_of_very_many_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture_headers, "MAX_PARTS", 1000)
    gif = b"GIF89a" + struct.pack("<HHBBB", 64, 48, 0, 0, 0) + b"!\xf9" + b"\1a" * 3000
    for data in (
        png_of(64, 48, chunk(b"tEXt", b"") * 2000),
        b"\xff\xd8" + b"\xff\x01" * 2000,
        gif + b"\0;",
    ):
        with pytest.raises(PictureError, match="more than 1000 parts"):
            read_picture(data)


def test_wide_pixels_count_for_more() -> None:
    """Four bands of 64-bit floats take 32 bytes a pixel: a quarter of the pixels are allowed."""
    data = geotiff(np.zeros((4, 64, 64)), compress="deflate")
    assert read_picture(data, max_pixels=4 * 64 * 64).shape == (64, 64, 3)
    with pytest.raises(PictureError, match="64 x 64 px of 32 bytes"):
        read_picture(data, max_pixels=4 * 64 * 64 - 1)
    with (
        MemoryFile(data) as memory,
        memory.open() as dataset,
        pytest.raises(PictureError, match="of 32 bytes, more than"),
    ):
        read_picture(dataset, max_pixels=4 * 64 * 64 - 1)


def test_memory_is_a_small_multiple_of_the_picture() -> None:
    """What Python allocates; a whole copy as uint32 would take four times as much."""
    given = np.full((4096, 1024, 4), 30_000, dtype=np.uint16)
    tracemalloc.start()
    read_picture(given)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 1.2 * given.nbytes + 5e6


# --- paths and open files -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        "http://127.0.0.1:9/a.png",
        "file:///etc/hostname",
        "/vsicurl/http://127.0.0.1:9/a.tif",
        "/vsimem/a.tif",
        "/vsizip//etc/a.zip/a.png",
        "data:image/png;base64,AAAA",
        "a\nb",
        "x" * 5000,
        "\ud800",
        "",
        "/dev/zero",
        "/dev/full",
    ],
)
def test_a_name_is_a_file_of_this_machine(path: str) -> None:
    with pytest.raises(PictureError, match="cannot read the picture"):
        read_picture(path)


class Endless:
    """A file that never ends."""

    def read(self, size: int = -1) -> bytes:
        return bytes(size)


def test_a_file_without_end_is_given_up() -> None:
    with pytest.raises(PictureError, match="longer than"):
        read_picture(Endless(), max_pixels=1000)


@pytest.mark.skipif(not os.path.exists("/dev/fd"), reason="pipes have no names here")
def test_a_pipe_is_read_if_it_is_open_already(tmp_path: Path) -> None:
    """As a shell hands over the output of a command; one with a name is waited for in vain."""
    end, begin = os.pipe()

    def fill() -> None:
        with os.fdopen(begin, "wb") as file:
            file.write(encoded(".png", NOISE))

    threading.Thread(target=fill, daemon=True).start()
    np.testing.assert_array_equal(read_picture(f"/dev/fd/{end}"), NOISE)
    os.close(end)
    named = tmp_path / "pipe"
    os.mkfifo(named)
    with pytest.raises(PictureError, match="it is a pipe"):
        read_picture(named)


# --- arrays ---------------------------------------------------------------------------------------
def test_the_log_level_of_opencv_stays_as_it_was() -> None:
    logging: Any = getattr(cv2.utils, "logging", cv2)
    before = logging.getLogLevel()
    bad = encoded(".png", NOISE)[:-9] + bytes(9)

    def read() -> None:
        for _ in range(20):
            with pytest.raises(PictureError):
                read_picture(bad)

    threads = [threading.Thread(target=read) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert logging.getLogLevel() == before


SIZED = cv2.resize(NOISE, (77, 53))
CLAIMS = {
    "webp, lossy": pillow(SIZED, "WEBP"),
    "webp, lossless": pillow(SIZED, "WEBP", lossless=True),
    "webp, animated": pillow(SIZED, "WEBP", more=1),
    "gif": pillow(SIZED, "GIF"),
    "gif, grey": pillow(SIZED[:, :, 0], "GIF"),
    "tiff": pillow(SIZED, "TIFF"),
    "tiff, big": geotiff(np.moveaxis(SIZED, 2, 0), BIGTIFF="YES"),
    "tiff, other order": geotiff(np.moveaxis(SIZED, 2, 0), ENDIANNESS="BIG"),
    "jpeg": pillow(SIZED, "JPEG"),
    "jpeg, progressive": pillow(SIZED, "JPEG", progressive=True),
    "jpeg 2000": pillow(SIZED, "JPEG2000"),
    "bmp": pillow(SIZED, "BMP"),
    "ppm": pillow(SIZED, "PPM"),
    "avif": pillow(SIZED, "AVIF"),
}


@pytest.mark.parametrize("kind", CLAIMS)
def test_the_size_is_the_one_that_pillow_reads(kind: str) -> None:
    data = CLAIMS[kind]
    header = picture_headers.read_header(data)
    with Image.open(io.BytesIO(data)) as image:
        assert (header.width, header.height) == image.size == (77, 53)


def test_a_tiff_of_long_offsets_in_the_other_order() -> None:
    """Pillow cannot read these; GDAL, which wrote it, was told its size."""
    data = geotiff(np.moveaxis(SIZED, 2, 0), BIGTIFF="YES", ENDIANNESS="BIG")
    assert data.startswith(b"MM\0+")
    header = picture_headers.read_header(data)
    assert (header.width, header.height, header.bands, header.pixel_bytes) == (77, 53, 3, 3)
    np.testing.assert_array_equal(read_picture(data), SIZED)
