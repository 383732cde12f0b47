"""What the picture shows across the walls at a pose: borders, faces, and how well each is seen.

Nothing is moved here; `refine` moves the pose by what this finds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from regmap.frames import scale_of

from .profiles import (
    Chunks,
    Paint,
    averages,
    chunk_samples,
    edge_response,
    normal_profiles,
    room_ends,
    room_paint,
)
from .walls import Samples, Walls, sample_walls

Floats = NDArray[np.float64]

# Grey levels per px below which a step means nothing on however even a floor, and how much more for
# each grey level by which the floor varies, or of its standard error: as profiles of pure noise
# have it.
_QUIET, _GRAINS, _ERRORS = 2.0, 4.0, 3.3

# Quality of an edge below which a chunk has none, and its share inside the picture from which on it
# should have one.
_MISSED, _SHOWN = 0.3, 0.7

# px by which the border across one chunk of a wall may be off, of no fault of the outlines.
_UNSURE = 1.0
MARGIN = 3.0
"""px of a level by which profiles go on beyond where edges are sought: what lies behind an edge
says what it is."""


FACING = np.cos(np.deg2rad(18.0))
"""Walls within 18 degrees of a direction run across it."""

THICK_PX = 25.0
"""Working px: no wall is thicker."""


@dataclass(frozen=True, eq=False)
class Fit:
    """A refined pose: own frame -> full picture px (2, 3), and what supports it, chunk by chunk.

    `offset` (2,): px by which the borders lie outside the outlines, inner walls and outer walls.
    `place`, `normal` (Q, 2): chunk centres on the shifted outlines and outward normals, px.
    `residual` (Q,) px, border minus shifted outline; `quality` (Q,) 0..1 significance of the edge;
    `lasting` (Q,) less than 1 where it may be a thin line upon the room;
    `flat` (Q,) 0..1 how surely nothing at all is seen across it; `shown` (Q,) share of the chunk
    inside the picture; `weight` (Q,) own length. `grain`: px by which a wall of outlines that lie
    on a grid may be off, a standard deviation.
    `elsewhere`: chance that the walls' borders are other lines, and the pose is clearly off; `lit`:
    that it is since walls are drawn lit from a side, by `lit_px`, see `lit_sides`.
    """

    pose: Floats
    offset: Floats
    place: Floats
    normal: Floats
    residual: Floats
    quality: Floats
    lasting: Floats
    flat: Floats
    shown: Floats
    chunks: Chunks
    outer: NDArray[np.bool_]
    grain: float
    elsewhere: float = 0.0
    lit: float = 0.0
    lit_px: float = 0.0


@dataclass(frozen=True, eq=False)
class Probe:
    """Where a fit is measured: samples along the walls, their grouping into chunks of about `chunk`
    samples each, and points inside rooms."""

    walls: Walls
    samples: Samples
    chunks: Chunks
    inside: Floats
    chunk: int

    @cached_property
    def wide(self) -> Probe:
        """Half as many samples in chunks of as many: enough for a wide look, which costs more."""
        count = len(self.samples.wall) // 2
        return make_probe(self.walls, self.inside, samples=count, chunk=self.chunk)


def make_probe(walls: Walls, inside: Floats, *, samples: int, chunk: int) -> Probe:
    """`samples` points along `walls` in runs of `chunk`; `inside` (R, N, 2) points in the rooms."""
    points = sample_walls(walls, samples)
    return Probe(walls, points, chunk_samples(points, walls.bend, chunk), inside, chunk)


def place_samples(poses: Floats, point: Floats, along: Floats) -> tuple[Floats, Floats]:
    """Points and outward unit normals (C, M, 2) in px of own-frame samples under poses."""
    linear = poses[:, :, :2].transpose(0, 2, 1)
    placed = point @ linear + poses[:, None, :, 2]
    run = along @ linear
    length = np.maximum(np.hypot(run[..., 0], run[..., 1]), 1e-12)
    turned = np.stack([run[..., 1], -run[..., 0]], axis=-1) / length[..., None]
    # In the own frame (y up) this turn of `along` is the outward normal; a flip turns it round.
    return placed, turned * np.sign(np.linalg.det(poses[:, :, :2]))[:, None, None]


def paint_rooms(level: tuple[float, NDArray[np.uint8]], pose: Floats, probe: Probe) -> Paint:
    """The rooms' colours under a pose, read on a reduced picture, in which noise is averaged."""
    factor, image = level
    return room_paint(image, (probe.inside @ pose[:, :2].T + pose[:, 2]) * factor)


@dataclass(frozen=True, eq=False)
class View:
    """Profiles across the walls: `value` (Q, K) 0..1 how well each place is a border that ends its
    room, `lasting` (Q, K) by how much less that is worth where only a thin line does, `strength`
    (Q, K) of the colour step, `noise` (Q, K) below which it means nothing, `steps` (K,)
    offsets in px outward; `start`, `normal` (M, 2) and `inside` (M,) of the samples."""

    value: NDArray[np.float32]
    lasting: NDArray[np.float32]
    strength: NDArray[np.float32]
    noise: NDArray[np.float32]
    steps: Floats
    start: Floats
    normal: Floats
    inside: NDArray[np.float32]


