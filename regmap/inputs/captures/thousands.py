"""Points whose numbers have marks between their thousands, one on a line or several.

`1'282 / -3'405; 627 / 12'800` and `[1,282 | -3,405] [627 | 12,800]`: another sign than the one that
groups digits stands between x and y, and yet another one, or a bracket, between points. What a mark
means is asked of all such points of a text together.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

from regmap.inputs.captures.cells import numbers_of

__all__ = ["unapostrophed", "ungrouped", "without_thousands_marks"]

_FEWEST = 3
_MARKS = ("'", "\u2019", "\u202f", "\u00a0", "\u2009", " ", ",", ".")
_HINT = re.compile(
    r"\d[',. \u2019\u202f\u00a0\u2009]\d{3}(?!\d)[^\n|/]{0,9}+[|/]"
    r"|[|/][ ]?[-+]?\d{1,3}[',. \u2019\u202f\u00a0\u2009]\d{3}(?!\d)"
)
"""What a text holds if it holds any such point: a quick look."""

_UNIT = r"(?:[ ]?(?:mm|cm|m)\b)?+"
_ANY = re.compile(rf"\d{_UNIT}[ ]?[|/][ ]?[-+]?\d")
_FRACTION = {",": r"(?:\.\d++)?+", ".": r"(?:,\d++)?+"}


def _pattern(mark: str) -> re.Pattern[str]:
    """Two numbers with a sign between them, behind a bracket or a sign that parts points.

    Where blanks group digits, nothing but such signs may stand before or behind.
    """
    sign = re.escape(mark)
    fraction = _FRACTION.get(mark, r"(?:[.,]\d++)?+")
    number = rf"[-+]?\d++(?:{sign}\d++)*+{fraction}"
    before = r"(?:(?<=[(\[{;:=])|(?<=[(\[{;:=,][ ])|^)" if mark == " " else r"(?<![\w.,'/|-])"
    behind = r"(?=[ ]?(?:[)\]};,]|\r?$))" if mark == " " else r"(?![\w'])(?![.,]\d)"
    return re.compile(
        rf"{before}(?P<x>{number}){_UNIT}[ ]?(?P<apart>[|/])[ ]?(?P<y>{number}){_UNIT}"
        rf"{behind}(?![ ]?(?P=apart))"
    )


_PARTED = re.compile(r"((?<=[(\[])[-+]?\d++(?:,\d{3})*+)[ ]?;(?=[ ]?[-+]?\d++(?:,\d{3})*+[)\]])")
"""A semicolon between two numbers in brackets."""

_PARTED_HINT = re.compile(r"[(\[][-+]?\d{1,3},\d{3}[ ]?;|;[ ]?[-+]?\d{1,3},\d{3}[)\]]")

_POINTS = {mark: _pattern(mark) for mark in _MARKS}

_LOCAL_NUMBER = r"[-+]?\d{1,9}(?:[.,]\d{1,9}){0,4}"
_GROUP = re.compile(r",(?=\d{3}(?!\d))")
_APART = r"(?P<apart>[ \t]*[/|;\t][ \t]*)"
_LOCAL_POINT = re.compile(
    rf"^[ \t]*(?P<x>{_LOCAL_NUMBER})(?P<unit>{_UNIT}){_APART}"
    rf"(?P<y>{_LOCAL_NUMBER}){_UNIT}(?=[ \t]*\r?$)",
    re.MULTILINE,
)


_QUOTE_GROUPED = re.compile(r"(?<![\w'\u2019.,])([-+]?\d{1,3}(?:['\u2019]\d{3})++)(?![\w'\u2019])")

_BLANKS = re.compile(r"\d[ \t]{1,3}[-+]?\d")


def unapostrophed(text: str) -> str:
    """Return the text with plain numbers for such as 12'800, which nothing else is written like."""
    if "'" not in text and "\u2019" not in text:
        return text
    if len(_QUOTE_GROUPED.findall(text)) < _FEWEST:
        return text
    if _HINT.search(text) and len(_BLANKS.findall(text)) < _FEWEST:
        return text  # signs stand between x and y
    return _QUOTE_GROUPED.sub(lambda found: re.sub("['\u2019]", "", found[1]), text)


