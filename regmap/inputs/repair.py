"""Rings that cross themselves: the piece of them that is an area, if it is nearly all of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

__all__ = ["MOST_CROSSINGS", "Repair", "repair", "sides_cross_often"]

MOST_CROSSINGS = 100
"""A ring that crosses itself more often is not repaired: it is a scribble, and takes too long."""

_AT_ONCE = 32


@dataclass(frozen=True)
class Repair:
    """The largest piece of a polygon that was not valid.

    Attributes:
        piece: None if there is none, or the rings cross themselves all over.
        share: of the area of all pieces, 0..1; `pieces`: how many there are.
    """

    piece: Polygon | None = None
    share: float = 0.0
    pieces: int = 0


def repair(polygon: Polygon) -> Repair:
    """Return the largest piece of a polygon whose rings cross themselves or each other."""
    rings = [shapely.get_coordinates(ring) for ring in shapely.get_rings(polygon)]
    if any(sides_cross_often(np.stack([ring[:-1], ring[1:]], axis=1)) for ring in rings):
        return Repair()
    pieces = [
        piece
        for piece in shapely.get_parts(shapely.get_parts(shapely.make_valid(polygon)))
        if isinstance(piece, Polygon) and piece.area > 0
    ]
    if not pieces:
        return Repair()
    largest = max(pieces, key=lambda piece: piece.area)
    return Repair(largest, largest.area / sum(piece.area for piece in pieces), len(pieces))


def sides_cross_often(ends: NDArray[np.float64], most: int = MOST_CROSSINGS) -> bool:
    """Return whether sides (N, 2, 2) of rings or lines touch or cross more than `most` times.

    Sides that share a corner do not count. The work is bounded also where every side crosses every
    other: sides are asked few at a time, and the first that are too many end it.
    """
    sides = np.atleast_1d(np.asarray(shapely.linestrings(ends)))
    tree = shapely.STRtree(sides)
    found = 0
    for start in range(0, len(sides), _AT_ONCE):
        some = sides[start : start + _AT_ONCE]
        pairs = tree.query(some, predicate="intersects")
        # Each side meets itself and its two neighbours, and every crossing is met from both sides.
        found += pairs.shape[1] - 3 * len(some)
        if found > 2 * most:
            return True
    return False
