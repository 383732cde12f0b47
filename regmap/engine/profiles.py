"""Colour profiles across walls: the picture read along the outlines' normals, sub-pixel.

Many samples of one wall share one profile (a chunk): print, paths and noise average out along a
wall, and the walls' own edge stays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from .walls import Samples

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]
Real = TypeVar("Real", Floats, Single)
Averages = Callable[[Single], Single]

_BLUR = 0.9
# Places whose colours are read at a time.
_AT_A_TIME = 12_000
# Grey levels within which two points show the same colour, and the share of a room's points that
# must show a colour for it to be one of the room's.
_ALIKE = 10.0
_SHARED = 0.25
# px beyond which a colour that stays away is no thin line's.
_LINE = 5.0
# What a thin line upon a room is worth, against a border behind which the room's colour stays away:
# where all walls are thin lines, all are worth that, and nothing changes.
_LINE_WORTH = np.float32(0.3)
# How many times as far off as usual the colour before a border may be, to be the room's own.
_STILL = np.float32(3.0)


@dataclass(frozen=True, eq=False)
class Chunks:
    """Runs of neighbouring samples of one wall.

    `first` (Q,) index of each run's first sample; `wall` (Q,) the number of the straight or gently
    bent wall; `piece`, `room`, `count` (Q,) the piece of the outlines, the room, how many samples;
    `weight` (Q,) length in own units.
    """

    first: Ints
    wall: Ints
    piece: Ints
    room: Ints
    count: Ints
    weight: Floats

    def only(self, few: Ints) -> Chunks:
        """Those of the numbers `few`, no longer in a row."""
        return Chunks(*(getattr(self, part.name)[few] for part in fields(self)))


def chunk_samples(samples: Samples, bend: Ints, size: int) -> Chunks:
    """Groups consecutive samples of a wall, straight or bent, into runs of about `size`.

    `bend` (E,): for each piece of the outlines the number of the wall that it belongs to.
    """
    wall = bend[samples.wall]
    new_wall = np.concatenate([[True], wall[1:] != wall[:-1]])
    start = np.nonzero(new_wall)[0]
    count = np.diff(np.append(start, len(wall)))
    pieces = np.maximum(np.rint(count / size).astype(np.int64), 1)
    owner = np.repeat(np.arange(len(start)), pieces)
    within = np.arange(len(owner)) - (np.cumsum(pieces) - pieces)[owner]
    first = start[owner] + (within * count[owner]) // pieces[owner]
    each = np.diff(np.append(first, len(wall)))
    weight = np.add.reduceat(samples.weight, first)
    return Chunks(first, wall[first], samples.wall[first], samples.room[first], each, weight)


def read_colours(image: NDArray[np.uint8], points: Floats) -> Single:
    """Bilinear colours (..., C) of an image (H, W, C) at points (..., 2), corner convention.

    Own arithmetic: OpenCV's remap rounds positions to 1/32 px, which a whole axis-parallel wall
    would share.
    """
    return _read(image, points[..., 0] - 0.5, points[..., 1] - 0.5)


def _read(image: NDArray[np.uint8], x: Floats, y: Floats) -> Single:
    """As `read_colours`, at places (...) that count from the first pixel's centre; some rows of
    them at a time, which stay in the processor's cache."""
    colours = np.empty((*x.shape, image.shape[2]), dtype=np.float32)
    rows = max(_AT_A_TIME * len(x) // max(x.size, 1), 1)
    for first in range(0, len(x), rows):
        some = slice(first, first + rows)
        _read_into(colours[some], image, x[some], y[some])
    return colours


def _read_into(colours: Single, image: NDArray[np.uint8], x: Floats, y: Floats) -> None:
    height, width, channels = image.shape
    x, y = x.clip(0.0, width - 1.001), y.clip(0.0, height - 1.001)
    column, row = np.trunc(x), np.trunc(y)
    fx, fy = (x - column).astype(np.float32), (y - row).astype(np.float32)
    flat = image.reshape(-1)
    index = ((row * width + column) * channels).astype(np.int64)
    right = channels if width > 1 else 0
    down = width * channels if height > 1 else 0
    # Channel by channel: arithmetic along an axis of three is slow.
    for number in range(channels):
        corners = (number, right + number, down + number, down + right + number)
        a, b, c, d = (flat[place:].take(index).astype(np.float32) for place in corners)
        for first, second in ((a, b), (c, d)):
            second -= first
            second *= fx
            first += second
        c -= a
        c *= fy
        a += c
        colours[..., number] = a


def normal_profiles(
    image: NDArray[np.uint8],
    point: Floats,
    normal: Floats,
    *,
    half: float,
    step: float,
    exact: bool,
) -> tuple[Single, Floats]:
    """Colours (M, K, C) along normals through points (M, 2), and the K offsets in px (outward).

    `exact` False reads through OpenCV, whose positions are rounded to 1/32 px: enough on the way.
    """
    number = int(np.ceil(half / step))
    offset = np.arange(-number, number + 1, dtype=np.float64) * step
    if exact:
        lines = _along(point - 0.5, normal, offset)
        return _read(image, *lines), offset
    x, y = _along(*(v.astype(np.float32) for v in (point - 0.5, normal, offset)))
    values = cv2.remap(image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return values.reshape(*x.shape, -1).astype(np.float32), offset


def _along(start: Real, run: Real, offset: Real) -> tuple[Real, Real]:
    """x and y (M, K) of places on lines through points (M, 2) along runs (M, 2)."""
    x, y = (start[:, axis, None] + run[:, axis, None] * offset for axis in (0, 1))
    return x, y


def _length(channels: Sequence[Single]) -> Single:
    """C times (...) -> (...): Euclidean length."""
    total = channels[0] ** 2
    for channel in channels[1:]:
        total += channel**2
    return np.sqrt(total)


def averages(chunks: Chunks, weight: Single) -> Averages:
    """What takes values (M, K) of samples to their means (Q, K) over chunks, by weights (M,)."""
    total = np.maximum(np.add.reduceat(weight, chunks.first), np.float32(1e-6))
    share = weight / np.repeat(total, chunks.count)
    start = np.append(chunks.first, len(weight))
    means = csr_array((share, np.arange(len(weight)), start), shape=(len(total), len(weight)))
    return lambda values: np.asarray(means @ values, dtype=np.float32)


def edge_response(
    profile: Single, average: Averages, count: Ints, *, step: float
) -> tuple[Single, Single, Single]:
    """Strength of the colour step (Q, K) along each chunk's mean profile, grey levels per px; its
    coherence (Q, K): 1 where all samples of the chunk step alike, near 0 in print and noise; and
    the error (Q, K) of the strength, a standard deviation, as the `count` (Q,) samples of the chunk
    scatter: that of Student's t, so that three samples or fewer say nothing."""
    reach = int(np.ceil(3.0 * _BLUR / step))
    t = np.arange(-reach, reach + 1) * step
    kernel = -t / _BLUR**2 * np.exp(-0.5 * (t / _BLUR) ** 2)
    kernel *= -1.0 / float(np.sum(kernel * t))
    slope = cv2.filter2D(
        profile, cv2.CV_32F, -kernel.astype(np.float32)[None], borderType=cv2.BORDER_REPLICATE
    )
    channels = [np.asarray(channel, dtype=np.float32) for channel in cv2.split(slope)]
    strength = _length([average(channel) for channel in channels])
    typical = average(_length(channels))
    # By how far they step apart, not how far: print upon some of them may step more than a border.
    scatter = np.maximum(typical**2 - strength**2, np.float32(0.0))
    spare = np.maximum(count - 3, 0).astype(np.float32)[:, None]
    error = np.where(spare > 0, np.sqrt(scatter / np.maximum(spare, 1)), np.float32(np.inf))
    return strength, np.asarray(strength / np.maximum(typical, 1e-6), dtype=np.float32), error


@dataclass(frozen=True, eq=False)
class Paint:
    """Rooms as the picture shows them, grey levels: `colour` (R, C), a `second` one (R, C) where a
    good part of the room has it (a marked area lies on it), else the same, and the `spread` (R,)
    about them; `grain`, by how much they vary where nothing lies upon the rooms."""

    colour: Single
    second: Single
    spread: Single
    grain: float


def room_paint(image: NDArray[np.uint8], points: Floats) -> Paint:
    """The prevailing colour of each room from points inside it, (R, N, 2) px."""
    height, width = image.shape[:2]
    x, y = points[..., 0], points[..., 1]
    seen = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    colours = read_colours(image, points)
    colours[~seen] = np.nan
    empty = ~seen.any(axis=1)
    # A room outside the picture has no colour: whatever is asked of it differs from nothing.
    colours[empty] = 0.0
    # Print and paths may cover up to half of the points: the median looks through them, and the
    # median distance from it measures the texture.
    colour, second = _two_colours(colours, _median(colours))
    away = np.fmin(_distance(colours, colour[:, None]), _distance(colours, second[:, None]))
    spread = _median(away[..., None])[:, 0]
    spread[empty] = 255.0
    return Paint(
        colour.astype(np.float32),
        second.astype(np.float32),
        spread.astype(np.float32),
        _grain(away[~empty]),
    )


def _grain(away: Single) -> float:
    """Grey levels from the room's colour of the nearer quarter of points, `away` (R, N), of a usual
    room: paths and print may cover most of a room, and that quarter still shows bare floor."""
    if not len(away):
        return 255.0
    order = np.sort(away, axis=1)
    quarter = np.isfinite(order).sum(axis=1) // 4
    return float(np.median(order[np.arange(len(order)), quarter]))


def _median(values: Single) -> Single:
    """(R, N, C) -> (R, C): medians over those of the N that are not nan; nan where all are."""
    # Nan sorts last.
    order = np.sort(values, axis=1)
    last = np.maximum(np.isfinite(values).sum(axis=1, keepdims=True) - 1, 0)
    middle = [np.take_along_axis(order, place, axis=1) for place in (last // 2, (last + 1) // 2)]
    return np.asarray(0.5 * (middle[0] + middle[1]), dtype=np.float32)[:, 0]


def _two_colours(colours: Single, middle: Single) -> tuple[Single, Single]:
    """The colours (R, C) that most points (R, N, C) of a room share, and that most of the others
    share; `middle` (R, C) stands for what is not there."""
    left = np.isfinite(colours[..., 0])
    known = np.where(left[..., None], colours, 0.0)
    square = (known**2).sum(axis=2)
    # By products: there are a thousand pairs in every room.
    apart = square[:, :, None] + square[:, None] - 2.0 * (known @ known.transpose(0, 2, 1))
    alike = apart < known.shape[2] * _ALIKE**2
    least = _SHARED * left.sum(axis=1)
    rooms = np.arange(len(colours))
    found: list[Single] = []
    for fallback in (middle, None):
        votes = (alike.astype(np.float32) @ left[..., None].astype(np.float32))[..., 0] * left
        best = np.argmax(votes, axis=1)
        chosen = alike[rooms, best] & left
        count = chosen.sum(axis=1)
        mean = (known * chosen[..., None]).sum(axis=1)
        mean = mean / np.maximum(count, 1)[:, None]
        usual = found[0] if fallback is None else fallback
        found.append(np.where((count >= np.maximum(least, 1.0))[:, None], mean, usual))
        left = left & ~chosen
    return np.asarray(found[0], dtype=np.float32), np.asarray(found[1], dtype=np.float32)


def _distance(first: Single, second: Single) -> Single:
    """(..., C) and (..., C) -> (...): root of the mean square over the channels."""
    channels = first.shape[-1]
    apart = [first[..., n] - second[..., n] for n in range(channels)]
    return _length(apart) / np.float32(np.sqrt(channels))


def room_ends(
    profile: Single, chunks: Chunks, average: Averages, paint: Paint, room: Ints, *, step: float
) -> tuple[Single, Single]:
    """(Q, K) 0..1: how well each place is where the room's own colour ends, seen from inside; and
    (Q, K) 0..1: how much less that is worth where a thin line upon the room, or in the next one, is
    all there is."""
    away = _distance(profile, paint.colour[room][:, None])
    two = (paint.second != paint.colour).any(axis=1)[room]
    if two.any():
        other = _distance(profile[two], paint.second[room[two]][:, None])
        away[two] = np.minimum(away[two], other)
    mean = average(away)
    near, far = round(1.0 / step), round(3.0 / step)
    side = np.zeros((1, 2 * far + 1), dtype=np.float32)
    side[:, : far - near + 1] = 1.0
    rim = cv2.BORDER_REPLICATE
    inside = cv2.filter2D(mean, cv2.CV_32F, side / side.sum(), borderType=rim)
    behind = cv2.dilate(mean, side[:, ::-1].astype(np.uint8), borderType=rim)
    nearest = cv2.erode(mean, side.astype(np.uint8), borderType=rim)
    farther = round(_LINE / step)
    outward = np.zeros((1, 2 * farther + 1), dtype=np.uint8)
    outward[:, farther + near :] = 1
    least = cv2.erode(mean, outward, borderType=rim)
    # Relative to the step itself: blur and compression carry some of it to the inside.
    usual = 3.0 + paint.spread[chunks.room][:, None]
    step_up = np.maximum(behind - inside, 0.0)
    stays = np.maximum(least - inside, 0.0)
    ends = np.asarray(step_up / (behind + usual), dtype=np.float32)
    # A path in the next room may stand out more than the border before it.
    still = 1.0 / (1.0 + (nearest / (_STILL * usual)) ** 2)
    lasting = _LINE_WORTH + (np.float32(1.0) - _LINE_WORTH) * stays / np.maximum(step_up, 1e-6)
    return ends, np.asarray(still * lasting, dtype=np.float32)


def step_sharpness(image: NDArray[np.uint8], point: Floats, normal: Floats) -> float:
    """How much of an axis-parallel step falls between two neighbouring pixels, 0.5..1, on average.

    `point` (N, 2) px on borders, `normal` (N, 2). A border drawn with anti-aliasing gives about
    0.75, one drawn without gives 1: its position then is only known to within half a pixel. Returns
    0.5 where no border is parallel to the axes.
    """
    ratios = []
    for axis in (0, 1):
        chosen = np.abs(normal[:, axis]) > 0.9999
        if not chosen.any():
            continue
        place = np.floor(point[chosen]) + 0.5
        offsets = np.arange(-2, 3)
        line = np.repeat(place[:, None], len(offsets), axis=1)
        line[:, :, axis] += offsets
        colour = read_colours(image, line)
        steps = _distance(colour[:, 1:], colour[:, :-1])
        whole = np.max(_distance(colour[:, :, None], colour[:, None, :]), axis=(1, 2))
        good = whole > 8.0
        ratios.append(steps.max(axis=1)[good] / whole[good])
    everything = np.concatenate(ratios) if ratios else np.zeros(0)
    return float(everything.mean()) if len(everything) else 0.5
