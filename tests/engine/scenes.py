"""A small floor and small pictures of it, drawn by a library that the engine does not use.

The polygons are burnt by rasterio at eight times the size and averaged: positions in the picture
are true to a few hundredths of a pixel, and exactly so on turned pictures as a whole.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import cv2
import numpy as np
import rasterio.features
import shapely
import shapely.affinity
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.engine.walls import Walls, build_walls
from regmap.frames import compose, invert

Floats: TypeAlias = NDArray[np.float64]
Picture: TypeAlias = NDArray[np.uint8]
Rings: TypeAlias = dict[str, tuple[Floats, ...]]

_FINER = 8
GROUND = (238, 238, 236)
COLOURS = (
    (120, 170, 220),
    (230, 160, 110),
    (150, 200, 140),
    (210, 140, 170),
    (170, 150, 210),
    (220, 210, 120),
)


def ring(*points: tuple[float, float]) -> tuple[Floats, ...]:
    return (np.array(points, dtype=np.float64),)


# mm, y upwards. No turn and no mirror image of it is like it; one wall is slanted.
FLOOR: Rings = {
    "hall": ring((0, 0), (6200, 0), (6200, 1500), (0, 1500)),
    "kitchen": ring((0, 1500), (2600, 1500), (2600, 4800), (0, 4800)),
    "study": ring((2600, 1500), (4400, 1500), (4400, 3600), (2600, 3600)),
    "bath": ring((2600, 3600), (4400, 3600), (4400, 4800), (2600, 4800)),
    "living": ring((4400, 1500), (6200, 1500), (8600, 3300), (8600, 4800), (4400, 4800)),
    "store": ring((6200, 0), (7700, 0), (7700, 900), (6200, 900)),
}


@dataclass(frozen=True, eq=False)
class Scene:
    """A picture of a floor: `to_image` (2, 3) is the way from mm to (column, row) px."""

    image: Picture
    rings: Rings
    to_image: Floats

    @property
    def walls(self) -> Walls:
        return build_walls(list(self.rings.values()))

    def pose(self, walls: Walls) -> Floats:
        """(2, 3) own frame of the walls -> px."""
        return compose(self.to_image, np.column_stack([walls.linear, walls.origin]))


def place(
    rings: Mapping[str, Sequence[Floats]],
    size: tuple[int, int],
    *,
    turn_deg: float = 0.0,
    mirrored: bool = False,
    stretch: float = 1.0,
    fill: float = 0.8,
) -> Floats:
    """(2, 3) mm -> px: the floor in the middle of a picture of `size` (width, height)."""
    points = np.concatenate([r for rs in rings.values() for r in rs])
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    flip = np.diag([1.0, 1.0 if mirrored else -1.0])
    linear = np.diag([stretch, 1.0]) @ np.array([[cos, -sin], [sin, cos]]) @ flip
    laid = points @ linear.T
    scale = fill * float((np.array(size) / np.ptp(laid, axis=0)).min())
    middle = 0.5 * (laid.min(axis=0) + laid.max(axis=0)) * scale
    return np.column_stack([scale * linear, 0.5 * np.array(size) - middle])


def paint(
    rings: Mapping[str, Sequence[Floats]],
    to_image: Floats,
    size: tuple[int, int],
    *,
    colours: Sequence[tuple[int, int, int]] = COLOURS,
    ground: tuple[int, int, int] = GROUND,
    line_mm: float = 0.0,
    line: tuple[int, int, int] = (60, 60, 70),
) -> Picture:
    """The rooms in colours, and all their walls as lines of a width of `line_mm`."""
    linear, shift = to_image[:, :2], to_image[:, 2]
    polygons = [shapely.Polygon(rs[0], rs[1:]) for rs in rings.values()]
    shapes: list[tuple[BaseGeometry, int]] = [
        (shape, 1 + number % len(colours)) for number, shape in enumerate(polygons)
    ]
    if line_mm:
        borders = shapely.union_all([p.boundary.buffer(0.5 * line_mm, 16) for p in polygons])
        shapes.append((borders, 255))
    matrix = [*linear.ravel(), *shift]
    laid = [(shapely.affinity.affine_transform(s, matrix), value) for s, value in shapes]
    fine = rasterio.features.rasterize(
        [(shapely.affinity.scale(s, _FINER, _FINER, origin=(0, 0)), v) for s, v in laid],
        out_shape=(size[1] * _FINER, size[0] * _FINER),
        dtype="uint8",
    )
    table = np.zeros((256, 3), dtype=np.uint8)
    table[:] = line
    table[0], table[1 : 1 + len(colours)] = ground, colours
    return np.asarray(cv2.resize(table[fine], size, interpolation=cv2.INTER_AREA), np.uint8)


@lru_cache
def scene(
    *,
    size: tuple[int, int] = (300, 220),
    turn_deg: float = 0.0,
    mirrored: bool = False,
    stretch: float = 1.0,
    line_mm: float = 0.0,
    one_colour: bool = False,
) -> Scene:
    """FLOOR in a picture. Cached: the arrays are read-only."""
    to_image = place(FLOOR, size, turn_deg=turn_deg, mirrored=mirrored, stretch=stretch)
    colours = (GROUND,) if one_colour else COLOURS
    image = paint(FLOOR, to_image, size, colours=colours, line_mm=line_mm)
    image.flags.writeable = False
    return Scene(image, FLOOR, to_image)


def moved(pose: Floats, size: tuple[int, int], **change: float) -> Floats:
    """A pose after a move in the picture about its middle: `shift_x`, `shift_y` px, `turn_deg`,
    `grow`, `stretch`, `shear` as shares."""
    turn = np.deg2rad(change.get("turn_deg", 0.0))
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    stretch, shear = change.get("stretch", 0.0), change.get("shear", 0.0)
    linear = turned @ np.array([[1.0 + stretch, shear], [shear, 1.0 - stretch]])
    linear *= 1.0 + change.get("grow", 0.0)
    middle = 0.5 * np.array(size, dtype=np.float64)
    shift = np.array([change.get("shift_x", 0.0), change.get("shift_y", 0.0)])
    return compose(np.column_stack([linear, middle - linear @ middle + shift]), pose)


def gap_px(walls: Walls, pose: Floats, truth: Floats) -> float:
    """RMS distance of all wall ends under two poses, px."""
    difference = walls.start @ (pose - truth)[:, :2].T + (pose - truth)[:, 2]
    return float(np.sqrt((difference**2).sum(axis=1).mean()))


def to_device(scene: Scene) -> Floats:
    """(2, 3) px -> mm, the truth of a scene."""
    return invert(scene.to_image)


def inside(walls: Walls, count: int = 40) -> Floats:
    """(R, count, 2) points well inside each room, own frame, by shapely."""
    rng = np.random.default_rng(1)
    found = []
    for rings in walls.rings:
        room = shapely.Polygon(rings[0], rings[1:])
        room = room.buffer(-0.25 * float(shapely.maximum_inscribed_circle(room, 0.01).length))
        low, high = np.array(room.bounds).reshape(2, 2)
        points = rng.uniform(low, high, (60 * count, 2))
        found.append(points[shapely.contains_xy(room, points)][:count])
    return np.stack(found)


def inset(ring: Floats, by: float) -> Floats:
    """A ring moved inward by so much, with its corners sharp."""
    smaller = shapely.Polygon(ring).buffer(-by, join_style="mitre", mitre_limit=10.0)
    return np.asarray(shapely.get_coordinates(smaller.exterior)[:-1])
