"""Records of other kinds between the points of an outline: what a log says in between."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import Polygon

from regmap.inputs.captures.corner import Point, point_of
from regmap.inputs.captures.groups import Group, Item, Value, unwrap
from regmap.inputs.captures.numerals import Numbers, Points, as_number
from regmap.inputs.captures.words import axis, is_kind, is_measure, is_pose, name_rank, stem

__all__ = ["interrupted", "is_named_outline", "is_passing", "is_strange", "resumed"]

_STRANGERS = 8
"""An outline goes on behind so many records of other kinds."""

_LIST = 6
"""So many numbers without keys may be points."""

_MOST_ITEMS = 16
_FEWEST = 3
_MOST_LINES = 5000
"""An outline does not go over more lines."""


def interrupted(group: Group) -> Points:
    """The points of a block of one outline in which other things are said between them: (N, 2).

    It begins and ends with points, so what comes in between names none of several outlines, and
    all points together cross nowhere; else N is 0.
    """
    nothing = np.empty((0, 2))
    items = group.items
    if group.kind != "block" or not _FEWEST < len(items) <= _MOST_LINES:
        return nothing
    if not _bare(items[:1]) or not _bare(items[-1:]):
        return nothing
    points: list[tuple[float, ...]] = []
    strangers = 0
    for item in items:
        point = _bare([item])
        strangers = 0 if point else strangers + 1
        points += point
        if strangers > _STRANGERS or (strangers and _holds_numbers(item[1])):
            return nothing
    if len(points) == len(items) or len(points) < _FEWEST or not Polygon(points).is_valid:
        return nothing
    return np.array(points)


def _bare(items: Sequence[Item]) -> list[tuple[float, ...]]:
    """The point that one item is, without a key and without anything said of it."""
    for key, value in items:
        point = point_of(value) if key is None else None
        if point is not None and len(point.values) == 2 and not point.more and not point.keys:
            return [point.values]
    return []


def _holds_numbers(value: Value) -> bool:
    """Whether a value holds two numbers or more, which may be a point with a remark."""
    value = unwrap(value)
    if isinstance(value, Numbers):
        return True
    items = value.items if isinstance(value, Group) else []
    inner = [unwrap(below) for _, below in items]
    many = sum(isinstance(below, float) for below in inner) > 1 or len(items) > _MOST_ITEMS
    return many or any(_holds_numbers(v) for v in inner if isinstance(v, Group | Numbers))


def is_strange(one: Point, last: Point) -> bool:
    """Whether a point is of another kind than the one before it: odom x=1 y=2 t=3.

    It is if both are labelled, and by no key alike, or only one of them is measured (theta=3), or
    if other words stand before it and other keys in it.
    """
    keys, own = ({stem(key) for key, _ in point.more if key} for point in (last, one))
    if keys and one.more and keys.isdisjoint(own):
        return True
    words, others = ({text for key, text in point.more if not key} for point in (last, one))
    if words and others and words.isdisjoint(others) and keys != own:
        return True
    return any(map(is_measure, keys)) != any(map(is_measure, own))


def is_passing(one: Point, last: Point) -> bool:
    """Whether a point is said to be where something was, between others that are not."""
    words, others = ({text for key, text in point.more if not key} for point in (last, one))
    return any(map(is_pose, others)) and not any(map(is_pose, words))


def resumed(items: Sequence[Item], at: int, last: Point) -> int:
    """Where an outline goes on behind records of other kinds, if it does; else 0.

    It does where a record says as much, of the same thing by a key, as the last one did.
    """
    told = {
        (key, text)
        for key, text in last.more
        if key and text and not is_kind(key) and as_number(text) is None
    }
    if not told:
        return 0
    keys = [key for key, _ in last.more]
    for place in range(at, min(at + _STRANGERS + 1, len(items))):
        one = point_of(items[place][1])
        if one is not None and [key for key, _ in one.more] == keys:
            return place if place > at and told & set(one.more) else 0
        if _may_hold_points(items[place][1]):
            return 0
    return 0


def is_named_outline(value: Value) -> bool:
    """Whether a record has a name of its own and numbers that may be an outline."""
    inner = unwrap(value)
    fields = inner.items[:_MOST_ITEMS] if isinstance(inner, Group) else []
    named = any(key is not None and name_rank(key) is not None for key, _ in fields)
    return named and any(_may_hold_points(below) for _, below in fields)


def _may_hold_points(value: Value, depth: int = 0) -> bool:
    """Whether a value holds so many numbers in a row that they may be an outline."""
    value = unwrap(value)
    if not isinstance(value, Group):
        return isinstance(value, Numbers) and len(value.values()) >= _LIST
    if depth > 2 or len(value.items) > _MOST_ITEMS:
        return True
    numbers = sum(isinstance(v, float) for key, v in value.items if key is None or axis(key))
    return numbers >= _LIST or any(_may_hold_points(v, depth + 1) for _, v in value.items)
