"""Which outlines of a text are of one kind: their paths, with what varies left open."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import TypeAlias

from regmap.inputs.captures.ground import comparable, lie_apart, lies_beside
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.words import BEHIND, is_count, is_plumbing, votes

__all__ = ["mark_patterns"]

_NUMBER = re.compile(r"[\W_]*\d+")

_COUNT = re.compile(r"(?<= )\d+(?= )")

_SAME_AREA = 1.05
"""A room that was mapped anew is at most so much larger."""

_Values: TypeAlias = defaultdict[tuple[str, ...], set[str]]


def mark_patterns(shapes: Sequence[Shape]) -> None:
    """Put "*" into each path where outlines of one kind differ: there stands a name.

    No name stands in a path under which outlines lie apart. Where paths still differ then, "**"
    stands for what wraps whole lists, such as a floor's name.
    """
    for shape in shapes:
        shape.found.path = tuple(map(_uncounted, shape.found.path))
    counts = _counts({shape.found.path for shape in shapes})
    of_path: defaultdict[tuple[str, ...], list[Shape]] = defaultdict(list)
    for shape in shapes:
        shape.found.path = counts.get(shape.found.path, shape.found.path)
        of_path[shape.found.path].append(shape)
    single = {path for path, group in of_path.items() if not lie_apart(group)}
    single |= _told_again(of_path)
    values = _variants(single)
    for path, at in _names_beside(single, values, of_path):
        values[_starred(path, at)].add(path[at])
    for shape in shapes:
        _mark_own(shape, values if shape.found.path in single else None)
    _mark_wrappers(shapes)
    own_keys: defaultdict[tuple[str, ...], set[str | None]] = defaultdict(set)
    for shape in shapes:
        own_keys[shape.pattern].add(shape.own_key)
    for shape in shapes:
        keys = own_keys[shape.pattern]
        shape.sure = shape.own_key is not None and len(keys) > 1
        told = {_NUMBER.sub("", key or "") for key in keys}
        shape.told = len(told) > 1 and 3 * len(told) > len(keys)


def _told_again(of_path: Mapping[tuple[str, ...], Sequence[Shape]]) -> set[tuple[str, ...]]:
    """Paths that each lead to one area again and again, in other records and at other places.

    The robot has mapped anew, in another frame. Areas that are a field of several rooms differ.
    """
    again: dict[tuple[str, ...], float] = {}
    for path, shapes in of_path.items():
        areas = [shape.polygon.area for shape in shapes if shape.polygon is not None]
        records = {shape.found.record for shape in shapes}
        if len(records) == len(areas) > 1 and max(areas) <= _SAME_AREA * min(areas):
            again[path] = areas[0]
    varied = len(again) > 2 and max(again.values()) > _SAME_AREA * min(again.values())
    return set(again) if varied else set()


@lru_cache(maxsize=4096)
def _uncounted(key: str) -> str:
    """A key without a number that counts corners among words that name nothing: `has 4 corners`."""
    number = _COUNT.search(key)
    if number is None or not is_count(key[number.start() :]):
        return key
    before = key[: number.start()].split()
    return key[: number.start()] + key[number.end() + 1 :] if BEHIND.issuperset(before) else key


def _counts(paths: set[tuple[str, ...]]) -> dict[tuple[str, ...], tuple[str, ...]]:
    """Paths that end in numbers which tell none of them apart, each without: hall[4], bath[6]."""
    numbered = {path for path in paths if len(path) > 1 and path[-1].isdigit()}
    shorter = {path: path[:-1] for path in numbered}
    if len(numbered) < 2 or len(set(shorter.values())) < len(numbered):
        return {}
    more = _counts(set(shorter.values()))
    return {path: more.get(short, short) for path, short in shorter.items()}


def _mark_own(shape: Shape, values: _Values | None) -> None:
    """Mark the key in a path that may be the outline's name. `values`: None if none can be."""
    path = shape.found.path
    shape.pattern, shape.tail = path, path[-1] if path else ""
    if values is None:
        return
    own = [at for at in range(len(path)) if _may_name(path, at, values)]
    if not own:
        return
    # Of two that differ as often the inner one: {ground: {hall, bath}, upper: {hall, loft}}.
    best = max(reversed(own), key=lambda at: len(values[_starred(path, at)]))
    if len(values[_starred(path, best)]) > 1:
        shape.tail = next((key for key in reversed(_starred(path, best)) if key != "*"), "")
    else:
        best = own[-1]
        if any(votes(key)[0] for key in path[best + 1 :]):
            return  # it wraps rooms
    shape.own_key, shape.own_place = path[best], best - len(path)
    shape.pattern = _starred(path, best)


def _may_name(path: tuple[str, ...], at: int, values: _Values) -> bool:
    """Whether a key is a name: by its words, or since it stands among names (Hall, Bath, Entry)."""
    if not is_plumbing(path[at]):
        return True
    among = values.get(_starred(path, at), ())
    return len(among) > 1 and (path[at] in among or not any(votes(path[at])))


def _names_beside(
    paths: Iterable[tuple[str, ...]],
    values: _Values,
    of_path: Mapping[tuple[str, ...], Sequence[Shape]],
) -> list[tuple[tuple[str, ...], int]]:
    """Keys for other things (Dock, Map Room) among names, where what they lead to lies like a room.

    They come as (path, place): what lies beside all that the names lead to is a room as well.
    """
    found = []
    for path in paths:
        for at, key in enumerate(path):
            among = values.get(_starred(path, at), ())
            if len(among) < 2 or not is_plumbing(key) or not any(votes(key)):
                continue
            rooms = [of_path[_starred(path, at, name)][-1] for name in among]
            if all(lies_beside(shape, rooms) for shape in of_path[path]):
                found.append((path, at))
    return found


def _mark_wrappers(shapes: Sequence[Shape]) -> None:
    """Mark the keys that wrap whole lists of one kind: lists of the same size, not side by side."""
    families: defaultdict[tuple[str, ...], list[Shape]] = defaultdict(list)
    for shape in shapes:
        families[shape.pattern].append(shape)
    values = _variants(families)
    for pattern, family in list(families.items()):
        for at, key in enumerate(pattern):
            starred = _starred(pattern, at)
            others = [_starred(pattern, at, other) for other in values.get(starred, ())]
            if key != "*" and any(
                other != pattern and _of_one_kind(family, families[other]) for other in others
            ):
                for shape in family:
                    shape.pattern, shape.wrapper = _starred(pattern, at, "**"), key
                break


def _of_one_kind(one: Sequence[Shape], other: Sequence[Shape]) -> bool:
    """Whether two lists can be of two floors, say, and are not two fields of the same things."""
    beside = {shape.found.parent for shape in one} & {shape.found.parent for shape in other}
    return len(beside) < 2 and comparable(one, other)


def _starred(path: tuple[str, ...], at: int, star: str = "*") -> tuple[str, ...]:
    return (*path[:at], star, *path[at + 1 :])


def _variants(paths: Iterable[tuple[str, ...]]) -> _Values:
    """Which words come at each place of otherwise equal paths, those that name nothing left out."""
    values: _Values = defaultdict(set)
    for path in set(paths):
        for at, key in enumerate(path):
            if key != "*" and not is_plumbing(key):
                values[_starred(path, at)].add(key)
    return values