def ungrouped(text: str) -> str:
    """Return the text with plain numbers where lines hold a point each whose digits are grouped.

    `5,300 mm / -350 mm` becomes `5300 / -350`; what a comma means is asked of all of them together.
    """
    found = list(_LOCAL_POINT.finditer(text))
    texts = [part for point in found for part in (point["x"], point["y"])]
    if len(found) < _FEWEST or not any("," in part for part in texts):
        return text
    if all(point["unit"].strip() == "mm" for point in found):
        # No robot tells thousandths of a millimetre, and always three of them.
        texts = [_GROUP.sub("", part) for part in texts]
    numbers = numbers_of(texts)
    if numbers is None:
        return text
    pieces: list[str] = []
    at = 0
    for point, x, y in zip(found, numbers[::2], numbers[1::2], strict=True):
        pieces += [text[at : point.start("x")], f"{x!r}{point['apart']}{y!r}"]
        at = point.end()
    return "".join([*pieces, text[at:]])


def without_thousands_marks(text: str) -> str:
    """Return the text with plain numbers in points whose digits are grouped."""
    if ";" in text and _PARTED_HINT.search(text):
        barred = _PARTED.sub(r"\1|", text)
        plain = _unmarked(barred)
        return text if plain == barred else plain
    return _unmarked(text)


def _unmarked(text: str) -> str:
    if not ("|" in text or "/" in text) or _HINT.search(text) is None:
        return text
    lines = text.split("\n")
    for mark, pattern in _POINTS.items():
        if mark not in text:
            continue
        found = [_found(line, pattern, mark) for line in lines]
        every = list(itertools.chain(*found))
        numbers = [number for point in every for number in (point["x"], point["y"])]
        if len(every) < _FEWEST or not _are_grouped(numbers, mark):
            continue
        if all(map(_are_all, lines, found)):
            return "\n".join(_rewritten(*each, mark) for each in zip(lines, found, strict=True))
    return text


def _found(line: str, pattern: re.Pattern[str], mark: str) -> list[re.Match[str]]:
    """The points on a line; where all numbers are too short for a mark, it must hold nothing else.

    So 3/4 or 11/12 in the words of another line is no point.
    """
    found = list(pattern.finditer(line))
    if found and not any(mark in point["x"] + point["y"] for point in found):
        others = line[: found[0].start()] + line[found[-1].end() :]
        return found if not others.strip(" \t\r;,()[]{}") else []
    return found


def _are_all(line: str, found: Sequence[re.Match[str]]) -> bool:
    """Whether no more points stand on a line than were found, from the first one on."""
    return not found or len(_ANY.findall(line, found[0].start())) == len(found)


def _rewritten(line: str, found: Sequence[re.Match[str]], mark: str) -> str:
    pieces: list[str] = []
    at = 0
    for point in found:
        x, y = (_plain(point[which], mark) for which in "xy")
        held = line[point.start() - 1 : point.start()] in ("(", "[", "{")
        pieces += [line[at : point.start()], f"{x}, {y}" if held else f"({x}, {y})"]
        at = point.end()
    return "".join([*pieces, line[at:]])


def _are_grouped(numbers: Sequence[str], mark: str) -> bool:
    """Whether a mark groups the digits of numbers: by threes, in all that are long enough.

    A comma or a point might as well stand before fractions of three digits, if all numbers have
    one. So does a point that stands before some, unless a comma stands before a fraction.
    """
    parts: list[list[str]] = []
    for number in numbers:
        first, *rest = _whole(number, mark).split(mark)
        by_threes = len(first) < 4 and all(len(part) == 3 for part in rest)
        if not by_threes or (rest and first == "0"):
            return False
        parts.append([first, *rest])
    marked = sum(len(part) > 1 for part in parts)
    if not marked:
        return False
    if mark == ",":
        return marked < len(parts) or any(len(part) > 2 for part in parts)
    if mark == ".":
        return any("," in number for number in numbers)
    return True


def _whole(number: str, mark: str) -> str:
    """The digits of a number before its fraction, with the marks that group them."""
    fraction = {",": "[.]", ".": ","}.get(mark, "[.,]")
    return re.split(fraction, number)[0].lstrip("+-")


def _plain(number: str, mark: str) -> str:
    return number.replace(mark, "").replace(",", ".")
