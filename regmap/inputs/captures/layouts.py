"""Layouts of tables other than a row a corner: outlines beside each other, a row an outline."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from regmap.inputs.captures.cells import numbers_of
from regmap.inputs.captures.words import NUMBERED_AXIS, votes

__all__ = ["Cell", "a_corner_a_row", "numbered", "pivoted", "side_by_side"]

Cell: TypeAlias = tuple[str | None, float | str]
"""The name of a column, and what a row has there."""

_MOST_LYING = 0.05
"""Rooms share no more of their ground."""

_PAIRED = re.compile(r"(?:(.+?)[\W_]+([xy])|([xy])[\W_]+(.+))\Z", re.IGNORECASE)


def side_by_side(names: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Cell]:
    """Outlines beside each other, two columns each: `hall x;hall y;kitchen x;kitchen y`."""
    pairs: dict[str, dict[str, int]] = {}
    first = int(_PAIRED.match(names[0]) is None)  # which corner it is
    for at, name in enumerate(names[first:], first):
        found = _PAIRED.match(name)
        if found is None or not any(map(str.isalpha, found[1] or found[4])):
            return []
        pairs.setdefault(found[1] or found[4], {})[(found[2] or found[3]).lower()] = at
    if len(pairs) < 2 or any(len(axes) < 2 for axes in pairs.values()):
        return []
    cells: list[Cell] = []
    for name, axes in pairs.items():
        columns = [numbers_of([row[axes[which]] for row in rows]) for which in "xy"]
        if columns[0] is None or columns[1] is None:
            return []
        points = zip(*columns, strict=True)
        cells.append((name, ";".join(f"{x!r},{y!r}" for x, y in points if x == x and y == y)))
    return cells


def a_corner_a_row(names: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Cell]:
    """Outlines beside each other under numbers, x1;y1;x2;y2: a row brings a corner of each.

    Else a row is an outline, and x2;y2 its second corner. What lies beside each other are rooms.
    """
    places: dict[str, int] = {}
    for at in (wide := numbered(names)):
        found = NUMBERED_AXIS.fullmatch(names[at])
        assert found is not None
        places[f"{found[2] or found[3]}{found[1] or found[4]}".lower()] = at
    corners = list(dict.fromkeys(place[:-1] for place in places))
    if len(rows) < 3 or not wide or 2 * len(corners) != len(places):
        return []
    keys = [f"{corner}{which}" for corner in corners for which in "xy"]
    columns = [numbers_of([row[places[key]] for row in rows]) for key in keys if key in places]
    if len(columns) < len(keys) or any(column is None for column in columns):
        return []
    table = np.array(columns).T.reshape(len(rows), -1, 2)
    if not np.isfinite(table).all():
        return []
    first, second = (_lying(list(rings)) for rings in (table, table.swapaxes(0, 1)))
    room, corner, *_ = votes(names[0])  # what each row is, maybe
    least = second if corner and not room and 0 not in wide else _MOST_LYING
    if second >= _MOST_LYING or first < least or first == 0.0:
        return []
    rings = table.swapaxes(0, 1).tolist()
    return [(str(n), ";".join(f"{x!r},{y!r}" for x, y in ring)) for n, ring in enumerate(rings, 1)]


def _lying(rings: Sequence[NDArray[np.float64]]) -> float:
    """Which share of the ground of outlines lies in others; 1 if any crosses itself."""
    polygons = [shapely.Polygon(ring) for ring in rings]
    if not all(polygon.is_valid for polygon in polygons):
        return 1.0
    areas = sum(polygon.area for polygon in polygons)
    return 1.0 - float(shapely.union_all(polygons).area) / areas if areas else 1.0


def numbered(names: Sequence[str]) -> list[int]:
    """The columns of rows that hold an outline each, x and y of a corner beside each other."""
    places = [at for at, name in enumerate(names) if NUMBERED_AXIS.fullmatch(name)]
    return places if len(places) >= 6 and len(places) % 2 == 0 else []


def pivoted(
    names: list[str], rows: list[list[str]], starts: list[int]
) -> tuple[list[str], list[list[str]], list[int]]:
    """A row a corner of rows that bring one coordinate each: a column says x or y."""
    for at in range(len(names)):
        said = {row[at].lower() for row in rows}
        if said != {"x", "y"}:
            continue
        numeric = [i for i in range(len(names)) if i != at and numbers_of([r[i] for r in rows])]
        if not numeric:
            break
        value = numeric[-1]
        corners: dict[tuple[str, ...], dict[str, tuple[int, str]]] = {}
        for start, row in zip(starts, rows, strict=True):
            said_too = tuple(cell for i, cell in enumerate(row) if i not in (at, value))
            corners.setdefault(said_too, {})[row[at].lower()] = start, row[value]
        if 2 * len(corners) != len(rows) or any(len(one) < 2 for one in corners.values()):
            break
        others = [name for i, name in enumerate(names) if i not in (at, value)]
        table = [[*key, one["x"][1], one["y"][1]] for key, one in corners.items()]
        return [*others, "x", "y"], table, [one["x"][0] for one in corners.values()]
    return names, rows, starts
