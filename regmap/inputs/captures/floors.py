"""More than one floor in a text: outlines that lie on each other and are no newer shapes."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Sequence

import shapely

from regmap.inputs.captures.clues import Clue
from regmap.inputs.captures.ground import SAME_GROUND
from regmap.inputs.captures.names import Shape
from regmap.inputs.captures.words import LOG_LEVELS, without_level, words_of

__all__ = ["floors_of", "labels"]

_FLOOR_WORDS = frozenset(
    ("map", "floor", "level", "storey", "story", "plan", "etage", "stockwerk", "geschoss", "ebene")
)
_SHARED_GROUND = 0.3
_SHARED_NAMES = 0.5


def floors_of(shapes: Sequence[Shape]) -> list[str]:
    """Return what tells the floors apart if there are several, else nothing.

    Two sets of outlines are two floors if they are labelled differently as a whole, lie on the same
    ground, and have few rooms in common: such as have one name, and do not lie apart or across each
    other where either set has rooms of its own (there is a hall upstairs, too). Without a label, or
    with the same rooms, the later set is taken for a newer state of the earlier one.
    """
    for labels in _labellings(shapes):
        sets: defaultdict[str, list[Shape]] = defaultdict(list)
        for shape, label in zip(shapes, labels, strict=True):
            if label is not None:
                sets[label].append(shape)
        if len(sets) > 1 and _lie_on_each_other(list(sets.values())):
            return list(sets)
    return []


def _labellings(shapes: Sequence[Shape]) -> list[list[str | None]]:
    columns: defaultdict[tuple[str, int, int], dict[int, str]] = defaultdict(dict)
    for number, shape in enumerate(shapes):
        for clue in shape.found.clues:
            if labels(clue):
                columns[clue.key, clue.far, clue.outside].setdefault(number, clue.text)
    found = [[texts.get(n) for n in range(len(shapes))] for texts in columns.values()]
    wrappers = [s.wrapper if s.wrapper is None else without_level(s.wrapper) for s in shapes]
    return [wrappers, *found]


def labels(clue: Clue) -> bool:
    """Whether a clue says which floor a whole list of outlines is of."""
    words = words_of(clue.key)
    if _FLOOR_WORDS & set(words) and words[-1] not in ("version", "revision", "time"):
        return clue.far > 0 or clue.text.casefold() not in LOG_LEVELS
    return (
        clue.outside > 0 and words[-1:] in (("name",), ("label",), ("title",)) and not clue.number
    )


def _lie_on_each_other(sets: Sequence[Sequence[Shape]]) -> bool:
    """Whether two sets, one after the other, cannot both stay, and are not of the same rooms."""
    for one, other in itertools.pairwise(sets):
        if _share_rooms(one, other):
            continue
        if {s.name for s in one} & {s.name for s in other}:
            return True
        rooms = [s.polygon for s in one if s.polygon is not None]
        ground = shapely.union_all(rooms)
        above = shapely.union_all([s.polygon for s in other if s.polygon is not None])
        common = ground.intersection(above).area
        if common > _SHARED_GROUND * min(ground.area, above.area):
            return True
        if any(room.intersection(above).area > SAME_GROUND * room.area for room in rooms):
            return True  # a room would be lost
    return False


def _share_rooms(one: Sequence[Shape], other: Sequence[Shape]) -> bool:
    """Whether two sets of outlines are of the same rooms, at another time maybe.

    A floor whose frame has changed lies elsewhere, but loses no room, or few.
    """
    rooms, others = {s.name: s for s in one}, {s.name: s for s in other}
    common = rooms.keys() & others.keys()
    if len(common) < _SHARED_NAMES * min(len(rooms), len(others)):
        return False
    if rooms.keys() == others.keys():
        return True
    same = sum(rooms[name].matches(others[name]) for name in common)
    return same >= _SHARED_NAMES * len(common)
