"""What the ground under outlines tells: rooms lie beside each other, other things lie on rooms.

No word is needed for any of it. A list of rooms covers a floor once. What lies on one of them (an
area to keep out of, a rug, an obstacle) is no room, and neither is what several of them lie in (the
whole floor). A key under which outlines lie apart is a field of every room, and no room's name.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Hashable, Mapping, Sequence
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.words import is_kind

__all__ = [
    "SAME_GROUND",
    "are_heap",
    "comparable",
    "lie_apart",
    "lies_beside",
    "out_of_place",
    "standing",
]

SAME_GROUND = 0.5
"""What shares this much of its ground with others lies on them."""

_WHOLE, _ACROSS = 0.3, 0.8
"""What holds several outlines that fill this share of it, and reach over this share of its width
and of its height, is the whole of which they are parts."""

_MOSTLY = 0.7
"""Things lie on rooms if at least this share of them does."""

_ALIKE = 4.0
"""Two sets of outlines are not of one kind if one is so many times as large as the other."""

_SMALL = 0.2
"""What has less than this share of the smallest room's ground is no room."""

_SHORT_FOR_KIND = frozenset(("t", "k", "typ", "cat", "cls", "tp"))

_FEWEST_HEAPED = 2

_CROWDED = 20
"""Outlines of which each meets so many others are no floor, whatever they are."""

_LOOKED_AT = 400
"""Of more outlines than this only the last are looked at."""

Kind = TypeVar("Kind", bound=Hashable)


def lie_apart(shapes: Sequence[Shape]) -> bool:
    """Whether most outlines lie elsewhere than the one before them, so are not one room."""
    known = _polygons(shapes)
    if len(known) < 2:
        return False
    return float(np.mean(shapely.intersects(known[:-1], known[1:]))) < 0.5


def lies_beside(shape: Shape, rooms: Sequence[Shape]) -> bool:
    """Whether an area lies beside all rooms, and is no small thing between them."""
    if shape.polygon is None or not rooms or any(shape.overlaps(r.polygon) for r in rooms):
        return False
    areas = [room.polygon.area for room in rooms if room.polygon is not None]
    return bool(areas) and bool(shape.polygon.area > _SMALL * min(areas))


def comparable(one: Sequence[Shape], other: Sequence[Shape]) -> bool:
    """Whether two sets of outlines cover ground of the same order of size."""
    areas = [float(shapely.union_all(_polygons(shapes)).area) for shapes in (one, other)]
    return max(areas) <= _ALIKE * min(areas)


def standing(families: Mapping[Kind, Sequence[Shape]]) -> dict[Kind, float]:
    """Return what the ground says for (above 0) or against (below 0) each family's being rooms.

    Of each name within a family its last outline counts.
    """
    grounds = {}
    for kind, family in families.items():
        newest = {shape.name: shape for shape in family if shape.polygon is not None}
        grounds[kind] = _polygons(list(newest.values()))
    unions = {kind: shapely.union_all(polygons) for kind, polygons in grounds.items()}
    result = {kind: -_overlap(polygons, unions[kind]) for kind, polygons in grounds.items()}
    for kind, polygons in grounds.items():
        for other, union in unions.items():
            if other == kind or not len(polygons) or not union.intersects(unions[kind]):
                continue
            if float(np.mean(_lies_on(polygons, grounds[other], union))) < _MOSTLY:
                continue
            if not _are_whole(grounds[other], polygons):
                result[kind] -= 1.0
            elif _overlap(polygons, unions[kind]) < 0.1:
                result[other] -= 1.0
    return result


def out_of_place(rooms: Sequence[Shape]) -> set[int]:
    """Return the places of what lies on the other outlines, or is the whole of which they are."""
    polygons = _polygons(rooms, every=True)
    areas = shapely.area(polygons)
    one, other = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    smaller = (areas[one] < areas[other]) | ((areas[one] == areas[other]) & (one > other))
    small, large = one[smaller], other[smaller]
    if len(small) > _CROWDED * len(polygons):
        return set()
    common = shapely.intersection(polygons[small], polygons[large])
    inside = shapely.area(common) > SAME_GROUND * areas[small]
    out: set[int] = set()
    for at in sorted(set(large[inside].tolist()), key=lambda at: -areas[at]):
        parts = small[inside & (large == at)]
        if _is_whole(polygons[at], polygons[parts]):
            out.add(at)
    for at in sorted(set(small.tolist()) - out, key=lambda at: -areas[at]):
        on = [i for i in np.flatnonzero(small == at) if int(large[i]) not in out]
        if on and shapely.union_all(common[on]).area > SAME_GROUND * areas[at]:
            out.add(at)
    return out | _of_their_kind(rooms, out)


