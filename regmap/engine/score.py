"""The coarse score by which all poses are compared: outlines on edges, and edges on walls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from .edges import ORIENTATIONS, Edges, Places, cells_of, look_up, normal_channel, orientation_bin
from .rasterise import Raster
from .walls import Samples, Walls

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Real = TypeVar("Real", Floats, Single)

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


def clear_rooms(support: Floats, weight: Floats) -> Floats:
    """(C,) cubic mean of the support (C, R) of rooms, weighted by `weight` (C, R) or (R,).

    By chance all rooms find a little; rooms seen whole, and the others not at all, are a map of a
    part of the floor. One room alone can be laid on anything like it: the best counts no more than
    the second.
    """
    second = np.partition(support, -2, axis=-1)[..., -2:-1] if support.shape[-1] > 1 else support
    held = np.minimum(support, second)
    total = np.broadcast_to(weight, support.shape).sum(axis=-1)
    return np.asarray(np.cbrt((weight * held**3).sum(axis=-1) / np.maximum(total, 1e-12)))


@dataclass(frozen=True, eq=False)
class Field:
    """What poses are scored against: `edges`, the outlines' `raster`, the distance `reach` in
    working px at which evidence has faded to 0.6, what would be found by `chance`, and the
    picture's edges that are asked back: `point` (N, 2), `angle` (N,)."""

    edges: Edges
    raster: Raster
    reach: float
    chance: Chance
    point: Single
    angle: Single


