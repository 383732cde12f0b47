"""Messages cut at some length, a piece on each line of a log behind the same words."""

from __future__ import annotations

import re
from collections.abc import Sequence

from regmap.inputs.captures.tokens import RECORD

__all__ = ["made_whole"]

_FEWEST = 2
_SHORTEST = 40
"""A piece is at least so long: shorter lines were written as lines."""

_LONGEST_PREFIX = 80
_MOST_LINES = 100_000
_DIGITS = re.compile(r"\d+")
_BEGIN = re.compile(
    r"([^{\[\n]{1,80}?[ \t:>'\"]|\[[^{\[\n]{1,80}?\][^{\[\n]{0,60}?[ \t:>'\"])([{\[])"
)
_SAME = 6
"""A line whose piece begins like the first one begins a message of its own."""


def made_whole(text: str) -> str:
    """Return the text with messages whole that a log brings in pieces of one length.

    The first piece opens brackets, and leaves some of them open; the lines below begin like it but
    for numbers, up to the one that closes them. Lines keep their numbers.
    """
    lines = text.split("\n")
    at = in_vain = 0
    changed = False
    while at < len(lines) and in_vain <= _MOST_LINES:
        end, message = _message(lines, at)
        if message is None:
            in_vain += end - at - 1
            at += 1
            continue
        lines[at:end] = [message, *[""] * (end - at - 1)]
        at, changed = end, True
    return "\n".join(lines) if changed else text


def _message(lines: Sequence[str], at: int) -> tuple[int, str | None]:
    """The message that begins on a line, with what stands before it, and up to where it goes.

    None if there is none; then it is told how far was looked.
    """
    first = lines[at].rstrip("\r")
    clock = RECORD.match(first)
    found = _BEGIN.match(first, clock.end() if clock else 0)
    if found is None or len(first) - found.start(2) < _SHORTEST:
        return at + 1, None
    depth = _depth(first[found.start(2) :])
    if depth <= 0 or at + 1 >= len(lines):
        return at + 1, None
    before = first[: found.start(2)]
    prefix = re.compile(r"\d+".join(map(re.escape, _DIGITS.split(before))))
    pieces = [first[found.start(2) :]]
    for place in range(at + 1, len(lines)):
        line = lines[place].rstrip("\r")
        own = prefix.match(line)
        if own is None or line[own.end() :][:_SAME] == pieces[0][:_SAME]:
            return place, None
        pieces.append(line[own.end() :])
        depth += _depth(pieces[-1])
        if depth <= 0:
            break
        if len(line) - own.end() < len(pieces[0]) - 1 or place > at + _MOST_LINES:
            return place, None  # all but the last are of one length
    else:
        return len(lines), None
    return place + 1, before + "".join(_unquoted(pieces, before[-1:]))


def _unquoted(pieces: Sequence[str], quote: str) -> Sequence[str]:
    """Pieces without the quotes around each of them, of which one stands before the first."""
    if quote not in ("'", '"') or not all(piece.rstrip().endswith(quote) for piece in pieces):
        return pieces
    *others, last = (piece.rstrip()[:-1] for piece in pieces)
    return [*others, last + quote]


def _depth(piece: str) -> int:
    """How many more brackets a piece opens than it closes; quotes may be cut, so do not count."""
    return piece.count("{") + piece.count("[") - piece.count("}") - piece.count("]")
