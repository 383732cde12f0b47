"""Made floors: rooms with walls, doors and furniture, in floor millimetres, y up."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from .footprints import footprint
from .partition import Style, borders, neighbours, partition
from .shapes import grown, largest

__all__ = ["STYLES", "Door", "Floor", "furnish", "make_floor"]

STYLES: dict[str, tuple[str, Style]] = {
    # name: (footprint kind, how walls are placed)
    "mixed": ("mixed", Style(slanted=0.08, round=0.04)),
    "plain": ("square", Style(slanted=0.0, elbow=0.1, round=0.0)),
    "office": ("square", Style(corridor=1.0, elbow=0.05, closet=0.02, merge=0.1, evenness=0.4)),
    "slanted": ("mixed", Style(slanted=0.35, elbow=0.1)),
    "round": ("round", Style(slanted=0.15, round=0.25)),
}
NAMES = ("hall", "lounge", "kitchen", "bath", "study", "bedroom", "store", "pantry", "guest", "den")


@dataclass(frozen=True, eq=False)
class Door:
    """An opening in a wall: middle (2,), unit vector along the wall (2,), clear width mm."""

    middle: NDArray[np.float64]
    along: NDArray[np.float64]
    width_mm: float
    between: tuple[str, str]  # the second is "" for a door to the outside

    def opening(self, depth_mm: float) -> Polygon:
        """The gap in the wall, `depth_mm` deep."""
        wall = LineString(
            [
                self.middle - self.along * self.width_mm / 2,
                self.middle + self.along * self.width_mm / 2,
            ]
        )
        return wall.buffer(depth_mm / 2, cap_style="flat")


@dataclass(frozen=True, eq=False)
class Floor:
    """A floor. `cells` meet at the middle lines of the walls and tile `shell`, whose rings are the
    middle lines of the outer walls (its holes are courtyards). `zones` are the parts between the
    walls that carry the house. Everything in mm, y up."""

    shell: Polygon
    cells: Mapping[str, Polygon]
    zones: tuple[Polygon, ...]
    inner_wall_mm: float
    bearing_wall_mm: float
    outer_wall_mm: float
    doors: tuple[Door, ...] = ()
    windows: tuple[LineString, ...] = ()
    furniture: tuple[Polygon, ...] = field(default=())

    @cached_property
    def rooms(self) -> dict[str, Polygon]:
        """Free space of each room: up to the inner faces of its walls."""
        inside = self.shell.buffer(-self.outer_wall_mm / 2, join_style="mitre")
        zones = [z.buffer(-self.bearing_wall_mm / 2, join_style="mitre") for z in self.zones]
        free = {}
        for name, cell in self.cells.items():
            room = cell.buffer(-self.inner_wall_mm / 2, join_style="mitre").intersection(inside)
            zone = max(zones, key=lambda z: z.intersection(cell).area)
            if zone.intersection(cell).area > 0.99 * cell.area:  # not where rooms were joined
                room = room.intersection(zone)
            free[name] = largest(room)
        return free

    def at(
        self, border: str, *, shrink_mm: float = 0.0, outer_shrink_mm: float | None = None
    ) -> dict[str, Polygon]:
        """The rooms up to other borders.

        `border` is "faces" (inner faces of the walls) or "middle" (middle lines of the walls);
        `shrink_mm` moves every wall that far into the room (negative: out of it), `outer_shrink_mm`
        the outer walls alone (never less far than the others; default: the same).
        """
        rooms = self.rooms if border == "faces" else self.cells
        inset = self.outer_wall_mm / 2 if border == "faces" else 0.0
        outer = shrink_mm if outer_shrink_mm is None else outer_shrink_mm
        rim = self.shell.buffer(-inset - outer, join_style="mitre")
        return {
            name: largest(room.buffer(-shrink_mm, join_style="mitre").intersection(rim))
            for name, room in rooms.items()
        }

    @cached_property
    def outside(self) -> Polygon:
        """The floor up to the outer faces of its outer walls, courtyards cut out."""
        return grown(self.shell, self.outer_wall_mm / 2)

    @cached_property
    def openings(self) -> BaseGeometry:
        """All door gaps."""
        gaps = [d.opening(2 * self.outer_wall_mm + 20) for d in self.doors]
        return shapely.union_all(gaps) if gaps else Polygon()

    @cached_property
    def walls(self) -> BaseGeometry:
        """The walls as seen from above, doors left open."""
        solid = self.outside.difference(shapely.union_all(list(self.rooms.values())))
        return solid.difference(self.openings)

    @cached_property
    def wall_lines(self) -> BaseGeometry:
        """Middle lines of all walls."""
        return shapely.union_all([c.boundary for c in self.cells.values()], grid_size=0.01)


def make_floor(
    rng: Generator,
    *,
    rooms: int = 8,
    style: str = "mixed",
    shape: str | None = None,
    area_m2: float | None = None,
    courtyard: bool = False,
) -> Floor:
    """A floor with `rooms` rooms (a few fewer where the shape allows no more).

    `style` is a name of STYLES, `shape` a name of footprints.SHAPES or one of its pools (default:
    as the style has it), `area_m2` the area inside the outer walls' middle lines.
    """
    pool, walls = STYLES[style]
    if area_m2 is None:
        area_m2 = rooms * float(rng.uniform(9, 24))
    shell = footprint(rng, kind=shape or pool, area_mm2=area_m2 * 1e6, courtyard=courtyard)
    return divide(shell, rng, rooms=rooms, style=walls)


def divide(shell: Polygon, rng: Generator, *, rooms: int, style: Style) -> Floor:
    """Rooms, walls, doors and windows for a given outer shape."""
    best: tuple[list[Polygon], list[Polygon]] = ([], [])
    for _ in range(4):
        trial = partition(shell, rng, rooms=rooms, style=style)
        if len(trial[0]) > len(best[0]):
            best = trial
        if len(best[0]) >= rooms:
            break
    # Of slanted cuts that nearly meet, a cell may come to cross itself.
    cells = [cell if cell.is_valid else largest(shapely.make_valid(cell)) for cell in best[0]]
    return build(shell, cells, tuple(best[1]), rng)


def build(
    shell: Polygon, cells: list[Polygon], zones: tuple[Polygon, ...], rng: Generator
) -> Floor:
    """A floor from its tiles: walls get their thickness, rooms names, doors and windows places."""
    inner = float(rng.uniform(70, 150))
    named = dict(zip(_names(cells, rng), cells, strict=True))
    return Floor(
        shell=shell,
        cells=named,
        zones=zones,
        inner_wall_mm=inner,
        bearing_wall_mm=inner + float(rng.choice([0.0, 60.0, 120.0])),
        outer_wall_mm=float(rng.uniform(200, 400)),
        doors=_doors(named, rng),
        windows=_windows(shell, rng),
    )


def _names(cells: list[Polygon], rng: Generator) -> list[str]:
    """A name each, numbered where it comes again."""
    seen: dict[str, int] = {}
    names = []
    for _ in cells:
        word = str(rng.choice(NAMES))
        seen[word] = seen.get(word, 0) + 1
        names.append(word if seen[word] == 1 else f"{word} {seen[word]}")
    return names


def _straight(
    line: BaseGeometry, length: float
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Straight pieces of at least `length` mm as (start, end)."""
    pieces: list[tuple[NDArray[np.float64], NDArray[np.float64]]] = []
    for part in shapely.get_parts(line):
        if part.geom_type != "LineString":
            continue
        points = shapely.get_coordinates(part.simplify(20.0))
        for a, b in itertools.pairwise(points):
            if np.hypot(*(b - a)) >= length:
                pieces.append((a, b))
    return pieces


