"""Floors that are like another one, or like themselves: strangers, later storeys, twins."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import Polygon, box

from .floors import STYLES, Floor, build, divide, furnish, make_floor
from .footprints import footprint
from .partition import Style, join, neighbours, partition
from .shapes import Shape, largest, through
from .symmetry import Reach, lopsided, spread

__all__ = [
    "Twins",
    "bent",
    "furnished",
    "next_storey",
    "renovate",
    "row_of_rooms",
    "same_shell",
    "symmetric_floor",
    "two_alike",
]

Array = NDArray[np.float64]
PLAIN = Style(slanted=0.12, elbow=0.25, corridor=0.0)


def _inner_likeness(a: Floor, b: Floor) -> float:
    """Share of b's inner walls that stand where a has walls, too."""
    rim = b.shell.boundary.buffer(150)
    inner = b.wall_lines.difference(rim)
    return Reach(a.wall_lines, 200.0).share(spread(inner)) if inner.length > 0 else 1.0


def _try(make: Callable[[], Floor], good: Callable[[Floor], bool], *, tries: int = 30) -> Floor:
    """The first floor that is good, or the last one."""
    for _ in range(tries):
        floor = make()
        if good(floor):
            break
    return floor


def same_shell(floor: Floor, rng: Generator) -> Floor:
    """A stranger inside the same outer walls: other rooms, about as many."""
    style = dataclasses.replace(STYLES["mixed"][1], corridor=0.3)

    def make() -> Floor:
        rooms = max(2, len(floor.cells) + int(rng.integers(-1, 3)))
        other = divide(floor.shell, rng, rooms=rooms, style=style)
        return dataclasses.replace(other, outer_wall_mm=floor.outer_wall_mm)

    return _try(make, lambda other: _inner_likeness(floor, other) < 0.45)


