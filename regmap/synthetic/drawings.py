"""Plans as a draughtsman draws them: walls, door swings, windows, fittings, stairs, dimensions,
names.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon

from .clutter import hatching
from .floors import Door, Floor, furnish
from .raster import Canvas
from .shapes import grown

__all__ = ["Note", "plan"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Note:
    """Words centred at a place, floor mm; `size` relative to the picture's usual letters."""

    x: float
    y: float
    text: str
    size: float
    below: bool = False


# (paper, ink)
PAPERS = (
    ((255, 255, 255), (0, 0, 0)),
    ((255, 255, 255), (40, 40, 40)),
    ((250, 246, 235), (50, 40, 30)),
    ((28, 62, 120), (225, 235, 250)),
    ((238, 240, 242), (30, 40, 60)),
)


def plan(
    canvas: Canvas, floor: Floor, rooms: Mapping[str, Polygon], rng: Generator
) -> tuple[Array, Array, tuple[Note, ...]]:
    """Draw the floor as an architect's plan. Returns (paper, ink) colours and what to write."""
    paper, ink = (np.array(c, float) for c in PAPERS[int(rng.integers(len(PAPERS)))])
    canvas.image[:] = paper
    thin = max(0.8, 0.9 * max(canvas.size) / 1200)
    if rng.random() < 0.3:  # rooms in faint tints
        for room in rooms.values():
            tint = paper + rng.uniform(-22, 4, 3)
            canvas.fill(room, np.clip(tint, 0, 255))
    if rng.random() < 0.8:
        _fittings(canvas, floor, ink, thin, rng)
    if rng.random() < 0.5:
        _stairs(canvas, rooms, ink, thin, rng)
    walls = floor.outside.difference(shapely.union_all(list(rooms.values())))
    walls = walls.difference(floor.openings)
    _walls(canvas, walls, paper, ink, thin, rng)
    _windows(canvas, floor, paper, ink, thin)
    swings = rng.random() < 0.9
    for door in floor.doors:
        if swings and rng.random() < 0.95:
            _swing(canvas, door, floor, ink, thin, rng)
    notes = _names(rooms, rng) if rng.random() < 0.8 else []
    if rng.random() < 0.7:
        notes += _dimensions(canvas, floor, rooms, ink, thin)
    return paper, ink, tuple(notes)


def _names(rooms: Mapping[str, Polygon], rng: Generator) -> list[Note]:
    """Room names, with areas now and then."""
    notes = []
    areas, capitals = rng.random() < 0.6, rng.random() < 0.6
    for name, room in rooms.items():
        x, y = shapely.get_coordinates(room.representative_point())[0]
        notes.append(Note(x, y, name.upper() if capitals else name, 1.0))
        if areas:
            notes.append(Note(x, y, f"{room.area / 1e6:.2f} m2", 0.8, below=True))
    return notes


def _walls(
    canvas: Canvas,
    walls: shapely.geometry.base.BaseGeometry,
    paper: Array,
    ink: Array,
    thin: float,
    rng: Generator,
) -> None:
    """Solid, grey with an edge, hollow, or hatched."""
    kind = rng.choice(["solid", "grey", "hollow", "hatched"], p=[0.4, 0.25, 0.2, 0.15])
    if kind == "solid":
        canvas.fill(walls, ink)
        return
    if kind == "grey":
        canvas.fill(walls, (ink + paper) / 2)
    elif kind == "hatched":
        canvas.stroke(hatching(walls, 5 / canvas.px_per_mm, 45), ink, 0.8 * thin)
    canvas.stroke(walls.boundary, ink, 1.5 * thin)


def _windows(canvas: Canvas, floor: Floor, paper: Array, ink: Array, thin: float) -> None:
    """A gap in the outer wall with panes in it."""
    depth = floor.outer_wall_mm
    for window in floor.windows:
        gap = window.buffer(depth / 2, cap_style="flat")
        canvas.fill(gap, paper)
        canvas.stroke(gap.boundary, ink, thin)
        canvas.stroke(window, ink, thin)


def _swing(
    canvas: Canvas, door: Door, floor: Floor, ink: Array, thin: float, rng: Generator
) -> None:
    """The open leaf and the quarter arc that it sweeps; jambs across the wall."""
    side = float(rng.choice([-1.0, 1.0]))
    hand = float(rng.choice([-1.0, 1.0]))
    along = hand * door.along
    across = side * np.array([-door.along[1], door.along[0]])
    depth = floor.inner_wall_mm if door.between[1] else floor.outer_wall_mm
    hinge = door.middle - along * door.width_mm / 2 + across * depth / 2
    angles = np.linspace(0, np.pi / 2, 16)[:, None]
    arc = hinge + door.width_mm * (np.cos(angles) * along + np.sin(angles) * across)
    leaf = LineString([hinge, hinge + across * door.width_mm])
    canvas.stroke(leaf, ink, 2 * thin)
    canvas.stroke(LineString(arc), ink, thin, 0.8)


