"""Places of a robot as text: one x, y pair a line, a JSON list of pairs, or a GeoJSON line."""

from __future__ import annotations

import json
import re
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from regmap.errors import RegmapError

__all__ = ["parse_places"]

# x, x_mm, pos.x, X[m]; but no word that has an x in it.
_AXES = tuple(re.compile(rf"(?:^|[^a-z]){axis}(?:[^a-z]|$)") for axis in "xy")

MAX_LENGTH = 2**24
"""Bytes or characters of the longest text taken: a million places."""


def parse_places(text: str | bytes) -> NDArray[np.float64]:
    """Return (N, 2) x, y in the order in which they stand in the text.

    A line holds a pair, with semicolons, tabs, commas or spaces between; beside semicolons and tabs
    a comma is a decimal one. A head line may say which columns are x and y. Without one they are
    the first two, and what comes after is left out (a heading, a time). JSON may be a list of
    pairs, or any GeoJSON geometry, Feature or collection of one Feature.

    Raises:
        RegmapError: if there is no pair, or a line is none, or a head line of more than two columns
            names no x and y; the message names the line. Or if
            the text is longer than `MAX_LENGTH`.
    """
    if len(text) > MAX_LENGTH:
        raise RegmapError(
            f"the places are longer than {MAX_LENGTH // 2**20} MiB: cut the path into parts"
        )
    try:
        plain = text.decode("utf-8-sig") if isinstance(text, bytes) else text.lstrip("\ufeff")
    except UnicodeDecodeError as error:
        raise RegmapError(f"the places are no UTF-8 text: {error}") from None
    if plain.lstrip()[:1] in ("[", "{"):
        return _checked(_from_json(plain))
    rows = [(n, line) for n, line in enumerate(plain.splitlines(), 1) if line.strip()]
    columns = (0, 1)
    if len(rows) > 1 and _pair(rows[0][1], columns) is None:
        columns = _named(rows[0][1])
        rows = rows[1:]
    pairs = [_pair(line, columns) for _, line in rows]
    for (n, line), pair in zip(rows, pairs, strict=True):
        if pair is None:
            raise RegmapError(f"line {n} is {line.strip()[:60]!r}, but two numbers x, y are needed")
    return _checked(pairs)


def _cells(line: str) -> list[str]:
    for mark in (";", "\t", ","):
        if mark in line:
            # Where something else stands between them, a comma belongs to its number.
            return [cell.strip().replace(",", ".") for cell in line.split(mark)]
    return line.split()


def _named(head: str) -> tuple[int, int]:
    """Return which columns a head line calls x and y."""
    names = [name.casefold() for name in _cells(head)]
    found = [[n for n, name in enumerate(names) if axis.search(name)] for axis in _AXES]
    if all(len(one) == 1 for one in found):
        return found[0][0], found[1][0]
    if len(names) > 2:
        raise RegmapError(
            f"the head line is {head.strip()[:60]!r}, but of more than two columns one must be "
            "called x and one y"
        )
    return 0, 1


def _pair(line: str, columns: tuple[int, int]) -> list[float] | None:
    cells = _cells(line)
    try:
        return [float(cells[column]) for column in columns]
    except (ValueError, IndexError):
        return None


def _from_json(text: str) -> Any:
    try:
        stored = json.loads(text)
        if isinstance(stored, dict):
            if stored.get("type") == "FeatureCollection":
                (stored,) = stored["features"]
            return shapely.get_coordinates(shapely.geometry.shape(stored.get("geometry") or stored))
    except Exception as error:  # shapely lets through whatever the coordinates break in it
        raise RegmapError(
            f"these are no JSON pairs, and no GeoJSON of one geometry ({error})"
        ) from None
    return stored


def _checked(pairs: Any) -> NDArray[np.float64]:
    try:
        places = np.asarray(pairs, dtype=np.float64)
    except (TypeError, ValueError):
        places = np.empty(0)
    if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
        raise RegmapError("the places must be pairs of finite numbers x, y, at least one")
    return places
