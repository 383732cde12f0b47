"""Where a line of text belongs: by its indentation, its dashes, its key or the heading above it."""

from __future__ import annotations

import re
from collections.abc import Callable

from regmap.inputs.captures.groups import Group, Item, Value, Word
from regmap.inputs.captures.pens import is_pen
from regmap.inputs.captures.tables import tables
from regmap.inputs.captures.tokens import DASH, FIELD, HEADING, INDENT, PATH, PREFIX, STEP, TOPIC
from regmap.inputs.captures.unpack import GROUP_PARTS, Budget
from regmap.inputs.captures.words import name_rank, votes

__all__ = ["Lines"]

MAX_LEVELS = 40
"""Lines indented deeper than this many levels are read as if they were not."""

_FOLDED_FROM = 60
"""A line shorter than this goes on below for no reason of space."""

_FOLDED = re.compile(r"(?:-[\d.]|[^-#\s])[^:=]*+\Z")
"""What may stand on such a line: no key, no dash."""

_SEARCHED = 500
"""How many items back a block of the same key is looked for."""


class Lines:
    """The groups that are open at the left of a text.

    Attributes:
        root: the outermost.
        line: the group of the line being read.
    """

    def __init__(
        self, root: Group, at: int | None, value_of: Callable[[str, int], Value], budget: Budget
    ) -> None:
        self.root = root
        self._value_of = value_of
        self._budget = budget
        self.at = at
        self.line = Group("line", at or 0)
        self._levels: list[tuple[int, Group, bool]] = [(-2, root, False)]
        self._column = 0
        self.way: list[str] = []  # the blocks that the line's key names
        self._blocks: dict[tuple[int, str], tuple[int, Group]] = {}  # (parent, key) -> place, block
        self._margin = 0  # a line that starts further right may go on with this one

    def begin(self, text: str, position: int) -> int:
        """Open the groups of the line at a position; return where its content begins."""
        self._budget.spend(GROUP_PARTS)
        offset = position if self.at is None else self.at
        self.line = Group("line", offset)
        heading = HEADING.match(text, position)
        if heading:
            name = next(part for part in heading.groups() if part is not None)
            block = Group("block", offset)
            del self._levels[1:]
            self._hang(self.root, Word(_unquoted(name.strip())), block)
            self._levels.append((-1, block, False))
            return heading.end()
        found = tables(text, position, self._budget)
        if found is not None:
            several, position = found
            for rows in several:
                group = Group("table", offset)
                for found_row in rows:
                    row = Group("row", found_row.start if self.at is None else self.at)
                    row.items.extend(
                        (key, self._value(cell, found_row.start)) for key, cell in found_row.cells
                    )
                    group.items.append((None, row))
                self._levels[-1][1].items.append((None, group))
            return position
        return self._indent(text, position, offset)

    def _value(self, cell: float | str, start: int) -> Value:
        return self._value_of(cell, start) if isinstance(cell, str) else cell

    def _indent(self, text: str, position: int, offset: int) -> int:
        indent = INDENT.match(text, position)
        assert indent is not None
        position = indent.end()
        if text[position : position + 1] in ("\n", "\r", ""):
            return position
        levels = self._levels
        column = self._margin = len(indent[0].expandtabs())
        while dash := DASH.match(text, position):
            while levels[-1][0] > column or (levels[-1][0] == column and levels[-1][2]):
                levels.pop()
            if len(levels) < MAX_LEVELS:
                group = Group("dash", offset)
                levels[-1][1].items.append((None, group))
                levels.append((column, group, True))
            self._margin = column
            column += len(dash[0])
            position = dash.end()
        while levels[-1][0] >= column:
            levels.pop()
        self._column = column
        prefix = PREFIX.match(text, position)
        return prefix.end() if prefix else position

    def folded(self, text: str, position: int) -> tuple[str, int] | None:
        """Return a value that goes on in indented lines below, and where it ends; or None."""
        end = text.find("\n", position)
        if end < 0 or text[end + 1 : end + 2] not in (" ", "\t"):
            return None
        line = text[text.rfind("\n", 0, position) + 1 : end]
        parts = [text[position:end].strip()]
        if len(line) < _FOLDED_FROM or parts[0][:1] in tuple("[{|>"):
            return None
        while 0 <= end < len(text):
            below = text.find("\n", end + 1)
            below = len(text) if below < 0 else below
            line = text[end + 1 : below]
            indent = INDENT.match(line)
            assert indent is not None
            content = line[indent.end() :].strip()
            if len(indent[0].expandtabs()) <= self._margin or not _FOLDED.match(content):
                break
            parts.append(content)
            end = below
        return (" ".join(parts), end) if len(parts) > 1 else None

    def finish(self, open_key: str | None) -> None:
        """Hang the finished line into its parent; a key without value opens a block below it."""
        line, parent = self.line, self._levels[-1][1]
        head = line.items[0][1] if line.items and line.items[0][0] is None else None
        topic = TOPIC.match(head) if isinstance(head, Word) else None
        if topic and "/" not in (words := topic.string[topic.end() :]):
            _under(topic[0], Word(words.strip()), line.items)
        if open_key is not None:
            block = Group("block", line.offset)
            line.items.append((open_key, block))
            if len(self._levels) < MAX_LEVELS:
                self._levels.append((self._column, block, False))
        key, value = line.items[0] if len(line.items) == 1 else (None, line)
        if key is not None:
            for part in self.way[:MAX_LEVELS]:
                parent = self._block(parent, part)
            self._hang(parent, key, value)
        elif line.items:
            parent.items.append((None, line))
        self.line = Group("line", line.offset)
        self.way = []

    def _hang(self, parent: Group, key: str, value: Value) -> None:
        """Append a value; a key such as room.3.name or a/b/name goes into the blocks it names."""
        mark = "/" if key.count("/") > 1 and "://" not in key else "."
        field = FIELD.fullmatch(key)
        told = field is not None and (name_rank(field[2]) is not None or votes(field[2])[1])
        if field and (told or (parent.serial, field[1]) in self._blocks):
            parent, key = self._block(parent, field[1]), field[2]
        elif mark == "/" or (PATH.fullmatch(key) and not is_pen(key)):
            quoted = mark == "." and '"' in key
            steps = STEP.findall(key) if quoted else ()
            parts = [a or b for a, _, b in steps] if quoted else key.strip(mark).split(mark)
            *above, key = (part.strip() for part in parts)
            for part in above[:MAX_LEVELS]:
                parent = self._block(parent, part)
        self._append(parent, key, value)

    def _block(self, parent: Group, key: str) -> Group:
        """The last block of a key in a group if it is not far back, or a new one."""
        place, block = self._blocks.get((parent.serial, key), (-_SEARCHED - 1, parent))
        if place < len(parent.items) - _SEARCHED:
            block = Group("block", parent.offset)
            self._append(parent, key, block)
        return block

    def _append(self, parent: Group, key: str, value: Value) -> None:
        if isinstance(value, Group) and value.kind == "block":
            self._blocks[parent.serial, key] = len(parent.items), value
        parent.items.append((key, value))


def _unquoted(name: str) -> str:
    """A heading without quotes around all of it."""
    quoted = len(name) > 2 and name[0] == name[-1] and name[0] in "\"'`"
    return name[1:-1] if quoted else name


def _under(key: str, words: Word, items: list[Item]) -> None:
    """Put a line's items below the topic that they begin with: a/b/name hall."""
    if words:
        items[0] = (None, words)
    else:
        del items[0]
    if len(items) == 1 and items[0][0] is None:
        items[0] = (key, items[0][1])
    elif items:
        span = Group("span", 0)
        span.items = items[:]
        items[:] = [(key, span)]
    else:
        items.append((key, Word("null")))  # an empty message
