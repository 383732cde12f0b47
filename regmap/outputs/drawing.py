"""Drawing for the eye, with OpenCV alone: lines to a fraction of a pixel, lettering, colours.

Canvases are (H, W, 3) uint8 RGB arrays that are drawn upon in place. Points are (N, 2) px in the
corner convention of the picture frame: (0, 0) is the outer corner of the canvas, and the centre of
its first pixel is (0.5, 0.5). OpenCV counts from pixel centres; `fixed` is where that is put right.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator
from typing import TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray

from regmap.errors import RegmapError
from regmap.frames import PIXEL_CENTRE

__all__ = [
    "BLACK",
    "BLUE",
    "Colour",
    "Image",
    "ORANGE",
    "Plates",
    "WHITE",
    "box",
    "dashes",
    "encoded",
    "fixed",
    "pale",
    "plain",
    "plate",
    "ramp",
    "stroke",
    "text_width",
    "wrapped",
    "write",
]

Image: TypeAlias = NDArray[np.uint8]
Floats: TypeAlias = NDArray[np.float64]
Colour: TypeAlias = tuple[int, int, int]

BLACK: Colour = (0, 0, 0)
WHITE: Colour = (255, 255, 255)
# Two of the colours that Okabe and Ito proposed for readers with any kind of colour vision
# ("Color Universal Design", 2002; values from memory): vermilion and blue.
ORANGE: Colour = (213, 94, 0)
BLUE: Colour = (0, 114, 178)

_SHIFT = 6  # OpenCV draws at multiples of 1/64 px
_FAR = 1 << 20  # px; what lies farther out cannot be seen, and would overflow OpenCV's integers

# OpenCV 5 brings a font with most of the world's letters. OpenCV 4 has ASCII alone.
_FACE = cv2.FontFace("sans") if hasattr(cv2, "FontFace") else None


def fixed(points: Floats) -> NDArray[np.int32]:
    """Return corner-based px as OpenCV's fixed-point numbers, which count from pixel centres."""
    near = np.clip(points, -_FAR, _FAR)
    return np.rint((near - PIXEL_CENTRE) * (1 << _SHIFT)).astype(np.int32)


def stroke(
    canvas: Image,
    points: Floats,
    colour: Colour,
    width: int = 1,
    *,
    closed: bool = False,
    casing: Colour | None = None,
    casing_px: int = 1,
) -> None:
    """Draw a line through (N, 2) points, anti-aliased; `casing` sets it off from its ground."""
    line = [fixed(points).reshape(-1, 1, 2)]
    if casing is not None:
        around = width + 2 * casing_px
        cv2.polylines(canvas, line, closed, casing, around, cv2.LINE_AA, _SHIFT)
    cv2.polylines(canvas, line, closed, colour, width, cv2.LINE_AA, _SHIFT)


def dashes(ring: Floats, on_px: float, off_px: float) -> Iterator[Floats]:
    """Cut a closed ring (N, 2) into dashes of a length, as (2, 2) pieces that keep to one side."""
    for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        length = float(np.hypot(*(end - start)))
        if length == 0:
            continue
        count = max(1, round((length + off_px) / (on_px + off_px)))
        dash = min(length, length * on_px / (count * (on_px + off_px) - off_px))
        step = (length - dash) / max(count - 1, 1)
        for index in range(count):
            first = index * step / length
            yield start + np.array([[first], [first + dash / length]]) * (end - start)


def box(
    canvas: Image, left: float, top: float, width: float, height: float, colour: Colour
) -> None:
    """Fill an upright rectangle whose corners are rounded to whole pixels."""
    rows = slice(max(0, round(top)), max(0, round(top + height)))
    columns = slice(max(0, round(left)), max(0, round(left + width)))
    canvas[rows, columns] = colour


def plate(canvas: Image, left: float, top: float, width: float, height: float) -> None:
    """Lighten an upright rectangle, so that writing on it can be read on any ground."""
    rows = slice(max(0, round(top)), max(0, round(top + height)))
    columns = slice(max(0, round(left)), max(0, round(left + width)))
    canvas[rows, columns] = 255 - (255 - canvas[rows, columns].astype(np.uint16)) // 5


class Plates:
    """Words on pale plates upon a canvas, none over another."""

    def __init__(self, canvas: Image) -> None:
        self.canvas = canvas
        self._taken: list[tuple[float, float, float, float]] = []

    def write(
        self,
        text: str,
        x: float,
        y: float,
        *,
        size: int,
        height: float,
        colour: Colour = BLACK,
        lowest: float = math.inf,
    ) -> float:
        """Write a text about a middle (x, y), or as far below as other plates force it down.

        Nothing is written below `lowest`. Returns the height at which it stands, or would.
        """
        wide = text_width(text, size=size) + 8
        left = float(np.clip(x - wide / 2, 0, max(0, self.canvas.shape[1] - wide)))
        while any(
            left < right and left + wide > start and y - height / 2 < end and y + height / 2 > top
            for start, top, right, end in self._taken
        ):
            y += 4
        if y <= lowest:
            plate(self.canvas, left, y - height / 2, wide, height)
            write(self.canvas, text, left + 4, y + size / 3, size=size, colour=colour)
            self._taken.append((left, y - height / 2, left + wide, y + height / 2))
        return y