def look(
    image: NDArray[np.uint8],
    factor: float,
    pose: Floats,
    offset: Floats,
    probe: Probe,
    paint: Paint,
    *,
    half: float,
    exact: bool,
) -> View:
    """Profiles across the walls at a pose, `half` px of the level to either side."""
    walls, samples, chunks = probe.walls, probe.samples, probe.chunks
    placed, normal = place_samples(pose[None], samples.point, samples.along)
    per_sample = np.where(walls.outer[samples.wall], offset[1], offset[0])
    start = (placed[0] + normal[0] * per_sample[:, None]) * factor
    profile, steps = normal_profiles(image, start, normal[0], half=half, step=0.5, exact=exact)
    inside = _inside(start, image)
    average = averages(chunks, inside)
    strength, coherence, error = edge_response(profile, average, chunks.count, step=0.5)
    ends, lasting = room_ends(profile, chunks, average, paint, samples.room, step=0.5)
    # A quarter of all places surely are no borders: what their profiles do is what noise does,
    # unless paths leave no quarter free. Bare floor varies by noise alone.
    quarter = strength.size // 4
    usual = 3.0 * float(np.partition(strength, quarter, axis=None)[quarter])
    most = max(0.5, min(usual, _QUIET + _GRAINS * paint.grain))
    # Paths and their ringing lie elsewhere: where the samples of a wall agree, less tells as much.
    around = cv2.dilate(error, np.ones((1, 5), dtype=np.uint8), borderType=cv2.BORDER_REPLICATE)
    noise = np.clip(_ERRORS * around, min(most, _QUIET), most, dtype=np.float32)
    solid = strength**2 / (strength**2 + noise**2) * coherence
    value = solid * (np.float32(0.1) + np.float32(0.9) * ends**2)
    return View(value, lasting, strength, noise, steps, start, normal[0], inside)


def read(
    view: View, factor: float, pose: Floats, offset: Floats, probe: Probe, *, half: float
) -> Fit:
    """The evidence in what a view at a pose shows within `half` px of the level, nothing moved; the
    view goes on to either side by `MARGIN` and more."""
    walls, chunks = probe.walls, probe.chunks
    start, normal, inside = view.start, view.normal, view.inside
    residual, quality, lasting = _peaks(view, half)
    stands = (view.strength / view.noise)[:, np.abs(view.steps) <= half]
    flat = 1.0 / (1.0 + (stands.max(axis=1).astype(np.float64) / 1.5) ** 2)
    shown = np.add.reduceat(inside, chunks.first) / chunks.count
    quality *= shown > 0.5
    place, mean_normal = place_chunks(start, normal, chunks)
    outer = walls.outer[chunks.piece]
    return Fit(
        pose,
        offset,
        place / factor,
        mean_normal,
        residual / factor,
        quality,
        lasting,
        flat,
        shown.astype(np.float64),
        chunks,
        outer,
        # Uniform within a cell.
        walls.cell / np.sqrt(12.0) * float(np.sqrt(abs(np.linalg.det(pose[:, :2])))),
    )


def gap_px(pose: Floats, offset: Floats, other: Floats, others: Floats, probe: Probe) -> float:
    """px by which a pose and wall offsets differ from `other` and `others`, at the farthest corner
    of the floor."""
    away = probe.walls.corners @ (pose - other)[:, :2].T + (pose - other)[:, 2]
    return max(float(np.hypot(*away.T).max()), float(np.abs(offset - others).max()))


def carried(fit: Fit, pose: Floats, offset: Floats) -> Fit:
    """A fit at a pose and offsets hardly off its own: the borders stay, the outlines are moved."""
    linear = pose[:, :2] @ np.linalg.inv(fit.pose[:, :2])
    place = fit.place @ linear.T + (pose[:, 2] - linear @ fit.pose[:, 2])
    place += fit.normal * (offset - fit.offset)[fit.outer.astype(np.int64)][:, None]
    residual = fit.residual - ((place - fit.place) * fit.normal).sum(axis=1)
    return replace(fit, pose=pose, offset=offset, place=place, residual=residual)


def place_chunks(start: Floats, normal: Floats, chunks: Chunks) -> tuple[Floats, Floats]:
    """Centres and unit normals (Q, 2) of chunks, of their samples' places and normals (M, 2)."""
    place = np.add.reduceat(start, chunks.first, axis=0) / chunks.count[:, None]
    mean_normal = np.add.reduceat(normal, chunks.first, axis=0)
    mean_normal /= np.maximum(np.hypot(*mean_normal.T), 1e-12)[:, None]
    return place, mean_normal


def _inside(point: Floats, image: NDArray[np.uint8]) -> NDArray[np.float32]:
    height, width = image.shape[:2]
    good = (point >= 1.0).all(axis=1) & (point[:, 0] <= width - 1) & (point[:, 1] <= height - 1)
    return np.asarray(good, dtype=np.float32)


