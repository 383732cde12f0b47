"""First poses where contours do not suffice, and the coarse score by which all are compared.

Rooms of one colour and pictures that are cut off leave few whole regions. There the walls' own
positions are correlated: along each axis of a heading, the picture's edges and the outlines' walls
make a one-dimensional profile, and the profiles are laid on each other over a sweep of scales.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .contours import Heading, poses_in_heading
from .edges import Edges, orientation_bin
from .rasterise import Raster
from .walls import Samples, Walls

Floats = NDArray[np.float64]

_PROFILE = 1024
_THIN = 4


@dataclass(frozen=True, eq=False)
class Scores:
    """Coarse evidence for poses, arrays (C,) in 0..1.

    `forward`: share of the shown outlines that lie on edges of their own direction. `backward`:
    share of the picture's structure inside the floor that the outlines explain. `captured`: the
    same of all structure in the picture. `shown`: share of the outlines inside the picture.
    """

    forward: Floats
    backward: Floats
    captured: Floats
    shown: Floats

    @property
    def total(self) -> Floats:
        """One figure to rank by: a product, so that no strong side makes up for a weak one."""
        return self.forward * (0.25 + 0.75 * self.backward) * np.sqrt(self.captured) * self.shown


def correlate_profiles(edges: Edges, walls: Walls, heading: Heading, *, similarity: bool) -> Floats:
    """Poses (C, 2, 3) from profiles of edge and wall positions along the heading's two axes."""
    turn = heading.matrix
    extent = float(np.hypot(*edges.size))
    own_extent = walls.corners[2] - walls.corners[0]
    largest = float(own_extent.max())
    # The floor fills between a fifth of the picture and, cut off, twice of it.
    scales = np.geomspace(0.2, 2.0, 150) * extent / largest
    columns = [
        _axis_scores(edges, walls, turn, axis, scales, similarity=similarity) for axis in (0, 1)
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
        return poses_in_heading(turn, pairs, shift)
    top_x = np.argsort(-score_x, axis=None, kind="stable")[:20]
    top_y = np.argsort(-score_y, axis=None, kind="stable")[:20]
    grid_x, grid_y = (v.reshape(-1) for v in np.meshgrid(top_x, top_y))
    pairs = np.stack([scales[grid_x // score_x.shape[1]], scales[grid_y // score_y.shape[1]]], 1)
    shift = np.stack([shift_x.reshape(-1)[grid_x], shift_y.reshape(-1)[grid_y]], axis=1)
    keep = np.abs(np.log(pairs[:, 0] / pairs[:, 1])) < 0.75
    return poses_in_heading(turn, pairs[keep], shift[keep])


def _axis_scores(
    edges: Edges, walls: Walls, turn: Floats, axis: int, scales: Floats, *, similarity: bool
) -> tuple[Floats, Floats]:
    """Best correlations (S, K) over scales and the shifts (S, K) at which they stand."""
    direction = turn[:, axis]
    normal = np.stack([np.cos(edges.angle), np.sin(edges.angle)], axis=1)
    chosen = np.abs(normal @ direction) > np.cos(np.deg2rad(15.0))
    place = edges.point[chosen] @ direction
    extent = float(np.hypot(*edges.size))
    bins = _PROFILE / 2 / extent
    low = float(place.min()) if len(place) else 0.0
    picture = np.bincount(
        ((place - low) * bins).astype(np.int64), edges.weight[chosen], minlength=_PROFILE
    )[:_PROFILE]
    # Long walls must not drown the short ones that tell one place from another.
    picture = np.sqrt(picture)
    picture = np.convolve(picture, [0.25, 0.5, 1.0, 0.5, 0.25], mode="same")
    picture -= picture.mean()
    wall = np.abs(walls.normal[:, axis]) > np.cos(np.deg2rad(15.0))
    position = 0.5 * (walls.start + walls.end)[wall, axis]
    length = walls.length[wall]
    own = _wall_profiles(position, length, scales, bins)
    spectrum = np.fft.rfft(picture)[None] * np.conj(np.fft.rfft(own, axis=1))
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
    own = np.bincount(flat.reshape(-1), weight.reshape(-1), own.size).reshape(own.shape)
    own = np.sqrt(own)
    own -= own.mean(axis=1, keepdims=True)
    return np.asarray(own)


def score_poses(
    poses: Floats,
    edges: Edges,
    samples: Samples,
    raster: Raster,
    *,
    reach: float,
    picked: int,
    offset: Floats | None = None,
) -> Scores:
    """Coarse scores of poses (C, 2, 3). `reach` is the distance in working px at which evidence
    has faded to 0.6; `picked` how many of the picture's edges are asked, evenly chosen; `offset`
    (C,) working px by which the picture's borders lie outside the outlines."""
    shift = np.zeros(len(poses)) if offset is None else offset
    forward, shown = _forward(poses, edges, samples, reach, shift)
    backward, captured = _backward(poses, edges, raster, reach, picked, shift)
    return Scores(forward, backward, captured, shown)


def _forward(
    poses: Floats, edges: Edges, samples: Samples, reach: float, offset: Floats
) -> tuple[Floats, Floats]:
    placed = np.einsum("cij,mj->cmi", poses[:, :, :2], samples.point) + poses[:, None, :, 2]
    run = np.einsum("cij,mj->cmi", poses[:, :, :2], samples.along)
    channel = orientation_bin(np.arctan2(run[..., 1], run[..., 0]) + 0.5 * np.pi)
    if offset.any():
        outward = np.stack([run[..., 1], -run[..., 0]], axis=-1)
        outward /= np.maximum(np.hypot(run[..., 0], run[..., 1]), 1e-12)[..., None]
        side = np.sign(np.linalg.det(poses[:, :, :2])) * offset
        placed = placed + outward * side[:, None, None]
    width, height = edges.size
    inside = (
        (placed[..., 0] >= 1)
        & (placed[..., 0] < width - 1)
        & (placed[..., 1] >= 1)
        & (placed[..., 1] < height - 1)
    )
    column = np.clip(placed[..., 0], 0, width - 1).astype(np.int64)
    row = np.clip(placed[..., 1], 0, height - 1).astype(np.int64)
    away = edges.distance[channel, row, column]
    close = np.exp(-0.5 * (away / reach) ** 2) * inside
    share = inside @ samples.weight
    # What a wall laid anywhere near would find by chance does not count: in hatching, print and
    # dense paths an edge of any direction is never far.
    chance = _chance(edges, reach)[channel, row // _THIN, column // _THIN]
    excess = inside * (close - chance) / (1.1 - chance)
    forward = np.maximum(excess @ samples.weight, 0.0) / np.maximum(share, 1e-12)
    return forward, share / samples.weight.sum()


def _chance(edges: Edges, reach: float) -> NDArray[np.float32]:
    """Mean closeness (ORIENTATIONS, h, w) / _THIN of any place nearby to an edge of its direction."""
    thin = edges.distance[:, ::_THIN, ::_THIN]
    close = np.exp(-0.5 * (thin / np.float32(reach)) ** 2)
    return np.stack([cv2.blur(part, (15, 15), borderType=cv2.BORDER_REPLICATE) for part in close])


def _backward(
    poses: Floats, edges: Edges, raster: Raster, reach: float, picked: int, offset: Floats
) -> tuple[Floats, Floats]:
    """Share of edges inside the floor, and of all edges, that a wall of like direction explains."""
    total = np.cumsum(edges.weight)
    if not len(total) or total[-1] <= 0.0:
        return np.zeros(len(poses)), np.zeros(len(poses))
    # Systematic sampling by weight: every picked edge stands for the same amount of structure.
    chosen = np.searchsorted(total, (np.arange(picked) + 0.5) / picked * total[-1])
    point, angle = edges.point[chosen], edges.angle[chosen]
    linear = poses[:, :, :2]
    inverse = np.linalg.inv(linear)
    own = np.einsum("cij,cmj->cmi", inverse, point[None] - poses[:, None, :, 2])
    run = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    back = np.einsum("cij,mj->cmi", inverse, run)
    channel = orientation_bin(np.arctan2(back[..., 1], back[..., 0]) + 0.5 * np.pi)
    scale = np.sqrt(np.abs(np.linalg.det(linear)))
    column, row = raster.cells(own)
    away = raster.distance[channel, row, column] * scale[:, None]
    away = np.maximum(away - np.abs(offset)[:, None], 0.0)
    close = np.exp(-0.5 * (away / reach) ** 2)
    within = (raster.label[row, column] > 0) | (raster.depth[row, column] * scale[:, None] < reach)
    backward = (close * within).sum(axis=1) / np.maximum(within.sum(axis=1), 1e-9)
    return backward, close.sum(axis=1) / picked


def distinct_poses(
    poses: Floats, order: NDArray[np.intp], corners: Floats, gap: float, most: int
) -> list[int]:
    """The best poses that differ from each better one by more than `gap` px (RMS of corners)."""
    placed = np.einsum("cij,mj->cmi", poses[:, :, :2], corners) + poses[:, None, :, 2]
    kept: list[int] = []
    for number in order:
        if kept:
            gaps = placed[kept] - placed[number]
            if np.sqrt((gaps**2).sum(axis=2).mean(axis=1)).min() < gap:
                continue
        kept.append(int(number))
        if len(kept) >= most:
            break
    return kept
