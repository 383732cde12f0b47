"""Pictures of made floors, with the exact way from their pixels to the floor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from regmap.frames import compose, invert, scale_of

from . import cameras, clutter, screens
from .floors import Floor
from .looks import LOOKS
from .raster import Canvas
from .shapes import largest

__all__ = ["Picture", "draw"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Picture:
    """`image` (H, W, 3) uint8 RGB; `image_to_floor` (2, 3) from (column, row) px to floor mm, (0,
    0) being the outer corner of the first pixel; `window`: the part of the picture that shows
    the map, px (a whole picture, or the part that the frame of a screen leaves).
    """

    image: NDArray[np.uint8]
    image_to_floor: Array
    window: Polygon

    @property
    def floor_to_image(self) -> Array:
        """(2, 3) from floor mm to (column, row) px."""
        return invert(self.image_to_floor)


def draw(
    floor: Floor,
    rng: Generator,
    *,
    look: str = "flat",
    size: tuple[int, int] = (1000, 800),
    shapes: Mapping[str, Polygon] | None = None,
    turn_deg: float = 0.0,
    mirrored: bool = False,
    stretch: float = 1.0,
    fill: float = 0.85,
    lost: float = 0.0,
    antialias: bool = True,
    cell_mm: float = 0.0,
    mess: float = 0.0,
    screen: bool = False,
    faded: float = 0.0,
    noise: float = 0.0,
    shrink: float = 1.0,
    jpeg: int | None = None,
) -> Picture:
    """Draw a floor.

    `look`: a name of looks.LOOKS. `size`: (width, height) px. `shapes`: the rooms as drawn, floor
    mm (default: wall middle lines). `turn_deg`, `mirrored`, `stretch`, `fill`, `lost`: see
    cameras.camera. `cell_mm`: draw with square cells of that size, each of k x k px with whole k,
    as maps of cells are shown; the picture grows where one pixel a cell does not fit in it. `mess`
    0..1: labels, icons, driven path, marked areas and so on. `screen`: put a frame of title bar,
    buttons and cards around it. Last come `faded` (share of contrast that is lost, under uneven
    light), `noise` (standard deviation, grey levels), `shrink` (resampled by that factor) and
    `jpeg` (quality).
    """
    rooms = {n: r for n, r in (floor.cells if shapes is None else shapes).items() if not r.is_empty}
    view: dict[str, Any] = {"turn_deg": turn_deg, "mirrored": mirrored, "stretch": stretch}
    shown = floor.shell if lost > 0 else shapely.union_all([floor.shell, *rooms.values()])
    zoom = 1
    if cell_mm > 0:
        size, zoom, fill = _in_cells(shown, size, rng, cell_mm, fill, view)
    frame = screens.layout(size, rng) if screen else screens.bare(size)
    left, top, right, bottom = frame.window
    inner = (-(-(right - left) // zoom), -(-(bottom - top) // zoom))
    scale = 1 / cell_mm if cell_mm > 0 else None
    matrix = cameras.camera(shown, inner, rng, fill=fill, scale=scale, lost=lost, **view)
    blank = np.zeros((inner[1], inner[0], 3), np.float32)
    canvas = Canvas(blank, matrix, antialias=antialias and cell_mm == 0)
    scene = LOOKS[look](canvas, floor, rooms, rng)
    canvas.enlarge(zoom, (right - left, bottom - top))
    clutter.under(canvas, floor, rooms, scene, rng, mess)
    image = canvas.finish()
    clutter.over(image, canvas, rooms, scene, rng, mess)
    matrix = compose(np.array([[1.0, 0, left], [0, 1.0, top]]), canvas.to_px)
    if screen:
        image = screens.frame(image, frame, scene.ground, rng)
    if faded > 0:
        image = _faded(image, rng, faded)
    image, matrix, worn = _worn(image, matrix, rng, noise=noise, shrink=shrink, jpeg=jpeg)
    window = shapely.box(left * worn[0], top * worn[1], right * worn[0], bottom * worn[1])
    return Picture(image, invert(matrix), largest(window))


def _in_cells(
    shape: BaseGeometry,
    size: tuple[int, int],
    rng: Generator,
    cell_mm: float,
    fill: float,
    view: Mapping[str, Any],
) -> tuple[tuple[int, int], int, float]:
    """The picture's size, the px per cell, and the fill that result."""
    px_per_cell = scale_of(cameras.camera(shape, size, rng, fill=fill, **view)) * cell_mm
    zoom = max(1, int(px_per_cell))
    if px_per_cell < 1:
        size = (int(size[0] / px_per_cell) + 1, int(size[1] / px_per_cell) + 1)
    return size, zoom, fill * zoom / px_per_cell


def _faded(image: NDArray[np.uint8], rng: Generator, lost: float) -> NDArray[np.uint8]:
    """A print in the sun, or a photo of a screen: less contrast, and light from one side."""
    height, width = image.shape[:2]
    towards = rng.uniform(0.0, 2.0 * np.pi)
    along = np.linspace(-1.0, 1.0, width)[None] * np.cos(towards)
    down = np.linspace(-1.0, 1.0, height)[:, None] * np.sin(towards)
    light = 1.0 + 0.3 * lost * (along + down) / np.sqrt(2.0)
    grey = rng.uniform(90.0, 200.0)
    dull = (grey + (1.0 - lost) * (image - grey)) * light[..., None]
    return np.asarray(np.clip(np.rint(dull), 0, 255), np.uint8)


def _worn(
    image: NDArray[np.uint8],
    matrix: Array,
    rng: Generator,
    *,
    noise: float,
    shrink: float,
    jpeg: int | None,
) -> tuple[NDArray[np.uint8], Array, Array]:
    """What happens to a picture on its way: noise, resampling, JPEG."""
    scale = np.ones(2)
    if noise > 0:
        grain = rng.normal(0, noise, image.shape)
        image = np.clip(np.rint(image + grain), 0, 255).astype(np.uint8)
    if shrink != 1.0:
        height, width = image.shape[:2]
        new = (max(round(width * shrink), 16), max(round(height * shrink), 16))
        how = cv2.INTER_AREA if shrink < 1 else cv2.INTER_LINEAR
        image = np.asarray(cv2.resize(image, new, interpolation=how), np.uint8)
        # cv2.resize keeps the outer corners of the picture in place.
        scale = np.array([new[0] / width, new[1] / height])
        matrix = scale[:, None] * matrix
    if jpeg is not None:
        _, data = cv2.imencode(".jpg", image[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, jpeg])
        back = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)
        image = np.ascontiguousarray(back[..., ::-1])
    return image, matrix, scale
