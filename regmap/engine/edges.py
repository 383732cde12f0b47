"""Picture -> oriented edges, and how far each pixel is from the next edge of each orientation.

Edges are colour edges: the structure tensor summed over the channels (Di Zenzo, CVGIP 33(1),
1986), so that two colours of equal grey still have a border. Orientation is that of the normal,
modulo half a turn.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]
Real = TypeVar("Real", Floats, Single)

ORIENTATIONS = 8
_OVERLAP = np.deg2rad(18.0)
# The comparisons that bring the median of seven to the fourth place: pairs of places, and whether
# the lesser goes to the first, the greater to the second (Devillard, Fast median search, 1998).
_MEDIAN_OF_7 = (
    *(((0, 5), True, True), ((0, 3), True, True), ((1, 6), True, True), ((2, 4), True, True)),
    *(((0, 1), False, True), ((3, 5), True, True), ((2, 6), True, True), ((2, 3), False, True)),
    *(((3, 6), True, False), ((4, 5), True, False), ((1, 4), True, True), ((1, 3), False, True)),
    ((3, 4), True, False),
)
# Longer side up to which a picture is small.
_SMALL_PX = 400
# Rows that are worked on at a time, so that they stay in the processor's cache.
_STRIP = 64


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


def structure(image: NDArray[np.uint8]) -> tuple[Single, Single, Single]:
    """Of the strongest colour change at each pixel of a picture (h, w, C): how strong it is, grey
    levels per px, and cosine and sine of twice its angle: a border has no sign."""
    found = np.empty((3, *image.shape[:2]), dtype=np.float32)
    for rows, (strength, apart, twice_xy, root) in _strips(image):
        np.maximum(root, np.float32(1e-12), out=root)
        found[0, rows] = strength
        np.divide(apart, root, out=found[1, rows])
        np.divide(twice_xy, root, out=found[2, rows])
    return found[0], found[1], found[2]


def _strips(image: NDArray[np.uint8]) -> Iterator[tuple[slice, list[Single]]]:
    """What `_tensor` gives, some rows at a time, and which rows these are."""
    height = len(image)
    for top in range(0, height, _STRIP):
        # Two rows are smoothed over, and one more is a neighbour.
        end, above = min(top + _STRIP, height), max(top - 3, 0)
        own = slice(top - above, end - above)
        yield slice(top, end), [part[own] for part in _tensor(image[above : end + 3])]


def _tensor(image: NDArray[np.uint8]) -> tuple[Single, Single, Single, Single]:
    """Of the structure tensor at each pixel of a picture (h, w, C): the root of its larger
    eigenvalue, the difference of its diagonal, twice the other element, and how long the two are
    together."""
    smooth = cv2.GaussianBlur(image, (0, 0), 0.7)
    # Channel by channel, summed in place: this is bound by memory.
    sums: list[Single] = []
    for channel in cv2.split(smooth):
        dx = cv2.Scharr(channel, cv2.CV_32F, 1, 0, scale=1 / 32)
        dy = cv2.Scharr(channel, cv2.CV_32F, 0, 1, scale=1 / 32)
        if not sums:
            sums = [dx * dx, dy * dy, dx * dy]
            continue
        cv2.accumulateSquare(dx, sums[0])
        cv2.accumulateSquare(dy, sums[1])
        cv2.accumulateProduct(dx, dy, sums[2])
    xx, yy, twice_xy = sums
    twice_xy *= 2.0
    apart = xx - yy
    # Not OpenCV's magnitude, whose last bit depends on where in memory the arrays lie.
    root = apart * apart
    root += twice_xy * twice_xy
    np.sqrt(root, out=root)
    xx += yy
    xx += root
    xx *= 0.5
    return np.sqrt(xx, out=xx), apart, twice_xy, root


def _strength(image: NDArray[np.uint8]) -> Single:
    """The first of what `structure` gives alone."""
    found = np.empty(image.shape[:2], dtype=np.float32)
    for rows, (strength, *_) in _strips(image):
        found[rows] = strength
    return found


def colour_gradient(image: NDArray[np.uint8]) -> tuple[Single, Single]:
    """(dx, dy) along the strongest colour change, grey levels per px; the sign is arbitrary."""
    return _halved(*structure(image))


def _halved(strength: Single, twice_cos: Single, twice_sin: Single) -> tuple[Single, Single]:
    """(x, y) of vectors of this length, from cosine and sine of twice their angle."""
    half = np.float32(0.5)
    x = half * twice_cos
    y = half - x
    x += half
    for part in (x, y):
        np.maximum(part, 0.0, out=part)
        np.sqrt(part, out=part)
        part *= strength
    return x, np.copysign(y, twice_sin, out=y)


def find_edges(image: NDArray[np.uint8], factor: float) -> Edges:
    """Edges of a working picture (h, w, C); see `Edges`."""
    magnitude, twice_cos, twice_sin = structure(image)
    low, high = _thresholds(magnitude)
    scale = 16.0
    dx, dy = ((v * scale).astype(np.int16) for v in _halved(magnitude, twice_cos, twice_sin))
    mask = cv2.Canny(dx, dy, low * scale, high * scale, L2gradient=True)
    mask[[0, -1], :] = 0
    mask[:, [0, -1]] = 0
    # A strong and a weak wall are both walls: the strength saturates well below full contrast.
    strength: Single = magnitude / (magnitude + np.float32(2.0 * high))
    row, column = np.divmod(np.flatnonzero(mask > 0), mask.shape[1])
    around = (strength * twice_cos, strength * twice_sin, strength)
    cos, sin, mean = (_mean_around(v, row, column) for v in around)
    straight = np.hypot(cos, sin) / np.maximum(mean, 1e-6)
    # The mean direction around: a slanted wall of square cells runs as the wall does, not as its
    # cells do.
    turned = 0.5 * np.arctan2(sin, cos)
    angle = np.mod(turned, np.pi).astype(np.float64)
    calm = _strength(_without_thin_lines(image))
    own = strength[row, column]
    border = _border_share(calm, row, column, own, high).astype(np.float64)
    weight = (own * straight**2 * (0.12 + 0.88 * border)).astype(np.float64)
    point = np.stack([column + 0.5, row + 0.5], axis=1).astype(np.float64)
    near = Nearest(mask.shape, point, angle)
    return Edges(factor, image, point, angle, weight, border, near, magnitude, calm)


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


def _without_thin_lines(image: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A picture (h, w, C) in which lines of up to 3 px are gone, and the borders of areas not: the
    median of seven pixels of a column, and of seven of those in a row.

    The median of a square costs many times more, and rounds corners.
    """
    height, width = image.shape[:2]
    rim = np.asarray(cv2.copyMakeBorder(image, 3, 3, 3, 3, cv2.BORDER_REPLICATE), dtype=np.uint8)
    wide = rim.reshape(height + 6, width + 6, -1)
    calm = np.empty_like(image)
    for top in range(0, height, _STRIP):
        end = min(top + _STRIP, height)
        rows = _median_of_7([wide[top + n : end + n] for n in range(7)])
        calm[top:end] = _median_of_7([rows[:, n : width + n] for n in range(7)])
    return calm


def _median_of_7(values: list[NDArray[np.uint8]]) -> NDArray[np.uint8]:
    for (first, second), lesser, greater in _MEDIAN_OF_7:
        a, b = values[first], values[second]
        if lesser:
            values[first] = np.minimum(a, b)
        if greater:
            values[second] = np.maximum(a, b)
    return values[3]


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
    steady = there / (there + np.float32(2.0 * high))
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
