"""A text read by its numbers alone, for texts whose form says nothing: the last resort.

Whatever stands between them, two to five numbers on a line are a point, and six or more are an
outline if what stands between them comes again and again. Lines without numbers part the points;
the last of them names those below it, or else the words beside the numbers do.
"""

from __future__ import annotations

import itertools
import re
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from regmap.inputs.captures.clues import Clue
from regmap.inputs.captures.find import Found
from regmap.inputs.captures.numerals import Points, counts, plane, squareness
from regmap.inputs.captures.phrases import unmarked
from regmap.inputs.captures.tokens import PREFIX, RECORD
from regmap.inputs.captures.words import BEHIND, KNOWN, words_of

__all__ = ["find_plain"]

MOST_CHARACTERS = 2**18
"""Longer texts are not read in this way."""

FEWEST = 3
_MOST_ON_A_LINE = 5
_LONGEST_NAME = 80
_MOST_HEADINGS = 3
_MOST = 0.8
"""Words part lines into outlines if this share of the lines is in outlines then."""

_AROUND = " \t\r:=-#<>(){}[],;|*"

_CELLS = re.compile(r"[;\t|]")

_ENDING = r"(?:[eE][-+]?\d+)?(?![\w.])"
_BEGIN = r"(?:(?<![\w.])|(?<=(?<![A-Za-z])[xyXYeEnN]))"
_POINT = re.compile(rf"{_BEGIN}[-+]?(?:\d+(?:\.\d+)?|\.\d+){_ENDING}")
_COMMA = re.compile(rf"{_BEGIN}[-+]?\d+(?:,\d+)?{_ENDING}")
_QUOTED = re.compile(r"\"([^\"\n]+)\"|'([^'\n]+)'")
_LETTER = re.compile(r"[^\W\d_]")
_DIGIT = re.compile(r"\d")
_ANY = re.compile(r"\d\D++\d")
_FRACTION = re.compile(r"\d,\d")


@dataclass(slots=True)
class _Line:
    """A line: where it begins, its text and where its numbers begin, what stands between them.

    `commas`: which of the numbers have one.
    """

    start: int
    raw: str
    starts: list[int]
    numbers: list[float]
    commas: list[bool]
    between: list[str]
    words: str


def find_plain(text: str) -> list[Found]:
    """Return sequences of at least three points; commas are tried as decimal marks too."""
    if len(text) > MOST_CHARACTERS or _ANY.search(text) is None:
        return []
    numbers = (_POINT, _COMMA) if _FRACTION.search(text) else (_POINT,)
    ways = [_read(text, number) for number in numbers]
    return max(ways, key=lambda found: sum(map(_likelihood, found)))


def _likelihood(found: Found) -> float:
    """How many of an outline's corners are right angles; none if it crosses itself."""
    return squareness(found.points) if Polygon(found.points).is_valid else 0.0


def _read(text: str, number: re.Pattern[str]) -> list[Found]:
    lines = _lines(text, number)
    rows = [_on_a_line(line) for line in lines]
    found = [one for one in rows if one is not None]
    return found or _over_lines(lines) or _number_by_number(lines)


def _lines(text: str, number: re.Pattern[str]) -> list[_Line]:
    lines: list[_Line] = []
    at = 0
    for raw in text.split("\n"):
        if _DIGIT.search(raw) is None:
            if raw or not lines or lines[-1].numbers:
                lines.append(_Line(at, raw, [len(raw)], [], [], [], ""))
            at += len(raw) + 1
            continue
        clock = RECORD.match(raw) or PREFIX.match(raw)
        content = raw[clock.end() :] if clock else raw
        found = list(number.finditer(_without_names(content)))
        ends = [0, *(one.end() for one in found)]
        starts = [*(one.start() for one in found), len(content)]
        parts = [content[a:b].strip() for a, b in zip(ends, starts, strict=True)]
        numbers = [float(one[0].replace(",", ".")) for one in found]
        words = " ".join(part for part in parts if _LETTER.search(part))
        commas = ["," in one[0] for one in found]
        lines.append(_Line(at, content, starts, numbers, commas, parts[1:-1], words))
        at += len(raw) + 1
    return lines


def _without_names(content: str) -> str:
    """A row with blanks for what is quoted and holds letters, and for its cells that hold letters,
    if tabs part them: Room 2 is a name."""
    content = _QUOTED.sub(_blanked, content)
    if "\t" not in content:
        return content
    cells = content.split("\t")
    return "\t".join(" " * len(cell) if _LETTER.search(cell) else cell for cell in cells)


def _blanked(found: re.Match[str]) -> str:
    return " " * len(found[0]) if _LETTER.search(found[0]) else found[0]


def _on_a_line(line: _Line) -> Found | None:
    """An outline on one line: two signs come in turn between its numbers.

    It may be one sign between numbers that all have a comma, as rows of a sheet do.
    """
    for skipped in range(3):  # numbers that belong to the name
        between, numbers = line.between[skipped:], line.numbers[skipped:]
        if len(numbers) < 2 * FEWEST:
            break
        in_turn = len(set(between[::2])) == len(set(between[1::2])) == 1
        parted = between[0] != between[1] or all(line.commas[skipped:])
        if len(numbers) % 2 == 0 and in_turn and parted:
            before = line.raw[: line.starts[skipped]]
            cells = [cell for cell in _CELLS.split(before) if _LETTER.search(cell)]
            names = cells[::-1] if _CELLS.search(before.rstrip(_AROUND)) else [before]
            return _found(np.array(numbers).reshape(-1, 2), line, *names)
    return None