def _door(line: BaseGeometry, rng: Generator, names: tuple[str, str]) -> Door | None:
    """A door somewhere in a wall, clear of its corners."""
    width = float(rng.uniform(700, 1200))
    places = _straight(line, 900.0)
    if not places:
        return None
    a, b = places[int(rng.integers(len(places)))]
    length = float(np.hypot(*(b - a)))
    width = min(width, length - 200.0)
    along = (b - a) / length
    at = (
        rng.uniform(width / 2 + 100, length - width / 2 - 100)
        if length > width + 200
        else length / 2
    )
    return Door(a + at * along, along, width, names)


def _doors(cells: Mapping[str, Polygon], rng: Generator) -> tuple[Door, ...]:
    """Doors such that every room can be reached, a few more, and one to the outside."""
    names, shapes = list(cells), list(cells.values())
    pairs = neighbours(shapes)
    rng.shuffle(pairs)
    pairs.sort(key=lambda p: -max(shapes[p[0]].length, shapes[p[1]].length))
    group = list(range(len(shapes)))
    doors = []
    for i, j in pairs:
        if group[i] == group[j] and rng.random() > 0.12:
            continue
        door = _door(borders(shapes[i], shapes[j]), rng, (names[i], names[j]))
        if door is not None:
            doors.append(door)
            old, new = group[j], group[i]
            group = [new if g == old else g for g in group]
    shell = shapely.union_all(shapes).boundary
    rim = [i for i, s in enumerate(shapes) if s.buffer(1).intersection(shell).length > 1200]
    if rim:
        i = int(rng.choice(rim))
        door = _door(shapely.intersection(shapes[i].boundary, shell.buffer(2)), rng, (names[i], ""))
        doors += [door] if door is not None else []
    return tuple(doors)


