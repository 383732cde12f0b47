"""How much area pairs of polygons have in common: exactly, or along lines where that is less work.

An overlay of two polygons of 20,000 corners takes a second, and time grows with the square of the
corners. Along a line it is plain how much of it lies in both: the sum over many lines tells the
area to within a part in some hundred, whatever the polygons look like.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas import overlay
from regmap.areas.grid import edges_of

__all__ = ["shared_areas"]

Floats = NDArray[np.float64]

# Overlays take as long as corners * (1 + corners / _SQUARE) says; of more together than these,
# which take about a second, lines are drawn instead.
_SQUARE, _MOST_WORK = 3000, 400_000
# Lines of a pair, and the crossings of lines and borders that all pairs may have together.
_LINES, _FEWEST, _CROSSINGS = 1000, 25, 2_000_000
# Lines lie in equal strips, each elsewhere in its own (steps of the golden ratio), so that nothing
# that repeats along a border keeps step with them.
_GOLDEN = 0.5 * (5.0**0.5 - 1.0)


def shared_areas(
    rooms: Sequence[BaseGeometry], shapes: Sequence[BaseGeometry], pairs: NDArray[np.intp]
) -> Floats:
    """(P,) areas that valid polygons have in common, of `pairs` (P, 2) of a room and a shape."""
    corners = shapely.get_num_coordinates(rooms)[pairs[:, 0]]
    corners = corners + shapely.get_num_coordinates(shapes)[pairs[:, 1]]
    if (corners * (1.0 + corners / _SQUARE)).sum() <= _MOST_WORK:
        return overlay.areas_in_common(rooms, shapes, pairs)
    one = {i: edges_of(rooms[i]) for i in set(pairs[:, 0].tolist())}
    other = {j: edges_of(shapes[j]) for j in set(pairs[:, 1].tolist())}
    most = _CROSSINGS / len(pairs)
    return np.array([_along_lines(one[i], other[j], most) for i, j in pairs.tolist()])


def _along_lines(one: Floats, other: Floats, most: float) -> float:
    """Area that two polygons given by their edges (E, 4) have in common, by lines that cross these
    at most so many times, unless fewer lines than `_FEWEST` would be left."""
    both = [edges.reshape(-1, 2) for edges in (one, other)]
    low = np.maximum(*(points.min(axis=0) for points in both))
    high = np.minimum(*(points.max(axis=0) for points in both))
    if (low >= high).any():
        return 0.0
    edges = np.concatenate([one, other])
    ends = np.clip(edges.reshape(-1, 2, 2), low, high)
    crossed = np.abs(np.diff(ends, axis=1)[:, 0]).sum(axis=0) / (high - low)
    # Across the teeth of a comb there are many crossings, along them two.
    axis = int(np.argmin(crossed))
    count = int(np.clip(most / max(crossed[axis], 1.0), _FEWEST, _LINES))
    step = (high - low)[axis] / count
    number = np.arange(count)
    places = low[axis] + step * (number + (number * _GOLDEN) % 1.0)
    line, at, second = _crossings(edges, places, axis, np.arange(len(edges)) >= len(one))
    order = np.lexsort([at, line])
    line, at, second = line[order], at[order], second[order]
    # A line is inside after an odd number of crossings; at its end it is outside of both.
    inside = (np.cumsum(~second) % 2 == 1) & (np.cumsum(second) % 2 == 1)
    return float((np.diff(at) * inside[:-1]).sum() * step)


def _crossings(
    edges: Floats, places: Floats, axis: int, second: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], Floats, NDArray[np.bool_]]:
    """Where increasing `places` of an axis are crossed by edges: which line, at which coordinate of
    the other axis, and by which polygon."""
    start, end = edges[:, axis], edges[:, 2 + axis]
    first = np.searchsorted(places, np.minimum(start, end), side="left")
    after = np.searchsorted(places, np.maximum(start, end), side="left")
    count = after - first
    own = np.repeat(np.arange(len(edges)), count)
    line = np.arange(len(own)) - np.repeat(np.cumsum(count) - count, count) + first[own]
    share = (places[line] - start[own]) / (end - start)[own]
    from_, to = edges[own, 1 - axis], edges[own, 3 - axis]
    return line, from_ + share * (to - from_), second[own]
