"""The table of a batch: a picture a row."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from regmap.errors import RegmapError
from regmap.given import as_path, short
from regmap.inputs.opened import opened

__all__ = ["COLUMNS", "BatchRow", "content_key", "read_table"]

COLUMNS = ("picture", "outlines", "name", "key", "model", "mirrored", "unit")
"""The first two are needed; the others are options of `regmap register`, or the result's name."""

MAX_BYTES = 2**22
"""The longest table taken."""

_MIRRORED = {
    "": None,
    "yes": True,
    "true": True,
    "1": True,
    "no": False,
    "false": False,
    "0": False,
}
# Fit for a file name on every system.
_NAME = re.compile(r"[\w][\w .,()+=@#&'-]{0,99}(?<![ .])")


@dataclass(frozen=True, eq=False)
class BatchRow:
    """One row: paths of the picture and of the capture with its outlines, and what else it says.

    `options`: keywords of `register` that the row gives, and `key` of `read_outlines`.
    """

    line: int
    name: str
    picture: Path
    outlines: Path
    options: Mapping[str, Any]


def read_table(path: str | os.PathLike[str]) -> tuple[BatchRow, ...]:
    """Read a CSV table with a head line: columns `picture` and `outlines`, and others of COLUMNS.

    Commas, semicolons or tabs stand between the columns. Paths are relative to the table's folder.
    Without a column `name`, a result is called like its picture, without the ending.

    Raises:
        RegmapError: if the table cannot be read, or says something that is not allowed; the text
            names the line.
    """
    place = as_path(path, "path")
    try:
        with opened(place) as file:
            data = file.read(MAX_BYTES + 1)
        text = data.decode("utf-8-sig")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise RegmapError(f"{place} cannot be read as UTF-8 text: {why}") from error
    if len(data) > MAX_BYTES:
        raise RegmapError(f"{place} is longer than {MAX_BYTES} bytes: split the table")
    head = text.partition("\n")[0]
    delimiter = max(",;\t", key=head.count)
    reader = csv.DictReader(text.splitlines(), delimiter=delimiter, skipinitialspace=True)
    try:
        columns = [str(name).strip() for name in reader.fieldnames or ()]
        reader.fieldnames = columns
        unknown = [name for name in columns if name not in COLUMNS]
        if unknown or not {"picture", "outlines"} <= set(columns):
            raise RegmapError(
                f"{place} is no table of pictures: its head line is {short(head.strip())}, but "
                "the columns picture and outlines are needed; others that are known are "
                f"{', '.join(COLUMNS[2:])}"
            )
        rows = tuple(_row(reader.line_num, cells, place) for cells in reader if any(cells.values()))
    except csv.Error as error:
        raise RegmapError(
            f"{place}, line {reader.line_num + 1}: no table of cells ({error})"
        ) from None
    _check_names(rows, place)
    return rows


def _row(line: int, cells: Mapping[str | None, Any], table: Path) -> BatchRow:
    where = f"{table}, line {line}"
    if None in cells or None in cells.values():
        raise RegmapError(f"{where}: there are more or fewer cells than columns")
    said = {str(name): str(value).strip() for name, value in cells.items()}
    if not said["picture"] or not said["outlines"]:
        raise RegmapError(f"{where}: picture or outlines is empty")
    options: dict[str, Any] = {n: said[n] for n in ("key", "model", "unit") if said.get(n)}
    mirrored = said.get("mirrored", "").lower()
    if mirrored not in _MIRRORED:
        raise RegmapError(f"{where}: mirrored is {mirrored!r}, but it must be yes, no or empty")
    if _MIRRORED[mirrored] is not None:
        options["mirrored"] = _MIRRORED[mirrored]
    if options.get("model", "affine") not in ("affine", "similarity"):
        raise RegmapError(f"{where}: model is {options['model']!r}, not similarity or affine")
    name = said.get("name") or Path(said["picture"]).stem
    if not _NAME.fullmatch(name):
        raise RegmapError(
            f"{where}: the name {name!r} cannot be a file's name: use letters, digits and spaces, "
            "at most 100 (column name)"
        )
    folder = table.parent
    return BatchRow(
        line, name, folder / said["picture"], folder / said["outlines"], MappingProxyType(options)
    )


def _check_names(rows: tuple[BatchRow, ...], table: Path) -> None:
    first: dict[str, int] = {}
    for row in rows:
        # Some file systems do not tell A from a.
        line = first.setdefault(row.name.casefold(), row.line)
        if line != row.line:
            raise RegmapError(
                f"{table}, lines {line} and {row.line}: both results would be called {row.name!r}; "
                "give them names of their own in a column name"
            )
    if not rows:
        raise RegmapError(f"{table} has no rows below its head line")


def content_key(row: BatchRow) -> str:
    """Return SHA-256 of what goes into a fit: the bytes of both files, and the options.

    Raises:
        RegmapError: if a file cannot be read.
    """
    digest = hashlib.sha256()
    for path in (row.picture, row.outlines):
        try:
            # A device may never end, and a pipe can be read only once.
            if path.exists() and not path.is_file():
                raise RegmapError(f"{path} is no file: give the path of one")
            content = path.read_bytes()
        except OSError as error:
            raise RegmapError(f"{path} cannot be read: {error.strerror or error}") from error
        digest.update(len(content).to_bytes(8, "big") + content)
    digest.update(json.dumps(dict(row.options), sort_keys=True).encode("utf-8"))
    return "sha256:" + digest.hexdigest()