def _over_lines(lines: list[_Line]) -> list[Found]:
    """Outlines of a point a line, parted by lines without numbers or by the words of the lines."""
    found: list[Found] = []
    headings: deque[str] = deque(maxlen=_MOST_HEADINGS)  # since the last outline, the last first
    margin = 0
    fresh = True
    for pointed, group in itertools.groupby(lines, key=lambda line: _is_point(line)):
        block = list(group)
        above = _above(block) if pointed else len(block)
        for raw in (line.raw for line in block[:above] if _LETTER.search(line.raw)):
            # Of the lines above an outline those furthest left may head it.
            own = len(raw) - len(raw.lstrip())
            if fresh or own < margin:
                headings.clear()
            if fresh or own <= margin:
                headings.appendleft(raw)
                margin = own
            fresh = False
        for _, rows in itertools.groupby(block[above:], key=lambda line: len(line.numbers)):
            several = list(rows)
            points = np.array([line.numbers for line in several])
            if len(several) < FEWEST:
                continue
            fresh = True
            if headings:
                found.append(_found(_ground(points), several[0], *headings))
                continue
            found += [
                _found(_ground(points)[places], several[places[0]], several[places[0]].words)
                for places in _by_words(several)
            ]
    return found


def _by_words(lines: Sequence[_Line]) -> list[list[int]]:
    """Which lines are of one outline: those that follow one another with the same words, or, where
    words come and go, all that have them; none if most lines would be left over."""
    ways: list[list[list[int]]] = [[], []]
    for _, same in itertools.groupby(range(len(lines)), key=lambda at: lines[at].words):
        ways[0].append(list(same))
    together: dict[str, list[int]] = {}
    for at, line in enumerate(lines):
        together.setdefault(line.words, []).append(at)
    ways[1] = list(together.values())
    for way in ways:
        found = [places for places in way if len(places) >= FEWEST]
        if sum(map(len, found)) >= _MOST * len(lines):
            return found
    return []


def _number_by_number(lines: list[_Line]) -> list[Found]:
    """Outlines of a number a line, x and y in turn, below a line of words that names them.

    All of them begin with their count of corners, or none does.
    """
    found: list[Found] = []
    heading = ""
    counted: set[bool] = set()
    for bare, group in itertools.groupby(lines, key=_is_number):
        block = list(group)
        if not bare:
            spoken = [line.raw for line in block if _LETTER.search(line.raw)]
            heading = spoken[-1] if spoken else heading
            continue
        values = [line.numbers[0] for line in block]
        if len(values) < 2 * FEWEST:
            continue
        counted.add(2 * values[0] == len(values) - 1)
        if not heading or len(counted) > 1 or len(values) % 2 != (True in counted):
            return []
        points = np.array(values[len(values) % 2 :]).reshape(-1, 2)
        found.append(_found(points, block[0], heading))
    return found


def _is_number(line: _Line) -> bool:
    return len(line.numbers) == 1 and not line.words


def _above(block: list[_Line]) -> int:
    """How many lines with numbers stand above those of an outline and are none of its points.

    They have words of their own, and what stands between their numbers is not what does between
    those of the lines below, which are all alike: `Bath 2, 1 door` above `a: 3, 4`.
    """
    at = 0
    for _, same in itertools.groupby(block, key=lambda one: (one.words, len(one.numbers))):
        rows = list(same)
        if len(rows) >= FEWEST:
            known = set(rows[0].words.split())
            others = all(
                one.words and known.isdisjoint(one.words.split()) and one.between != rows[0].between
                for one in block[:at]
            )
            return at if others else 0
        at += len(rows)
    return 0


def _is_point(line: _Line) -> bool:
    return 2 <= len(line.numbers) <= _MOST_ON_A_LINE


def _ground(points: Points) -> Points:
    free = [at for at, column in enumerate(points.T) if not counts(column)]
    return points[:, free[:2]] if len(free) > 1 else plane(points)


def _found(points: Points, line: _Line, *names: str) -> Found:
    found = Found(points, (), line.start, False, (0, line.start), line.start)
    for place, name in enumerate(names, 1):
        name = unmarked(name)
        quoted = [a or b for a, b in _QUOTED.findall(name)]
        text = quoted[0] if len(quoted) == 1 else name.strip(_AROUND)
        if text + ")" in name and text.count("(") > text.count(")"):
            text += ")"
        tag, closed, rest = text.partition("]")
        if closed and "[" not in tag and _names_nothing(rest):  # [hall] corner at
            text = tag
        if 0 < len(text) <= _LONGEST_NAME:
            found.clues.append(Clue("", -place, text, False, not quoted, 0, 0))
    return found


def _names_nothing(text: str) -> bool:
    return all(len(word) == 1 or word in KNOWN | BEHIND for word in words_of(text))
