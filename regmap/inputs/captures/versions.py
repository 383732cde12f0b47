"""Several shapes of one room in a text: which of them is the newest, and which rooms are gone."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from regmap.inputs.captures.gone import inactive, is_told_gone
from regmap.inputs.captures.ground import SAME_GROUND
from regmap.inputs.captures.numerals import as_number
from regmap.inputs.captures.order import is_stamp
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.words import id_rank, is_change, is_kind, tells_revision, words_of

__all__ = ["changes", "newest"]

_SURE = frozenset(("score", "confidence", "conf", "prob", "probability", "likelihood"))
_MOST_NEWER, _NEWER_AT_ONCE = 64, 16
"""So many of the newer outlines on a room's ground are looked at, so many more at a time."""

_LISTS_LOOKED_AT = 16
"""So many of the last lists are looked at whether they are of all rooms."""

_WHOLE_GROUND, _REVISED_GROUND, _OTHER_GROUND = 0.5, 0.25, 0.1
"""A list of all rooms is so large beside the one before, or beside the revision before, if so much
of it lies elsewhere."""


def changes(others: Iterable[Shape], rooms: Sequence[Shape]) -> list[Shape]:
    """Return, and name, outlines elsewhere that are rooms' newer shapes: by number, key and ground.

    A change may come as {"room": 4, "outline": ...}, or with the way to it as a JSON pointer
    (RFC 6901) or a topic: "/rooms/4/outline", where the number may be the room's place in its list.
    What is one thing with a room already stands in one record with it, and is no change.
    """
    lists: defaultdict[tuple[int, int], list[Shape]] = defaultdict(list)
    for room in rooms:
        lists[room.found.moment].append(room)
    current: dict[str, Shape] = {}
    marked: defaultdict[str, set[str]] = defaultdict(set)
    for several in lists.values():
        for place, room in enumerate(several):
            current[room.name] = room
            for mark in (*_marks(room), str(place)):
                marked[mark].add(room.name)
    tails = {room.tail for room in rooms if room.tail}
    changed: list[Shape] = []
    for shape in others:
        ways = _ways(shape)
        if tails.isdisjoint({shape.tail, *(way[-1] for way in ways)}):
            continue
        marks = _marks(shape).union(*(way[:-1] for way in ways))
        names = set[str]().union(*(marked[mark] for mark in marks & marked.keys()))
        known = [name for name in names if _is_newer(shape, current[name])]
        if len(known) == 1:
            shape.name = known[0]
            current[shape.name] = shape
            changed.append(shape)
    return changed


def _is_newer(shape: Shape, room: Shape) -> bool:
    """Whether an outline stands below another one, in another record, and on its ground.

    One of the same name may be any larger. One that is much smaller may be of a thing in the room,
    unless it is said to be a change; that may tell the room by its number alone.
    """
    apart = room.order < shape.order and room.found.record != shape.found.record
    if not apart or shape.matches(room):
        return apart
    one, other = shape.polygon, room.polygon
    changed = _is_called_change(shape)
    if one is None or other is None or not (changed or shape.name == room.name):
        return False
    common = one.intersection(other).area
    return bool(common > SAME_GROUND * (min(one.area, other.area) if changed else other.area))


def _is_called_change(shape: Shape) -> bool:
    kinds = [clue.text for clue in shape.found.clues if is_kind(clue.key)]
    return is_change((*shape.found.path, *kinds))


def _ways(shape: Shape) -> list[list[str]]:
    """The ways that are told beside an outline, step by step."""
    texts = (clue.text.strip("/") for clue in shape.found.clues if clue.text.count("/") > 1)
    return [text.split("/") for text in texts]


def _marks(shape: Shape) -> set[str]:
    """What tells an outline from others of its list: its numbers, its name, steps of its path."""
    told = {clue.text for clue in shape.found.clues if id_rank(clue.key) is not None}
    return told | {shape.name} | {step for step in shape.found.path if step.isdigit()}


def newest(shapes: Sequence[Shape]) -> list[Shape]:
    """Return the newest shape of each room that is still there, in the order of the first ones."""
    current: dict[str, Shape] = {}
    count: Counter[tuple[str, tuple[int, int]]] = Counter()
    for shape in shapes:
        name = shape.name
        if name in current and _is_surer(current[name], shape):
            continue
        if name in current and _both_stay(current[name], shape):
            # A second bedroom of the same list; it is told apart by number.
            count[name, shape.found.moment] += 1
            name = f"{name} {count[name, shape.found.moment] + 1}"
        shape.name = name
        current[name] = shape
    known = list(current.values())
    idle = inactive([room.found for room in known])
    rooms = [
        room
        for room, off in zip(known, idle, strict=True)
        if not off and not is_told_gone(room.found)
    ]
    old = _out_of_date(rooms)
    gone = _gone(shapes)
    return [room for at, room in enumerate(rooms) if at not in old and room.name not in gone]


