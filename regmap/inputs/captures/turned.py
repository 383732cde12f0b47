"""Texts that say that y stands before x in their pairs.

A key to the outlines, or one beside them that tells an order, speaks of them: their pairs are
turned round. What is said anywhere else in words may be of other things. Pairs with a name before
each number, or under named columns, stand as they should already.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable

import numpy as np

from regmap.inputs.captures.find import Found
from regmap.inputs.captures.numerals import PURE
from regmap.inputs.captures.words import words_of

__all__ = ["are_bare_pairs", "said_y_first", "x_first"]

_Y = r"(?:y|lat|latitude|north|northing)"
_X = r"(?:x|lon|lng|longitude|east|easting)"
_KEY = re.compile(
    rf"(?i:(?<![a-z]){_Y}(?:[_ -]|\W{{1,3}}){_X}(?![a-z]))"
    r"|(?<![A-Za-z])(?:yx|YX|lat_?l(?:on|ng))(?![A-Za-z])|(?<=[a-z])(?:YX|LatL(?:on|ng))(?![A-Za-z])"
)
"""Both, y first, in a key."""

_PHRASE = re.compile(
    rf"(?<![\w.])(?i:{_Y})(?:_(?:mm|cm|m))?[\"'`\])]*(?:[ ]?[\[(](?:mm|cm|m|px)[\])])?"
    r"(?:[ \t]*+[,;|]\s*+(?:then[ ])?|[ \t]++(?:(?:then|before)[ \t]++)?)"
    rf"[\"'`\[(]*(?i:{_X})(?:_(?:mm|cm|m))?(?![\w.])(?![\"'`]?[ ]?[:=])"
    r"|(?<![A-Za-z0-9+/=])(?:yx|YX)(?![\w+/=])"
)
_X_BEFORE = re.compile(rf"(?i)(?<![a-z]){_X}(?:_?(?:mm|cm|m))?\W{{1,12}}\Z")
_TELLS_ORDER = frozenset(
    ("order", "axis", "axes", "columns", "fields", "layout", "format", "convention", "dimensions")
)
_NAMED = re.compile(
    r"(?i)(?<![a-z])[a-z]?[xy]\d{0,5}[_a-z]{0,3}[\"'\])>]{0,2}[ ]?[=:>]?[ ]?[\"'(\[]?\Z"
)
_NUMBER = re.compile(PURE)
_LOOKED_AT = 4000
"""The first pairs of an outline stand in so many characters."""

_COMPARED = 6


def x_first(found: Iterable[Found], text: str) -> None:
    """Turn the pairs of outlines of which a key to them, or one that tells an order, says y, x."""
    for one in found:
        if _is_told(one) and are_bare_pairs(one, text):
            one.points = np.ascontiguousarray(one.points[:, ::-1])
            one.holes = [np.ascontiguousarray(hole[:, ::-1]) for hole in one.holes]
            one.turned = True


def _is_told(found: Found) -> bool:
    if any(map(_KEY.search, found.path)):
        return True
    orders = (c.text for c in found.clues if not _TELLS_ORDER.isdisjoint(words_of(c.key)))
    return any(map(_KEY.search, orders))


def said_y_first(text: str) -> str:
    """What in a text says that y stands before x, or "" if nothing does."""
    for found in _PHRASE.finditer(text):
        if not _X_BEFORE.search(text[max(0, found.start() - 24) : found.start()]):
            return " ".join(found[0].split())
    return ""


def are_bare_pairs(found: Found, text: str) -> bool:
    """Whether the text has the pairs of an outline as they were read, and no name before x."""
    part = text[found.offset : found.offset + _LOOKED_AT]
    numbers = list(_NUMBER.finditer(part))
    values = [float(number[0]) for number in numbers]
    places = {pair: at for at, pair in reversed(list(enumerate(itertools.pairwise(values))))}
    pairs = [(x, y) for x, y in found.points[:_COMPARED].tolist() if x != y]
    as_read = [places[pair] for pair in pairs if pair in places]
    # The end of one pair and the begin of the next may look like a pair as well.
    if len(as_read) <= sum((y, x) in places for x, y in pairs):
        return False
    first = numbers[as_read[0]].start()
    return not _NAMED.search(part[max(0, first - 16) : first])
