"""Rooms told as upright boxes, by their sides or by two corners, where a text has nothing else."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from regmap.inputs.captures.corner import point_of
from regmap.inputs.captures.groups import Group, Item, Value, number_of
from regmap.inputs.captures.numerals import Numbers
from regmap.inputs.captures.words import votes, words_of

__all__ = ["with_boxes"]

_FEWEST = 2
"""A lone box is a picture's extent, or anything."""

_MOST = 400
"""More boxes are no rooms."""

_MOST_ITEMS = 40
_LENGTH, _MIDDLE = 2, 3
_SHARED, _FILLED = 0.1, 0.4
_LOOSE = frozenset(("x", "y", "center", "centre", "middle", "cx", "cy"))
"""Names of the places of boxes that other things have as well."""

_SIDE = re.compile(r"(?:(min|max)([xy])|([xy])(min|max))(?:mm|cm|m)?")
_ENDS = {"left": "minx", "bottom": "miny", "right": "maxx", "top": "maxy", "x": "minx", "y": "miny"}
_SIZES = {"width": "x", "w": "x", "height": "y", "h": "y"}
_DEEP = "depth"
"""Where it is told, a height is up to the ceiling."""

_CENTRES = {"center": "xy", "centre": "xy", "middle": "xy", "cx": "x", "cy": "y"}
_UNIT = re.compile(r"(?:mm|cm|m)\Z")
_BOXES = frozenset(("bbox", "box", "boxes", "bounds", "extent", "extents"))
_CORNERS = {"min": 0, "lower": 0, "mincorner": 0, "max": 1, "upper": 1, "maxcorner": 1}
_NO_LETTER = re.compile(r"[\W\d_]+")

Box = tuple[float, float, float, float]


def with_boxes(root: Group) -> bool:
    """Put corners in the place of the sides of each box below a group; return whether there were.

    Sides are called min and max of x and of y, or left, right, bottom and top, or the corners min
    and max, each with its x and y. Width and height may come beside left and bottom, x and y, or
    the middle; then they must fill a floor.
    """
    boxed: list[tuple[Group, Box, list[Item]]] = []
    waiting = [root]
    while waiting:
        group = waiting.pop()
        found = _box(group.items) if 2 <= len(group.items) <= _MOST_ITEMS else None
        if found is not None:
            boxed.append((group, *found))
        else:
            inner = [(key, value) for key, value in group.items if isinstance(value, Group)]
            waiting += [value for key, value in inner if not _is_other(key)]
    if len(boxed) < _FEWEST:
        return False
    loose = [box for group, box, _ in boxed if any(_bare(key) in _LOOSE for key, _ in group.items)]
    if loose and (len(loose) > _MOST or not _tile(loose)):
        return False  # marks in a picture come so as well
    for group, (x0, y0, x1, y1), others in boxed:
        text = f"({x0!r}, {y0!r}), ({x1!r}, {y0!r}), ({x1!r}, {y1!r}), ({x0!r}, {y1!r})"
        ring = Numbers(text, group.offset, bracketed=True, wrapped=True)
        group.items[:] = [*others, ("corners", ring)]
    return True


def _is_other(key: str | None) -> bool:
    """Whether a key says that what follows is no room, by more than a word for a box."""
    words = [word for word in words_of(key or "") if word not in _BOXES]
    return any(any(votes(word)[2:]) for word in [*words, "".join(words)])


def _box(items: list[Item]) -> tuple[Box, list[Item]] | None:
    """The box that items tell, and what else they tell; None if they tell none, or two."""
    told: dict[tuple[str, int], float] = {}
    others: list[Item] = []
    names = {_bare(key) for key, _ in items}
    for key, value in items:
        name = _bare(key)
        if name in ("height", "h") and _DEEP in names:
            continue
        own = _told(name, value)
        if any(which in told for which in own):
            return None
        told.update(own)
        others += [] if own else [(key, value)]
    for axis in "xy":
        length = told.pop((axis, _LENGTH), None)
        middle = told.pop((axis, _MIDDLE), None)
        if length is not None and middle is not None:
            told[axis, 0], told[axis, 1] = middle - length / 2, middle + length / 2
        elif length is not None and (axis, 0) in told:  # from the top it might be either way
            told.setdefault((axis, 1), told[axis, 0] + length)
    if len(told) != 4:
        return None
    x0, y0, x1, y1 = told["x", 0], told["y", 0], told["x", 1], told["y", 1]
    return ((x0, y0, x1, y1), others) if x0 < x1 and y0 < y1 else None


def _bare(key: str | None) -> str:
    """The letters of a key, without a unit at their end."""
    name = _NO_LETTER.sub("", key or "").lower()
    known = name in _ENDS or name in _SIZES or name in _CENTRES
    return name if known else _UNIT.sub("", name)


def _told(name: str, value: Value) -> dict[tuple[str, int], float]:
    """What an item tells of a box: sides, lengths or middles, by axis."""
    number = number_of(value)
    if number is not None:
        side = _SIDE.fullmatch(_ENDS.get(name, name))
        if side is not None:
            return {(side[2] or side[3], int((side[1] or side[4]) == "max")): number}
        if name in _SIZES or name == _DEEP:
            return {(_SIZES.get(name, "y"), _LENGTH): number}
        return {(_CENTRES[name], _MIDDLE): number} if len(_CENTRES.get(name, "")) == 1 else {}
    which = {**_CORNERS, **dict.fromkeys(_CENTRES, _MIDDLE), "size": _LENGTH}.get(name)
    if which is None or not isinstance(value, Group | Numbers):
        return {}
    point = point_of(value)
    if point is not None and len(point.values) == 2 and not point.keys:
        return {(axis, which): number for axis, number in zip("xy", point.values, strict=True)}
    inner = value.items if isinstance(value, Group) and which == _LENGTH else []
    sizes = {_SIZES.get(_bare(key)): number_of(below) for key, below in inner}
    return {(axis, which): n for axis, n in sizes.items() if axis is not None and n is not None}


def _tile(boxes: Sequence[Box]) -> bool:
    """Whether boxes fill what they lie in, as rooms do, and none lies on another."""
    sides = np.array(boxes)
    low = np.maximum(sides[:, None, :2], sides[None, :, :2])
    high = np.minimum(sides[:, None, 2:], sides[None, :, 2:])
    common = np.prod(np.maximum(high - low, 0.0), axis=2)
    areas = np.diag(common).copy()
    np.fill_diagonal(common, 0.0)
    whole = np.prod(sides[:, 2:].max(axis=0) - sides[:, :2].min(axis=0))
    lying = common > _SHARED * np.minimum(areas[:, None], areas)
    return bool(areas.sum() > _FILLED * whole and not lying.any())
