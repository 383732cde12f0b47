"""Tables in text: a line of column names, then a line a row.

A table is known by its form: cells with one sign between them, as many in every row as in the first
line, which holds names alone. Its coordinates are the columns called x and y, or else the first two
columns of numbers that neither count nor repeat.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regmap.inputs.captures.cells import APART, cells_of, numbers_of
from regmap.inputs.captures.layouts import Cell, a_corner_a_row, numbered, pivoted, side_by_side
from regmap.inputs.captures.numerals import counts, parts
from regmap.inputs.captures.unpack import GROUP_PARTS, Budget
from regmap.inputs.captures.words import axis, is_no_place, name_rank, tells_size

__all__ = ["Row", "tables"]

_LONGEST_HEADER = 1000
_MOST_NUMBERS = 8
"""Columns of numbers beyond which a row is no point but a list of its own."""

_CODE = re.compile(r"\d\]")
_NO_HEADER = re.compile(r"[{}<>=]|:\s|\w\(\S|[\d\"'\])][\])]")
_COLUMN = re.compile(r"(?:.*[\W_])?([xy])(?:[\W_].*)?\Z", re.IGNORECASE)
_MARKS = (";", "\t", "|", ",", APART, None)
_GAP = re.compile(r"(?:[ \t\r]*\n)+")
_RULE = re.compile(r"[\W_]*\Z")

_MOST_SILENT = 20
_NUMBER_LIKE = re.compile(
    r"[-+]?\.?\d(?:[\d.,'’\s]|(?<=[\s,])[-+])*(?:[eE][-+]?\d+)?\s*(?:mm|cm|m|px)?\Z"
)
_STRUCTURE = re.compile(
    r"[\[{(<](?!\w{1,12}[\])])|;|\d[\s,;:/|xX@_~]+[-+.]?\d[\d.]*[\s,;/|]+[-+.]?\d"
)

_AXES = (
    *itertools.product(
        ("e", "ost", "osten", "est", "este", "oost"), ("n", "nord", "norte", "noord")
    ),
    *itertools.product(("col", "column"), ("row",)),
)
"""Names that say x and y if both are there."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: where it begins, and its cells as (column's name, value)."""

    start: int
    cells: list[Cell]


def tables(text: str, position: int, budget: Budget) -> tuple[list[list[Row]], int] | None:
    """Return the rows of the table that begins at a position, and where it ends; or None.

    An empty line parts it into several, if rows of numbers go on below it. The columns of
    coordinates are called x and y. A cell that is left empty where a room's name stands means the
    one above. The rows are parts of the text that count against the budget.
    """
    end = text.find("\n", position)
    header = text[position : end if end >= 0 else len(text)]
    if end < 0 or not 3 <= len(header) <= _LONGEST_HEADER or _NO_HEADER.search(header):
        return None
    for mark in _MARKS:
        names, below = _two_headers(text, header, end + 1, mark) or (_header(header, mark), end + 1)
        if names is None:
            continue
        starts, rows, after = _rows(text, below, mark, len(names), budget)
        outlines = side_by_side(names, rows) or a_corner_a_row(names, rows)
        if len(rows) >= 3 and outlines:
            return [[Row(starts[0], outlines)]], after
        columns, rows, starts = pivoted(names, rows, starts)
        keys = _keys(columns, rows, mark) if rows else None
        if keys is not None:
            found = [_table(keys, starts, rows)]
            while columns is names and (more := _goes_on_below(text, after, mark, rows, budget)):
                starts, rows, after = more
                found.append(_table(keys, starts, rows))
            return found, after
    return None


def _table(keys: list[str], starts: list[int], rows: list[list[str]]) -> list[Row]:
    return [Row(*row) for row in zip(starts, _values(keys, rows), strict=True)]


