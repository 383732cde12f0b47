"""Corners that come in any order, a record each: with the outline's name and their number in it, or
behind the outline's name, one after another of each."""

from __future__ import annotations

import itertools
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

from regmap.inputs.captures.corner import Point, point_of
from regmap.inputs.captures.groups import Group, Value, unwrap
from regmap.inputs.captures.words import id_rank, name_rank, stem, votes

__all__ = ["put_in_order"]

_FEWEST = 3
_FEWEST_ITEMS = 6
_MOST = 0.8
"""Corners follow one another if this share of them stands in such outlines."""

_LISTS = ("root", "block", "text", "[", "table")


def put_in_order(root: Group) -> None:
    """Put corners below a group outline by outline, and by their numbers, if that is told of all.

    Each outline has all numbers from 0 or 1 on, once; so what is told anew is left as it stands.
    """
    for group in root.every():
        if group.kind in _LISTS and len(group.items) >= _FEWEST_ITEMS:
            _order(group)
            _gather(group)


def _order(group: Group) -> None:
    kinds: defaultdict[tuple[str, ...], list[tuple[int, Point]]] = defaultdict(list)
    for at, (key, value) in enumerate(group.items):
        inner = unwrap(value)
        if key is not None or not isinstance(inner, Group) or len(inner.items) < _FEWEST:
            continue
        point = point_of(inner)
        if point is not None and len(point.values) == 2 and len(point.more) > 1:
            kinds[tuple(own for own, _ in point.more)].append((at, point))
    for corners in kinds.values():
        if (ranks := _ranks([point for _, point in corners])) is None:
            continue
        places = [at for at, _ in corners]
        turned = sorted(range(len(places)), key=lambda i: ranks[i])
        if turned == list(range(len(places))) and places[-1] - places[0] < len(places):
            continue
        first, own = places[0], {*places}
        items = group.items
        others = [items[at] for at in range(first, len(items)) if at not in own]
        group.items = [*items[:first], *(items[places[i]] for i in turned), *others]
        return


def _gather(group: Group) -> None:
    """Put corners behind the first of those under the same key, where several outlines are told at
    once: `hall: 1, 2`, `bath: 3, 4`, `hall: 5, 6`, ..."""
    counted = Counter(key for key, _ in group.items if key is not None)
    named = {key for key in counted if len(stem(key)) > 1}
    known = {key for key in named if counted[key] >= _FEWEST} if len(named) > 1 else ()
    places = [at for at, (key, value) in enumerate(group.items) if key in known and _pair(value)]
    if len(known) < 2 or len(places) < _FEWEST_ITEMS:
        return
    keys = [group.items[at][0] for at in places]
    lengths = [len(list(same)) for _, same in itertools.groupby(keys)]
    if sum(n for n in lengths if n >= _FEWEST) >= _MOST * len(keys):
        return
    told = Counter(keys)
    in_turn = keys == keys[: len(told)] * (len(keys) // len(told))  # corners, by names of their own
    if min(told.values()) < _FEWEST or in_turn:
        return
    first = dict(zip(reversed(keys), reversed(places), strict=True))
    own = {*places}
    order = sorted(
        range(len(group.items)), key=lambda at: first[group.items[at][0]] if at in own else at
    )
    group.items = [group.items[at] for at in order]


def _pair(value: Value) -> bool:
    point = point_of(value)
    return point is not None and len(point.values) == 2


def _ranks(points: Sequence[Point]) -> list[tuple[int, int]] | None:
    """Which outline each corner is of, in the order in which these come, and its number in it."""
    if len(points) < _FEWEST_ITEMS:
        return None
    columns = list(zip(*([text for _, text in point.more] for point in points), strict=True))
    keys = [key for key, _ in points[0].more]
    for label, names in enumerate(columns):
        key = keys[label]
        if name_rank(key) is None and id_rank(key) is None and not votes(key)[0]:
            continue
        order = {name: at for at, name in enumerate(dict.fromkeys(names))}
        if len(order) < 2:
            continue
        for numbers in _numbers(columns, label):
            told: defaultdict[str, list[int]] = defaultdict(list)
            for name, number in zip(names, numbers, strict=True):
                told[name].append(number)
            if all(map(_count, told.values())):
                return [(order[n], number) for n, number in zip(names, numbers, strict=True)]
    return None


def _numbers(columns: Sequence[Sequence[str]], label: int) -> Iterator[list[int]]:
    for at, texts in enumerate(columns):
        if at != label and all(t.isdecimal() and t.isascii() and len(t) < 7 for t in texts):
            yield [int(text) for text in texts]


def _count(numbers: Sequence[int]) -> bool:
    """Whether numbers are 0, 1, 2, ... or 1, 2, 3, ... in any order."""
    first = min(numbers)
    whole = sorted(numbers) == list(range(first, first + len(numbers)))
    return whole and first < 2 and len(numbers) >= _FEWEST
