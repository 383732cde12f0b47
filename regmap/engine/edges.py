"""Picture -> oriented edges, and how far each pixel is from the next edge of each orientation.

Edges are colour edges, see `gradient`. Orientation is that of the normal, modulo half a turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from .gradient import halved, strength_of, structure, without_thin_lines

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]
Real = TypeVar("Real", Floats, Single)

ORIENTATIONS = 8
_OVERLAP = np.deg2rad(18.0)
# Longer side up to which a picture is small.
_SMALL_PX = 400


@dataclass(frozen=True, eq=False)
class Edges:
    """Oriented edges of a picture at working size.

    `factor`: working px per full px. `point` (N, 2) in working px (corner convention), `angle` (N,)
    of the normal in [0, pi), `weight` (N,) in 0..1: how significant and how straight; `border` (N,)
    in 0..1: how much it parts two areas and is not a thin line upon one.
    `near` finds the next edge of an orientation from anywhere in the picture. `image` (h, w, C)
    uint8: the working picture; `gradient` and `calm_gradient` (h, w): its colour gradient in grey
    levels per px, plain and without thin lines.
    """

    factor: float
    image: NDArray[np.uint8]
    point: Floats
    angle: Floats
    weight: Floats
    border: Floats
    near: Nearest
    gradient: Single
    calm_gradient: Single

    @property
    def size(self) -> tuple[int, int]:
        return self.image.shape[1], self.image.shape[0]

    @cached_property
    def pixel(self) -> Places:
        """(N,) number of the pixel of each edge, row by row."""
        column, row = self.point.astype(np.int64).T
        return np.asarray(row * self.image.shape[1] + column)

    @cached_property
    def in_channel(self) -> list[Places]:
        """For each orientation the numbers of the edges whose own it is."""
        own = orientation_bin(self.angle)
        return [np.flatnonzero(own == channel) for channel in range(ORIENTATIONS)]


class Nearest:
    """The next edge of each orientation from each cell of a picture (h, w), of edges at places
    (N, 2) with normals at angles (N,).

    `cell` px is the width of the cells: a pixel, and in larger pictures two, which tells lines as
    well apart as the edges are sharp, for a fourth of the work. A channel is worked out when it is
    first asked for: walls run in few directions, and most channels never are.
    """

    def __init__(self, shape: tuple[int, ...], point: Floats, angle: Floats) -> None:
        self.cell = _cell(shape)
        self.shape = (ORIENTATIONS, *(-(-length // self.cell) for length in shape))
        self._distance = np.empty(self.shape, dtype=np.float32)
        self._label = np.empty(self.shape, dtype=np.int32)
        # Where the edge of each label lies, channel by channel; far off where there is none.
        self._goal = np.full((2, ORIENTATIONS, len(point) + 1), 1e4, dtype=np.float32)
        self._point, self._angle = point, angle
        self._known: set[int] = set()

    def distances(self, channel: int) -> Single:
        """(rows, columns) px from the middles of cells to the next edge of a channel."""
        if channel not in self._known:
            self._known.add(channel)
            self._fill(channel)
        return np.asarray(self._distance[channel])

    def cells(self, channel: Places, x: Real, y: Real) -> Places:
        """(...) numbers of the cells of channels in which places lie, px; those outside are taken
        to the rim."""
        self._make(channel)
        _, rows, columns = self.shape
        return cells_of(channel, x, y, 1.0 / self.cell, rows, columns)

    def away(self, cells: Places) -> Single:
        """(...) px from the middles of cells to the next edge of their channel."""
        return np.asarray(self._distance.take(cells))

    def ways(
        self, channel: Places, x: Real, y: Real, normal_x: Real, normal_y: Real
    ) -> tuple[Real, Real]:
        """x and y (...) px by which the next edge of a channel lies off places, seen along normals.

        Asked from half a cell to either side, and the nearer one told: where two lines lie close to
        each other, a cell knows one of them.
        """
        # Both sides at once.
        step = np.array([-0.5, 0.5], dtype=x.dtype).reshape(2, *(1,) * x.ndim) * self.cell
        cells = self.cells(channel, x + normal_x * step, y + normal_y * step)
        goal = self._label.take(cells) + channel * self._goal.shape[2]
        right, down = self._goal[0].take(goal) - x, self._goal[1].take(goal) - y
        away = right * right + down * down
        nearer = away[0] <= away[1]
        return np.where(nearer, right[0], right[1]), np.where(nearer, down[0], down[1])

    def _make(self, channel: Places) -> None:
        if len(self._known) == ORIENTATIONS:
            return
        for number in np.nonzero(np.bincount(channel.reshape(-1)))[0]:
            self.distances(int(number))

    def _fill(self, channel: int) -> None:
        turn = channel * np.pi / ORIENTATIONS
        away = np.abs(np.mod(self._angle - turn + 0.5 * np.pi, np.pi) - 0.5 * np.pi)
        chosen = np.nonzero(away < _OVERLAP)[0]
        distance, label = self._distance[channel], self._label[channel]
        if not len(chosen):
            distance[:], label[:] = 1e3, 0
            return
        point = self._point[chosen]
        column, row = (point / self.cell).astype(np.int64).T
        source = np.full(distance.shape, 255, dtype=np.uint8)
        source[row, column] = 0
        cv2.distanceTransformWithLabels(
            source, cv2.DIST_L2, 5, distance, label, cv2.DIST_LABEL_PIXEL
        )
        distance *= self.cell
        # Of the edges within a cell, the middle.
        owner = label[row, column]
        count = np.bincount(owner)[1:]
        for goal, place in zip(self._goal[:, channel], point.T, strict=True):
            goal[1 : len(count) + 1] = np.bincount(owner, place)[1:] / count


def _cell(shape: tuple[int, ...]) -> int:
    """px: the width of the cells that a picture (h, w) is taken in where pixels say no more."""
    return 1 if max(shape) <= _SMALL_PX else 2


def find_edges(image: NDArray[np.uint8], factor: float) -> Edges:
    """Edges of a working picture (h, w, C); see `Edges`."""
    magnitude, twice_cos, twice_sin = structure(image)
    low, high = _thresholds(magnitude)
    row, column = _ridges(magnitude, twice_cos, twice_sin, low, high)
    # A strong and a weak wall are both walls: the strength saturates well below full contrast.
    strength = _saturated(magnitude, high)
    twice_cos *= strength
    twice_sin *= strength
    cos, sin, mean = (_mean_around(v, row, column) for v in (twice_cos, twice_sin, strength))
    own = strength[row, column]
    # What comes next takes their place: memory that is new costs as much as what is done with it.
    del twice_cos, twice_sin, strength
    straight = np.hypot(cos, sin) / np.maximum(mean, 1e-6)
    # The mean direction around: a slanted wall of square cells runs as the wall does, not as its
    # cells do.
    turned = 0.5 * np.arctan2(sin, cos)
    angle = np.mod(turned, np.pi).astype(np.float64)
    calm = strength_of(without_thin_lines(image))
    border = _border_share(calm, row, column, own, high).astype(np.float64)
    weight = (own * straight**2 * (0.12 + 0.88 * border)).astype(np.float64)
    point = np.stack([column + 0.5, row + 0.5], axis=1).astype(np.float64)
    near = Nearest(image.shape[:2], point, angle)
    return Edges(factor, image, point, angle, weight, border, near, magnitude, calm)


def _ridges(
    magnitude: Single, twice_cos: Single, twice_sin: Single, low: float, high: float
) -> tuple[Places, Places]:
    """Rows and columns (N,) of the pixels on which the gradient is strongest across an edge (Canny,
    IEEE PAMI 8(6), 1986); its arrays (h, w) as `structure` gives them."""
    scale = 16.0
    dx, dy = (
        np.multiply(part, scale, out=part).astype(np.int16)
        for part in halved(magnitude, twice_cos, twice_sin)
    )
    mask = cv2.Canny(dx, dy, low * scale, high * scale, L2gradient=True)
    mask[[0, -1], :] = 0
    mask[:, [0, -1]] = 0
    row, column = np.divmod(np.flatnonzero(mask > 0), mask.shape[1])
    return row, column


def _saturated(gradient: Single, high: float) -> Single:
    """0..1 of gradients, half where they are twice the threshold."""
    beyond: Single = gradient + np.float32(2.0 * high)
    np.divide(gradient, beyond, out=beyond)
    return beyond


def _mean_around(values: Single, row: Places, column: Places) -> Single:
    """(N,) means of values (h, w) about pixels, by a bell of 3.5 px, of cells as `Nearest` has."""
    cell = _cell(values.shape)
    height, width = (length // cell for length in values.shape)
    if cell > 1:
        whole = values[: cell * height, : cell * width]
        values = np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA))
    mean = np.asarray(cv2.GaussianBlur(values, (0, 0), 3.5 / cell), dtype=np.float32)
    row, column = np.minimum(row // cell, height - 1), np.minimum(column // cell, width - 1)
    return np.asarray(mean[row, column])


def steady_edges(edges: Edges) -> Edges | None:
    """The edges that are borders of areas alone, or None where that would change little, or leave
    too little to go by (a drawing of thin lines)."""
    chosen = edges.border > 0.4
    share = float(chosen.mean()) if len(chosen) else 0.0
    if share > 0.85 or share < 0.04 or chosen.sum() < 200:
        return None
    point, angle = edges.point[chosen], edges.angle[chosen]
    return Edges(
        edges.factor,
        edges.image,
        point,
        angle,
        edges.weight[chosen],
        edges.border[chosen],
        Nearest(edges.gradient.shape, point, angle),
        edges.gradient,
        edges.calm_gradient,
    )


def _border_share(
    calm: Single, row: Places, column: Places, strength: Single, high: float
) -> Single:
    """How much of each edge at pixels, of `strength` (N,), is a border between areas, 0..1, and not
    a thin line upon one.

    A driven path, print and hatching vanish from the `calm` picture's gradient (h, w); borders of
    rooms and solid walls do not. Where all is thin lines (a drawing) all edges keep the same small
    share: only the relation between them matters.
    """
    there = cv2.dilate(calm, np.ones((5, 5), np.uint8))[row, column]
    steady = _saturated(np.asarray(there, dtype=np.float32), high)
    share = np.minimum(steady / np.maximum(strength, 1e-3), 1.0)
    return np.asarray(share**2, dtype=np.float32)


def _thresholds(magnitude: Single) -> tuple[float, float]:
    """Canny thresholds from the picture's own noise: the gradient of its flat parts."""
    # A pixel of sixteen is enough to tell.
    some = magnitude[::4, ::4]
    quiet = float(np.median(some))
    high = max(2.0, 5.0 * quiet)
    # A picture that is full of edges (a drawing, a carpet) has no flat half to learn noise from.
    high = min(high, 0.5 * float(np.percentile(some, 97)) + 2.0)
    return 0.5 * high, high


