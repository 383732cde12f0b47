"""Runs of numbers in text -> points, whatever stands between the numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "NUMBER",
    "PURE",
    "Numbers",
    "Points",
    "as_number",
    "counts",
    "local_number",
    "numbers_in",
    "parts",
    "plane",
    "squareness",
    "plane_columns",
]

Points = NDArray[np.float64]

PURE = r"[-+]?(?:\d++(?:\.\d*+)?|\.\d++)(?:[eE][-+]?\d++)?+"
"""A decimal number."""

NUMBER = (
    r"(?:[-+]?\d++(?:\.\d*+[fF](?!\w)|[fF](?=[,)]))|"
    + PURE
    + r"(?:(?:mm|cm|px|m)|[ ](?:mm|cm|px|m)(?!\w))?+)"
)
"""A decimal number, with a unit of length behind it or none."""

_NUMBER = re.compile(PURE)
_ALONE = re.compile(rf"\s*+({_NUMBER.pattern})(?:\s*+(?:mm|cm|px|m))?+\s*+\Z")
_CLOSING = re.compile(r"[\])}]")

LONGEST_RUN = 4_000_000
"""A run of more characters is a raster, a scan or the like: no room has so many corners."""

MOST_DIMENSIONS = 4
"""A point may come with a height or a number of its own; more values than this are no point."""


_SQUARE = 0.7
"""An odd count of numbers is paired, less one of them, if so many corners are right angles then."""


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

    def sequences(self) -> list[tuple[str | None, Points]]:
        """Return the point sequences that the run holds, mostly one or none: (number, (N, 2)).

        The number is that of the room, if every point brings it.
        """
        if len(self.text) > LONGEST_RUN:
            return []
        if self.bracketed:
            return _bracketed(self.text)
        return _levelled(self.values(), _separators(self.text), wrapped=self.wrapped)

    def name_part(self, mark: str = "", measured: bool = False) -> str:
        """Return the first number if it ends the words before it: `Room 2;100;200`.

        `mark`: what stands before those words. If all numbers stand behind the same, they are cells
        of one row. A count of points may follow. `measured`: the last number is no coordinate.
        """
        between = _separators(self.text)
        found = _NUMBER.match(self.text)
        if not between or self.bracketed or not found or not found[0].isdigit():
            return ""
        behind = len(between)
        if measured and behind == 1 and between != [" "]:
            return found[0]
        count = self.values()[1]
        counted = len(set(between)) == 1 and count >= 3 and 2 * count == behind - 1
        if counted or ({mark} == set(between) and behind % 2 == 0):
            return found[0]
        if between[0] == "\t":
            between = ["\t"] * 2  # a space stands before the number, a tab behind it
        pairs = len({*between[1::2]}) == len({*between[2::2]}) == 1 and between[1] != between[2]
        if 2 * int(found[0]) == behind and between[0] == " ":
            return ""  # it counts the points
        if pairs and behind % 2 == 0:
            return found[0]
        odd_one = between.count(between[0]) in (1, len(between)) and between != [between[0]]
        return "" if len(between) % 2 or not odd_one else found[0]


def numbers_in(text: str) -> list[float]:
    """Return all numbers of a run in order."""
    return [float(found) for found in _NUMBER.findall(text)]


def as_number(text: str) -> float | None:
    """Return the number that a text is, with or without a unit of length, or None."""
    found = _ALONE.match(text)
    return float(found[1]) if found else None


def local_number(text: str) -> float:
    """Return a number with grouped digits: the last of point and comma parts the fraction off."""
    bare = text.replace("'", "").replace("\u2019", "").replace("\u202f", "")
    comma = bare.rfind(",") > bare.rfind(".")
    return float(bare.replace(".", "").replace(",", ".") if comma else bare.replace(",", ""))


def plane(points: Points) -> Points:
    """Return the x and y of points with three columns or more: (N, 2)."""
    return points if points.shape[1] == 2 else np.array(points[:, plane_columns(points)])


def plane_columns(points: Points) -> list[int]:
    """Which two columns are x and y: the first that do not count the points, rise, or stay."""
    ways = [
        [at for at, column in enumerate(points.T) if not counts(column, rising=rising)]
        for rising in (True, False)
    ]
    for free in ways:  # what rises is no time if but for it x and y would not stand side by side
        beside = [at for at in free if at + 1 in free]
        if beside:
            return [beside[0], beside[0] + 1]
    return next((free[:2] for free in ways if len(free) > 1), [0, 1])


def counts(column: NDArray[np.float64], *, rising: bool = True) -> bool:
    """Whether numbers stay the same, count, or rise like a time, and so are no coordinates.

    A count may begin anew, at 0 or 1, with every room.
    """
    steps = np.diff(column)
    if not steps.any() or (rising and len(steps) > 2 and (steps > 0).all()):
        return True
    begins = np.concatenate(([True], steps != 1))
    return bool(begins.sum() <= len(column) / 3 and np.isin(column[begins], (0, 1)).all())


def parts(column: Sequence[float] | NDArray[np.float64]) -> list[tuple[float, int, int]]:
    """Return the stretches of one number as (number, start, end), if they part points into rooms.

    Every number comes once, with at least three points; else nothing is returned.
    """
    values = np.asarray(column, dtype=np.float64)
    starts = [0, *(np.flatnonzero(np.diff(values)) + 1).tolist()]
    ends = [*starts[1:], len(values)]
    found = [(float(values[a]), a, b) for a, b in zip(starts, ends, strict=True)]
    if len({number for number, _, _ in found}) < len(found):
        return []
    return found if all(b - a >= 3 for _, a, b in found) else []


def _by_room(points: Points) -> list[tuple[str | None, Points]]:
    """Points with more columns than two, parted by the room's number if one of them is that."""
    if points.shape[1] > 2:
        varied = all(len(np.unique(column)) > 2 for column in points[:, 1:].T[:2])
        stretches = parts(points[:, 0]) if varied else []
        if len(stretches) > 1:
            ground = plane(points[:, 1:])
            return [(f"{number:.15g}", ground[a:b]) for number, a, b in stretches]
    return [(None, plane(points))]


