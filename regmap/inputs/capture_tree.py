"""Any text -> a tree of groups: brackets, elements, lines and indented blocks, all in one shape.

One tokenizer reads every spelling. What opens and closes (brackets of any kind, XML elements,
lines, indented blocks, quoted text that holds structure itself) becomes a `Group`; what stands
before `:` or `=` becomes the key of what follows. Nothing here knows what a room is, and nothing is
ever run, looked up or expanded: an entity that a document declares stays the characters it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from regmap.inputs.capture_groups import Group, Value, Word
from regmap.inputs.capture_lines import Lines
from regmap.inputs.capture_numbers import Numbers, as_number
from regmap.inputs.capture_tokens import (
    ADJACENT,
    ATTRIBUTE,
    CLOSERS,
    FOLD,
    GOES_ON,
    IN_BRACKETS,
    IN_LINE,
    JOINED,
    KEY,
    LEAF,
    MATCHING,
    OPENERS,
    RECORD,
    STRUCTURED,
)
from regmap.inputs.capture_unpack import Budget, unescaped, unpacked, unquoted

__all__ = ["build"]

MAX_DEPTH = 40
"""Brackets nested deeper than this are read as if they were not there."""

MAX_QUOTED = 5
"""How often text may be quoted inside quoted text."""

LONGEST_PHRASE = 200
"""Words are put together up to so many characters."""

MAX_SKIPPED = 65536
"""Longest comment or declaration."""

Match = re.Match[str]


def build(text: str, budget: Budget, *, depth: int = 0, at: int | None = None) -> Group:
    """Return the tree of a text.

    `depth`: how often the text was quoted; `at`: where it stands in the text around it, if it does.
    """
    return _Builder(text, budget, depth, at).run()


class _Builder:
    """Reads one text from front to back. Methods that are named like tokens take them in."""

    def __init__(self, text: str, budget: Budget, depth: int, at: int | None) -> None:
        self.text, self.budget, self.depth, self.at = text, budget, depth, at
        self.root = Group("root" if at is None else "text", at or 0)
        self.lines = Lines(self.root, at)
        self.open: list[Group] = []
        self.key: str | None = None
        self.glued = False  # what comes next belongs to the last key
        self.apart = True  # a comma or the like stands before what comes next
        self.line_start = 0
        self.start = 0  # of the record that the open brackets belong to
        self.ignored = 0
        self.absent: dict[str, int] = {}  # mark -> up to where it does not come

    def run(self) -> Group:
        text, end = self.text, len(self.text)
        handlers = _HANDLERS
        position = self._begin_line(0)
        while position < end:
            found = (IN_BRACKETS if self.open else IN_LINE).match(text, position)
            assert found is not None
            assert found.lastgroup is not None
            position = handlers[found.lastgroup](self, found) or found.end()
        self._close_all()
        self.lines.finish(self.key)
        return self.root

    # --- values ---

    @property
    def top(self) -> Group:
        return self.open[-1] if self.open else self.lines.line

    def _offset(self, position: int) -> int:
        return position if self.at is None else self.at

    def _put(self, value: Value) -> None:
        """Add a value: to the key before it, to the value that it continues, or as it is."""
        items = self.top.items
        self.budget.spend()
        if self.key is not None:
            items.append((self.key, value))
            self.key, self.glued = None, True
        elif not self.apart and isinstance(value, Word) and _ends_in_word(items):
            key, last = items[-1]
            items[-1] = key, Word(f"{last} {value}")
        elif self.glued and items and items[-1][0] is not None:
            key, last = items[-1]
            if not (isinstance(last, Group) and last.kind == "span"):
                span = Group("span", self.top.offset)
                span.items.append((None, last))
                items[-1] = key, span
                last = span
            if not self.apart and isinstance(value, Word) and _ends_in_word(last.items):
                last.items[-1] = None, Word(f"{last.items[-1][1]} {value}")
            else:
                last.items.append((None, value))
        else:
            items.append((None, value))
        self.apart = False

    def _flush_key(self) -> None:
        if self.key is not None:
            self.top.items.append((self.key, Word("")))
            self.key = None

    def _push(self, group: Group) -> None:
        if len(self.open) >= MAX_DEPTH:
            self.ignored += 1
        else:
            if not self.open:
                self.start = self.line_start
            self._put(group)
            self.open.append(group)
        self.glued, self.apart = False, True

    def _close_all(self) -> None:
        if self.open:
            self._flush_key()
        for group in self.open:
            group.cut = True
        self.open.clear()
        self.ignored = 0

    def _text(self, content: str, position: int) -> None:
        """Put quoted text: as a group if it holds structure, else as it is."""
        number = as_number(content) if content[:1].isspace() or content[-1:].isspace() else None
        if self.depth < MAX_QUOTED and len(content) > 2 and STRUCTURED.search(content):
            plain = unpacked(content.strip(), self.budget)
            text = content if plain is None else plain
            inner = self._inner(text, position)
            if plain is not None or _holds_more(inner):
                inner.tag = content.strip() if plain is None and len(content) < 200 else None
                self._put(inner)
                return
        self._put(content if number is None else number)

    def _inner(self, text: str, position: int) -> Group:
        """The tree of text that was quoted or packed at a position."""
        return build(text, self.budget, depth=self.depth + 1, at=self._offset(position))

    # --- tokens ---

    def _pairs(self, found: Match) -> None:
        at = self._offset(found.start())
        self._put(Numbers(found[0], at, bracketed=True, wrapped=True))

    def _joined(self, found: Match) -> None:
        text = JOINED.sub(r"[\1 \2]", found[0])
        self._put(Numbers(text, self._offset(found.start()), bracketed=True, wrapped=True))

    def _numbers(self, found: Match) -> int | None:
        at = self._offset(found.start())
        number = as_number(found[0])
        if number is not None:
            numbered = not self.apart and found[0].isdigit() and _ends_in_word(self.top.items)
            self._put(Word(found[0]) if numbered else number)
            return None
        wrapped = bool(self.open) or self.at is not None
        numbers = Numbers(found[0], at, bracketed=False, wrapped=wrapped)
        if not self.apart and _ends_in_word(self.top.items) and (own := numbers.name_part()):
            key, last = self.top.items[-1]
            self.top.items[-1] = key, Word(f"{last} {own}")
            self.apart = True
            return found.start() + len(own)
        self._put(numbers)
        return None

    def _key(self, found: Match) -> int | None:
        self._flush_key()
        key = found["key"]
        items = self.top.items
        if key[0] in "\"'":
            key = unescaped(key[1:-1])
        elif not self.glued and not self.apart and items:
            before, last = items[-1]
            if before is None and isinstance(last, Word):
                key = f"{last} {key}"
                items.pop()
        self.key, self.glued, self.apart = key, False, True
        if not self.open and not items and (folded := self.lines.folded(self.text, found.end())):
            content, end = folded
            self._put(self._inner(content, found.end()))
            return end
        return None

    def _quoted(self, found: Match) -> int:
        content, end = found[0][1:-1], found.end()
        while self.open and (more := ADJACENT.match(self.text, end)):
            content, end = content + more[1][1:-1], more.end()
        if "\n" in content:
            content = FOLD.sub(" ", content)
        self._text(unescaped(content), found.start())
        self.apart = True
        return end

    def _packed(self, found: Match) -> int | None:
        if self.depth < MAX_QUOTED:
            plain = unpacked(found["packed"], self.budget)
            if plain is not None:
                self._put(self._inner(plain, found.start()))
                return None
        key = KEY.match(self.text, found.start())
        if key is not None:
            return self._key(key) or key.end()
        self._put(Word(found["packed"]))
        return None

    def _word(self, found: Match) -> None:
        plain = unquoted(found[0]) if "%" in found[0] and self.depth < MAX_QUOTED else None
        self._put(Word(found[0]) if plain is None else self._inner(plain, found.start()))

    def _open(self, found: Match) -> int | None:
        """Open a bracket; a word right before it is its key, or says only what kind it is."""
        start, items = found.start(), self.top.items
        if len(self.open) >= MAX_DEPTH:
            run = OPENERS.match(self.text, start)
            assert run is not None
            self.ignored += len(run[0]) - sum(map(str.isspace, run[0]))
            return run.end()
        touching = start > 0 and not self.text[start - 1].isspace()
        if not self.apart and self.key is None and items and (touching or found[0] == "{"):
            key, last = items[-1]
            if isinstance(last, Word) and key is None:
                items.pop()
                head, _, self.key = str(last).rpartition(" ")
                if head:
                    items.append((None, Word(head)))
            elif isinstance(last, Word) and touching:
                items.pop()
                self.key = key
        self._push(Group(found[0], self._offset(start)))
        return None

    def _close(self, found: Match) -> int | None:
        self._flush_key()
        if self.ignored:
            self.ignored -= 1
            return None
        wanted = MATCHING[found[0]]
        for back in range(len(self.open) - 1, -1, -1):
            if self.open[back].kind == wanted:
                closed = self.open[back]
                del self.open[back:]
                self.glued, self.apart = not _headed(closed, self.top), True
                if not closed.items and self.top.items[-1] == (None, closed):
                    self.top.items.pop()
                return None
            if self.open[back].kind == "<":
                break
        run = CLOSERS.match(self.text, found.end())
        return run.end() if run and not self.open else None

    def _comma(self, found: Match) -> None:
        if self.open:
            self._flush_key()
            self.glued = False
        self.apart = True

    def _blank(self, found: Match) -> None:
        pass

    def _anchor(self, found: Match) -> None:
        """A mark for a value, or the mark in its place: what it stands for is said already."""

    def _other(self, found: Match) -> None:
        pass

    def _clock(self, found: Match) -> None:
        if self.key is not None:
            self._put(Word(""))
        self.apart = True

    def _newline(self, found: Match) -> int | None:
        if not self.open:
            return self._begin_line(found.end(), after_line=True)
        if self.at is None and self._begins_record(found.end()):
            self._close_all()
            return self._begin_line(found.end(), after_line=True)
        group = self.open[-1]
        if group.kind == "(" and all(isinstance(v, str) for _, v in group.items):
            self._flush_key()
            self.open.pop()
            return self._newline(found)
        self.glued = False
        self.apart = self.apart or GOES_ON.match(self.text, found.end()) is None
        return None

    def _begin_line(self, position: int, *, after_line: bool = False) -> int:
        if after_line:
            self.lines.finish(self.key)
        self.key, self.glued, self.apart = None, False, True
        self.line_start = position
        start = self.lines.begin(self.text, position)
        if self.text[start - 2 : start] == "- " and (folded := self.lines.folded(self.text, start)):
            content, end = folded
            if ":" not in content:
                self._put(self._inner(content, start))
                return end
        return start

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
        return text[position : position + 1] in tuple("{[") and before[-1:] not in tuple(",[{(:>")

    # --- elements and escapes ---

    def _empty(self, found: Match) -> int | None:
        """Open an element; one that holds text alone is read to its end."""
        self._flush_key()
        name = found["tag"].rpartition(":")[2]
        self.key = name
        element = Group("<", self._offset(found.start()), name)
        self._push(element)
        if not self.open or self.open[-1] is not element:
            return None
        for key, *values in ATTRIBUTE.findall(found["attributes"]):
            self.key = key.rpartition(":")[2]
            self._content("".join(values), found.start())
        self.glued = False
        if found["empty"]:
            self.open.pop()
            return None
        leaf = LEAF.match(self.text, found.end())
        if leaf is None or leaf[3] != found["tag"]:
            return None
        if leaf[1] is None or leaf[1].strip():
            self._content((leaf[1] or leaf[2]).strip(), found.end(), escaped=leaf[2] is None)
        self.open.pop()
        self.glued, self.apart = False, True
        return leaf.end()

    def _content(self, content: str, position: int, *, escaped: bool = True) -> None:
        content = unescaped(content.replace("\\", "\\\\")) if escaped else content
        number = as_number(content)
        if number is None:
            self._text(content, position)
        else:
            self._put(number)
        self.apart = True

    def _end(self, found: Match) -> None:
        self._flush_key()
        name = found["end"].rpartition(":")[2]
        for back in range(len(self.open) - 1, -1, -1):
            if self.open[back].tag == name:
                del self.open[back:]
                self.glued, self.apart = False, True
                return

    def _mark(self, found: Match) -> int:
        """Skip a comment, an instruction or a declaration, or else just its first characters."""
        start, text = found.end(), self.text
        if text.startswith("[CDATA[", start):
            return start + 7
        if found[0] == "//":
            end = text.find("\n", start)
            return len(text) if end < 0 else end
        closing = {"<!--": "-->", "<?": "?>", "/*": "*/"}.get(found[0], ">")
        end = self._find(closing, start)
        if closing == ">" and "[" in text[start : max(end, start)]:
            closing = "]>"
            end = self._find(closing, start)
        return start if end < 0 else end + len(closing)

    def _find(self, mark: str, start: int) -> int:
        """Where a mark stands next, not too far away; what is not there is not looked for again."""
        if start < self.absent.get(mark, 0):
            return -1
        end = self.text.find(mark, start, start + MAX_SKIPPED)
        if end < 0:
            self.absent[mark] = start + MAX_SKIPPED - len(mark)
        return end

    def _escape(self, found: Match) -> int:
        """Quotes or elements in escaped form outside of quotes: unescape up to the line's end."""
        start = found.start()
        end = self.text.find("\n", start)
        end = len(self.text) if end < 0 else end
        if found[0][0] == "&":
            raw = self.text.find("<", start, end)
            end = end if raw < 0 else raw
        if self.depth < MAX_QUOTED:
            self._put(self._inner(unescaped(self.text[start:end]), start))
        return end


_HANDLERS: dict[str, Callable[[_Builder, Match], int | None]] = {
    name: getattr(_Builder, "_" + name)
    for name in IN_LINE.groupindex
    if name not in ("tag", "attributes", "joint")
}


def _ends_in_word(items: list[tuple[str | None, Value]]) -> bool:
    if not items:
        return False
    last = items[-1][1]
    return isinstance(last, Word) and len(last) < LONGEST_PHRASE


def _holds_more(group: Group) -> bool:
    """Whether a quoted text holds anything that the text alone does not say."""
    return len(group.items) > 1 or any(
        key is not None or not isinstance(value, str | float) for key, value in group.items
    )


def _headed(closed: Group, parent: Group) -> bool:
    """(name ...): make the first word in round brackets the key of the rest."""
    items, above = closed.items, parent.items
    if closed.kind != "(" or len(items) < 2 or items[0][0] is not None:
        return False
    head = items[0][1]
    if not isinstance(head, Word) or not above or above[-1] != (None, closed):
        return False
    above[-1] = str(head), closed
    del items[0]
    return True
