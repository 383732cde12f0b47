"""Rooms told as upright boxes, by their sides or by two corners, where a text has nothing else."""

from __future__ import annotations

import re

from regmap.inputs.captures.corner import point_of
from regmap.inputs.captures.groups import Group, Item, number_of
from regmap.inputs.captures.numerals import Numbers
from regmap.inputs.captures.words import votes, words_of

__all__ = ["with_boxes"]

_FEWEST = 2
"""A lone box is a picture's extent, or anything."""

_MOST_ITEMS = 40
_SIDE = re.compile(r"(?:(min|max)([xy])|([xy])(min|max))(?:mm|cm|m)?")
_ENDS = {"left": "minx", "bottom": "miny", "right": "maxx", "top": "maxy"}
_SIZES = {"width": "x", "height": "y"}
_UNIT = re.compile(r"(?:mm|cm|m)\Z")
_BOXES = frozenset(("bbox", "box", "boxes", "bounds", "extent", "extents"))
_CORNERS = {"min": 0, "lower": 0, "mincorner": 0, "max": 1, "upper": 1, "maxcorner": 1}
_NO_LETTER = re.compile(r"[\W\d_]+")

Box = tuple[float, float, float, float]


def with_boxes(root: Group) -> bool:
    """Put corners in the place of the sides of each box below a group; return whether there were.

    Sides are called min and max of x and of y, or left, right, bottom and top, two of which may
    come with width and height, or the corners min and max, each with its x and y.
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
    sides: dict[tuple[str, int], float] = {}
    others: list[Item] = []
    sizes: dict[str, float] = {}
    for key, value in items:
        name = _NO_LETTER.sub("", key or "").lower()
        bare = name if name in _ENDS or name in _SIZES else _UNIT.sub("", name)
        side = _SIDE.fullmatch(_ENDS.get(bare, name))
        corner = (
            point_of(value) if name in _CORNERS and isinstance(value, Group | Numbers) else None
        )
        told: list[tuple[tuple[str, int], float]] = []
        size = _SIZES.get(bare)
        if size is not None and (number := number_of(value)) is not None:
            sizes[size] = number
            continue
        if side is not None and (number := number_of(value)) is not None:
            told = [((side[2] or side[3], int((side[1] or side[4]) == "max")), number)]
        elif corner is not None and len(corner.values) == 2:
            told = [((which, _CORNERS[name]), corner.values[at]) for at, which in enumerate("xy")]
        if any(which in sides for which, _ in told):
            return None
        sides.update(told)
        others += [] if told else [(key, value)]
    for axis, length in sizes.items():
        if (axis, 0) in sides:  # from the top downwards it might be either way
            sides.setdefault((axis, 1), sides[axis, 0] + length)
    if len(sides) != 4:
        return None
    x0, y0, x1, y1 = sides["x", 0], sides["y", 0], sides["x", 1], sides["y", 1]
    return ((x0, y0, x1, y1), others) if x0 < x1 and y0 < y1 else None
