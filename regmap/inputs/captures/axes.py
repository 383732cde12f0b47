"""Outlines as a list of all x beside a list of all y, or as lines that go on below."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import Polygon

from regmap.inputs.captures.corner import point_of
from regmap.inputs.captures.groups import Group, Item, Value, number_of, unwrap
from regmap.inputs.captures.numerals import Numbers, Points
from regmap.inputs.captures.words import axis, is_no_place, tells_size

__all__ = [
    "blocks_of_axes",
    "columns_of",
    "folded_points",
    "listing",
    "lists_beside",
    "measures",
    "only",
    "records_of",
    "shared_key",
    "twins",
]

_MOST_FOLDED = 20_000
"""More points on the lines of a block are no outline."""

_LONGEST_REST = 200
_FEWEST_ROWS = 3
_NONE = np.empty((0, 2))
_AROUND = ("[", "(", "{", "<", "text", "line")


def records_of(group: Group) -> list[tuple[int, str | None, Group]]:
    """The same keys over and over, lists of all x and of all y among them, as a group each time."""
    keys = [key for key, _ in group.items]
    first = keys[0] if keys else None
    if first is None or keys.count(first) < 2:
        return []
    length = keys.index(first, 1)
    which = [axis(key.rstrip("sS")) for key in keys[:length] if key is not None]
    if len(which) < length or keys != (keys[:length] * (len(keys) // length)):
        return []
    if which.count("x") != 1 or which.count("y") != 1:
        return []
    if not any(isinstance(only(value), Numbers | Group) for _, value in group.items[:length]):
        return []
    records: list[tuple[int, str | None, Group]] = []
    for at in range(0, len(keys), length):
        record = Group("{", group.offset)
        record.items = group.items[at : at + length]
        records.append((at, None, record))
    return records


def columns_of(group: Group) -> list[tuple[int, str | None, Group]]:
    """Lists of the x and of the y of every room, and of what else is said of each, as a group a
    room: names: [hall, bath], xs: [[0, 4, ...], [4, 6, ...]], ys: [[0, 0, ...], [0, 1, ...]]."""
    keys = listing(group)
    axes = {key: axis(key.rstrip("sS")) for key in keys}
    if "x" not in axes.values():
        axes |= twins(keys)
    places = {axes[key]: at for at, (key, _) in enumerate(group.items) if key and axes.get(key)}
    if len(places) < 2 or sum(which is not None for which in axes.values()) > 2:
        return []
    columns = [(key, _elements(value)) for key, value in group.items]
    x, y = (columns[places[which]][1] for which in "xy")
    if len(x) < 2 or len(x) != len(y) or any(map(_differ, x, y)):
        return []
    told = [(key, column) for key, column in columns if key and len(column) == len(x)]
    told.sort(key=lambda one: one[1] is x or one[1] is y)  # what names them stands before
    records: list[tuple[int, str | None, Group]] = []
    for at in range(len(x)):
        record = Group("{", group.offset)
        record.items = [(key, column[at]) for key, column in told]
        records.append((places["x"], None, record))
    return records


def _elements(value: Value) -> Sequence[Value]:
    """The elements of a list of texts, of numbers or of lists; none of anything else."""
    inner = only(value)
    if isinstance(inner, Numbers):
        return [] if inner.bracketed else inner.values()
    if not isinstance(inner, Group) or inner.kind not in _AROUND:
        return []
    return [] if any(key for key, _ in inner.items) else [element for _, element in inner.items]


def _differ(one: Value, other: Value) -> bool:
    """Whether two values are no lists of so many numbers each."""
    lists = only(one), only(other)
    counts = {len(v.values()) for v in lists if isinstance(v, Numbers) and not v.bracketed}
    return not all(isinstance(v, Numbers) for v in lists) or len(counts) != 1


def blocks_of_axes(group: Group) -> tuple[Points, int]:
    """A key for each x and then one for each y: xs: 1 xs: 2 ... ys: 3 ys: 4.

    Return (N, 2), N may be 0, and where they begin.
    """
    nothing = np.empty((0, 2)), 0
    first = 0
    found: dict[str, list[float]] = {"x": [], "y": []}
    order: list[str] = []
    for at, (key, value) in enumerate(group.items):
        which = axis(key.rstrip("sS")) if key is not None else None
        if which is None:
            continue
        number = number_of(value)
        if number is None:
            return nothing
        first = at if not order else first
        found[which].append(number)
        if order[-1:] != [which]:
            order.append(which)
    if len(order) != 2 or len(found["x"]) != len(found["y"]):
        return nothing
    return np.array([found["x"], found["y"]]).T, first


def measures(root: Group) -> bool:
    """Whether a table's own names say of columns of numbers that they are no coordinates.

    Then its numbers are not to be read without their names either.
    """
    tables = (value for _, value in root.items if isinstance(value, Group))
    for rows in (table.items for table in tables if table.kind == "table"):
        first = rows[0][1] if len(rows) >= _FEWEST_ROWS else None
        if isinstance(first, Group):
            keys = [key for key, value in first.items if key and number_of(value) is not None]
            said = [key for key in keys if is_no_place(key)]
            if said and (tells_size(said) or len(keys) - len(said) < 2):
                return True
    return False


def twins(keys: Sequence[str]) -> dict[str, str | None]:
    """Two keys that differ by an x and a y alone: vx and vy, listX and listY."""
    known = set(keys)
    for key in keys:
        for x, y in ("xy", "XY"):
            if x in key and (other := y.join(key.rsplit(x, 1))) in known:
                return {key: "x", other: "y"}
    return {}


def listing(group: Group) -> list[str]:
    """The keys in a group that lead to lists, each once."""
    held = (key for key, v in group.items if isinstance(only(v), Numbers | Group))
    return list(dict.fromkeys(key for key in held if key is not None))


def lists_beside(items: list[Item], at: int) -> Points:
    """A list of all x right before one of all y, or the other way round: (N, 2), N may be 0."""
    lists: dict[str, list[float]] = {}
    for key, value in items[at : at + 2]:
        inner = only(value)
        which = axis(key.rstrip("sS")) if key is not None else None
        if which is not None and isinstance(inner, Numbers) and not inner.bracketed:
            lists[which] = inner.values()
    if len(lists) < 2 or len(lists["x"]) != len(lists["y"]):
        return np.empty((0, 2))
    return np.array([lists["x"], lists["y"]]).T


def shared_key(items: list[Item], at: int) -> str | None:
    """What two keys for x and y have in common before the axis: hall of hall_x and hall_y."""
    first, second = ((key or "").rstrip("sS") for key, _ in items[at : at + 2])
    own = first[:-1].rstrip("_-. ")
    return own if own and own == second[:-1].rstrip("_-. ") and own[-1:].isalnum() else None


def only(value: Value) -> Value:
    """Look through a bracket around one run of numbers."""
    value = unwrap(value)
    while isinstance(value, Group) and len(value.items) == 1 and value.kind in _AROUND:
        value = unwrap(value.items[0][1])
    return value


def folded_points(group: Group) -> Points:
    """The points of a block whose lines hold nothing else, several of them on one: (N, 2).

    They are of one outline that goes on from line to line if a line has too few for an outline of
    its own, or if together they cross nowhere, and no dash makes each line a thing of its own; else
    N is 0.
    """
    if group.kind != "block" or len(group.items) < 2 or any(key for key, _ in group.items):
        return _NONE
    lines: list[Points] = []
    for _, value in group.items:
        lines.append(_points_on(value))
        if not len(lines[-1]):
            return _NONE
    counts = list(map(len, lines))
    if max(counts) < 3 or sum(counts) > _MOST_FOLDED:  # two points on each line are walls
        return _NONE
    points = np.concatenate(lines)
    listed = all(isinstance(value, Group) and value.kind == "dash" for _, value in group.items)
    on = min(counts) < 3 or (not listed and Polygon(points).is_valid)
    return points if on else _NONE


def _points_on(value: Value) -> Points:
    """The points of a line that holds nothing else: (N, 2), N may be 0."""
    inner = unwrap(value)
    if isinstance(inner, Numbers):
        sequences = inner.sequences()
        if len(sequences) == 1 and sequences[0][0] is None:
            return sequences[0][1]
        values = [] if sequences or len(inner.text) > _LONGEST_REST else inner.values()
        return np.array(values).reshape(-1, 2) if len(values) in (2, 4) else _NONE
    if not isinstance(inner, Group) or inner.kind != "line":
        parts: list[Value] = [inner]
    elif any(key is not None for key, _ in inner.items):
        return _NONE
    else:
        parts = [part for _, part in inner.items]
    found = [point_of(part) for part in parts if isinstance(unwrap(part), Group | Numbers)]
    known = [p.values for p in found if p is not None and len(p.values) == 2 and not p.more]
    return np.array(known) if len(known) == len(parts) else _NONE
