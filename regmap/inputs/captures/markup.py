"""Elements, comments and escapes in a text."""

from __future__ import annotations

import re

from regmap.inputs.captures.assembly import MAX_QUOTED, Assembly, Build
from regmap.inputs.captures.groups import Group, Word, entry_of, text_of
from regmap.inputs.captures.numerals import Numbers, as_number
from regmap.inputs.captures.tokens import ATTRIBUTE, LEAF
from regmap.inputs.captures.unpack import Budget, unescaped

__all__ = ["Markup"]

MAX_SKIPPED = 65536
"""Longest comment or declaration."""

_MOST_IN_VAIN = 2**27
"""Over so many characters of one text ends are looked for that do not come."""

_NEAR = 50_000
"""Another word in angle brackets stands so near."""

_VOID = frozenset(("area", "br", "col", "hr", "img", "input", "link", "meta", "source", "track"))
"""Elements that need no end (HTML Living Standard, void elements)."""

_CELLS = frozenset(("td", "th", "TD", "TH"))
_IMPLIED = {
    "td": _CELLS,
    "th": _CELLS,
    "tr": _CELLS | {"tr", "TR"},
    "li": frozenset(("li", "LI")),
    "dt": frozenset(("dt", "dd", "DT", "DD")),
    "dd": frozenset(("dt", "dd", "DT", "DD")),
    "option": frozenset(("option",)),
    "p": frozenset(("p", "P")),
}
"""Elements that end where another begins (HTML Living Standard, optional tags)."""

_LONGEST_REMARK = 40
_BELOW = r"[ \t:=]*+(?:\r?\n[ \t]*+)?[\[({]*+[-+.]?\d"
_HEADED = re.compile(_BELOW)
_ANGLED = re.compile(rf"(?:\n[^<\n]*+){{1,5000}}+<[^\W\d][^<>\n]{{0,40}}>{_BELOW}")
_REMARK = re.compile(r"[^\W_][^\n{}\[\]()<>=;:\"]*")

Match = re.Match[str]


