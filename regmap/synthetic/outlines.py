"""What a robot says about its rooms: outlines in its own frame, late, coarse and a little wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import rasterio.features
import shapely
from affine import Affine
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.ops import split

from .floors import Floor
from .partition import join, neighbours
from .shapes import largest, through

__all__ = ["DeviceOutlines", "device_frame", "robot_outlines"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class DeviceOutlines:
    """`rings`: name -> outer ring and holes, each (N, 2) mm, not closed, device frame, y up.
    `floor_to_device`: (2, 3)."""

    rings: Mapping[str, tuple[Array, ...]]
    floor_to_device: Array


def device_frame(rng: Generator, *, turn_deg: float | None = None) -> Array:
    """A frame of a device's own, (2, 3) from floor mm: half of them are parallel to the walls."""
    if turn_deg is None:
        turn_deg = 90.0 * float(rng.integers(0, 4))
        kind = rng.random()
        if kind < 0.2:
            turn_deg += float(rng.normal(0, 1.5))
        elif kind < 0.5:
            turn_deg = float(rng.uniform(0, 360))
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    origin = rng.choice([0.0, 20000.0, 25600.0, 30000.0]) + rng.uniform(-9000, 9000, 2)
    return np.array([[c, -s, origin[0]], [s, c, origin[1]]])


def robot_outlines(
    floor: Floor,
    rng: Generator,
    *,
    shapes: Mapping[str, Polygon] | None = None,
    frame: Array | None = None,
    cell_mm: float = 0.0,
    noise_mm: float = 0.0,
    simplify_mm: float = 0.0,
    joined: int = 0,
    split_up: int = 0,
    missing: int = 0,
    new: int = 0,
) -> DeviceOutlines:
    """A device's outlines of a floor.

    `shapes`: the rooms as the device has them, floor mm (default: the inner faces, `floor.rooms`;
    other borders come from `floor.at`). `frame`: (2, 3) floor -> device (default: one of its own).
    `cell_mm`: outlines run along the sides of square cells of that size in the device frame.
    `noise_mm`: standard deviation by which corners are off, per axis. `simplify_mm`: tolerance of
    the device's own simplification. `joined`, `split_up`, `missing`, `new`: how many rooms differ
    from the floor that way.
    """
    rooms = dict(floor.rooms if shapes is None else shapes)
    _join(rooms, floor, rng, joined)
    _split(rooms, rng, split_up)
    for _ in range(min(missing, len(rooms) - 2)):
        rooms.pop(str(rng.choice(list(rooms))))
    _add(rooms, floor, rng, new)
    matrix = device_frame(rng) if frame is None else np.asarray(frame, float)
    placed = {n: through(r, matrix) for n, r in rooms.items() if not r.is_empty}
    if cell_mm > 0:
        placed = staircase(placed, cell_mm, rng)
    if simplify_mm > 0:
        placed = {n: largest(r.simplify(simplify_mm)) for n, r in placed.items()}
    rings = {n: _as_rings(r, rng, noise_mm) for n, r in placed.items()}
    return DeviceOutlines(rings, matrix)


def staircase(
    shapes: Mapping[str, Polygon], cell_mm: float, rng: Generator | None = None
) -> dict[str, Polygon]:
    """The shapes made of whole square cells whose centres they hold; the grid's phase is random."""
    left, bottom, right, top = shapely.total_bounds(list(shapes.values()))
    phase = rng.uniform(0, 1, 2) * cell_mm if rng is not None else np.zeros(2)
    west = np.floor(left / cell_mm) * cell_mm - cell_mm - phase[0]
    north = np.ceil(top / cell_mm) * cell_mm + cell_mm + phase[1]
    width = int((right - west) / cell_mm) + 2
    height = int((north - bottom) / cell_mm) + 2
    grid = Affine(cell_mm, 0, west, 0, -cell_mm, north)
    marked = [(s, i + 1) for i, s in enumerate(shapes.values())]
    labels = rasterio.features.rasterize(marked, (height, width), transform=grid, dtype="int32")
    pieces: dict[int, list[Polygon]] = {}
    for geometry, value in rasterio.features.shapes(labels, mask=labels > 0, transform=grid):
        pieces.setdefault(int(value), []).append(largest(shapely.geometry.shape(geometry)))
    names = list(shapes)
    return {
        names[i - 1]: max(parts, key=lambda p: float(p.area)) for i, parts in sorted(pieces.items())
    }


def _as_rings(shape: Polygon, rng: Generator, noise_mm: float) -> tuple[Array, ...]:
    rings = []
    for ring in shapely.get_rings(shapely.orient_polygons(shape)):
        points = shapely.get_coordinates(ring)[:-1]
        if noise_mm > 0:
            points = points + rng.normal(0, noise_mm, points.shape)
        rings.append(points)
    return tuple(rings)


def _join(rooms: dict[str, Polygon], floor: Floor, rng: Generator, count: int) -> None:
    """Let the device take two neighbours for one room."""
    if count == 0:
        return
    names = [n for n in floor.cells if n in rooms]
    pairs = neighbours([floor.cells[n] for n in names])
    rng.shuffle(pairs)
    gap = 2 * floor.inner_wall_mm + 60
    for i, j in pairs:
        a, b = names[i], names[j]
        if count > 0 and a in rooms and b in rooms:
            union = join(
                rooms[a].buffer(gap / 2, join_style="mitre"),
                rooms[b].buffer(gap / 2, join_style="mitre"),
            )
            if union is not None and len(rooms) > 2:
                rooms[a] = largest(union.buffer(-gap / 2, join_style="mitre"))
                del rooms[b]
                count -= 1


def _split(rooms: dict[str, Polygon], rng: Generator, count: int) -> None:
    """Let the device divide a room where there is no wall."""
    for name in sorted(rooms, key=lambda n: -rooms[n].area)[:count]:
        middle = shapely.get_coordinates(rooms[name].centroid)[0] + rng.normal(0, 300, 2)
        turn = np.radians(90 * rng.integers(0, 2) + rng.normal(0, 3))
        reach = np.array([np.cos(turn), np.sin(turn)]) * 1e6
        parts = shapely.get_parts(split(rooms[name], LineString([middle - reach, middle + reach])))
        if len(parts) == 2 and min(p.area for p in parts) > 1e6:
            rooms[name], rooms[f"{name} b"] = parts[0], parts[1]


def _add(rooms: dict[str, Polygon], floor: Floor, rng: Generator, count: int) -> None:
    """Rooms outside the floor that only the device knows."""
    for k in range(count):
        rim = floor.outside.exterior
        at = rim.interpolate(rng.random(), normalized=True)
        size = rng.uniform(1200, 2500, 2)
        extra = shapely.box(at.x - size[0], at.y - size[1], at.x + size[0], at.y + size[1])
        taken = shapely.union_all([floor.outside, *(r.buffer(100) for r in rooms.values())])
        extra = largest(extra.difference(taken))
        if extra.area > 1.5e6:
            rooms[f"annex {k + 1}"] = extra
