"""What stands beside an outline in a text and may name it."""

from __future__ import annotations

import itertools
import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypeAlias
from urllib.parse import unquote

from regmap.inputs.captures.groups import Group, Value, Word, entry_of, text_of, unwrap
from regmap.inputs.captures.numerals import as_number
from regmap.inputs.captures.phrases import unmarked
from regmap.inputs.captures.words import BEHIND, axis, id_rank, is_kind, name_rank, stem, words_of

__all__ = ["Clue", "Surroundings", "Trail"]

Trail: TypeAlias = list[tuple[Group, int]]
"""The groups that lead to an outline, outermost first, each with the place of the next in it."""

_LONGEST = 120
"""A longer text is no name."""

_BESIDE = 6
"""How many items to either side are looked at for a name without a key."""

_WINDOW = 40
"""How many items to either side are looked at for values with keys in a long list."""

_FEW = 60
_STOREYS = (("floors",), ("levels",), ("storeys",))
_PLACE = re.compile(r"[a-z]?[xX]\d?")
"""A key of a thing that has a place of its own: x, x1, cx."""

_LISTS = ("[", "(", "{", "block", "<")


@dataclass(frozen=True, slots=True)
class Clue:
    """Something that stands beside an outline and may name it.

    Attributes:
        key: what stands before it, "" if nothing; `place`: then how many items before (-) or
            behind the outline it stands.
        text: the value; `number`: it is one; `bare`: it stood without quotes.
        far: how many groups lie between it and the outline; `outside`: how often it stands outside
            of a list of which the outline is an element; `source`: tells it from equal ones;
            `below`: it stands on a line below, and may as well belong to what follows; `tag`: it
            stands in square brackets.
    """

    key: str
    place: int
    text: str
    number: bool
    bare: bool
    far: int
    outside: int
    source: int = -1
    below: bool = False
    tag: bool = False


@dataclass(slots=True)
class _Index:
    """What is asked of a group again and again.

    Attributes:
        keys: the places of each key whose value leads to no outline.
        counted: keys that only a number tells apart, each with what stands for it in `keys`.
        lists: it lists several groups without keys; `repeats`: several that lead to outlines, all
            under one key; `alike`: all its keys are one.
    """

    keys: dict[str, list[int]]
    counted: dict[str, str]
    lists: bool
    repeats: bool
    alike: bool


@dataclass(slots=True)
class _Place:
    """A group on the way to an outline, and which of its items lead there."""

    group: Group
    span: range
    far: int
    outside: int


