"""A floor as shapely has it: the polygons of its rooms, and points spread over them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas import overlay
from regmap.areas.sound import sides
from regmap.errors import RegmapError
from regmap.inputs.repair import sides_cross_often
from regmap.registration import Registration

__all__ = ["floor_points", "polygons"]

Floats = NDArray[np.float64]


def polygons(outlines: Mapping[str, Sequence[Floats]]) -> dict[str, BaseGeometry]:
    """Return name -> valid shapely geometry of rings (N, 2), the outer one first, then holes.

    Raises:
        RegmapError: if rings cross all over, which is mended for minutes: a stored fit was edited.
    """
    return {
        name: _valid(name, shapely.Polygon(rings[0], rings[1:])) for name, rings in outlines.items()
    }


def _valid(name: str, polygon: shapely.Polygon) -> BaseGeometry:
    if shapely.is_valid(polygon):
        return polygon
    if sides_cross_often(np.concatenate([sides(ring) for ring in shapely.get_rings(polygon)])):
        raise RegmapError(f"the fit's outline {name!r} crosses itself all over: register anew")
    mended: BaseGeometry = shapely.make_valid(polygon)
    return mended


def floor_points(fit: Registration, count: int = 2000) -> Floats:
    """Return (N, 2) px spread evenly over the rooms: a grid of about `count` points in their box.

    Points of rooms that the picture does not show are among them, outside the picture. At least
    one point comes back: a room too narrow for the grid counts by its corners.
    """
    rooms = overlay.union(polygons(fit.outlines).values())
    left, low, right, high = rooms.bounds
    step = max(((right - left) * (high - low) / count) ** 0.5, 1e-9)
    x = np.arange(left + step / 2, right, step)
    y = np.arange(low + step / 2, high, step)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    inside = grid[shapely.contains_xy(rooms, grid[:, 0], grid[:, 1])]
    if not len(inside):
        inside = np.concatenate([rings[0] for rings in fit.outlines.values()])
    pixels: Floats = np.asarray(fit.to_image(inside), dtype=np.float64)
    return pixels
