"""Occupancy pictures: free space, walls, the unknown. Drawn clean, or as a robot's scans leave
them.
"""

from __future__ import annotations

from collections.abc import Mapping

import cv2
import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from .floors import Floor, furnish
from .raster import Canvas, coverage

__all__ = ["clean", "scanned"]

Array = NDArray[np.float64]
Bits = NDArray[np.bool_]
# (free, wall, unknown), grey levels or RGB
SHADES = (
    ((254, 254, 254), (0, 0, 0), (205, 205, 205)),
    ((255, 255, 255), (40, 40, 40), (255, 255, 255)),
    ((225, 225, 225), (60, 60, 60), (150, 150, 150)),
    ((205, 225, 245), (40, 70, 120), (245, 247, 250)),
    ((70, 75, 85), (235, 235, 235), (25, 27, 32)),
    ((90, 120, 150), (230, 240, 250), (20, 25, 35)),
)


def clean(
    canvas: Canvas, floor: Floor, rooms: Mapping[str, Polygon], rng: Generator
) -> tuple[Array, Array]:
    """Free space of one colour, open doors, walls as bands. Returns (ground, free) colours."""
    free, wall, unknown = (np.array(c, float) for c in SHADES[int(rng.integers(len(SHADES)))])
    canvas.image[:] = unknown
    space = shapely.union_all([*rooms.values(), floor.openings.intersection(floor.outside)])
    band = float(rng.choice([0.0, 50.0, 80.0]))
    if band == 0.0:  # walls in their full thickness
        canvas.fill(floor.outside.buffer(0), wall)
    else:  # what a scanner sees: the faces of the walls alone
        canvas.fill(space.buffer(max(band, 1.2 / canvas.px_per_mm), join_style="mitre"), wall)
    canvas.fill(space, free)
    if rng.random() < 0.5:
        for piece in floor.furniture or furnish(floor, rng, density=0.6):
            canvas.fill(piece, wall if rng.random() < 0.7 else (wall + free) / 2)
    return unknown, free


def scanned(
    canvas: Canvas,
    floor: Floor,
    rooms: Mapping[str, Polygon],
    rng: Generator,
    *,
    explored: float = 1.0,
) -> tuple[Array, Array]:
    """A map as a robot's scans leave it; one pixel of the canvas is one cell.

    From several places in each room, rays run over the cells until something stops them. Free cells
    are those that rays crossed, walls those that rays ended on, ragged by a cell; rays leave
    through windows. `explored`: the share of the rooms that the robot went into, each through a
    door from another.
    """
    free_colour, wall_colour, unknown = (
        np.array(c, float) for c in SHADES[0 if rng.random() < 0.7 else 2]
    )
    solid, glass = _obstacles(canvas, floor, rooms, rng)
    free = np.zeros(solid.shape, bool)
    hits = np.zeros(solid.shape, bool)
    for name in _entered(floor, list(rooms), rng, explored) if explored < 1.0 else rooms:
        for start in _stations(rooms[name], rng):
            spot = shapely.get_coordinates(canvas.project(shapely.Point(start)))[0]
            _scan(spot, solid, glass, free, hits, rng)
    # An even kernel reaches to one side: what the dilation moves, the erosion must move back.
    square = np.ones((2, 2), np.uint8)
    grown = cv2.dilate(free.astype(np.uint8), square, anchor=(1, 1))
    free = cv2.erode(grown, square, anchor=(0, 0)) > 0
    specks = rng.random(free.shape) < 0.0006
    hits |= specks & free
    canvas.image[:] = unknown
    canvas.image[free] = free_colour
    canvas.image[hits] = wall_colour
    return unknown, free_colour


def _mask(canvas: Canvas, shape: BaseGeometry) -> Bits:
    """Cells that lie by half or more in a shape, floor mm."""
    width, height = canvas.size
    mask = np.zeros((height, width), bool)
    rows, columns, share = coverage(canvas.project(shape), width, height)
    mask[rows, columns] = share >= 0.5
    return mask