def are_heap(rooms: Sequence[Shape], out: Collection[int]) -> bool:
    """Whether more rooms lie on others than do not, each about as large as those.

    Rooms whose corners are told from a place of their own do, and those of floors in one list.
    """
    areas = np.array([0.0 if room.polygon is None else room.polygon.area for room in rooms])
    lying = np.isin(np.arange(len(rooms)), list(out))
    if not lying.any() or lying.all():
        return False
    alike = areas[lying] > _SMALL * np.median(areas[~lying])
    return bool(alike.sum() > (~lying).sum() and len(rooms) > _FEWEST_HEAPED)


def _of_their_kind(rooms: Sequence[Shape], out: set[int]) -> set[int]:
    """Return the places of rooms of which something says that they are what lies on rooms.

    That is a key with one text beside nearly all that has it and lies on rooms (kind 7, say). A key
    that by its name tells kinds need not do so as often.
    """
    texts: defaultdict[tuple[str, str], set[int]] = defaultdict(set)
    for at, room in enumerate(rooms):
        for clue in room.found.clues:
            if clue.key and not clue.outside:
                texts[clue.key, clue.text].add(at)
    found: set[int] = set()
    for (key, _), places in texts.items():
        lying, others = places & out, places - out
        least = 1 if is_kind(key) or key in _SHORT_FOR_KIND else 3
        if len(lying) >= least * max(len(others), 1) and len(rooms) - len(out | others) > 1:
            found |= others
    return found


def _lies_on(
    polygons: NDArray[np.object_], others: NDArray[np.object_], union: BaseGeometry
) -> NDArray[np.bool_]:
    """Which areas lie on the ground of others and are not other shapes of the same things."""
    lying = _shares(polygons, union) > SAME_GROUND
    one, other = shapely.STRtree(others).query(polygons)
    common = shapely.area(shapely.intersection(polygons[one], others[other]))
    either = shapely.area(polygons[one]) + shapely.area(others[other]) - common
    lying[one[common > SAME_GROUND * either]] = False
    return lying


def _are_whole(wholes: NDArray[np.object_], parts: NDArray[np.object_]) -> bool:
    """Whether most of some areas are the whole of which others are parts."""
    part, whole = shapely.STRtree(wholes).query(parts)
    common = shapely.area(shapely.intersection(parts[part], wholes[whole]))
    inside = common > SAME_GROUND * shapely.area(parts[part])
    held = [parts[part[inside & (whole == at)]] for at in range(len(wholes))]
    found = [_is_whole(one, several) for one, several in zip(wholes, held, strict=True)]
    return 2 * sum(found) > len(wholes)


def _is_whole(whole: Polygon, parts: NDArray[np.object_]) -> bool:
    if len(parts) < 2:
        return False
    filled = shapely.union_all(parts).intersection(whole)
    low_x, low_y, high_x, high_y = whole.bounds
    x0, y0, x1, y1 = filled.bounds
    across = min((x1 - x0) / (high_x - low_x), (y1 - y0) / (high_y - low_y))
    return bool(filled.area > _WHOLE * whole.area and across > _ACROSS)


def _polygons(shapes: Sequence[Shape], *, every: bool = False) -> NDArray[np.object_]:
    """The areas, without None: all of them or the last."""
    found = [shape.polygon for shape in shapes if shape.polygon is not None]
    found = found if every else found[-_LOOKED_AT:]
    array: NDArray[np.object_] = np.empty(len(found), dtype=object)
    array[:] = found
    return array


def _shares(polygons: NDArray[np.object_], ground: BaseGeometry | Polygon) -> NDArray[np.float64]:
    """Which share of each polygon lies on a ground."""
    common = shapely.area(shapely.intersection(polygons, ground))
    return np.asarray(common / np.maximum(shapely.area(polygons), np.finfo(float).tiny))


def _overlap(polygons: NDArray[np.object_], union: BaseGeometry) -> float:
    """Which share of the ground is covered more than once, 0 to 1."""
    total = float(shapely.area(polygons).sum())
    return 1.0 - float(union.area) / total if total > 0 else 0.0
