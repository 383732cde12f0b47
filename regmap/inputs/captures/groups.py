"""What the tree of a text is made of, and how to look at a part of it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import TypeAlias

from regmap.inputs.captures.numerals import Numbers, as_number

__all__ = [
    "Group",
    "Item",
    "Value",
    "Word",
    "coordinate_of",
    "ends_open",
    "entry_of",
    "is_wording",
    "number_of",
    "text_of",
    "unwrap",
]


_VALUE_KEYS = frozenset(
    ("value", "val", "v", "n", "s", "int", "integer", "float", "double", "real", "string", "number",
     "text", "#text", "$t", "_")
)  # fmt: skip


class Word(str):
    """Text that stood without quotes."""

    __slots__ = ()


class Group:
    """What stands together.

    Attributes:
        kind: the bracket that opened it, "<" for an element, "line", "dash" (a list item after a
            dash), "block" (what is indented below a key, or stands below a heading), "row" (of a
            table), "span" (several values after one key), "text" (quoted or packed text), "root".
        items: (key or None, value) in the order of the text.
        offset: where it begins.
        tag: the name of an element; the text of a quoted one; "," for a list in round brackets; ":"
            for a line that ends in a colon which is not behind a key.
        cut: the text ended, or another record began, before it was closed.
        joins: it stands in round brackets right behind words.
        serial: tells groups apart, also across texts.
    """

    __slots__ = ("cut", "items", "joins", "kind", "offset", "serial", "tag")

    _serials = itertools.count()

    def __init__(self, kind: str, offset: int, tag: str | None = None) -> None:
        self.kind = kind
        self.items: list[Item] = []
        self.offset = offset
        self.tag = tag
        self.cut = False
        self.joins = False
        self.serial = next(Group._serials)

    def every(self) -> Iterator[Group]:
        """Yield it and all groups below, each before what it holds then: it may be changed."""
        waiting = [self]
        while waiting:
            group = waiting.pop()
            yield group
            waiting += [value for _, value in group.items if isinstance(value, Group)]


Value: TypeAlias = float | str | Numbers | Group
Item: TypeAlias = tuple[str | None, Value]


def unwrap(value: Value) -> Value:
    """Look through groups that hold one value and say nothing about it."""
    while (
        isinstance(value, Group)
        and value.kind in ("line", "dash", "text", "span", "block")
        and len(value.items) == 1
        and value.items[0][0] is None
    ):
        value = value.items[0][1]
    return value


def ends_open(group: Group) -> bool:
    """Whether the text ended, or another record began, within the last group of a tree."""
    value: Value = group
    while isinstance(value, Group) and not value.cut and value.items:
        value = value.items[-1][1]
    return isinstance(value, Group) and value.cut


def text_of(value: Value) -> str | None:
    """Return a value as one piece of text, or None if it holds more than that."""
    value = _bare_value(value)
    if isinstance(value, str):
        return str(value)
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, Numbers):
        return None
    if value.kind == "text" and value.tag is not None:
        return value.tag
    if value.kind not in ("span", "<", "line", "dash", "text", "block", "("):
        return None
    inner = [below for key, below in value.items if key is None]
    while value.kind == "line" and len(inner) > 1 and _is_tag(inner[0]):
        del inner[0]  # [net] hall (4 corners)
    if value.kind == "span" and len(inner) < len(value.items):
        return None
    if len(inner) == 2 and isinstance(inner[0], str) and _is_aside(inner[1]):
        return str(inner[0])
    texts = [isinstance(below, str) for below in inner]
    quoted = [text for below in inner if (text := _quoted(below)) is not None]
    others = [b for b in inner if not isinstance(b, str) and _quoted(b) is None]
    aside = all(_is_tag(other) or _is_aside(other) for other in others)
    if value.kind in ("line", "dash", "span") and len(quoted) == 1 and aside:
        return quoted[0]  # begin "hall", string(4) "hall"
    if len(inner) > 1 and not (all(texts) if value.kind == "(" else any(texts)):
        return None
    parts = [text_of(below) for below in inner]
    if not parts or any(part is None for part in parts):
        return None
    return " ".join(part for part in parts if part)


def _quoted(value: Value) -> str | None:
    """Return what a value says in quotes, or None."""
    if isinstance(value, Group):
        return value.tag if value.kind == "text" else None
    return value if isinstance(value, str) and not isinstance(value, Word) else None


def _is_tag(value: Value) -> bool:
    """Whether a value is words in square brackets: [net]."""
    return (
        isinstance(value, Group)
        and value.kind == "["
        and all(key is None and isinstance(part, str) for key, part in value.items)
    )


def _is_aside(value: Value) -> bool:
    """Whether a value is one number with words in round brackets: (4 corners)."""
    if not isinstance(value, Group) or value.kind != "(" or not 1 <= len(value.items) <= 3:
        return False
    return isinstance(value.items[0][1], float) and all(
        key is None and isinstance(part, str) for key, part in value.items[1:]
    )


def _bare_value(value: Value) -> Value:
    """Look through {"value": ...}."""
    if isinstance(value, Group) and len(value.items) == 1 and value.kind in ("{", "<"):
        key, inner = value.items[0]
        folded = (key or "").casefold()
        if key is not None and {folded, folded.removesuffix("value")} & _VALUE_KEYS:
            return inner
    return value


def entry_of(value: Value) -> tuple[str, Value] | None:
    """Return key and value of a group that spells them out: {"key": "name", "value": "hall"}."""
    if not isinstance(value, Group) or len(value.items) != 2 or value.kind not in ("{", "<"):
        return None
    (first, key), (second, inner) = value.items
    if isinstance(key, Group) and key.kind == "<":
        key = text_of(key) or key
    if first == "name" and second == "value" and isinstance(key, str):
        return str(key), inner
    named = first in ("key", "k") and isinstance(key, str)
    valued = second is None or second.casefold() in _VALUE_KEYS
    return (str(key), inner) if named and valued else None


def number_of(value: Value) -> float | None:
    """Return a value as one number, or None."""
    value = unwrap(_bare_value(value))
    if isinstance(value, float):
        return value
    if isinstance(value, str):
        return as_number(value)
    if isinstance(value, Group) and value.kind in ("span", "<", "("):
        inner = [v for key, v in value.items if key is None]
        numbers = [v for v in inner if isinstance(v, float)]
        plain = len(inner) == len(numbers) or value.kind == "span"
        if plain and len(numbers) == 1 and all(isinstance(v, float | str) for v in inner):
            return numbers[0]
    return None


def coordinate_of(value: Value) -> float | None:
    """Return a value as one number, whatever words and more stand behind it: y=7 - tiles 4.9 m2."""
    number = number_of(value)
    if number is None and isinstance(value, Group) and value.kind == "span":
        first, second = (inner for _, inner in value.items[:2])
        keyed = any(key is not None for key, _ in value.items[:2])
        if isinstance(first, float) and isinstance(second, Word | Group) and not keyed:
            return first
    return number


def is_wording(value: Value) -> bool:
    """Whether a value is several words and marks, and neither quoted nor numbers alone."""
    if not isinstance(value, Group) or value.kind != "span":
        return False
    return isinstance(value.items[0][1], Word) and all(
        key is None and isinstance(part, Word | float) for key, part in value.items
    )
