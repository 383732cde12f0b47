"""The tree of a text -> every sequence of points in it, the way to it and what stands beside."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import shapely

from regmap.errors import OutlineError
from regmap.inputs.captures.clues import Clue, Surroundings, Trail
from regmap.inputs.captures.groups import Group, Item, Value, Word, text_of, unwrap
from regmap.inputs.captures.holes import is_border
from regmap.inputs.captures.numerals import Points, as_number
from regmap.inputs.captures.points import Run, runs
from regmap.inputs.captures.words import id_rank, is_plumbing, name_rank, votes

__all__ = ["Found", "Names", "find"]

_MOST_NAMES = 60
_LONGEST = 120
_MARK = re.compile(r"[\w-]+")
MOST_STEPS = 200_000
"""Sequences of points, each as often as groups lead to it; some 4 levels are usual."""

_LOOSE = frozenset((kind,) for kind in ("{", "[", "(", "<", "line", "dash", "span", "row", "block"))
_LEFT_OUT = re.compile(r"(?:\.{3,}|\u2026)(?:\s.*)?|(?:and )?\d+ more\b.*")
_NOTHING = frozenset(("null", "none", "nan", "nil", "undefined"))
_RELATED = 4
_LOOKED_AT = 400
"""So many of the last outlines on a way are compared with what says that there is nothing."""

_FEW = 8
"""Longer rows are no entry of a table of names."""


@dataclass(slots=True, eq=False)
class Found:
    """A sequence of points.

    Attributes:
        points: (N, 2); `holes`: rings inside.
        path: the keys that lead to it.
        clues: nearest first.
        offset: where it begins; `moment`: what it was listed in together with others; `record`:
            which part of the text at the outermost level it belongs to.
        parent: the serial of the group in which it stands.
        cut: the text ended within it; `ended`: all that it was listed with is there; `fewer`: what
            stands in the place of others that were left out of its list, if so.
        closed: it was drawn, and closed; `posed`: its points are poses.
        emptied: what says later that nothing is in its place, if so.
        uneven: how many x and y stood in two lists, if these are not as long as each other.
        turned: the text has y before x.
    """

    points: Points
    path: tuple[str, ...]
    offset: int
    cut: bool
    moment: tuple[int, int] = (0, 0)
    record: int = 0
    parent: int = 0
    ended: bool = True
    fewer: str = ""
    emptied: str = ""
    closed: bool = False
    posed: bool = False
    uneven: tuple[int, int] | None = None
    turned: bool = False
    clues: list[Clue] = field(default_factory=list)
    holes: list[Points] = field(default_factory=list)


class NameTable(dict[str, str]):
    """Names by ids; `last`: the serial of the last group that holds any of them."""

    last = -1


Names: TypeAlias = dict[tuple[str, ...], NameTable]


def find(root: Group) -> tuple[list[Found], Names]:
    """Return every sequence of at least three points below a group, in the order of the text.

    Also return tables of names apart from outlines: {path: {id: name}}.
    """
    finder = _Finder()
    finder.visit(root, [], ())
    return finder.finished(), finder.names()


class _Finder:
    def __init__(self) -> None:
        self.found: list[tuple[Found, Trail, Run]] = []
        self.holding: set[int] = set()
        self.steps = 0
        self.single: set[int] = set()  # groups whose rings are one outline
        self._emptied: list[tuple[list[int], Group, tuple[str, ...]]] = []
        self._learnt: list[tuple[int, tuple[str, ...], dict[str, str]]] = []

    def visit(self, group: Group, trail: Trail, path: tuple[str, ...]) -> None:
        own_runs, rest = runs(group)
        self._note_emptied(group, trail, path)
        first = len(self.found)
        for run in own_runs:
            way = [*trail, (group, run.index)]
            self._count(len(way))
            self.holding.update(above.serial for above, _ in way)
            own = path if run.key is None else (*path, run.key)
            one = Found(run.points, own, run.offset, _is_cut(group, run))
            one.closed, one.posed, one.uneven = run.closed, run.posed, run.uneven
            one.holes = list(run.holes)
            self.found.append((one, way, run))
        if len(own_runs) > 1:
            self._holes(group, first)
            self._learn_beside(group, path, {run.key for run in own_runs if run.key})
        if not own_runs:
            self._learn(group, path)
            self._learn_pointers(group, path)
            self._learn_relations(group, path)
        for index, key, inner in rest:
            below = path if key is None else (*path, key)
            self.visit(inner, [*trail, (group, index)], below)
        lists = [len(way) > 1 and way[-2][0] is group for _, way, _ in self.found[first:]]
        if not own_runs and len(lists) == len(rest) > 1 and all(lists):
            self._holes(group, first)

    def _count(self, steps: int) -> None:
        self.steps += steps
        if self.steps > MOST_STEPS:
            raise OutlineError(
                f"the text holds {len(self.found) + 1} sequences of points or more, at a depth of "
                f"{self.steps // (len(self.found) + 1)}: number times depth may be {MOST_STEPS}; "
                "cut out the part with the rooms"
            )

    def finished(self) -> list[Found]:
        listed: dict[int, set[int]] = {}
        for _, trail, _ in self.found:
            for group, index in trail:
                listed.setdefault(group.serial, set()).add(index)
        left_out: dict[int, str] = {}
        surroundings = Surroundings(listed, self.holding, self.single)
        for found, trail, run in self.found:
            found.moment = _moment(trail, listed)
            found.record, found.parent = trail[0][1], trail[-1][0].serial
            found.ended = not any(group.cut for group, _ in trail)
            found.fewer = next(filter(None, (_left_out(g, left_out) for g, _ in trail)), "")
            for key, text in (*([run.label] if run.label else ()), *run.said):
                number = as_number(text) is not None
                found.clues.append(Clue(key, 0, text, number, key == "", 0, 0, id(run)))
            found.clues += surroundings.clues(trail, range(run.index, run.end))
        self._tell_emptied()
        return [found for found, _, _ in self.found]

    def _note_emptied(self, group: Group, trail: Trail, path: tuple[str, ...]) -> None:
        """Note what a group says is nothing: {"hall": null}, {"name": "hall", "rim": []}."""
        for index, (key, value) in enumerate(() if group.cut else group.items):
            if key is not None and _is_nothing(value):
                place = [*(above for _, above in trail), index]
                self._emptied.append((place, group, (*path, key)))

    def _tell_emptied(self) -> None:
        """Say of each outline of which the text says later that there is nothing, that it does.

        It stands on the same way, as nothing else with a name of its own does, or beside the name.
        """
        led: defaultdict[tuple[str, ...], list[tuple[list[int], Found]]] = defaultdict(list)
        for found, trail, _ in self.found if self._emptied else ():
            place = [index for _, index in trail]
            for depth in range(1, len(found.path) + 1):
                led[found.path[:depth]].append((place, found))
        for place, group, path in self._emptied:
            known = led.get(path, [])[-_LOOKED_AT:]
            told = {text for key, v in group.items[:_MOST_NAMES] if (text := _telling(key, v))}
            if told:
                known = [(at, one) for at, one in known if told & set(map(_said, one.clues))]
            elif is_plumbing(path[-1]) or any(votes(path[-1])):
                continue
            if known and all(at < place and _meet(one, known[-1][1]) for at, one in known):
                known[-1][1].emptied = f"{path[-1]}: nothing"

    def names(self) -> Names:
        """The tables of names that stand apart from outlines."""
        tables: Names = {}
        disputed: defaultdict[tuple[str, ...], set[str]] = defaultdict(set)
        for serial, path, names in self._learnt:
            if serial not in self.holding:
                table = tables.setdefault(path, NameTable())
                several = {mark for mark, name in names.items() if table.get(mark, name) != name}
                disputed[path] |= several
                table.update(names)
                table.last = max(table.last, serial)
        # A number beside names that comes with several of them counts something else.
        return {
            path: table
            for path, table in tables.items()
            if path[-1:] not in _LOOSE or 2 * len(disputed[path]) < len(table)
        }

    def _holes(self, group: Group, first: int) -> None:
        """Rings in one list of which the first encloses all others are one outline."""
        outer, *others = (found for found, _, _ in self.found[first:])
        if any(ring.path != outer.path for ring in others):
            return
        if any(run.label is not None for _, _, run in self.found[first:]):
            return
        low, high = outer.points.min(axis=0), outer.points.max(axis=0)
        for ring in others:
            if (ring.points.min(axis=0) <= low).any() or (ring.points.max(axis=0) >= high).any():
                return
        polygons = [shapely.Polygon(ring.points) for ring in (outer, *others)]
        if not is_border(polygons[0], polygons[1:]):  # else it is the same room without its walls
            outer.holes = [ring.points for ring in others]
        self.single.add(group.serial)
        del self.found[first + 1 :]

    def _learn(self, group: Group, path: tuple[str, ...]) -> None:
        """Learn names from {"id": 3, "name": "hall"}, {"names": {"3": "hall"}} and [3, "hall"]."""
        best: dict[bool, tuple[int, str]] = {}
        listed: dict[str, str] = {}
        numbers: list[str] = []
        texts: list[str] = []
        items = group.items
        if len(items) > 2 and (head := items[0][0]) and _lists_names(head) and items[0][1] == "":
            path, items = (*path, head), items[1:]  # names: 1=hall, 2=bath
        for key, value in items[:_MOST_NAMES]:
            text = text_of(value)
            if not text or len(text) > _LONGEST:
                continue
            numeric = as_number(text) is not None
            name, number = (None, None) if key is None else (name_rank(key), id_rank(key))
            (numbers if numeric else texts).append(text)
            if key is not None and _MARK.fullmatch(key) and any(c.isdigit() for c in key):
                listed[key] = text
            if name is not None and not numeric:
                best[True] = min(best.get(True, (name, text)), (name, text))
            elif number is not None:
                best[False] = min(best.get(False, (number, text)), (number, text))
        if True in best and False not in best and path and not numbers:
            self._learnt.append((group.serial, path[:-1], {path[-1]: best[True][1]}))
        elif len(best) == 2:
            self._learnt.append((group.serial, path, {best[False][1]: best[True][1]}))
        elif listed and ((path and _lists_names(path[-1])) or _are_numbered(items, listed, texts)):
            self._learnt.append((group.serial, path, listed))
        elif len(group.items) <= _FEW and texts and (numbers or best):
            mark = best[False][1] if False in best else (*numbers, "")[0]
            called = best[True][1] if True in best else next((t for t in texts if t != mark), "")
            if mark and any(c.isalpha() for c in called):
                self._learnt.append((group.serial, (*path, group.kind), {mark: called}))

    def _learn_beside(self, group: Group, path: tuple[str, ...], keys: set[str]) -> None:
        """Learn names that stand under the keys of outlines: hall_1=..., and 1=hall beside it."""
        items = group.items if keys else ()
        told = ((key, text_of(value)) for key, value in items if key in keys)
        names = {key: text for key, text in told if key and text and as_number(text) is None}
        if len(names) > 1:
            self._learnt.append((-1, (*path, "="), names))

    def _learn_relations(self, group: Group, path: tuple[str, ...]) -> None:
        """Learn from {id: 3, attributes: {name: hall}, rim: {id: r3}} that r3 is the hall's."""
        if group.kind != "{" or not any(isinstance(unwrap(v), Group) for _, v in group.items):
            return
        told = list(_told_below(group))
        names = {t for key, t in told if name_rank(key) is not None and as_number(t) is None}
        ids = [text for key, text in told if id_rank(key) is not None]
        if len(names) == 1 and len(ids) > 1:
            self._learnt.append((group.serial, (*path, "@"), dict.fromkeys(ids, *names)))

    def _learn_pointers(self, group: Group, path: tuple[str, ...]) -> None:
        """Learn from {name = "hall", ring = hall_ring} that hall_ring, which stands elsewhere, is
        the hall's."""
        names: list[str] = []
        pointers: list[str] = []
        for key, value in group.items[:_FEW]:
            if isinstance(value, Word) and _MARK.fullmatch(value) and as_number(value) is None:
                pointers.append(str(value))
            elif isinstance(value, str) and key is not None and name_rank(key) is not None:
                names.append(value)
        if len(names) == 1 and pointers:
            learnt = dict.fromkeys(pointers, names[0])
            self._learnt.append((group.serial, (*path, "&"), learnt))


