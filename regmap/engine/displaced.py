"""Walls that the picture shows beside where a fit lays them: rooms since rebuilt, and bent maps.

A fit may be exact on one part of a floor, and the other part have moved: a map that drifted, or one
of another day. All edges along such a wall are then found at one distance from it, where no outline
runs. And what is missing of several walls, of whole ones and of pieces, is all found at one shift.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .edges import ORIENTATIONS, Edges, normal_channel
from .measure import (
    FACING,
    THICK_PX,
    Fit,
    main_axes,
    missed_chunks,
    of_equal_weight,
    place_samples,
    usual_width,
    walls_apart,
)
from .nearby import Nearby
from .ramp import ramp
from .score import draw_walls
from .walls import Samples, Walls, sample_walls

Floats = NDArray[np.float64]

_SAMPLES = 600
# How far to either side a wall is looked for, as shares of the floor's diagonal and of a usual
# room's width, and working px.
_SHARE, _OF_ROOM, _LEAST_PX, _MOST_PX = 0.04, 0.3, 8.0, 60.0
# Working px within which a wall is where it should be, and from which on it clearly is not.
_THERE_PX, _BESIDE_PX = 2.5, 4.0
_NEAR = np.arange(-_THERE_PX, _THERE_PX + 0.1)
# Working px by which edges of one wall may be off each other, and within which one is an outline's.
_STRAIGHT_PX, _CLAIMED_PX = 1.5, 4.5
# What a border beside must be of the usual step in colour at walls that are in their place: of a
# whole wall, and of a piece of one, which has a path beside it less often.
_PARTS, _MOVED_PARTS = 0.4, 0.15
# Working px within which samples on two faces of a wall are opposite each other.
_OPPOSITE_PX = 6.0
# Shares of a wall that lie on edges: at most, where it should be, and at least, beside.
_NOT_THERE, _BESIDE, _MORE = 0.45, 0.75, 0.40
# Share of a room's outline from which on that stands elsewhere, the room is not as outlined.
_MUCH = 0.1
# Share of a wall that must be inside the picture.
_SHOWN = 0.7
# How near an edge a point of a wall is, 0..1, that is found.
_FOUND = 0.6
# What stands at one shift of what is missing along one direction; by how much less stands at any
# other that is so many px off; its share of all outlines, and how many walls of equal length it
# would make: by chance, and surely no chance. One wall may have been moved, but no outer one of
# so many rooms: that leaves a doubt.
_AT_ONE_SHIFT, _LESS, _OTHER_PX = (0.35, 0.55), (0.5, 0.7), 3.0
_OF_ALL, _OF_WALLS, _OF_ROOMS = (0.02, 0.04), (1.4, 1.9), (1.3, 1.7)
_A_SIDE = 0.3
# Share of a room's outline beside which nothing stands, from which on it is not drawn.
_NOT_DRAWN = 0.3
# By how much less stands at as much the other way, as a share.
_ONE_WAY = (0.3, 0.5)


@dataclass(frozen=True, eq=False)
class Shifted:
    """`sure`: 0..1, how surely a part of the floor stands at a shift; `by_px`: working px of it;
    `rooms` (R,): which have much of their outlines there."""

    sure: float
    by_px: float
    rooms: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Laid:
    """Walls under a pose, and what is seen where they should be: `samples` of them, their places
    `point` and outward normals (M, 2) working px; `there` (M, K) 0..1 how near an edge each is, at
    its place and right beside, and `inside` (M, K) 1 in the picture. `pose`, `offset` as in
    `lay_walls`."""

    pose: Floats
    offset: Floats
    walls: Walls
    edges: Edges
    samples: Samples
    point: Floats
    normal: Floats
    there: Floats
    inside: Floats

    @cached_property
    def steps(self) -> Floats:
        """(K,) working px aside at which walls are looked for that are not in their places."""
        diagonal = float(np.hypot(*np.ptp(self.point, axis=0)))
        # In small rooms it is print that stands beside.
        room = usual_width(np.bincount(self.walls.room, self.walls.length), self.pose)
        most = max(min(_SHARE * diagonal, _OF_ROOM * room, _MOST_PX), _LEAST_PX)
        far = np.arange(_BESIDE_PX + 1.0, most + 1.0)
        return np.concatenate([-far[::-1], far])

    @cached_property
    def claimed(self) -> dict[int, NDArray[np.uint8]]:
        """Where outlines run, see `draw_walls`."""
        thick = round(2.0 * _CLAIMED_PX)
        return draw_walls(self.pose, self.offset, self.walls, self.edges.size, thick=thick)

    def beside(self, which: NDArray[Any]) -> Floats:
        """(N, K) 0..1 how near an edge that no outline claims some samples are at `steps`."""
        point, normal = self.point[which], self.normal[which]
        return _on_edges(point, normal, self.steps, self.edges, self.claimed)[0]

    @cached_property
    def usual_step(self) -> float:
        """Grey levels per px of the usual step in colour at walls in their places."""
        found = self.there.max(axis=1) > _FOUND
        steps = _steps(self.point[found], self.normal[found], self.edges)
        return float(np.median(steps)) if len(steps) else 0.0

    def parts_areas(self, which: NDArray[Any]) -> NDArray[np.bool_]:
        """(N, K) whether what is at `steps` beside some samples is as much of a step in colour as
        walls are, and no thin line."""
        point, normal = self.point[which], self.normal[which]
        moved = [_steps(point + step * normal, normal, self.edges) for step in self.steps]
        return np.asarray(np.stack(moved, axis=1) >= _MOVED_PARTS * self.usual_step)


def lay_walls(
    pose: Floats,
    offset: Floats,
    walls: Walls,
    edges: Edges,
    far: NDArray[np.bool_] | None = None,
) -> Laid:
    """Lay walls under a `pose` (2, 3) own frame -> working px, borders lying `offset` (2,) working
    px outside the outlines of inner walls and of outer ones. Those that stand on the
    `far` faces of their walls (W,), by their number in `Walls.bend`, are not there."""
    samples = sample_walls(walls, _SAMPLES)
    placed, normals = place_samples(pose[None], samples.point, samples.along)
    moved = np.where(walls.outer[samples.wall], offset[1], offset[0])
    point, normal = placed[0] + normals[0] * moved[:, None], normals[0]
    there, inside = _on_edges(point, normal, _NEAR, edges, {})
    if far is not None:
        bend = walls.bend[samples.wall]
        there[np.pad(far, (0, int(walls.bend.max()) + 1 - len(far)))[bend]] = 0.0
    return Laid(pose, offset, walls, edges, samples, point, normal, there, inside)


def displaced_walls(laid: Laid) -> Floats:
    """(W,) working px by which the picture shows each wall farther out than a fit lays it; nan
    where it is in its place, or nowhere. Walls are those of `Walls.bend`."""
    samples, point, normal = laid.samples, laid.point, laid.normal
    owner = laid.walls.bend[samples.wall]
    number = int(laid.walls.bend.max()) + 1
    moved: Floats = np.full(number, np.nan)

    shown = _by_wall(laid.inside, owner, samples.weight, number).mean(axis=1)
    found = _by_wall(laid.there, owner, samples.weight, number).max(axis=1)
    asked = np.flatnonzero((shown > _SHOWN) & (found < _NOT_THERE))
    few = np.isin(owner, asked)
    if not few.any():
        return moved
    support = _by_wall(laid.beside(few), owner[few], samples.weight[few], number)[asked]
    most = support.max(axis=1)
    clear = (most > _BESIDE) & (most - found[asked] > _MORE)
    moved[asked[clear]] = laid.steps[support.argmax(axis=1)][clear]
    step = _steps(point + normal * np.nan_to_num(moved)[owner][:, None], normal, laid.edges)
    parts = _by_wall(step[:, None], owner, samples.weight, number)[:, 0]
    # By wall, of walls that are there as a whole; pieces are asked of samples (`usual_step`).
    usual = float(np.median(parts[found > _BESIDE])) if (found > _BESIDE).any() else 0.0
    moved[parts < _PARTS * usual] = np.nan
    moved[_beside_paths(point, normal, owner, moved)] = np.nan
    return moved


def shifted_part(laid: Laid) -> Shifted:
    """What is missing of the walls across one of the floor's directions, where most of it is found
    at one shift along that direction."""
    shown = laid.inside.mean(axis=1) > _SHOWN
    lost = np.flatnonzero(shown & (laid.there.max(axis=1) < _NOT_THERE))
    if not len(lost):
        return nothing_shifted(laid.walls)
    weight, room = laid.samples.weight, laid.samples.room
    rooms = _by_room(room[shown], weight[shown], laid.walls)
    outer = laid.walls.outer[laid.samples.wall]
    pieces = _Lost(
        laid.point[lost], laid.normal[lost], weight[lost], room[lost], outer[lost], rooms
    )
    close = laid.beside(lost) * laid.parts_areas(lost)
    return _at_one_shift(pieces, close, laid.steps, laid.pose, laid.walls)


def nothing_shifted(walls: Walls) -> Shifted:
    """No part stands at a shift."""
    return Shifted(0.0, 0.0, np.zeros(walls.rooms, dtype=bool))


def shifted_nearby(fit: Fit, nearby: Nearby, walls: Walls, factor: float) -> Shifted:
    """As `shifted_part`, by as little as parts two lines: what `fit` misses on the full picture is
    looked for right beside it. `factor`: working px per full px."""
    shown, missed = missed_chunks(fit)
    weight, lost = fit.chunks.weight, np.flatnonzero(missed)
    place, room = fit.place[lost] * factor, fit.chunks.room[lost]
    rooms = _by_room(fit.chunks.room[shown], weight[shown], walls)
    pieces = _Lost(place, fit.normal[lost], weight[lost], room, fit.outer[lost], rooms)
    asked = np.abs(nearby.steps) >= _THERE_PX
    close = nearby.value[lost][:, asked].astype(np.float64)
    return _at_one_shift(pieces, close, nearby.steps[asked] * factor, fit.pose, walls)


@dataclass(frozen=True, eq=False)
class _Lost:
    """Pieces of walls: centres and outward normals (N, 2) working px, `weight`, `room`, `outer`
    (N,); and what all pieces that are shown weigh, room by room (R,)."""

    point: Floats
    normal: Floats
    weight: Floats
    room: NDArray[np.int64]
    outer: NDArray[np.bool_]
    rooms: Floats


def _at_one_shift(lost: _Lost, close: Floats, steps: Floats, pose: Floats, walls: Walls) -> Shifted:
    """What of the pieces is found at one shift: `close` (N, K) 0..1 how well each is at `steps`
    (K,) working px outward, the same to either side."""
    found, whole = nothing_shifted(walls), float(lost.rooms.sum())
    # A room that is not drawn at all has not moved.
    gone = lost.weight * (close.max(axis=1, initial=0.0) <= _FOUND)
    nothing = _by_room(lost.room, gone, walls)
    drawn = nothing <= _NOT_DRAWN * lost.rooms
    for axis in main_axes(pose):
        facing = lost.normal @ axis
        asked = np.flatnonzero(np.abs(facing) > FACING)
        if not len(asked):
            continue
        weight = lost.weight[asked] * drawn[lost.room[asked]]
        there = np.where(facing[asked, None] > 0.0, close[asked], close[asked, ::-1])
        support = weight @ there
        best = int(support.argmax())
        next_best = support[np.abs(steps - steps[best]) > _OTHER_PX].max(initial=0.0)
        # A path that follows the walls is inside of those that face either way.
        inside_out = support[np.abs(steps + steps[best]) <= _OTHER_PX].max(initial=0.0)
        hit = weight * (there[:, best] > _FOUND)
        sure = min(
            max(
                ramp(float(support[best] / max(weight.sum(), 1e-12)), *_AT_ONE_SHIFT),
                ramp(1.0 - float(next_best / max(support[best], 1e-12)), *_LESS),
            ),
            ramp(float(support[best]) / max(whole, 1e-12), *_OF_ALL),
            ramp(1.0 - float(inside_out / max(support[best], 1e-12)), *_ONE_WAY),
            max(
                ramp(of_equal_weight(walls_apart(lost.point[asked] @ axis), hit), *_OF_WALLS),
                _outer_side(lost.room[asked], lost.outer[asked] * hit),
            ),
        )
        if sure > found.sure:
            room = _by_room(lost.room[asked], hit, walls)
            length = _by_room(walls.room, walls.length, walls)
            found = Shifted(sure, float(steps[best]), room >= _MUCH * length)
    return found


def _outer_side(room: NDArray[np.int64], hit: Floats) -> float:
    """0..1: how surely pieces (N,) of outer walls that are `hit` are a whole side of the floor, of
    more rooms than one: a wall between rooms is soon rebuilt, and the house's own is not. But the
    rim of a sheet over the picture is a side as well."""
    return _A_SIDE * ramp(of_equal_weight(room, hit), *_OF_ROOMS)


def rooms_beside(moved: Floats, walls: Walls) -> NDArray[np.bool_]:
    """(R,) which rooms have much of their outline where the picture shows it elsewhere, of walls
    that are `moved` (W,)."""
    beside = walls.length * np.isfinite(moved)[walls.bend]
    return np.asarray(
        _by_room(walls.room, beside, walls) >= _MUCH * _by_room(walls.room, walls.length, walls)
    )


def _beside_paths(
    point: Floats, normal: Floats, owner: NDArray[np.int64], moved: Floats
) -> NDArray[np.int64]:
    """Which walls have moved (W,) into the room, and their other faces into the next one: driven
    paths follow a wall on both sides of it. Points and outward normals (M, 2) px, of walls `owner`.
    """
    found = np.flatnonzero(moved[owner] < 0.0)
    point, normal, wall = point[found], normal[found], owner[found]
    gap = point[None] - point[:, None]
    across = (gap * normal[:, None]).sum(axis=2)
    along = np.sqrt(np.maximum((gap**2).sum(axis=2) - across**2, 0.0))
    facing = (normal @ normal.T < -0.95) & (along < _OPPOSITE_PX) & (np.abs(across) < THICK_PX)
    return np.unique(wall[facing.any(axis=1)])


def _steps(point: Floats, normal: Floats, edges: Edges) -> Floats:
    """(M,) grey levels per px of the colour step at points (M, 2) or right beside them, where areas
    meet and not at thin lines: grids and paths part nothing."""
    width, height = edges.size
    most = np.zeros(len(point))
    for aside in (-1.0, 0.0, 1.0):
        column, row = (point + aside * normal).astype(np.int64).T
        column, row = column.clip(0, width - 1), row.clip(0, height - 1)
        most = np.maximum(most, edges.calm_gradient[row, column])
    return most


def _on_edges(
    point: Floats,
    normal: Floats,
    steps: Floats,
    edges: Edges,
    claimed: dict[int, NDArray[np.uint8]],
) -> tuple[Floats, Floats]:
    """(M, K) 0..1, how near the next edge of a wall's direction is at `steps` (K,) outward from
    points (M, 2), none where it is `claimed`; and (M, K) 1 inside the picture."""
    x, y = (
        (point[:, axis, None] + normal[:, axis, None] * steps).astype(np.float32) for axis in (0, 1)
    )
    # Of two dimensions: OpenCV 4 makes columns of rows, and OpenCV 5 does not.
    channel = normal_channel(*(normal[:, [axis]].astype(np.float32) for axis in (0, 1)))
    away = edges.near.away(edges.near.cells(np.broadcast_to(channel, x.shape), x, y))
    width, height = edges.size
    inside = (x > 1) & (x < width - 1) & (y > 1) & (y < height - 1)
    close = np.exp(-0.5 * (away.astype(np.float64) / _STRAIGHT_PX) ** 2) * inside
    column = x.clip(0, width - 1).astype(np.int64)
    row = y.clip(0, height - 1).astype(np.int64)
    for drawn, mask in claimed.items():
        beside = np.isin((channel - drawn) % ORIENTATIONS, (0, 1, ORIENTATIONS - 1))
        close *= (mask[row, column] == 0) | ~beside
    return close, inside.astype(np.float64)


def _by_room(room: NDArray[np.integer], weight: Floats, walls: Walls) -> Floats:
    """(R,) sums of weights (N,) over rooms, of numbers `room` (N,)."""
    return np.bincount(room, weight, minlength=walls.rooms).astype(np.float64)


def _by_wall(values: Floats, owner: NDArray[np.int64], weight: Floats, number: int) -> Floats:
    """(W, K) means of values (M, K) over walls, by weights (M,)."""
    total = np.maximum(np.bincount(owner, weight, minlength=number), 1e-12)
    sums = [np.bincount(owner, weight * column, minlength=number) for column in values.T]
    return np.stack(sums, axis=1) / total[:, None]