def cells_of(channel: Places, x: Real, y: Real, scale: float, rows: int, columns: int) -> Places:
    """(...) numbers of the cells in which places lie, in maps of channels of `rows` by `columns`,
    `scale` cells a px; those outside are taken to the rim."""
    column, row = (
        (along * scale).clip(0, last - 1).astype(np.int32)
        for along, last in ((x, columns), (y, rows))
    )
    cells = channel * rows + row
    cells *= columns
    cells += column
    return np.asarray(cells, dtype=np.int64)


def look_up(maps: NDArray[Any], channel: Places, row: Places, column: Places) -> NDArray[Any]:
    """`maps[channel, row, column]` of maps (K, h, w), in a fourth of the time."""
    _, height, width = maps.shape
    cells = channel * height + row
    cells *= width
    cells += column
    return np.asarray(maps.take(cells))


def orientation_bin(angle: Floats | Single) -> Places:
    """The orientation channel of a normal's angle (radians, any range)."""
    # They go round: ORIENTATIONS is a power of two.
    return np.rint(angle * (ORIENTATIONS / np.pi)).astype(np.int64) & (ORIENTATIONS - 1)


def normal_channel(x: Floats | Single, y: Floats | Single) -> Places:
    """(C, M) the orientation channel of normals with these components.

    OpenCV's phase is right to 0.3 degrees, less than the channels overlap, and many times quicker
    than the arc tangent of numpy.
    """
    return orientation_bin(np.asarray(cv2.phase(x, y), dtype=np.float32))
