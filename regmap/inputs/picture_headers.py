"""What the first bytes of a picture file say, before anything is decoded.

A file of a few hundred bytes can claim 60,000 x 60,000 pixels, and a decoder would believe it. So
the claimed size is read here first. Decoders also differ in what they do with a file that was cut
off: some give grey rows and no error. So PNG, JPEG and GIF are walked to their end mark.

Sources: PNG (W3C, third edition, sections 5 and 11), JPEG (ITU-T T.81, annex B), GIF89a
specification, TIFF 6.0 (section 2), RFC 9649 (WebP), ISO/IEC 15444-1 annex I (JPEG 2000), ISO/IEC
23008-12 (`ispe`, AVIF), the Netpbm manual (PNM).
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass

from regmap.errors import PictureError

__all__ = ["FORMATS", "Header", "read_header"]

FORMATS = ("PNG", "JPEG", "GIF", "BMP", "WebP", "TIFF", "JPEG 2000", "AVIF", "PNM")


@dataclass(frozen=True)
class Header:
    """Format, claimed size in px, and number of bands of a picture file (None where not read)."""

    format: str
    width: int
    height: int
    bands: int | None = None


def read_header(data: bytes) -> Header:
    """Return format and size of an encoded picture; refuse what is unknown or cut off.

    Raises
    ------
    PictureError
        The format is none of `FORMATS`, its header is damaged, or (PNG, JPEG, GIF, WebP, BMP) the
        file ends early.
    """
    kind = _sniff(data)
    if kind is None:
        raise PictureError(_unknown(data))
    try:
        if kind == "TIFF":
            return Header(kind, *_tiff(data))
        width, height = _READERS[kind](data)
    except (struct.error, IndexError, ValueError) as error:
        if isinstance(error, PictureError):
            raise
        raise PictureError(f"the {kind} header is damaged or cut off ({error})") from error
    return Header(kind, width, height)


def _sniff(data: bytes) -> str | None:
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if data.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if data[:6] in (b"GIF87a", b"GIF89a"):
        return "GIF"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WebP"
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "TIFF"
    if data[:12] == b"\0\0\0\x0cjP  \r\n\x87\n" or data[:4] == b"\xff\x4f\xff\x51":
        return "JPEG 2000"
    if data[4:8] == b"ftyp" and re.search(rb"avi[fs]", data[8:64]):
        return "AVIF"
    if data[:2] == b"BM":
        return "BMP"
    if re.match(rb"P[1-6]\s", data):
        return "PNM"
    return None


def _unknown(data: bytes) -> str:
    allowed = ", ".join(FORMATS)
    if not data:
        return "the picture file is empty"
    head = data[:512].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith((b"<svg", b"<?xml", b"%pdf", b"<!doctype svg")):
        return f"this is a drawing of lines (SVG or PDF), not of pixels; export it as {allowed}"
    if head.startswith((b"<html", b"<!doctype html", b"{")):
        return f"this is a text file, not a picture; allowed are {allowed}"
    return f"unknown picture format (it starts with {data[:8]!r}); allowed are {allowed}"


def _cut_off(kind: str) -> PictureError:
    return PictureError(f"the {kind} file is cut off: its end is missing; copy or export it again")


def _png(data: bytes) -> tuple[int, int]:
    width, height = struct.unpack(">II", data[16:24])
    view = memoryview(data)
    at = 8
    while True:
        if at + 12 > len(data):
            raise _cut_off("PNG")
        (length,) = struct.unpack(">I", data[at : at + 4])
        end = at + 12 + length
        if end > len(data):
            raise _cut_off("PNG")
        kind = data[at + 4 : at + 8]
        (crc,) = struct.unpack(">I", data[end - 4 : end])
        if kind in (b"IHDR", b"PLTE", b"IDAT") and zlib.crc32(view[at + 4 : end - 4]) != crc:
            raise PictureError(f"the PNG file is damaged: checksum of {kind.decode()} is wrong")
        if kind == b"IEND":
            return width, height
        at = end


_JPEG_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_JPEG_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]", re.DOTALL)


def _jpeg(data: bytes) -> tuple[int, int]:
    size: tuple[int, int] | None = None
    at = 2
    while True:
        # Between segments, and after a scan's data, look for the next marker.
        found = _JPEG_MARKER.search(data, at)
        if found is None:
            raise _cut_off("JPEG")
        marker, at = data[found.start() + 1], found.end()
        if marker == 0xD9:
            break
        if marker in (0x01, 0xD8):
            continue
        (length,) = struct.unpack(">H", data[at : at + 2])
        if marker in _JPEG_FRAMES and size is None:
            height, width = struct.unpack(">HH", data[at + 3 : at + 7])
            size = width, height
        at += length
    if size is None:
        raise PictureError("the JPEG file is damaged: it has no frame header")
    return size


def _gif(data: bytes) -> tuple[int, int]:
    width, height, flags = struct.unpack("<HHB", data[6:11])
    at = 13 + (3 * 2 ** ((flags & 7) + 1) if flags & 0x80 else 0)
    while at < len(data):
        block = data[at]
        if block == 0x2C:
            local = data[at + 9]
            at += 10 + (3 * 2 ** ((local & 7) + 1) if local & 0x80 else 0) + 1
        elif block == 0x21:
            at += 2
        else:
            raise PictureError("the GIF file is damaged, or has no picture in it")
        while at < len(data) and data[at]:
            at += 1 + data[at]
        at += 1
        if block == 0x2C and at <= len(data):
            return width, height  # the first picture is whole; more of them do not matter
    raise _cut_off("GIF")


def _bmp(data: bytes) -> tuple[int, int]:
    (start, header) = struct.unpack("<II", data[10:18])
    if header == 12:
        width, height, _, bits = struct.unpack("<HHHH", data[18:26])
        packing = 0
    else:
        width, height, _, bits, packing = struct.unpack("<iiHHI", data[18:34])
    height = abs(height)
    rows = (width * bits + 31) // 32 * 4 * height
    if packing in (0, 3) and len(data) < start + rows:
        raise _cut_off("BMP")
    return width, height


def _webp(data: bytes) -> tuple[int, int]:
    (length,) = struct.unpack("<I", data[4:8])
    if len(data) < length + 8:
        raise _cut_off("WebP")
    kind = data[12:16]
    if kind == b"VP8X":
        return (
            1 + int.from_bytes(data[24:27], "little"),
            1 + int.from_bytes(data[27:30], "little"),
        )
    if kind == b"VP8L":
        (bits,) = struct.unpack("<I", data[21:25])
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    width, height = struct.unpack("<HH", data[26:30])
    return width & 0x3FFF, height & 0x3FFF


def _tiff(data: bytes) -> tuple[int, int, int]:
    order = "<" if data[:2] == b"II" else ">"
    big = data[2:4] in (b"+\0", b"\0+")
    if big:
        (start,) = struct.unpack(order + "Q", data[8:16])
        (count,) = struct.unpack(order + "Q", data[start : start + 8])
        first, step, value_at = start + 8, 20, 12
    else:
        (start,) = struct.unpack(order + "I", data[4:8])
        (count,) = struct.unpack(order + "H", data[start : start + 2])
        first, step, value_at = start + 2, 12, 8
    tags = {277: 1}  # width, height, and samples per pixel
    for number in range(min(count, 4096)):
        entry = data[first + number * step : first + (number + 1) * step]
        tag, kind = struct.unpack(order + "HH", entry[:4])
        if tag in (256, 257, 277):
            code, width = {3: ("H", 2), 4: ("I", 4), 16: ("Q", 8)}.get(kind, ("I", 4))
            (tags[tag],) = struct.unpack(order + code, entry[value_at : value_at + width])
    if len(tags) < 3:
        raise PictureError("the TIFF file is damaged: it does not state its size")
    return tags[256], tags[257], tags[277]


def _jpeg2000(data: bytes) -> tuple[int, int]:
    if data[:4] == b"\xff\x4f\xff\x51":
        right, lower, left, upper = struct.unpack(">IIII", data[8:24])
        return right - left, lower - upper
    at = data.index(b"ihdr") + 4
    height, width = struct.unpack(">II", data[at : at + 8])
    return width, height


def _avif(data: bytes) -> tuple[int, int]:
    sizes = [
        struct.unpack(">II", data[found.end() + 4 : found.end() + 12])
        for found in re.finditer(rb"ispe", data[:65536])
    ]
    if not sizes:
        raise PictureError("the AVIF file is damaged: it does not state its size")
    width, height = max(sizes, key=lambda size: size[0] * size[1])
    return width, height


def _pnm(data: bytes) -> tuple[int, int]:
    words = re.sub(rb"#[^\n]*\n?", b"", data[:4096]).split(maxsplit=3)
    return int(words[1]), int(words[2])


_READERS: dict[str, Callable[[bytes], tuple[int, int]]] = {
    "PNG": _png,
    "JPEG": _jpeg,
    "GIF": _gif,
    "BMP": _bmp,
    "WebP": _webp,
    "JPEG 2000": _jpeg2000,
    "AVIF": _avif,
    "PNM": _pnm,
}