def next_storey(floor: Floor, rng: Generator) -> Floor:
    """The floor above: same outer walls, the stairwell and up to a third of the rooms the same."""
    names = sorted(floor.cells, key=lambda n: float(floor.cells[n].area))

    def make() -> Floor:
        at = int(rng.integers(0, max(1, len(names) // 2)))
        kept = [floor.cells[names[at]]]
        for name in names:
            near = kept[0].distance(floor.cells[name]) < 5
            small = sum(k.area for k in kept) + floor.cells[name].area < 0.3 * floor.shell.area
            if name != names[at] and near and small and rng.random() < 0.4:
                kept.append(floor.cells[name])
        rest = floor.shell.difference(shapely.union_all([k.buffer(1.0) for k in kept]))
        left = max(2, len(floor.cells) - len(kept) + int(rng.integers(-1, 3)))
        cells = list(kept)
        for part in shapely.get_parts(rest):
            if part.area > 2e6:
                piece = largest(part.buffer(1.0, join_style="mitre").intersection(floor.shell))
                count = max(1, round(left * piece.area / rest.area))
                cells += partition(piece, rng, rooms=count, style=PLAIN)[0]
        upper = build(floor.shell, cells, (floor.shell,), rng)
        return dataclasses.replace(upper, outer_wall_mm=floor.outer_wall_mm)

    return _try(make, lambda upper: _inner_likeness(floor, upper) < 0.6)


def bent(floor: Floor, rng: Generator, *, amount: float) -> Floor:
    """The floor as a drifting robot maps it: a smooth, slight bow of the whole.

    `amount`: largest departure, as a share of half the floor's length.
    """
    left, bottom, right, top = floor.shell.bounds
    middle, reach = (
        np.array([(left + right) / 2, (bottom + top) / 2]),
        max(right - left, top - bottom) / 2,
    )
    bow = rng.uniform(-1, 1, (3, 2)) * amount * reach / 2

    def move(points: Array) -> Array:
        x, y = ((points - middle) / reach).T
        bowed: Array = points + np.column_stack([x * x, x * y, y * y]) @ bow
        return bowed

    def curve(shape: Shape) -> Shape:
        curved: Shape = shapely.transform(shapely.segmentize(shape, 400.0), move)
        return curved

    return dataclasses.replace(
        floor,
        shell=curve(floor.shell),
        cells={n: curve(c) for n, c in floor.cells.items()},
        zones=tuple(curve(z) for z in floor.zones),
        doors=tuple(dataclasses.replace(d, middle=move(d.middle[None])[0]) for d in floor.doors),
        windows=tuple(curve(w) for w in floor.windows),
        furniture=tuple(curve(f) for f in floor.furniture),
    )


def furnished(floor: Floor, rng: Generator, *, density: float) -> dict[str, Polygon]:
    """The rooms less other furniture than the floor's, under which the robot cannot get.

    `density`: pieces, see floors.furnish; without any, the rooms as they are.
    """
    if density == 0.0:
        return dict(floor.rooms)
    taken = shapely.union_all([p.buffer(45) for p in furnish(floor, rng, density=density)])
    left = {name: largest(room.difference(taken)) for name, room in floor.rooms.items()}
    return {name: room for name, room in left.items() if room.area > 1e6}


def renovate(floor: Floor, rng: Generator) -> Floor:
    """One wall taken out, or moved: two neighbours become one room, or two others."""
    names, cells = list(floor.cells), list(floor.cells.values())
    pairs = neighbours(cells)
    rng.shuffle(pairs)
    for i, j in pairs:
        union = join(cells[i], cells[j])
        if union is None:
            continue
        new = [union]
        if rng.random() < 0.5:
            new = partition(union, rng, rooms=2, style=PLAIN)[0]
        changed = {n: c for n, c in floor.cells.items() if n not in (names[i], names[j])}
        changed |= dict(zip((names[i], names[j]), new, strict=False))
        doors = tuple(d for d in floor.doors if set(d.between) != {names[i], names[j]})
        return dataclasses.replace(floor, cells=changed, zones=(floor.shell,), doors=doors)
    return floor


@dataclass(frozen=True, eq=False)
class Twins:
    """A floor, the rooms of it that the device knows, and the moves, each (2, 3) in floor mm, that
    lay these rooms on walls of the floor once more."""

    floor: Floor
    known: tuple[str, ...]
    moves: tuple[Array, ...]


def _half(rng: Generator, rooms: int) -> Floor:
    """A floor whose right side is one straight wall at x = 0."""
    while True:
        style = STYLES[str(rng.choice(["mixed", "plain"]))][1]
        shell = footprint(rng, area_mm2=rooms * float(rng.uniform(10, 22)) * 1e6)
        left, bottom, right, top = shell.bounds
        cut = right - rng.uniform(0.0, 0.3) * (right - left)
        shell = largest(shell.intersection(box(left, bottom, cut, top)))
        shell = through(shell, np.array([[1.0, 0, -cut], [0, 1.0, 0]]))
        side = shell.boundary.intersection(shapely.LineString([(0, bottom), (0, top)]))
        if side.geom_type != "LineString" or side.length < 0.4 * (top - bottom):
            continue
        half = divide(shell, rng, rooms=rooms, style=style)
        if len(half.cells) == rooms and lopsided(half):
            return half


def symmetric_floor(rng: Generator, *, kind: str = "mirror", rooms: int = 8) -> Twins:
    """A floor that is its own image in a mirror (`kind` "mirror") or when turned by 180 degrees
    ("turn"), and nothing else."""
    half = _half(rng, max(2, rooms // 2))
    side = half.shell.boundary.intersection(shapely.LineString([(0, -1e7), (0, 1e7)]))
    middle = (side.bounds[1] + side.bounds[3]) / 2
    if kind == "mirror":
        move = np.array([[-1.0, 0, 0], [0, 1.0, 0]])
    else:
        move = np.array([[-1.0, 0, 0], [0, -1.0, 2 * middle]])
    cells = list(half.cells.values())
    twins = [through(c, move) for c in cells]
    shell = join(half.shell, through(half.shell, move))
    if shell is None:
        return symmetric_floor(rng, kind=kind, rooms=rooms)
    cells, twins = _middle_room(cells, twins, rng)
    floor = build(shell, cells + twins, (shell,), rng)
    return Twins(floor, tuple(floor.cells), (move,))


def _middle_room(
    cells: list[Polygon], twins: list[Polygon], rng: Generator
) -> tuple[list[Polygon], list[Polygon]]:
    """Now and then one room reaches over the axis of the symmetry: a stairwell, a hall."""
    if rng.random() < 0.5 and len(cells) > 2:
        for k, (a, b) in enumerate(zip(cells, twins, strict=True)):
            union = join(a, b) if a.intersection(b).length > 1500 else None
            if union is not None:
                return [c for i, c in enumerate(cells) if i != k] + [union], twins[:k] + twins[
                    k + 1 :
                ]
    return cells, twins


def row_of_rooms(rng: Generator) -> Twins:
    """Equal units side by side, of which the device knows some: they fit at several places."""
    while True:
        width, depth = rng.uniform(3000, 5500), rng.uniform(4500, 8000)
        unit = partition(box(0, 0, width, depth), rng, rooms=int(rng.integers(2, 4)), style=PLAIN)[
            0
        ]
        count = int(rng.integers(4, 8))
        known = int(rng.integers(2, count))
        cells = [through(c, _shift(i * width)) for i in range(count) for c in unit]
        shell = box(0, 0, count * width, depth)
        floor = build(shell, cells, (shell,), rng)
        names = list(floor.cells)
        part = dataclasses.replace(
            floor,
            shell=box(0, 0, known * width, depth),
            cells={n: floor.cells[n] for n in names[: known * len(unit)]},
        )
        if len(unit) >= 2 and lopsided(part):
            break
    first = int(rng.integers(0, count - known + 1))
    start, end = first * len(unit), (first + known) * len(unit)
    steps = [k - first for k in range(count - known + 1) if k != first]
    return Twins(floor, tuple(names[start:end]), tuple(_shift(s * width) for s in steps))


def _shift(x: float) -> Array:
    return np.array([[1.0, 0, x], [0, 1.0, 0]])


def two_alike(rng: Generator) -> tuple[Floor, Floor]:
    """Two floors of two rooms each that look much the same but are not: hard strangers."""
    shape = str(rng.choice(["rectangle", "ell", "slanted", "trapezium"]))
    style = "plain" if rng.random() < 0.5 else "slanted"
    first = make_floor(rng, rooms=2, style=style, shape=shape)
    shells = _try(
        lambda: make_floor(rng, rooms=2, style=style, shape=shape),
        lambda other: _differs(first, other),
    )
    return first, shells


def _differs(a: Floor, b: Floor) -> bool:
    """Shares of area or slimness differ, so that no similarity maps one on the other."""

    def figures(floor: Floor) -> Array:
        rooms = sorted(floor.cells.values(), key=lambda c: float(c.area))
        slim = [float(c.length**2 / c.area) for c in (*rooms, floor.shell)]
        return np.array([float(rooms[0].area / floor.shell.area), *slim])

    return float(np.abs(np.log(figures(a) / figures(b))).max()) > 0.15
