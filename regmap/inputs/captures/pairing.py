"""Coordinates told by their names, whose x and y stand on lines of their own or y before x."""

from __future__ import annotations

import itertools
import re

from regmap.inputs.captures.numerals import PURE

__all__ = ["keyed_pairs", "paired_rows", "paired_values"]

_VALUE = re.compile(
    r"(?P<head>[\w.-]*?)(?P<axis>[xXyY])(?P<tail>[\w.-]*)\{(?P<said>[^{}\n]+)\}"
    rf"[ \t]+(?P<value>{PURE})(?:[ \t]+\d+)?[ \t\r]*"
)
_ROW = re.compile(
    r"(?:(?P<head>[^\n]{1,200}?)[ \t,;|:]+)?(?P<axis>[xXyY])s?[ \t]*[,;|:=\t ][ \t\[]*"
    rf"(?P<values>{PURE}(?:[ \t]*[,;|\t ][ \t]*{PURE})+)[ \t\]\r]*"
)
_NUMBERS = re.compile(PURE)
_SPOKEN = re.compile(
    rf"(?<![\w.])(?:(?P<n>N)|(?P<y>[yY]))[ ]?(?P<first>{PURE})(?:[ ]?mm)?(?P<sign>[,;]?[ ]{{1,4}})"
    rf"(?(n)E|[xX])[ ]?(?P<second>{PURE})(?![\w.]*\w)"
)
_FEWEST_MARKS = 4
_FEWEST = 3


def paired_values(text: str) -> str:
    """Return the text with values of x and of y that are said of the same on one line.

    They are lines as `corner_x{room="hall",k="0"} 12`, in any order; what stands in the brackets is
    the same for both, and so is the name but for the x and the y. Lines keep their numbers.
    """
    if "}" not in text:
        return text
    lines = text.split("\n")
    waiting: dict[tuple[str, ...], tuple[int, str]] = {}
    for at, line in enumerate(lines):
        found = _VALUE.fullmatch(line) if line[-1:].strip().isdigit() else None
        if found is None:
            continue
        key = (found["head"], found["tail"], found["said"])
        if found["axis"] in "xX":
            waiting[key] = (at, found["value"])
        elif key in waiting:
            place, x = waiting.pop(key)
            lines[place] = f"{found['said']},x={x},y={found['value']}"
            lines[at] = ""
    return "\n".join(lines)


def paired_rows(text: str) -> str:
    """Return the text with a row of all x and the row of all y below it on one line.

    Both begin alike, with words or with nothing, but for the x and the y, and have as many numbers.
    Those of y may stand above.
    """
    lines = text.split("\n")
    before: re.Match[str] | None = None
    for at, line in enumerate(lines):
        marks = sum(map(line.count, " ;,|\t"))
        ended = line.rstrip(" ]\r")[-1:].isdigit()
        found = _ROW.fullmatch(line) if ended and marks >= _FEWEST_MARKS else None
        if found is not None and before is not None and _are_twins(before, found):
            told = {row["axis"].lower(): row["values"] for row in (before, found)}
            x, y = (" ".join(_NUMBERS.findall(told[which])) for which in "xy")
            head = f"{found['head']}: " if found["head"] else ""
            lines[at - 1] = f"{head}xs=[{x}] ys=[{y}]"
            lines[at] = ""
            found = None
        before = found
    return "\n".join(lines)


def _are_twins(one: re.Match[str], other: re.Match[str]) -> bool:
    axes = {one["axis"].lower(), other["axis"].lower()}
    counts = {len(_NUMBERS.findall(row["values"])) for row in (one, other)}
    worded = not one["head"] or any(map(str.isalpha, one["head"]))
    return worded and axes == {"x", "y"} and one["head"] == other["head"] and len(counts) == 1


def keyed_pairs(text: str) -> str:
    """Return the text with keys for the names of coordinates of which y stands first.

    `y 4200, x 310` and `N 4200 E 310` become `y=4200, x=310` and `y=4200 x=310`.
    """
    if len(list(itertools.islice(_SPOKEN.finditer(text), _FEWEST))) < _FEWEST:
        return text
    return _SPOKEN.sub(r"y=\g<first>\g<sign>x=\g<second>", text)
