"""The colour gradient of a picture: the structure tensor summed over the channels (Di Zenzo, CVGIP
33(1), 1986), so that two colours of equal grey still have a border.

All of this is bound by memory, and goes some rows at a time.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

Single = NDArray[np.float32]

# The comparisons that bring the median of seven to the fourth place: pairs of places, and whether
# the lesser goes to the first, the greater to the second (Devillard, Fast median search, 1998).
_MEDIAN_OF_7 = (
    *(((0, 5), True, True), ((0, 3), True, True), ((1, 6), True, True), ((2, 4), True, True)),
    *(((0, 1), False, True), ((3, 5), True, True), ((2, 6), True, True), ((2, 3), False, True)),
    *(((3, 6), True, False), ((4, 5), True, False), ((1, 4), True, True), ((1, 3), False, True)),
    ((3, 4), True, False),
)
# Rows that are worked on at a time, so that they stay in the processor's cache.
_STRIP = 64


def structure(image: NDArray[np.uint8]) -> tuple[Single, Single, Single]:
    """Of the strongest colour change at each pixel of a picture (h, w, C): how strong it is, grey
    levels per px, and cosine and sine of twice its angle: a border has no sign."""
    # Apart from each other: the first lives on when the others are done with.
    found = [np.empty(image.shape[:2], dtype=np.float32) for _ in range(3)]
    for rows, (strength, apart, twice_xy, root) in _strips(image):
        np.maximum(root, np.float32(1e-12), out=root)
        found[0][rows] = strength
        np.divide(apart, root, out=found[1][rows])
        np.divide(twice_xy, root, out=found[2][rows])
    return found[0], found[1], found[2]


def _strips(image: NDArray[np.uint8]) -> Iterator[tuple[slice, list[Single]]]:
    """What `_tensor` gives, some rows at a time, and which rows these are."""
    height = len(image)
    for top in range(0, height, _STRIP):
        # Two rows are smoothed over, and one more is a neighbour.
        end, above = min(top + _STRIP, height), max(top - 3, 0)
        own = slice(top - above, end - above)
        yield slice(top, end), [part[own] for part in _tensor(image[above : end + 3])]


def _tensor(image: NDArray[np.uint8]) -> tuple[Single, Single, Single, Single]:
    """Of the structure tensor at each pixel of a picture (h, w, C): the root of its larger
    eigenvalue, the difference of its diagonal, twice the other element, and how long the two are
    together."""
    smooth = cv2.GaussianBlur(image, (0, 0), 0.7)
    # Channel by channel, summed in place: this is bound by memory.
    sums: list[Single] = []
    for channel in cv2.split(smooth):
        dx = cv2.Scharr(channel, cv2.CV_32F, 1, 0, scale=1 / 32)
        dy = cv2.Scharr(channel, cv2.CV_32F, 0, 1, scale=1 / 32)
        if not sums:
            sums = [dx * dx, dy * dy, dx * dy]
            continue
        cv2.accumulateSquare(dx, sums[0])
        cv2.accumulateSquare(dy, sums[1])
        cv2.accumulateProduct(dx, dy, sums[2])
    xx, yy, twice_xy = sums
    twice_xy *= 2.0
    apart = xx - yy
    # Not OpenCV's magnitude, whose last bit depends on where in memory the arrays lie.
    root = apart * apart
    root += twice_xy * twice_xy
    np.sqrt(root, out=root)
    xx += yy
    xx += root
    xx *= 0.5
    return np.sqrt(xx, out=xx), apart, twice_xy, root


def strength_of(image: NDArray[np.uint8]) -> Single:
    """The first of what `structure` gives alone."""
    found = np.empty(image.shape[:2], dtype=np.float32)
    for rows, (strength, *_) in _strips(image):
        found[rows] = strength
    return found


def colour_gradient(image: NDArray[np.uint8]) -> tuple[Single, Single]:
    """(dx, dy) along the strongest colour change, grey levels per px; the sign is arbitrary."""
    return halved(*structure(image))


def halved(strength: Single, twice_cos: Single, twice_sin: Single) -> tuple[Single, Single]:
    """(x, y) of vectors of this length, from cosine and sine of twice their angle."""
    half = np.float32(0.5)
    x = half * twice_cos
    y = half - x
    x += half
    for part in (x, y):
        np.maximum(part, 0.0, out=part)
        np.sqrt(part, out=part)
        part *= strength
    return x, np.copysign(y, twice_sin, out=y)


def without_thin_lines(image: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A picture (h, w, C) in which lines of up to 3 px are gone, and the borders of areas not: the
    median of seven pixels of a column, and of seven of those in a row.

    The median of a square costs many times more, and rounds corners.
    """
    height, width = image.shape[:2]
    rim = np.asarray(cv2.copyMakeBorder(image, 3, 3, 3, 3, cv2.BORDER_REPLICATE), dtype=np.uint8)
    wide = rim.reshape(height + 6, width + 6, -1)
    calm = np.empty_like(image)
    for top in range(0, height, _STRIP):
        end = min(top + _STRIP, height)
        rows = _median_of_7([wide[top + n : end + n] for n in range(7)])
        calm[top:end] = _median_of_7([rows[:, n : width + n] for n in range(7)])
    return calm


def _median_of_7(values: list[NDArray[np.uint8]]) -> NDArray[np.uint8]:
    for (first, second), lesser, greater in _MEDIAN_OF_7:
        a, b = values[first], values[second]
        if lesser:
            values[first] = np.minimum(a, b)
        if greater:
            values[second] = np.maximum(a, b)
    return values[3]
