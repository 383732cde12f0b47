"""Texts whose lines or signs are of another kind: cut at a width, sent piece by piece."""

from __future__ import annotations

import itertools
import json
import quopri
import re

from regmap.inputs.captures.unpack import text_of_bytes

__all__ = [
    "announced",
    "keyed_fields",
    "plain_marks",
    "rejoined",
    "soft_broken",
    "unbroken",
    "unstreamed",
    "with_points",
]

_ODD_MARK = re.compile("[\u2212\u27e8\u2329]")
_LONG_MINUS = re.compile("\u2212(?=[.\\d])")
_LETTER = re.compile(r"\\u([0-9A-Fa-f]{4})")
_IMAGINARY = re.compile(r"[+-][ ]?[\d.]+(?:j|im)(?!\w)")
_COMPLEX = re.compile(
    r"(?:(?<!\w)\()?+(?<![\w.])(-?[\d.]++)[ ]?(?:\+[ ]?)?(-?(?<=[+ -])[\d.]++)(?:j|im)(?!\w)\)?+"
)
_ALONE = re.compile(r"(?<![\w.+-])(-?\d++(?:\.\d++)?)j(?!\w)")
_BARS = re.compile("[\u2502\u2503\u2551]")
_RULED = {
    **dict.fromkeys(map(ord, "\u2502\u2503\u2551\u2506\u250a"), "|"),
    **dict.fromkeys(map(ord, "\u2500\u2501\u2550\u2504\u2508"), "-"),
    **dict.fromkeys([*range(0x250C, 0x254C), *range(0x2552, 0x256D)], "+"),
}
_ANGLES = {0x27E8: "(", 0x27E9: ")", 0x2329: "(", 0x232A: ")"}
_NARROW = dict(zip("\uff08\uff09\uff0c\uff1b\uff1a\u3001\uff3b\uff3d", "(),;:,[]", strict=True))
_WIDE = re.compile(
    r"[\uff08\uff3b](?=[ ]?[-+.\d\uff08\uff3b])|(?<=[\d\uff09\uff3d])[\uff09\uff3d]"
    r"|(?<=[\d\uff09\uff3d)\]])[\uff0c\uff1b\u3001]|\uff1a(?=[ ]?[-+.\d\uff08\uff3b(\[])"
)
"""Marks as wide as Chinese signs, where they stand beside numbers."""

_ANNOUNCED = re.compile(
    r"^(?:[A-Z]+[ ])?(?P<key>[\w-]+(?:[./][\w-]+)+)[ ]*[(\[ ](?P<length>\d{1,7})[)\]]?:?\r?\n"
    r"(?P<body>[^\r\n]+)(?=\r?$)",
    re.MULTILINE,
)
_QUOTED_PRINTABLE = re.compile(
    r"(?P<head>^content-transfer-encoding:[ \t]*quoted-printable[^\n]*\n(?:[^\r\n]+\n)*+\r?\n)"
    r"(?P<body>.*?)(?=^--|\Z)",
    re.IGNORECASE | re.MULTILINE | re.DOTALL,
)
_FIELD = re.compile(r"^([ \t]*)(\d{1,9})[ ]?\{(?=[ \t\r]*$)", re.MULTILINE)
_SOFT = re.compile(r"=[ \t\r]*\n")
_COMMAS = re.compile(r"\(([-+]?\d+),(\d+)[ ]?;[ ]?([-+]?\d+),(\d+)\)")
_PLAIN = r"[-+]?\d+(?:\.\d+)?"
_MORE = re.compile(
    rf"[ \t]+(?:{_PLAIN}(?P<sign>[,:/|x]){_PLAIN}(?:[ \t,;]+{_PLAIN}(?P=sign){_PLAIN})*"
    rf"|\({_PLAIN},[ ]?{_PLAIN}\)(?:[ \t,;]+\({_PLAIN},[ ]?{_PLAIN}\))*)[,;]?[ \t\r]*"
)
_ENDS = re.compile(
    rf"(?<![\w.]){_PLAIN}(?P<sign>[,:/|x]){_PLAIN}[ \t,;]+{_PLAIN}(?P=sign){_PLAIN}\Z"
    rf"|\({_PLAIN},[ ]?{_PLAIN}\)[ \t,;]+\({_PLAIN},[ ]?{_PLAIN}\)\Z"
)
_LONGEST_HEAD, _LONGEST_END = 200, 120
_GOES_ON = re.compile(rf"\d[),;]?[ \t\r]*\n[ \t]+\(?{_PLAIN}[,:/|x]")
_SPLIT = re.compile(
    rf"([(\[][ ]?{_PLAIN}[ ]?[,;])([ \t\r]*+\n[ \t]*+(?=\S))({_PLAIN}[ ]?[)\]][,;]?)"
    r"(?![ \t]*+\n?[)\]])"
)
"""A point that is broken behind its x."""