class Surroundings:
    """Looks around outlines.

    `listed`: which items lead to outlines, by the serial of their group; `holding`: the serials of
    all groups that do; `single`: of those whose rings are one outline with its holes.
    """

    def __init__(self, listed: Mapping[int, set[int]], holding: set[int], single: set[int]) -> None:
        self._listed = listed
        self._holding = holding
        self._single = single
        self._indices: dict[int, _Index] = {}
        self._firsts: dict[int, int] = {}

    def clues(self, trail: Trail, own: range) -> list[Clue]:
        """Return the clues beside the items `own` of the last group of a trail, nearest first."""
        clues: list[Clue] = []
        outside = 0
        for far, (group, index) in enumerate(reversed(trail)):
            place = _Place(group, own if far == 0 else range(index, index + 1), far, outside)
            clues += self._beside(place)
            clues += self._keyed(place)
            if len(trail) - far > 1:
                clues += self._parallel(place, *trail[-2 - far])
            # The coordinates of a MultiPolygon are parts of one room (RFC 7946, section 3.1.7).
            parts = len(trail) - far > 1 and _key_of(*trail[-2 - far]) == "coordinates"
            outside += far > 0 and self._index(group).lists and not parts
        return [*clues, *self._storeys(trail)]

    def _storeys(self, trail: Trail) -> Iterator[Clue]:
        """Which storey an outline is of by its place in a list of storeys, which have no names."""
        for far, ((above, place), (group, index)) in enumerate(itertools.pairwise(trail)):
            words = words_of(_key_of(above, place) or "")
            if words[-1:] not in _STOREYS or len(self._listed[group.serial]) < 2:
                continue
            storeys = [unwrap(group.items[at][1]) for at in self._listed[group.serial]]
            if group.kind == "[" and all(map(_is_nameless, storeys)):
                yield Clue("floor", 0, f"floor {index + 1}", False, False, len(trail) - far, 1)

    def _index(self, group: Group) -> _Index:
        index = self._indices.get(group.serial)
        if index is None:
            keys: defaultdict[str, list[int]] = defaultdict(list)
            every = {key for key, _ in group.items}
            loose = 0
            leading: set[str] = set()
            repeats = False
            counted = _counted(group)
            for at, (key, value) in enumerate(group.items):
                entry = entry_of(value)
                if key is None and entry is None:
                    several = isinstance(value, Group) and len(value.items) > 1
                    loose += several or self._leads_on(value)
                elif not self._leads_on(value):
                    own = entry[0] if entry else key or ""
                    keys[counted.get(own, own)].append(at)
                elif key is not None:
                    repeats = repeats or key in leading
                    leading.add(key)
            lists = loose > 1 and group.kind != "line" and group.serial not in self._single
            index = _Index(keys, counted, lists, repeats, len(every) == 1)
            self._indices[group.serial] = index
        return index

    def _first(self, group: Group) -> int:
        """The first item of a group that leads to an outline."""
        if group.serial not in self._firsts:
            self._firsts[group.serial] = min(self._listed[group.serial])
        return self._firsts[group.serial]

    def _leads_on(self, value: Value) -> bool:
        inner = unwrap(value)
        return isinstance(inner, Group) and inner.serial in self._holding

    def _clue(self, place: _Place, key: str, value: Value, items: int = 0) -> Clue | None:
        if axis(key) is not None or self._leads_on(value):
            return None
        inside = _unbracketed(value)
        text = text_of(inside)
        if text is None or not text.strip() or len(text) > _LONGEST:
            return None
        quoted = isinstance(value, Group) and value.kind == "text" and value.tag is not None
        bare = not quoted and _is_bare(unwrap(value))
        if bare and "%" in text:
            text = unquote(text)
        if bare:
            text = unmarked(text)
        if bare and len(text) > 2 and text[0] == text[-1] and not text[0].isalnum():
            text = text.strip(text[0])  # @hall@
        number = as_number(text) is not None
        source, tag = id(value), inside is not value
        return Clue(
            key, items, text.strip(), number, bare, place.far, place.outside, source, tag=tag
        )

    def _keyed(self, place: _Place) -> Iterator[Clue]:
        """Values with keys. Of several of one key only that which belongs to the outline."""
        items, span = place.group.items, place.span
        index = self._index(place.group)
        if len(items) <= _FEW:
            keys = list(index.keys)
        else:
            near = items[max(span.start - _WINDOW, 0) : span.start]
            near += items[span.stop : span.stop + _WINDOW]
            known = (index.counted.get(key, key) for key, _ in near if key is not None)
            keys = list(dict.fromkeys(key for key in known if key in index.keys))
        for key in keys[:_FEW]:
            places = index.keys[key]
            at = places[0]
            if len(places) > 1:
                before = bisect_left(places, span.start)
                after = bisect_left(places, span.stop)
                leading = at < self._first(place.group)
                near_one = places[:before][-1:] if leading else places[after : after + 1]
                if not near_one:
                    continue
                at = near_one[0]
            if at in span:
                continue
            for clue in self._values(place, key, items[at][1]):
                # What one thing in a list says of itself, it says of none of the others.
                other = index.repeats and len(places) == 1 and clue.key != key
                yield replace(clue, outside=clue.outside + 1) if other else clue

    def _values(
        self, place: _Place, key: str, value: Value, *, deeper: bool = True
    ) -> Iterator[Clue]:
        entry = entry_of(value)
        clue = self._clue(place, *(entry or (key, value)))
        if clue is not None:
            yield clue
        elif isinstance(value, Group) and len(value.items) < _FEW:
            keys = [inner for inner, _ in value.items]
            placed = any(key is not None and _PLACE.fullmatch(key) for key in keys)
            for inner, below in value.items:
                if entry := entry_of(below):
                    inner, below = entry
                elif inner is None or keys.count(inner) > 1:
                    continue
                if placed and is_kind(inner):
                    continue  # the kind of what stands there
                if found := self._clue(place, inner, below):
                    yield found
                elif deeper and isinstance(below, Group):
                    yield from self._values(place, inner, below, deeper=False)

    def _beside(self, place: _Place) -> Iterator[Clue]:
        """What stands without a key before and behind."""
        items, span = place.group.items, place.span
        for step, start in ((-1, span.start - 1), (1, span.stop)):
            below = step > 0 and place.group.kind in ("root", "block", "text")
            for count in range(_BESIDE):
                at = start + step * count
                if not 0 <= at < len(items):
                    break
                key, value = items[at]
                if step < 0 and (heading := _heading(key, value)) is not None:
                    key, value = None, heading
                if key is not None:
                    continue
                clue = self._clue(place, "", value, step * (count + 1))
                if step < 0:
                    yield from self._announced(place, value)
                if clue is None:
                    # hall (id 16), shape (4, 2):
                    words = _opening_words(value) if step < 0 and count == 0 else None
                    if words and (own := self._clue(place, "", words, -1)):
                        yield own
                    break
                yield replace(clue, below=below)

    def _announced(self, place: _Place, value: Value) -> Iterator[Clue]:
        """What a record right before an outline says of its name: {"name": "hall"} [[0, 0], ...."""
        if not isinstance(value, Group) or value.serial in self._holding:
            return
        told = (c for key, v in value.items if key for c in self._values(place, key, v))
        spoken = text_of(value) is not None  # net: area 3 name="hall"
        for clue in told if spoken else self._values(place, "", value, deeper=False):
            if name_rank(clue.key) is not None or id_rank(clue.key) is not None:
                yield clue
        lists = [v for _, v in value.items if isinstance(v, Group) and v.kind == "("]
        held = [item for group in (value, *lists[:_BESIDE]) for item in group.items[:_FEW]]
        quoted = [v for k, v in held if k is None and type(v) is str]
        if len(quoted) == 1 and (own := self._clue(place, "", quoted[0], -1)):
            yield own

    def _parallel(self, place: _Place, parent: Group, at: int) -> Iterator[Clue]:
        """The value at the same place in a list beside this list."""
        count, own = len(place.group.items), place.span.start
        if place.group.kind not in _LISTS or (count == 1 and parent.kind == "line"):
            return
        for other, (key, value) in enumerate(parent.items[:_FEW]):
            value = unwrap(value)
            if other == at or not isinstance(value, Group) or len(value.items) != count:
                continue
            leads_on = value.serial in self._holding
            if value.kind in _LISTS and not leads_on and self._index(value).alike:
                clue = self._clue(place, key or "", value.items[own][1])
                if clue is not None:
                    yield clue


