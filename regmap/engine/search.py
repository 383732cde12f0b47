"""First poses where contours do not suffice: correlation over turns and scales.

Rooms of one colour and pictures that are cut off leave few whole regions. There the walls' own
positions are correlated: along each axis of a heading, the picture's edges and the outlines' walls
make a one-dimensional profile, and the profiles are laid on each other over a sweep of scales.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .contours import Heading, poses_in_heading
from .edges import Edges
from .walls import Walls

Floats = NDArray[np.float64]

USUAL = (0.2, 2.0)
"""A floor fills between a fifth of the picture's diagonal and, cut off, twice of it."""

SMALL = (0.1, 0.2)
"""On the screen of a computer it may be less."""

_PROFILE = 1024
# Logarithm of the ratio of one scale to the next.
_SCALE_STEP = 0.0242


def correlate_profiles(
    edges: Edges,
    walls: Walls,
    headings: list[Heading],
    *,
    similarity: bool,
    span: tuple[float, float] = USUAL,
) -> list[Floats]:
    """Poses (C, 2, 3) for each heading, from profiles of edge and wall positions along its axes.

    `span`: the share of the picture's diagonal that the floor fills, or would, were it not cut
    off. Headings that are quarter turns or mirror images of each other share their directions, and
    with them the profiles.
    """
    extent = float(np.hypot(*edges.size))
    own_extent = walls.corners[2] - walls.corners[0]
    count = round(np.log(span[1] / span[0]) / _SCALE_STEP) + 1
    scales = np.geomspace(*span, count) * extent / float(own_extent.max())
    bins = _PROFILE / 2 / extent
    axes = [_wall_axis(walls, axis, scales, bins) for axis in (0, 1)]
    normal = np.stack([np.cos(edges.angle), np.sin(edges.angle)], axis=1)
    lines: dict[tuple[float, ...], _Line] = {}
    matches: dict[tuple[float, ...], tuple[Floats, Floats]] = {}
    peaks = 4 if similarity else 2
    poses = []
    for heading in headings:
        columns = []
        for axis, measure in enumerate(heading.inverse):
            key = tuple(np.round(measure, 9).tolist())
            if key not in lines:
                lines[key] = _edge_line(edges, normal, measure, bins)
            if (*key, axis) not in matches:
                matches[(*key, axis)] = _axis_scores(lines[key], axes[axis], bins, peaks)
            columns.append(matches[(*key, axis)])
        poses.append(_combine(heading, scales, *columns, similarity=similarity))
    return poses


def _combine(
    heading: Heading,
    scales: Floats,
    first: tuple[Floats, Floats],
    second: tuple[Floats, Floats],
    *,
    similarity: bool,
) -> Floats:
    """The best poses (C, 2, 3) from scores and shifts (S, K) along both axes."""
    (score_x, shift_x), (score_y, shift_y) = first, second
    if similarity:
        best = score_x[:, :, None] + score_y[:, None, :]
        flat = best.reshape(len(scales), -1)
        order = np.argsort(-flat, axis=None, kind="stable")[:90]
        which, pair = np.divmod(order, flat.shape[1])
        along, across = np.divmod(pair, score_y.shape[1])
        pairs = np.stack([scales[which], scales[which]], axis=1)
        shift = np.stack([shift_x[which, along], shift_y[which, across]], axis=1)
        return poses_in_heading(heading, pairs, shift)
    top_x = np.argsort(-score_x, axis=None, kind="stable")[:20]
    top_y = np.argsort(-score_y, axis=None, kind="stable")[:20]
    grid_x, grid_y = (v.reshape(-1) for v in np.meshgrid(top_x, top_y))
    pairs = np.stack([scales[grid_x // score_x.shape[1]], scales[grid_y // score_y.shape[1]]], 1)
    shift = np.stack([shift_x.reshape(-1)[grid_x], shift_y.reshape(-1)[grid_y]], axis=1)
    keep = np.abs(np.log(pairs[:, 0] / pairs[:, 1])) < 0.75
    return poses_in_heading(heading, pairs[keep], shift[keep])


@dataclass(frozen=True, eq=False)
class _Line:
    """A profile's `spectrum` (..., F), the `norm` (...) of the profile, and where it starts: `low`
    (...) in the measure that the heading takes."""

    spectrum: NDArray[np.complexfloating]
    norm: NDArray[np.floating]
    low: Floats


def _edge_line(edges: Edges, normal: Floats, measure: Floats, bins: float) -> _Line:
    """The picture's edges, of `normal` (N, 2), across a direction, by their position along it."""
    direction = measure / np.hypot(*measure)
    chosen = np.flatnonzero(np.abs(normal @ direction) > np.cos(np.deg2rad(15.0)))
    place = edges.point.take(chosen, axis=0) @ measure
    low = float(place.min()) if len(place) else 0.0
    index = ((place - low) * bins).astype(np.int64)
    strength = np.bincount(index, edges.weight.take(chosen), minlength=_PROFILE)[:_PROFILE]
    # Long walls must not drown the short ones that tell one place from another.
    picture = np.sqrt(strength.astype(np.float64))
    picture = np.convolve(picture, [0.25, 0.5, 1.0, 0.5, 0.25], mode="same")
    picture = (picture - picture.mean()).astype(np.float32)
    return _Line(np.fft.rfft(picture), np.asarray(np.linalg.norm(picture)), np.array(low))


def _wall_axis(walls: Walls, axis: int, scales: Floats, bins: float) -> _Line:
    """The walls across an own axis, by their position along it, at every scale (S,)."""
    wall = np.abs(walls.normal[:, axis]) > np.cos(np.deg2rad(15.0))
    position = 0.5 * (walls.start + walls.end)[wall, axis]
    own = _wall_profiles(position, walls.length[wall], scales, bins).astype(np.float32)
    low = position.min() * scales if len(position) else np.zeros(len(scales))
    return _Line(np.conj(np.fft.rfft(own, axis=1)), np.linalg.norm(own, axis=1), low)


def _axis_scores(picture: _Line, own: _Line, bins: float, count: int) -> tuple[Floats, Floats]:
    """The `count` best correlations (S, K) over scales and the shifts (S, K) where they stand."""
    match = np.fft.irfft(picture.spectrum[None] * own.spectrum, _PROFILE, axis=1)
    match /= np.maximum(own.norm * picture.norm, 1e-12)[:, None]
    rows = np.arange(len(match))
    score = np.empty((len(match), count))
    shift = np.empty((len(match), count))
    for number in range(count):
        best = np.argmax(match, axis=1)
        score[:, number] = match[rows, best]
        lag = np.where(best > _PROFILE // 2, best - _PROFILE, best)
        shift[:, number] = lag / bins + picture.low - own.low
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
