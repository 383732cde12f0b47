"""Rows that database statements insert (ISO/IEC 9075) -> records with their columns' names."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence

__all__ = ["inserted"]

_NAME = r"(?:[\"`\[]?\w+[\"`\]]?\.)*[\"`\[]?\w+[\"`\]]?"
_INSERT = re.compile(
    rf"\binsert\s+(?:or\s+\w+\s+)?into\s+({_NAME})\s*(?:\(([^()]*)\)\s*)?values\s*(?=\()",
    re.IGNORECASE,
)
_CREATE = re.compile(
    rf"\bcreate\s+(?:\w+\s+)?table\s+(?:if\s+not\s+exists\s+)?({_NAME})\s*(?=\()", re.IGNORECASE
)
_COPY = re.compile(rf"^copy\s+{_NAME}\s*\(([^()\n]*)\)\s+from\s+stdin\b[^\n]*$", re.I | re.M)
_MARK = re.compile(r"'(?:[^']|'')*+'|\"[^\"\n]*+\"|([(\[{])|([)\]}])|(,)")
_NEXT = re.compile(r"\s*,\s*(?=\()")
_QUOTES = '"`[]'
_NO_COLUMN = frozenset(("constraint", "primary", "foreign", "unique", "check", "key", "index"))
_LONGEST_ROW = 2**20


def inserted(text: str) -> str:
    """Return the text with a record in place of each row that an INSERT or a COPY brings.

    The names of the columns stand in the statement, or in that which made the table. Rows of which
    they are not known stay. Lines keep their numbers.
    """
    text = _COPY.sub(lambda found: "\t".join(_names(found[1].split(","))), text)
    if _INSERT.search(text) is None:
        return text
    made = {}
    for found in _CREATE.finditer(text):
        fields = [text[a:b].split() for a, b in _fields(text, found.end())[0]]
        named = [words[0] for words in fields if words and words[0].lower() not in _NO_COLUMN]
        made[_bare(found[1])] = _names(named)
    parts: list[str] = []
    done = 0
    for found in _INSERT.finditer(text):
        columns = _names(found[2].split(",")) if found[2] else made.get(_bare(found[1]), [])
        rows = list(_rows(text, found.end())) if found.start() >= done else []
        if len(columns) < 2 or not rows or any(len(row) != len(columns) for row, _ in rows):
            continue
        parts += [text[done : found.start()], "\n" * found[0].count("\n")]
        parts += [_bare(found[1]), ": "] + ["["] * (len(rows) > 1)
        done = found.end()
        for row, end in rows:
            gap = text[done : row[0][0] - 1]
            parts += [gap, _record(columns, [text[a:b].strip() for a, b in row])]
            done = end
        parts += ["]"] * (len(rows) > 1)
    return "".join([*parts, text[done:]])


def _rows(text: str, at: int) -> Iterator[tuple[Sequence[tuple[int, int]], int]]:
    """The rows from a bracket on: where the values of each stand, and where it ends."""
    following: re.Match[str] | None = None
    while at < len(text):
        fields, end = _fields(text, at)
        if not fields:
            return
        yield fields, end
        following = _NEXT.match(text, end)
        if following is None:
            return
        at = following.end()


def _fields(text: str, at: int) -> tuple[list[tuple[int, int]], int]:
    """Where the parts of a list in brackets stand that begins at a place, and where it ends."""
    depth, start = 0, at + 1
    fields: list[tuple[int, int]] = []
    for found in _MARK.finditer(text, at, at + _LONGEST_ROW):
        opening, closing, comma = found.groups()
        depth += (opening is not None) - (closing is not None)
        if depth == 0 and closing is not None:
            return [*fields, (start, found.start())], found.end()
        if comma is not None and depth == 1:
            fields.append((start, found.start()))
            start = found.end()
    return [], at


def _names(columns: Sequence[str]) -> list[str]:
    return [_bare(column.strip()) for column in columns]


def _bare(name: str) -> str:
    return name.rpartition(".")[2].strip(_QUOTES)


def _record(columns: Sequence[str], values: Sequence[str]) -> str:
    fields = (f"{json.dumps(c)}: {v}" for c, v in zip(columns, values, strict=True))
    return "{" + ", ".join(fields) + "}"
