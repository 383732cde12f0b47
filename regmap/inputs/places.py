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

_GAP = re.compile(r"[\s,;]+")


def parse_places(text: str | bytes) -> NDArray[np.float64]:
    """Return (N, 2) x, y in the order in which they stand in the text.

    A line holds a pair, with commas, semicolons, tabs or spaces between; what comes after the
    second number is left out (a heading, a time), and so is a head line. JSON may be a list of
    pairs or any GeoJSON geometry or Feature.

    Raises:
        RegmapError: if there is no pair, or a line is none; the text names the line.
    """
    try:
        plain = text.decode("utf-8-sig") if isinstance(text, bytes) else text
    except UnicodeDecodeError as error:
        raise RegmapError(f"the places are no UTF-8 text: {error}") from None
    if plain.lstrip()[:1] in ("[", "{"):
        return _checked(_from_json(plain))
    rows = [(n, line, _pair(line)) for n, line in enumerate(plain.splitlines(), 1) if line.strip()]
    if len(rows) > 1 and rows[0][2] is None:
        rows = rows[1:]  # the head line
    for n, line, pair in rows:
        if pair is None:
            raise RegmapError(f"line {n} is {line.strip()[:60]!r}, but two numbers x, y are needed")
    return _checked([pair for _, _, pair in rows])


def _pair(line: str) -> list[float] | None:
    parts = [part for part in _GAP.split(line) if part]
    try:
        return [float(part) for part in parts[:2]] if len(parts) >= 2 else None
    except ValueError:
        return None


def _from_json(text: str) -> Any:
    try:
        stored = json.loads(text)
        if isinstance(stored, dict):
            return shapely.get_coordinates(shapely.geometry.shape(stored.get("geometry") or stored))
    except Exception as error:  # shapely lets through whatever the coordinates break in it
        raise RegmapError(f"these are no JSON pairs, and no GeoJSON geometry ({error})") from None
    return stored


def _checked(pairs: Any) -> NDArray[np.float64]:
    try:
        places = np.asarray(pairs, dtype=np.float64)
    except (TypeError, ValueError):
        places = np.empty(0)
    if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
        raise RegmapError("the places must be pairs of finite numbers x, y, at least one")
    return places
