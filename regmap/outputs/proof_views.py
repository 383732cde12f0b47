"""The three views of a proof picture: the whole floor, corners magnified, the predicted error.

Each function returns a canvas of its own of the width asked for; `regmap.outputs.proof` puts them
together. Canvas and lines follow the conventions of `regmap.outputs.drawing`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from regmap.outputs import drawing
from regmap.outputs.borders import borders
from regmap.outputs.drawing import BLACK, BLUE, ORANGE, WHITE, Image
from regmap.outputs.summary import floor_error, quantity

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

    from regmap.registration import Registration

__all__ = [
    "CROWD",
    "MAGNIFICATION",
    "RESIDUAL_TOP_PX",
    "TILE_PX",
    "View",
    "corner_tiles",
    "corners_far_apart",
    "error_map",
    "overview",
]

Floats = NDArray[np.float64]

RESIDUAL_TOP_PX = 2.0
"""Residual at the yellow end of the colour scale. The same in every picture: they compare."""

CROWD = 24
"""More rooms than this are named in small letters, and a mark says that one disagrees."""

MAGNIFICATION = 16
TILE_PX = 17  # pixels of the picture across a tile
_MOST_PIECES = 2000  # that a side is cut into
_NO_EDGE = (120, 120, 120)
_PAPER = (250, 250, 250)


@dataclass(frozen=True)
class View:
    """An upright window of the picture and the scale at which it is shown."""

    left: float
    top: float
    x_scale: float
    y_scale: float

    def to_canvas(self, px: Floats) -> Floats:
        """Map (N, 2) picture px to canvas px, corner convention on both sides."""
        return (np.asarray(px) - (self.left, self.top)) * (self.x_scale, self.y_scale)


def overview(fit: Registration, image: Image | None, width: int, max_height: int) -> Image:
    """Show the picture and on it the outlines, coloured by residual, with the rooms' names."""
    canvas, view = _ground(fit, image, width, max_height)
    pieces = list(_pieces(fit, view))
    for dark in (True, False):  # all casings first: none may cover a neighbour's colour
        for line, colour in pieces:
            if dark:
                casing = WHITE if sum(colour) < 390 else BLACK
                drawing.stroke(canvas, line, casing, 4 if colour != _NO_EDGE else 2)
            else:
                drawing.stroke(canvas, line, colour, 2 if colour != _NO_EDGE else 1)
    _names(canvas, fit, view)
    return canvas


def _extent(fit: Registration) -> tuple[Floats, Floats]:
    """Return least and largest (column, row) of the outlines as laid on the picture."""
    shown = [fit.to_image(ring) for rings in fit.outlines.values() for ring in rings]
    every = np.concatenate(shown)
    return every.min(axis=0), every.max(axis=0)


def _window(fit: Registration) -> tuple[int, int, int, int]:
    """Return (left, top, right, bottom) px: the outlines and what is around them.

    It holds at least three fifths of the picture's width and height, so that outlines that were
    laid on a small part of a floor are seen for what they are.
    """
    low, high = _extent(fit)
    size = np.array(fit.image_size, dtype=np.float64)
    middle = np.clip((low + high) / 2, 0, size)
    half = np.maximum((high - low) / 2 + 0.3 * float((high - low).max()), 0.3 * size)
    start = np.clip(np.floor(middle - half), 0, size - 1).astype(int)
    end = np.clip(np.ceil(middle + half), start + 1, size).astype(int)
    return int(start[0]), int(start[1]), int(end[0]), int(end[1])


def _ground(
    fit: Registration, image: Image | None, width: int, max_height: int
) -> tuple[Image, View]:
    """Cut the picture to the floor and what is around it, pale, at a scale that fits the canvas."""
    left, top, right, bottom = _window(fit)
    scale = min(width / (right - left), max_height / (bottom - top), 8.0)
    size = (max(1, round((right - left) * scale)), max(1, round((bottom - top) * scale)))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    if image is None:
        part = np.full((size[1], size[0], 3), 255, np.uint8)
    else:
        part = drawing.pale(
            np.asarray(cv2.resize(image[top:bottom, left:right], size, None, 0, 0, way))
        )
    view = View(left, top, part.shape[1] / (right - left), part.shape[0] / (bottom - top))
    canvas = np.full((part.shape[0], width, 3), _PAPER, np.uint8)
    canvas[:, : part.shape[1]] = part
    return canvas, view


