"""The tree of a text -> every sequence of points in it, with all that stands beside it."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regmap.inputs.capture_groups import Group, Item, Value, Word, number_of, text_of, unwrap
from regmap.inputs.capture_numbers import Numbers, Points, as_number, plane
from regmap.inputs.capture_words import axis, id_rank, name_rank, stem

__all__ = ["FEWEST", "Run", "runs"]

FEWEST = 3
"""Points below which nothing is an area."""

_PAIR = re.compile(r"\s*[\[(]?\s*([-+.\deE]+)\s*[,; ]\s*([-+.\deE]+)\s*[\])]?\s*\Z")
_NUMBERED = re.compile(r"([xy])[_\W]?(\d{1,5})|(\d{1,5})[_\W]?([xy])", re.IGNORECASE)
_NONE = np.empty((0, 2))
_LONGEST_POINT = 120
_MOST_ITEMS = 16


@dataclass(slots=True, eq=False)
class Run:
    """Points that follow one another in a group.

    Attributes:
        key: what stands before them; `index`, `end`: which items of the group they are.
        points: (N, 2).
        offset: where they begin in the text.
        label: (key, text) that was said with each of the points.
    """

    key: str | None
    index: int
    end: int
    points: Points
    offset: int
    label: tuple[str, str] | None = None


@dataclass(slots=True)
class _Point:
    """The numbers of one point, two or three, with what else was said about it."""

    values: tuple[float, ...]
    more: list[tuple[str, str]]


def runs(group: Group) -> tuple[list[Run], list[tuple[int, str | None, Group]]]:
    """Return the point sequences right in a group, and the groups to look into next.

    The latter come as (index, key, group).
    """
    whole = _axes_apart(group) or _numbered_keys(group)
    if whole:
        return whole, []
    found: list[Run] = []
    rest: list[tuple[int, str | None, Group]] = []
    items = group.items
    at = 0
    while at < len(items):
        key, value = items[at]
        inner = unwrap(value)
        if isinstance(inner, Numbers) and (sequences := inner.sequences()):
            found += [Run(key, at, at + 1, points, inner.offset) for points in sequences]
            at += 1
            continue
        run, end = _points_from(group, at)
        if end > at:
            found += run
            at = end
            continue
        numbers = _flat(items, at)
        if len(numbers) >= 2 * FEWEST:
            end = at + len(numbers)
            if len(numbers) % 2 == 0:
                array = np.array(numbers).reshape(-1, 2)
                found.append(Run(None, at, end, array, group.offset))
            at = end
            continue
        if isinstance(inner, Group):
            rest.append((at, key, inner))
        at += 1
    return found, rest


def _points_from(group: Group, at: int) -> tuple[list[Run], int]:
    """Return the run of single points that begins at an item, and where it ends."""
    items = group.items
    key, value = items[at]
    kind = stem(key)
    points: list[_Point] = []
    end = at
    while end < len(items) and stem(items[end][0]) == kind:
        point = _point(items[end][1])
        if point is None:
            break
        points.append(point)
        end += 1
    if len(points) < FEWEST:
        return [], end
    offset = value.offset if isinstance(value, Group | Numbers) else group.offset
    same = all(items[i][0] == key for i in range(at, end))
    name = key if same else (Word(kind) if isinstance(key, Word) else kind) or None
    return _labelled(points, Run(name, at, end, _NONE, offset)), end


# --- one point ---------------------------------------------------------------------------------


def _point(value: Value) -> _Point | None:
    """Return a value as one point, or None."""
    value = unwrap(value)
    if isinstance(value, Numbers):
        if value.bracketed or len(value.text) > _LONGEST_POINT:
            return None
        values = tuple(value.values())
        return _Point(values, []) if 2 <= len(values) <= 3 else None
    if isinstance(value, str):
        return _from_text(value)
    if not isinstance(value, Group) or not 1 <= len(value.items) <= _MOST_ITEMS or value.cut:
        return None
    if len(value.items) == 1:
        inner = value.items[0][1]
        return _point(inner) if not isinstance(inner, str) else None
    return _from_keys(value.items) or _from_list(value.items)


def _from_text(text: str) -> _Point | None:
    pair = _PAIR.match(text) if len(text) < _LONGEST_POINT else None
    if pair is None:
        return None
    x, y = as_number(pair[1]), as_number(pair[2])
    return None if x is None or y is None else _Point((x, y), [])


def _from_keys(items: list[Item]) -> _Point | None:
    found: dict[str, float] = {}
    more = []
    for key, value in items:
        which = axis(key) if key is not None else None
        number = number_of(value) if which is not None else None
        if which is not None and number is not None and which not in found:
            found[which] = number
        elif (text := text_of(value)) is not None:
            more.append((key or "", text))
        elif not isinstance(value, Group) or any(isinstance(v, Group) for _, v in value.items):
            return None
    return _Point((found["x"], found["y"]), more) if len(found) == 2 else None


def _from_list(items: list[Item]) -> _Point | None:
    """Two or three numbers at the end, names and numbers of other kinds before them.

    Keys are let pass where all are one: <td>kitchen</td><td>4</td><td>5</td>.
    """
    if len({key for key, _ in items}) > 1 and not _counted(items):
        return None
    parts: list[float | str] = []
    inner = False
    for _, value in items:
        value = unwrap(value)
        if isinstance(value, Numbers):
            if value.bracketed or len(value.text) > _LONGEST_POINT:
                return None
            parts += value.values()
        elif (number := number_of(value)) is not None:
            parts.append(number)
        elif (text := text_of(value)) is not None:
            parts.append(text)
        elif isinstance(value, Group) and not inner and (point := _point(value)) is not None:
            inner = True
            parts += [text for _, text in point.more]
            parts += point.values
        else:
            return None
    words = [at for at, part in enumerate(parts) if isinstance(part, str)]
    first = words[-1] + 1 if words else 0
    values = [part for part in parts[first:] if isinstance(part, float)]
    if not 2 <= len(values) <= 3:
        return None
    return _Point(tuple(values), [("", str(part)) for part in parts[:first]])


def _counted(items: list[Item]) -> bool:
    """Whether the keys are 0, 1, 2, ... or 1, 2, 3, ...: then it is a list."""
    keys = [key or "" for key, _ in items]
    return keys in (
        [str(i) for i in range(len(keys))],
        [str(i) for i in range(1, len(keys) + 1)],
    )


# --- points apart ------------------------------------------------------------------------------


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


def _axes_apart(group: Group) -> list[Run]:
    """A list of all x beside a list of all y, and lists of what else is said of each point."""
    axes = {key: axis(key.rstrip("s")) for key, _ in group.items if key is not None}
    if not {"x", "y"} <= set(axes.values()):
        return []
    found: dict[str, list[float]] = {}
    lists: list[tuple[str, Group]] = []
    for key, value in group.items:
        which = axes[key] if key is not None else None
        inner = _only(value)
        if which is not None and isinstance(inner, Numbers) and not inner.bracketed:
            found[which] = inner.values()
        elif which is not None and isinstance(inner, Group):
            numbers = [number_of(v) for _, v in inner.items]
            found[which] = [v for v in numbers if v is not None]
        elif key is not None and isinstance(inner, Group):
            lists.append((key, inner))
    if len(found) < 2 or not FEWEST <= len(found["x"]) == len(found["y"]):
        return []
    more: list[list[tuple[str, str]]] = [[] for _ in found["x"]]
    for key, other in lists:
        if len(other.items) == len(more):
            for (_, value), said in zip(other.items, more, strict=True):
                said.append((key, text_of(value) or ""))
    pairs = zip(found["x"], found["y"], more, strict=True)
    points = [_Point((x, y), said) for x, y, said in pairs]
    last = len(group.items)
    return _labelled(points, Run(None, last - 1, last, _NONE, group.offset))


def _only(value: Value) -> Value:
    """Look through a bracket around one run of numbers."""
    value = unwrap(value)
    if isinstance(value, Group) and value.kind in "[({" and len(value.items) == 1:
        return unwrap(value.items[0][1])
    return value


def _numbered_keys(group: Group) -> list[Run]:
    """x0, y0, x1, y1, ... as keys of one group."""
    found: defaultdict[int, dict[str, float]] = defaultdict(dict)
    first = None
    for at, (key, value) in enumerate(group.items):
        if key is None or len(key) > 8 or not (match := _NUMBERED.fullmatch(key)):
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


# --- points of several outlines, one after another ----------------------------------------------


def _labelled(points: Sequence[_Point], run: Run) -> list[Run]:
    """Part a run of points by what is said beside each of them, if that parts it into outlines."""
    columns: defaultdict[tuple[str, int], list[str]] = defaultdict(list)
    for point in points:
        for place, (key, text) in enumerate(point.more):
            columns[key, 0 if key else place].append(text)
    whole = {name: texts for name, texts in columns.items() if len(texts) == len(points)}
    # What is said with all points alike names one outline; what varies parts them.
    ranked = sorted(
        (len(set(texts)) == 1, _label_rank(name[0], texts), name) for name, texts in whole.items()
    )
    for _, rank, name in ranked:
        if min(Counter(whole[name]).values()) >= FEWEST:
            chosen = list(_parts(whole[name]))
            break
        if rank < 20:
            return []  # named places, a point each
    else:
        return [replace(run, points=_array(points))]
    result = []
    for text, indices in chosen:
        array = _array([points[i] for i in indices])
        result.append(replace(run, points=array, label=(name[0], text)))
    return result


def _label_rank(key: str, texts: Sequence[str]) -> int:
    numbers = as_number(texts[0]) is not None
    rank = name_rank(key)
    if rank is not None and not numbers:
        return rank
    if key == "" and not numbers:
        return 100
    return 200 if id_rank(key) is not None else 300 + numbers


def _parts(texts: Sequence[str]) -> Iterator[tuple[str, list[int]]]:
    """Yield (text, indices): stretches of one text, or all of its places if it comes and goes."""
    stretches: list[tuple[str, list[int]]] = []
    for i, text in enumerate(texts):
        if stretches and stretches[-1][0] == text:
            stretches[-1][1].append(i)
        else:
            stretches.append((text, [i]))
    if min(len(chosen) for _, chosen in stretches) >= FEWEST:
        yield from stretches
        return
    together: dict[str, list[int]] = {}
    for i, text in enumerate(texts):
        together.setdefault(text, []).append(i)
    yield from together.items()


def _array(points: Sequence[_Point]) -> Points:
    width = min(len(point.values) for point in points)
    return plane(np.array([point.values[:width] for point in points]))