class Markup(Assembly):
    """Methods that are named like tokens take them in; what they return is where to go on."""

    def __init__(self, text: str, budget: Budget, depth: int, at: int | None, build: Build) -> None:
        super().__init__(text, budget, depth, at, build)
        self._absent: dict[str, int] = {}  # mark -> up to where it does not come
        self._next: dict[str, int] = {}  # mark -> where it comes next
        self._headings = False  # words in angle brackets begin lines
        self._in_vain = 0  # characters that were looked at for what did not come

    def _empty(self, found: Match) -> int | None:
        """Open an element; one that holds text alone is read to its end."""
        self.flush_key()
        name = found["tag"].rpartition(":")[2]
        while self.open and self.open[-1].tag in _IMPLIED.get(name.lower(), ()):
            self.open.pop()
        ended = found["empty"] or self._find(f"</{found['tag']}", found.end()) >= 0
        inside = self.text[found.start() - 1 : found.start()].isalnum()
        if not ended and inside and name.lower() not in _IMPLIED:
            return None  # List<Room>
        if not ended and self._is_heading(found):
            self.put(Word(found["tag"]))  # <hall> 1,2 3,4
            self.apart = True
            return None
        self.key = name
        element = Group("<", self.offset(found.start()), name)
        self.push(element)
        if not self.open or self.open[-1] is not element:
            return None
        for key, *values in ATTRIBUTE.findall(found["attributes"]):
            self.key = key.rpartition(":")[2]
            self._content("".join(values), found.start())
        self.glued = False
        if found["empty"] or (not ended and found["tag"] in _VOID):
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

    def _is_heading(self, found: Match) -> bool:
        """Whether what looks like an element that never ends is a word in angle brackets.

        Numbers stand behind it or right below, and another such word with numbers on a line below.
        """
        if found["attributes"] or not _HEADED.match(self.text, found.end()):
            return False
        end = self.text.find("\n", found.end(), found.end() + MAX_SKIPPED)
        if end >= 0 and _ANGLED.match(self.text, end, end + _NEAR):
            self._headings = True
        return self._headings

    def _content(self, content: str, position: int, *, escaped: bool = True) -> None:
        content = unescaped(content.replace("\\", "\\\\")) if escaped else content
        number = as_number(content)
        if number is None:
            self.put_text(content, position)
        else:
            self.put(number)
        self.apart = True

    def _end(self, found: Match) -> None:
        self.flush_key()
        name = found["end"].rpartition(":")[2]
        for back in range(len(self.open) - 1, -1, -1):
            if self.open[back].tag == name:
                element = self.open[back]
                _rekey(element)
                del self.open[back:]
                if (entry := entry_of(element)) and self.top.items[-1][1] is element:
                    self.top.items[-1] = entry
                self.glued, self.apart = False, True
                return

    def _mark(self, found: Match) -> int:
        """Skip a comment, an instruction or a declaration, or else just its first characters."""
        start, text = found.end(), self.text
        if text.startswith("[CDATA[", start):
            return start + 7
        if found[0] == "#" and (self.last_words() or not self.top.items):
            self.put(Word("#"))
            return start
        if found[0] in ("//", "#"):
            end = text.find("\n", start)
            end = len(text) if end < 0 else end
            self._remark(text[start:end])
            return end
        closing = {"<!--": "-->", "<?": "?>", "/*": "*/", "(*": "*)"}.get(found[0], ">")
        end = self._find(closing, start)
        if closing == ">" and "[" in text[start : max(end, start)]:
            closing = "]>"
            end = self._find(closing, start)
        if end >= 0 and found[0] in ("<!--", "/*", "(*"):
            self._remark(text[start:end])
        return start if end < 0 else end + len(closing)

    def _aside(self, found: Match) -> int:
        """(* hall *)"""
        return self._mark(found)

    def _remark(self, text: str) -> None:
        """Keep a comment that may be a name: a few words."""
        words = text.strip(" \t\r*-/")
        if self._behind_point():
            return
        if self.key is None and len(words) <= _LONGEST_REMARK and _REMARK.fullmatch(words):
            self.apart, self.glued = True, False
            self.put(Word(words))
            self.apart = True

    def _behind_point(self) -> bool:
        """Whether no more than a point stands before: what is remarked there names no outline."""
        items = self.top.items
        if self.open or not items or any(key is not None for key, _ in items):
            return False
        values = [value for _, value in items]
        if len(values) == 1 and isinstance(values[0], Numbers):
            return len(values[0].text) < _LONGEST_REMARK and len(values[0].values()) < 4
        return len(values) < 4 and all(isinstance(value, float) for value in values)

    def _find(self, mark: str, start: int) -> int:
        """Where a mark stands next, not too far away; what is not there is not looked for again."""
        if start < self._absent.get(mark, 0):
            return -1
        if self._next.get(mark, -1) >= start:
            return self._next[mark]
        if self._in_vain > _MOST_IN_VAIN:
            return -1
        end = self.text.find(mark, start, start + MAX_SKIPPED)
        if end < 0:
            self._absent[mark] = start + MAX_SKIPPED - len(mark)
            self._in_vain += min(MAX_SKIPPED, len(self.text) - start)
        self._next[mark] = end
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
            self.put(self.inner(unescaped(self.text[start:end]), start))
        return end


def _rekey(element: Group) -> None:
    """<key>name</key><string>hall</string>: put the first of each two before the second."""
    items = element.items
    if len(items) < 2 or len(items) % 2 or any(key != "key" for key, _ in items[::2]):
        return
    keys = [text_of(value) for _, value in items[::2]]
    if all(key is not None for key in keys):
        element.items = [(key, item[1]) for key, item in zip(keys, items[1::2], strict=True)]
