"""Documents that were carried piece by piece: in chunks with their lengths, behind a logger's words
on every line, as rows of a hex dump, as codes and values in turn."""

from __future__ import annotations

import itertools
import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence

from regmap.inputs.captures.tokens import PREFIX, RECORD
from regmap.inputs.captures.unpack import is_binary, text_of_bytes

__all__ = [
    "changed",
    "decoded",
    "unbroken_cells",
    "unchunked",
    "uncounted",
    "undumped",
    "unmixed",
    "unprefixed",
]

# An extension has a name, or a row of a table might begin with hexadecimal digits.
_EXTENSION = rb"[ \t]*(?:;[ \t]*[A-Za-z][\w-]*(?:=[^;\r\n]*)?)*\r?\n"
_CHUNK = re.compile(rb"^([0-9A-Fa-f]{1,8})" + _EXTENSION, re.MULTILINE)
_FIRST_CHUNK = re.compile(rb"^([0-9A-Fa-f]{2,8})" + _EXTENSION, re.MULTILINE)
_NUMBER_LINE = re.compile(rb"(?<=\n)[0-9A-Fa-f]{1,8}[ \t]*\r?\n")
_FEWEST_CHUNKS = 2
_SHORTEST_CHUNK = 16

_DUMPED = re.compile(
    r"[ \t]*+(?:0x)?([0-9A-Fa-f]{4,16}):?[ \t]++"
    r"((?:[0-9A-Fa-f]{2}(?:[0-9A-Fa-f]{2})?[ \t]{1,2}){1,15}(?:[0-9A-Fa-f]{2}){1,2}|[0-9A-Fa-f]{2})"
    r"(?=\s|\Z)"
)
_MOST_ROW = 32
_FEWEST = 3

_ZEROED = str.maketrans("123456789", "000000000")
_QUOTED = re.compile(r"\"(?:[^\"\\]|\\.)*+\"|'(?:[^'\\]|\\.)*+'")
_MARK = re.compile(r"[\[{(]|<(?=[^\W\d])(?![^<>]*/>)|([\])}]|</)")
_OPEN = re.compile(r"(?:[\[{(]|<[^\W\d][^<>/]*>)[ \t\r]*\Z")
_MOST_LINES = 100_000
"""A document does not go over more lines of a log, nor are more looked at in vain."""

_COUNTED_LINE = re.compile(r"(?:[\[(](\d{1,9})[\])]|(0\d{2,8}))[:.]?[ \t]+(?=\S)", re.ASCII)
_FEWEST_COUNTED = 6

_HUNK = re.compile(r"^@@ -\d+(?:,\d+)? \+\d+(?:,\d+)? @@", re.MULTILINE)
_BROKEN = re.compile(
    r"(?<=[,;\t])\"([-+\d.,; \t\r()\[\]]*\n[-+\d.,; \t\r\n()\[\]]*)\"(?=[,;\t\r\n]|\Z)"
)

_SPOKEN = re.compile(
    r"[\])>]?[ \t,:|-]*+"
    r"(?:\[?(?:TRACE|DEBUG|INFO|NOTICE|WARN|WARNING|ERROR|[TDINWE])\]?[ \t:|/]++)?+"
    r"([\[(<]?[^\W\d][^\s=]*+)(?=[ \t])",
    re.IGNORECASE,
)
_VALUE = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?![\w.])")
_LONGEST_CORNER = 120
_MOST_WAITING = 1000

_CODE = re.compile(r"[ \t]*(\d{1,4})[ \t]*\Z")


# --- chunks ------------------------------------------------------------------------------------


def unchunked(data: bytes) -> bytes:
    """Return bytes with chunks put together that came with their lengths (RFC 9112, section 7.1).

    Lengths are told in hexadecimal digits, on a line before each chunk; as they must fit, nothing
    else is taken for chunks. Lines keep their numbers behind the last chunk.
    """
    parts: list[bytes] = []
    failed: set[int] = set()
    done = at = 0
    while (found := _FIRST_CHUNK.search(data, at)) is not None:
        first = int(found[1], 16)
        chunks, end = _chunks(data, found, failed) if first >= _SHORTEST_CHUNK else ([], 0)
        if len(chunks) < _FEWEST_CHUNKS:
            at = found.end()
            continue
        body = b"".join(chunks)
        lost = data.count(b"\n", found.start(), end) - body.count(b"\n")
        parts += [data[done : found.start()], body, b"\n" * lost]
        done = at = end
    return b"".join([*parts, data[done:]]) if parts else data


