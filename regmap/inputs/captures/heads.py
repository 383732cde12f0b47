"""What heads outlines, put so that the name in it is plain: `ROOM 5 4`, `mapper: Kiln room=`."""

from __future__ import annotations

import re

from regmap.inputs.captures.numerals import PURE
from regmap.inputs.captures.words import KNOWN

__all__ = ["counted_heads", "spoken_heads"]

_POINT = rf"[ \t]*+{PURE}[ \t,;]++{PURE}[ \t\r]*+"
_HEAD = re.compile(
    r"^(?P<words>[^\W\d][^\n]{0,100}?)[ \t,;:]{1,8}+(?P<count>\d{1,5})[ \t\r]*+\n"
    rf"(?P<body>{_POINT}(?:\n{_POINT})*+)(?=\n|\Z)",
    re.MULTILINE,
)

_WORD = r"[^\W\d][^\s=:\[\](){}<>\"]*+"
_SPEAKER = re.compile(
    r"(?<!\S)(?P<keys>(?:[^\W\d][\w./-]{0,40}:[ \t]{1,4}){1,3})"
    rf"(?P<words>{_WORD}(?:[ ]{_WORD}){{0,5}}+)"
    r"(?=(?:[ ]\(\d{1,5} [^\W\d]{1,20}\))?[ \t]{0,2}(?:=>|->|:=|=|:)[ \t]{0,2}"
    r"(?:[^\W\d]\w{0,30}[ ]?[=:])?(?P<ring>[\s\S]{0,200}))"
)
_KEY = re.compile(r"([^\s:]+):[ \t]+")
_RING = re.compile(rf"(?:[^\w.]{{0,40}}?{PURE}){{6}}")
"""Three points."""

_BELOW = re.compile(rf"(?:\D{{0,20}}?{PURE}){{6}}")
"""The same on lines of their own, where words may stand before the numbers."""


def counted_heads(text: str) -> str:
    """Return the text with words for the count of points behind what heads them: `ROOM 5 4`.

    As many lines of two numbers follow each such line. Where that number is the only one, it might
    be the room's, unless two rooms have the same.
    """
    found = list(_HEAD.finditer(text))
    counts = [int(head["count"]) for head in found]
    right = [
        count == head["body"].count("\n") + 1 for count, head in zip(counts, found, strict=True)
    ]
    numbered = all(head["words"].rstrip()[-1:].isdigit() for head in found)
    if len(found) < 2 or not all(right) or not (numbered or len({*counts}) < len(counts)):
        return text
    return _HEAD.sub(r"\g<words> (\g<count> points)\n\g<body>", text)


def spoken_heads(text: str) -> str:
    """Return the text with brackets around what speaks where names of several words follow it.

    `mapper: Kiln room=[[0, 0], ...` becomes `[mapper] Kiln room=[[0, 0], ...`. If the last of the
    words differs from line to line, it is a part of names, and no key behind a value.
    """
    if ":" not in text:
        return text
    spoken: dict[str, list[list[str]]] = {}
    for found in _SPEAKER.finditer(text):
        if _is_ring(found["ring"]):
            spoken.setdefault(found["keys"], []).append(found["words"].casefold().split())
    speaking = {keys for keys, names in spoken.items() if _are_names(names)}
    if not speaking:
        return text

    def told(found: re.Match[str]) -> str:
        speaks = found["keys"] in speaking and _is_ring(found["ring"])
        return _KEY.sub(r"[\1] ", found["keys"]) + found["words"] if speaks else found[0]

    return _SPEAKER.sub(told, text)


def _are_names(phrases: list[list[str]]) -> bool:
    """Whether words end in several ways, not all of them known, and some are more than one."""
    lasts = {words[-1] for words in phrases}
    return len(lasts) > 1 and not lasts <= KNOWN and max(map(len, phrases)) > 1


def _is_ring(text: str) -> bool:
    """Whether a text begins with numbers enough for an outline, and has no words before them."""
    return (_BELOW if text.lstrip(" \t\r")[:1] == "\n" else _RING).match(text) is not None
