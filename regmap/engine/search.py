"""First poses where contours do not suffice: correlation over turns and scales.

Rooms of one colour and pictures that are cut off leave few whole regions. There the walls' own
positions are correlated: along each axis of a heading, the picture's edges and the outlines' walls
make a one-dimensional profile, and the profiles are laid on each other over a sweep of scales.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .contours import Heading, poses_in_heading
from .edges import Edges
from .walls import Walls

Floats = NDArray[np.float64]

_PROFILE = 1024


def correlate_profiles(edges: Edges, walls: Walls, heading: Heading, *, similarity: bool) -> Floats:
    """Poses (C, 2, 3) from profiles of edge and wall positions along the heading's two axes."""
    extent = float(np.hypot(*edges.size))
    own_extent = walls.corners[2] - walls.corners[0]
    largest = float(own_extent.max())
    # The floor fills between a fifth of the picture and, cut off, twice of it.
    scales = np.geomspace(0.2, 2.0, 96) * extent / largest
    columns = [
        _axis_scores(edges, walls, heading, axis, scales, similarity=similarity) for axis in (0, 1)
    ]
    (score_x, shift_x), (score_y, shift_y) = columns
    if similarity:
        best = score_x[:, :, None] + score_y[:, None, :]
        flat = best.reshape(len(scales), -1)
        order = np.argsort(-flat, axis=None, kind="stable")[:90]
        which, pair = np.divmod(order, flat.shape[1])
        first, second = np.divmod(pair, score_y.shape[1])
        pairs = np.stack([scales[which], scales[which]], axis=1)
        shift = np.stack([shift_x[which, first], shift_y[which, second]], axis=1)
        return poses_in_heading(heading, pairs, shift)
    top_x = np.argsort(-score_x, axis=None, kind="stable")[:20]
    top_y = np.argsort(-score_y, axis=None, kind="stable")[:20]
    grid_x, grid_y = (v.reshape(-1) for v in np.meshgrid(top_x, top_y))
    pairs = np.stack([scales[grid_x // score_x.shape[1]], scales[grid_y // score_y.shape[1]]], 1)
    shift = np.stack([shift_x.reshape(-1)[grid_x], shift_y.reshape(-1)[grid_y]], axis=1)
    keep = np.abs(np.log(pairs[:, 0] / pairs[:, 1])) < 0.75
    return poses_in_heading(heading, pairs[keep], shift[keep])


def _axis_scores(
    edges: Edges, walls: Walls, heading: Heading, axis: int, scales: Floats, *, similarity: bool
) -> tuple[Floats, Floats]:
    """Best correlations (S, K) over scales and the shifts (S, K) at which they stand."""
    measure = heading.inverse[axis]
    direction = measure / np.hypot(*measure)
    normal = np.stack([np.cos(edges.angle), np.sin(edges.angle)], axis=1)
    chosen = np.abs(normal @ direction) > np.cos(np.deg2rad(15.0))
    place = edges.point[chosen] @ measure
    extent = float(np.hypot(*edges.size))
    bins = _PROFILE / 2 / extent
    low = float(place.min()) if len(place) else 0.0
    index = ((place - low) * bins).astype(np.int64)
    strength = np.bincount(index, edges.weight[chosen], minlength=_PROFILE)[:_PROFILE]
    # Long walls must not drown the short ones that tell one place from another.
    picture = np.sqrt(strength.astype(np.float64))
    picture = np.convolve(picture, [0.25, 0.5, 1.0, 0.5, 0.25], mode="same")
    picture -= picture.mean()
    wall = np.abs(walls.normal[:, axis]) > np.cos(np.deg2rad(15.0))
    position = 0.5 * (walls.start + walls.end)[wall, axis]
    length = walls.length[wall]
    own = _wall_profiles(position, length, scales, bins)
    own = own.astype(np.float32)
    spectrum = np.fft.rfft(picture.astype(np.float32))[None] * np.conj(np.fft.rfft(own, axis=1))
    match = np.fft.irfft(spectrum, _PROFILE, axis=1)
    spread = np.linalg.norm(own, axis=1) * np.linalg.norm(picture)
    match /= np.maximum(spread, 1e-12)[:, None]
    count = 4 if similarity else 2
    score = np.empty((len(scales), count))
    shift = np.empty((len(scales), count))
    base = np.array([float((position * s).min()) if len(position) else 0.0 for s in scales])
    for number in range(count):
        best = np.argmax(match, axis=1)
        score[:, number] = match[np.arange(len(scales)), best]
        lag = np.where(best > _PROFILE // 2, best - _PROFILE, best)
        shift[:, number] = lag / bins + low - base
        reach = np.mod(best[:, None] + np.arange(-4, 5)[None], _PROFILE)
        np.put_along_axis(match, reach, -1.0, axis=1)
    return score, shift


def _wall_profiles(position: Floats, length: Floats, scales: Floats, bins: float) -> Floats:
    """(S, _PROFILE) profiles of wall positions, each starting at its own lowest wall."""
    own = np.zeros((len(scales), _PROFILE))
    if not len(position):
        return own
    place = position[None] * scales[:, None]
    place = (place - place.min(axis=1, keepdims=True)) * bins
    index = np.clip(place.astype(np.int64), 0, _PROFILE - 1)
    flat = index + np.arange(len(scales))[:, None] * _PROFILE
    weight = np.broadcast_to(length[None], index.shape)
    total = np.bincount(flat.reshape(-1), weight.reshape(-1), own.size).reshape(own.shape)
    own = np.sqrt(total.astype(np.float64))
    own -= own.mean(axis=1, keepdims=True)
    return np.asarray(own)
