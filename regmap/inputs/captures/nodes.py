"""Outlines as lists of points that stand elsewhere: by their ids, or by their places in a list.

Nothing is replaced unless all of it fits: every list names known points, the lists together name
nearly all of them, and the outlines that come of it are sound and lie beside each other.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import shapely
from shapely import Polygon

from regmap.inputs.captures.corner import Point, point_of
from regmap.inputs.captures.groups import Group, Item, Value, Word, text_of, unwrap
from regmap.inputs.captures.numerals import LONGEST_RUN, Numbers, as_number
from regmap.inputs.captures.words import id_rank

__all__ = ["place_nodes"]

_FEWEST = 3
_USED = 0.9
"""The lists name at least this share of the points."""

_SOUND = 0.9
"""At least this share of the outlines encloses an area."""

_LAPPED = 0.02
"""No more than this share of the ground is covered twice."""

_MOST_LISTS = 20_000
_MOST_TABLES = 8
_MOST_KEYS = 4

Corner: TypeAlias = tuple[float, float]


@dataclass(slots=True)
class _Table:
    """Points that may be named: where they stand, {id: corner}."""

    group: Group
    span: Sequence[int]
    corners: Mapping[str, Corner]


@dataclass(slots=True)
class _List:
    """Ids in a row: where they stand."""

    group: Group
    span: range
    ids: Sequence[str]


@dataclass(slots=True)
class _Sought:
    tables: list[_Table] = field(default_factory=list)
    lists: list[_List] = field(default_factory=list)


def place_nodes(root: Group) -> None:
    """Put the points that lists name in the place of those lists, and take away the table."""
    sought = _Sought()
    for group in root.every():
        _look(group, sought)
    if not sought.lists:
        return
    tables = sorted(sought.tables, key=lambda table: -len(table.corners))
    for table in tables[:_MOST_TABLES]:
        named = _named(table, sought.lists)
        if named and _fit(table, named):
            _replace(table, named)
            return


def _look(group: Group, sought: _Sought) -> None:
    """Find tables of points and lists of ids right in a group."""
    items = group.items
    for at, (_, value) in enumerate(items):
        if isinstance(value, Numbers):
            _look_at_numbers(group, at, value, sought)
    at = 0
    for _, same in itertools.groupby(items, key=lambda item: item[0]):
        end = at + len(list(same))
        if end - at >= _FEWEST:
            _look_along(group, range(at, end), sought)
        at = end
    _look_at_lines(group, sought)
    keys = [key for key, _ in items if key is not None]
    if len(items) > _FEWEST and len(set(keys)) == len(items):
        points = [point_of(value) for _, value in items]
        corners = {k: c for k, p in zip(keys, points, strict=True) if (c := _corner(p))}
        if len(corners) == len(items):
            sought.tables.append(_Table(group, range(len(items)), corners))


def _look_at_lines(group: Group, sought: _Sought) -> None:
    """Find lines of one word and a point (v 1 2), whatever stands between them."""
    found: defaultdict[str, dict[int, Point]] = defaultdict(dict)
    for at, (key, line) in enumerate(group.items):
        if key is not None or not isinstance(line, Group) or len(line.items) != 2:
            continue
        (first, word), (second, numbers) = line.items
        if first is None and second is None and isinstance(word, Word):
            point = point_of(numbers) if isinstance(numbers, Numbers) else None
            if point is not None:
                found[str(word)][at] = point
    for points in found.values():
        sought.tables += _tables(group, list(points), list(points.values()))


def _look_at_numbers(group: Group, at: int, numbers: Numbers, sought: _Sought) -> None:
    if len(numbers.text) > LONGEST_RUN:
        return
    values = np.array(numbers.values())
    if numbers.bracketed:
        whole = [points for _, points in numbers.sequences()]
        if len(whole) == 1:
            corners = [(float(x), float(y)) for x, y in whole[0]]
            sought.tables += _by_place(group, range(at, at + 1), corners)
    elif len(values) >= _FEWEST and (values >= 0).all() and (values % 1 == 0).all():
        ids = [f"{value:.0f}" for value in values]
        sought.lists.append(_List(group, range(at, at + 1), ids))


def _look_along(group: Group, span: range, sought: _Sought) -> None:
    """Look at items of one key or none: a point each, with its id or without, or an id each."""
    values = [group.items[at][1] for at in span]
    points = [point_of(value) for value in values]
    known = [point for point in points if point is not None]
    if len(known) == len(points):
        sought.tables += _tables(group, span, known)
        return
    ids = [_id(value) for value in values]
    if all(ids) and len(sought.lists) < _MOST_LISTS:
        sought.lists.append(_List(group, span, [one for one in ids if one]))


def _tables(group: Group, span: Sequence[int], points: Sequence[Point]) -> Iterator[_Table]:
    """Points by their ids, if each has one, or else by their places."""
    if not all(2 <= len(point.values) <= 3 for point in points):
        return
    corners = [(point.values[0], point.values[1]) for point in points]
    marks = _marks(points)
    if not any(marks) and all(len(point.values) == 3 for point in points):
        first, *_, last = (set(column) for column in zip(*(p.values for p in points), strict=True))
        if len(last) > 1 and all(value >= 0 and value.is_integer() for value in first):
            marks = [f"{point.values[0]:.15g}" for point in points]
            corners = [(point.values[1], point.values[2]) for point in points]
    table = {mark: corner for mark, corner in zip(marks, corners, strict=True) if mark}
    if len(table) == len(points):
        yield _Table(group, span, table)
    elif len(table) < 2:
        yield from _by_place(group, span, corners)


def _by_place(group: Group, span: Sequence[int], corners: Sequence[Corner]) -> Iterator[_Table]:
    """A list of points whose places are their ids, from 0 or from 1 on."""
    if len(corners) <= _FEWEST:
        return
    for first in (0, 1):
        yield _Table(group, span, {str(i): c for i, c in enumerate(corners, first)})


def _marks(points: Sequence[Point]) -> list[str | None]:
    """What identifies each point: the one thing said of all that differs, or what is an id."""
    keys = list(dict.fromkeys(key for point in points for key, _ in point.more))
    keys.sort(key=lambda key: id_rank(key) is None)
    for key in keys[:_MOST_KEYS]:
        marks = [dict(point.more).get(key) for point in points]
        if None not in marks and len(set(marks)) == len(marks):
            return marks
    return [None] * len(points)


def _corner(point: Point | None) -> Corner | None:
    return (point.values[0], point.values[1]) if point and len(point.values) == 2 else None


def _id(value: Value) -> str | None:
    """The id that a value is or holds alone: 7, "n7" or <nd ref="7"/>."""
    value = unwrap(value)
    if isinstance(value, Group) and len(value.items) == 1 and value.kind in ("<", "{"):
        value = unwrap(value.items[0][1])
    if isinstance(value, Numbers | Group):
        return None
    text = text_of(value)
    if text is None or (number := as_number(text)) is None:
        return text
    return f"{number:.15g}"


def _named(table: _Table, lists: Sequence[_List]) -> list[tuple[_List, list[Corner]]]:
    """The lists all of whose ids are points of a table."""
    found = []
    own = set(table.span)
    for one in lists:
        if one.group is table.group and one.span.start in own:
            continue
        if all(key in table.corners for key in one.ids):
            found.append((one, [table.corners[key] for key in one.ids]))
    return found


def _fit(table: _Table, named: Sequence[tuple[_List, list[Corner]]]) -> bool:
    """Whether the outlines that lists of ids make are those of a floor."""
    used = {key for one, _ in named for key in one.ids}
    if len(used) < _USED * len(table.corners):
        return False
    rings = [Polygon(corners) for _, corners in named]
    sound = [ring for ring in rings if ring.is_valid and ring.area > 0]
    if len(sound) < max(_SOUND * len(rings), 1):
        return False
    own = Polygon([*table.corners.values()])
    if len(sound) == 1 and own.is_valid and not own.equals(sound[0]):
        return False  # a part of one outline
    total = sum(ring.area for ring in sound)
    return bool(total - shapely.union_all(sound).area <= _LAPPED * total)


def _replace(table: _Table, named: Sequence[tuple[_List, list[Corner]]]) -> None:
    changes: list[tuple[Group, range, list[Item]]] = [
        (table.group, range(at, at + 1), []) for at in table.span
    ]
    for one, corners in named:
        text = " ".join(f"[{x!r} {y!r}]" for x, y in corners)
        first = one.group.items[one.span.start]
        numbers = Numbers(text, _offset(first, one.group), bracketed=True, wrapped=True)
        changes.append((one.group, one.span, [(first[0], numbers)]))
    changes.sort(key=lambda change: -change[1].start)  # places before a change stay
    for group, span, items in changes:
        group.items[span.start : span.stop] = items


def _offset(item: Item, group: Group) -> int:
    value = unwrap(item[1])
    return value.offset if isinstance(value, Group | Numbers) else group.offset
