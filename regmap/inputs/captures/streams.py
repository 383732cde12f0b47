"""Texts that were cut into lines of another kind: records of a log, rows of a hex dump."""

from __future__ import annotations

import json
import re

from regmap.inputs.captures.unpack import text_of_bytes

__all__ = ["unbroken", "undumped", "unstreamed"]

_DUMPED = re.compile(
    r"[ \t]*+(?:0x)?[0-9A-Fa-f]{4,16}:?[ \t]++"
    r"((?:[0-9A-Fa-f]{2}(?:[0-9A-Fa-f]{2})?[ \t]{1,2}){1,15}(?:[0-9A-Fa-f]{2}){1,2}|[0-9A-Fa-f]{2})"
    r"(?=\s|\Z)"
)
_FEWEST = 3
_NARROWEST = 40
_MOST_ROW = 32


def unbroken(text: str) -> str:
    """Return a document without the line breaks that were put into it at some width.

    Then all lines but the last are of one length, and stand in brackets from the first sign on.
    """
    if text[:1] not in ("{", "[", "<"):
        return text
    width = text.find("\n")
    if width < _NARROWEST or len(text) <= 3 * width:
        return text
    lines = text.rstrip("\n").split("\n")
    if any(len(line) != width for line in lines[:-1]) or len(lines[-1]) > width:
        return text
    return text if len({line[:1] for line in lines}) == 1 else "".join(lines)


def unstreamed(text: str) -> str:
    """Return the text that the lines of a text bring piece by piece, a line in each record.

    That is so where every line is a JSON object of which one field ends in a line break. Line
    numbers stay.
    """
    if text[:1] != "{":
        return text
    lines = text.splitlines()
    pieces: list[str] = []
    key: str | None = None
    for line in lines:
        record = _record(line)
        if key is None:
            ended = [k for k, v in record.items() if isinstance(v, str) and v.endswith("\n")]
            key = ended[0] if len(ended) == 1 else None
        piece = record.get(key) if key is not None else None
        if not isinstance(piece, str):
            return text
        pieces.append(piece.rstrip("\r\n").replace("\n", " "))
    return "\n".join(pieces) if len(pieces) >= _FEWEST else text


def _record(line: str) -> dict[str, object]:
    if not line.startswith("{") or "\\n" not in line:
        return {}
    try:
        record = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return record if isinstance(record, dict) else {}


def undumped(text: str) -> str | None:
    """Return the text of which a text is a hex dump: rows of an offset, bytes, and signs."""
    if _DUMPED.match(text) is None:
        return None
    data = bytearray()
    lines = text.splitlines()
    rows = 0
    for line in lines:
        found = _DUMPED.match(line)
        if found is not None:
            row = bytes.fromhex(re.sub(r"\s", "", found[1]))[:_MOST_ROW]
            data += row
            rows += 1
    if rows < _FEWEST or 2 * rows < len(lines):
        return None
    return text_of_bytes(bytes(data))