_FEWEST = 3
_NARROWEST = 40


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


def soft_broken(text: str) -> str:
    """Return the text with what mail has as quoted-printable (RFC 2045, section 6.7) as it was.

    It goes from the empty line below the header that says so to a line that parts the mail. Lines
    keep their numbers.
    """
    return _QUOTED_PRINTABLE.sub(_unescaped_mail, text)


def _unescaped_mail(found: re.Match[str]) -> str:
    lines = _SOFT.sub("", found["body"]).split("\n")
    plain = [text_of_bytes(quopri.decodestring(line.encode("utf-8", "replace"))) for line in lines]
    lost = found["body"].count("\n") - len(lines) + 1
    return found["head"] + "\n".join(plain) + "\n" * lost


def plain_marks(text: str) -> str:
    """Return the text with angle brackets around numbers and long minus signs as ASCII has them.

    So do the lines of tables. Complex numbers become pairs, and letters stand for their codes
    (\\u00e4).
    """
    if "\\u" in text:
        text = _LETTER.sub(_letter, text)
    if not text.isascii():
        text = _with_plain_signs(text)
    if not ("j" in text or "im" in text) or not _IMAGINARY.search(text):
        return text
    # Where the real part is nothing, Python leaves it out.
    return _ALONE.sub(r"(0, \1)", _COMPLEX.sub(r"(\1, \2)", text))


def _with_plain_signs(text: str) -> str:
    if _BARS.search(text):
        text = text.translate(_RULED)
    if _ODD_MARK.search(text):
        text = _LONG_MINUS.sub("-", text).translate(_ANGLES)
    if _WIDE.search(text):
        text = _WIDE.sub(lambda found: _NARROW[found[0]], text)
    return text


def _letter(found: re.Match[str]) -> str:
    return letter if (letter := chr(int(found[1], 16))).isalpha() else found[0]


def keyed_fields(text: str) -> str:
    """Return the text with `"4": {` for a line `4 {`, which opens a field that has but a number."""
    return _FIELD.sub(r'\1"\2": {', text)


def with_points(text: str) -> str:
    """Return the text with decimal points in corners as `(1,25; 3,50)`.

    All of them have as many digits behind each comma, and none ends where the next begins: then
    they are no walls from corner to corner.
    """
    found = [corner.groups() for corner in _COMMAS.finditer(text)]
    digits = {len(part) for corner in found for part in (corner[1], corner[3])}
    joined = sum(one[2:] == other[:2] for one, other in itertools.pairwise(found))
    if len(found) < _FEWEST or len(digits) > 1 or 2 * joined > len(found):
        return text
    return _COMMAS.sub(r"(\1.\2; \3.\4)", text)


def rejoined(text: str) -> str:
    """Return the text with points that go on below, indented, on the line on which they begin.

    Both lines hold several points of one form; the first has words before them. A point in brackets
    is never broken. Lines keep their numbers.
    """
    if "\n" not in text:
        return text
    text = _SPLIT.sub(r"\1 \3\2", text)
    if not _GOES_ON.search(text):
        return text
    result: list[str] = []
    parts: list[str] = []
    sign: str | None = None
    for line in text.split("\n"):
        more = _MORE.fullmatch(line)
        if more and parts and sign == (more["sign"] or ")"):
            parts.append(line.strip())
            continue
        result += [" ".join(parts), *[""] * (len(parts) - 1)] if parts else []
        parts, sign = [line.rstrip("\r")], _sign(line)
    return "\n".join([*result, " ".join(parts), *[""] * (len(parts) - 1)])


def _sign(line: str) -> str | None:
    """What holds the points together in which a line of words ends, if there are two or more."""
    if not any(map(str.isalpha, line[:_LONGEST_HEAD])):
        return None
    ends = _ENDS.search(line.rstrip(" \t\r,;")[-_LONGEST_END:])
    return None if ends is None else (ends["sign"] or ")")


def announced(text: str) -> str:
    """Return the text with each message behind its key, where a line tells key and length before.

    `PUB a.b 5`, and then a line of five bytes, become `a.b: hello`. Line numbers stay.
    """
    if "\n" not in text or len(_ANNOUNCED.findall(text)) < 2:
        return text
    return _ANNOUNCED.sub(_with_key, text)


def _with_key(found: re.Match[str]) -> str:
    if len(found["body"].encode("utf-8", "replace")) != int(found["length"]):
        return found[0]
    return f"\n{found['key']}: {found['body']}"
