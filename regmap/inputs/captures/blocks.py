"""Outlines of a record a corner, in blocks that open and close, whatever is said in between.

The corners of all blocks are records of one kind: the same keys and words, other numbers. A block
opens with a record of another kind, which comes once for each, and may close with one. Nothing is
put together unless the text confirms it: each block has as many corners as its first record tells,
or ends with its own last record, or is called by a name of its own; and unless records of yet
another kind stand within the blocks, for else the corners follow one another as they are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from shapely import Polygon

from regmap.inputs.captures.corner import Point, on_ground, point_of
from regmap.inputs.captures.groups import Group, Item, Value, Word, number_of, text_of, unwrap
from regmap.inputs.captures.numerals import Numbers, as_number
from regmap.inputs.captures.pens import is_pen
from regmap.inputs.captures.strangers import is_named_outline
from regmap.inputs.captures.words import KNOWN, is_aside, is_pose, stem, votes

__all__ = ["gather_blocks"]

_FEWEST = 3
_FEWEST_ITEMS = 6
_MOST_KINDS = 8
"""So many kinds of records are tried as corners, the most frequent first."""

_ABOVE = 8
"""A block opens no more than so many records above its first corner, and closes so soon."""

_MOST = 0.66
"""At least this share of the blocks has what confirms them."""

_MOST_ITEMS = 16
_DEPTH = 2
_LONGEST_NUMBERS = 60
_LISTS = ("root", "block", "text", "[", "<")
_RECORDS = ("line", "{", "span", "dash", "<")

Kind: TypeAlias = tuple[object, ...]


@dataclass(slots=True)
class _Said:
    """What a record says: its keys, all words that may be of a name, and numbers by their keys.

    Numbers without keys are `loose`.
    """

    kind: str
    keys: list[str]
    words: list[str]
    numbers: dict[str, float]
    loose: list[float]

    def takes(self, key: str | None, value: Value, depth: int = 0) -> None:
        """Add what a value says, and its key."""
        text = text_of(value)
        number = as_number(text) if text is not None else None
        if key:
            self.keys.append(stem(key))
            self.words += key.split() if not text or number is not None else ()
        if number is not None and key:
            self.numbers.setdefault(stem(key), number)
        elif number is not None:
            self.loose.append(number)
        elif text is not None:
            self.words += text.split()[:_MOST_ITEMS]
            self.loose += [n for word in text.split()[:_MOST_ITEMS] if (n := as_number(word))]
        elif isinstance(value, Group) and depth < _DEPTH:
            for own, below in value.items[:_MOST_ITEMS]:
                self.takes(own, below, depth + 1)
        elif isinstance(value, Numbers) and len(value.text) < _LONGEST_NUMBERS:
            self.loose += value.values()

    def tells(self) -> dict[str, float]:
        """The numbers by what tells where they stand: a key, or the place from either end."""
        places = {f"{at - len(self.loose)}": number for at, number in enumerate(self.loose)}
        return places | {f"+{at}": n for at, n in enumerate(self.loose)} | self.numbers

    def every(self) -> list[str]:
        """All words, those of keys too."""
        return self.words + self.keys

    def name(self) -> tuple[str, ...]:
        """The words, numbers only where they may be those of rooms."""
        numbered = any(votes(word)[0] for word in self.words)
        return tuple(w for w in self.words if numbered or as_number(w) is None)


@dataclass(slots=True)
class _Others:
    """The records that are no corners: what they say by their places, and which are alike."""

    said: Mapping[int, _Said]
    alike: Sequence[Mapping[Kind, list[int]]]


@dataclass(slots=True)
class _Corners:
    """Records of one kind that may be corners: where they stand, and what they say."""

    places: list[int]
    points: list[Point]
    key: str
    ground: list[Point] = field(default_factory=list)

    def of_others(self) -> bool:
        """Whether they tell a pen to draw, or where something is, and so are no corners."""
        return any(map(is_pen, self.key.split())) or is_pose(self.key)


@dataclass(slots=True)
class _Blocks:
    """How a group falls into blocks.

    Attributes:
        rank: how well that is confirmed, the larger the better.
        opened, closed: where each block begins and ends, the latter behind its last record.
        corners: of all blocks; `inside`: which of them are each block's.
        whole: whether all of a block's corners are there.
    """

    rank: tuple[float, ...]
    opened: list[int]
    closed: list[int]
    corners: _Corners
    inside: list[range]
    whole: list[bool]


def gather_blocks(root: Group) -> None:
    """Put the corners of each block below a group into one list, beside what opens the block."""
    for group in root.every():
        if group.kind in _LISTS and len(group.items) >= _FEWEST_ITEMS:
            _gather(group)


def _gather(group: Group) -> None:
    kinds = _corners(group.items)
    taken = {at for one in kinds for at in one.places}
    several = [one for one in kinds if len(one.places) >= _FEWEST and not one.of_others()]
    every = sorted(several, key=lambda one: -len(one.places))
    if not every:
        return
    said = {at: _said(item) for at, item in enumerate(group.items) if at not in taken}
    others = _Others(said, [_alike(said, variant) for variant in range(_VARIANTS)])
    found: list[_Blocks] = []
    for corners in every[:_MOST_KINDS]:
        corners.ground = on_ground(corners.points)
        found += _parted(group.items, corners, others) if corners.ground else ()
    found = [blocks for blocks in found if not _hold_outlines(group.items, blocks)]
    best = max(found, key=lambda blocks: blocks.rank) if found else None
    if best is not None and _has_strangers(best):
        _put_together(group, best)


def _corners(items: Sequence[Item]) -> list[_Corners]:
    """The records that may be corners, kind by kind."""
    kinds: defaultdict[Kind, _Corners] = defaultdict(lambda: _Corners([], [], ""))
    for at, (key, value) in enumerate(items):
        inner = unwrap(value)
        if isinstance(inner, Group) and not 1 <= len(inner.items) <= _MOST_ITEMS:
            continue
        point = point_of(value) if isinstance(inner, Group | Numbers) else None
        if point is None:
            continue
        texts = [stem(text) for _, text in point.more if as_number(text) is None]
        keys = tuple(stem(own) for own, _ in point.more)  # corner 0, corner 1
        kind = stem(key), len(point.values), keys, point.keys, *texts
        corners = kinds[kind]
        corners.places.append(at)
        corners.points.append(point)
        corners.key = corners.key or " ".join([stem(key), *texts]).strip()
    return list(kinds.values())


def _said(item: Item) -> _Said:
    key, value = item
    inner = unwrap(value)
    said = _Said(inner.kind if isinstance(inner, Group) else "", [], [], {}, [])
    if isinstance(inner, Group) and inner.kind in _RECORDS:
        said.keys += [stem(key)] if key else []
        for own, below in inner.items[:_MOST_ITEMS]:
            said.takes(own, below)
    else:
        said.takes(key, inner)
    return said


_VARIANTS = 7


def _variant(said: _Said, variant: int) -> Kind:
    """What records of one kind have in common, in one of several ways: a name is not among it."""
    keys = tuple(said.keys)
    if variant == 6:
        return said.kind, keys, *(() if keys else said.words)
    words = [word.lower() for word in said.words]
    known = tuple(word for word in words if word in KNOWN)
    common = (words[:1], words[-1:], known)[variant % 3]
    return (said.kind, keys if variant < 3 else len(keys), *common)


def _alike(said: Mapping[int, _Said], variant: int) -> dict[Kind, list[int]]:
    alike: defaultdict[Kind, list[int]] = defaultdict(list)
    for at, one in said.items():
        alike[_variant(one, variant)].append(at)
    return alike


def _parted(items: Sequence[Item], corners: _Corners, others: _Others) -> Iterator[_Blocks]:
    """The ways in which records of other kinds part corners into blocks, and that are confirmed."""
    first = corners.places[0]
    above = [at for at in range(max(first - _ABOVE, 0), first) if at in others.said]
    tried: set[tuple[int, ...]] = set()
    for variant, alike in enumerate(others.alike):
        for at in reversed(above):
            opened = alike[_variant(others.said[at], variant)]
            mark = (opened[0], len(opened), opened[-1])
            if opened[0] != at or mark in tried or len(opened) > len(corners.places):
                continue
            tried.add(mark)
            limits = [*opened[1:], len(items)]
            if all(len(one) >= _FEWEST for one in _within(corners.places, opened, limits)[:-1]):
                blocks = _confirmed(corners, opened, limits, others)
                if blocks is not None:
                    yield blocks


def _confirmed(
    corners: _Corners, opened: list[int], limits: list[int], others: _Others
) -> _Blocks | None:
    """The blocks that open at given places, or None if nothing confirms that they are such."""
    places = corners.places
    closing = _closing(places, opened, limits, others) if len(opened) > 1 else None
    if closing is not None:
        limits = [limit if end is None else end for end, limit in zip(closing, limits, strict=True)]
    inside = _within(places, opened, limits)
    several = sum(len(one) >= _FEWEST for one in inside) > 1
    said = [others.said[at] for at in opened]
    told = _counts(said, inside)
    if told and (several or any(votes(word)[1] for word in said[0].every())):
        whole = [len(one) >= count for one, count in zip(inside, told, strict=True)]
        inside = [one[:count] for one, count in zip(inside, told, strict=True)]
    else:
        told = []
        whole = [len(one) >= _FEWEST for one in inside]
        if closing is not None:
            whole = [ok and end is not None for ok, end in zip(whole, closing, strict=True)]
    named = several and len({own.name() for own in said}) >= _MOST * len(said)
    if not (told or (several and closing is not None) or named):
        return None
    if not told and not all(_is_sound([corners.ground[at].values for at in one]) for one in inside):
        return None
    ends = [places[one[-1]] if one else at for one, at in zip(inside, opened, strict=True)]
    if closing is not None:
        ends = [last if end is None else end for last, end in zip(ends, closing, strict=True)]
    room, outline, other, way = votes(corners.key)
    spoken = bool(room or outline) - 2 * bool(other or way or is_aside(corners.key))
    far = sum(places[one[0]] - at for one, at in zip(inside, opened, strict=True) if one)
    fewer = len(whole) - sum(whole)
    rank = (bool(told), spoken, len(whole) - 2 * fewer, closing is not None, named, -far)
    return _Blocks(rank, opened, [end + 1 for end in ends], corners, inside, whole)


def _counts(said: Sequence[_Said], inside: Sequence[range]) -> list[int]:
    """How many corners each block has by what its first record tells, or [] if none tells it.

    Most have just as many: the last may be cut off, or other things may follow it.
    """
    tells = [own.tells() for own in said]
    for place in tells[0]:
        told = [own.get(place, 0.0) for own in tells]
        right = sum(len(one) == count for one, count in zip(inside, told, strict=True))
        if right >= max(_MOST * len(told), min(len(told) - 1, 2), 1) and min(told) >= _FEWEST:
            return [int(count) for count in told]
    return []


def _within(places: Sequence[int], opened: Sequence[int], limits: Sequence[int]) -> list[range]:
    """Which corners stand from each place up to its limit."""
    starts = np.searchsorted(places, opened).tolist()
    ends = np.searchsorted(places, limits).tolist()
    return [range(start, end) for start, end in zip(starts, ends, strict=True)]


def _closing(
    places: Sequence[int], opened: Sequence[int], limits: Sequence[int], others: _Others
) -> list[int | None] | None:
    """Where records of one kind close each block, None for a last one that is cut off.

    No corner stands between what closes a block and what opens the next one.
    """
    inside = _within(places, opened, limits)
    last = [places[one[-1]] if one else at for one, at in zip(inside, opened, strict=True)]
    below = range(places[inside[0][-1]] + 1, min(limits[0], last[0] + _ABOVE))
    tried: set[tuple[int, ...]] = set()
    for variant, alike in enumerate(others.alike):
        for at in below:
            if at not in others.said:
                continue
            closing = alike[_variant(others.said[at], variant)]
            mark = (closing[0], len(closing), closing[-1])
            if mark in tried or not len(opened) - 1 <= len(closing) <= len(opened):
                continue
            tried.add(mark)
            ends = [*closing, *([None] * (len(opened) - len(closing)))]
            pairs = zip(closing[:-1], last[:-1], limits, strict=False)
            between = opened[-1] < closing[-1] or len(closing) < len(opened)
            if between and all(end < place < limit for place, end, limit in pairs):
                return ends
    return None


def _is_sound(ring: Sequence[Sequence[float]]) -> bool:
    """Whether corners are those of an area, or were cut off."""
    return len(ring) < _FEWEST or Polygon(ring).is_valid


def _has_strangers(blocks: _Blocks) -> bool:
    """Whether other records stand between the corners of a block, or before it is closed."""
    places = blocks.corners.places
    for one, closed in zip(blocks.inside, blocks.closed, strict=True):
        if one and places[one[-1]] + 1 - places[one[0]] > len(one):
            return True
        if one and closed - places[one[-1]] > 2:
            return True
    return False


def _hold_outlines(items: Sequence[Item], blocks: _Blocks) -> bool:
    """Whether records between the corners of blocks are outlines with names of their own."""
    places = blocks.corners.places
    for inside in blocks.inside:
        for at in range(places[inside[0]], places[inside[-1]]) if inside else ():
            if is_named_outline(items[at][1]):
                return True
    return False


def _put_together(group: Group, blocks: _Blocks) -> None:
    """Make a record of each block: what opens it, a list of its corners, then all else."""
    ground = blocks.corners.ground
    key = blocks.corners.key or "corners"
    items: list[Item] = group.items[: blocks.opened[0]]
    limits = [*blocks.opened[1:], len(group.items)]
    for number, opened in enumerate(blocks.opened):
        inside, closed = blocks.inside[number], blocks.closed[number]
        own = [blocks.corners.places[at] for at in inside]
        record = Group("{", _offset(group, opened))
        record.items = _opening(group.items[opened], len(inside))
        listed = Group("[", _offset(group, own[0] if own else opened))
        listed.cut = not blocks.whole[number]
        text = " ".join(f"[{ground[at].values[0]!r} {ground[at].values[1]!r}]" for at in inside)
        if own:
            numbers = Numbers(text, listed.offset, bracketed=True, wrapped=True)
            listed.items.append((None, numbers))
        record.items.append((key, listed))
        rest = sorted({*range(opened + 1, closed)} - {*own})
        others = Group("[", record.offset)
        others.items = [group.items[at] for at in rest]
        record.items += [("between", others)] if others.items else []
        items.append((None, record))
        items += [group.items[at] for at in range(closed, limits[number])]
    group.items = items


def _opening(item: Item, count: int) -> list[Item]:
    """What a record says, as items beside the list, without the count of corners.

    Keys are without what counts blocks in them (room 3 name).
    """
    key, value = item
    inner = unwrap(value)
    whole = isinstance(inner, Group) and inner.kind in (_RECORDS if key is None else ("<", "{"))
    items: list[Item] = []
    for own, below in inner.items if whole and isinstance(inner, Group) else [item]:
        if own and number_of(below) == count and votes(own)[1]:
            continue
        words = [word for word in (own or "").split() if not word.isdigit()]
        heads = isinstance(below, Group) or not below
        items.append((own if heads or not words else Word(" ".join(words)), below))
    return items


def _offset(group: Group, at: int) -> int:
    value = unwrap(group.items[at][1])
    return value.offset if isinstance(value, Group | Numbers) else group.offset
