"""Messages that lines bring in pieces, a piece a line."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import NamedTuple

from regmap.inputs.captures.unpack import Budget, unpacked

__all__ = ["reassembled"]

_PIECED = re.compile(r"\d[ ]?(?:/|of)[ ]?\d|[\w+/=-]{24}[\"'\s}]*\n")
_RECORD_ENDS = re.compile(r"\}\s*\n")
_COUNT = re.compile(
    r"([^\n{\[<]{0,100}?(?<![\d/.])\d+)[ ]?(?:/|of)[ ]?(\d+)(?![\d/.])[\])>]?:?[ \t]"
    r"(?:[A-Za-z]{1,12}[=:][ ]?\d+[):,;]?[ \t])*(?=\S)"
)
_ENDING = re.compile(r"(?<![\w+/=-])([\w+/-]{24,}={0,2})[\"'}\]\s]*\Z", re.ASCII)
_SHORT = re.compile(r"(?<![\w+/=-])([\w+/-]{1,23}={0,2})[\"'}\]\s]*\Z", re.ASCII)
_PAYLOAD = re.compile(r"[\w+/-]{24,}={0,2}|[\w+/-]+={0,2}\Z", re.ASCII)
_COMPRESSED = re.compile(r"e[AFJN]|H4sI|78(?:01|5e|9c|da)|1f8b", re.IGNORECASE)
"""How gzip and zlib begin in base64 and in hex."""

_DIGITS = re.compile(r"\d+")
_OPENING = ("{", "[")


class _Piece(NamedTuple):
    """A piece, what stands before it on its line, and what the lines of all pieces have alike."""

    kind: str
    text: str
    before: str


def reassembled(text: str) -> str:
    """Return the text with messages whole that lines bring in pieces, a piece a line.

    Lines of pieces follow each other and are alike but for the piece and for numbers. A piece is
    the longest text of a JSON object, what stands behind a count (`2/5`), or packed text at the
    end. Pieces are put together if the first leaves brackets open that the last closes, or if all
    but the last are of one length and unpack together. Lines keep their numbers.
    """
    if not _PIECED.search(text) and not _ends_a_record(text):
        return text
    lines = text.split("\n")
    for cut in (_field, _counted, _packed):
        pieces: list[_Piece] = []
        depth = 0
        for at, line in enumerate([*lines, ""]):
            piece = cut(line)
            if pieces and (piece is None or piece.kind != pieces[0].kind):
                rest = _rest(line, pieces[0].kind) if cut is _packed else None
                if rest is None or not _put_packed(lines, at + 1, [*pieces, rest]):
                    _put_packed(lines, at, pieces)
                pieces = []
            if piece is None:
                continue
            pieces.append(piece)
            depth = _depth(piece.text) + (depth if len(pieces) > 1 else 0)
            if piece.text.lstrip()[:1] in _OPENING and depth <= 0 and len(pieces) == 1:
                pieces = []
            elif pieces[0].text.lstrip()[:1] in _OPENING:
                if depth <= 0:
                    _put(lines, at + 1, pieces)
                    pieces = []
            elif len(piece.text) < len(pieces[0].text):
                _put_packed(lines, at + 1, pieces)
                pieces = []
    return "\n".join(lines)


def _ends_a_record(text: str) -> bool:
    """Whether a line with a quote ends with a brace. From each quote on, a pattern would look
    through all of its line."""
    return any(
        text.find('"', text.rfind("\n", 0, end.start()) + 1, end.start()) >= 0
        for end in _RECORD_ENDS.finditer(text)
    )


def _put(lines: list[str], end: int, pieces: Sequence[_Piece]) -> None:
    """Put a message in the place of its first piece; the lines of the others are left empty."""
    first = end - len(pieces)
    lines[first:end] = [""] * len(pieces)
    lines[first] = f"{pieces[0].before} {''.join(piece.text for piece in pieces)}"


def _put_packed(lines: list[str], end: int, pieces: Sequence[_Piece]) -> bool:
    """The same with packed text, if that is what the pieces make up: return whether it is."""
    lengths = [len(piece.text) for piece in pieces]
    if len(pieces) < 2 or len(set(lengths[:-1])) > 1 or lengths[-1] > lengths[0]:
        return False
    if not all(_PAYLOAD.fullmatch(piece.text) for piece in pieces):
        return False
    alone = unpacked(pieces[0].text, Budget()) or ""
    whole = unpacked("".join(piece.text for piece in pieces), Budget()) or ""
    found = len(whole) > len(alone) and (_COMPRESSED.match(pieces[0].text) or _depth(alone) > 0)
    if found:
        _put(lines, end, pieces)
    return bool(found)


def _rest(line: str, kind: str) -> _Piece | None:
    """What a line below pieces holds, as the last of them, that may be short."""
    found = _SHORT.search(line)
    if found is None or _alike(line[: found.start()]) != kind:
        return None
    return _Piece(kind, found[1], line[: found.start()])


def _depth(text: str) -> int:
    """How many more brackets a piece opens than it closes; quotes may be cut, so do not count."""
    return text.count("{") + text.count("[") - text.count("}") - text.count("]")


def _alike(text: str) -> str:
    return _DIGITS.sub("0", text)


def _field(line: str) -> _Piece | None:
    start = line.find("{")
    if start < 0 or not line.rstrip().endswith("}"):
        return None
    try:
        record = json.loads(line[start:])
    except (ValueError, RecursionError):
        return None
    texts = {key: value for key, value in record.items() if isinstance(value, str)}
    longest = max(texts, key=lambda key: len(texts[key]), default=None)
    if longest is None:
        return None
    said = [
        key if isinstance(value, int | float) else f"{key}={value!r}"
        for key, value in record.items()
        if key != longest
    ]
    return _Piece(f"{_alike(line[:start])} {longest} {said}", texts[longest], line[:start])


def _counted(line: str) -> _Piece | None:
    found = _COUNT.match(line)
    if found is None:
        return None
    return _Piece(f"{_alike(found[1])}/{found[2]}", line[found.end() :].rstrip("\r"), found[1])


def _packed(line: str) -> _Piece | None:
    found = _ENDING.search(line)
    if found is None:
        return None
    before = line[: found.start()]
    return _Piece(_alike(before), found[1], before)
