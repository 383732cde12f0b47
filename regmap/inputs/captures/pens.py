"""Outlines drawn by a pen that is told to move and to draw, a statement a corner.

The statements are those of drawing languages, before their coordinates (`p.moveTo(1, 2)`, `G0 X1
Y2`) or behind them (`1 2 moveto`). An outline begins where the pen moves without drawing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TypeAlias

from regmap.inputs.captures.corner import point_of
from regmap.inputs.captures.groups import Group, Item, Word, unwrap
from regmap.inputs.captures.numerals import Numbers, as_number

__all__ = ["is_pen", "strokes"]

_MOVE = frozenset(("moveto", "move", "m", "g0", "g00", "startat", "rmoveto", "moveby", "pu"))
_DRAW = frozenset(
    ("lineto", "line", "draw", "drawto", "l", "g1", "g01", "addline", "addlineto", "rlineto",
     "lineby", "pd")
)  # fmt: skip
_GO = frozenset(("goto", "setpos", "setposition"))
_UP, _DOWN = frozenset(("penup", "up")), frozenset(("pendown", "down"))
_REST = frozenset(
    ("closepath", "close", "closesubpath", "z", "stroke", "fill", "beginpath", "newpath", "endpath",
     "gsave", "grestore", "begin", "end", "beginfill", "endfill", "done", "n")
)  # fmt: skip
_CLOSE = frozenset(("closepath", "close", "closesubpath", "z"))
_STEPS = frozenset(("rmoveto", "moveby", "rlineto", "lineby"))
_VERBS = _MOVE | _DRAW | _GO | _UP | _DOWN | _REST
_OTHER = re.compile(r"[\W_]+")
_LETTERED = re.compile(r"^[xyXY](?=[-+.\d])")
_MOST_ATOMS = 20_000
_LEADING = 4
"""Statements before the first corner."""


Corner: TypeAlias = tuple[float, float]


@dataclass(slots=True)
class _Pen:
    """A pen on its way.

    Attributes:
        corners: where it was.
        up: it was told so, and moves without drawing.
        ended: the outline ends here; `closed`: it was told to go back to the first corner.
    """

    corners: list[Corner] = field(default_factory=list)
    up: bool = False
    ended: bool = False
    closed: bool = False

    def does(self, verb: str, corners: Sequence[Corner]) -> bool:
        """Follow a statement; whether it is one of the outline that was begun."""
        if verb in _UP or verb in _DOWN:
            if verb in _UP and self.corners:
                return False
            self.up = verb in _UP
            return True
        if verb in _REST:
            self.ended = bool(self.corners)
            self.closed = self.closed or (self.ended and verb in _CLOSE)
            return True
        begins = verb in _MOVE or (verb in _GO and self.up)
        if self.ended or not corners or begins is bool(self.corners):
            return False
        for x, y in corners:
            if verb in _STEPS and self.corners:
                x, y = self.corners[-1][0] + x, self.corners[-1][1] + y
            self.corners.append((x, y))
        return True


def is_pen(key: str) -> bool:
    """Whether a key tells a pen to move or to draw, whatever the pen is called."""
    return _verb(key) is not None


def strokes(items: Sequence[Item], at: int) -> tuple[list[tuple[list[Corner], bool]], int]:
    """Return the outlines that statements from an item on draw, and where they end; or ([], at).

    They come as (corners, whether the pen was told to close them). There is one, unless the first
    item holds the statements of several.
    """
    if not _may_begin(items[at]):
        return [], at
    pen = _Pen()
    done: list[_Pen] = []
    end = at
    while end < len(items):
        statements = _statements(items[end])
        if statements is None or (not pen.corners and end - at > _LEADING):
            break
        before, refused = len(done), False
        for verb, corners in statements:
            if pen.does(verb, corners):
                continue
            if end > at:
                refused = True
                break
            done.append(pen)
            pen = _Pen()
            if not pen.does(verb, corners):
                return [], at
        if refused or (end > at and len(done) > before):
            break
        end += 1
        if done:
            break
    drawn = [(one.corners, one.closed) for one in [*done, pen] if one.corners]
    if not drawn or any(len(corners) < 3 for corners, _ in drawn):
        return [], at
    return drawn, end


def _may_begin(item: Item) -> bool:
    """Whether an item may hold a statement at all; most do not, and need no closer look."""
    key, value = item
    if key is not None and _verb(key) in _MOVE | _UP | _GO:
        return True
    value = unwrap(value)
    if isinstance(value, Word):
        return key is None
    return isinstance(value, Group) and _is_program(value)


def _is_program(group: Group) -> bool:
    if group.kind in ("[", "(") and group.items:
        key, verb = group.items[0]
        return key is None and isinstance(verb, str) and _verb(verb) is not None
    return group.kind in ("line", "{", "span") and len(group.items) > 1


def _statements(item: Item) -> list[tuple[str, list[Corner]]] | None:
    """What an item tells a pen, or None if it holds anything else."""
    key, value = item
    line = unwrap(value)
    told = key is not None and _verb(key) is not None
    whole = isinstance(line, Group) and not told and _is_program(line)
    atoms: list[str | list[float]] = []
    for part in line.items[:_MOST_ATOMS] if isinstance(line, Group) and whole else [item]:
        for atom in _atoms(part):
            if atom is None:
                return None
            atoms.append(atom)
    behind = _behind(atoms)
    found: list[tuple[str, list[Corner]]] = []
    values: list[float] = []
    verb: str | None = None
    for atom in [*atoms, ""]:
        if isinstance(atom, list):
            values += atom
            continue
        own = atom if behind else verb
        if len(values) % 2 or (own is None and values):
            return None
        if own:
            found.append((own, list(zip(values[::2], values[1::2], strict=True))))
        verb, values = atom, []
    return found or None


def _behind(atoms: Sequence[str | list[float]]) -> bool:
    """Whether verbs stand behind their coordinates: the first that needs any has none behind it."""
    for at, atom in enumerate(atoms):
        if isinstance(atom, str) and atom not in _REST | _UP | _DOWN:
            return at > 0 and isinstance(atoms[at - 1], list)
    return False


def _atoms(item: Item) -> Iterator[str | list[float] | None]:
    """Verbs and numbers of a statement; None stands for anything else."""
    key, value = item
    if key is not None:
        yield _verb(key)
        if isinstance(value, Group) and not value.items:
            return
    value = unwrap(value)
    if isinstance(value, Group) and value.kind == "span":
        for part in value.items:
            yield from _atoms(part)
    elif isinstance(value, str):
        words = str(value).split()
        whole = _verb("".join(words))
        for word in words if whole is None else [whole]:
            number = as_number(_LETTERED.sub("", word))
            yield _verb(word) if number is None or _verb(word) else [number]
    elif isinstance(value, float):
        yield [value]
    elif isinstance(value, Numbers):
        yield None if value.bracketed else value.values()
    else:
        point = point_of(value) if isinstance(value, Group) and value.items else None
        plain = point is not None and len(point.values) == 2 and not point.more
        yield list(point.values) if point is not None and plain else None


@lru_cache(maxsize=4096)
def _verb(key: str) -> str | None:
    verb = _folded(key.rpartition(".")[2])
    return verb if verb in _VERBS else None


def _folded(word: str) -> str:
    return _OTHER.sub("", word).lower()