def _telling(key: str | None, value: Value) -> str | None:
    """What an item says that tells which of several something is, or None."""
    tells = key is not None and (name_rank(key) is not None or id_rank(key) is not None)
    return text_of(value) if tells else None


def _said(clue: Clue) -> str | None:
    """The same of a clue."""
    return _telling(clue.key, clue.text)


def _meet(one: Found, other: Found) -> bool:
    """Whether the boxes around two outlines meet, as those of one room do."""
    low = np.maximum(one.points.min(axis=0), other.points.min(axis=0))
    return bool((low < np.minimum(one.points.max(axis=0), other.points.max(axis=0))).all())


def _is_nothing(value: Value) -> bool:
    """Whether a value is an empty list, or a word for none."""
    value = unwrap(value)
    if isinstance(value, Group):
        lone = value.kind == "(" and len(value.items) == 1 and value.items[0][0] is None
        bare = not value.items and not value.cut and value.kind in "[{("
        return _is_nothing(value.items[0][1]) if lone else bare
    return isinstance(value, str) and value.casefold() in _NOTHING


def _told_below(group: Group, depth: int = 0) -> Iterator[tuple[str, str]]:
    """What a group and those within it say under keys, as (key, text), up to a few levels down."""
    if depth > _RELATED or len(group.items) > _FEW:
        return
    for key, value in group.items:
        text = text_of(value)
        if key is not None and text and len(text) <= _LONGEST:
            yield key, text
        elif isinstance(inner := unwrap(value), Group):
            yield from _told_below(inner, depth + 1)