def _chunks(data: bytes, first: re.Match[bytes], failed: set[int]) -> tuple[Sequence[bytes], int]:
    """The chunks from a line on that fit, and where they end; none if anything does not.

    All but the last are long, and no line in them is a number alone, or numbers of another kind
    might fit by chance. `failed`: where
    chunks were looked for already that do not fit.
    """
    starts: list[int] = []
    body: list[bytes] = []
    found: re.Match[bytes] | None = first
    end = first.start()
    while found is not None:
        length = int(found[1], 16)
        start, end = found.end(), found.end() + length
        if length == 0:
            return body, end
        if found.start() in failed or (body and len(body[-1]) < _SHORTEST_CHUNK):
            break
        if end >= len(data):  # cut off
            return [*body, data[start:]] if len(body) > 1 else [], len(data)
        starts.append(found.start())
        body.append(data[start:end])
        if _NUMBER_LINE.search(body[-1]):
            break
        if data[end : end + 2] != b"\r\n" and data[end : end + 1] != b"\n":
            break
        end = data.index(b"\n", end) + 1
        found = _CHUNK.match(data, end)
    else:
        return (body, end) if len(body[-1]) >= _SHORTEST_CHUNK else ([], end)
    failed.update(starts)
    return [], end


# --- hex dumps ---------------------------------------------------------------------------------


def undumped(text: str) -> str:
    """Return the text with what it shows as hex dumps: rows of an offset, bytes, and signs.

    Each row's offset tells how many bytes came before it; a text that is mostly rows need not tell.
    Lines behind a dump keep their numbers.
    """
    if not any(_DUMPED.match(line) for line in text.split("\n", 40)[:40]):
        return text
    lines = text.split("\n")
    rows = [_DUMPED.match(line) for line in lines]
    mostly = 2 * sum(row is not None for row in rows) >= len(lines)
    result: list[str] = []
    at = 0
    while at < len(lines):
        end = at
        data = bytearray()
        first = 0
        while end < len(lines) and (row := rows[end]) is not None:
            offset = int(row[1], 16)
            first = offset if end == at else first
            if offset != first + len(data) and (not mostly or offset == 0):
                break
            data += bytes.fromhex(re.sub(r"\s", "", row[2]))[:_MOST_ROW]
            end += 1
        if end - at < _FEWEST or is_binary(bytes(data)):
            end = max(end, at + 1)
            result += lines[at:end]
        else:
            shown = text_of_bytes(bytes(data)).split("\n")
            result += [*shown, *[""] * (end - at - len(shown))]
        at = end
    return "\n".join(result)


# --- lines of a log ----------------------------------------------------------------------------


def uncounted(text: str) -> str:
    """Return the text without numbers that count its lines: `[00017] ` or `000017 `.

    All lines have one, each by one more than the last; those without brackets have zeros in front.
    """
    if _COUNTED_LINE.match(text.lstrip()) is None:
        return text
    lines = text.split("\n")
    told: list[int] = []
    for line in filter(str.strip, lines):
        found = _COUNTED_LINE.match(line)
        if found is None or (told and int(found[1] or found[2]) != told[-1] + 1):
            return text
        told.append(int(found[1] or found[2]))
    if len(told) < _FEWEST_COUNTED:
        return text
    return "\n".join(_COUNTED_LINE.sub("", line, count=1) for line in lines)


def unprefixed(text: str) -> str:
    """Return the text with documents whole that a log brings line by line, each behind a time.

    A document begins where a line ends with a bracket or an element open, and the next one begins
    alike but for its numbers; it goes on until all are closed. Other lines in between follow it.
    """
    lines = text.split("\n")
    result: list[str] = []
    at = in_vain = 0
    while at < len(lines):
        end, document = _document(lines, at) if in_vain <= _MOST_LINES else (at, [])
        in_vain += len(document) if end == at else 0
        result += document if end > at else [lines[at]]
        at = max(end, at + 1)
    return "\n".join(result) if len(result) == len(lines) else text


def _document(lines: Sequence[str], at: int) -> tuple[int, list[str]]:
    """The lines of the document that begins on a line, and where it ends; `at` if none does.

    In that case they are those that were looked at.
    """
    first = lines[at]
    clock = RECORD.match(first)
    if clock is None or _OPEN.search(first) is None or at + 1 >= len(lines):
        return at, []
    prefix = _prefix(first, lines[at + 1], clock.end())
    if not prefix:
        return at, []
    depth = _depth(first[len(prefix) :])
    document, others = [first], list[str]()
    for place in range(at + 1, min(len(lines), at + _MOST_LINES)):
        line = lines[place]
        if line[: len(prefix)].translate(_ZEROED) == prefix:
            content = line[len(prefix) :]
            document.append(content)
            depth += _depth(content)
            if depth <= 0:
                return place + 1, document + others
        elif RECORD.match(line):
            others.append(line)
        else:
            break
    return at, document + others


def _prefix(first: str, second: str, least: int) -> str:
    """What two lines begin with, zeros for its digits, if that is more than a time."""
    pairs = zip(first.translate(_ZEROED), second.translate(_ZEROED), strict=False)
    common = "".join(a for a, _ in itertools.takewhile(lambda pair: pair[0] == pair[1], pairs))
    return common if len(common) > least else ""


def _depth(content: str) -> int:
    """How many more brackets and elements a line opens than it closes."""
    return sum(-1 if closing else 1 for closing in _MARK.findall(_QUOTED.sub("", content)))