def _pieces(fit: Registration, view: View) -> list[tuple[Floats, drawing.Colour]]:
    """Cut all outlines, moved by the wall offset, into short lines of one colour on the canvas."""
    samples = np.asarray(fit.residuals, dtype=np.float64)
    pieces: list[tuple[Floats, drawing.Colour]] = []
    for _, ring in borders(fit):
        line = _dense(ring, 5.0 / view.x_scale)
        middles = (line[:-1] + line[1:]) / 2
        local = _local_rms(samples, middles)
        local[((middles < 0) | (middles > fit.image_size)).any(axis=1)] = np.nan
        # Sixteen steps: the eye tells no more apart, and lines of one colour join.
        share = np.floor(np.clip(local / RESIDUAL_TOP_PX, 0, 1) * 15.99) / 15
        colours = drawing.ramp(share)
        colours[np.isnan(local)] = _NO_EDGE
        pieces.extend(_runs(view.to_canvas(line), colours))
    return pieces


def _dense(ring: Floats, step: float) -> Floats:
    """Close a ring (N, 2) and put points along it, mostly no more than `step` apart."""
    ends = np.roll(ring, -1, axis=0)
    parts = []
    for start, end in zip(ring, ends, strict=True):
        # Of a side that leaves the canvas by far, little is seen.
        count = min(max(1, int(np.ceil(np.hypot(*(end - start)) / step))), _MOST_PIECES)
        parts.append(start + np.arange(count)[:, None] / count * (end - start))
    return np.concatenate([*parts, ring[:1]])


def _local_rms(samples: Floats, places: Floats) -> Floats:
    """Return (N,) RMS residuals of the samples nearest to each place; NaN where none is near."""
    if not len(samples):
        return np.full(len(places), np.nan)
    from scipy.spatial import cKDTree

    tree = cKDTree(samples[:, :2])
    reach = max(4.0, 2.5 * _spacing(tree))
    found = tree.query(places, k=min(5, len(samples)), distance_upper_bound=reach)
    distance, index = (np.asarray(part).reshape(len(places), -1) for part in found)
    near = np.isfinite(distance)
    squares = np.where(near, samples[np.where(near, index, 0), 2] ** 2, 0.0).sum(axis=1)
    count = near.sum(axis=1)
    return np.where(count > 0, np.sqrt(squares / np.maximum(count, 1)), np.nan)


def _spacing(tree: cKDTree) -> float:
    """Return how far apart samples lie along a wall: the median to the second neighbour."""
    gaps = np.asarray(tree.query(tree.data, k=min(3, tree.n))[0]).reshape(tree.n, -1)
    return float(np.median(gaps[:, -1]))


def _runs(line: Floats, colours: Image) -> list[tuple[Floats, drawing.Colour]]:
    """Join neighbouring pieces of equal colour; `colours` is (len(line) - 1, 3)."""
    changes = np.flatnonzero((colours[1:] != colours[:-1]).any(axis=1)) + 1
    starts = [0, *changes.tolist()]
    ends = [*changes.tolist(), len(colours)]
    return [
        (line[a : b + 1], (int(colours[a][0]), int(colours[a][1]), int(colours[a][2])))
        for a, b in zip(starts, ends, strict=True)
    ]


def _names(canvas: Image, fit: Registration, view: View) -> None:
    """Write the rooms' names on pale plates, none over another; what does not agree says so.

    On a crowded floor letters are smaller, a mark replaces the words, and a name that would land
    far from its room is left out; the list above the picture has it.
    """
    crowded = len(fit.rooms) > CROWD
    size, line = (11, 14) if crowded else (14, 18)
    plates = drawing.Plates(canvas)
    for room in fit.rooms:
        x, y = view.to_canvas(np.array([room.label_px]))[0]
        if not (0 <= x < canvas.shape[1] and 0 <= y < canvas.shape[0]):
            continue  # beyond the canvas: the list above names it
        if crowded:
            lines = [room.name if room.state == "agrees" else f"! {room.name}"]
        else:
            lines = [room.name] + [f"({room.state.upper()})"] * (room.state != "agrees")
        lowest = min(y + 3 * line, canvas.shape[0] - line / 2)
        for text in lines:
            y = plates.write(text, x, y, size=size, height=line, lowest=lowest)


