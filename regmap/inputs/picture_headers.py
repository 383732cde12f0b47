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
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from regmap.errors import PictureError

__all__ = ["FORMATS", "Header", "pixels_alone", "read_header"]

FORMATS = ("PNG", "JPEG", "GIF", "BMP", "WebP", "TIFF", "JPEG 2000", "AVIF", "PNM")


MAX_PARTS = 1_000_000
"""Chunks, blocks or segments that are walked before a file counts as damaged."""


@dataclass(frozen=True)
class Header:
    """What a picture file claims.

    Attributes:
        format: one of `FORMATS`.
        width, height: in px.
        bands: of colours, None where not read.
        pixel_bytes: most that a pixel takes once decoded.
    """

    format: str
    width: int
    height: int
    bands: int | None = None
    pixel_bytes: int = 8


def read_header(data: bytes) -> Header:
    """Return format and size of an encoded picture; refuse what is unknown or cut off.

    Raises:
        PictureError: the format is none of `FORMATS`, its header is damaged, or (PNG, JPEG, GIF,
            WebP, BMP) the file ends early.
    """
    kind = _sniff(data)
    if kind is None:
        raise PictureError(_unknown(data))
    try:
        if kind == "TIFF":
            return _tiff(data)
        if kind == "JPEG 2000":
            return _jpeg2000(data)
        if kind == "BMP":
            return _bmp(data)
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
    if _is_text(data[:512]):
        return f"this is a text file, not a picture; allowed are {allowed}"
    return f"unknown picture format (it starts with {data[:8]!r}); allowed are {allowed}"


def _is_text(head: bytes) -> bool:
    # A letter that the end of the head cuts through is none the less one.
    text = head.decode("utf-8", "ignore")
    whole = len(text.encode("utf-8")) >= len(head) - 3
    return whole and all(letter.isprintable() or letter.isspace() for letter in text)


def _cut_off(kind: str) -> PictureError:
    return PictureError(f"the {kind} file is cut off: its end is missing; copy or export it again")


def _too_many(kind: str) -> PictureError:
    return PictureError(f"the {kind} file is damaged: it has more than {MAX_PARTS} parts")