def _obstacles(
    canvas: Canvas, floor: Floor, rooms: Mapping[str, Polygon], rng: Generator
) -> tuple[Bits, Bits]:
    """Cells that stop rays, and those of them that are window panes."""
    solid = _mask(canvas, floor.outside.buffer(100)) & ~_mask(
        canvas, shapely.union_all(list(rooms.values()))
    )
    for door in floor.doors:
        if rng.random() < (0.93 if door.between[1] else 0.15):
            solid &= ~_mask(canvas, door.opening(2 * floor.outer_wall_mm))
    for piece in floor.furniture or furnish(floor, rng, density=float(rng.uniform(0.3, 1.2))):
        if rng.random() < 0.5:
            solid |= _mask(canvas, piece)
        else:  # legs of a table or chair
            for x, y in shapely.get_coordinates(shapely.minimum_rotated_rectangle(piece))[:4]:
                solid |= _mask(canvas, shapely.Point(x, y).buffer(45))
    share = float(rng.uniform(0.0, 0.4))
    panes = [
        w.buffer(floor.outer_wall_mm, cap_style="flat")
        for w in floor.windows
        if rng.random() < share
    ]
    glass = (
        _mask(canvas, shapely.union_all(panes)) & solid if panes else np.zeros(solid.shape, bool)
    )
    return solid, glass


def _entered(floor: Floor, names: list[str], rng: Generator, share: float) -> list[str]:
    """Rooms that hang together through doors, as many of `names` as `share` says."""
    entered = [names[int(rng.integers(len(names)))]]
    while len(entered) < max(2, round(share * len(names))):
        beyond = {
            other
            for door in floor.doors
            for here, other in (door.between, door.between[::-1])
            if here in entered and other in names and other not in entered
        }
        if not beyond:
            break
        entered.append(sorted(beyond)[int(rng.integers(len(beyond)))])
    return entered


def _stations(room: Polygon, rng: Generator) -> list[Array]:
    """Places where the robot stood."""
    inside = room.buffer(-250)
    if inside.is_empty:
        return [shapely.get_coordinates(room.representative_point())[0]]
    left, bottom, right, top = inside.bounds
    wanted = int(np.clip(room.area / 5e6, 2, 8))
    points = rng.uniform((left, bottom), (right, top), (40 * wanted, 2))
    return list(points[shapely.contains_xy(inside, points)][:wanted])


def _scan(spot: Array, solid: Bits, glass: Bits, free: Bits, hits: Bits, rng: Generator) -> None:
    """One turn of the scanner; marks `free` and `hits` in place."""
    height, width = solid.shape
    count, reach, thick = 540, 240, rng.choice([0.1, 0.25, 0.5])
    angle = rng.uniform(0, 2 * np.pi) + np.linspace(0, 2 * np.pi, count, endpoint=False)
    steps = np.arange(0, reach, 0.7)
    column = np.floor(spot[0] + np.cos(angle)[:, None] * steps).astype(np.int64)
    row = np.floor(spot[1] + np.sin(angle)[:, None] * steps).astype(np.int64)
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    column, row = np.clip(column, 0, width - 1), np.clip(row, 0, height - 1)
    through_glass = rng.random(count) < rng.uniform(0.02, 0.15)
    stops = solid[row, column] & ~(glass[row, column] & through_glass[:, None])
    first = np.where(stops.any(axis=1), stops.argmax(axis=1), len(steps))
    leaves = rng.integers(40, len(steps), count)  # a ray that meets nothing ends somewhere
    end = np.minimum(first, leaves)
    clear = (np.arange(len(steps))[None, :] < end[:, None]) & inside
    free[row[clear], column[clear]] = True
    met = np.flatnonzero((first < leaves) & (rng.random(count) < 0.97))
    at = np.clip(first[met] + (rng.random(len(met)) < thick), 0, len(steps) - 1)
    good = inside[met, at]
    hits[row[met, at][good], column[met, at][good]] = True