def _is_surer(one: Shape, other: Shape) -> bool:
    """Whether of two guesses at one room in one list the first is said to be surer."""
    if one.found.moment != other.found.moment or not one.overlaps(other.polygon):
        return False
    first, second = (_sureness(shape) for shape in (one, other))
    return first is not None and second is not None and first > second


def _sureness(shape: Shape) -> float | None:
    clues = (c for c in shape.found.clues if not c.outside and c.number)
    return next((as_number(c.text) for c in clues if not _SURE.isdisjoint(words_of(c.key))), None)


def _gone(shapes: Sequence[Shape]) -> set[str]:
    """The names of rooms that the newest list of all rooms no longer has.

    A list is one of all rooms if it was read to its end and stands for another list of its kind,
    unless it is called a change.
    """
    lists: dict[tuple[int, int], dict[str, Shape]] = {}
    for shape in shapes:
        lists.setdefault(shape.found.moment, {})[shape.name] = shape
    several = [rooms for rooms in lists.values() if len(rooms) > 1]
    for at in range(len(several) - 1, max(len(several) - _LISTS_LOOKED_AT, 0), -1):
        *earlier, last = several[: at + 1]
        first = next(iter(last.values()))
        if any(not room.found.ended for room in last.values()) or is_change(first.found.path):
            continue
        gone = {name for rooms in earlier if _replaces(last, rooms) for name in rooms}
        if gone:
            return gone - last.keys() - {s.name for s in shapes if s.order > first.order}
    return set()


def _replaces(last: Mapping[str, Shape], rooms: Mapping[str, Shape]) -> bool:
    """Whether a list stands for an earlier one as a whole.

    It does if it has most of that one's rooms. It also does if rooms of other names lie on those of
    that one, and its ground is about as large. It may be smaller if each comes with a revision of
    its own, and if it lies elsewhere too: a change of few rooms lies on those.
    """
    first, one = next(iter(last.values())), next(iter(rooms.values()))
    if one.pattern != first.pattern:
        return False
    if 2 * len(rooms.keys() & last.keys()) > len(rooms):
        return True
    below = shapely.union_all([room.polygon for room in rooms.values()])
    above = shapely.union_all([room.polygon for room in last.values()])
    told = _revision(last), _revision(rooms)
    revised = None not in told and told[0] != told[1]
    other = revised and above.difference(below).area > _OTHER_GROUND * above.area
    if above.area < (_REVISED_GROUND if other else _WHOLE_GROUND) * below.area:
        return False
    return any(
        shape.overlaps(other.polygon)
        for name, shape in last.items()
        if shape.polygon is not None and shape.polygon.intersects(below)
        for own, other in rooms.items()
        if own != name
    )


def _revision(rooms: Mapping[str, Shape]) -> str | None:
    """The revision or the day and time that is said once for a whole list, or None."""
    every = [{c.source: c for c in room.found.clues} for room in rooms.values()]
    for source, clue in every[0].items():
        said = tells_revision(clue.key) or is_stamp(clue.text)
        if said and all(source in clues for clues in every):
            return clue.text
    return None


def _both_stay(one: Shape, other: Shape) -> bool:
    """Two rooms of one name in one list are two rooms, unless they share their ground."""
    if one.found.moment != other.found.moment:
        return False
    return not one.overlaps(other.polygon)


def _out_of_date(rooms: Sequence[Shape]) -> set[int]:
    """The places of rooms on whose ground newer ones of other lists lie.

    Of very many newer ones on a room the newest are looked at, and those that came next.
    """
    polygons = np.array([room.polygon for room in rooms], dtype=object)
    orders = np.array([room.order for room in rooms])
    codes: dict[tuple[int, int], int] = {}
    lists = np.array([codes.setdefault(room.found.moment, len(codes)) for room in rooms])
    tree = shapely.STRtree(polygons)
    return {
        at
        for at in range(len(rooms))
        if _is_covered(at, tree.query(polygons[at]), polygons, orders, lists)
    }


def _is_covered(
    at: int,
    near: NDArray[np.int64],
    polygons: NDArray[np.object_],
    orders: NDArray[np.int64],
    lists: NDArray[np.int64],
) -> bool:
    """Whether newer outlines of other lists cover most of one; `near`: which may, by box."""
    newer = near[(orders[near] > orders[at]) & (lists[near] != lists[at])]
    newer = newer[np.argsort(-orders[newer])]
    if len(newer) > _MOST_NEWER:
        newer = np.concatenate((newer[: _MOST_NEWER // 2], newer[-_MOST_NEWER // 2 :]))
    covered = shapely.area(polygons[at]) * SAME_GROUND
    for end in range(_NEWER_AT_ONCE, len(newer) + _NEWER_AT_ONCE, _NEWER_AT_ONCE):
        ground = shapely.union_all(polygons[newer[:end]])
        if shapely.area(shapely.intersection(polygons[at], ground)) > covered:
            return True
    return False
