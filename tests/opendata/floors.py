"""Open floors and recorded maps for tests: read, drawn and outlined without the engine's means.

What each file is, and under which licence, stands in NOTICE.md beside it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import rasterio.features
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage

__all__ = ["LOOKS", "Pixels", "Rooms", "Sample", "draw", "hospital", "in_device_frame", "recorded"]

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Rooms = dict[str, Floats]

FOLDER = Path(__file__).parent

# What separates rooms: a fill of their own, a line, or the gap of a wall.
LOOKS: dict[str, tuple[list[str], str | None]] = {
    "filled": (["#fadbb4", "#bedcfa", "#cdebbe", "#f0c8d7", "#e1d2f5"], "#5a5a5a"),
    "plan": (["#ffffff"], "#141414"),
    "gaps": (["#78b4f0"], None),
}
_FINER = 4
_MARGIN_PX = 40
_HALF_WALL_MM = 100
_LEAST_CELLS = 2_000


@dataclass(frozen=True)
class Sample:
    """A picture, outlines in the device frame, and the truth (2, 3) picture px -> device mm."""

    picture: Pixels
    outlines: Rooms
    truth: Floats


def hospital(storey: str) -> Rooms:
    """Return the zones of a storey, mm, half a wall smaller all round.

    The zones of an energy model meet in the middle of the walls.
    """
    stored = json.loads((FOLDER / "hospital.json").read_text(encoding="utf-8"))[storey]
    shrunk = {
        name: shapely.Polygon(ring).buffer(-_HALF_WALL_MM, join_style="mitre")
        for name, ring in stored.items()
    }
    return {name: np.array(room.exterior.coords)[:-1] for name, room in shrunk.items()}


def draw(rooms: Rooms, look: str, *, turn: float, size_px: float) -> tuple[Pixels, Floats]:
    """Return a picture of rooms (mm, y upwards) turned by `turn` degrees, and picture -> rooms.

    Drawn with PIL on a grid of finer pixels, then averaged: PIL counts from pixel centres.
    """
    fills, line = LOOKS[look]
    turned = _rotation(turn) @ np.diag([1.0, -1.0])
    corners = np.vstack(list(rooms.values())) @ turned.T
    scale = size_px / np.ptp(corners, axis=0).max()
    linear, shift = scale * turned, _MARGIN_PX - scale * corners.min(axis=0)
    width, height = np.ceil(scale * np.ptp(corners, axis=0) + 2 * _MARGIN_PX).astype(int)
    fine = Image.new("RGB", (width * _FINER, height * _FINER), "#f5f5f5")
    pen = ImageDraw.Draw(fine)
    for k, ring in enumerate(rooms.values()):
        at = [(x, y) for x, y in (ring @ linear.T + shift) * _FINER - 0.5]
        pen.polygon(at, fill=fills[k % len(fills)])
        if line is not None:
            pen.line([*at, *at[:2]], fill=line, width=2 * _FINER, joint="curve")
    picture = np.asarray(fine.resize((int(width), int(height)), Image.Resampling.BOX))
    back = np.linalg.inv(linear)
    return picture, np.column_stack([back, -back @ shift])


def in_device_frame(picture: Pixels, rooms: Rooms, to_rooms: Floats) -> Sample:
    """Return the sample in a frame of its own: another turn, another origin."""
    turn, shift = _rotation(141.0), np.array([-12_345.0, 6_789.0])
    outlines = {name: ring @ turn.T + shift for name, ring in rooms.items()}
    return Sample(
        picture,
        outlines,
        np.column_stack([turn @ to_rooms[:, :2], turn @ to_rooms[:, 2] + shift]),
    )


def recorded(name: str, *, cell_mm: float, door_mm: float, turn: float, scale: float) -> Sample:
    """Return a recorded map, turned and scaled, with rooms found in the map as it was recorded."""
    cells = np.asarray(Image.open(FOLDER / f"{name}.png").convert("L"))
    in_cells = _rooms_of(cells, door_mm / cell_mm)
    linear = scale * _rotation(turn)
    height, width = cells.shape
    frame = np.array([[0, 0], [width, 0], [width, height], [0, height]]) @ linear.T
    shift = -frame.min(axis=0)
    # OpenCV counts from pixel centres.
    warp = np.column_stack([linear, shift + linear @ [0.5, 0.5] - 0.5])
    size = np.ceil(np.ptp(frame, axis=0)).astype(int)
    seen = cv2.warpAffine(cells, warp, (int(size[0]), int(size[1])), borderValue=int(cells[0, 0]))
    upright = np.diag([cell_mm, -cell_mm])
    rooms = {name: ring @ upright.T for name, ring in in_cells.items()}
    back = upright @ np.linalg.inv(linear)
    picture = np.ascontiguousarray(np.dstack([seen] * 3), dtype=np.uint8)
    return in_device_frame(picture, rooms, np.column_stack([back, -back @ shift]))


def _rooms_of(cells: Pixels, door_cells: float) -> Rooms:
    """Return rings in cells: free space cut where it is narrower than a door; small ones fall away.

    The cores that are left after erosion grow back by the nearest one.
    """
    free = ndimage.binary_closing(cells > 215, iterations=2)
    reach = int(door_cells / 2)
    depth = ndimage.distance_transform_edt(free)
    cores, _ = ndimage.label(depth > reach)
    nearest = ndimage.distance_transform_edt(
        cores == 0, return_distances=False, return_indices=True
    )
    labels = np.where(free, cores[tuple(nearest)], 0).astype(np.int32)
    rooms: Rooms = {}
    for shape, _value in rasterio.features.shapes(labels, mask=labels > 0, connectivity=4):
        # The outer ring alone, without the columns that stand inside.
        ring = shapely.Polygon(shape["coordinates"][0])
        if ring.area >= _LEAST_CELLS:
            simple = shapely.simplify(ring, 1.5)
            rooms[f"room {len(rooms)}"] = shapely.get_coordinates(simple)[:-1]
    return rooms


def _rotation(degrees: float) -> Floats:
    turn = np.radians(degrees)
    return np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