def _counted(group: Group) -> dict[str, str]:
    """Keys of names that only a number tells apart, each with what they have in common."""
    kinds: defaultdict[str, set[str]] = defaultdict(set)
    for key, value in group.items:
        told = text_of(value) is not None and not isinstance(unwrap(value), float)
        if told and key is not None and key[-1:].isdigit():
            kinds[stem(key)].add(key)
    return {
        key: kind
        for kind, keys in kinds.items()
        if len(keys) > 1 and name_rank(kind) is not None
        for key in keys
    }


def _heading(key: str | None, value: Value) -> str | None:
    """What a key without a value says, or with no more than a count: `room hall: 4 corners`."""
    before: list[str] = []
    if key is None and isinstance(value, Group) and value.kind == "line" and len(value.items) > 1:
        *others, (key, value) = value.items
        before = [str(inner) for own, inner in others if own is None and isinstance(inner, Word)]
        if len(before) < len(others):
            return None
    if isinstance(value, Group) and value.kind == "[" and len(value.items) == 1:
        own, quoted = value.items[0]
        return quoted if own is None and type(quoted) is str else None  # cells["hall"]
    if isinstance(value, Group) and value.kind == "block":
        empty = not value.items
    else:
        empty = isinstance(value, Word) and not value
    if key is None or not (empty or _is_count(value)):
        return None
    return Word(" ".join([*before, key])) if isinstance(key, Word) else key


def _opening_words(value: Value) -> Word | None:
    """The words with which a line begins that ends in a colon, whatever stands in between."""
    if not isinstance(value, Group) or value.kind != "line" or value.tag != ":":
        return None
    key, words = value.items[0]
    return words if key is None and isinstance(words, Word) else None


def _is_count(value: Value) -> bool:
    """Whether a value is a number with words for corners behind it."""
    if not isinstance(value, Group) or value.kind != "span" or len(value.items) != 2:
        return False
    (_, number), (_, words) = value.items
    counted = isinstance(number, float) and number.is_integer() and isinstance(words, Word)
    return counted and all(word in BEHIND for word in str(words).lower().split())


def _is_bare(value: Value) -> bool:
    """Whether a value is words without quotes, a number before or behind them maybe."""
    if isinstance(value, Group) and value.kind in ("line", "dash"):
        return all(
            type(part) is not str if key is None else isinstance(part, Group) and not part.items
            for key, part in value.items
        )
    return isinstance(value, Word)


def _unbracketed(value: Value) -> Value:
    """Look through a bracket around words: [kitchen] 1,2 3,4, or { kitchen }."""
    inner = unwrap(value)
    value = inner if isinstance(inner, Group) and inner.kind == "{" else value
    if isinstance(value, Group) and value.kind in ("[", "{") and len(value.items) == 1:
        key, inner = value.items[0]
        return inner if key is None and isinstance(inner, Word) else value
    return value


def _is_nameless(value: Value) -> bool:
    """Whether a record says neither what it is called nor its number."""
    items = value.items if isinstance(value, Group) and value.kind == "{" else []
    told = (key for key, inner in items if key is not None and text_of(inner) is not None)
    return bool(items) and all(name_rank(k) is None and id_rank(k) is None for k in told)


def _key_of(group: Group, index: int) -> str | None:
    return group.items[index][0]
