"""Texts told byte by byte, as those do who watch a wire: 7b 22 72 6f."""

from __future__ import annotations

import re

__all__ = ["joined_octets"]

_OCTETS = re.compile(
    r"(?<![\w.:-])(?:[0-9A-Fa-f]{2}(?P<mark>[ :-]|,[ ]?))(?:[0-9A-Fa-f]{2}(?P=mark)){30,}+"
    r"[0-9A-Fa-f]{2}(?![\w.:-])"
)
_BETWEEN = re.compile(r"[\s:,-]+")
_LETTER = re.compile(r"[A-Fa-f]")
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f]")


def joined_octets(text: str) -> str:
    """Return a text in which what is told byte by byte is joined, if the bytes are text.

    Bytes in decimal digits alone are left: they may be numbers.
    """
    return _OCTETS.sub(_joined, text)


def _joined(found: re.Match[str]) -> str:
    if _LETTER.search(found[0]) is None:
        return found[0]
    joined = _BETWEEN.sub("", found[0])
    try:
        plain = bytes.fromhex(joined).decode("utf-8")
    except UnicodeDecodeError:
        return found[0]
    return found[0] if _CONTROL.search(plain) else joined
