"""Bytes and packed text -> plain text, never more of it than a budget allows."""

from __future__ import annotations

import base64
import binascii
import codecs
import html
import io
import re
import zlib
from urllib.parse import unquote

from regmap.errors import OutlineError

__all__ = [
    "GROUP_PARTS",
    "Budget",
    "is_binary",
    "text_of_bytes",
    "uncoloured",
    "unescaped",
    "unformed",
    "unpacked",
    "unquoted",
    "utf8",
]

MAX_UNPACKED = 2**24
"""Most bytes that all packed parts of one text may unpack to."""

MAX_UNPACKED_FILE = 2**28
"""Most bytes that a packed file may unpack to."""

MAX_PARTS = 400_000
"""Most parts (numbers in a row, words, keys, marks) of one text, without what a long log says of
other things; reading so many takes some three seconds and a tenth of a gigabyte."""

GROUP_PARTS = 3
"""A line, a bracket or an element counts as so many parts: each is searched for outlines."""

_ZLIB = (b"\x78\x01", b"\x78\x5e", b"\x78\x9c", b"\x78\xda")
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_CONTROL = bytes({*range(32), 127} - {*b"\t\n\r\f\v\x1b"})
_BASE64 = re.compile(r"[A-Za-z0-9+/_-]{24,}={0,2}\Z")
_HEX = re.compile(r"(?:0x)?((?:[0-9A-Fa-f]{2}){16,}+)\Z")
_PERCENT = re.compile(r"%(?:5B|7B|22|2C|3C|3B)", re.IGNORECASE)
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|x([0-9A-Fa-f]{2})|(.))", re.DOTALL)
_BYTES = re.compile(r"(?<!\\)(?:\\x[89a-fA-F][0-9a-fA-F]){2,}")
_CONTROLS = r"\x1b(?:\[[0-?]*+[ -/]*+[@-~]|\][^\x07\x1b]*+(?:\x07|\x1b\\\\)|[@-Z^_])"
"""What sets colours and the like on a terminal (ECMA-48, section 5.4)."""

_CONTROLS_TEXT, _CONTROLS_BYTES = re.compile(_CONTROLS), re.compile(_CONTROLS.encode())
_SURROGATE = re.compile("[\ud800-\udfff]")
_SHORT = {"n": "\n", "t": "\t", "r": "\r", "b": "\b", "f": "\f", "0": "\0"}


class Budget:
    """What one text may still take.

    Attributes:
        left: bytes that may be unpacked; `exceeded`: something was left out, for it was too large.
        parts: how many parts the text may still fall into, of `most` at first.
    """

    def __init__(self, left: int | None = None, parts: int | None = None) -> None:
        self.left = MAX_UNPACKED if left is None else left
        self.exceeded = False
        self.most = self.parts = MAX_PARTS if parts is None else parts

    def spend(self, parts: int = 1) -> None:
        """Count a part of the text, or several."""
        self.parts -= parts
        if self.parts < 0:
            self._refuse()

    def look_over(self, text: str) -> None:
        """Refuse a text of more lines than it may have parts, before any is looked at closely."""
        if text.count("\n") > self.parts:  # which is quick
            lines = sum(not line.isspace() for line in io.StringIO(text))
            if lines > self.parts:
                self._refuse()

    def _refuse(self) -> None:
        raise OutlineError(
            f"the text falls into more than {self.most} parts; cut out the part with the rooms, or "
            "allow more with most_parts="
        )

    def inflate(self, data: bytes, window: int) -> bytes | None:
        """Unpack zlib or gzip data within the budget; None if it is damaged or too large."""
        engine = zlib.decompressobj(window)
        try:
            plain = engine.decompress(data, max(self.left, 0) + 1)
        except zlib.error:
            return None
        if len(plain) > self.left:
            self.exceeded = True
            return None
        self.left -= len(plain)
        return plain


def utf8(data: bytes) -> bytes:
    """Return a file's text as UTF-8 without a mark: out of gzip or zlib, UTF-16 or UTF-32."""
    if data[:2] == b"\x1f\x8b" or data[:2] in _ZLIB:
        budget = Budget(MAX_UNPACKED_FILE)
        plain = budget.inflate(data, 47)
        if budget.exceeded:
            raise OutlineError(
                f"the file unpacks to more than {MAX_UNPACKED_FILE // 2**20} MiB; unpack it, and "
                "cut out the part with the rooms"
            )
        data = data if plain is None else plain
    return _unmarked(data)


