"""Where the values of a text go: into the group that is open, to the key before them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from regmap.inputs.captures.drawn import is_curved
from regmap.inputs.captures.groups import Group, Item, Value, Word
from regmap.inputs.captures.lines import Lines
from regmap.inputs.captures.numerals import as_number
from regmap.inputs.captures.tokens import OTHER_UNIT, STRUCTURED
from regmap.inputs.captures.unpack import GROUP_PARTS, Budget, unpacked
from regmap.inputs.captures.words import is_field

Build: TypeAlias = Callable[[str, Budget, int, int], Group]
"""(text, budget, how often it was quoted, where it stands) -> its tree."""

__all__ = ["MAX_DEPTH", "MAX_QUOTED", "Assembly", "Build"]

MAX_DEPTH = 40
"""Brackets nested deeper than this are read as if they were not there."""

MAX_QUOTED = 5
"""How often text may be quoted inside quoted text."""

_LONGEST_CELL = 500
"""What parts cells is looked for so many characters back."""

LONGEST_PHRASE = 200
"""Words are put together up to so many characters."""


class Assembly:
    """The groups that are open in a text, and what was just put into them.

    Attributes:
        lines: the lines and blocks; `open`: the brackets and elements open in the line or record.
        key: a key that waits for its value; `glued`: what comes next belongs to the last key, under
            the key `head`, if any; `mark`: what stood behind the last key.
        apart: a comma or the like stands before what comes next; `loose`: one stood before the last
            word, which was glued to a key.
        ignored: brackets that are open beyond `MAX_DEPTH`.
        unwrapped: up to where packed text was looked for that goes over several lines.
        line_start, value_start, record_start: where the line began, the value of its first key, and
            the line in which the brackets that are open were opened.
    """

    def __init__(self, text: str, budget: Budget, depth: int, at: int | None, build: Build) -> None:
        self.text, self.budget, self.depth, self.at = text, budget, depth, at
        self._build = build
        self.root = Group("root" if at is None else "text", at or 0)
        self.lines = Lines(self.root, at, self.value_of, budget)
        self.open: list[Group] = []
        self.key: str | None = None
        self.head: str | None = None
        self.mark = ""
        self.glued = False
        self.apart = True
        self.loose = False
        self.ignored = 0
        self.unwrapped = 0
        self.line_start = 0
        self.value_start = 0
        self.record_start = 0

    @property
    def top(self) -> Group:
        """The group that takes what comes next."""
        return self.open[-1] if self.open else self.lines.line

    def offset(self, position: int) -> int:
        """Where a position stands in the whole text."""
        return position if self.at is None else self.at

    def inner(self, text: str, position: int) -> Group:
        """Return the tree of a text that was quoted or packed at a position."""
        return self._build(text, self.budget, self.depth + 1, self.offset(position))

    def put(self, value: Value) -> None:
        """Add a value: to the key before it, to the words that it continues, or as it is.

        What lies too deep is left out: without its brackets it would be something else.
        """
        if self.ignored:
            self.key = None
            return
        items = self.top.items
        loose = self.apart
        if self.key is not None:
            items.append((self.key, value))
            self.key, self.glued, loose = None, True, False
        elif isinstance(value, Word) and (words := self.last_words()) is not None:
            key, last = words[-1]
            words[-1] = key, Word(f"{last} {value}")
            loose = self.loose
        elif self.glued and items and items[-1][0] is not None and not _is_other(value, items):
            self._span(items).append((self.head, value))
            self.head = None
        else:
            items.append((None, value))
        self.apart, self.loose = False, loose

    def _span(self, items: list[Item]) -> list[Item]:
        """The values of the last key, as a group that takes one more."""
        key, last = items[-1]
        if not (isinstance(last, Group) and last.kind == "span"):
            span = Group("span", self.top.offset)
            span.items.append((None, last))
            items[-1] = key, span
            return span.items
        return last.items

    def last_words(self) -> list[Item] | None:
        """The items of which the last is words that go on here, or None."""
        items = self.top.items
        if self.apart or self.key is not None or not items:
            return None
        last = items[-1][1]
        if self.glued and isinstance(last, Group) and last.kind == "span":
            items, last = last.items, last.items[-1][1]
        return items if isinstance(last, Word) and len(last) < LONGEST_PHRASE else None

    def set_apart(self, position: int) -> list[Item] | None:
        """The items of a line that so far holds words alone, if only blanks lie behind them: those
        put a number below others (`corner  9: 1, 2` above `corner 10: 3, 4`)."""
        items = self.lines.line.items
        if self.open or len(items) != 1 or items[0][0] is not None:
            return None
        before = self.text[self.line_start : position].rstrip(" ")
        return items if isinstance(items[0][1], Word) and before[-1:].isalpha() else None

    def mark_heading(self, position: int) -> None:
        """Mark the line as one that ends in a colon, if it ends at a position."""
        if not self.open and self.text[position : position + 1] in ("\n", "\r"):
            self.lines.line.tag = ":"

    def head_whole(self, items: list[Item], end: int) -> None:
        """Keep a heading whole of which a comma is a part: `Hall, ground floor:`."""
        assert self.key is not None
        if any(key is not None or type(value) is not Word for key, value in items):
            return
        raw = self.text[self.line_start : end].strip()[:-1].rstrip()
        words = " ".join([*(str(value) for _, value in items), self.key])
        parts = raw.split(",")[1:]
        told = any(is_field(part) or any(map(str.isdigit, part)) for part in parts)
        if not told and raw.replace(",", " ").split() == words.split():
            items.clear()
            self.key = Word(raw)

    def cell_mark(self, position: int) -> str:
        """What stands before the words before a position, if that may part cells of a row."""
        start = max(self.line_start, position - _LONGEST_CELL)
        before = self.text[start:position]
        return before[max(0, *(before.rfind(mark) for mark in ",;|\t"))]

    def measured(self, position: int) -> bool:
        """Whether a unit of another kind than length stands at a position: 12.5 m2."""
        return OTHER_UNIT.match(self.text, position) is not None

    def flush_key(self) -> None:
        """A key that got no value has an empty one."""
        if self.key is not None:
            self.top.items.append((self.key, Word("")))
            self.key = None

    def push(self, group: Group) -> None:
        """Open a group."""
        self.budget.spend(GROUP_PARTS)
        if len(self.open) >= MAX_DEPTH:
            self.ignored += 1
        else:
            if not self.open:
                self.record_start = self.line_start
            group.joins = group.kind == "(" and self.last_words() is not None
            self.put(group)
            self.open.append(group)
        self.glued, self.apart = False, True

    def close(self, back: int) -> None:
        """Close the group at a place of `open`, and all that are open inside it."""
        closed = self.open[back]
        del self.open[back:]
        items = self.top.items
        if closed.joins and self._join(closed):
            return
        headed = _headed(closed, items)
        self.glued = not headed and items[-1][0] is not None
        self.apart = True
        if not closed.items and items[-1] == (None, closed):
            items.pop()

    def _join(self, closed: Group) -> bool:
        """Bath (upper floor): put words in round brackets to the words before them."""
        words = [value for key, value in closed.items if key is None and isinstance(value, Word)]
        items = self.top.items
        if items and isinstance(span := items[-1][1], Group) and span.kind == "span":
            items = span.items
        if len(words) != len(closed.items) or not words or len(items) < 2:
            return False
        (key, before), (own_key, last) = items[-2:]
        if last is not closed or own_key is not None or not isinstance(before, Word):
            return False
        items[-2:] = [(key, Word(f"{before} ({', '.join(words)})"))]
        self.apart, self.loose, self.glued = False, False, self.top.items[-1][0] is not None
        return True

    def close_all(self) -> None:
        """The text ends, or another record begins, while groups are open."""
        if self.open:
            self.flush_key()
        for group in self.open:
            group.cut = True
        self.open.clear()
        self.ignored = 0

    def put_text(self, content: str, position: int) -> None:
        """Put quoted text: as a group if it holds structure, else as it is."""
        self.put(self.value_of(content, position))

    def value_of(self, content: str, position: int) -> Value:
        """Return what a text at a position holds: a group if it holds structure, else itself."""
        number = as_number(content) if content[:1].isspace() or content[-1:].isspace() else None
        structured = len(content) > 2 and STRUCTURED.search(content) and not is_curved(content)
        if self.depth < MAX_QUOTED and structured:
            plain = unpacked(content.strip(), self.budget)
            inner = self.inner(content if plain is None else plain, position)
            if plain is not None or _holds_more(inner):
                inner.tag = content.strip() if plain is None and len(content) < 200 else None
                return inner
        return content if number is None else number


def _holds_more(group: Group) -> bool:
    """Whether a quoted text holds anything that the text alone does not say."""
    return len(group.items) > 1 or any(
        key is not None or not isinstance(value, str | float) for key, value in group.items
    )


def _is_other(value: Value, items: list[Item]) -> bool:
    """Whether a value is a quoted text behind a number with a key: id=3 "hall"."""
    quoted = isinstance(value, str) and not isinstance(value, Word)
    return quoted and isinstance(items[-1][1], float)


def _headed(closed: Group, above: list[Item]) -> bool:
    """(name ...): make the first word in round brackets the key of the rest."""
    items = closed.items
    if closed.kind != "(" or closed.tag or len(items) < 2 or items[0][0] is not None:
        return False
    head = items[0][1]
    if not isinstance(head, Word) or not above or above[-1] != (None, closed):
        return False
    above[-1] = str(head), closed
    del items[0]
    return True