def pale(image: Image) -> Image:
    """Take half of the colour out of a picture and spread its greys over the light tones alone.

    Lines of any colour then stand out, on a dark picture as on a light one.
    """
    grey = image.astype(np.float32) @ np.array([0.299, 0.587, 0.114], np.float32)
    mixed = 0.5 * image + 0.5 * grey[..., None]
    low, high = (float(v) for v in np.percentile(grey, (1, 99)))
    if high - low < 40:  # nearly one tone: do not blow its noise up
        low, high = (low + high) / 2 - 20, (low + high) / 2 + 20
    return np.asarray(np.clip(120 + 135 * (mixed - low) / (high - low), 90, 255), dtype=np.uint8)


def encoded(rgb: Image) -> bytes:
    """Return an (H, W, 3) RGB picture as the bytes of a PNG file.

    Raises:
        RegmapError: if OpenCV cannot do it.
    """
    good, data = cv2.imencode(".png", np.ascontiguousarray(rgb[..., ::-1]))
    if not good:
        raise RegmapError("the picture cannot be encoded as PNG: is OpenCV whole?")
    return data.tobytes()


def ramp(share: Floats) -> Image:
    """Return the colours (..., 3) of shares (...) of 0 to 1: dark purple, teal, yellow.

    The scale is viridis (van der Walt and Smith, 2015), which grows evenly lighter, so that it can
    be read in grey and with any kind of colour vision. NaN is middle grey.
    """
    share = np.asarray(share, dtype=np.float64)
    level = np.rint(np.nan_to_num(np.clip(share, 0.0, 1.0)) * 255).astype(np.uint8)
    colours = cv2.applyColorMap(level.reshape(-1, 1), cv2.COLORMAP_VIRIDIS)
    rgb = np.ascontiguousarray(colours.reshape(-1, 3)[:, ::-1])
    rgb[np.isnan(share).ravel()] = 128
    return rgb.reshape(*share.shape, 3).astype(np.uint8)


def write(
    canvas: Image,
    text: str,
    left: float,
    baseline: float,
    *,
    size: int = 15,
    colour: Colour = BLACK,
    bold: bool = False,
) -> None:
    """Write one line of text from `left`, standing on `baseline`; `size` is in px.

    With OpenCV 4 letters outside ASCII are written as their nearest ASCII letters (see `plain`).
    """
    _put(canvas, text, (round(left), round(baseline)), size, colour, bold)


def text_width(text: str, *, size: int = 15, bold: bool = False) -> int:
    """Return the width in px that `write` takes for the text."""
    text = _legible(text)
    if _FACE is not None:
        return int(cv2.getTextSize((0, 0), text, (0, 0), _FACE, size, 700 if bold else 400)[2])
    font, scale = _hershey(size, bold)
    return int(cv2.getTextSize(plain(text), font, scale, 1)[0][0])


def wrapped(text: str, width: float, *, size: int = 15) -> list[str]:
    """Break a text into lines no wider than `width` px, at spaces."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size=size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def plain(text: str) -> str:
    """Return the text in ASCII: accents dropped, what has no ASCII letter written as a '?'."""
    apart = unicodedata.normalize("NFKD", text.translate(_NEAREST))
    bare = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return bare.encode("ascii", "replace").decode("ascii")


# Letters that Unicode does not take apart.
_NEAREST = str.maketrans(
    {"ß": "ss", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "æ": "ae", "Æ": "Ae", "đ": "d", "Đ": "D"}
    | {"þ": "th", "Þ": "Th", "ð": "d", "œ": "oe", "Œ": "Oe", "ı": "i", "–": "-", "—": "-"}
    | {"’": "'", "‘": "'", "“": '"', "”": '"', "±": "+-", "°": " deg", "×": "x", "·": "-"}
)


def _legible(text: str) -> str:
    """Take out what no font can draw. Half a surrogate pair would crash OpenCV 5."""
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return "".join(letter if letter.isprintable() else " " for letter in whole)


def _hershey(size: int, bold: bool) -> tuple[int, float]:
    """Return OpenCV 4's font and its scale: capitals are 21 px tall at scale 1."""
    return cv2.FONT_HERSHEY_DUPLEX if bold else cv2.FONT_HERSHEY_SIMPLEX, size / 33.0


def _put(
    canvas: Image, text: str, at: tuple[int, int], size: int, colour: Colour, bold: bool
) -> None:
    text = _legible(text)
    if _FACE is not None:
        cv2.putText(canvas, text, at, colour, _FACE, size, 700 if bold else 400)
    else:
        font, scale = _hershey(size, bold)
        cv2.putText(canvas, plain(text), at, font, scale, colour, 1, cv2.LINE_AA)
