"""Picture -> the same picture smaller, from the working size up to its own."""

from __future__ import annotations

from typing import TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray

Picture: TypeAlias = NDArray[np.uint8]
Level: TypeAlias = tuple[float, Picture]
"""Factor, px of the level per px of the picture; and the level (h, w, C)."""

# By how much more than asked a picture may be reduced, so that it is by whole pixels.
_HARDLY_LESS = 1.19
# A level in between is worth while where it is so many times finer than the working picture.
_FINER = 1.5


def pyramid(image: Picture, longest: int, *, small: int = 0) -> list[Level]:
    """The picture (H, W[, 3]) reduced to a longer side of at most `longest`, or hardly less; halves
    of it that are clearly finer; and the picture itself. One of a side up to `small` stays."""
    colour = image if image.ndim == 3 else image[:, :, None]
    side = max(colour.shape[:2])
    factor, shrink = _reduction(side, max(longest, side if side <= small else 0))
    halves: list[Level] = [(1.0, colour)]
    while 0.5 * halves[-1][0] >= _FINER * factor:
        halves.append((0.5 * halves[-1][0], _shrunk(halves[-1][1], 2)))
    if factor == 1.0:
        return [(1.0, np.ascontiguousarray(colour))]
    # Halving is many times quicker than any other reduction: what is reduced already is used.
    taken, start = next((n, part) for n, part in reversed(halves) if shrink % round(1.0 / n) == 0)
    working = _shrunk(start, round(shrink * taken))
    rest = factor * shrink
    if rest != 1.0:
        # One factor for both axes, exactly: a rounded size would stretch the picture by a part in a
        # thousand, which is half a pixel across a screen.
        working = _as_picture(
            cv2.resize(working, None, fx=rest, fy=rest, interpolation=cv2.INTER_AREA)
        )
    return [(factor, working), *reversed(halves)]


def reduced(level: Level, factor: float) -> Level:
    """A level reduced to a `factor` px of it per px of the picture, or itself."""
    share = factor / level[0]
    if share >= 1.0:
        return level
    image = cv2.resize(level[1], None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    return factor, _as_picture(image)


def _reduction(side: int, longest: int) -> tuple[float, int]:
    """The factor by which a side becomes `longest`, and by how many whole pixels that is: averaging
    blocks is many times quicker than weighing parts of pixels."""
    factor = min(1.0, longest / side)
    shrink = -(-side // longest)
    if shrink * factor > _HARDLY_LESS:
        return factor, shrink - 1
    return 1.0 / shrink, shrink


def _shrunk(image: Picture, times: int) -> Picture:
    """A picture (h, w, C) reduced by whole pixels; what is left over at its end is cut off."""
    height, width = (length // times for length in image.shape[:2])
    while times % 2 == 0:
        image, times = _area(image, width * times // 2, height * times // 2, 2), times // 2
    return _area(image, width, height, times)


def _area(image: Picture, width: int, height: int, times: int) -> Picture:
    if times == 1:
        return np.ascontiguousarray(image)
    whole = image[: height * times, : width * times]
    return _as_picture(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA))


def _as_picture(image: object) -> Picture:
    """What OpenCV gives, which leaves out a last axis of one."""
    picture = np.asarray(image, dtype=np.uint8)
    return np.ascontiguousarray(picture.reshape(*picture.shape[:2], -1))
