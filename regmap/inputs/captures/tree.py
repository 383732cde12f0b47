"""Any text -> a tree of groups: brackets, elements, lines and indented blocks, all in one shape.

One tokenizer reads every spelling. What opens and closes (brackets of any kind, XML elements,
lines, indented blocks, quoted text that holds structure itself) becomes a `Group`; what stands
before `:` or `=` becomes the key of what follows. Nothing here knows what a room is, and nothing is
ever run, looked up or expanded: an entity that a document declares stays the characters it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from regmap.inputs.captures.assembly import MAX_DEPTH, MAX_QUOTED
from regmap.inputs.captures.figures import Figures
from regmap.inputs.captures.groups import Group, Word, is_wording
from regmap.inputs.captures.numerals import Numbers, as_number, local_number
from regmap.inputs.captures.pens import is_pen
from regmap.inputs.captures.tokens import (
    ADJACENT,
    CLOSERS,
    COMMENT,
    DUMPED_WORDS,
    FOLD,
    GOES_ON,
    IN_BRACKETS,
    IN_LINE,
    KEY,
    LOCAL,
    MATCHING,
    NUMBERED,
    OPENERS,
    ORDINAL,
    RECORD,
    STAMPED,
    STEP,
    STRUCTURED,
    WRAPPED,
)
from regmap.inputs.captures.unpack import Budget, unescaped, unformed, unpacked, unquoted
from regmap.inputs.captures.words import axis, is_field, name_rank, votes

__all__ = ["build"]

Match = re.Match[str]

_FEW = 20
"""More words in a round bracket that nothing closes on its line are no aside."""


def build(text: str, budget: Budget, depth: int = 0, at: int | None = None) -> Group:
    """Return the tree of a text.

    `depth`: how often the text was quoted; `at`: where it stands in the text around it, if it does.
    """
    return _Builder(text, budget, depth, at, build).run()


class _Builder(Figures):
    """Reads one text from front to back."""

    def run(self) -> Group:
        text, end = self.text, len(self.text)
        handlers, spend = _HANDLERS, self.budget.spend
        position = self._begin_line(0)
        while position < end:
            spend()
            found = (IN_BRACKETS if self.open else IN_LINE).match(text, position)
            assert found is not None
            assert found.lastgroup is not None
            position = handlers[found.lastgroup](self, found) or found.end()
        self.close_all()
        self._finish_line(end)
        return self.root

    def _dumped(self, found: Match) -> int | None:
        """[key] => value; what stands there in words, as this has no quotes, goes on to the end of
        the line if another key stands below."""
        self.flush_key()
        key = found[0][1 : found[0].index("]")].strip('"')
        self.key, self.glued, self.apart = key, False, True
        words = DUMPED_WORDS.match(self.text, found.end())
        if words is None or STRUCTURED.search(words[1]):
            return None
        self.put(Word(words[1]))
        self.apart = True
        return words.end()

    def _form(self, found: Match) -> int | None:
        """name=hall&ring=1%2C2%3B3%2C4: each part is a line of its own."""
        if self.depth >= MAX_QUOTED or "%" not in found[0]:
            key = KEY.match(self.text, found.start())
            assert key is not None
            return self._key(key) or key.end()
        self.put(self.inner(unformed(found[0]), found.start()))
        return None

    def _numbers(self, found: Match) -> int | None:
        at = self.offset(found.start())
        number = as_number(found[0])
        if number is not None:
            numbered = found[0].isdigit() and self.last_words() is not None
            ordinal = found[0][-1] == "." and ORDINAL.match(self.text, found.end())
            self.put(Word(found[0]) if numbered or ordinal else number)
            return None
        if axis(self.key or "") and (stamped := STAMPED.fullmatch(found[0])):
            self.put(float(stamped[1]))  # x=1,y=2 1932844112000
            return None
        wrapped = bool(self.open) or self.at is not None
        numbers = Numbers(found[0], at, bracketed=False, wrapped=wrapped)
        words = self.last_words()
        if words is not None and (name := NUMBERED.match(self.text, found.start())):
            self.put(Word(name[1]))  # Bath 2, 4 corners
            self.apart = True
            return name.end(1)
        if (
            words is not None
            and len(str(words[-1][1])) > 1
            and (
                own := numbers.name_part(self.cell_mark(found.start()), self.measured(found.end()))
            )
        ):
            self.put(Word(own))
            self.apart = True
            return found.start() + len(own)
        self.put(numbers)
        return None

    def _key(self, found: Match) -> int | None:
        key = found["key"]
        if self.key is not None and key.isdigit() and not self._lists_names(found.end()):
            # corners=4 : ...
            self.put(float(key))
            self.glued, self.apart = False, True
            return None
        if self.key is not None and key[0] in "\"'" and found[0][-1] == ">":
            return self._quoted(found)  # body="..." -> 200
        self.flush_key()
        at, mark = found.start(), found[0][-1]
        key = unescaped(key[1:-1]) if key[0] in "\"'" else Word(self._phrase(key, at, mark))
        self.key, self.mark, self.glued, self.apart = key, mark, False, True
        if axis(key) is not None and (local := LOCAL.match(self.text, found.end())):
            self.put(local_number(local[1]))
            return local.end()
        lone = not self.open and not self.top.items
        if lone:
            self.value_start = found.end()
        if lone and (folded := self.lines.folded(self.text, found.end())):
            content, end = folded
            self.put(self.inner(content, found.end()))
            return end
        return None

    def _lists_names(self, position: int) -> bool:
        """Whether a key lists names under numbers: names: 1=hall, 2=bath."""
        value = self.text[position : position + 2].lstrip()
        return name_rank(self.key or "") is not None and (value[:1].isalpha() or value[:1] == '"')

    def _keyword(self, found: Match) -> None:
        """(:name "hall" :ring ((0 0) ...))"""
        self.flush_key()
        self.key, self.glued, self.apart = found[0][1:], False, True

    def _phrase(self, word: str, at: int, mark: str = "") -> str:
        """The words before a word that belong to it: the key of `living room: ...` is both."""
        words = self.last_words() or (self.set_apart(at) if word.isdigit() else None)
        if words is None or word in ("x", "y", "X", "Y"):
            return word
        key, last = words[-1]
        if key is not None and key.isdigit() and not self.loose:
            words[-1] = key, Word("")  # 17:living room:...
            return Word(f"{last} {word}")
        if key is not None and self.mark == "=" and mark == ":":
            words[-1] = key, Word("")  # msg=outline of living room: ...
        elif (mark == "=" and is_field(word)) or (
            str(last)[-1:].isdigit() and name_rank(word) == 0
        ):
            return word  # hall outline=..., area 3 name=...
        elif key is not None or (words is not self.top.items and not self.loose):
            return word
        else:
            words.pop()
        return Word(f"{last} {word}")

    def _subscript(self, found: Match) -> None:
        """rooms[0].name = ...: a key that spells the way to it."""
        self.flush_key()
        first, *way = [a or b or c for a, b, c in STEP.findall(found["subscript"])]
        way.insert(0, self._phrase(first, found.start()))
        self.key = way.pop() if not self.open else ".".join(way)
        if not self.open and not self.lines.line.items:
            self.lines.way = way
        self.glued, self.apart = False, True

    def _quoted(self, found: Match) -> int:
        quoted = found[found.lastgroup or 0]
        content, end = quoted[1:-1], found.end()
        if quoted[0] == "'":
            content = content.replace("''", "'")
        pieces = [content]
        while self.open and (more := ADJACENT.match(self.text, end)):
            pieces.append(more[1][1:-1])
            end = more.end()
        content = "".join(pieces)
        if "\n" in content:
            content = FOLD.sub(" ", content)
        self.put_text(unescaped(content), found.start())
        self.apart = True
        return end

    def _packed(self, found: Match) -> int | None:
        if self.depth < MAX_QUOTED:
            word, end = self._wrapped(found)
            plain = unpacked(word, self.budget)
            if plain is not None:
                self.put(self.inner(plain, found.start()))
                return end
        key = KEY.match(self.text, found.start())
        if key is not None:
            return self._key(key) or key.end()
        self.put(Word(found["packed"]))
        return None

    def _wrapped(self, found: Match) -> tuple[str, int]:
        """Packed text, with the lines below over which it goes on, and where it ends."""
        if found.start() >= self.unwrapped:
            more = WRAPPED.match(self.text, found.start())
            self.unwrapped = more.end() if more else found.end()
            if more:
                return more[0].strip(), more.end()
        return found["packed"], found.end()

    def _word(self, found: Match) -> None:
        plain = unquoted(found[0]) if "%" in found[0] and self.depth < MAX_QUOTED else None
        if plain is not None:
            self.put(self.inner(plain, found.start()))
            return
        before = self.text[max(found.start() - 1, 0)]
        if found[0] == "." and before in ")]}":  # corner(1, 2).
            return
        words = self.last_words()
        if words is not None and before.isalnum():  # a/hall 2/outline
            words[-1] = words[-1][0], Word(f"{words[-1][1]}{found[0]}")
        else:
            self.put(Word(found[0]))

    def _open(self, found: Match) -> int | None:
        """Open a bracket; a word right before it is its key, or says only what kind it is."""
        start = found.start()
        if len(self.open) >= MAX_DEPTH:
            run = OPENERS.match(self.text, start)
            assert run is not None
            self.ignored += len(run[0]) - sum(map(str.isspace, run[0]))
            return run.end()
        touching = start > 0 and not self.text[start - 1].isspace()
        words = self.last_words()
        if words is not None and (touching or found[0] == "{" or str(words[-1][1]).count("/") > 1):
            key, last = words[-1]
            own = words is self.top.items
            if touching or (own and key is None):
                words.pop()
                head, _, tail = str(last).rpartition(" ")
                if "/" in tail and head.count("/") > 1:
                    head, tail = "", str(last)  # a/b/living room/outline {...}
                head = "" if head == "new" else head  # new Point(1, 2)
                if head:
                    words.append((key, Word(head)))
                    self.head = tail if not (own and key is None) and votes(tail)[0] else None
                elif own:
                    self.key = key
                outlined = votes(tail)[1] and votes(key or "")[3]  # clip-path: polygon(
                if (own and (key is None or outlined)) or is_pen(tail):
                    self.key = tail
        self.push(Group(found[0], self.offset(start)))
        return self._alike(found.end()) if found[0] == "[" else None

    def _close(self, found: Match) -> int | None:
        self.flush_key()
        if self.ignored:
            self.ignored -= 1
            return None
        wanted = MATCHING[found[0]]
        for back in range(len(self.open) - 1, -1, -1):
            if self.open[back].kind == wanted:
                self.close(back)
                return None
            if self.open[back].kind == "<":
                break
        self.apart = True  # a) 1 2
        run = CLOSERS.match(self.text, found.end())
        return run.end() if run and not self.open else None

    def _comma(self, found: Match) -> None:
        beside = self.text[found.start() - 1 : found.end() + 2]
        if beside[:3] == " & " and beside[3:].isalpha() and self.last_words() is not None:
            self.put(Word("&"))  # bath & sauna: ...
            return
        if not self.open and self.text[found.start() - 2 : found.start()] == ") ":
            self._other(found)  # bath (upper floor) -> ...
            if self.key is not None:
                return
        if self.open:
            self.flush_key()
            self.glued = False
            if self.open[-1].kind == "(" and len(self.open[-1].items) == 1:
                self.open[-1].tag = ","  # a list, so its first word is no key of the rest
        self.apart = True

    def _blank(self, found: Match) -> None:
        self.apart = self.apart or "\t" in found[0] or len(found[0]) > 1

    def _anchor(self, found: Match) -> None:
        """A mark for a value, or the mark in its place: what it stands for is said already."""

    def _other(self, found: Match) -> None:
        """A colon after words that do not end in one: `Bath (upper floor): ...`."""
        if found[0] == ":":
            self.mark_heading(found.end())
        words = self.last_words() if found[0] in (":", "=", "->", "=>") else None
        if words is None or (len(words) > 1 and words is not self.top.items):
            return
        items, last = self.top.items, Word(words[-1][1])
        key, _ = items[-1]
        if key is None:
            items.pop()
        elif self.mark == "=" and found[0] == ":":
            items[-1] = key, Word("")
        else:
            return
        self.key, self.glued, self.apart = last, False, True

    def _clock(self, found: Match) -> None:
        if self.key is not None:
            self.put(Word(""))
        self.apart = True

    def _newline(self, found: Match) -> int | None:
        if not self.open:
            self._finish_line(found.start())
            return self._begin_line(found.end())
        if self.at is None and self._begins_record(found.end()):
            self.close_all()
            self._finish_line(found.start())
            return self._begin_line(found.end())
        group = self.open[-1]
        loose = all(key is None and isinstance(value, str) for key, value in group.items)
        if group.kind == "(" and 0 < len(group.items) <= _FEW and loose:
            self.flush_key()
            self.open.pop()
            return self._newline(found)
        self.glued = False
        self.apart = self.apart or GOES_ON.match(self.text, found.end()) is None
        return None

    def _finish_line(self, end: int) -> None:
        """Hang the line up. What a lone key says in words is kept letter by letter."""
        items = self.lines.line.items
        if self.key is not None and items:
            self.head_whole(items, end)
        if len(items) == 1 and items[0][0] is not None and is_wording(items[0][1]):
            raw = self.text[self.value_start : end].strip()
            items[0] = items[0][0], Word(COMMENT.sub("", raw))
        self.lines.finish(self.key)

    def _begin_line(self, position: int) -> int:
        self.key, self.glued, self.apart = None, False, True
        self.line_start = position
        start = self.lines.begin(self.text, position)
        if self.text[start - 2 : start] == "- " and (folded := self.lines.folded(self.text, start)):
            content, end = folded
            if ":" not in content:
                self.put(self.inner(content, start))
                return end
        return start

    def _begins_record(self, position: int) -> bool:
        """Whether a line begins anew although brackets are open: then the line before was cut."""
        text = self.text
        if text[position : position + 1].isspace():
            return False
        if RECORD.match(text, position):
            return True
        head = text[self.record_start : self.record_start + 6]
        if len(head.strip()) == 6 and text.startswith(head, position):
            return True
        before = text[max(position - 80, 0) : position].rstrip()
        return text[position : position + 1] in tuple("{[") and before[-1:] not in tuple(",[{(:>")


_HANDLERS: dict[str, Callable[[_Builder, Match], int | None]] = {
    name: getattr(_Builder, "_" + name)
    for name in IN_LINE.groupindex
    if name not in ("tag", "attributes", "joint", "sign", "spaced", "inside", "outside")
}
