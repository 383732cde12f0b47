"""More than one floor in a text: outlines that lie on each other and are no newer shapes."""

from __future__ import annotations

import itertools
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import shapely

from regmap.inputs.captures.clues import Clue
from regmap.inputs.captures.ground import SAME_GROUND
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.speakers import SPEAKER
from regmap.inputs.captures.words import (
    LOG_LEVELS,
    STOREYS,
    is_storey,
    tells_revision,
    without_level,
    words_of,
)

__all__ = ["Floors", "floors_of", "head_floors", "labels"]

_MAPS = frozenset(("map", "plan"))
_ROBOTS = frozenset(("robot", "robots", "bot", "rover", "device", "dev", "serial"))
_FLOOR_WORDS = STOREYS | _MAPS
_BESIDE_A_FLOOR = frozenset(("name", "label", "title", "id", "no", "nr", "number", "index"))
_SHARED_GROUND = 0.3
_SHARED_NAMES = 0.5
_MOVED = 0.04
"""A room whose middle lies further off, in parts of its width, lies elsewhere."""


_ON, _BESIDE, _OWN, _TOLD, _EITHER = (
    "lie on each other",
    "stand in one text",
    "are of a robot each, which has a frame of its own",
    "come from a source each (host, address, topic), which may have a frame of its own",
    "are of the same rooms at other places, and nothing says which of them hold",
)


@dataclass(frozen=True, slots=True)
class Floors:
    """What tells the floors of a text apart, nothing if it holds one; `why` they are no one."""

    labels: Sequence[str] = ()
    why: str = ""


def head_floors(shapes: Sequence[Shape]) -> None:
    """Say of each outline below a line that names a floor, and nothing else, of which it is.

    The line heads all that follow, up to the next such line.
    """
    heads: list[str | None] = []
    for shape in shapes:
        above = [c for c in shape.found.clues if c.key == "" and c.place < 0 and not c.number]
        own = [c.text for c in above if is_storey(c.text)]
        heads.append(own[0] if own else heads[-1] if heads else None)
    if len({*heads} - {None}) < 2:
        return
    for shape, head in zip(shapes, heads, strict=True):
        if head is not None:
            shape.found.clues.append(Clue("floor", 0, head, False, True, 1, 1))


def floors_of(shapes: Sequence[Shape]) -> Floors:
    """Return what tells the floors apart if there are several, else nothing.

    Two sets of outlines are two floors if they are labelled differently as a whole, lie on the same
    ground, and have few rooms in common: such as have one name, and do not lie apart or across each
    other where either set has rooms of its own (there is a hall upstairs, too). Without a label, or
    with the same rooms, the later set is taken for a newer state of the earlier one, unless both
    stand under keys of their own in one record, some elsewhere: nothing says which holds.
    Where the labels are those of storeys, sets of other rooms are two floors wherever they lie.
    What several robots tell is never one floor.
    """
    robots, why = _robots(shapes)
    if robots:
        return Floors(robots, why)
    for at, (sure, labels) in enumerate(_labellings(shapes)):
        sets: defaultdict[str, list[Shape]] = defaultdict(list)
        for shape, label in zip(shapes, labels, strict=True):
            if label is not None:
                sets[label].append(shape)
        several = list(sets.values())
        if len(sets) < 2:
            continue
        if at == 0 and _contradict(several):
            return Floors(list(sets), _EITHER)
        if _lie_on_each_other(several):
            return Floors(list(sets), _ON)
        if sure and not any(_share_rooms(*two) for two in itertools.pairwise(several)):
            return Floors(list(sets), _BESIDE)
    return Floors()


def _robots(shapes: Sequence[Shape]) -> tuple[Sequence[str], str]:
    """Which robots tell outlines, several each, if there are two or more; else nothing.

    And why they are no one.
    """
    told: defaultdict[str, dict[int, str]] = defaultdict(dict)
    for number, shape in enumerate(shapes):
        for clue in shape.found.clues:
            if _tells_robot(clue.key):
                told[clue.key].setdefault(number, clue.text)
    for key, texts in told.items():
        counted = Counter(texts.values())
        if len(texts) < len(shapes) or len(counted) < 2:
            continue
        if key != SPEAKER and min(counted.values()) > 1:
            return list(counted), _OWN
        sets = [[s for n, s in enumerate(shapes) if texts[n] == text] for text in counted]
        if key == SPEAKER and max(counted.values()) > 1 and not _tell_the_same(sets):
            return list(counted), _TOLD
    return (), ""