def _unmarked(data: bytes) -> bytes:
    for mark, name in _MARKS:
        if data.startswith(mark):
            data = data[len(mark) :]
            return data if name == "utf-8" else data.decode(name, errors="replace").encode()
    head = data[:4096]
    if head.count(0) * 3 > len(head):
        little = head[1::2].count(0) > head[::2].count(0)
        return data.decode("utf-16-le" if little else "utf-16-be", errors="replace").encode()
    return data


def text_of_bytes(data: bytes) -> str:
    """Return UTF-8 as text; a line that is none is read as Windows-1252."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = "".join(_line(line) for line in data.splitlines(keepends=True))
    return text.replace("\r", "\n") if "\r" in text and "\n" not in text else text


def uncoloured(data: bytes) -> bytes:
    """Return text without what it tells a terminal about colours and the like."""
    return _CONTROLS_BYTES.sub(b"", data) if b"\x1b" in data else data


def is_binary(data: bytes) -> bool:
    """Whether so many bytes are control characters that this cannot be text."""
    return len(data) - len(data.translate(None, _CONTROL)) > 0.03 * len(data)


def _line(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("cp1252", errors="replace")


def unescaped(text: str) -> str:
    """Return text without the escapes of a quoted string or of HTML."""
    if "\\" in text:
        text = _BYTES.sub(_utf8_meant, text)
        text = _ESCAPE.sub(_meant, text)
        text = _CONTROLS_TEXT.sub("", text) if "\x1b" in text else text
        if _SURROGATE.search(text):
            text = text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    return html.unescape(text) if "&" in text else text


def _utf8_meant(found: re.Match[str]) -> str:
    """Bytes escaped one by one, as Python writes them, if they are UTF-8."""
    try:
        return bytes.fromhex(found[0].replace("\\x", "")).decode("utf-8")
    except UnicodeDecodeError:
        return found[0]


def _meant(found: re.Match[str]) -> str:
    code, short, mark = found.groups()
    if code or short:
        return chr(int(code or short, 16))
    return _SHORT.get(mark, mark)


def unquoted(word: str) -> str | None:
    """Return the text that a word holds in the form of a web address (%5B for a bracket), or None.

    Form encoding writes a space as +, and a plus as %2B.
    """
    return unquote(word.replace("+", " ")) if _PERCENT.search(word) else None


def unformed(form: str) -> str:
    """Return the fields of a web address or of what a form sends, a line each: `name = hall`."""
    fields = form[form.find("?", 0, form.index("=")) + 1 :].replace("+", " ")
    parts = [part.partition("=") for part in fields.split("&")]
    return "\n".join(f"{unquote(key)} = {unquote(value)}" for key, _, value in parts)


def unpacked(word: str, budget: Budget) -> str | None:
    """Return the text that a word holds in packed form (base64 or hex, zlib or gzip), or None."""
    if len(word) < 24:
        return None
    parts = word.split()
    if len({len(part) for part in parts[:-1]}) == 1 and 40 <= len(parts[0]) >= len(parts[-1]):
        word = "".join(parts)  # wrapped at some width
    data = None
    if word.isdigit():
        return None
    if found := _HEX.match(word):
        data = _plain(bytes.fromhex(found[1]), budget)
    if data is None and _BASE64.match(word):
        padded = word.rstrip("=").translate(str.maketrans("-_", "+/"))
        try:
            data = _plain(base64.b64decode(padded + "=" * (-len(padded) % 4)), budget)
        except (binascii.Error, ValueError):
            return None
    return data


def _plain(data: bytes, budget: Budget) -> str | None:
    """Text if the bytes are text, or are packed text."""
    if data[:2] == b"\x1f\x8b":
        inflated = budget.inflate(data, 31)
    elif data[:1] == b"\x78":
        inflated = budget.inflate(data, 15)
    else:
        inflated = None
    plain = data if inflated is None else inflated
    if not plain or is_binary(plain[:400]):
        return None
    try:
        text = plain.decode("utf-8")
    except UnicodeDecodeError:
        if inflated is None:
            return None
        text = text_of_bytes(_unmarked(plain))
    shown = sum(c.isprintable() or c.isspace() for c in text[:400])
    return text if shown > 0.97 * len(text[:400]) else None