def _fittings(canvas: Canvas, floor: Floor, ink: Array, thin: float, rng: Generator) -> None:
    """Furniture in thin lines: an outline, and inside it a rim, a basin, a pillow or a cross."""
    for piece in floor.furniture or furnish(floor, rng, density=float(rng.uniform(0.5, 1.5))):
        canvas.stroke(piece.boundary, ink, thin)
        kind = int(rng.integers(0, 5))
        inner = grown(piece, -70)
        if inner.is_empty or kind == 4:
            continue
        if kind == 0:
            canvas.stroke(inner.buffer(-60).buffer(60).boundary, ink, thin)
        elif kind == 1:
            size = float(np.sqrt(inner.area)) * 0.3
            canvas.stroke(inner.centroid.buffer(size).intersection(inner).boundary, ink, thin)
        elif kind == 2:
            ring = shapely.get_coordinates(shapely.minimum_rotated_rectangle(piece))
            canvas.stroke(LineString([ring[0], ring[2]]), ink, thin)
            canvas.stroke(LineString([ring[1], ring[3]]), ink, thin)
        else:
            ring = shapely.get_coordinates(shapely.minimum_rotated_rectangle(inner))
            share = rng.uniform(0.15, 0.35)
            canvas.stroke(
                LineString(
                    [ring[0] + share * (ring[1] - ring[0]), ring[3] + share * (ring[2] - ring[3])]
                ),
                ink,
                thin,
            )


def _stairs(
    canvas: Canvas, rooms: Mapping[str, Polygon], ink: Array, thin: float, rng: Generator
) -> None:
    """A flight of treads with an arrow in one room."""
    name = str(rng.choice(list(rooms)))
    room = rooms[name]
    x, y = shapely.get_coordinates(room.representative_point())[0]
    length, width, tread = rng.uniform(2000, 4200), rng.uniform(800, 1200), 270.0
    flight = shapely.box(x - length / 2, y - width / 2, x + length / 2, y + width / 2)
    flight = shapely.affinity.rotate(flight, 90.0 * int(rng.integers(0, 2))).intersection(room)
    upright = flight.bounds[3] - flight.bounds[1] > flight.bounds[2] - flight.bounds[0]
    canvas.stroke(hatching(flight, tread, 0.0 if upright else 90.0), ink, thin)
    canvas.stroke(flight.boundary, ink, thin)
    left, bottom, right, top = flight.bounds
    middle = ((left + right) / 2, (bottom + top) / 2)
    if upright:
        arrow = [(middle[0], bottom), (middle[0], top), (middle[0] - 120, top - 250)]
    else:
        arrow = [(left, middle[1]), (right, middle[1]), (right - 250, middle[1] + 120)]
    canvas.stroke(LineString(arrow), ink, thin)


def _dimensions(
    canvas: Canvas,
    floor: Floor,
    rooms: Mapping[str, Polygon],
    ink: Array,
    thin: float,
) -> list[Note]:
    """Chains outside the walls: a line, oblique ticks where walls meet it, and the numbers for
    them.
    """
    notes = []
    left, bottom, right, top = floor.outside.bounds
    unit = 0.035 * max(right - left, top - bottom)
    bounds = [r.bounds for r in rooms.values() if not r.is_empty]
    xs = sorted({round(v, -2) for b in bounds for v in (b[0], b[2])})
    ys = sorted({round(v, -2) for b in bounds for v in (b[1], b[3])})
    lines: list[list[tuple[float, float]]] = []
    for row, marks in ((1.0, xs), (1.9, [left, right])):
        y = bottom - row * unit
        lines.append([(marks[0], y), (marks[-1], y)])
        for a, b in itertools.pairwise(marks):
            if b - a > 900:
                notes.append(Note((a + b) / 2, y + unit / 6, f"{(b - a) / 1000:.2f}", 0.7))
        for x in marks:
            lines.append([(x - unit / 6, y - unit / 6), (x + unit / 6, y + unit / 6)])
            lines.append([(x, y - unit / 3), (x, y + unit / 3)])
    for row, marks in ((1.0, ys), (1.9, [bottom, top])):
        x = left - row * unit
        lines.append([(x, marks[0]), (x, marks[-1])])
        for a, b in itertools.pairwise(marks):
            if b - a > 900:
                notes.append(Note(x, (a + b) / 2, f"{(b - a) / 1000:.2f}", 0.7))
        for y in marks:
            lines.append([(x - unit / 6, y - unit / 6), (x + unit / 6, y + unit / 6)])
            lines.append([(x - unit / 3, y), (x + unit / 3, y)])
    canvas.stroke(MultiLineString(lines), ink, thin)
    return notes
