"""Upright rectangles for robots that take no other areas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap import frames
from regmap.areas.cover import tightest_cover
from regmap.areas.grid import CellGrid, edges_of, union_area
from regmap.areas.inside import coverage_bound, largest_inside
from regmap.areas.marked import DeviceArea
from regmap.errors import RegmapError
from regmap.given import chosen, short

__all__ = ["MAX_CORNERS", "Rectangles", "rectangles"]

Floats: TypeAlias = NDArray[np.float64]

MAX_CORNERS = 12_000
"""A polygon of more corners is refused: the search compares every corner with every box."""

# Lines each way of the first, coarse search. To cover takes more steps, and gains less from lines.
_LINES = {"inside": 64, "cover": 32}
# Where these would cut the edges into more pieces than these, half as many lines.
_PIECES = 400_000
# Cells take for a line what is thinner than a billionth of the whole; so much of it is no matter.
_LOST = 0.01
# To cover more corners, no more than a line for each gap.
_CORNERS = 256


@dataclass(frozen=True, eq=False)
class Rectangles:
    """Upright rectangles in place of a polygon; they may overlap.

    Attributes:
        boxes: (K, 4) x_min, y_min, x_max, y_max in device units; for "inside", the one that adds
            most comes first.
        fit: "inside" or "cover".
        fill: share (0..1) of the polygon's area that lies in a rectangle; 1 for "cover".
        spill: area of the rectangles outside the polygon, over the polygon's area; 0 for "inside".
        best_possible: proved: for "inside", no `max_count` upright rectangles have a larger fill;
            for "cover", none have a smaller spill. It is what the best reach, or somewhat beyond.
    """

    boxes: Floats
    fit: str
    fill: float
    spill: float
    best_possible: float


def rectangles(
    polygon: Any, *, fit: Literal["inside", "cover"] = "inside", max_count: int = 5
) -> Rectangles:
    """Return at most `max_count` rectangles, parallel to the device's axes, for a polygon.

    Args:
        polygon: what `to_device` returned, a shapely polygon, or several in one, with or without
            holes, or an (N, 2) array of corners; device coordinates.
        fit: "inside", rectangles that stay within the polygon and fill as much of it as they can,
            for areas in which a robot works; "cover", rectangles that leave nothing of it out and
            spill as little as they can, for areas that it must not enter.
        max_count: most rectangles. Fewer come back where one more would change fill or spill by
            less than a thousandth: a robot takes only so many, and a box that is turned by a
            hundredth of a degree is one box.

    Raises:
        RegmapError: if the polygon is empty, crosses itself or has more than 12,000 corners, or an
            option is out of range.

    The same polygon gives the same rectangles, bit by bit. A search this hard cannot promise the
    best: compare `fill` with `best_possible`. Its work is bounded for any polygon and any count, by
    steps and not by time: to cover may take ten times as long as to fill.
    """
    chosen(fit, _LINES, "fit")
    whole = isinstance(max_count, int | np.integer) and not isinstance(max_count, bool)
    if not whole or not 1 <= max_count <= 50:
        raise RegmapError(
            f"max_count is {short(max_count)}, but it must be a whole number from 1 to 50"
        )
    region = _region(polygon)
    # Near the origin: coordinates of large size would take digits from what is small.
    shift = np.array(region.bounds[:2])
    near = shapely.transform(region, lambda points: points - shift)
    lines = _LINES[fit]
    edges = edges_of(near)
    spans = np.abs(edges[:, 2:] - edges[:, :2]).sum(axis=0) / np.ptp(edges.reshape(-1, 2), axis=0)
    if lines * spans.sum() > _PIECES:
        lines //= 2
    many = fit == "cover" and len(edges) > _CORNERS
    grid = CellGrid.of(near, lines=lines, most=lines if many else 2 * lines)
    if abs(grid.area - near.area) > _LOST * near.area:
        raise RegmapError(
            "the polygon is a line, or parts of it are: they are thinner than a billionth of its "
            "extent; leave them out, or mark something wider"
        )
    if fit == "inside":
        boxes = largest_inside(near, grid, max_count)
        reached = union_area(boxes)
        bound = coverage_bound(grid, max_count, reached)
        fill, spill = reached / grid.area, 0.0
    else:
        boxes = tightest_cover(near, grid, max_count)
        fill, spill = 1.0, max(0.0, union_area(boxes) / grid.area - 1.0)
        # One box can only be the box of the whole; of more, nothing is proved.
        bound = grid.area * (1.0 + spill if max_count == 1 else 1.0)
    boxes = boxes + np.tile(shift, 2)
    boxes.flags.writeable = False
    best_possible = min(1.0, bound / grid.area) if fit == "inside" else bound / grid.area - 1.0
    return Rectangles(boxes, fit, fill, spill, best_possible)


def _region(polygon: Any) -> BaseGeometry:
    if isinstance(polygon, DeviceArea):
        polygon = polygon.geometry
    if not isinstance(polygon, BaseGeometry):
        ring = frames.as_points(polygon, "the polygon")
        if len(ring) < 3:
            raise RegmapError(f"{len(ring)} corners came, but a polygon needs at least three")
        polygon = shapely.Polygon(ring)
    if not isinstance(polygon, (shapely.Polygon, shapely.MultiPolygon)):
        raise RegmapError(f"a polygon is needed, not a {polygon.geom_type}: give it a margin")
    region = shapely.force_2d(polygon)
    frames.as_points(shapely.get_coordinates(region), "the polygon")
    if not region.is_valid:
        raise RegmapError(f"the polygon is not clean: {shapely.is_valid_reason(region)}")
    if region.area <= 0:
        raise RegmapError("the polygon is empty, or too small to have an area")
    if len(edges_of(region)) > MAX_CORNERS:
        raise RegmapError(
            f"the polygon has {len(edges_of(region))} corners, and at most {MAX_CORNERS} are "
            "taken: simplify it first"
        )
    return region
