"""One point or one wall in the tree of a text, with what else is said about it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from regmap.inputs.captures.groups import (
    Group,
    Item,
    Value,
    Word,
    coordinate_of,
    number_of,
    text_of,
    unwrap,
)
from regmap.inputs.captures.numerals import NUMBER, Numbers, as_number, counts, parts, plane_columns
from regmap.inputs.captures.words import (
    LOG_LEVELS,
    axis,
    id_rank,
    is_no_place,
    is_plumbing,
    words_of,
)

__all__ = ["Point", "constructed", "in_turn", "on_ground", "point_of", "unlikely"]

_LONGEST_POINT = 120
_MOST_ITEMS = 16
_INSIDE = ("{", "<", "[", "(", "text")
_MOST_VALUES = 5

_PAIR = re.compile(rf"\s*[\[(]?\s*({NUMBER})\s*[,; /|]\s*({NUMBER})\s*[\])]?\s*\Z")
_CONSTRUCTOR = re.compile(r"([^\W\d]\w{0,30})(?: (\d+))?\Z")
_CELLS = ({"row", "col"}, {"row", "column"}, {"r", "c"})


@dataclass(slots=True)
class Point:
    """The numbers of one point, with what else was said about it.

    Attributes:
        values: two or more numbers, its coordinates among them.
        more: (key, text).
        keys: of the values, if none of them is a known name of a coordinate.
        unit: how their names end: x_cm, y_cm.
    """

    values: tuple[float, ...]
    more: list[tuple[str, str]] = field(default_factory=list)
    keys: tuple[str, ...] = ()
    unit: str = ""


def point_of(value: Value) -> Point | None:
    """Return a value as one point, or None."""
    if isinstance(value, Group) and value.kind == "text" and value.tag:
        pair = _from_text(value.tag)
        if pair is not None:
            return pair
    value = unwrap(value)
    if isinstance(value, Numbers):
        if value.bracketed or len(value.text) > _LONGEST_POINT:
            return None
        values = tuple(value.values())
        return Point(values) if 2 <= len(values) <= _MOST_VALUES else None
    if isinstance(value, str):
        return _from_text(value)
    if not isinstance(value, Group) or not 1 <= len(value.items) <= _MOST_ITEMS or value.cut:
        return None
    if len(value.items) == 1:
        inner = value.items[0][1]
        told = not isinstance(inner, str) or value.kind == "<"
        return point_of(inner) if told else None
    if value.kind == "dash" and (items := _dashed(value.items)):
        return _from_keys(items)
    return (
        _from_keys(value.items)
        or _from_list(value.items)
        or _from_fields(value.items)
        or _from_inside(value.items)
    )


def _dashed(items: list[Item]) -> list[Item]:
    """The fields of a list item that are list items themselves, or nothing."""
    fields: list[Item] = []
    for key, value in items:
        value = value if isinstance(value, Group) and value.kind == "dash" else unwrap(value)
        if key is None and isinstance(value, Group) and value.kind == "dash":
            if len(value.items) != 1 or value.items[0][0] is None:
                return []
            fields.append(value.items[0])
        elif not isinstance(value, Word):
            return []
    return fields


def in_turn(items: Sequence[Item], at: int) -> list[tuple[float, float]]:
    """x=1 y=2 x=3 y=4 ...: the points that follow one another, each coordinate with its key."""
    corners: list[tuple[float, float]] = []
    keys = tuple(key for key, _ in items[at : at + 2])
    if None in keys or {axis(key) for key in keys if key} != {"x", "y"}:
        return []
    order = 1 if axis(keys[0] or "") == "x" else -1
    while tuple(key for key, _ in items[at : at + 2]) == keys:
        first, second = (coordinate_of(value) for _, value in items[at : at + 2])
        if second is None and corners:
            second = _first_number(items[at + 1][1])
        if first is None or second is None:
            break
        corners.append((first, second) if order > 0 else (second, first))
        at += 2
    return corners


def _first_number(value: Value) -> float | None:
    """The first of several numbers: y=7 | 4.9 | 2."""
    if isinstance(value, Numbers) and not value.bracketed:
        return value.values()[0]
    several = isinstance(value, Group) and value.kind == "span"
    first = value.items[0][1] if several and isinstance(value, Group) else None
    return first if isinstance(first, float) else None


def constructed(items: Sequence[Item], at: int) -> tuple[list[tuple[float, float]], int]:
    """P 1 2, P 3 4, ...: the points behind one word over and over, and where they end."""
    corners: list[tuple[float, float]] = []
    word = items[at][1]
    if items[at][0] is not None or not isinstance(word, Word):
        return [], at
    name = _CONSTRUCTOR.match(word)
    while name and at < len(items) and items[at][0] is None:
        own = items[at][1]
        found = _CONSTRUCTOR.match(own) if isinstance(own, Word) else None
        if found is None or found[1] != name[1]:
            break
        values = [float(found[2])] if found[2] else []
        at += 1
        while at < len(items) and items[at][0] is None and len(values) < _MOST_VALUES:
            inner = unwrap(items[at][1])
            number = number_of(inner)
            if isinstance(inner, Numbers) and not inner.bracketed:
                values += inner.values()
            elif number is not None and not isinstance(inner, str):
                values.append(number)
            else:
                break
            at += 1
        if len(values) != 2:
            break
        corners.append((values[0], values[1]))
    return corners, at


def on_ground(points: Sequence[Point]) -> list[Point]:
    """Return points with x and y alone; the number of a room that they bring is said of each.

    Nothing is returned if they have so many values that none can be taken for a coordinate.
    """
    points = _alike(points)
    width = min((len(point.values) for point in points), default=0)
    if width <= 2:
        return [replace(point, values=point.values[:2]) for point in points]
    table = np.array([point.values[:width] for point in points])
    for at in range(width - 2):
        varied = all(len(np.unique(column)) > 2 for column in table[:, at + 1 :].T[-2:])
        if varied and len(parts(table[:, at])) > 1:
            x, y = (at + 1 + column for column in plane_columns(table[:, at + 1 :]))
            return [
                replace(
                    point,
                    values=(point.values[x], point.values[y]),
                    more=[*point.more, ("", f"{point.values[at]:.15g}")],
                )
                for point in points
            ]
    if width > 3 and not any(counts(column) for column in table.T):
        return []
    x, y = plane_columns(table)
    return [replace(point, values=(point.values[x], point.values[y])) for point in points]


def _alike(points: Sequence[Point]) -> list[Point]:
    """Points with what only some of them bring put right, for all are written alike.

    A number more than the others have ends the name before it (Room 2); a name that the others do
    not have is theirs too, up to the next one.
    """
    usual = Counter(len(point.values) for point in points).most_common(1)
    result: list[Point] = []
    for point in points:
        more = point.more
        if more and more[-1][0] == "" and len(point.values) == usual[0][0] + 1:
            number = f"{point.values[0]:.15g}"
            more = [*more[:-1], ("", f"{more[-1][1]} {number}")]
            point = replace(point, values=point.values[1:], more=more)
        result.append(point)
    said = [sum(key == "" for key, _ in point.more) for point in result]
    if not said or not said[0] or max(said) == min(said) or said[0] < max(said):
        return result
    for at, point in enumerate(result):
        missing = said[0] - said[at]
        if at and missing > 0:
            above = [one for one in result[at - 1].more if one[0] == ""][:missing]
            result[at] = replace(point, more=[*above, *point.more])
    return result


def unlikely(points: Sequence[Point]) -> bool:
    """Whether records with two numbers under unknown names are things, and no points.

    Then each has its own mark, and the marks do not count.
    """
    if not points[0].keys:
        return False
    marks: dict[str, list[str]] = {}
    for point in points:
        for key, text in point.more:
            if id_rank(key) is not None:
                marks.setdefault(key, []).append(text)
    for texts in marks.values():
        numbers = [as_number(text) for text in texts]
        told = [number for number in numbers if number is not None]
        count = len(told) == len(texts) and counts(np.array(told))
        if len(set(texts)) == len(points) and not count:
            return True
    return False


def _from_text(text: str) -> Point | None:
    pair = _PAIR.match(text) if len(text) < _LONGEST_POINT else None
    if pair is None:
        return None
    x, y = as_number(pair[1]), as_number(pair[2])
    return None if x is None or y is None else Point((x, y), [])


def _from_keys(items: list[Item]) -> Point | None:
    found: dict[str, float] = {}
    more = []
    for place, (key, value) in enumerate(items):
        which = axis(key) if key is not None else None
        number = coordinate_of(value) if which is not None else None
        if which is not None and number is not None and which not in found:
            found[which] = number
        elif number is not None and key in [above for above, _ in items[:place]]:
            return None  # several points
        elif (text := text_of(value)) is not None:
            more.append((key or "", text))
        elif not isinstance(value, Group) or any(_holds_points(v) for _, v in value.items):
            return None  # an outline stands beside the place of its label
    if len(found) < 2:
        return None
    ends = {words_of(key)[-1] for key, _ in items if key is not None and axis(key)}
    return Point((found["x"], found["y"]), more, unit=min(ends) if len(ends) == 1 else "")


def _holds_points(value: Value) -> bool:
    return isinstance(value, Group) or (isinstance(value, Numbers) and value.bracketed)


def _from_list(items: list[Item]) -> Point | None:
    """Two or three numbers at the end, names and numbers of other kinds before them.

    Keys are let pass where all are one: <td>kitchen</td><td>4</td><td>5</td>.
    """
    if len({key for key, _ in items}) > 1 and not _counted(items):
        return None
    told: list[float | str] = []
    inner = several = False
    for _, value in items:
        value = unwrap(value)
        if isinstance(value, Numbers):
            if several or value.bracketed or len(value.text) > _LONGEST_POINT:
                return None
            several = True
            told += value.values()
        elif (number := number_of(value)) is not None:
            told.append(number)
        elif (text := text_of(value) or _tag(value)) is not None:
            told.append(text)
        elif isinstance(value, Group) and value.kind == "<" and not value.items:
            told.append("")  # a cell that is left empty
        elif isinstance(value, Group) and not inner and (point := point_of(value)) is not None:
            inner = True
            told += [text for _, text in point.more]
            told += point.values
        else:
            return None
    words = [at for at, part in enumerate(told) if isinstance(part, str)]
    first = words[-1] + 1 if words else 0
    values = [part for part in told[first:] if isinstance(part, float)]
    again = len(words) > 2 and len({str(told[at]).split(" ")[0] for at in words}) == 1
    if not 2 <= len(values) <= _MOST_VALUES or again:
        return None
    return Point(tuple(values), [("", str(part)) for part in told[:first]])


def _tag(value: Value) -> str | None:
    """What stands alone in square brackets: [hall] corner at (1, 2)."""
    items = value.items if isinstance(value, Group) and value.kind == "[" else []
    tag = items[0][1] if len(items) == 1 and items[0][0] is None else None
    told = isinstance(tag, Word) and not is_plumbing(tag) and tag.lower() not in LOG_LEVELS
    return str(tag) if told else None


def _from_fields(items: list[Item]) -> Point | None:
    """Two numbers or more, each with a name of its own that says nothing against it."""
    values: list[float] = []
    keys: list[str] = []
    more: list[tuple[str, str]] = []
    for key, value in items:
        if key is None or key in keys:
            return None
        number = number_of(value)
        if number is not None and id_rank(key) is None and not is_no_place(key):
            keys.append(key)
            values.append(number)
        elif (text := text_of(value)) is not None and isinstance(unwrap(value), str):
            more.append((key, text))
        else:
            return None
    if not 2 <= len(values) <= _MOST_VALUES:
        return None
    if {key.casefold() for key in keys} in _CELLS:
        column = int(keys[1].casefold().startswith("c"))
        return Point((values[column], values[1 - column]), more, unit="cells")
    return Point(tuple(values), more, tuple(keys))


def _from_inside(items: list[Item]) -> Point | None:
    """A point one level down, alone with what else is said of it."""
    spoken = False
    points: list[Point] = []
    more: list[tuple[str, str]] = []
    for key, value in items:
        inside = isinstance(value, Numbers) or (isinstance(value, Group) and value.kind in _INSIDE)
        point = point_of(value) if inside else None
        if point is not None and not points and (key is not None or not spoken):
            points.append(point)
        elif key is not None and not inside and (text := text_of(value)) is not None:
            more.append((key, text))
        elif key is None and isinstance(value, Word) and not points:
            more.append(("", str(value)))  # insert into corners values (1, 2)
            spoken = True
        else:
            return None
    return replace(points[0], more=[*more, *points[0].more]) if points and more else None


def _counted(items: list[Item]) -> bool:
    """Whether the keys are 0, 1, 2, ... or 1, 2, 3, ...: then it is a list."""
    keys = [key or "" for key, _ in items]
    return keys in (
        [str(i) for i in range(len(keys))],
        [str(i) for i in range(1, len(keys) + 1)],
    )
