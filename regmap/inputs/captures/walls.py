"""One wall in the tree of a text: from one corner to another."""

from __future__ import annotations

import re

from regmap.inputs.captures.corner import Point, point_of
from regmap.inputs.captures.groups import Group, Value, number_of, text_of, unwrap
from regmap.inputs.captures.numerals import Numbers
from regmap.inputs.captures.words import axis

__all__ = ["named_wall", "wall_of"]

_MOST_ITEMS = 16
_WALLS = (
    ("x1", "y1", "x2", "y2"),
    ("x0", "y0", "x1", "y1"),
    ("xa", "ya", "xb", "yb"),
    ("fromx", "fromy", "tox", "toy"),
    ("from_x", "from_y", "to_x", "to_y"),
    ("x_start", "y_start", "x_end", "y_end"),
    ("start_x", "start_y", "end_x", "end_y"),
)


def named_wall(value: Value) -> tuple[Point, Point] | None:
    """Return a value as a wall if its ends have their usual names: x1, y1, x2, y2."""
    value = unwrap(value)
    if not isinstance(value, Group) or not 4 <= len(value.items) <= _MOST_ITEMS or value.cut:
        return None
    keyed = {key.casefold(): number_of(inner) for key, inner in value.items if key is not None}
    for names in _WALLS:
        if all(keyed.get(name) is not None for name in names):
            x0, y0, x1, y1 = (float(keyed[name] or 0.0) for name in names)
            others = [item for item in value.items if (item[0] or "").casefold() not in names]
            if any(axis(re.sub(r"\d", "", key or "")) for key, _ in others):
                return None  # more than two corners
            more = [(key or "", text) for key, v in others if (text := text_of(v)) is not None]
            # With more beside it than texts it is a box around something.
            return (Point((x0, y0), more), Point((x1, y1))) if len(more) == len(others) else None
    return None


def wall_of(value: Value) -> tuple[Point, Point] | None:
    """Return a value that holds two points as the wall from one to the other, or None."""
    value = unwrap(value)
    if not isinstance(value, Group) or not 2 <= len(value.items) <= _MOST_ITEMS or value.cut:
        return None
    ends: list[Point] = []
    more = []
    for key, inner in value.items:
        point = point_of(inner) if isinstance(unwrap(inner), Group | Numbers) else None
        if point is not None and len(point.values) == 2:
            ends.append(point)
        elif (text := text_of(inner)) is not None:
            more.append((key or "", text))
        else:
            return None
    return (Point(ends[0].values, more), ends[1]) if len(ends) == 2 else None
