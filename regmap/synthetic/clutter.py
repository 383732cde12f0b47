"""What lies on top of a map: labels, icons, driven path, marked areas, furniture, grids."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import cv2
import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from .floors import Floor, furnish
from .palettes import hls, text_colour
from .raster import Canvas
from .screens import rounded, words
from .shapes import largest

if TYPE_CHECKING:
    from .looks import Scene

__all__ = ["hatching", "over", "under"]

Image = NDArray[np.uint8]
Rooms = Mapping[str, Polygon]


def under(
    canvas: Canvas, floor: Floor, rooms: Rooms, scene: Scene, rng: Generator, amount: float
) -> None:
    """Lay painted clutter over a map; `amount` 0..1 is the probability of each kind."""
    for layer in (_grid, _dimmed, _carpet, _furniture, _marked, _path):
        if rng.random() < amount:
            layer(canvas, floor, rooms, scene, rng)


def over(
    image: Image, canvas: Canvas, rooms: Rooms, scene: Scene, rng: Generator, amount: float
) -> None:
    """Lay symbols and text over a finished map, in place."""
    for note in scene.notes:
        height = max(1.8 * _unit(canvas, rooms) * note.size, 6.0)
        x, y = shapely.get_coordinates(canvas.project(shapely.Point(note.x, note.y)))[0]
        left = int(x - 0.31 * height * len(note.text))
        words(
            image,
            note.text,
            (left, int(y + height * (1.4 if note.below else 0))),
            height,
            scene.pen,
        )
    for layer in (_symbols,) if scene.notes else (_symbols, _labels):
        if rng.random() < amount:
            layer(image, canvas, rooms, scene, rng)


def hatching(shape: BaseGeometry, gap: float, turn_deg: float) -> BaseGeometry:
    """Parallel lines across the box of `shape`, cut to the shape."""
    left, bottom, right, top = shape.bounds
    reach = np.hypot(right - left, top - bottom) / 2 + gap
    steps = np.arange(-reach, reach, gap)
    lines = MultiLineString([[(-reach, s), (reach, s)] for s in steps])
    centre = ((left + right) / 2, (bottom + top) / 2)
    placed = affinity.translate(affinity.rotate(lines, turn_deg, origin=(0, 0)), *centre)
    return placed.intersection(shape)


def _pick(rooms: Rooms, rng: Generator, share: float) -> list[str]:
    return [n for n in rooms if rng.random() < share and not rooms[n].is_empty]


def _grid(canvas: Canvas, floor: Floor, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """Faint grid lines over the whole map."""
    step = float(rng.choice([500.0, 1000.0, 2000.0]))
    if step * canvas.px_per_mm < 12:
        step = 40 / canvas.px_per_mm
    left, bottom, right, top = floor.outside.bounds
    across = [[(x, bottom), (x, top)] for x in np.arange(left, right, step)]
    along = [[(left, y), (right, y)] for y in np.arange(bottom, top, step)]
    lines = MultiLineString(across + along)
    canvas.stroke(lines, scene.pen, 1.0, float(rng.uniform(0.08, 0.3)))


def _dimmed(canvas: Canvas, floor: Floor, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """Some rooms are greyed out, as if not chosen."""
    grey = np.full(3, rng.uniform(120, 220))
    opacity = float(rng.uniform(0.3, 0.75))
    for name in _pick(rooms, rng, 0.35):
        canvas.fill(rooms[name], grey, opacity)


def _carpet(canvas: Canvas, floor: Floor, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """Dots or fine hatching on parts of rooms."""
    gap = max(float(rng.uniform(150, 350)), 6 / canvas.px_per_mm)
    for name in _pick(rooms, rng, 0.35):
        rug = rooms[name].intersection(_patch(rooms[name], rng))
        if rug.is_empty:
            continue
        ink = text_colour(scene.rooms.get(name, scene.ground))
        if rng.random() < 0.5:
            canvas.stroke(hatching(rug, gap, float(rng.choice([45, 135, 0]))), ink, 1.0, 0.2)
            continue
        left, bottom, right, top = rug.bounds
        x, y = np.meshgrid(np.arange(left, right, gap), np.arange(bottom, top, gap))
        inside = shapely.contains_xy(rug, x, y)
        dots = shapely.points(x[inside], y[inside])
        if len(dots):
            canvas.fill(shapely.union_all(shapely.buffer(dots, gap / 6, quad_segs=2)), ink, 0.25)


def _patch(room: Polygon, rng: Generator) -> Polygon:
    """A box that covers part of a room."""
    left, bottom, right, top = room.bounds
    w, h = rng.uniform(0.35, 0.9, 2) * (right - left, top - bottom)
    x, y = left + rng.random() * (right - left - w), bottom + rng.random() * (top - bottom - h)
    return largest(shapely.box(x, y, x + w, y + h))


def _furniture(canvas: Canvas, floor: Floor, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """Furniture: filled, outlined or both."""
    filled, outlined = rng.random() < 0.7, rng.random() < 0.6
    shade, opacity = text_colour(scene.ground), float(rng.uniform(0.12, 0.6))
    pieces = floor.furniture or furnish(floor, rng, density=float(rng.uniform(0.4, 1.2)))
    for piece in pieces:
        if filled:
            canvas.fill(piece, shade, opacity)
        if outlined or not filled:
            canvas.stroke(piece.boundary, shade, 1.5, 0.6)


def _marked(canvas: Canvas, floor: Floor, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """Areas marked by a user: half-transparent, outlined or hatched, some at an angle."""
    for name in _pick(rooms, rng, 0.4)[:5]:
        area = _patch(rooms[name], rng)
        if rng.random() < 0.3:
            area = affinity.rotate(area, float(rng.uniform(0, 90)))
        if rng.random() < 0.3:
            area = affinity.translate(area, *rng.normal(0, 600, 2))
        colour = hls(float(rng.choice([0.0, 0.55, 0.8, 0.12])), 0.5, 0.8)
        canvas.fill(area, colour, float(rng.uniform(0.15, 0.45)))
        canvas.stroke(area.boundary, colour, float(rng.choice([1.0, 2.0, 3.0])), 0.9)
        if rng.random() < 0.4:
            canvas.stroke(hatching(area, 9 / canvas.px_per_mm, 45), colour, 1.2, 0.7)


def _path(canvas: Canvas, floor: Floor, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """The driven path: to and fro in strips, round the rim, and from door to door."""
    step = max(float(rng.uniform(180, 400)), 5 / canvas.px_per_mm)
    lines: list[BaseGeometry] = []
    for name in _pick(rooms, rng, 0.8):
        free = rooms[name].buffer(-220, join_style="mitre")
        if free.is_empty:
            continue
        strips = hatching(free, step, float(rng.choice([0.0, 90.0])) + float(rng.normal(0, 1)))
        ends = [shapely.get_coordinates(p) for p in shapely.get_parts(strips)]
        ends = [e + rng.normal(0, 25, e.shape) for e in ends if len(e) == 2]
        turned = [e if k % 2 == 0 else e[::-1] for k, e in enumerate(ends)]
        if turned:
            lines.append(LineString(np.concatenate(turned)).intersection(free.buffer(60)))
        lines.append(free.boundary)
    for door in floor.doors:
        a, b = (rooms.get(n) for n in door.between)
        if a is not None and b is not None and not a.is_empty and not b.is_empty:
            stops = [shapely.get_coordinates(r.representative_point())[0] for r in (a, b)]
            lines.append(LineString([stops[0], door.middle, stops[1]]))
    colour = np.full(3, 255.0) if rng.random() < 0.6 else hls(rng.random(), 0.5, 0.6)
    width = float(rng.choice([1.0, 1.0, 1.5, 2.0]))
    for line in lines:
        canvas.stroke(line, colour, width, float(rng.uniform(0.5, 0.9)))


def _unit(canvas: Canvas, rooms: Rooms) -> float:
    """A hundredth of the shown floor's length, px: symbols and letters grow with it."""
    left, top, right, bottom = canvas.project(shapely.union_all(list(rooms.values()))).bounds
    return float(min(max(right - left, bottom - top), max(canvas.size))) / 100


