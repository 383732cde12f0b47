"""How a floor is painted. A look paints on a Canvas and tells what colours it used."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import Polygon, affinity

from . import drawings, occupancy
from .drawings import Note
from .floors import Floor
from .palettes import palette
from .raster import Canvas, coverage

__all__ = ["LOOKS", "Scene"]

Rooms = Mapping[str, Polygon]


@dataclass(frozen=True, eq=False)
class Scene:
    """Colours used: ground (3,), rooms name -> (3,), pen (3,); and words that go on top."""

    ground: NDArray[np.float64]
    rooms: Mapping[str, NDArray[np.float64]]
    pen: NDArray[np.float64]
    notes: tuple[Note, ...] = ()


def paint_ground(canvas: Canvas, colour: NDArray[np.float64], rng: Generator) -> None:
    """A flat ground, or one that fades from side to side or from the middle outward."""
    canvas.image[:] = np.asarray(colour, np.float32)
    kind = rng.random()
    if kind < 0.75:
        return
    width, height = canvas.size
    x = np.linspace(-1, 1, width, dtype=np.float32)[None, :]
    y = np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    depth = rng.uniform(4, 18) * (1 if colour.mean() < 128 else -1)
    fade = (x**2 + y**2) / 2 if kind < 0.88 else (x + y + 2) / 4
    canvas.image += np.float32(depth) * fade[..., None]


def coloured(kind: str) -> Callable[[Canvas, Floor, Rooms, Generator], Scene]:
    """A look whose rooms are coloured areas."""

    def paint(canvas: Canvas, floor: Floor, rooms: Rooms, rng: Generator) -> Scene:
        cells = [floor.cells[n] if n in floor.cells else rooms[n] for n in rooms]
        colours = palette(kind, cells, rng)
        paint_ground(canvas, colours.ground, rng)
        if rng.random() < 0.12:
            _shadow(canvas, rooms, rng)
        if colours.walls is not None:
            block = shapely.union_all([r.buffer(60, join_style="mitre") for r in rooms.values()])
            canvas.fill(block, colours.walls)
        canvas.tile(rooms.values(), colours.rooms)
        width = float(rng.choice([0.0, 1.0, 1.5, 2.0, 3.0, 4.0]))
        if kind in ("one", "near"):
            width = max(width, 1.0)
        if width and (colours.walls is None or kind == "one"):
            lines = shapely.union_all([r.boundary for r in rooms.values()])
            canvas.stroke(lines, colours.pen, width * _pen_scale(canvas))
        return Scene(colours.ground, dict(zip(rooms, colours.rooms, strict=True)), colours.pen)

    return paint


def _shadow(canvas: Canvas, rooms: Rooms, rng: Generator) -> None:
    """The floor's soft shadow on the ground."""
    reach = float(rng.uniform(2, 8)) * _pen_scale(canvas)
    block = affinity.translate(
        canvas.project(shapely.union_all(list(rooms.values()))), reach, reach
    )
    depth = np.zeros(canvas.image.shape[:2], np.float32)
    rows, columns, share = coverage(block, *canvas.size)
    depth[rows, columns] = share
    canvas.image *= 1 - 0.35 * cv2.GaussianBlur(depth, (0, 0), reach)[..., None]


def _pen_scale(canvas: Canvas) -> float:
    """Pens grow with the picture: 1 at 1000 px, as screens with more pixels draw thicker lines."""
    return float(np.clip(max(canvas.size) / 1000, 0.6, 4.0))


def clean(canvas: Canvas, floor: Floor, rooms: Rooms, rng: Generator) -> Scene:
    """A clean occupancy picture."""
    ground, free = occupancy.clean(canvas, floor, rooms, rng)
    return Scene(ground, dict.fromkeys(rooms, free), (ground + free) / 2)


def scanned(canvas: Canvas, floor: Floor, rooms: Rooms, rng: Generator) -> Scene:
    """An occupancy picture as a robot records it; draw it with `cell_mm`."""
    ground, free = occupancy.scanned(canvas, floor, rooms, rng)
    return Scene(ground, dict.fromkeys(rooms, free), (ground + free) / 2)


def explored(canvas: Canvas, floor: Floor, rooms: Rooms, rng: Generator) -> Scene:
    """As `scanned`, by a robot that has not been everywhere."""
    share = float(rng.uniform(0.35, 0.9))
    ground, free = occupancy.scanned(canvas, floor, rooms, rng, explored=share)
    return Scene(ground, dict.fromkeys(rooms, free), (ground + free) / 2)


def plan(canvas: Canvas, floor: Floor, rooms: Rooms, rng: Generator) -> Scene:
    """A draughtsman's plan."""
    paper, ink, notes = drawings.plan(canvas, floor, rooms, rng)
    return Scene(paper, dict.fromkeys(rooms, paper), ink, notes)


LOOKS: dict[str, Callable[[Canvas, Floor, Rooms, Generator], Scene]] = {
    "flat": coloured("flat"),
    "near": coloured("near"),
    "few": coloured("few"),
    "dark": coloured("dark"),
    "one": coloured("one"),
    "occupancy": clean,
    "scanned": scanned,
    "explored": explored,
    "drawing": plan,
}