def corners_far_apart(fit: Registration, count: int = 4) -> list[tuple[str, Floats]]:
    """Choose corners of drawn borders that show most: with edges near, in the picture, far apart.

    Returns up to `count` pairs (room, (2,) px), the px where the fit expects the border's corner.
    """
    states = {room.name: room.state for room in fit.rooms}
    named = [
        (name, corner)
        for name, ring in borders(fit)
        if states.get(name) != "not shown"
        for corner in _sharp(ring)
    ]
    if not named:
        return []
    px = np.array([corner for _, corner in named])
    inside = ((px >= 2) & (px <= np.array(fit.image_size) - 2)).all(axis=1)
    good = inside & _supported(fit, px)
    pool = np.flatnonzero(good if good.sum() >= count else inside)
    if not len(pool):
        return []
    chosen: list[int] = []
    away = np.hypot(*(px[pool] - px[pool].mean(axis=0)).T)
    while len(chosen) < min(count, len(pool)):
        chosen.append(int(pool[int(np.argmax(away))]))
        nearest = np.hypot(*(px[pool] - px[chosen[-1]]).T)
        away = nearest if len(chosen) == 1 else np.minimum(away, nearest)
        if away.max() < TILE_PX / 2:
            break
    return [named[index] for index in chosen]


def _sharp(ring: Floats) -> Floats:
    """Return the corners (K, 2) of a ring, in px, at which walls of some length meet squarely.

    Small steps, as outlines from cells have, are smoothed away first; if nothing is left, any
    corner that turns by 45 to 135 degrees counts.
    """
    import shapely

    smooth = shapely.get_coordinates(shapely.simplify(shapely.LinearRing(ring), 2.5))[:-1]
    for corners, least in ((smooth, TILE_PX / 2), (ring, 0.0)):
        into, out = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
        cross = np.abs(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0])
        lengths = np.hypot(*into.T), np.hypot(*out.T)
        square = (cross > 0.7 * lengths[0] * lengths[1]) & (np.minimum(*lengths) > least)
        if square.any():
            break
    sharp: Floats = corners[square]
    return sharp


def _supported(fit: Registration, px: Floats) -> NDArray[np.bool_]:
    samples = np.asarray(fit.residuals, dtype=np.float64)
    if not len(samples):
        return np.ones(len(px), dtype=np.bool_)
    from scipy.spatial import cKDTree

    tree = cKDTree(samples[:, :2])
    reach = max(TILE_PX / 2, 1.5 * _spacing(tree))
    found = tree.query_ball_point(px, reach, return_length=True)
    return np.asarray(found >= 2, dtype=np.bool_)