def _lists_names(key: str) -> bool:
    return name_rank(key) is not None or votes(key)[0] > 0


def _are_numbered(items: Sequence[Item], listed: Mapping[str, str], texts: Sequence[str]) -> bool:
    """Whether items are nothing but texts under numbers."""
    return len(listed) == len(texts) == len(items) and all(map(str.isdigit, listed))


def _is_cut(group: Group, run: Run) -> bool:
    """Whether points may be missing: their group was never closed, and nothing else ended them."""
    behind = group.items[run.end : run.end + 1]
    beside = (*behind, *group.items[max(run.index - 1, 0) : run.index])
    if any(_is_left_out(value) for _, value in beside):
        return True
    if not group.cut or not behind:
        return group.cut
    quoted = isinstance(value := group.items[run.index][1], Group) and value.kind == "text"
    return group.kind in ("[", "(") and not (quoted and run.end == run.index + 1)


def _left_out(group: Group, known: dict[int, str]) -> str:
    """What stands in a list in the place of elements that were left out, or ""."""
    if group.kind not in ("[", "(", "{"):
        return ""
    if group.serial not in known:
        words = (value for key, value in group.items if key is None and isinstance(value, Word))
        known[group.serial] = next((str(w) for w in words if _LEFT_OUT.fullmatch(w)), "")
    return known[group.serial]


def _is_left_out(value: Value) -> bool:
    """Whether dots stand in the place of points, or a point without numbers: [null, null]."""
    value = unwrap(value)
    if isinstance(value, Word):
        return _LEFT_OUT.fullmatch(value) is not None
    if not isinstance(value, Group) or len(value.items) not in (2, 3):
        return False
    return all(isinstance(v, str) and v.casefold() in _NOTHING for _, v in value.items)


def _moment(trail: Trail, listed: dict[int, set[int]]) -> tuple[int, int]:
    """What lists an outline together with others: the innermost such group, or else the line."""
    for group, index in reversed(trail):
        if group.kind in ("root", "text"):
            return group.serial, index
        if len(listed[group.serial]) > 1:
            return group.serial, 0
    return trail[0][0].serial, trail[0][1]
