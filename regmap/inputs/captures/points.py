"""The tree of a text -> every sequence of points in it, with all that stands beside it."""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regmap.inputs.captures.axes import (
    blocks_of_axes,
    columns_of,
    folded_points,
    listing,
    lists_beside,
    only,
    records_of,
    shared_key,
    twins,
)
from regmap.inputs.captures.corner import (
    Point,
    constructed,
    in_turn,
    on_ground,
    point_of,
    unlikely,
)
from regmap.inputs.captures.groups import Group, Item, Word, number_of, text_of, unwrap
from regmap.inputs.captures.numerals import Numbers, Points
from regmap.inputs.captures.parting import FEWEST, Run, array_of, labelled
from regmap.inputs.captures.pens import is_pen, strokes
from regmap.inputs.captures.strangers import interrupted, is_passing, is_strange, resumed
from regmap.inputs.captures.walls import named_wall, wall_of
from regmap.inputs.captures.words import NUMBERED_AXIS, axis, is_pose, stem

__all__ = ["FEWEST", "Run", "runs"]

_LETTER = re.compile(r"[^\W\d_]\d{0,3}'?")
_DIGIT = re.compile(r"\d")
_HEADINGS = frozenset(("th", "theta", "heading", "yaw", "hdg"))
_UNITS = frozenset(("mm", "cm", "m", "cells"))
_NONE = np.empty((0, 2))


def runs(group: Group) -> tuple[list[Run], list[tuple[int, str | None, Group]]]:
    """Return the point sequences right in a group, and the groups to look into next.

    The latter come as (index, key, group).
    """
    if corners := _lettered(group):
        return corners, []
    if records := records_of(group) or columns_of(group):
        return [], records
    whole = _folded(group) or _axes_apart(group) or _numbered_keys(group)
    if whole:
        return whole, []
    blocks, first = blocks_of_axes(group)
    if len(blocks) >= FEWEST:
        return [Run(None, first, len(group.items), blocks, group.offset)], []
    found: list[Run] = []
    rest: list[tuple[int, str | None, Group]] = []
    items = group.items
    at = passed = 0
    while at < len(items):
        key, value = items[at]
        inner = unwrap(value)
        words = isinstance(inner, str) and _DIGIT.search(inner) is None
        if not words and len(beside := lists_beside(items, at)) >= FEWEST:
            found.append(Run(shared_key(items, at), at, at + 2, beside, group.offset))
            at += 2
            continue
        if isinstance(inner, Numbers) and (sequences := inner.sequences()):
            found += [
                Run(key, at, at + 1, points, inner.offset, None if label is None else ("", label))
                for label, points in sequences
            ]
            at += 1
            continue
        drawn, end = _drawn(group, at)
        if drawn:
            found += drawn
            at = end
            continue
        run, end = _points_from(group, at) if at >= passed and not words else ([], at)
        passed = max(passed, -end)
        if end > at:
            found += run
            at = end
            continue
        points, end = _of_numbers(items, at)
        if end > at:
            found += [Run(None, at, end, points, group.offset)] if len(points) else []
            at = end
            continue
        if isinstance(inner, Group):
            rest.append((at, key, inner))
        at += 1
    return found, rest


def _folded(group: Group) -> list[Run]:
    """An outline that goes on from line to line of a block, whatever is said in between."""
    points = folded_points(group)
    points = points if len(points) else interrupted(group)
    return [Run(None, 0, len(group.items), points, group.offset)] if len(points) else []


def _drawn(group: Group, at: int) -> tuple[list[Run], int]:
    """What a pen draws that is told so from an item on, and where that ends."""
    rings, end = strokes(group.items, at)
    key = group.items[at][0]
    key = None if is_pen(key or "") else key
    offset = group.offset
    return [Run(key, at, end, np.array(ring), offset, closed=done) for ring, done in rings], end