# Chunks that say what the pixels are; the kinds and depths of colour that there are (table 12).
_PNG_PIXELS = frozenset((b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"))
_PNG_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}


def pixels_alone(data: bytes) -> bytes:
    """Return a PNG that `read_header` took, without the chunks that its pixels do not need.

    Notes and colour profiles may be packed, and unpack to anything; decoders that look at them
    also complain of them on the terminal.
    """
    chunks = list(_png_chunks(data))
    if all(kind in _PNG_PIXELS for kind, _, _ in chunks):
        return data
    view = memoryview(data)
    kept = [view[start:end] for kind, start, end in chunks if kind in _PNG_PIXELS]
    return b"".join([view[:8], *kept])


def _png(data: bytes) -> tuple[int, int]:
    width, height, depth, colour = struct.unpack(">IIBB", data[16:26])
    if depth not in _PNG_DEPTHS.get(colour, ()):
        raise PictureError(f"the PNG file is damaged: no PNG has {depth} bits of kind {colour}")
    kinds = [kind for kind, _, _ in _png_chunks(data)]
    if colour == 3 and b"PLTE" not in kinds:
        raise PictureError("the PNG file is damaged: the table of its colours is missing")
    return width, height


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Yield kind, start and end of each chunk; refuse what is cut off or damaged."""
    view = memoryview(data)
    at = 8
    for _ in range(MAX_PARTS):
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
        if (kind == b"IHDR") != (at == 8):
            raise PictureError("the PNG file is damaged: its header is not first, or not alone")
        yield kind, at, end
        if kind == b"IEND":
            return
        at = end
    raise _too_many("PNG")


MAX_SCANS = 40
"""Passes over the picture that a progressive JPEG may take; some 10 are common practice."""

_JPEG_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_JPEG_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]", re.DOTALL)


def _jpeg(data: bytes) -> tuple[int, int]:
    size: tuple[int, int] | None = None
    scans, huffman = 0, False
    at = 2
    for _ in range(MAX_PARTS):
        # Between segments, and after a scan's data, look for the next marker.
        found = _JPEG_MARKER.search(data, at)
        if found is None:
            raise _cut_off("JPEG")
        marker, at = data[found.start() + 1], found.end()
        if marker == 0xD9:
            if size is None:
                raise PictureError("the JPEG file is damaged: it has no frame header")
            if huffman and len(data) < size[0] * size[1] // 512:
                raise _cut_off("JPEG")
            return size
        if marker in (0x01, 0xD8):
            continue
        (length,) = struct.unpack(">H", data[at : at + 2])
        if marker in _JPEG_FRAMES and size is None:
            height, width = struct.unpack(">HH", data[at + 3 : at + 7])
            size = width, height
            # Each block of 8 x 8 pixels takes a bit at least in these kinds of coding.
            huffman = marker in (0xC0, 0xC1, 0xC2)
        scans += marker == 0xDA
        if scans > MAX_SCANS:
            raise PictureError(f"the JPEG file has more than {MAX_SCANS} scans; export it again")
        at += length
    raise _too_many("JPEG")


def _gif(data: bytes) -> tuple[int, int]:
    width, height, flags = struct.unpack("<HHB", data[6:11])
    at = 13 + (3 * 2 ** ((flags & 7) + 1) if flags & 0x80 else 0)
    parts = 0
    while at < len(data):
        block = data[at]
        if block == 0x2C:
            local = data[at + 9]
            at += 10 + (3 * 2 ** ((local & 7) + 1) if local & 0x80 else 0) + 1
        elif block == 0x21:
            at += 2
        else:
            raise PictureError("the GIF file is damaged, or has no picture in it")
        while at < len(data) and data[at] and parts < MAX_PARTS:
            at += 1 + data[at]
            parts += 1
        at += 1
        parts += 1
        if parts > MAX_PARTS:
            raise _too_many("GIF")
        if block == 0x2C and at <= len(data):
            return width, height  # the first picture is whole; more of them do not matter
    raise _cut_off("GIF")


def _bmp(data: bytes) -> Header:
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
    return Header("BMP", width, height, 3 if bits > 8 else None)


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


def _tiff(data: bytes) -> Header:
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
    # Width, height, bits and samples per pixel. Where a file says one twice, decoders disagree
    # about which one counts: the largest is the safe one.
    tags = {258: 1, 277: 1}
    for number in range(min(count, 4096)):
        entry = data[first + number * step : first + (number + 1) * step]
        tag, kind = struct.unpack(order + "HH", entry[:4])
        if tag in (256, 257, 258, 277):
            code, width = {1: ("B", 1), 3: ("H", 2), 4: ("I", 4), 16: ("Q", 8)}.get(kind, ("I", 4))
            (value,) = struct.unpack(order + code, entry[value_at : value_at + width])
            (many,) = struct.unpack(order + "I", entry[4:8]) if not big else (0,)
            if tag == 258 and many > 2:  # the bits of three bands and more stand elsewhere
                (value,) = struct.unpack(order + "I", entry[value_at : value_at + 4])
                (value,) = struct.unpack(order + "H", data[value : value + 2])
            tags[tag] = max(tags.get(tag, 0), value)
    if len(tags) < 4:
        raise PictureError("the TIFF file is damaged: it does not state its size")
    return Header("TIFF", tags[256], tags[257], tags[277], (tags[258] + 7) // 8 * tags[277])


def _jpeg2000(data: bytes) -> Header:
    # The boxes around the codestream state a size too, but decoders believe the codestream: its
    # first marker, SOC, is followed by SIZ. One in a box of notes may be there to mislead.
    width = height = bands = 0
    for number, found in enumerate(re.finditer(rb"\xff\x4f\xff\x51", data), start=1):
        if number > MAX_PARTS:
            raise _too_many("JPEG 2000")
        at = found.end()
        right, lower, left, upper = struct.unpack(">IIII", data[at + 4 : at + 20])
        (count,) = struct.unpack(">H", data[at + 36 : at + 38])
        width, height = max(width, right - left), max(height, lower - upper)
        bands = max(bands, count)
    if not bands:
        raise PictureError("the JPEG 2000 file is damaged: it has no codestream")
    return Header("JPEG 2000", width, height, bands, 4 * bands)  # decoded in 32 bits


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
    return min(int(words[1]), 2**32), min(int(words[2]), 2**32)


_READERS: dict[str, Callable[[bytes], tuple[int, int]]] = {
    "PNG": _png,
    "JPEG": _jpeg,
    "GIF": _gif,
    "WebP": _webp,
    "AVIF": _avif,
    "PNM": _pnm,
}
