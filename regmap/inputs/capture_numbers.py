"""Runs of numbers in text -> points, whatever stands between the numbers."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

__all__ = ["NUMBER", "PURE", "Numbers", "Points", "as_number", "numbers_in", "plane"]

Points = NDArray[np.float64]

PURE = r"[-+]?(?:\d++(?:\.\d*+)?|\.\d++)(?:[eE][-+]?\d++)?+"
"""A decimal number."""

NUMBER = PURE + r"(?:mm|cm|px|m)?+"
"""A decimal number, with a unit of length right behind it or none."""

_NUMBER = re.compile(PURE)
_ALONE = re.compile(rf"\s*+({_NUMBER.pattern})(?:\s*+(?:mm|cm|px|m))?+\s*+\Z")
_CLOSING = re.compile(r"[\])}]")

LONGEST_RUN = 4_000_000
"""A run of more characters is a raster, a scan or the like: no room has so many corners."""

MOST_DIMENSIONS = 4
"""A point may come with a height or a number of its own; more values than this are no point."""


class Numbers:
    """A run of numbers as it stands in the text, read when asked for.

    Attributes:
        text: numbers with what separates them; `bracketed`: every point in brackets of its own.
        offset: where the run begins.
        wrapped: line breaks in it mean nothing, for it stands in brackets or quotes.
    """

    __slots__ = ("bracketed", "offset", "text", "wrapped")

    def __init__(self, text: str, offset: int, *, bracketed: bool, wrapped: bool) -> None:
        self.text = text
        self.offset = offset
        self.bracketed = bracketed
        self.wrapped = wrapped

    def values(self) -> list[float]:
        """Return all numbers in order."""
        return numbers_in(self.text)

    def sequences(self) -> list[Points]:
        """Return the point sequences that the run holds, each (N, 2); mostly one, or none."""
        if len(self.text) > LONGEST_RUN:
            return []
        if self.bracketed:
            return [points] if (points := _bracketed(self.text)) is not None else []
        return _levelled(self.values(), _separators(self.text), wrapped=self.wrapped)

    def name_part(self) -> str:
        """Return the first number if it ends the words before it: `Room 2;100;200`."""
        between = _separators(self.text)
        odd_one = between.count(between[0]) in (1, len(between)) and between != [between[0]]
        if self.bracketed or len(between) % 2 or not odd_one:
            return ""
        found = _NUMBER.match(self.text)
        return found[0] if found and found[0].isdigit() else ""


def numbers_in(text: str) -> list[float]:
    """Return all numbers of a run in order."""
    return [float(found) for found in _NUMBER.findall(text)]


def as_number(text: str) -> float | None:
    """Return the number that a text is, with or without a unit of length, or None."""
    found = _ALONE.match(text)
    return float(found[1]) if found else None


def plane(points: Points) -> Points:
    """Return the x and y of points with three columns or more: (N, 2).

    The third is a height, unless the first counts the points, is a time, or is the same for all.
    """
    if points.shape[1] > 2:
        steps = np.diff(points[:, 0])
        counted = (steps == 1).all() or not steps.any() or ((steps > 0).all() and len(steps) > 2)
        return np.array(points[:, 1:3] if counted else points[:, :2])
    return points


def _bracketed(text: str) -> Points | None:
    values = np.array(numbers_in(text))
    count = len(_CLOSING.findall(text))
    width, rest = divmod(len(values), count)
    if rest == 0:
        return plane(values.reshape(count, width))
    pairs = [numbers_in(part)[:2] for part in _CLOSING.split(text)[:-1]]
    return np.array(pairs)


def _separators(text: str) -> list[str]:
    """What stands between the numbers, spaces left out where they mean nothing."""
    between = []
    for gap in _NUMBER.split(text)[1:-1]:
        mark = gap.strip(" \t\r\nmcpx")
        between.append(mark + ("\n" if "\n" in gap else "") or ("\t" if "\t" in gap else " "))
    return between


def _levelled(values: list[float], between: list[str], *, wrapped: bool) -> list[Points]:
    """Split at the rarest separator first: it parts the largest units."""
    kinds = sorted(set(between), key=between.count)
    if len(values) < 6:
        return []
    if len(kinds) > 1:
        at = [i + 1 for i, mark in enumerate(between) if mark == kinds[0]]
        starts, ends = [0, *at], [*at, len(values)]
        lengths = {end - start for start, end in zip(starts, ends, strict=True)}
        if len(lengths) == 1 and lengths <= set(range(2, MOST_DIMENSIONS + 1)):
            return [plane(np.array(values).reshape(len(starts), -1))]
        if wrapped and "\n" in kinds[0]:
            # Lines were broken where they got too long: a break is no more than a space.
            unbroken = [mark.replace("\n", "") or " " for mark in between]
            return _levelled(values, unbroken, wrapped=True)
        return [
            found
            for start, end in zip(starts, ends, strict=True)
            for found in _levelled(values[start:end], between[start : end - 1], wrapped=wrapped)
        ]
    if len(values) % 2:
        return []
    return [np.array(values).reshape(-1, 2)]
