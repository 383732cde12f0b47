"""Colour profiles across walls: the picture read along the outlines' normals, sub-pixel.

Many samples of one wall share one profile (a chunk): print, paths and noise average out along a
wall, and the walls' own edge stays.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .walls import Samples

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]

_BLUR = 0.9
# Grey levels within which two points show the same colour, and the share of a room's points that
# must show a colour for it to be one of the room's.
_ALIKE = 10.0
_SHARED = 0.25


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
    height, width, channels = image.shape
    x = np.clip(points[..., 0] - 0.5, 0.0, width - 1.001)
    y = np.clip(points[..., 1] - 0.5, 0.0, height - 1.001)
    column, row = x.astype(np.int64), y.astype(np.int64)
    fx = (x - column).astype(np.float32)[..., None]
    fy = (y - row).astype(np.float32)[..., None]
    flat = image.reshape(-1, channels)
    index = row * width + column
    right = 1 if width > 1 else 0
    down = width if height > 1 else 0
    top = flat[index] * (1 - fx) + flat[index + right] * fx
    bottom = flat[index + down] * (1 - fx) + flat[index + down + right] * fx
    return np.asarray(top * (1 - fy) + bottom * fy, dtype=np.float32)


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
    place = point[:, None, :] + normal[:, None, :] * offset[None, :, None]
    if exact:
        return read_colours(image, place), offset
    x, y = ((place[..., axis] - 0.5).astype(np.float32) for axis in (0, 1))
    values = cv2.remap(image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return values.reshape(*x.shape, -1).astype(np.float32), offset


def _length(values: Single) -> Single:
    """(..., C) -> (...): Euclidean length, quicker than a general reduction over few channels."""
    total = values[..., 0] ** 2
    for channel in range(1, values.shape[-1]):
        total += values[..., channel] ** 2
    return np.asarray(np.sqrt(total))


def edge_response(
    profile: Single, chunks: Chunks, weight: Single, *, step: float
) -> tuple[Single, Single]:
    """Strength of the colour step (Q, K) along each chunk's mean profile, grey levels per px; and
    its coherence (Q, K): 1 where all samples of the chunk step alike, near 0 in print and noise."""
    reach = int(np.ceil(3.0 * _BLUR / step))
    t = np.arange(-reach, reach + 1) * step
    kernel = -t / _BLUR**2 * np.exp(-0.5 * (t / _BLUR) ** 2)
    kernel *= -1.0 / float(np.sum(kernel * t))
    padded = np.pad(profile, ((0, 0), (reach, reach), (0, 0)), mode="edge")
    count = profile.shape[1]
    slope = np.zeros_like(profile)
    for number, value in enumerate(kernel):
        slope -= np.float32(value) * padded[:, number : number + count]
    slope *= weight[:, None, None]
    total = np.maximum(np.add.reduceat(weight, chunks.first), np.float32(1e-6))[:, None]
    mean = np.asarray(np.add.reduceat(slope, chunks.first, axis=0) / total[..., None], np.float32)
    strength = _length(mean)
    each = _length(slope)
    typical = np.add.reduceat(each, chunks.first, axis=0) / total
    return strength, np.asarray(strength / np.maximum(typical, 1e-6), dtype=np.float32)


@dataclass(frozen=True, eq=False)
class Paint:
    """Rooms as the picture shows them, grey levels: `colour` (R, C), a `second` one (R, C) where a
    good part of the room has it (a marked area lies on it), else the same, and the `spread` (R,)
    about them."""

    colour: Single
    second: Single
    spread: Single


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
    colour = np.nanmedian(colours, axis=1)
    colour, second = _two_colours(colours, colour)
    away = np.fmin(_distance(colours, colour[:, None]), _distance(colours, second[:, None]))
    spread = np.nanmedian(away, axis=1)
    spread[empty] = 255.0
    return Paint(colour.astype(np.float32), second.astype(np.float32), spread.astype(np.float32))


def _two_colours(colours: Single, middle: Single) -> tuple[Single, Single]:
    """The colours (R, C) that most points (R, N, C) of a room share, and that most of the others
    share; `middle` (R, C) stands for what is not there."""
    apart = _distance(colours[:, :, None], colours[:, None])
    alike = apart < _ALIKE
    left = np.isfinite(colours[..., 0])
    least = _SHARED * left.sum(axis=1)
    rooms = np.arange(len(colours))
    found: list[Single] = []
    for fallback in (middle, None):
        votes = (alike & left[:, None, :]).sum(axis=2) * left
        best = np.argmax(votes, axis=1)
        chosen = alike[rooms, best] & left
        count = chosen.sum(axis=1)
        mean = np.nansum(np.where(chosen[..., None], colours, 0.0), axis=1)
        mean = mean / np.maximum(count, 1)[:, None]
        usual = found[0] if fallback is None else fallback
        found.append(np.where((count >= np.maximum(least, 1.0))[:, None], mean, usual))
        left = left & ~chosen
    return np.asarray(found[0], dtype=np.float32), np.asarray(found[1], dtype=np.float32)


def _distance(first: Single, second: Single) -> Single:
    """(..., C) and (..., C) -> (...): root of the mean square over the channels."""
    return _length(first - second) / np.float32(np.sqrt(first.shape[-1]))


def room_ends(
    profile: Single, chunks: Chunks, weight: Single, paint: Paint, room: Ints, *, step: float
) -> Single:
    """(Q, K) 0..1: how well each place is where the room's own colour ends, seen from inside."""
    away = _distance(profile, paint.colour[room][:, None])
    away = np.minimum(away, _distance(profile, paint.second[room][:, None]))
    strange = away * weight[:, None]
    total = np.maximum(np.add.reduceat(weight, chunks.first), 1e-6)[:, None]
    mean = np.add.reduceat(strange, chunks.first, axis=0) / total
    near, far = round(1.0 / step), round(3.0 / step)
    padded = np.pad(mean, ((0, 0), (far, far)), mode="edge")
    count = mean.shape[1]
    inside = np.mean([padded[:, far - n : far - n + count] for n in range(near, far + 1)], axis=0)
    behind = np.max([padded[:, far + n : far + n + count] for n in range(near, far + 1)], axis=0)
    # Relative to the step itself: blur and compression carry some of it to the inside.
    usual = 3.0 + paint.spread[chunks.room][:, None]
    return np.asarray(np.maximum(behind - inside, 0.0) / (behind + usual), dtype=np.float32)


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
        steps = _length(np.diff(colour, axis=1))
        whole = np.max(_length(colour[:, :, None] - colour[:, None, :]), axis=(1, 2))
        good = whole > 8.0
        ratios.append(steps.max(axis=1)[good] / whole[good])
    everything = np.concatenate(ratios) if ratios else np.zeros(0)
    return float(everything.mean()) if len(everything) else 0.5
