"""Tables in text: a line of column names, then a line a row."""

from __future__ import annotations

import csv
import re

from regmap.inputs.capture_numbers import as_number
from regmap.inputs.capture_words import axis

__all__ = ["table"]

_HEADER = re.compile(
    r"(?=[^\n{}<>=:]{3,1000}+(?:\n|\Z))[^\n]*?(?<![^\W_])(?:p?x|east)(?![^\W_]|[ai])?[^\n]*+",
    re.IGNORECASE,
)
_CODE = re.compile(r"\d\]")
_DECIMAL_COMMA = re.compile(r"\s*[-+]?\d+,\d+\s*\Z")
_COLUMN = re.compile(r"(?:.*[\W_])?([xy])(?:[\W_].*)?\Z", re.IGNORECASE)

Cell = tuple[str | None, float | str]


def table(text: str, position: int) -> tuple[list[tuple[int, list[Cell]]], int] | None:
    """Return the rows of the table that begins at a position, and where it ends; or None.

    A row is (offset, cells), a cell (column's name, value). A table is known by its first line:
    names without numbers, an x and a y among them.
    """
    header = _HEADER.match(text, position)
    if header is None:
        return None
    for mark in (";", "\t", "|", ",", None):
        names = _cells(header[0], mark)
        keys = _keys(names)
        if keys is not None:
            break
    else:
        return None
    rows: list[tuple[int, list[Cell]]] = []
    at = text.find("\n", position) + 1
    while 0 < at < len(text):
        end = text.find("\n", at)
        end = len(text) if end < 0 else end
        line = text[at:end]
        cells = _cells(line, mark)
        row = _row(keys, cells, mark) if len(cells) == len(names) else []
        if all(isinstance(value, float) for key, value in row if key in ("x", "y")) and row:
            rows.append((at, row))
        elif re.search(r"[^\W_]", line) or (rows and not line.strip()):
            break
        at = end + 1
    return (rows, min(at, len(text))) if len(rows) >= 3 else None


def _cells(line: str, mark: str | None) -> list[str]:
    line = line.strip("\r ")
    if mark is None:
        return line.split()
    if mark == "|":
        line = line.strip("|")
    return [cell.strip() for cell in next(csv.reader([line], delimiter=mark), [])]


def _keys(names: list[str]) -> list[str] | None:
    """The columns' names with the coordinates' called x and y, or None if it is no header."""
    if len(names) < 2 or any(as_number(name) is not None or _CODE.search(name) for name in names):
        return None
    keys = []
    for name in names:
        column = _COLUMN.match(name)
        keys.append(column[1].lower() if column else axis(name) or name)
    return keys if keys.count("x") == 1 and keys.count("y") == 1 else None


def _row(keys: list[str], cells: list[str], mark: str | None) -> list[Cell]:
    row: list[Cell] = []
    for key, cell in zip(keys, cells, strict=True):
        number = as_number(cell)
        if number is None and mark != "," and _DECIMAL_COMMA.match(cell):
            number = float(cell.replace(",", "."))
        row.append((key, cell if number is None else number))
    return row