class Chance:
    """How close, 0..1, the next edge of each orientation is around each pixel on average; a channel
    is worked out when it is first asked for."""

    def __init__(self, edges: Edges, reach: float) -> None:
        self._edges, self._reach = edges, np.float32(reach)
        self._thin = _THIN // edges.near.cell
        _, height, width = (-(-length // self._thin) for length in edges.near.shape)
        self._around = np.empty((ORIENTATIONS, height, width), dtype=np.float32)
        self._known: set[int] = set()

    def at(self, channel: Places, x: Single, y: Single) -> Single:
        """(...) of a channel at places in px, those outside taken to the rim."""
        for number in set(np.nonzero(np.bincount(channel.reshape(-1)))[0].tolist()) - self._known:
            self._known.add(number)
            thin = self._edges.near.distances(number)[:: self._thin, :: self._thin]
            close = np.exp(-0.5 * (thin / self._reach) ** 2)
            self._around[number] = cv2.blur(close, (15, 15), borderType=cv2.BORDER_REPLICATE)
        _, rows, columns = self._around.shape
        return np.asarray(self._around.take(cells_of(channel, x, y, 1.0 / _THIN, rows, columns)))


def make_field(edges: Edges, raster: Raster, *, reach: float, picked: int) -> Field:
    """`picked`: how many of the picture's edges are asked, each standing for as much structure."""
    total = np.cumsum(edges.weight)
    chosen = np.zeros(0, dtype=np.intp)
    if len(total) and total[-1] > 0.0:
        chosen = np.searchsorted(total, (np.arange(picked) + 0.5) / picked * total[-1])
    return Field(
        edges,
        raster,
        reach,
        Chance(edges, reach),
        edges.point[chosen].astype(np.float32),
        edges.angle[chosen].astype(np.float32),
    )


def score_poses(
    poses: Floats,
    samples: Samples,
    field: Field,
    *,
    offset: Floats | None = None,
    one_heading: bool = False,
) -> Scores:
    """Coarse scores of poses (C, 2, 3). `offset` (C, M): working px by which the picture's borders
    lie outside the outlines at each sample; `one_heading`: all poses turn the outlines alike,
    which is quicker."""
    forward, shown = _forward(poses, samples, field, offset, one_heading)
    slack = np.zeros(len(poses)) if offset is None else np.abs(offset).mean(axis=1)
    backward, captured = _backward(poses, field, slack, one_heading)
    return Scores(forward, backward, captured, shown)


def explained(
    pose: Floats, offset: Floats, walls: Walls, edges: Edges, *, reach: float
) -> tuple[float, float]:
    """(backward, captured) of one pose, exactly: every edge of the picture is asked, and the walls
    stand where the borders are, `offset` (2,) working px outside the outlines.
    """
    width, height = edges.size
    drawn = draw_walls(pose, offset, walls, edges.size, thick=max(round(2.0 * reach), 1))
    near = np.zeros((height, width), dtype=np.uint8)
    corners = np.clip(walls.ring_corners @ pose[:, :2].T + pose[:, 2], -8000.0, 8000.0)
    corners = np.rint((corners - 0.5) * 16.0).astype(np.int32)
    for first, *others in walls.ring_bounds:
        rings = [corners[start:end] for start, end in (first, *others)]
        cv2.fillPoly(near, rings, 1, lineType=cv2.LINE_8, shift=4)
    hit = np.zeros(len(edges.point), dtype=bool)
    for channel, mask in drawn.items():
        near |= mask
        # A wall between two channels may be drawn in either.
        for turn in (-1, 0, 1):
            asked = edges.in_channel[(channel + turn) % ORIENTATIONS]
            hit[asked] |= mask.take(edges.pixel[asked]) > 0
    within = near.take(edges.pixel) > 0
    total = max(float(edges.weight.sum()), 1e-12)
    inside = max(float(edges.weight[within].sum()), 1e-12)
    found = float(edges.weight[hit].sum())
    return float(edges.weight[hit & within].sum()) / inside, found / total


def draw_walls(
    pose: Floats, offset: Floats, walls: Walls, size: tuple[int, int], *, thick: int
) -> dict[int, NDArray[np.uint8]]:
    """By the channel of their normals' direction, where it has any: (rows, columns) 1 along the
    walls, `thick` px wide, in a picture of `size` (width, height). `pose`, `offset` as in
    `explained`."""
    start, end = (p @ pose[:, :2].T + pose[:, 2] for p in (walls.start, walls.end))
    run = end - start
    length = np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-12)
    normal = np.stack([run[:, 1], -run[:, 0]], axis=1) / length[:, None]
    normal *= np.sign(np.linalg.det(pose[:, :2]))
    shift = normal * np.where(walls.outer, offset[1], offset[0])[:, None]
    lines = np.stack([start + shift, end + shift], axis=1) - 0.5
    # Far outside, fixed-point positions would overflow; the picture ends long before.
    lines = np.rint(np.clip(lines, -8000.0, 8000.0) * 16.0).astype(np.int32)
    channel = orientation_bin(np.arctan2(normal[:, 1], normal[:, 0]))
    drawn: dict[int, NDArray[np.uint8]] = {}
    for number in np.flatnonzero(np.bincount(channel)).tolist():
        mask = drawn[number] = np.zeros(size[::-1], dtype=np.uint8)
        cv2.polylines(mask, list(lines[channel == number]), False, 1, thick, cv2.LINE_8, 4)
    return drawn


def _determinants(linear: Floats) -> Floats:
    return linear[:, 0, 0] * linear[:, 1, 1] - linear[:, 0, 1] * linear[:, 1, 0]


def _inverses(linear: Floats) -> Floats:
    """(C, 2, 2) -> (C, 2, 2), without a call to LAPACK for each."""
    back = np.empty_like(linear)
    back[:, 0, 0], back[:, 1, 1] = linear[:, 1, 1], linear[:, 0, 0]
    back[:, 0, 1], back[:, 1, 0] = -linear[:, 0, 1], -linear[:, 1, 0]
    return back / _determinants(linear)[:, None, None]


def lay(linear: Floats, shift: Floats, x: Real, y: Real) -> tuple[Real, Real]:
    """Points (M,) or (C, M) under C maps -> x and y, (C, M) each, of the points' precision."""
    m = linear.astype(x.dtype)[:, :, :, None]
    t = shift.astype(x.dtype)[:, :, None]
    laid = []
    for row in (0, 1):
        # In place: this is bound by memory.
        place = m[:, row, 0] * x
        place += m[:, row, 1] * y
        place += t[:, row]
        laid.append(place)
    return laid[0], laid[1]


def _channels(linear: Floats, along: Single, one_heading: bool) -> NDArray[np.int64]:
    """(1 or C, M) orientation channel of the normals to directions (M, 2) under C linear maps."""
    turned = linear[:1] if one_heading else linear
    x, y = lay(turned, np.zeros((len(turned), 2)), along[:, 0], along[:, 1])
    return normal_channel(-y, x)


def _forward(
    poses: Floats, samples: Samples, field: Field, offset: Floats | None, one_heading: bool
) -> tuple[Floats, Floats]:
    edges, linear = field.edges, poses[:, :, :2]
    point, along = samples.point.astype(np.float32), samples.along.astype(np.float32)
    x, y = lay(linear, poses[:, :, 2], point[:, 0], point[:, 1])
    channel = _channels(linear, along, one_heading)
    near = edges.near
    if offset is None:
        cells = near.cells(channel, x, y)
        # The middle of the cell stands for all of it.
        square = near.away(cells)
        square *= square
    else:
        run_x, run_y = lay(linear, np.zeros((len(poses), 2)), along[:, 0], along[:, 1])
        size: Single = np.sqrt(np.maximum(run_x * run_x + run_y * run_y, np.float32(1e-24)))
        run_x, run_y = run_x / size, run_y / size
        side = (np.sign(_determinants(linear))[:, None] * offset).astype(np.float32)
        x, y = x + run_y * side, y - run_x * side
        right, down = near.ways(channel, x, y, run_y, -run_x)
        # Edges are lines, of which each cell knows but one point.
        off, beyond = right * run_y - down * run_x, np.abs(right * run_x + down * run_y)
        beyond = np.maximum(beyond - np.float32(near.cell), np.float32(0.0))
        square = off * off + beyond * beyond
    square *= np.float32(-0.5 / field.reach**2)
    close = np.exp(square, out=square)
    width, height = edges.size
    inside = (x >= 1) & (x < width - 1) & (y >= 1) & (y < height - 1)
    # What a wall laid anywhere near would find by chance does not count: in hatching, print and
    # dense paths an edge of any direction is never far.
    chance = field.chance.at(channel, x, y)
    excess = close
    excess -= chance
    excess *= inside
    excess /= np.subtract(np.float32(1.1), chance, out=chance)
    weight = samples.weight.astype(np.float32)
    share = (inside @ weight).astype(np.float64)
    forward = np.maximum((excess @ weight).astype(np.float64), 0.0) / np.maximum(share, 1e-12)
    return forward, share / float(weight.sum())


def _backward(
    poses: Floats, field: Field, slack: Floats, one_heading: bool
) -> tuple[Floats, Floats]:
    """Share of edges inside the floor, and of all edges, that a wall of like direction explains."""
    if not len(field.point):
        return np.zeros(len(poses)), np.zeros(len(poses))
    linear, raster = poses[:, :, :2], field.raster
    inverse = _inverses(linear)
    shift: Floats = -(inverse @ poses[:, :, 2:])[..., 0]
    x, y = lay(inverse, shift, field.point[:, 0], field.point[:, 1])
    run: Single = np.stack([-np.sin(field.angle), np.cos(field.angle)], axis=1)
    channel = _channels(inverse, run, one_heading)
    scale = np.sqrt(np.abs(_determinants(linear))).astype(np.float32)[:, None]
    rows, columns = raster.label.shape
    grow, move = np.float32(raster.scale), raster.shift.astype(np.float32)
    x, y = x * grow + move[0], y * grow + move[1]
    column, row = (
        place.clip(0, last - 1).astype(np.int32) for place, last in ((x, columns), (y, rows))
    )
    # Borders stand off the outlines, and so does the rim of the floor.
    off = slack.astype(np.float32)[:, None]
    away = look_up(raster.distance, channel, row, column)
    away *= scale
    away -= off
    np.maximum(away, np.float32(0.0), out=away)
    # Beyond the raster nothing is explained: a floor laid as small as a speck would be near all.
    known = (x >= 0) & (y >= 0) & (x <= columns) & (y <= rows)
    close = np.float32(-0.5 / field.reach**2) * away
    close *= away
    np.exp(close, out=close)
    close *= known
    within = raster.beyond.take(row * columns + column) * scale < field.reach + off
    explained = (close * within).sum(axis=1, dtype=np.float64)
    backward = explained / np.maximum(within.sum(axis=1), 1e-9)
    return backward, close.sum(axis=1, dtype=np.float64) / len(field.point)


def distinct_poses(
    poses: Floats, order: NDArray[np.intp], corners: Floats, gap: float, most: int
) -> list[int]:
    """The best poses that differ from each better one by more than `gap` px (RMS of corners)."""
    placed = corners @ poses[:, :, :2].transpose(0, 2, 1) + poses[:, None, :, 2]
    kept: list[int] = []
    # Each one that is kept strikes out those that it stands for: many fewer than there are in all.
    while len(order) and len(kept) < most:
        best, order = order[0], order[1:]
        kept.append(int(best))
        gaps = np.sqrt(((placed[order] - placed[best]) ** 2).sum(axis=2).mean(axis=1))
        order = order[~(gaps < gap)]
    return kept
