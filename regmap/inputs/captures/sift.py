"""A long log -> the lines of it that may hold outlines: a quick pass before anything is parsed.

Only whole records are ever left out: lines that begin with a time, or long ones that begin at the
margin. A record goes if it holds no two numbers side by side, no x, nothing packed, and does not
speak of names or rooms; of records that are alike but for their numbers, only the newest are kept.
"""

from __future__ import annotations

import io
import re
from collections import deque
from dataclasses import dataclass

from regmap.inputs.captures.tokens import CLOCK

__all__ = ["Sifted", "sift"]

SMALLEST = 2**20
"""A text of fewer bytes is parsed in full."""

KEPT_BYTES = 2**18
"""What is kept of records that are alike, and at least FEWEST of them."""

FEWEST = 50

_LONG = 40
"""A line of so many bytes is taken for a record even if it does not begin with a time."""

_ZEROED = bytes(
    ord("0") if chr(i) in "123456789abcdefABCDEF" else i for i in range(256)
)  # numbers of one length look the same, hexadecimal ones too
_NUMBER = rb"(?<![\w.:/-])[-+]?0[0.]*+"
_BETWEEN = rb"[\"'\\]*+[\s,;|\[\](){}]++[\"'\\]*+"
_HOT = re.compile(
    _NUMBER + _BETWEEN + rb"[-+.]?0[0.]*+(?![:/-])"
    rb"|(?<![A-Za-z])[xX](?:\\*+[\"']|&[\w#]+;)?\s?[:=]|<[xX]>|[A-Za-z0-9+/_-]{24}|%00"
    rb"|0[/|xX@_~]-?0[0.]*+[\s,;]"
)
_STRONG = re.compile(_NUMBER + rb"(?:" + _BETWEEN + rb"[-+.]?0[0.]*+){5}|[A-Za-z0-9+/_-]{24}")
_NAMING = re.compile(rb"(?i)name|label|title|room|raum|zimmer|\xa4ume")
_RECORD = re.compile(rb"[\[(<]?(?:" + CLOCK.encode() + rb")")
_MARGIN = re.compile(rb"[\w\[{(\"']")
_DIGITS = b"0123456789.-+"
_LETTERS = bytes(i for i in range(256) if i >= 128 or chr(i).isalpha())
_OPENING = tuple(bytes([code]) for code in b"[{(,:>|\\")
_MOST_SHAPES = 50_000


@dataclass(frozen=True)
class Sifted:
    """The lines that are left, and the number of each in the whole text, counted from 1."""

    data: bytes
    lines: list[int] | None


def sift(data: bytes) -> Sifted:
    """Leave out records that hold no outline. Short texts come back whole, `lines` None."""
    if len(data) < SMALLEST:
        return Sifted(data, None)
    kept: list[tuple[int, bytes]] = []
    alike: dict[bytes, deque[tuple[int, bytes]]] = {}
    judged: dict[bytes, bytes | None] = {}
    empty = False
    for number, line in enumerate(io.BytesIO(data), 1):
        # Of empty lines in a row, which may be most of a text, one says as much as all.
        before, empty = empty, line.isspace()
        if before and empty:
            continue
        zeroed = line.translate(_ZEROED)
        try:
            deleted = judged[zeroed]
        except KeyError:
            if len(judged) > _MOST_SHAPES:
                judged.clear()
            deleted = judged[zeroed] = _judged(line, zeroed)
        if deleted is None:
            continue
        if not deleted:
            kept.append((number, line))
            continue
        shape = line.translate(None, deleted)
        newest = alike.get(shape)
        if newest is None:
            newest = alike[shape] = deque(maxlen=max(FEWEST, KEPT_BYTES // len(line)))
        newest.append((number, line))
    for newest in alike.values():
        kept.extend(newest)
    kept.sort()
    return Sifted(b"".join(line for _, line in kept), [number for number, _ in kept])


def _judged(line: bytes, zeroed: bytes) -> bytes | None:
    """What to do with lines like this one: None to leave them out, b"" to keep them all.

    Anything else says which characters to delete to see whether two lines are alike.
    """
    timed = _RECORD.match(line)
    if timed is None and (len(line) < _LONG or _MARGIN.match(line) is None):
        return b""
    start = 0 if timed is None else timed.end()
    if _HOT.search(zeroed, start) is None:
        if _NAMING.search(line):
            return _DIGITS
        return b"" if line.rstrip()[-1:] in _OPENING else None
    return _DIGITS if _STRONG.search(zeroed, start) else _DIGITS + _LETTERS