def _points_from(group: Group, at: int) -> tuple[list[Run], int]:
    """Return the run of single points or walls that begins at an item, and where it ends.

    The end is negative if what comes up to there is other things, and no part of it is a run.
    """
    items = group.items
    key, value = items[at]
    kind = stem(key)
    points: list[Point] = []
    walls: list[tuple[Point, Point]] = []
    end = at
    while end < len(items):
        if points and (more := resumed(items, end, points[-1])):
            end = more
        if stem(items[end][0]) != kind:
            break
        two = None if points else named_wall(items[end][1])
        one = None if walls or two else point_of(items[end][1])
        if one is None and two is None and not points:
            two = wall_of(items[end][1])
        if one is not None and points and is_passing(one, points[-1]):
            end += 1
            continue
        if one is not None and points and is_strange(one, points[-1]):
            one = None
        if one is not None and (not points or one.keys == points[0].keys):
            points.append(one)
        elif two is not None:
            walls.append(two)
        else:
            break
        end += 1
    four = all(len(point.values) == 4 for point in points)
    if points and four and (_chained(points) or not on_ground(points)):
        walls = [(Point(p.values[:2], p.more), Point(p.values[2:])) for p in points]
        points = []
    if max(len(points), len(walls)) < FEWEST or (points and unlikely(points)):
        if max(len(points), len(walls)) >= FEWEST:
            return [], -end
        plain = all(len(point.values) <= 3 and not point.keys for point in points)
        return [], end if plain and not walls else at
    offset = value.offset if isinstance(value, Group | Numbers) else group.offset
    same = all(items[i][0] == key for i in range(at, end))
    name = key if same else (Word(kind) if isinstance(key, Word) else kind) or None
    run = Run(name, at, end, _NONE, offset, posed=_are_poses(points))
    run.said = _unit(points)
    return labelled(points, run) if points else _rings(walls, run), end


def _are_poses(points: Sequence[Point]) -> bool:
    """Whether each point comes with where something headed there, or behind a word for a pose."""
    return len(points) > 0 and all(
        any(key.casefold() in _HEADINGS or _is_pose(key, text, point) for key, text in point.more)
        for point in points
    )


def _unit(points: Sequence[Point]) -> tuple[tuple[str, str], ...]:
    """What is said of points whose coordinates all have names that end in one unit."""
    units = {point.unit for point in points}
    return (("unit", min(units)),) if len(units) == 1 and units <= _UNITS else ()


def _is_pose(key: str, text: str, point: Point) -> bool:
    """Whether a word for a pose stands before its three numbers, of which it may seem to end in
    one."""
    three = len(point.values) + text[-1:].isdigit() > 2
    return key == "" and three and is_pose(text)


def _chained(points: Sequence[Point]) -> bool:
    """Whether points of four values are walls, each from where the last one ended."""
    joints = [a.values[2:] == b.values[:2] for a, b in itertools.pairwise(points)]
    return 2 * sum(joints) > len(joints)


def _in_turn(walls: Sequence[tuple[Point, Point]]) -> Sequence[tuple[Point, Point]]:
    """Walls each where the last one ended, if two of them meet at each corner; else as told."""
    meeting: defaultdict[tuple[float, ...], list[int]] = defaultdict(list)
    for at, (begin, end) in enumerate(walls):
        meeting[begin.values].append(at)
        meeting[end.values].append(at)
    if any(len(two) != 2 for two in meeting.values()):
        return walls
    left = dict.fromkeys(range(len(walls)))
    turned: list[tuple[Point, Point]] = []
    while left:
        at = next(iter(left))
        begin, end = walls[at]
        while at in left:
            del left[at]
            turned.append((begin, end))
            one, other = meeting[end.values]
            at = other if one == at else one
            first, second = walls[at]
            begin, end = (first, second) if first.values == end.values else (second, first)
    return turned


def _rings(walls: Sequence[tuple[Point, Point]], run: Run) -> list[Run]:
    """Walls from corner to corner, each where the last one ended, as the rings that they close."""
    rings: list[list[Point]] = []
    for begin, end in _in_turn(walls):
        ring = rings[-1] if rings else []
        closed = len(ring) > 2 and ring[0].values == ring[-1].values
        if not ring or closed or ring[-1].values != begin.values:
            rings.append([begin, end])
        else:
            ring.append(end)
    found: list[Run] = []
    for ring in rings:
        if len(ring) > FEWEST and ring[0].values == ring[-1].values:
            said = [wall.more[0] if wall.more else ("", "") for wall in ring[:-1]]
            label = said[0] if len(set(said)) == 1 and said[0][1] else None
            array = np.array([corner.values[:2] for corner in ring])
            found.append(replace(run, points=array, label=label))
    return found


