"""The tree of a text -> every sequence of points in it, with all that stands beside it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from regmap.inputs.capture_clues import Clue, Trail, clues_of, moment_of
from regmap.inputs.capture_groups import Group, Item, Value, number_of, text_of, unwrap
from regmap.inputs.capture_numbers import Numbers, Points, as_number
from regmap.inputs.capture_words import axis, id_rank, name_rank, stem

__all__ = ["Found", "Point", "find"]

FEWEST = 3
"""Points below which nothing is an area."""

_PAIR = re.compile(r"\s*[\[(]?\s*([-+.\deE]+)\s*[,; ]\s*([-+.\deE]+)\s*[\])]?\s*\Z")
_NONE = np.empty((0, 2))


@dataclass(slots=True)
class Found:
    """A sequence of points.

    Attributes:
        points: (N, 2); `holes`: rings inside.
        path: the keys that lead to it.
        clues: nearest first.
        offset: where it begins; `moment`: the group that lists it together with others.
        cut: the text ended within it.
    """

    points: Points
    path: tuple[str, ...]
    clues: list[Clue]
    offset: int
    moment: int
    cut: bool = False
    holes: list[Points] = field(default_factory=list)


@dataclass(slots=True)
class Point:
    """One point with what else was said about it."""

    x: float
    y: float
    more: list[tuple[str, str]]


@dataclass(slots=True)
class _Run:
    key: str | None
    index: int
    end: int
    points: Points
    offset: int
    label: tuple[str, str] | None = None


def find(root: Group) -> list[Found]:
    """Return every sequence of at least three points below a group, in the order of the text."""
    finder = _Finder()
    finder.visit(root, [], ())
    return finder.finished()


def point_of(value: Value) -> Point | None:
    """Return a value as one point, or None."""
    value = unwrap(value)
    if isinstance(value, Numbers):
        return _from_numbers(value, [])
    if isinstance(value, str):
        return _from_text(value)
    if not isinstance(value, Group) or not 1 <= len(value.items) <= 16 or value.cut:
        return None
    if len(value.items) == 1:
        inner = value.items[0][1]
        return point_of(inner) if not isinstance(inner, str) else None
    return _from_keys(value.items) or _from_list(value.items)


def _from_numbers(numbers: Numbers, more: list[tuple[str, str]]) -> Point | None:
    if numbers.bracketed or len(numbers.text) > 120:
        return None
    values = numbers.values()
    return Point(values[0], values[1], more) if 2 <= len(values) <= 3 else None


def _from_text(text: str) -> Point | None:
    pair = _PAIR.match(text) if len(text) < 80 else None
    if pair is None:
        return None
    x, y = as_number(pair[1]), as_number(pair[2])
    return None if x is None or y is None else Point(x, y, [])


def _from_keys(items: list[Item]) -> Point | None:
    found: dict[str, float] = {}
    more = []
    for key, value in items:
        which = axis(key) if key is not None else None
        number = number_of(value) if which is not None else None
        if which is not None and number is not None and which not in found:
            found[which] = number
        elif (text := text_of(value)) is not None:
            more.append((key or "", text))
        elif isinstance(value, Group) and any(isinstance(v, Group) for _, v in value.items):
            return None
    return Point(found["x"], found["y"], more) if len(found) == 2 else None


def _from_list(items: list[Item]) -> Point | None:
    if any(key is not None for key, _ in items):
        return None
    numbers: list[float] = []
    words: list[str] = []
    for _, value in items:
        value = unwrap(value)
        if isinstance(value, Numbers):
            if value.bracketed or len(value.text) > 120:
                return None
            numbers += value.values()
        elif (number := number_of(value)) is not None:
            numbers.append(number)
        elif (text := text_of(value)) is not None:
            words.append(text)
        else:
            return None
    if len(numbers) == 2 or (len(numbers) == 3 and not words):
        return Point(numbers[0], numbers[1], [("", " ".join(words))] if words else [])
    return None


class _Finder:
    def __init__(self) -> None:
        self.found: list[tuple[Found, Trail, _Run]] = []
        self.holding: set[int] = set()

    def visit(self, group: Group, trail: Trail, path: tuple[str, ...]) -> None:
        runs, rest = _runs(group)
        first = len(self.found)
        for run in runs:
            own = path if run.key is None else (*path, run.key)
            cut = group.cut and run.index == len(group.items) - 1
            way = [*trail, (group, run.index)]
            self.holding.update(above.serial for above, _ in way)
            found = Found(run.points, own, [], run.offset, moment_of(way), cut)
            self.found.append((found, way, run))
        if len(runs) > 1 and all(run.key is None and run.label is None for run in runs):
            self._holes(first)
        for index, (key, value) in rest:
            inner = path if key is None else (*path, key)
            self.visit(value, [*trail, (group, index)], inner)

    def finished(self) -> list[Found]:
        for number, (found, trail, run) in enumerate(self.found):
            if run.label is not None:
                source = (trail[-1][0].serial, -1 - number)
                found.clues.append(Clue(*run.label, False, 0, 0, source))
            found.clues += clues_of(trail, range(run.index, run.end), self.holding)
        return [found for found, _, _ in self.found]

    def _holes(self, first: int) -> None:
        """Rings in one list of which the first encloses all others are one outline."""
        outer, *others = (found for found, _, _ in self.found[first:])
        low, high = outer.points.min(axis=0), outer.points.max(axis=0)
        for ring in others:
            if (ring.points.min(axis=0) <= low).any() or (ring.points.max(axis=0) >= high).any():
                return
        outer.holes = [ring.points for ring in others]
        del self.found[first + 1 :]


def _runs(group: Group) -> tuple[list[_Run], list[tuple[int, tuple[str | None, Group]]]]:
    """Return the point sequences right in a group, and the groups to look into next."""
    runs: list[_Run] = []
    rest: list[tuple[int, tuple[str | None, Group]]] = []
    items = group.items
    parallel = _parallel_axes(group)
    if parallel is not None:
        return [parallel], []
    at = 0
    while at < len(items):
        key, value = items[at]
        inner = unwrap(value)
        if isinstance(inner, Numbers) and (sequences := inner.sequences()):
            runs += [_Run(key, at, at + 1, points, inner.offset) for points in sequences]
            at += 1
            continue
        points: list[Point] = []
        end = at
        while end < len(items) and stem(items[end][0]) == stem(key):
            point = point_of(items[end][1])
            if point is None:
                break
            points.append(point)
            end += 1
        if points:
            if len(points) >= FEWEST:
                name = key if end == at + 1 or key == items[at + 1][0] else stem(key) or None
                runs += _labelled(points, _Run(name, at, end, _NONE, _offset(value, group)))
            at = end
            continue
        numbers = _flat(items, at)
        if len(numbers) >= 2 * FEWEST:
            if len(numbers) % 2 == 0:
                array = np.array(numbers).reshape(-1, 2)
                runs.append(_Run(None, at, at + len(numbers), array, group.offset))
            at += len(numbers)
            continue
        if isinstance(inner, Group):
            rest.append((at, (key, inner)))
        at += 1
    return runs, rest


def _offset(value: Value, group: Group) -> int:
    return value.offset if isinstance(value, Group | Numbers) else group.offset


def _flat(items: list[Item], at: int) -> list[float]:
    numbers: list[float] = []
    while at < len(items) and items[at][0] is None:
        number = number_of(items[at][1])
        if number is None:
            break
        numbers.append(number)
        at += 1
    return numbers


def _parallel_axes(group: Group) -> _Run | None:
    """A list of all x beside a list of all y."""
    found: dict[str, list[float]] = {}
    index = 0
    for at, (key, value) in enumerate(group.items):
        which = axis(key.rstrip("s")) if key is not None else None
        if which is None:
            continue
        value = unwrap(value)
        if isinstance(value, Group) and len(value.items) >= 1 and value.kind in "[({":
            inner = unwrap(value.items[0][1])
            if len(value.items) == 1 and isinstance(inner, Numbers) and not inner.bracketed:
                found[which], index = inner.values(), at
            else:
                found[which], index = _flat(value.items, 0), at
        elif isinstance(value, Numbers) and not value.bracketed:
            found[which], index = value.values(), at
    if len(found) == 2 and len(found["x"]) == len(found["y"]) >= FEWEST:
        array = np.column_stack([found["x"], found["y"]])
        return _Run(None, index, len(group.items), array, group.offset)
    return None


def _labelled(points: list[Point], run: _Run) -> list[_Run]:
    """Part a run of points by what is said beside each of them, if that parts it into outlines."""
    columns: defaultdict[str, list[str]] = defaultdict(list)
    for point in points:
        for name, text in dict(point.more).items():
            columns[name].append(text)
    best: tuple[int, str] | None = None
    for name, texts in columns.items():
        if len(texts) < len(points):
            continue
        rank = name_rank(name)
        rank = rank if rank is not None else 100 if name == "" else None
        rank = rank if rank is not None else 200 if id_rank(name) is not None else 300
        counts = [texts.count(text) for text in set(texts)]
        if min(counts) < FEWEST:
            if rank < 100:
                return []  # named places, a point each
            continue
        if best is None or (rank, name) < best:
            best = rank, name
    if best is None:
        array = np.array([(point.x, point.y) for point in points])
        return [replace(run, points=array)]
    name = best[1]
    texts = columns[name]
    return [
        replace(
            run,
            points=np.array([(points[i].x, points[i].y) for i in chosen]),
            label=(name, text),
        )
        for text, chosen in _parts(texts)
    ]


def _parts(texts: list[str]) -> Iterable[tuple[str, list[int]]]:
    """Yield (text, indices): stretches of one text, or all of its places if it comes and goes."""
    stretches: list[tuple[str, list[int]]] = []
    for i, text in enumerate(texts):
        if stretches and stretches[-1][0] == text:
            stretches[-1][1].append(i)
        else:
            stretches.append((text, [i]))
    if min(len(chosen) for _, chosen in stretches) >= FEWEST:
        return stretches
    together: dict[str, list[int]] = {}
    for i, text in enumerate(texts):
        together.setdefault(text, []).append(i)
    return together.items()
