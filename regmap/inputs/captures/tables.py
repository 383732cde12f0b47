"""Tables in text: a line of column names, then a line a row.

A table is known by its form: cells with one sign between them, as many in every row as in the first
line, which holds names alone. Its coordinates are the columns called x and y, or else the first two
columns of numbers that neither count nor repeat.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regmap.inputs.captures.numerals import as_number, counts, parts
from regmap.inputs.captures.unpack import GROUP_PARTS, Budget
from regmap.inputs.captures.words import NUMBERED_AXIS, axis, is_no_place, tells_size

__all__ = ["Cell", "Row", "numbers_of", "table"]

_LONGEST_HEADER = 1000
_MOST_NUMBERS = 8
"""Columns of numbers beyond which a row is no point but a list of its own."""

_CODE = re.compile(r"\d\]")
_NO_HEADER = re.compile(r"[{}<>=]|:\s|\w\(\S|[\d\"'\])][\])]")
_COLUMN = re.compile(r"(?:.*[\W_])?([xy])(?:[\W_].*)?\Z", re.IGNORECASE)
_APART = "  "
"""Two blanks or more part the columns of a table that is set for the eye."""

_MARKS = (";", "\t", "|", ",", _APART, None)
_RULE = re.compile(r"[\W_]*\Z")

_MOST_SILENT = 20
_NUMBER_LIKE = re.compile(
    r"[-+]?\.?\d(?:[\d.,'’\s]|(?<=[\s,])[-+])*(?:[eE][-+]?\d+)?\s*(?:mm|cm|m|px)?\Z"
)
_STRUCTURE = re.compile(
    r"[\[{(<](?!\w{1,12}[\])])|;|\d[\s,;:/|xX@_~]+[-+.]?\d[\d.]*[\s,;/|]+[-+.]?\d"
)

_PAIRED = re.compile(r"(?:(.+?)[\W_]+([xy])|([xy])[\W_]+(.+))\Z", re.IGNORECASE)

_GROUPED = re.compile(r"(?<=\d)['’\u00a0\u202f\u2009 ](?=\d{3}(?!\d))")
_LOCAL = re.compile(r"[-+]?\d+(?:[.,]\d+)*\Z")
_FRACTION = re.compile(r",(?!\d{3}\Z)|\A[-+]?0,")

Cell = tuple[str | None, float | str]


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: where it begins, and its cells as (column's name, value)."""

    start: int
    cells: list[Cell]


def table(text: str, position: int, budget: Budget) -> tuple[list[Row], int] | None:
    """Return the rows of the table that begins at a position, and where it ends; or None.

    The columns of coordinates are called x and y. A cell that is left empty where a room's name
    stands means the one above. The rows are parts of the text that count against the budget.
    """
    end = text.find("\n", position)
    header = text[position : end if end >= 0 else len(text)]
    if end < 0 or not 3 <= len(header) <= _LONGEST_HEADER or _NO_HEADER.search(header):
        return None
    for mark in _MARKS:
        names = _header(header, mark)
        if names is None:
            continue
        starts, rows, after = _rows(text, end + 1, mark, len(names), budget)
        if len(rows) >= 3 and (outlines := _side_by_side(names, rows)):
            return [Row(starts[0], outlines)], after
        names, rows, starts = _pivoted(names, rows, starts)
        keys = _keys(names, rows, mark) if rows else None
        if keys is not None:
            found = _values(keys, rows)
            return [Row(*row) for row in zip(starts, found, strict=True)], after
    return None


def _header(line: str, mark: str | None) -> list[str] | None:
    """The columns' names, or None if this is no header."""
    if mark is not None and mark not in line:
        return None
    names = _cells(line, mark)
    if len(names) < 2 or len(set(names)) < len(names) or names.count("") > 1:
        return None
    if any(_tells(name) or _CODE.search(name) for name in names) or not any(map(_worded, names)):
        return None
    return names if mark is not None or len(_axes(names)) == 2 else None


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
        cells = _cells(line, mark)
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


def _cells(line: str, mark: str | None) -> list[str]:
    line = line.strip("\r ")
    if mark is None:
        return line.split()
    if mark == _APART:
        return re.split(r"[ \t]{2,}", line.strip())
    if mark == "|":
        line = line.strip("|")
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=mark), [])]
    except csv.Error:  # a cell longer than that module takes
        return []


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
    return found if len(found) == 2 else {}


def _keys(names: list[str], rows: list[list[str]], mark: str | None) -> list[str] | None:
    """The columns' names with those of the coordinates called x and y; None if it is no table."""
    columns = [numbers_of([row[at] for row in rows]) for at in range(len(names))]
    axes = _axes(names)
    if axes and not all(columns[at] is not None for at in axes.values()):
        axes = {}
    numeric = [at for at, column in enumerate(columns) if column is not None]
    wide = not axes and _numbered(names)
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


def _numbered(names: Sequence[str]) -> list[int]:
    """The columns of rows that hold an outline each, x and y of a corner beside each other."""
    places = [at for at, name in enumerate(names) if NUMBERED_AXIS.fullmatch(name)]
    return places if len(places) >= 6 and len(places) % 2 == 0 else []


def _pivoted(
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


def _side_by_side(names: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Cell]:
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
    wide = _numbered(keys)
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
    return [
        [(key, column[at]) for key, column in zip(keys, columns, strict=True) if column[at] != ""]
        for at in range(len(rows))
    ]


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


def numbers_of(texts: Sequence[str]) -> list[float] | None:
    """Return the numbers that a column's cells are, nan where one is empty; None if one is none.

    Which of point and comma parts the fraction off is asked of all cells together: what groups
    digits does so by three, everywhere.
    """
    numbers = [as_number(text) if text else float("nan") for text in texts]
    if all(number is not None for number in numbers):
        return [n for n in numbers if n is not None] if any(texts) else None
    bare = [_GROUPED.sub("", re.sub(r"(?<=\d)\s*(?:mm|cm|m|px)\Z", "", text)) for text in texts]
    if not all(_LOCAL.match(text) for text in bare if text):
        return None
    both = [text for text in bare if "," in text and "." in text]
    if both:
        comma = both[0].rindex(",") > both[0].rindex(".")
    else:
        if not any("," in text for text in bare):
            return [float(text) if text else float("nan") for text in bare]
        whole = any(text.lstrip("+-0").isdigit() for text in bare if len(text) > 1)
        comma = any(map(_FRACTION.search, bare)) or not whole
    try:
        return [float(_decimal(text, comma=comma)) if text else float("nan") for text in bare]
    except ValueError:
        return None


def _decimal(text: str, *, comma: bool) -> str:
    return text.replace(".", "").replace(",", ".") if comma else text.replace(",", "")
