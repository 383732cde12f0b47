"""The point sequences of a tree, each with what stands beside it and may name it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeAlias

from regmap.inputs.capture_groups import Group, Value, Word, text_of, unwrap
from regmap.inputs.capture_numbers import Points, as_number
from regmap.inputs.capture_points import Run, runs
from regmap.inputs.capture_words import axis, id_rank, name_rank, votes

__all__ = ["Clue", "Found", "find"]

_MOST_CLUES = 60
_LONGEST = 120
_BESIDE = 6
"""How many items to either side of an outline are looked at for a name without a key."""

_WINDOW = 100
"""How far to either side values with keys are looked for, in items."""

_LISTS = ("[", "(", "{", "block", "<")

Trail: TypeAlias = list[tuple[Group, int]]
"""The groups that lead to an outline, outermost first, each with the place of the next in it."""


@dataclass(frozen=True, slots=True)
class Clue:
    """Something that stands beside an outline and may name it.

    Attributes:
        key: what stands before it, "" if nothing; `place`: then how many items before (-) or
            behind the outline it stands.
        text: the value; `number`: it is one; `bare`: it stood without quotes.
        far: how many groups lie between it and the outline; `outside`: how often it stands outside
            of a list of which the outline is an element.
        source: the place in the tree, equal for two outlines that share the clue.
    """

    key: str
    place: int
    text: str
    number: bool
    bare: bool
    far: int
    outside: int
    source: tuple[int, int]


@dataclass(slots=True, eq=False)
class Found:
    """A sequence of points.

    Attributes:
        points: (N, 2); `holes`: rings inside.
        path: the keys that lead to it.
        clues: nearest first.
        offset: where it begins; `moment`: what it was listed in together with others.
        cut: the text ended within it.
    """

    points: Points
    path: tuple[str, ...]
    offset: int
    cut: bool
    moment: tuple[int, int] = (0, 0)
    clues: list[Clue] = field(default_factory=list)
    holes: list[Points] = field(default_factory=list)


Names: TypeAlias = dict[tuple[str, ...], dict[str, str]]


def find(root: Group) -> tuple[list[Found], Names]:
    """Return every sequence of at least three points below a group, in the order of the text.

    Also return tables of names apart from outlines: {path: {id: name}}.
    """
    finder = _Finder()
    finder.visit(root, [], ())
    return finder.finished(), finder.names


class _Finder:
    def __init__(self) -> None:
        self.found: list[tuple[Found, Trail, Run]] = []
        self.holding: set[int] = set()
        self.names: Names = {}

    def visit(self, group: Group, trail: Trail, path: tuple[str, ...]) -> None:
        own_runs, rest = runs(group)
        first = len(self.found)
        for run in own_runs:
            way = [*trail, (group, run.index)]
            self.holding.update(above.serial for above, _ in way)
            own = path if run.key is None else (*path, run.key)
            cut = group.cut and run.end == len(group.items)
            self.found.append((Found(run.points, own, run.offset, cut), way, run))
        if len(own_runs) > 1 and all(r.key is None and r.label is None for r in own_runs):
            self._holes(first)
        if not own_runs:
            self._names(group, path)
        for index, key, inner in rest:
            below = path if key is None else (*path, key)
            self.visit(inner, [*trail, (group, index)], below)

    def finished(self) -> list[Found]:
        listed: dict[int, set[int]] = {}
        for _, trail, _ in self.found:
            for group, index in trail:
                listed.setdefault(group.serial, set()).add(index)
        for number, (found, trail, run) in enumerate(self.found):
            found.moment = _moment(trail, listed)
            if run.label is not None:
                key, text = run.label
                source = (trail[-1][0].serial, -1 - number)
                found.clues.append(
                    Clue(key, 0, text, as_number(text) is not None, False, 0, 0, source)
                )
            found.clues += _clues(trail, range(run.index, run.end), self.holding)
        return [found for found, _, _ in self.found]

    def _holes(self, first: int) -> None:
        """Rings in one list of which the first encloses all others are one outline."""
        outer, *others = (found for found, _, _ in self.found[first:])
        low, high = outer.points.min(axis=0), outer.points.max(axis=0)
        for ring in others:
            if (ring.points.min(axis=0) <= low).any() or (ring.points.max(axis=0) >= high).any():
                return
        outer.holes = [ring.points for ring in others]
        del self.found[first + 1 :]

    def _names(self, group: Group, path: tuple[str, ...]) -> None:
        """Learn names from {"id": 3, "name": "hall"} and from {"names": {"3": "hall"}}."""
        best: dict[bool, tuple[int, str]] = {}
        listed: dict[str, str] = {}
        for key, value in group.items[:_MOST_CLUES]:
            text = text_of(value) if key is not None else None
            if key is None or not text or len(text) > _LONGEST:
                continue
            if key.isalnum() and any(c.isdigit() for c in key):
                listed[key] = text
            name, number = name_rank(key), id_rank(key)
            if name is not None and as_number(text) is None:
                best[True] = min(best.get(True, (name, text)), (name, text))
            elif number is not None:
                best[False] = min(best.get(False, (number, text)), (number, text))
        if len(best) == 2:
            self.names.setdefault(path, {})[best[False][1]] = best[True][1]
        elif path and listed and (name_rank(path[-1]) is not None or votes(path[-1])[0]):
            self.names.setdefault(path, {}).update(listed)


def _moment(trail: Trail, listed: dict[int, set[int]]) -> tuple[int, int]:
    """What lists an outline together with others: the innermost such group, or else the line."""
    for group, index in reversed(trail):
        if group.kind in ("root", "text"):
            return group.serial, index
        if len(listed[group.serial]) > 1:
            return group.serial, 0
    return trail[0][0].serial, trail[0][1]


class _Place:
    """Where clues are looked for: a group on the way to an outline."""

    def __init__(
        self, group: Group, span: range, far: int, outside: int, holding: set[int]
    ) -> None:
        self.group, self.span, self.far, self.outside = group, span, far, outside
        self.holding = holding
        window = slice(max(span.start - _WINDOW, 0), span.stop + _WINDOW)
        self.items = list(enumerate(group.items[window], window.start))

    def clue(self, key: str, value: Value, source: tuple[int, int], place: int = 0) -> Clue | None:
        inner = unwrap(value)
        if isinstance(inner, Group) and inner.serial in self.holding:
            return None
        text = text_of(value)
        if text is None or not text.strip() or len(text) > _LONGEST or axis(key) is not None:
            return None
        number = as_number(text) is not None
        bare = isinstance(inner, Word)
        return Clue(key, place, text.strip(), number, bare, self.far, self.outside, source)

    def keyed(self) -> Iterator[Clue]:
        """Values with keys. Of several of one key only that which belongs to the span."""
        places: defaultdict[str, list[int]] = defaultdict(list)
        own_key = self.group.items[self.span.start][0]
        first = self.span.start
        for at, (key, value) in self.items:
            if key == own_key:
                first = min(first, at)
            if key is None or at in self.span:
                continue
            if not isinstance(value, Group) or value.serial not in self.holding:
                places[key].append(at)
        for key, every in list(places.items())[:_MOST_CLUES]:
            at = every[0]
            if len(every) > 1:
                before = [other for other in every if other < self.span.start]
                after = [other for other in every if other >= self.span.stop]
                near = before[-1:] if every[0] < first else after[:1]
                if not near:
                    continue
                at = near[0]
            yield from self._values(key, self.group.items[at][1], (self.group.serial, at))

    def _values(self, key: str, value: Value, source: tuple[int, int]) -> Iterator[Clue]:
        clue = self.clue(key, value, source)
        if clue is not None:
            yield clue
        elif isinstance(value, Group) and len(value.items) < _MOST_CLUES:
            keys = [inner for inner, _ in value.items]
            for at, (inner, below) in enumerate(value.items):
                if (
                    inner is not None
                    and keys.count(inner) == 1
                    and (found := self.clue(inner, below, (value.serial, at)))
                ):
                    yield found

    def beside(self) -> Iterator[Clue]:
        """What stands without a key before and behind."""
        items = self.group.items
        for step, start in ((-1, self.span.start - 1), (1, self.span.stop)):
            for count in range(_BESIDE):
                at = start + step * count
                if not 0 <= at < len(items):
                    break
                key, value = items[at]
                if key is not None:
                    continue
                clue = self.clue("", value, (self.group.serial, at), step * (count + 1))
                if clue is None:
                    break
                yield clue

    def parallel(self, parent: Group, at: int) -> Iterator[Clue]:
        """The value at the same place in a list beside this list."""
        for other, (key, value) in enumerate(parent.items[:_MOST_CLUES]):
            value = unwrap(value)
            if other == at or not isinstance(value, Group):
                continue
            if len(value.items) == len(self.group.items) and value.kind in _LISTS:
                _, text = value.items[self.span.start]
                source = (value.serial, self.span.start)
                alike = len({inner for inner, _ in value.items}) == 1
                if alike and (clue := self.clue(key or "", text, source)):
                    yield clue


def _clues(trail: Trail, own: range, holding: set[int]) -> list[Clue]:
    clues: list[Clue] = []
    outside = 0
    for far, (group, index) in enumerate(reversed(trail)):
        place = _Place(group, own if far == 0 else range(index, index + 1), far, outside, holding)
        clues += place.beside()
        clues += place.keyed()
        if len(trail) - far > 1:
            clues += place.parallel(*trail[-2 - far])
        alike = sum(key is None and isinstance(value, Group) for _, (key, value) in place.items)
        if alike > 1 and far > 0 and group.kind != "line":
            outside += 1
    return clues
