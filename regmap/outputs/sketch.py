"""Pictures of areas for the eye: on the picture they were marked in, and on a new mapping run.

They show what will be handed to the robot, and where: a look at them finds the area that was marked
in the wrong room, the margin with the wrong sign and the rectangle that reaches into a doorway.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, TypeAlias

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from regmap.areas import DeviceArea, overlay
from regmap.caution import CAUTION
from regmap.given import instance, mapping
from regmap.outputs import drawing
from regmap.outputs.borders import borders
from regmap.outputs.drawing import BLACK, BLUE, ORANGE, WHITE, Colour, Image
from regmap.outputs.own_picture import in_colour, own_picture
from regmap.registration import Registration

if TYPE_CHECKING:
    from regmap.areas import Rectangles
    from regmap.floors import FrameChange, MovedArea

__all__ = ["area_picture", "capture_picture", "change_picture"]

Floats: TypeAlias = NDArray[np.float64]
Onto: TypeAlias = Callable[[Floats], Floats]
Legend: TypeAlias = list[tuple[str, Colour, str]]

_WIDTH, _TALLEST, _MARGIN = 1200, 1100, 24
_MOST_NAMES = 200
_GREY, _PAPER, _LOST = (110, 110, 110), (238, 240, 243), (120, 40, 40)


def area_picture(
    fit: Registration,
    image: object,
    areas: Mapping[str, DeviceArea | BaseGeometry],
    rectangles: Mapping[str, Rectangles] | None = None,
    path: Floats | None = None,
) -> Image:
    """Draw areas on the picture in which they were marked.

    Args:
        fit: of this picture.
        image: in any shape that `regmap.register` takes.
        areas: name -> what `regmap.areas.to_device` returned, or a shapely geometry, device frame.
        rectangles: name -> what `regmap.areas.rectangles` returned.
        path: (N, 2) device coordinates, a way that the robot drove.

    Returns:
        (H, W, 3) uint8 RGB.

    Raises:
        PictureError: if the picture cannot be read.
        RegmapError: if the picture is not of the size that the fit was made with.
    """
    instance(fit, Registration, "fit")
    mapping(areas, "areas")
    pixels = in_colour(own_picture(fit, image))
    height, width = pixels.shape[:2]
    scale = min((_WIDTH - 2 * _MARGIN) / width, _TALLEST / height, 4.0)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    canvas = drawing.pale(np.asarray(cv2.resize(pixels, size, None, 0, 0, way)))

    def from_picture(px: Floats) -> Floats:
        return np.asarray(px * np.array([size[0] / width, size[1] / height]), dtype=np.float64)

    def from_device(xy: Floats) -> Floats:
        return from_picture(fit.to_image(xy))

    for _, ring in borders(fit):
        drawing.stroke(canvas, from_picture(ring), _GREY, 1, closed=True)
    for area in areas.values():
        if not isinstance(area, BaseGeometry):
            instance(area, DeviceArea, "one of the areas")
    shapes = {n: a if isinstance(a, BaseGeometry) else a.geometry for n, a in areas.items()}
    marked = [a.marked for a in areas.values() if not isinstance(a, BaseGeometry)]
    for shape in shapes.values():
        _fill(canvas, shape, from_device, ORANGE)
    for mark in marked:
        for ring in _rings(mark):
            for dash in drawing.dashes(from_picture(ring), 9, 6):
                drawing.stroke(canvas, dash, BLACK, 1)
    legend: Legend = [("line", ORANGE, "the area that the robot gets")] if areas else []
    legend += [("dashes", BLACK, "as it was marked")] if marked else []
    legend += _boxes(canvas, rectangles or {}, from_device)
    if path is not None:
        drawing.stroke(canvas, from_device(path), BLUE, 2, casing=WHITE)
        drawing.stroke(canvas, from_device(path[-1:]), BLUE, 9, casing=WHITE)
        legend.append(("line", BLUE, "the way that the robot drove, and where it stands"))
    rings = {name: rings[0] for name, rings in fit.outlines.items()}
    _names(canvas, shapes, rings, from_device)
    return _framed("Areas on the picture", canvas, [*legend, ("line", _GREY, "rooms")])


def change_picture(
    change: FrameChange,
    moved: Iterable[MovedArea] = (),
    rectangles: Mapping[str, Rectangles] | None = None,
) -> Image:
    """Draw the new outlines, the old ones laid on them, and the areas that were carried over.

    Returns:
        (H, W, 3) uint8 RGB, the new device frame with y upwards.
    """
    old = [change.to_new(ring) for rings in change.old_outlines.values() for ring in rings]
    new = [ring for rings in change.new_outlines.values() for ring in rings]
    listed = list(moved)
    ends = [shapely.get_coordinates(area.geometry) for area in listed]
    every = np.concatenate([*old, *new, *ends])
    canvas, onto = _paper(every)
    _rooms(canvas, change, onto)
    for ring in old:
        for dash in drawing.dashes(onto(ring), 6, 5):
            drawing.stroke(canvas, dash, BLUE, 1)
    for area in listed:
        _fill(canvas, area.geometry, onto, _LOST if area.lost else ORANGE)
    legend: Legend = [
        ("line", BLACK, "rooms of the new run"),
        ("dashes", BLUE, "rooms of the old run, carried over"),
    ]
    legend += [("line", ORANGE, "areas carried over")] if listed else []
    if any(area.lost for area in listed):
        legend.append(("line", _LOST, "NO LONGER ON THE FLOOR"))
    legend += _boxes(canvas, rectangles or {}, onto)
    mark = " (NO LONGER ON THE FLOOR)"
    shapes = {a.name + mark * a.lost: a.geometry for a in listed}
    _names(canvas, shapes, {n: rings[0] for n, rings in change.new_outlines.items()}, onto)
    doubt = "DOUBTFUL: " if change.doubtful else ""
    return _framed(f"{doubt}The old map on the new one", canvas, legend)


def capture_picture(
    rooms: Sequence[tuple[str, Floats]], others: Sequence[tuple[str, Floats]] = ()
) -> Image:
    """Draw the outlines that a capture holds, whether a picture of the floor is at hand or not.

    Args:
        rooms: (name, (N, 2)) of what was taken for a room, in the unit of the capture.
        others: the same of what was not, drawn in dashes.

    Returns:
        (H, W, 3) uint8 RGB, y upwards.
    """
    drawn = [(name, np.asarray(ring)) for name, ring in (*rooms, *others)]
    lines = [(name, ring[np.isfinite(ring).all(axis=1)]) for name, ring in drawn]
    canvas, onto = _paper(np.concatenate([np.zeros((0, 2)), *(ring for _, ring in lines)]))
    for _, ring in lines[: len(rooms)]:
        flat = [drawing.fixed(onto(ring)).reshape(-1, 1, 2)]
        cv2.fillPoly(canvas, flat, WHITE, cv2.LINE_AA, 6)
    for _, ring in lines[: len(rooms)]:
        drawing.stroke(canvas, onto(ring), BLACK, 2, closed=True)
    for _, ring in lines[len(rooms) :]:
        for dash in drawing.dashes(onto(ring), 9, 6):
            drawing.stroke(canvas, dash, BLUE, 1)
    legend: Legend = [("line", BLACK, "taken for rooms")] if rooms else []
    legend += [("dashes", BLUE, "not taken for rooms")] if others else []
    named = {name: ring for name, ring in lines[:_MOST_NAMES] if len(ring) > 2}
    _names(canvas, {}, named, onto)
    return _framed("What the capture holds", canvas, legend)


def _paper(points: Floats) -> tuple[Image, Onto]:
    """Return an empty canvas for points (N, 2) with y upwards, and the way of points onto it."""
    ends = points if len(points) else np.zeros((1, 2))
    low, high = ends.min(axis=0), ends.max(axis=0)
    extent = np.maximum(high - low, 1e-9)
    scale = float(min((_WIDTH - 4 * _MARGIN) / extent[0], (_TALLEST - 2 * _MARGIN) / extent[1]))

    def onto(xy: Floats) -> Floats:
        flat = (np.asarray(xy) - (low[0], high[1])) * (scale, -scale)
        return np.asarray(flat + _MARGIN, dtype=np.float64)

    tall, wide = (int(v * scale) + 2 * _MARGIN for v in (extent[1], extent[0]))
    return np.full((tall, wide, 3), _PAPER, np.uint8), onto


def _rooms(canvas: Image, change: FrameChange, onto: Onto) -> None:
    for rings in change.new_outlines.values():
        lines = [drawing.fixed(onto(ring)).reshape(-1, 1, 2) for ring in rings]
        cv2.fillPoly(canvas, lines, WHITE, cv2.LINE_AA, 6)
    for rings in change.new_outlines.values():
        for ring in rings:
            drawing.stroke(canvas, onto(ring), BLACK, 2, closed=True)


def _rings(geometry: BaseGeometry) -> list[Floats]:
    """Return the rings, lines and points of a geometry, each (N, 2), not closed."""
    found = []
    for part in shapely.get_parts(geometry):
        if shapely.get_dimensions(part) == 2:
            found += [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(part)]
        else:
            found.append(shapely.get_coordinates(part))
    return found


def _fill(canvas: Image, geometry: BaseGeometry, onto: Onto, colour: Colour) -> None:
    """Tint what a polygon covers and draw its border; lines and points are drawn as they are."""
    rings = [onto(ring) for ring in _rings(geometry)]
    flat = shapely.get_dimensions(geometry) == 2
    if flat:
        mask = np.zeros(canvas.shape[:2], np.uint8)
        cv2.fillPoly(mask, [drawing.fixed(r).reshape(-1, 1, 2) for r in rings], 1, cv2.LINE_8, 6)
        inside = mask.astype(bool)
        mixed = 0.62 * canvas[inside] + 0.38 * np.array(colour)
        canvas[inside] = np.rint(mixed).astype(np.uint8)
    for ring in rings:
        drawing.stroke(canvas, ring, colour, 2 if len(ring) > 1 else 9, closed=flat, casing=WHITE)


def _boxes(canvas: Image, rectangles: Mapping[str, Rectangles], onto: Onto) -> Legend:
    for found in rectangles.values():
        for x0, y0, x1, y1 in found.boxes.tolist():
            ring = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
            drawing.stroke(canvas, onto(ring), BLUE, 2, closed=True, casing=WHITE)
    return [("line", BLUE, "upright rectangles in its place")] if rectangles else []


def _names(
    canvas: Image,
    areas: Mapping[str, BaseGeometry],
    rooms: Mapping[str, Floats],
    onto: Onto,
) -> None:
    """Write names on pale plates, none over another: areas first, then rooms, beside the areas."""
    plates = drawing.Plates(canvas)
    marked = overlay.union(areas.values())
    named = [(name, _middle(shape), BLACK) for name, shape in areas.items()]
    for name, ring in rooms.items():
        room = shapely.make_valid(shapely.Polygon(ring))
        free = overlay.difference(room, marked)
        named.append((name, _middle(room if free.is_empty else free), _GREY))
    for name, place, colour in named:
        x, y = onto(place)[0]
        if 0 <= x < canvas.shape[1] and 0 <= y < canvas.shape[0]:  # else beyond the canvas
            plates.write(name, x, y, size=14, height=18, colour=colour)


def _middle(geometry: BaseGeometry) -> Floats:
    """Return a place (1, 2) well inside a polygon, or on whatever else it is."""
    flat = [part for part in shapely.get_parts(geometry) if isinstance(part, shapely.Polygon)]
    largest = max(flat, key=lambda part: float(part.area), default=None)
    if largest is None or largest.area == 0:
        return shapely.get_coordinates(shapely.point_on_surface(geometry))[:1]
    if largest.contains(largest.centroid):
        return shapely.get_coordinates(largest.centroid)
    left, low, right, high = largest.bounds
    return shapely.get_coordinates(polylabel(largest, max(right - left, high - low) / 50))


def _framed(title: str, body: Image, legend: Legend) -> Image:
    """Put a title above a picture, and a legend and the caution below it."""
    wide = max(body.shape[1] + 2 * _MARGIN, 720)
    notes = drawing.wrapped(CAUTION, wide - 2 * _MARGIN)
    tall = 58 + body.shape[0] + 16 + 22 * (len(legend) + len(notes)) + 16
    canvas = np.full((tall, wide, 3), 255, np.uint8)
    drawing.write(canvas, title, _MARGIN, 38, size=24, bold=True)
    canvas[58 : 58 + body.shape[0], _MARGIN : _MARGIN + body.shape[1]] = body
    base = 58 + body.shape[0] + 30
    for kind, colour, text in legend:
        line = np.array([[_MARGIN, base - 5.0], [_MARGIN + 40, base - 5.0]])
        pieces = [line] if kind == "line" else drawing.dashes(line, 9, 6)
        for piece in pieces:
            drawing.stroke(canvas, piece, colour, 2)
        drawing.write(canvas, text, _MARGIN + 52, base, size=14)
        base += 22
    for text in notes:
        drawing.write(canvas, text, _MARGIN, base, size=15, colour=_GREY)
        base += 22
    return canvas
