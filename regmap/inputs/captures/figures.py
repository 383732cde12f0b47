"""Points that their own spelling tells: in brackets, held together by a sign, drawn by a pen."""

from __future__ import annotations

import re

from regmap.inputs.captures.cells import numbers_of
from regmap.inputs.captures.drawn import drawn_rings
from regmap.inputs.captures.markup import Markup
from regmap.inputs.captures.numerals import PURE, Numbers
from regmap.inputs.captures.tokens import ALIKE, JOINED, LOCAL_NUMBER

__all__ = ["Figures"]

Match = re.Match[str]


class Figures(Markup):
    """Methods that are named like tokens take them in."""

    def _pairs(self, found: Match) -> None:
        self._put_pairs(found[0], found)

    def _alike(self, position: int) -> int | None:
        """A long list of {"x": 1, "y": 2} is taken in at once, as one of [1, 2] is."""
        found = ALIKE.match(self.text, position)
        if found is None:
            return None
        offset = self.offset(found.start(1))
        self.put(Numbers(found[1], offset, bracketed=True, wrapped=True))
        self.apart = True
        return found.end()

    def _joined(self, found: Match) -> None:
        self._put_pairs(JOINED.sub(r"[\1 \2]", found[0]), found)

    def _put_pairs(self, text: str, found: Match) -> None:
        self.put(Numbers(text, self.offset(found.start()), bracketed=True, wrapped=True))

    def _local(self, found: Match) -> None:
        """1,5 | 2,25; 3 | 4,5"""
        texts = re.findall(LOCAL_NUMBER, found[0])
        values = [f"{value!r}" for value in numbers_of(texts) or ()]
        pairs = zip(values[::2], values[1::2], strict=True)
        self._put_pairs(" ".join(f"[{x} {y}]" for x, y in pairs), found)

    def _slashed(self, found: Match) -> None:
        """One point that some sign holds together: 100/200, or X100 Y200."""
        at, text = self.offset(found.start()), " ".join(re.findall(PURE, found[0]))
        self.put(Numbers(text, at, bracketed=False, wrapped=True))
        self.apart = True

    _lettered = _slashed

    def _drawn(self, found: Match) -> None:
        at = self.offset(found.start())
        for ring in drawn_rings(found[0]):
            text = " ".join(f"{x!r} {y!r}" for x, y in ring)
            self.put(Numbers(text, at, bracketed=False, wrapped=True))
