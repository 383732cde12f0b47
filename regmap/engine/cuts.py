"""Walls that the picture shows across rooms: the sign of another storey.

The next storey stands on the same outer walls, and on some of the same walls between rooms. What it
lacks of the others may be hidden by print or a path, which also looks like walls of its own; but a
border from one side of a room to the other, where no outline runs, is none of this floor's.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from regmap.frames import apply, invert, scale_of

from .displaced import Laid
from .measure import FACING, main_axes
from .rasterise import Raster

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Share of a room's width along which a border must run to be a wall, and by how much it may lean,
# working px.
_FROM_SIDE_TO_SIDE, _LEANING_PX = 0.7, 3.0
# Working px, and share of a room's width, from its outline, within which it is the outline's.
_MARGIN_PX, _MARGIN = 5.0, 0.08
# What a wall's step in colour is of the usual one, and how surely it parts two areas.
_STEP, _BORDER = 0.4, 0.3


def rooms_cut(laid: Laid, raster: Raster) -> NDArray[np.bool_]:
    """(R,) through which rooms a border runs from side to side, along one of the floor's two main
    directions, that is as much of a step in colour as the usual wall."""
    edges = laid.edges
    column, row = edges.point.astype(np.int64).T
    steps = cv2.dilate(edges.calm_gradient, np.ones((3, 3), dtype=np.uint8))[row, column]
    scale = scale_of(laid.pose)
    chosen = np.flatnonzero((edges.border > _BORDER) & (steps >= _STEP * laid.usual_step))
    own = apply(invert(laid.pose), edges.point[chosen])
    column, row = raster.cells(own)
    room = raster.label[row, column].astype(np.int64) - 1
    inside = (room >= 0) & (raster.depth[row, column] * scale >= _MARGIN_PX)
    own, room, chosen = own[inside], room[inside], chosen[inside]
    angle = edges.angle[chosen]
    normal = np.column_stack([np.cos(angle), np.sin(angle)])
    cut = np.zeros(laid.walls.rooms, dtype=bool)
    for across, axis in enumerate(main_axes(laid.pose)):
        facing = np.abs(normal @ axis) > FACING
        place = own[facing][:, [across, 1 - across]]
        cut |= _cut_along(place, room[facing], _Widths(raster, across, scale, len(cut)), scale)
    return cut


class _Widths:
    """How wide each room is across an axis of the own frame, along that axis, working px."""

    def __init__(self, raster: Raster, across: int, scale: float, rooms: int) -> None:
        label = raster.label if across == 0 else raster.label.T
        columns = label.shape[1]
        number = (label.astype(np.int64) * columns + np.arange(columns)).reshape(-1)
        count = np.bincount(number, minlength=(rooms + 1) * columns)
        cell = scale / raster.scale
        self.width = count.reshape(-1, columns)[1:] * cell
        there = self.width > 0.0
        self.first = there.argmax(axis=1) * cell
        self.last = (columns - there[:, ::-1].argmax(axis=1)) * cell
        self.shift, self.cell = raster.shift[across] * cell, cell

    def at(self, place: Floats, room: Ints) -> tuple[Floats, Floats]:
        """Width (N,) of rooms at places (N,) px along the axis, and how far these are from where
        the room ends (N,)."""
        along = place + self.shift
        column = (along / self.cell).astype(np.int64).clip(0, self.width.shape[1] - 1)
        return self.width[room, column], np.minimum(
            along - self.first[room], self.last[room] - along
        )


def _cut_along(place: Floats, room: Ints, widths: _Widths, scale: float) -> NDArray[np.bool_]:
    """(R,) rooms that borders at places (N, 2) own units, across and along, cut."""
    cut = np.zeros(len(widths.width), dtype=bool)
    across, along = place.T * scale
    # A line may lie on the rim of one strip, and not on those of both.
    for phase in (0.0, 0.5):
        strip = np.floor(across / _LEANING_PX + phase).astype(np.int64)
        pixels = np.unique(np.column_stack([room, strip, along.astype(np.int64)]), axis=0)
        lines, length = np.unique(pixels[:, :2], axis=0, return_counts=True)
        of = lines[:, 0]
        width, from_end = widths.at((lines[:, 1] + 0.5 - phase) * _LEANING_PX, of)
        whole = widths.last[of] - widths.first[of]
        wall = length >= _FROM_SIDE_TO_SIDE * np.maximum(width - 2.0 * _MARGIN_PX, _MARGIN_PX)
        cut[of[wall & (from_end >= np.maximum(_MARGIN * whole, _MARGIN_PX))]] = True
    return cut