def _spots(canvas: Canvas, rooms: Rooms) -> dict[str, tuple[int, int]]:
    """Where the middle of each room lies in the picture, px; rooms outside it are left out."""
    spots = {}
    width, height = canvas.size
    for name, room in rooms.items():
        if not room.is_empty:
            x, y = shapely.get_coordinates(canvas.project(room.representative_point()))[0]
            if 0 < x < width and 0 < y < height:
                spots[name] = (int(x), int(y))
    return spots


def _symbols(image: Image, canvas: Canvas, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """Round badges with a glyph in rooms; a dock and a robot."""
    unit = _unit(canvas, rooms)
    radius = max(int(rng.uniform(1.2, 3.0) * unit), 4)
    accent, paper = hls(rng.random(), 0.45, 0.6), np.full(3, 250.0)
    for x, y in _spots(canvas, rooms).values():
        if rng.random() < 0.6:
            x, y = x + int(rng.normal(0, unit)), y + int(rng.normal(0, unit))
            cv2.circle(image, (x, y), radius, paper.tolist(), -1, cv2.LINE_AA)
            cv2.circle(image, (x, y), radius, accent.tolist(), max(radius // 8, 1), cv2.LINE_AA)
            _glyph(image, (x, y), radius, accent, rng)
    spots = list(_spots(canvas, rooms).values())
    for k in range(min(2, len(spots))):
        x, y = spots[int(rng.integers(len(spots)))]
        x, y = x + int(rng.normal(0, 3 * unit)), y + int(rng.normal(0, 3 * unit))
        if k == 0:
            cv2.circle(image, (x, y), radius, (30, 30, 30), -1, cv2.LINE_AA)
            cv2.circle(image, (x, y), max(radius // 2, 1), paper.tolist(), 2, cv2.LINE_AA)
        else:
            rounded(image, (x - radius, y - radius, x + radius, y + radius), radius // 3, accent)


def _glyph(
    image: Image, at: tuple[int, int], radius: int, colour: NDArray[np.float64], rng: Generator
) -> None:
    """A few random strokes within a badge."""
    points = rng.uniform(-0.6, 0.6, (int(rng.integers(3, 6)), 2)) * radius + at
    closed = bool(rng.random() < 0.5)
    ink = [float(c) for c in colour]
    cv2.polylines(image, [points.astype(np.int32)], closed, ink, max(radius // 6, 1), cv2.LINE_AA)


def _labels(image: Image, canvas: Canvas, rooms: Rooms, scene: Scene, rng: Generator) -> None:
    """Room names, plain or on a small plate, some with the area below."""
    height = max(float(rng.uniform(1.2, 3.2)) * _unit(canvas, rooms), 6.0)
    plate = rng.random() < 0.35
    for name, (x, y) in _spots(canvas, rooms).items():
        if rng.random() < 0.1:
            continue
        ground = scene.rooms.get(name, scene.ground)
        long = len(name) * height * 0.62
        left, base = int(x - long / 2), int(y + height / 2)
        if plate:
            box = (
                int(left - height / 2),
                int(base - 1.5 * height),
                int(left + long + height / 2),
                int(base + 0.6 * height),
            )
            ground = np.full(3, 250.0) if rng.random() < 0.8 else scene.ground
            rounded(image, box, int(height), ground, 0.9)
        words(image, name, (left, base), height, text_colour(ground))
        if rng.random() < 0.2:
            area = f"{rooms[name].area / 1e6:.1f} m2"
            words(image, area, (left, int(base + 1.4 * height)), 0.7 * height, text_colour(ground))
