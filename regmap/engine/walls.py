"""Rings of the device -> walls: straight pieces with outward normals, in a frame of unit size.

The centring keeps full precision where a device counts from an origin 10^12 units away.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# How far outside a wall another room may begin for the wall to count as an inner one, as a share
# of the floor's half diagonal.
_NEIGHBOUR_REACH = 0.06
# Cells are no larger than this share of a room's extent.
_LARGEST_CELL = 0.05
# Of more corners, those go that no picture shows: at first this share of the floor's half diagonal,
# a quarter of a pixel where that is 2,000 px long, and twice as much until so many are left.
_MANY_CORNERS = 20_000
_FINEST, _COARSEST = 2.0**-13, 2.0**-7
# As a share of the floor's extent; 50 mm (common practice, no source) on 6 m.
_WIDEST_GRID = 0.008
# A wall ends where it turns by more than this at once, or in all.
_SHARP_TURN, _WHOLE_TURN = float(np.deg2rad(25.0)), float(np.deg2rad(45.0))
# Stairs have so many steps at least; a room with no more corners than that has none.
_FEWEST_STEPS, _NO_STAIRS = 4, 6
# How far stairs leave the line that they stand for, in units of what they are ragged by; how much
# more corners tell that they are ragged by more, and by how many cells at most.
_ON_STAIRS, _RAGGED, _MOST_RAGGED = 1.1, 2.0, 4.0


@dataclass(frozen=True, eq=False)
class Walls:
    """All straight pieces of the outlines.

    `origin` (2,) and `linear` (2, 2) lead back: device = linear @ own + origin. `linear` scales and
    turns, so that the own axes are the main directions of the walls. `start`, `end`, `normal` are
    (E, 2) in the own frame, `normal` pointing out of the room; `length` (E,) in the own frame;
    `room` (E,) the index of the room; `outer` (E,) True where no other room lies behind the wall;
    `bend` (E,) the same number for pieces that together make one straight or gently bent wall;
    `cell` in own units: the grid that all given corners lie on, 0 where there is none.
    """

    origin: Floats
    linear: Floats
    start: Floats
    end: Floats
    normal: Floats
    length: Floats
    room: Ints
    outer: NDArray[np.bool_]
    bend: Ints
    cell: float
    rings: tuple[tuple[Floats, ...], ...]

    @property
    def rooms(self) -> int:
        return len(self.rings)

    @cached_property
    def corners(self) -> Floats:
        """(4, 2) corners of the bounding box in the own frame."""
        low = np.minimum(self.start.min(axis=0), self.end.min(axis=0))
        high = np.maximum(self.start.max(axis=0), self.end.max(axis=0))
        return np.array([low, [high[0], low[1]], high, [low[0], high[1]]])

    @cached_property
    def ring_corners(self) -> Floats:
        """(P, 2) corners of all rings, room by room."""
        return np.concatenate([ring for rings in self.rings for ring in rings])

    @cached_property
    def ring_bounds(self) -> list[list[tuple[int, int]]]:
        """For each room where its rings begin and end in `ring_corners`."""
        sizes = [[len(ring) for ring in rings] for rings in self.rings]
        ends = iter(np.cumsum(np.concatenate(sizes)).tolist())
        return [
            [(end - size, end) for size in of_room for end in [next(ends)]] for of_room in sizes
        ]

    @cached_property
    def boxes(self) -> Floats:
        """(R, 4) least and largest x, y of each room, never quite flat."""
        rings = [rings[0] for rings in self.rings]
        start = np.cumsum([0] + [len(ring) for ring in rings[:-1]])
        points = np.concatenate(rings)
        low, high = (f.reduceat(points, start, axis=0) for f in (np.minimum, np.maximum))
        return np.concatenate([low, np.maximum(high, low + 1e-9)], axis=1)

    @cached_property
    def areas(self) -> Floats:
        """(R,) areas of the rooms in the own frame, holes not taken off."""
        return np.array([abs(signed_area(rings[0])) for rings in self.rings])


@dataclass(frozen=True, eq=False)
class Samples:
    """Points along walls. `point`, `normal`, `along` (M, 2); `wall`, `room` (M,); `weight` (M,)."""

    point: Floats
    normal: Floats
    along: Floats
    wall: Ints
    room: Ints
    weight: Floats


def signed_area(ring: Floats) -> float:
    """Area of a ring (N, 2), positive when counter-clockwise with y up."""
    centred = ring - np.add.reduce(ring, axis=0) / len(ring)
    (x, y), (next_x, next_y) = centred.T, following(centred).T
    return 0.5 * float(np.add.reduce(x * next_y - next_x * y))


def following(values: NDArray[Any]) -> NDArray[Any]:
    """(N, ...) for each of a ring's values the next one: numpy's roll, which takes longer."""
    return np.concatenate([values[1:], values[:1]])


def build_walls(rooms: list[tuple[Floats, ...]], tolerance: float = 0.0) -> Walls:
    """Rings of every room (outer ring first, then holes) -> `Walls`.

    `tolerance`, in device units, is how far a simplified outline may leave the given one; outlines
    of more than 20,000 corners are simplified in any case, by as little as leaves so many.
    """
    everything = np.concatenate([ring for rings in rooms for ring in rings])
    middle = everything.mean(axis=0)
    cell = grid_cell(everything - everything[0])
    rooms = [tuple(straighten(ring - middle) + middle for ring in rings) for rings in rooms]
    low, high = everything.min(axis=0), everything.max(axis=0)
    origin = 0.5 * (low + high)
    unit = max(float(0.5 * np.hypot(*(high - low))), 1e-300)
    turn = _main_turn([ring - origin for rings in rooms for ring in rings])
    leave = max(tolerance / unit, _spare_detail([(r - origin) / unit for rs in rooms for r in rs]))
    own: list[tuple[Floats, ...]] = []
    parts: list[tuple[Floats, Floats]] = []
    owner: list[Ints] = []
    bends: list[Ints] = []
    for number, rings in enumerate(rooms):
        turned = []
        for place, given in enumerate(rings):
            ring = simplify((given - origin) / unit @ turn, leave)
            if (signed_area(ring) > 0.0) == (place > 0):
                ring = ring[::-1]
            turned.append(np.ascontiguousarray(ring))
            parts.append((turned[-1], following(turned[-1])))
            owner.append(np.full(len(ring), number, dtype=np.int64))
            bends.append(_bends(turned[-1]) + (bends[-1][-1] + 1 if bends else 0))
        own.append(tuple(turned))
    start = np.concatenate([first for first, _ in parts])
    end = np.concatenate([second for _, second in parts])
    room, bend = np.concatenate(owner), np.concatenate(bends)
    along = end - start
    length = np.hypot(along[:, 0], along[:, 1])
    keep = length > 1e-9
    start, end, along, length = start[keep], end[keep], along[keep], length[keep]
    room, bend = room[keep], bend[keep]
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
    outer = _is_outer(own, start, end, normal, room)
    return Walls(
        origin, unit * turn, start, end, normal, length, room, outer, bend, cell / unit, tuple(own)
    )


def grid_cell(corners: Floats) -> float:
    """Width of the cells on whose borders all corners (N, 2) lie, or 0 if they lie on no grid.

    Robots draw rooms along the cells of their map: such a wall may stand anywhere within half a
    cell. A wider grid than `_WIDEST_GRID` is no robot's but round figures.
    """
    widest = max(float(np.abs(corners).max()), 1e-300)
    steps = np.concatenate([np.diff(np.unique(corners[:, axis])) for axis in (0, 1)])
    steps = steps[steps > 1e-9 * widest]
    if len(steps) < 4:
        return 0.0
    for parts in range(1, 11):
        cell = float(steps.min()) / parts
        if np.abs(corners / cell - np.rint(corners / cell)).max() < 0.02:
            return cell if cell < _WIDEST_GRID * widest else 0.0
    return 0.0


def _main_turn(rings: list[Floats]) -> Floats:
    """(2, 2) rotation whose columns are the main directions of the walls, by length."""
    along = np.concatenate([following(ring) - ring for ring in rings])
    length = np.hypot(along[:, 0], along[:, 1])
    angle = np.arctan2(along[:, 1], along[:, 0])
    main = 0.25 * float(np.angle((length * np.exp(4j * angle)).sum()))
    # A frame that is straight already stays as it is, to the bit.
    main = 0.0 if abs(main) < 1e-6 else main
    return np.array([[np.cos(main), -np.sin(main)], [np.sin(main), np.cos(main)]])


def _bends(ring: Floats) -> Ints:
    """(N,) number of the wall that each edge of a ring (N, 2) belongs to: edges that turn little
    from one to the next are one wall, up to an eighth of a circle."""
    along = following(ring) - ring
    angle = np.arctan2(along[:, 1], along[:, 0])
    turn = np.abs(np.mod(np.diff(angle) + np.pi, 2.0 * np.pi) - np.pi)
    number, turned = [0], 0.0
    for step in turn.tolist():
        turned += step
        new = step > _SHARP_TURN or turned > _WHOLE_TURN
        turned = 0.0 if new else turned
        number.append(number[-1] + int(new))
    return np.array(number, dtype=np.int64)


def straighten(ring: Floats) -> Floats:
    """A ring (N, 2) around square cells -> the line that the stairs stand for.

    Along a slanted wall the cells' border turns left, right, left, right in short right-angled
    steps; the line through the steps' middles is the wall, the steps' corners are not. A ring
    without such stairs comes back as it is.
    """
    if len(ring) <= _NO_STAIRS:
        return ring
    along = following(ring) - ring
    length = np.hypot(along[:, 0], along[:, 1])
    after = following(along)
    square = np.abs((along * after).sum(axis=1)) < 1e-6 * length * following(length)
    turn = np.sign(along[:, 0] * after[:, 1] - along[:, 1] * after[:, 0])
    # Edge i + 1 lies between the corners i and i + 1: a step if they turn opposite ways.
    step = square & following(square) & (turn * following(turn) < 0)
    if np.count_nonzero(step) < _FEWEST_STEPS:
        return ring
    step = np.roll(step, 1)
    cell = float(length[step].min())
    # Niches, bays and pillars turn left and right as well. Stairs are short against the room, and
    # whatever lies between two right angles is a whole number of cells long.
    cells = length[square & np.roll(square, 1)] / cell
    if cell > _LARGEST_CELL * np.ptp(ring, axis=0).max() or np.abs(cells % 1.0 - 0.5).min() < 0.4:
        return ring
    kept, ragged = _corners_of_stairs(ring, cell)
    if len(kept) < 3:
        return ring
    middle = ring + 0.5 * along
    points, directions = [], []
    for first, last in zip(kept, kept[1:] + kept[:1], strict=True):
        run = np.arange(first, last if last > first else last + len(ring)) % len(ring)
        ends = ring[last] - ring[first]
        point, direction = 0.5 * (ring[first] + ring[last]), ends / np.hypot(*ends)
        if len(run) >= 3:
            weight = length[run] / length[run].sum()
            point = weight @ middle[run]
            away = middle[run] - point
            direction = np.linalg.eigh((away * weight[:, None]).T @ away)[1][:, 1]
        points.append(point)
        directions.append(direction)
    corners = []
    for number, corner in enumerate(kept):
        p, d = points[number - 1], directions[number - 1]
        q, e = points[number], directions[number]
        cross = d[0] * e[1] - d[1] * e[0]
        meeting = ring[corner]
        if abs(cross) > np.sin(np.deg2rad(12.0)):
            gap = q - p
            meeting = p + d * (gap[0] * e[1] - gap[1] * e[0]) / cross
        far = np.hypot(*(meeting - ring[corner])) > 3.0 * ragged
        corners.append(ring[corner] if far else meeting)
    return np.array(corners)


def _corners_of_stairs(ring: Floats, cell: float) -> tuple[list[int], float]:
    """Indices of the corners between the walls of a ring (N, 2) of stairs, and by how much these
    are ragged: by a cell, or by twice and four times as much if most corners are none then, which
    those of walls and of curves stay."""
    ragged = cell
    kept = _kept_corners(ring, _ON_STAIRS * ragged)
    while ragged < _MOST_RAGGED * cell:
        fewer = _kept_corners(ring, _ON_STAIRS * 2.0 * ragged)
        if len(kept) <= _RAGGED * len(fewer) or len(fewer) < 4:
            break
        kept, ragged = fewer, 2.0 * ragged
    return kept, ragged


def _kept_corners(ring: Floats, tolerance: float) -> list[int]:
    """Indices of the corners of a ring (N, 2) that Douglas-Peucker keeps, in order."""
    scale = max(float(np.abs(ring).max()), 1e-12)
    own = (ring / scale).astype(np.float32)
    kept = cv2.approxPolyDP(own.reshape(-1, 1, 2), tolerance / scale, True).reshape(-1, 2)
    # What is kept is kept as it was; all distances would take gigabytes for 20,000 corners.
    first: dict[tuple[float, ...], int] = {}
    for number, corner in enumerate(map(tuple, own.tolist())):
        first.setdefault(corner, number)
    return sorted({first[corner] for corner in map(tuple, kept.tolist())})


def simplify(ring: Floats, tolerance: float) -> Floats:
    """Douglas-Peucker on a closed ring (N, 2) of about unit size; never below three points."""
    if tolerance <= 0.0 or len(ring) <= 4:
        return ring
    kept = cv2.approxPolyDP(ring.astype(np.float32).reshape(-1, 1, 2), tolerance, True)
    return kept.reshape(-1, 2).astype(np.float64) if len(kept) >= 3 else ring


def _spare_detail(rings: list[Floats]) -> float:
    """How far to simplify rings of a floor of unit half diagonal: 0 unless they are too many."""
    if sum(len(ring) for ring in rings) <= _MANY_CORNERS:
        return 0.0
    leave = _FINEST
    while leave < _COARSEST and sum(len(simplify(r, leave)) for r in rings) > _MANY_CORNERS:
        leave *= 2.0
    return leave


def sample_walls(walls: Walls, count: int) -> Samples:
    """About `count` points, evenly spread over all walls, each standing for an equal length."""
    spacing = max(float(walls.length.sum()) / max(count, 1), 1e-12)
    per_wall = np.maximum(np.rint(walls.length / spacing).astype(np.int64), 0)
    # Short walls share samples by chance otherwise; one in the middle keeps a round wall alive.
    per_wall = np.where((per_wall == 0) & (walls.length > 0.35 * spacing), 1, per_wall)
    if not per_wall.any():
        # Very many walls, and all of them short: now and then one stands for its neighbours.
        middle = (np.arange(max(count, 1)) + 0.5) * spacing
        last = len(walls.length) - 1
        per_wall[np.minimum(np.searchsorted(np.cumsum(walls.length), middle), last)] = 1
    wall = np.repeat(np.arange(len(walls.length)), per_wall)
    first = np.cumsum(per_wall) - per_wall
    place = (np.arange(len(wall)) - first[wall] + 0.5) / per_wall[wall]
    along = (walls.end - walls.start)[wall]
    point = walls.start[wall] + along * place[:, None]
    weight = walls.length[wall] / per_wall[wall]
    direction = along / walls.length[wall][:, None]
    return Samples(point, walls.normal[wall], direction, wall, walls.room[wall], weight)


def _is_outer(
    rings: list[tuple[Floats, ...]], start: Floats, end: Floats, normal: Floats, room: Ints
) -> NDArray[np.bool_]:
    """True for walls behind which, along most of their length, no other room begins within reach.

    Not at their middles alone: a cupboard against the other side may keep that room away there.
    """
    size, margin = 512, 40
    points = np.concatenate([ring for room_rings in rings for ring in room_rings])
    low = points.min(axis=0)
    scale = (size - 2 * margin) / max(float(np.ptp(points, axis=0).max()), 1e-12)
    label = np.zeros((size, size), dtype=np.int32)
    for number, room_rings in enumerate(rings):
        scaled = [
            np.rint(((ring - low) * scale + margin) * 16.0).astype(np.int32) for ring in room_rings
        ]
        cv2.fillPoly(label, scaled, number + 1, lineType=cv2.LINE_8, shift=4)
    share = np.linspace(0.1, 0.9, 5)[None, :, None]
    along = (start[:, None] * (1.0 - share) + end[:, None] * share).reshape(-1, 2)
    normal, own = np.repeat(normal, share.size, axis=0), np.repeat(room + 1, share.size)
    alone = np.arange(len(along))
    for step in np.linspace(0.1, 1.0, 12):
        probe = along[alone] + normal[alone] * (step * _NEIGHBOUR_REACH)
        cells = np.clip(((probe - low) * scale + margin).astype(np.int64), 0, size - 1)
        found = label.take(cells[:, 1] * size + cells[:, 0])
        alone = alone[(found == 0) | (found == own[alone])]
    return np.bincount(alone // share.size, minlength=len(start)) > 0.5 * share.size
