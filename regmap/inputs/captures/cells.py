"""Cells of rows in text: what parts them, and the numbers that a column of them is."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence

from regmap.inputs.captures.numerals import as_number

__all__ = ["APART", "cells_of", "numbers_of"]

APART = "  "
"""Two blanks or more part the columns of a table that is set for the eye."""

_GROUPED = re.compile(r"(?<=\d)['’\u00a0\u202f\u2009 ](?=\d{3}(?!\d))")
_LOCAL = re.compile(r"[-+]?\d+(?:[.,]\d+)*\Z")
_FRACTION = re.compile(r",(?!\d{3}\Z)|\A[-+]?0,")


def cells_of(line: str, mark: str | None) -> list[str]:
    """Return what a mark parts in a row; None stands for blanks."""
    line = line.strip("\r ")
    if mark is None:
        return line.split()
    if mark == APART:
        return re.split(r"[ \t]{2,}", line.strip())
    if mark == "|":
        line = line.strip("|")
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=mark), [])]
    except csv.Error:  # a cell longer than that module takes
        return []


def numbers_of(texts: Sequence[str]) -> list[float] | None:
    """Return the numbers that a column's cells are, nan where one is empty; None if one is none.

    Which of point and comma parts the fraction off is asked of all cells together: what groups
    digits does so by three, everywhere.
    """
    numbers = [as_number(text) if text else float("nan") for text in texts]
    if all(number is not None for number in numbers):
        return [n for n in numbers if n is not None] if any(texts) else None
    bare = [_GROUPED.sub("", re.sub(r"(?<=\d)\s*(?:mm|cm|m|px)\Z", "", text)) for text in texts]
    if not all(_LOCAL.match(text) for text in bare if text):
        return None
    both = [text for text in bare if "," in text and "." in text]
    if both:
        comma = both[0].rindex(",") > both[0].rindex(".")
    else:
        if not any("," in text for text in bare):
            return [float(text) if text else float("nan") for text in bare]
        whole = any(text.lstrip("+-0").isdigit() for text in bare if len(text) > 1)
        comma = any(map(_FRACTION.search, bare)) or not whole
    try:
        return [float(_decimal(text, comma=comma)) if text else float("nan") for text in bare]
    except ValueError:
        return None


def _decimal(text: str, *, comma: bool) -> str:
    return text.replace(".", "").replace(",", ".") if comma else text.replace(",", "")
