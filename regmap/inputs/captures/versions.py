"""Several shapes of one room in a text: which of them is the newest, and which rooms are gone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely

from regmap.inputs.captures.ground import SAME_GROUND
from regmap.inputs.captures.names import Shape
from regmap.inputs.captures.words import is_change

__all__ = ["newest"]


def newest(shapes: Sequence[Shape]) -> list[Shape]:
    """Return the newest shape of each room that is still there, in the order of the first ones."""
    current: dict[str, Shape] = {}
    count: Counter[tuple[str, tuple[int, int]]] = Counter()
    for shape in shapes:
        name = shape.name
        if name in current and _both_stay(current[name], shape):
            # A second bedroom of the same list; it is told apart by number.
            count[name, shape.found.moment] += 1
            name = f"{name} {count[name, shape.found.moment] + 1}"
        shape.name = name
        current[name] = shape
    rooms = list(current.values())
    old = _out_of_date(rooms)
    gone = _gone(shapes)
    return [room for at, room in enumerate(rooms) if at not in old and room.name not in gone]


def _gone(shapes: Sequence[Shape]) -> set[str]:
    """The names of rooms that the newest list of all rooms no longer has.

    A list is one of all rooms if it was read to its end and has most rooms of another list of its
    kind, unless it is called a change.
    """
    lists: dict[tuple[int, int], dict[str, Shape]] = {}
    for shape in shapes:
        lists.setdefault(shape.found.moment, {})[shape.name] = shape
    several = [rooms for rooms in lists.values() if len(rooms) > 1]
    if len(several) < 2:
        return set()
    *earlier, last = several
    first = next(iter(last.values()))
    if any(not room.found.ended for room in last.values()) or is_change(first.found.path):
        return set()
    gone: set[str] = set()
    for rooms in earlier:
        one = next(iter(rooms.values()))
        if one.pattern == first.pattern and 2 * len(rooms.keys() & last.keys()) > len(rooms):
            gone |= rooms.keys() - last.keys()
    later = {shape.name for shape in shapes if shape.order > first.order}
    return gone - later


def _both_stay(one: Shape, other: Shape) -> bool:
    """Two rooms of one name in one list are two rooms, unless they share their ground."""
    if one.found.moment != other.found.moment:
        return False
    return not one.overlaps(other.polygon)


def _out_of_date(rooms: Sequence[Shape]) -> set[int]:
    """The places of rooms on whose ground newer ones of other lists lie."""
    polygons = np.array([room.polygon for room in rooms], dtype=object)
    tree = shapely.STRtree(polygons)
    old = set()
    for at, room in enumerate(rooms):
        newer = [
            polygons[other]
            for other in tree.query(polygons[at])
            if rooms[other].order > room.order and rooms[other].found.moment != room.found.moment
        ]
        if newer:
            covered = polygons[at].intersection(shapely.union_all(newer)).area
            if covered > SAME_GROUND * polygons[at].area:
                old.add(at)
    return old