def _goes_on_below(
    text: str, at: int, mark: str | None, rows: Sequence[Sequence[str]], budget: Budget
) -> tuple[list[int], list[list[str]], int] | None:
    """The rows below an empty line that are of the same columns as those above it, or None."""
    gap = _GAP.match(text, at)
    begin = at if gap is None else gap.end()
    if gap is None and text[max(at - 2, 0) : at].strip(" \t\r\n"):
        return None
    starts, more, after = _rows(text, begin, mark, len(rows[0]), budget)
    alike = [[_tells(cell) for cell in row] for row in (rows[0], *more[:1])]
    return (starts, more, after) if len(more) >= 3 and alike[0] == alike[1] else None


def _header(line: str, mark: str | None) -> list[str] | None:
    """The columns' names, or None if this is no header."""
    if mark is not None and mark not in line:
        return None
    names = cells_of(line, mark)
    if len(names) < 2 or len(set(names)) < len(names) or names.count("") > 1:
        return None
    if any(_tells(name) or _CODE.search(name) for name in names) or not any(map(_worded, names)):
        return None
    return names if mark is not None or len(_axes(names)) == 2 else None


def _two_headers(
    text: str, header: str, below: int, mark: str | None
) -> tuple[list[str], int] | None:
    """The columns' names, and where their rows begin, if a line of x and y stands below the names
    of rooms, each of which goes on over the columns that it leaves empty."""
    end = text.find("\n", below)
    if mark is None or mark not in header or end < 0 or end - below > _LONGEST_HEADER:
        return None
    above, axes = cells_of(header, mark), cells_of(text[below:end], mark)
    if len(above) != len(axes) or {one.lower() for one in axes} != {"x", "y"} or not above[0]:
        return None
    names = [f"{name} {which}" for name, which in zip(_carried(above), axes, strict=True)]
    return (names, end + 1) if len(set(names)) == len(names) > 2 else None


def _worded(name: str) -> bool:
    return any(map(str.isalnum, name))


def _rows(
    text: str, at: int, mark: str | None, count: int, budget: Budget
) -> tuple[list[int], list[list[str]], int]:
    """The rows below a header: where they begin, their cells, and where they end.

    They end where several come that hold no number or structure where the first has one. So what
    might be a header is looked at once, and not with every line above it.
    """
    starts: list[int] = []
    rows: list[list[str]] = []
    telling: list[int] = []
    silent = 0
    while at < len(text) and silent <= _MOST_SILENT:
        end = text.find("\n", at)
        end = len(text) if end < 0 else end
        line = text[at:end]
        cells = cells_of(line, mark)
        budget.spend(GROUP_PARTS + len(cells))
        if len(cells) == count and not _RULE.match(line):
            telling = telling if rows else [i for i, cell in enumerate(cells) if _tells(cell)]
            if not telling:
                break
            silent = 0 if any(_tells(cells[i]) for i in telling) else silent + 1
            starts.append(at)
            rows.append(cells)
        elif not _RULE.match(line) or (rows and not line.strip()):
            break
        at = end + 1
    return starts, rows, min(at, len(text))


def _tells(cell: str) -> bool:
    """Whether a cell is a number or holds structure, and so is no name."""
    return _NUMBER_LIKE.match(cell) is not None or not _plain(cell)


def _axes(names: Sequence[str]) -> dict[str, int]:
    """Which columns are called x and y, if just one is each."""
    found: dict[str, int] = {}
    for at, name in enumerate(names):
        column = _COLUMN.match(name)
        which = column[1].lower() if column else axis(name)
        if which is not None:
            if which in found:
                return {}
            found[which] = at
    if len(found) == 2:
        return found
    small = [name.casefold() for name in names]
    for x, y in _AXES:
        if small.count(x) == small.count(y) == 1:
            return {"x": small.index(x), "y": small.index(y)}
    return {}


