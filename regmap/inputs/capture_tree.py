"""Any text -> a tree of groups: brackets, elements, lines and indented blocks, all in one shape.

One tokenizer reads every spelling. What opens and closes (brackets of any kind, XML elements,
lines, indented blocks, quoted text that holds structure itself) becomes a `Group`; what stands
before `:` or `=` becomes the key of what follows. Nothing here knows what a room is, and nothing is
ever run, looked up or expanded: an entity that a document declares stays the characters it is.
"""

from __future__ import annotations

import re

from regmap.inputs.capture_groups import Group, Value, Word
from regmap.inputs.capture_numbers import Numbers, as_number
from regmap.inputs.capture_tables import table
from regmap.inputs.capture_tokens import (
    ATTRIBUTE,
    DASH,
    HEADING,
    IN_BRACKETS,
    IN_LINE,
    INDENT,
    MATCHING,
    RECORD,
    STRUCTURED,
)
from regmap.inputs.capture_unpack import Budget, unescaped, unpacked

__all__ = ["build"]

MAX_DEPTH = 60
"""Brackets nested deeper than this are read as if they were not there."""

MAX_QUOTED = 6
"""How often text may be quoted inside quoted text."""


class _Builder:
    """Reads one text from front to back."""

    def __init__(self, text: str, budget: Budget, depth: int, at: int | None) -> None:
        self.text, self.budget, self.depth, self.at = text, budget, depth, at
        self.root = Group("root" if at is None else "text", at or 0)
        self.levels: list[tuple[int, Group, str]] = [(-2, self.root, "")]
        self.line = Group("line", 0)
        self.open: list[Group] = []
        self.key: str | None = None
        self.glue = False
        self.column = 0
        self.start = 0  # of the record that the open brackets belong to
        self.ignored = 0

    def run(self) -> Group:
        text, position, end = self.text, 0, len(self.text)
        names = set(IN_LINE.groupindex) - {"attributes", "empty"}
        handlers = {name: getattr(self, "_" + name) for name in names}
        handlers["empty"] = self._tag  # an element's last part
        position = self._begin_line(0)
        while position < end:
            found = (IN_BRACKETS if self.open else IN_LINE).match(text, position)
            assert found is not None
            assert found.lastgroup is not None
            position = handlers[found.lastgroup](found) or found.end()
        self._close_all()
        self._finish_line()
        return self.root

    # --- values ---

    @property
    def top(self) -> Group:
        return self.open[-1] if self.open else self.line

    def _offset(self, position: int) -> int:
        return position if self.at is None else self.at

    def _put(self, value: Value) -> None:
        items = self.top.items
        if self.key is not None:
            items.append((self.key, value))
            self.key, self.glue = None, True
        elif self.glue and items and items[-1][0] is not None:
            key, last = items[-1]
            if not (isinstance(last, Group) and last.kind == "span"):
                span = Group("span", self.top.offset)
                span.items.append((None, last))
                items[-1] = key, last = key, span
            last.items.append((None, value))
        else:
            items.append((None, value))

    def _flush_key(self) -> None:
        if self.key is not None:
            self.top.items.append((self.key, Word("")))
            self.key = None

    def _push(self, group: Group) -> None:
        self._put(group)
        if len(self.open) >= MAX_DEPTH:
            self.top.items.pop()
            self.ignored += 1
        else:
            self.open.append(group)
        self.glue = False

    def _close_all(self) -> None:
        self._flush_key()
        for group in self.open:
            group.cut = True
        self.open.clear()
        self.ignored = 0

    # --- tokens ---

    def _pairs(self, found: re.Match[str]) -> None:
        at = self._offset(found.start())
        self._put(Numbers(found[0], at, bracketed=True, wrapped=True))

    def _numbers(self, found: re.Match[str]) -> None:
        single = as_number(found[0])
        at = self._offset(found.start())
        wrapped = bool(self.open) or self.at is not None
        self._put(
            Numbers(found[0], at, bracketed=False, wrapped=wrapped) if single is None else single
        )

    def _key(self, found: re.Match[str]) -> None:
        self._flush_key()
        key = found["key"]
        if key[0] in "\"'":
            key = unescaped(key[1:-1])
        elif not self.open and not self.glue:
            words: list[str] = []
            while self.line.items and isinstance(self.line.items[-1][1], Word):
                words.append(str(self.line.items.pop()[1]))
            key = " ".join([*reversed(words), key])
        self.key, self.glue = key, False

    def _quoted(self, found: re.Match[str]) -> None:
        content = found[0][1:-1]
        if "\\" in content or "&" in content:
            content = unescaped(content)
        self._text(content, found.start())

    def _text(self, content: str, position: int) -> None:
        """Put quoted text: as a group if it holds structure, else as it is."""
        if self.depth < MAX_QUOTED and len(content) > 2 and STRUCTURED.search(content):
            plain = unpacked(content, self.budget)
            inner = build(
                content if plain is None else plain,
                self.budget,
                depth=self.depth + 1,
                at=self._offset(position),
            )
            if plain is not None or _holds_more(inner):
                inner.tag = content if plain is None and len(content) < 200 else None
                self._put(inner)
                return
        self._put(content)

    def _word(self, found: re.Match[str]) -> None:
        word = found[0]
        if len(word) >= 24 and self.depth < MAX_QUOTED:
            plain = unpacked(word, self.budget)
            if plain is not None:
                at = self._offset(found.start())
                self._put(build(plain, self.budget, depth=self.depth + 1, at=at))
                return
        self._put(Word(word))

    def _open(self, found: re.Match[str]) -> None:
        if not self.open:
            self.start = self.text.rfind("\n", 0, found.start()) + 1
        items = self.top.items
        start = found.start()
        glued = start > 0 and (self.text[start - 1].isalnum() or found[0] == "{")
        if glued and self.key is None and items and isinstance(items[-1][1], Word):
            key, word = items[-1]
            if key is None:
                items.pop()
                self.key = str(word)
        self._push(Group(found[0], self._offset(start)))

    def _close(self, found: re.Match[str]) -> None:
        self._flush_key()
        if self.ignored:
            self.ignored -= 1
            return
        wanted = MATCHING[found[0]]
        for back in range(len(self.open) - 1, -1, -1):
            if self.open[back].kind == wanted:
                del self.open[back:]
                self.glue = True
                return
            if self.open[back].kind == "<":
                return

    def _comma(self, found: re.Match[str]) -> None:
        self._flush_key()
        if self.open:
            self.glue = False

    def _blank(self, found: re.Match[str]) -> None:
        pass

    def _other(self, found: re.Match[str]) -> None:
        pass

    def _clock(self, found: re.Match[str]) -> None:
        if self.key is not None:
            self._put(Word(""))

    def _newline(self, found: re.Match[str]) -> int | None:
        if not self.open:
            self._finish_line()
            return self._begin_line(found.end())
        if self.at is None and self._begins_record(found.end()):
            self._close_all()
            self._finish_line()
            return self._begin_line(found.end())
        group = self.open[-1]
        if group.kind == "(" and all(isinstance(v, str) for _, v in group.items):
            self.open.pop()
            return self._newline(found)
        return None

    def _begins_record(self, position: int) -> bool:
        """Whether a line begins anew although brackets are open: then the line before was cut."""
        text = self.text
        if text[position : position + 1].isspace():
            return False
        if RECORD.match(text, position):
            return True
        head = text[self.start : self.start + 6]
        if len(head.strip()) == 6 and text.startswith(head, position):
            return True
        before = text[max(position - 80, 0) : position].rstrip()
        return text[position : position + 1] in "{[<" and before[-1:] not in tuple(",[{(:>")

    # --- elements and escapes ---

    def _tag(self, found: re.Match[str]) -> None:
        self._flush_key()
        if not self.open:
            self.start = self.text.rfind("\n", 0, found.start()) + 1
        name = found["tag"].rpartition(":")[2]
        self.key, self.glue = name, False
        self._push(Group("<", self._offset(found.start()), name))
        element = self.top
        for key, *values in ATTRIBUTE.findall(found["attributes"]):
            self.key = key.rpartition(":")[2]
            content = unescaped("".join(values))
            number = as_number(content)
            if number is None:
                self._text(content, found.start())
            else:
                self._put(number)
        self.glue = False
        if found["empty"] and self.open and self.open[-1] is element:
            self.open.pop()

    def _end(self, found: re.Match[str]) -> None:
        self._flush_key()
        name = found["end"].rpartition(":")[2]
        for back in range(len(self.open) - 1, -1, -1):
            if self.open[back].tag == name:
                del self.open[back:]
                self.glue = False
                return

    def _mark(self, found: re.Match[str]) -> int:
        """Skip a comment, an instruction or a declaration, or else just its first characters."""
        start, text = found.end(), self.text
        if text.startswith("[CDATA[", start):
            return start + 7
        closing = {"<!--": "-->", "<?": "?>"}.get(found[0], ">")
        end = text.find(closing, start, start + 65536)
        if closing == ">" and "[" in text[start : max(end, start)]:
            end = text.find("]>", start, start + 65536)
            closing = "]>"
        return start if end < 0 else end + len(closing)

    def _escape(self, found: re.Match[str]) -> int:
        """Quotes or elements in escaped form outside of quotes: unescape up to the line's end."""
        start = found.start()
        end = self.text.find("\n", start)
        end = len(self.text) if end < 0 else end
        if found[0][0] == "&":
            raw = self.text.find("<", start, end)
            end = end if raw < 0 else raw
        if self.depth < MAX_QUOTED:
            plain = unescaped(self.text[start:end])
            at = self._offset(start)
            self._put(build(plain, self.budget, depth=self.depth + 1, at=at))
        return end

    # --- lines ---

    def _begin_line(self, position: int) -> int:
        """Open the line's groups: by indentation, dashes, a heading or a table."""
        text = self.text
        self.line = Group("line", self._offset(position))
        self.key, self.glue = None, False
        heading = HEADING.match(text, position)
        if heading:
            del self.levels[1:]
            block = Group("block", self._offset(position))
            name = next(part for part in heading.groups() if part is not None)
            self.root.items.append((name.strip(), block))
            self.levels.append((-1, block, ""))
            return heading.end()
        found = table(text, position)
        if found is not None:
            rows, position = found
            group = Group("table", self._offset(position))
            for offset, cells in rows:
                row = Group("row", self._offset(offset))
                row.items.extend(cells)
                group.items.append((None, row))
            self.levels[-1][1].items.append((None, group))
            return position
        indent = INDENT.match(text, position)
        assert indent is not None
        position = indent.end()
        column = len(indent[0].expandtabs())
        if text[position : position + 1] in ("\n", "\r", ""):
            return position
        while dash := DASH.match(text, position):
            while self.levels[-1][0] > column or self.levels[-1][::2] == (column, "dash"):
                self.levels.pop()
            group = Group("dash", self._offset(position))
            self.levels[-1][1].items.append((None, group))
            self.levels.append((column, group, "dash"))
            column += len(dash[0])
            position = dash.end()
        while self.levels[-1][0] >= column:
            self.levels.pop()
        self.column = column
        return position

    def _finish_line(self) -> None:
        """Hang the finished line where its indentation says."""
        line, parent = self.line, self.levels[-1][1]
        if self.key is not None:
            block = Group("block", line.offset)
            line.items.append((self.key, block))
            self.key = None
            self.levels.append((self.column, block, ""))
        if len(line.items) == 1 and line.items[0][0] is not None:
            parent.items.append(line.items[0])
        elif line.items:
            parent.items.append((None, line))
        self.line = Group("line", line.offset)


def _holds_more(group: Group) -> bool:
    """Whether a quoted text holds anything that the text alone does not say."""
    return (
        any(key is not None or not isinstance(value, str | float) for key, value in group.items)
        or len(group.items) > 1
    )


def build(text: str, budget: Budget, *, depth: int = 0, at: int | None = None) -> Group:
    """Return the tree of a text.

    `depth`: how often the text was quoted; `at`: where it stands in the text around it, if it does.
    """
    return _Builder(text, budget, depth, at).run()