# --- changes, and cells of sheets ---------------------------------------------------------------


def changed(text: str) -> str:
    """Return the text with what a change of a file (a unified diff) leaves: what it takes is gone.

    Lines keep their numbers.
    """
    if _HUNK.search(text) is None:
        return text
    result: list[str] = []
    inside = False
    for line in text.split("\n"):
        if _HUNK.match(line):
            inside = True
            result.append("")
            continue
        inside = inside and (line[:1] in tuple(" +-\\") or not line.strip())
        result.append((line[1:] if line[:1] in tuple(" +") else "") if inside else line)
    return "\n".join(result)


def unbroken_cells(text: str) -> str:
    """Return the text with quoted cells of a sheet that hold a point a line, on one line each."""
    whole = _BROKEN.sub(_on_one_line, text) if '"' in text else text
    return whole + "\n" * (text.count("\n") - whole.count("\n"))


def _on_one_line(found: re.Match[str]) -> str:
    lines = [line.strip(" \t\r;,") for line in found[1].split("\n")]
    return f'"{";".join(line for line in lines if line)}"'


# --- sources of a log --------------------------------------------------------------------------


def unmixed(text: str) -> str:
    """Return the text of a log with what other sources say between corners behind the outline.

    The first word behind the time tells the source. Lines of one source that are alike but for
    their two to four numbers are corners if the source says other things too, which part them.
    """
    lines = text.split("\n")
    said = [_source(line) for line in lines]
    kinds: dict[str, Counter[str]] = {}
    for one in said:
        if one is not None:
            kinds.setdefault(one[0], Counter())[one[1]] += 1
    corners = {
        (source, kind)
        for source, counted in kinds.items()
        for kind, count in counted.items()
        if kind and count >= _FEWEST and len(counted) > 1
    }
    if len(kinds) < 2 or not corners:
        return text
    sources = {source for source, _ in corners}
    result: list[str] = []
    waiting: list[str] = []
    speaking: str | None = None
    for line, one in zip(lines, said, strict=True):
        stranger = one is not None and one[0] not in sources
        if speaking is not None and stranger and len(waiting) < _MOST_WAITING:
            waiting.append(line)
            continue
        if one is None or one[0] != speaking or one not in corners:
            result += waiting
            waiting = []
        result.append(line)
        speaking = one[0] if one is not None and one[0] in sources else None
    return "\n".join(result + waiting)


def _source(line: str) -> tuple[str, str] | None:
    """Who says a line, and what a corner's line says but for its numbers, "" for other lines."""
    clock = RECORD.match(line) or PREFIX.match(line)
    found = _SPOKEN.match(line, 0 if clock is None else clock.end())
    if found is None or (clock is None and found[1][0] not in "[(<"):
        return None
    content = line[found.end() :]
    if '"' in content or len(content) > _LONGEST_CORNER:
        return found[1], ""
    kind, count = _VALUE.subn("0", content)
    return found[1], kind if 2 <= count <= 4 else ""


# --- codes and values in turn ------------------------------------------------------------------


def decoded(text: str) -> str:
    """Return the text of a drawing of codes and values, a line each, in turn (DXF), as records.

    The codes are those of the drawing exchange format: 0 begins an entity, 10 to 18 stand before x,
    20 to 28 before y. An entity becomes a record on a line; vertices belong to the one before them.
    """
    head = text[:4096].split("\n")[:-1] if len(text) > 4096 else text.split("\n")
    if len(head) < 8 or not all(map(_CODE.match, head[: len(head) // 2 * 2 : 2])):
        return text
    if not any(code.strip() == "0" for code in head[::2]):
        return text
    lines = text.split("\n")
    if not all(_CODE.match(code) for code in lines[: len(lines) // 2 * 2 : 2]):
        return text
    return "\n".join(_records(lines))


def _records(lines: Sequence[str]) -> Iterator[str]:
    record: dict[str, object] = {}
    points: list[list[str]] = []
    vertex = False
    for code, value in zip(lines[::2], lines[1::2], strict=False):
        number, told = int(code), value.strip()
        if number == 0:
            vertex = told in ("VERTEX", "SEQEND")
            if not vertex:
                yield _record(record, points)
                record, points = {"entity": told}, []
        elif 10 <= number <= 18:
            points.append([told])
        elif 20 <= number <= 28 and points:
            points[-1].append(told)
        elif number in (1, 2, 3, 6, 7, 8) and not vertex:
            record.setdefault({8: "layer", 1: "text"}.get(number, f"c{number}"), told)
    yield _record(record, points)


def _record(record: dict[str, object], points: Sequence[Sequence[str]]) -> str:
    fields = "".join(f"{json.dumps(k)}: {json.dumps(v)}, " for k, v in record.items())
    corners = ", ".join(f"[{', '.join(point)}]" for point in points if len(point) == 2)
    return f'{{{fields}"points": [{corners}]}}' if record else ""