def _keys(names: list[str], rows: list[list[str]], mark: str | None) -> list[str] | None:
    """The columns' names with those of the coordinates called x and y; None if it is no table."""
    columns = [numbers_of([row[at] for row in rows]) for at in range(len(names))]
    axes = _axes(names)
    if axes and not all(columns[at] is not None for at in axes.values()):
        axes = {}
    numeric = [at for at, column in enumerate(columns) if column is not None]
    wide = not axes and numbered(names)
    if wide:
        return names
    if not axes and len(numeric) > _MOST_NUMBERS:
        return None
    if not axes and len(rows) >= 3 and mark is not None:
        named = [at for at in numeric if not is_no_place(names[at])]
        if not tells_size(names[at] for at in numeric):
            axes = _likely_axes([columns[at] or [] for at in named], named)
    packed = any(not _plain(cell) for row in rows for cell in row)
    if not axes and not packed and (not numeric or len(rows) < 2 or mark is None):
        return None
    if axes and len(rows) < 3:
        return None
    keys = [name.casefold() if axis(name) else name for name in names]
    keys = [f"{key}." if key in ("x", "y") else key for key in keys]
    for which, at in axes.items():
        keys[at] = which
    return keys


def _likely_axes(columns: Sequence[Sequence[float]], places: Sequence[int]) -> dict[str, int]:
    """The first two columns of numbers that may be coordinates of rooms' corners, row by row."""
    likely = [
        at
        for at, column in zip(places, columns, strict=True)
        if np.isfinite(column).all() and not counts(np.array(column)) and not parts(column)
    ]
    return {"x": likely[0], "y": likely[1]} if len(likely) >= 2 else {}


def _plain(cell: str) -> bool:
    return _STRUCTURE.search(cell) is None


def _values(keys: list[str], rows: list[list[str]]) -> list[list[Cell]]:
    """The cells of all rows: numbers where a whole column is, names carried down."""
    columns: list[list[float | str]] = []
    wide = numbered(keys)
    corners = numbers_of([row[at] for at in wide for row in rows])
    for at, key in enumerate(keys):
        texts = [row[at] for row in rows]
        numbers = numbers_of(texts)
        if at in wide and corners is not None:
            first = wide.index(at) * len(rows)
            of_rows = zip(texts, corners[first : first + len(rows)], strict=True)
            columns.append([number if text else "" for text, number in of_rows])
        elif numbers is not None and all(texts):
            columns.append(list(numbers))
        elif key not in ("x", "y") and "x" in keys and _goes_on(keys, rows, at):
            columns.append(list(_carried(texts)))
        else:
            columns.append(list(texts))
    blank = {at for at, column in enumerate(columns) if _marks_few(keys[at], column)}
    every = list(enumerate(zip(keys, columns, strict=True)))
    return [
        [(key, column[row]) for at, (key, column) in every if column[row] != "" or at in blank]
        for row in range(len(rows))
    ]


def _marks_few(key: str, column: Sequence[float | str]) -> bool:
    """Whether a column says one thing of some rows, and of the others by saying nothing."""
    return "" in column and len(set(column)) == 2 and name_rank(key) is None


def _goes_on(keys: Sequence[str], rows: Sequence[Sequence[str]], at: int) -> bool:
    """Whether what a column leaves empty means the cell above: nothing else begins anew there."""
    texts = [row[at] for row in rows]
    if not texts[0] or all(texts):
        return False
    for other, key in enumerate(keys):
        column = [row[other] for row in rows]
        if other == at or key in ("x", "y") or not all(column):
            continue
        numbers = numbers_of(column)
        if numbers is not None and (counts(np.array(numbers)) or len({*column}) == len(column)):
            continue
        begun = [i for i in range(1, len(rows)) if column[i] != column[i - 1]]
        if len(begun) < len(rows) // 3 and any(not texts[i] for i in begun):
            return False
    return True


def _carried(texts: Sequence[str]) -> list[str]:
    """Texts with what is empty filled from above."""
    carried: list[str] = []
    for text in texts:
        carried.append(text or carried[-1])
    return carried