# --- points apart ------------------------------------------------------------------------------


def _of_numbers(items: list[Item], at: int) -> tuple[Points, int]:
    """Points of numbers that are items of their own: (N, 2), N may be 0, and where they end."""
    if len(turns := in_turn(items, at)) >= FEWEST:
        return np.array(turns), at + 2 * len(turns)
    told, end = constructed(items, at)
    if len(told) >= FEWEST:
        return np.array(told), end
    numbers = _flat(items, at)
    if len(numbers) < 2 * FEWEST:
        return _NONE, at
    even = len(numbers) % 2 == 0
    return np.array(numbers).reshape(-1, 2) if even else _NONE, at + len(numbers)


def _flat(items: list[Item], at: int) -> list[float]:
    """The numbers that follow one another, with one key or none."""
    numbers: list[float] = []
    key = items[at][0] if at < len(items) else None
    while at < len(items) and items[at][0] == key:
        number = number_of(items[at][1])
        if number is None:
            break
        numbers.append(number)
        at += 1
    return numbers


def _lettered(group: Group) -> list[Run]:
    """Corners under letters of their own: {"A": [0, 0], "B": [4, 0], ...}."""
    keys = [key for key, _ in group.items if key is not None]
    if group.cut or not FEWEST <= len(keys) == len(group.items) or len(set(keys)) < len(keys):
        return []
    if not all(_LETTER.fullmatch(key) for key in keys):
        return []
    points = [point_of(value) for _, value in group.items]
    known = [point for point in points if point is not None and len(point.values) == 2]
    if len(known) < len(points):
        return []
    return [Run(None, 0, len(keys), array_of(known), group.offset)]


def _axes_apart(group: Group) -> list[Run]:
    """A list of all x beside a list of all y, and lists of what else is said of each point."""
    axes = {key: axis(key.rstrip("sS")) for key, _ in group.items if key is not None}
    if "x" not in axes.values():
        axes |= twins(listing(group))
    told = [axes[key] for key, _ in group.items if key is not None]
    if told.count("x") != 1 or told.count("y") != 1:
        return []
    found: dict[str, list[float]] = {}
    lists: list[tuple[str, Group]] = []
    for key, value in group.items:
        which = axes[key] if key is not None else None
        inner = only(value)
        if which is not None and isinstance(inner, Numbers) and not inner.bracketed:
            found[which] = inner.values()
        elif which is not None and isinstance(inner, Group):
            numbers = [number_of(v) for _, v in inner.items]
            found[which] = [v for v in numbers if v is not None]
        elif key is not None and isinstance(inner, Group):
            lists.append((key, inner))
    counts = len(found.get("x", ())), len(found.get("y", ()))
    if min(counts) < FEWEST:
        return []
    uneven = counts if counts[0] != counts[1] else None
    more: list[list[tuple[str, str]]] = [[] for _ in found["x"]]
    for key, other in lists:
        if len(other.items) == len(more):
            for (_, value), said in zip(other.items, more, strict=True):
                said.append((key, text_of(value) or ""))
    pairs = zip(found["x"], found["y"], more, strict=False)
    points = [Point((x, y), said) for x, y, said in pairs]
    last = len(group.items)
    run = Run(None, last - 1, last, _NONE, group.offset, uneven=uneven)
    return labelled(points, run) if uneven is None else [replace(run, points=array_of(points))]


def _numbered_keys(group: Group) -> list[Run]:
    """x0, y0, x1, y1, ... as keys of one group."""
    found: defaultdict[int, dict[str, float]] = defaultdict(dict)
    first = None
    for at, (key, value) in enumerate(group.items):
        if key is None or len(key) > 8 or not (match := NUMBERED_AXIS.fullmatch(key)):
            continue
        number = number_of(value)
        if number is not None:
            first = at if first is None else first
            which, order = match[1] or match[4], match[2] or match[3]
            found[int(order)][which.lower()] = number
    if first is None or len(found) < FEWEST or any(len(pair) < 2 for pair in found.values()):
        return []
    array = np.array([[found[i]["x"], found[i]["y"]] for i in sorted(found)])
    return [Run(None, first, len(group.items), array, group.offset)]