def corner_tiles(fit: Registration, image: Image | None, width: int) -> Image:
    """Show room corners magnified, two abreast, so that half a pixel of error can be seen."""
    size = MAGNIFICATION * TILE_PX
    chosen = corners_far_apart(fit) if image is not None else []
    rows = max(1, (len(chosen) + 1) // 2)
    canvas = np.full((rows * (size + 26), width, 3), 255, np.uint8)
    if not chosen or image is None:
        drawing.write(canvas, "no corner of a room can be shown", 0, 20)
        return canvas[:30]
    lines = [ring for _, ring in borders(fit)]
    for index, (name, at) in enumerate(chosen):
        left, top = (index % 2) * (width - size), (index // 2) * (size + 26)
        tile = _tile(fit, image, at, lines)
        canvas[top + 20 : top + 20 + size, left : left + size] = tile
        label = f"{name}, column {at[0]:.0f}, row {at[1]:.0f}"
        while drawing.text_width(label, size=13) > size and len(name) > 1:
            name = name[:-1]
            label = f"{name}…, column {at[0]:.0f}, row {at[1]:.0f}"
        drawing.write(canvas, label, left, top + 14, size=13)
    return canvas


def _tile(fit: Registration, image: Image, at: Floats, lines: list[Floats]) -> Image:
    left, top = (int(v) for v in np.floor(at - TILE_PX / 2 + 0.5))
    rows, columns = image.shape[:2]
    part = np.full((TILE_PX, TILE_PX, 3), 160, np.uint8)  # grey: outside the picture
    r0, r1 = max(0, top), min(rows, top + TILE_PX)
    c0, c1 = max(0, left), min(columns, left + TILE_PX)
    part[r0 - top : r1 - top, c0 - left : c1 - left] = image[r0:r1, c0:c1]
    tile = _clear(part).repeat(MAGNIFICATION, axis=0).repeat(MAGNIFICATION, axis=1)
    view = View(left, top, MAGNIFICATION, MAGNIFICATION)
    if abs(fit.wall_offset) > 0.15 * fit.unit_per_px:
        every = [view.to_canvas(fit.to_image(r)) for rings in fit.outlines.values() for r in rings]
        for ring in every:
            if (ring.max(axis=0) < 0).any() or (ring.min(axis=0) > tile.shape[0]).any():
                continue  # cutting it into dashes takes long, and none would be seen
            for dash in drawing.dashes(ring, 10, 8):
                if ((dash > -20) & (dash < tile.shape[0] + 20)).all():
                    drawing.stroke(tile, dash, BLUE, 1, casing=WHITE)
    for ring in lines:
        drawing.stroke(tile, view.to_canvas(ring), ORANGE, 1, closed=True, casing=WHITE)
    wide = MAGNIFICATION + 14 + drawing.text_width("1 px", size=12)
    drawing.box(tile, 6, tile.shape[0] - 24, wide, 19, WHITE)
    drawing.box(tile, 10, tile.shape[0] - 16, MAGNIFICATION, 4, BLACK)
    drawing.write(tile, "1 px", 14 + MAGNIFICATION, tile.shape[0] - 9, size=12)
    cv2.rectangle(tile, (0, 0), (tile.shape[1] - 1, tile.shape[0] - 1), (90, 90, 90), 1)
    return tile


def _clear(part: Image) -> Image:
    """Raise the contrast of a part that holds nearly one tone, so that its borders can be seen."""
    colours = part.reshape(-1, 3).astype(np.float64)
    spread = float(np.ptp(colours, axis=0).max())
    if not 0 < spread < 80:
        return part
    middle = colours.mean(axis=0)
    raised = middle + (part - middle) * min(4.0, 120 / spread)
    return np.asarray(np.clip(raised, 0, 255), dtype=np.uint8)


def error_map(fit: Registration, width: int, max_height: int) -> Image:
    """Show the predicted error (CE95) over the floor as colours, with a scale in device units."""
    rings = [[fit.to_image(ring) for ring in parts] for parts in fit.outlines.values()]
    low, high = _extent(fit)
    size = np.maximum(high - low, 1e-9)  # doubles tell no corners apart that lie far off
    scale = min((width - 90) / size[0], max_height / size[1])
    wide, tall = (max(8, int(v)) for v in np.ceil(size * scale))
    view = View(low[0], low[1], scale, scale)
    mask = np.zeros((tall, wide), np.uint8)
    for parts in rings:
        lines = [drawing.fixed(view.to_canvas(ring)).reshape(-1, 1, 2) for ring in parts]
        cv2.fillPoly(mask, lines, 1, cv2.LINE_8, 6)
    row, column = np.nonzero(mask)
    error = floor_error(fit)
    canvas = np.full((max(tall, 90), width, 3), 255, np.uint8)
    px = np.column_stack([column, row]) + 0.5
    values = fit.expected_error(px / scale + low)
    # The scale takes in at least a factor of two, lest it make much of a small difference.
    least = min(error.least, error.worst / 2)
    canvas[row, column] = drawing.ramp((values - least) / max(error.worst - least, 1e-300))
    for parts in rings:
        for ring in parts:
            drawing.stroke(canvas, view.to_canvas(ring), BLACK, 1, closed=True)
    _error_scale(canvas, wide + 16, least, error.worst, fit.unit)
    return canvas


def _error_scale(canvas: Image, left: int, least: float, worst: float, unit: str) -> None:
    tall = min(canvas.shape[0], 160) - 20
    shares = np.linspace(1, 0, tall)
    canvas[10 : 10 + tall, left : left + 14] = drawing.ramp(shares)[:, None]
    for share in (1.0, 0.5, 0.0):
        text = quantity(least + share * (worst - least), unit)
        drawing.write(canvas, text, left + 19, 15 + (1 - share) * tall, size=12)
