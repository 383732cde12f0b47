"""Messages that lines bring in pieces, a piece a line."""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from regmap.errors import OutlineError
from regmap.inputs.captures.unpack import Budget, unpacked

__all__ = ["reassembled"]

# What ends packed text is looked for at its end: from each of its letters on, it takes long.
_PIECED = re.compile(r"\d[ ]?(?:/|of)[ ]?\d|(?=[\"'\s}])(?<=[\w+/=-]{24})[\"'\s}]*\n")
_RECORD_ENDS = re.compile(r"\}\s*\n")
_COUNT = re.compile(
    r"([^\n{\[<]{0,100}?(?<![\d/.])\d+)[ ]?(?:/|of)[ ]?(\d+)(?![\d/.])[\])>]?:?[ \t]"
    r"(?:[A-Za-z]{1,12}[=:][ ]?\d+[):,;]?[ \t])*(?=[ \t]?\S)"
)
_ENDING = re.compile(r"(?<![\w+/=-])([\w+/-]{24,}={0,2})[\"'}\]\s]*\Z", re.ASCII)
_SHORT = re.compile(r"(?<![\w+/=-])([\w+/-]{1,23}={0,2})[\"'}\]\s]*\Z", re.ASCII)
_PAYLOAD = re.compile(r"[\w+/-]{24,}={0,2}|[\w+/-]+={0,2}\Z", re.ASCII)
_COMPRESSED = re.compile(r"e[AFJN]|H4sI|78(?:01|5e|9c|da)|1f8b", re.IGNORECASE)
"""How gzip and zlib begin in base64 and in hex."""

_MOST_PIECES = 10_000
_SHOWN = 8
_DIGITS = re.compile(r"\d+")
_OPENING = ("{", "[")


class _Piece(NamedTuple):
    """A piece, what stands before it on its line, and what the lines of all pieces have alike.

    `numbers`: what is told of it, which may be its place and how many there are.
    """

    kind: str
    text: str
    before: str
    numbers: Mapping[str, int] = MappingProxyType({})


class _Told(NamedTuple):
    """A piece that tells its place: its line, its text, its place, and how many there are."""

    at: int
    piece: _Piece
    place: int
    total: int


def reassembled(text: str) -> str:
    """Return the text with messages whole that lines bring in pieces, a piece a line.

    Lines of pieces follow each other and are alike but for the piece and for numbers. A piece is
    the longest text of a JSON object, what stands behind a count (`2/5`), or packed text at the
    end. Pieces are put together if the first leaves brackets open that the last closes, or if all
    but the last are of one length and unpack together. Where they tell their places and how many
    there are, they may come in any order, with other lines between. Lines keep their numbers.

    Raises
    ------
    OutlineError
        The places say that pieces are missing, and no later message of the kind is whole.
    """
    if not _PIECED.search(text) and not _ends_a_record(text):
        return text
    lines = text.split("\n")
    for cut in (_field, _counted, _packed):
        pieces: list[_Piece] = []
        depth = 0
        found = [cut(line) for line in lines]
        if cut is not _packed:
            _put_in_places(lines, found)
        for at, (line, piece) in enumerate(zip([*lines, ""], [*found, None], strict=True)):
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


def _put_in_places(lines: list[str], found: list[_Piece | None]) -> None:
    """Put messages together whose pieces tell their places; they are no pieces afterwards."""
    kinds: dict[str, list[tuple[int, _Piece]]] = {}
    for at, piece in enumerate(found):
        if piece is not None and len(piece.numbers) > 1:
            kinds.setdefault(piece.kind, []).append((at, piece))
    for several in kinds.values():
        if len(several) < 2:
            continue
        missing = ""
        for message in _messages(several):
            ordered = sorted(message, key=lambda one: one.place)
            if not _are_parts(ordered):
                continue
            total, first = ordered[0].total, int(ordered[0].place > 0)
            lost = sorted({*range(first, first + total)} - {one.place for one in ordered})
            whole = "".join(one.piece.text for one in ordered)
            if not lost and _depth(whole) == 0:
                head = min(one.at for one in ordered)
                for one in ordered:
                    lines[one.at], found[one.at] = "", None
                lines[head] = f"{ordered[0].piece.before} {whole}"
                missing = ""
            elif lost:
                missing = (
                    f"of a message in {total} pieces {len(lost)} are missing "
                    f"({', '.join(map(str, lost[:_SHOWN]))}); those that are there stand on lines "
                    f"{min(one.at for one in ordered) + 1} to {max(o.at for o in ordered) + 1}; "
                    "give a text that has them all, or cut these out"
                )
        if missing:
            raise OutlineError(missing)


def _messages(several: Sequence[tuple[int, _Piece]]) -> Iterator[list[_Told]]:
    """Pieces of one kind, message by message: a place that comes again is of the next one."""
    for own, of in itertools.permutations(several[0][1].numbers, 2):
        told = [_Told(at, p, p.numbers.get(own, -1), p.numbers.get(of, 0)) for at, p in several]
        places, totals = {one.place for one in told}, {one.total for one in told}
        if len(totals) > 1 or len(places) < 2 or len(places) > _MOST_PIECES:
            continue
        total = min(totals)
        if 2 * len(places) < total or min(places) < 0 or max(places) > total - (0 in places):
            continue
        message: dict[int, _Told] = {}
        for one in told:
            known = message.get(one.place)
            if known is not None and known.piece.text == one.piece.text:
                continue  # sent again
            if known is not None:
                yield list(message.values())
                message = {}
            message[one.place] = one
        yield list(message.values())
        return


def _are_parts(ordered: Sequence[_Told]) -> bool:
    """Whether pieces are parts of one document: the first opens what it leaves open."""
    if len(ordered) < 2:
        return False
    if ordered[0].place <= 1:
        first = ordered[0].piece.text
        return first.lstrip()[:1] in _OPENING and _depth(first) > 0
    return any(_depth(one.piece.text) for one in ordered)


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
    numbers = {key: value for key, value in record.items() if type(value) is int}
    kind = f"{_alike(line[:start])} {longest} {said}"
    return _Piece(kind, texts[longest], line[:start], numbers)


def _counted(line: str) -> _Piece | None:
    found = _COUNT.match(line)
    if found is None:
        return None
    place = int(_DIGITS.findall(found[1])[-1])
    text = line[found.end() :].rstrip("\r")
    numbers = {"place": place, "of": int(found[2])}
    return _Piece(f"{_alike(found[1])}/{found[2]}", text, found[1], numbers)


def _packed(line: str) -> _Piece | None:
    found = _ENDING.search(line)
    if found is None:
        return None
    before = line[: found.start()]
    return _Piece(_alike(before), found[1], before)