def _tell_the_same(sets: Sequence[Sequence[Shape]]) -> bool:
    """Whether sets are of the same rooms at the same places, as one robot tells them twice."""
    for one, other in itertools.pairwise(sets):
        rooms = {shape.name: shape for shape in one}
        common = [shape for shape in other if shape.name in rooms]
        alike = all(_stays(shape, rooms[shape.name]) for shape in common)
        if not alike or len(common) < _SHARED_NAMES * min(len(rooms), len({s.name for s in other})):
            return False
    return True


def _contradict(sets: Sequence[Sequence[Shape]]) -> bool:
    """Whether sets of one record have the same rooms, some of them elsewhere in each."""
    if len({shape.found.record for shapes in sets for shape in shapes}) > 1:
        return False
    for one, other in itertools.pairwise(sets):
        if max(shape.order for shape in one) > min(shape.order for shape in other):
            continue  # fields of every room
        rooms = {shape.name: shape for shape in one}
        common = [shape for shape in other if shape.name in rooms]
        if not all(_stays(shape, rooms[shape.name]) for shape in common):
            return True
    return False


def _stays(one: Shape, other: Shape) -> bool:
    """Whether two outlines of one room lie at one place, though one may be drawn wider or finer."""
    if one.polygon is None or other.polygon is None or not one.matches(other):
        return False
    moved = one.polygon.centroid.distance(other.polygon.centroid)
    return bool(moved < _MOVED * max(one.polygon.area, other.polygon.area) ** 0.5)


def _labellings(shapes: Sequence[Shape]) -> list[tuple[bool, list[str | None]]]:
    """What may label each outline's floor, what wraps whole lists first; and whether it does so."""
    columns: defaultdict[tuple[str, int, int], dict[int, str]] = defaultdict(dict)
    for number, shape in enumerate(shapes):
        for clue in shape.found.clues:
            if labels(clue):
                columns[clue.key, clue.far, clue.outside].setdefault(number, clue.text)
    found: list[tuple[bool, list[str | None]]] = []
    for (key, _, outside), texts in columns.items():
        column = [texts.get(n) for n in range(len(shapes))]
        found.append((_are_storeys(key, texts.values(), outside=outside > 0), column))
    wrappers = [s.wrapper if s.wrapper is None else without_level(s.wrapper) for s in shapes]
    above = {s.found.path[at - 1] for s in shapes for at in _places(s) if at}
    key = min(above) if len(above) == 1 else ""
    told = [wrapper for wrapper in wrappers if wrapper is not None]
    return [(_are_storeys(key, told, outside=True), wrappers), *found]


def _places(shape: Shape) -> list[int]:
    """Where what wraps an outline's list stands in its path."""
    return [at for at, key in enumerate(shape.pattern) if key == "**"]


def _are_storeys(key: str, texts: Collection[str], *, outside: bool) -> bool:
    """Whether labels say which storey each is, by the key before them or by themselves."""
    if texts and all(map(is_storey, texts)):
        return True
    words = set(words_of(key))
    if texts and all(not _ROBOTS.isdisjoint(words_of(text)) for text in texts):
        return True  # each robot has a frame of its own
    numbered = len(texts) > 0 and all(map(str.isdigit, texts))
    if words & _MAPS and not words - _MAPS - _BESIDE_A_FLOOR:
        # So has each map; plan(1).rim is a room each.
        return numbered and min(Counter(texts).values()) > 1
    if not words & STOREYS or words - STOREYS - _BESIDE_A_FLOOR:
        return False
    if outside:
        return True
    # A level may be that of a fan, and a floor be of tiles.
    return "level" not in words and numbered


def _tells_robot(key: str) -> bool:
    """Whether a key says which robot tells what it stands beside: each has a frame of its own."""
    words = set(words_of(key))
    if key == SPEAKER:
        return True
    return not _ROBOTS.isdisjoint(words) and words <= _ROBOTS | _BESIDE_A_FLOOR


def labels(clue: Clue) -> bool:
    """Whether a clue says which floor a whole list of outlines is of."""
    words = words_of(clue.key)
    if _tells_robot(clue.key):
        return True
    if _FLOOR_WORDS & set(words) and words[-1] != "time" and not tells_revision(clue.key):
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