def _bracketed(text: str) -> list[tuple[str | None, Points]]:
    values = np.array(numbers_in(text))
    count = len(_CLOSING.findall(text))
    width, rest = divmod(len(values), count)
    if rest == 0:
        return _by_room(values.reshape(count, width))
    pairs = [numbers_in(part)[:2] for part in _CLOSING.split(text)[:-1]]
    return [(None, np.array(pairs))]


def _separators(text: str) -> list[str]:
    """What stands between the numbers, spaces left out where they mean nothing."""
    between = []
    for gap in _NUMBER.split(text)[1:-1]:
        mark = gap.strip(" \t\r\nmcpxfF")
        between.append(mark + ("\n" if "\n" in gap else "") or ("\t" if "\t" in gap else " "))
    return between


def _levelled(
    values: list[float], between: list[str], *, wrapped: bool
) -> list[tuple[str | None, Points]]:
    """Split at the rarest separator first: it parts the largest units."""
    kinds = sorted(set(between), key=between.count)
    if len(values) < 6:
        return []
    if len(kinds) > 1:
        at = [i + 1 for i, mark in enumerate(between) if mark == kinds[0]]
        starts, ends = [0, *at], [*at, len(values)]
        lengths = {end - start for start, end in zip(starts, ends, strict=True)}
        if len(lengths) == 1 and lengths <= set(range(2, MOST_DIMENSIONS + 1)):
            return _by_room(np.array(values).reshape(len(starts), -1))
        if wrapped and "\n" in kinds[0]:
            # Lines were broken where they got too long: a break is no more than a space.
            unbroken = [mark.replace("\n", "") or " " for mark in between]
            return _levelled(values, unbroken, wrapped=True)
        return [
            found
            for start, end in zip(starts, ends, strict=True)
            for found in _levelled(values[start:end], between[start : end - 1], wrapped=wrapped)
        ]
    return [(None, points)] if (points := _flat(values)) is not None else []


def _flat(values: list[float]) -> Points | None:
    """x, y, x, y, ...: a count may stand in front, and one value more at an end.

    If there are two ways to read them, that counts in which there are more right angles.
    """
    count = int(values[0]) if values[0].is_integer() and values[0] >= 3 else 0
    counted = 2 * count < len(values) <= 2 * count + MOST_DIMENSIONS + 1
    if len(values) % 2 == 0 and not counted:
        return np.array(values).reshape(-1, 2)
    ways = []
    if counted:
        ways.append(values[1 : 2 * count + 1])
        if len(values) == 2 * count + 1:
            return np.array(ways[0]).reshape(-1, 2)
    ways += [values] if len(values) % 2 == 0 else [values[:-1], values[1:]]
    points = [np.array(way).reshape(-1, 2) for way in ways]
    square = [squareness(ring) for ring in points]
    best = int(np.argmax(square))
    return points[best] if square[best] > _SQUARE or len(values) % 2 == 0 else None


def squareness(ring: Points) -> float:
    """Which share of the corners of a ring are right angles."""
    walls = np.roll(ring, -1, axis=0) - ring
    before = np.roll(walls, 1, axis=0)
    lengths = np.hypot(*walls.T) * np.hypot(*before.T)
    return float(np.mean(np.abs((walls * before).sum(axis=1)) < 0.1 * lengths))
