"""Arrays of pixels of any kind -> uint8, RGB or grey.

Whatever needs room is done in strips of rows, so that a large picture takes little more memory than
it has itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regmap.errors import PictureError

__all__ = ["MAX_ASPECT", "MAX_SIDE", "MIN_SIDE", "check_sides", "eight_bit", "strips"]

MIN_SIDE = 8
"""Fewest pixels along either side."""

MAX_SIDE = 32_766
"""Most pixels along either side: OpenCV counts places in a picture in 16 bits (cv2.remap)."""

MAX_ASPECT = 100
"""Most that a picture may be longer than it is wide, or wider than long."""

_STRIP = 2**20

Pixels = NDArray[np.uint8]
Hidden = NDArray[np.bool_]


def check_sides(width: int, height: int) -> None:
    """Refuse a picture that is too small, too long or too narrow."""
    if min(width, height) < MIN_SIDE:
        raise PictureError(
            f"the picture is {width} x {height} px; at least {MIN_SIDE} x {MIN_SIDE} are needed"
        )
    if max(width, height) > MAX_SIDE:
        raise PictureError(
            f"the picture is {width} x {height} px; at most {MAX_SIDE} along a side are taken; "
            "shrink it"
        )
    if max(width, height) > MAX_ASPECT * min(width, height):
        raise PictureError(
            f"the picture is {width} x {height} px, a strip more than {MAX_ASPECT} times as long "
            "as wide; cut the floor out of it"
        )


def strips(pixels: NDArray[Any]) -> Iterator[slice]:
    """Yield slices of rows that hold about a million pixels each."""
    height, width = pixels.shape[:2]
    step = max(1, _STRIP // max(width, 1))
    for start in range(0, height, step):
        yield slice(start, start + step)


def eight_bit(pixels: NDArray[Any], what: str, hidden: NDArray[Any] | None = None) -> Pixels:
    """Return an (H, W) grey or (H, W, 3) RGB array of an array (H, W) or (H, W, 1 to 4), which is
    that array itself where it is of that kind already.

    Bands may come first. Transparent pixels are laid over white, and `hidden` ones are white,
    whatever they hold; that is True where so, of the shape of `pixels` or (H, W).

    Raises:
        PictureError: if shape, kind or range of the numbers is none of a picture.
    """
    pixels, hidden = _upright(pixels, what, hidden)
    check_sides(pixels.shape[1], pixels.shape[0])
    if pixels.dtype.kind not in "biuf":
        raise PictureError(
            f"{what}: an array of {pixels.dtype} came; give uint8, uint16, bool or floats"
        )
    bands = pixels.shape[2]
    colours = bands - 1 if bands in (2, 4) else bands
    if pixels.dtype == np.uint8 and colours == bands and hidden is None:
        same = np.ascontiguousarray(pixels)
        return same if colours == 3 else same[:, :, 0]
    high = _range(pixels[:, :, :colours], what, hidden)
    # With an alpha of 0 to 1, floats may run to 255 all the same.
    alpha_high = _range(pixels[:, :, colours:], what, hidden) if colours < bands else 0.0
    if pixels.dtype.kind != "f":
        high = alpha_high = max(high, alpha_high)
    result = np.empty((*pixels.shape[:2], colours), dtype=np.uint8)
    for rows in strips(pixels):
        unseen = None if hidden is None else hidden[rows]
        result[rows] = _scaled(pixels[rows, :, :colours], high, unseen)
        if colours < bands:
            _lay_over_white(result[rows], _scaled(pixels[rows, :, colours:], alpha_high, unseen))
        if unseen is not None:
            result[rows][unseen] = 255
    return result if colours == 3 else result[:, :, 0]


def _upright(
    pixels: NDArray[Any], what: str, hidden: NDArray[Any] | None
) -> tuple[NDArray[Any], Hidden | None]:
    """Pixels as (H, W, C), and the hidden ones as (H, W)."""
    given = pixels.shape
    if pixels.size == 0 or pixels.ndim not in (2, 3):
        raise PictureError(f"{what}: an array of shape {given} came; give (H, W) or (H, W, 1 to 4)")
    if pixels.ndim == 2:
        pixels = pixels[:, :, None]
    elif given[2] > 4 and given[0] <= 4:
        pixels = np.moveaxis(pixels, 0, -1)
        hidden = np.moveaxis(hidden, 0, -1) if hidden is not None and hidden.ndim == 3 else hidden
    if pixels.shape[2] > 4:
        raise PictureError(
            f"{what}: an array of shape {given} came; give (H, W) or (H, W, 1 to 4): grey, "
            "grey and alpha, RGB or RGBA"
        )
    if hidden is not None and hidden.ndim == 3:
        return pixels, np.asarray(hidden.any(axis=2))
    return pixels, hidden


def _range(pixels: NDArray[Any], what: str, hidden: Hidden | None) -> float:
    """The largest number, once all are known to be those of a picture."""
    if pixels.dtype.kind == "b" or pixels.dtype == np.uint8:
        return 255.0
    lows: list[float] = []
    highs: list[float] = []
    for rows in strips(pixels):
        seen = pixels[rows] if hidden is None else pixels[rows][~hidden[rows]]
        if seen.size:
            lows.append(float(seen.min()))
            highs.append(float(seen.max()))
    if not np.isfinite([lows, highs]).all():
        raise PictureError(
            f"{what}: it has NaN or infinite pixels; give them a colour first (white, say)"
        )
    low, high = min(lows, default=0.0), max(highs, default=0.0)
    if low < -1e-3 or high > (255.5 if pixels.dtype.kind == "f" else 65535):
        raise PictureError(
            f"{what}: its numbers run from {low:g} to {high:g}; allowed are 0 to 255, 0 to 65535 "
            "in whole numbers, or 0 to 1 in floating point; scale them first"
        )
    return high


def _scaled(pixels: NDArray[Any], high: float, hidden: Hidden | None) -> Pixels:
    """Numbers up to `high` as 8 bits."""
    kind = pixels.dtype.kind
    if pixels.dtype == np.uint8:
        return pixels
    if kind == "b":
        return pixels.astype(np.uint8) * np.uint8(255)
    if hidden is not None:
        pixels = np.where(hidden[:, :, None], pixels.dtype.type(0), pixels)
    if kind == "f":
        scale = 255.0 if high <= 1.001 else 1.0
        return np.clip(np.rint(pixels * scale), 0, 255).astype(np.uint8)
    if high <= 255:
        return pixels.astype(np.uint8)
    return ((pixels.astype(np.uint32) + 128) // 257).astype(np.uint8)  # 65535 is 255 times 257


def _lay_over_white(colour: Pixels, alpha: Pixels) -> None:
    if alpha.min() == 255:
        return
    share = alpha.astype(np.uint16)
    sum_ = colour * share + np.uint16(255) * (np.uint16(255) - share) + np.uint16(127)
    # The sum over 255, rounded down: exact for all that 16 bits hold.
    colour[:] = (sum_ + np.uint16(1) + (sum_ >> 8)) >> 8
