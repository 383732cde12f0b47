"""Pictures of one rectangular room whose borders are known by formula, to any fraction of a px."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from regmap.engine import measure
from regmap.engine.measure import Fit, Probe, make_probe, paint_rooms
from regmap.engine.profiles import Chunks
from regmap.engine.walls import Walls, build_walls

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]
Box = tuple[float, float, float, float]


def blurred(
    box: Box,
    size: tuple[int, int],
    *,
    blur: float,
    contrast: float = 100.0,
    noise: float = 0.0,
    rng: np.random.Generator | None = None,
) -> Picture:
    """A box (left, top, right, bottom) px under a Gaussian blur, sampled at pixel centres."""

    def share(place: Floats, low: float, high: float) -> Floats:
        width = blur * np.sqrt(2.0)
        return np.asarray(0.5 * (erf((place - low) / width) - erf((place - high) / width)))

    return _picture(share, box, size, contrast, noise, rng)


def covered(box: Box, size: tuple[int, int], *, contrast: float = 100.0) -> Picture:
    """The same with each pixel as bright as it is covered: what anti-aliasing is."""

    def share(place: Floats, low: float, high: float) -> Floats:
        first, last = np.maximum(place - 0.5, low), np.minimum(place + 0.5, high)
        return np.asarray(np.maximum(last - first, 0.0))

    return _picture(share, box, size, contrast, 0.0, None)


def _picture(
    share: Callable[[Floats, float, float], Floats],
    box: Box,
    size: tuple[int, int],
    contrast: float,
    noise: float,
    rng: np.random.Generator | None,
) -> Picture:
    across = share(np.arange(size[0], dtype=np.float64) + 0.5, box[0], box[2])
    down = share(np.arange(size[1], dtype=np.float64) + 0.5, box[1], box[3])
    value = 60.0 + contrast * down[:, None] * across[None, :]
    if rng is not None:
        value = value + rng.normal(0.0, noise, value.shape)
    return np.asarray(np.rint(np.clip(value, 0, 255))[..., None], dtype=np.uint8)


def room(box: Box) -> tuple[Walls, Floats]:
    """The walls of a box, and the pose at which they lie on it."""
    left, top, right, bottom = box
    ring = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=np.float64)
    walls = build_walls([(ring,)])
    return walls, np.column_stack([walls.linear, walls.origin])


def inner_points(walls: Walls, count: int = 40) -> Floats:
    """(1, N, 2) points in the middle part of a single room, own frame."""
    low, high = walls.corners[0], walls.corners[2]
    return np.asarray(np.random.default_rng(0).uniform(0.7 * low, 0.7 * high, (1, count, 2)))


def probe_of(walls: Walls, *, samples: int = 200, chunk: int = 6) -> Probe:
    return make_probe(walls, inner_points(walls), samples=samples, chunk=chunk)


def look(
    image: Picture,
    pose: Floats,
    probe: Probe,
    *,
    offset: tuple[float, float] = (0.0, 0.0),
    half: float = 2.0,
    exact: bool = True,
) -> Fit:
    """What is measured at a pose on the picture itself."""
    paint, shift = paint_rooms((1.0, image), pose, probe), np.array(offset)
    reach = half + measure.MARGIN
    view = measure.look(image, 1.0, pose, shift, probe, paint, half=reach, exact=exact)
    return measure.read(view, 1.0, pose, shift, probe, half=half)


def away_from_corners(fit: Fit, box: Box) -> NDArray[np.bool_]:
    """True for chunks in the middle four fifths of their wall."""
    middle = 0.5 * np.array([box[0] + box[2], box[1] + box[3]])
    half = 0.5 * np.array([box[2] - box[0], box[3] - box[1]])
    return np.asarray((np.abs(fit.place - middle) / half).min(axis=1) < 0.8)


def made_fit(
    place: Floats,
    normal: Floats,
    residual: Floats,
    *,
    wall: NDArray[np.int64],
    room: NDArray[np.int64] | None = None,
    outer: NDArray[np.bool_] | None = None,
    quality: float | Floats = 1.0,
    shown: float | Floats = 1.0,
    weight: float | Floats = 1.0,
) -> Fit:
    """A fit made by hand, a chunk a row."""
    count = len(place)
    every = np.arange(count)
    none = np.zeros(count, dtype=np.int64)
    chunks = Chunks(
        first=every,
        wall=wall,
        piece=wall,
        room=none if room is None else room,
        count=np.ones(count, dtype=np.int64),
        weight=np.broadcast_to(np.asarray(weight, dtype=np.float64), count).copy(),
    )
    return Fit(
        pose=np.eye(2, 3),
        offset=np.zeros(2),
        place=place,
        normal=normal,
        residual=residual,
        quality=np.broadcast_to(np.asarray(quality, dtype=np.float64), count).copy(),
        lasting=np.ones(count),
        flat=np.zeros(count),
        shown=np.broadcast_to(np.asarray(shown, dtype=np.float64), count).copy(),
        chunks=chunks,
        outer=np.zeros(count, dtype=bool) if outer is None else outer,
        grain=0.0,
    )