def _windows(shell: Polygon, rng: Generator) -> tuple[LineString, ...]:
    """Pieces of the outer walls' middle lines."""
    windows = []
    for a, b in _straight(shell.boundary, 1800.0):
        length = float(np.hypot(*(b - a)))
        for k in range(int(length // 3000) + 1):
            if rng.random() < 0.75:
                width = rng.uniform(600, 1600)
                at = (k + 0.5) * length / (int(length // 3000) + 1)
                along = (b - a) / length
                ends = (a + (at - width / 2) * along, a + (at + width / 2) * along)
                windows.append(LineString(ends))
    return tuple(windows)


def furnish(floor: Floor, rng: Generator, *, density: float = 0.5) -> tuple[Polygon, ...]:
    """Footprints of furniture inside the rooms: most along walls, some free, a few round."""
    pieces: list[Polygon] = []
    for room in floor.rooms.values():
        free = room.buffer(-30, join_style="mitre").difference(floor.openings.buffer(500))
        for _ in range(int(rng.poisson(density * max(room.area / 6e6, 0.3)))):
            piece = _piece(room, rng)
            if free.contains(piece) and all(not piece.intersects(p) for p in pieces[-6:]):
                pieces.append(piece)
    return tuple(pieces)


def _piece(room: Polygon, rng: Generator) -> Polygon:
    """One piece of furniture, where it may or may not fit."""
    depth, width = rng.uniform(300, 900), rng.uniform(500, 2100)
    if rng.random() < 0.35:
        left, bottom, right, top = room.bounds
        spot = Point(rng.uniform(left, right), rng.uniform(bottom, top))
        if rng.random() < 0.5:
            return spot.buffer(depth / 2 + 100, 12)
        item = box(spot.x - width / 2, spot.y - depth / 2, spot.x + width / 2, spot.y + depth / 2)
        return affinity.rotate(item, float(rng.choice([0, 90, rng.uniform(0, 180)])))
    ring = shapely.get_coordinates(shapely.orient_polygons(room).exterior)
    edges = np.diff(ring, axis=0)
    lengths = np.hypot(*edges.T)
    i = int(rng.choice(len(edges), p=lengths / lengths.sum()))
    along = edges[i] / max(lengths[i], 1e-9)
    inward = np.array([-along[1], along[0]])
    corner = ring[i] + along * rng.uniform(0, max(lengths[i] - width, 1.0)) + inward * 40
    return Polygon(
        [
            corner,
            corner + along * width,
            corner + along * width + inward * depth,
            corner + inward * depth,
        ]
    )