def main_axes(pose: Floats) -> Floats:
    """(2, 2), row by row the unit vectors px of the floor's two main directions under a pose."""
    linear = pose[:, :2]
    return np.asarray((linear / np.maximum(np.hypot(*linear), 1e-12)).T)


def usual_width(around: NDArray[Any], pose: Floats) -> float:
    """px, how wide a usual room is under a pose, of rooms that measure `around` (R,) own units."""
    # A square has four sides.
    return 0.25 * float(np.median(around)) * scale_of(pose)


def missed_chunks(fit: Fit) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(Q,) which chunks of a fit the picture shows, and which of these have no edge."""
    shown = fit.shown > _SHOWN
    return shown, shown & (fit.quality < _MISSED)


def walls_apart(place: Floats) -> NDArray[np.int64]:
    """(N,) numbers of the walls that places (N,) px along one direction belong to: the faces of one
    are no farther apart than walls are thick."""
    order = np.argsort(place, kind="stable")
    number = np.empty(len(place), dtype=np.int64)
    first, wall = place[order[0]], 0
    for index in order.tolist():
        if place[index] - first > THICK_PX:
            first, wall = place[index], wall + 1
        number[index] = wall
    return number


def of_equal_weight(number: NDArray[np.integer], weight: Floats) -> float:
    """How many things of equal weight would carry as much as those of `number` (N,) do."""
    of_one = np.bincount(number, weight)
    return float(of_one.sum()) ** 2 / max(float((of_one**2).sum()), 1e-12)


def robust_weights(fit: Fit, *, smallest: float) -> tuple[Floats, float]:
    """(Q,) weights of a fit's chunks, and the scatter of their edges, px.

    Length times significance times a kernel that lets go of edges far off (Geman & McClure, 1987),
    as wide as the edges themselves scatter, and at least `smallest` px. Where outlines are rough,
    a wall is off as a whole, a long one as much as a short one, and all count nearly alike: weights
    of a model with errors of walls and of chunks (Laird & Ware, Biometrics 38(4), 1982).
    """
    weight = fit.chunks.weight * fit.quality
    rough = float(spread(fit.residual, weight))
    scale = max(smallest, 3.0 * rough)
    robust = weight / (1.0 + (fit.residual / scale) ** 2) ** 2
    chunks = np.bincount(fit.chunks.wall, weight) / max(float(fit.chunks.weight.mean()), 1e-12)
    return robust / (1.0 + chunks * (rough / _UNSURE) ** 2)[fit.chunks.wall], rough


def spread(residual: Floats, weight: Floats) -> Floats:
    """(...) weighted medians of |residual| (..., Q), scaled to standard deviations; 1 where nothing
    weighs anything."""
    away = np.abs(residual)
    if not away.shape[-1]:
        return np.ones(away.shape[:-1])
    order = np.argsort(away, axis=-1, kind="stable")
    total = np.cumsum(np.take_along_axis(weight, order, axis=-1), axis=-1)
    middle = (total < 0.5 * total[..., -1:]).sum(axis=-1, keepdims=True)
    place = np.take_along_axis(order, np.minimum(middle, away.shape[-1] - 1), axis=-1)
    found = 1.4826 * np.take_along_axis(away, place, axis=-1)[..., 0]
    return np.where(total[..., -1] > 0.0, found, 1.0)


def vertex(before: Floats, at: Floats, after: Floats) -> Floats:
    """Where between two neighbours the parabola through three values has its peak, -0.5..0.5 of a
    step from the middle one; 0 where there is none."""
    curve = before - 2.0 * at + after
    part = np.where(curve < -1e-9, 0.5 * (before - after) / np.minimum(curve, -1e-9), 0.0)
    return np.asarray(np.clip(part, -0.5, 0.5))


def _peaks(view: View, half: float) -> tuple[Floats, Floats, Floats]:
    """The likeliest border in each profile: offset (Q,) with sub-step precision, quality (Q,), and
    (Q,) how lasting it is."""
    offset, strength = view.steps, view.strength
    # Flat in the middle: which face ends the room matters more than which one is nearer.
    window = np.exp(-2.0 * (offset / half) ** 4) * (np.abs(offset) <= half)
    before, after = strength[:, :-2], strength[:, 2:]
    centre = strength[:, 1:-1]
    peak = (centre >= before) & (centre > after)
    likely = view.value[:, 1:-1]
    value = np.where(peak, likely * view.lasting[:, 1:-1] * window[1:-1], 0.0)
    best = np.argmax(value, axis=1)
    rows = np.arange(len(best))
    low, mid, high = (
        strength[rows, best].astype(np.float64),
        strength[rows, best + 1].astype(np.float64),
        strength[rows, best + 2].astype(np.float64),
    )
    step = float(offset[1] - offset[0])
    found = value[rows, best] > 0.0
    residual = np.where(found, offset[best + 1] + vertex(low, mid, high) * step, 0.0)
    quality = np.where(found, likely[rows, best], 0.0)
    lasting = view.lasting[rows, best + 1].astype(np.float64)
    return residual, quality.astype(np.float64), lasting
