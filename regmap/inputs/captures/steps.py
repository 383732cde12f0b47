"""Outlines told by where they start and the steps from corner to corner from there on."""

from __future__ import annotations

import itertools
import re

import numpy as np

from regmap.inputs.captures.axes import only
from regmap.inputs.captures.corner import point_of
from regmap.inputs.captures.groups import Group, Item, Value, Word, number_of, unwrap
from regmap.inputs.captures.numerals import Numbers, Points
from regmap.inputs.captures.words import axis, words_of

__all__ = ["walk"]

_START = frozenset(("start", "begin", "from", "first", "origin", "at"))
_NAMED = re.compile(r"(\S.*\S) (?:" + "|".join(sorted(_START)) + ")")
_STEPS = frozenset(("step", "steps", "delta", "deltas", "move", "moves", "increment", "increments"))
_ACROSS, _UP = ("dx", "x", "east", "e"), ("dy", "y", "north", "n")
_FEWEST, _MOST_ITEMS = 2, 40


def walk(root: Group) -> None:
    """Put corners in the place of steps, below a group, wherever a start stands beside them."""
    for group in root.every():
        if not _FEWEST <= len(group.items) <= _MOST_ITEMS:
            continue
        keyed = [at for at, (key, _) in enumerate(group.items) if _STEPS & set(words_of(key or ""))]
        start = _start(group) if len(keyed) == 1 else None
        steps = None if start is None else _steps(group.items[keyed[0]][1])
        if start is None or steps is None:
            continue
        begin, places = start
        corners = np.cumsum(np.vstack((begin, steps)), axis=0)
        text = ", ".join(f"({x!r}, {y!r})" for x, y in corners.tolist())
        ring = Numbers(text, group.offset, bracketed=True, wrapped=True)
        told: list[Item] = []
        for at, (key, value) in enumerate(group.items):
            named = _NAMED.fullmatch(key) if key and at in places else None
            if at == keyed[0]:
                told.append(("corners", ring))
            elif at not in places:
                told.append((key, value))
            elif named is not None:
                told.append((None, Word(named[1])))  # kiln start=[0, 0]
        group.items[:] = told


def _start(group: Group) -> tuple[tuple[float, float], set[int]] | None:
    """Where a group says that something starts, and which of its items say so."""
    places: dict[str, tuple[float, int]] = {}
    for at, (key, value) in enumerate(group.items):
        if key is None or not _START.isdisjoint(words_of(key)):
            point = point_of(value) if key else None
            if point is not None and len(point.values) == 2:
                return (point.values[0], point.values[1]), {at}
        which = axis(key) if key else None
        number = number_of(value) if which else None
        if which and number is not None:
            places.setdefault(which, (number, at))
    if len(places) < 2:
        return None
    (x, first), (y, second) = places["x"], places["y"]
    return (x, y), {first, second}


def _steps(value: Value) -> Points | None:
    """Steps as (N, 2), or None if a value holds anything else."""
    inner = only(value)
    if isinstance(inner, Numbers):
        values = inner.values()
        return np.array(values).reshape(-1, 2) if len(values) % 2 == 0 else None
    if not isinstance(inner, Group):
        return None
    pairs = [_step(one) for key, one in inner.items if key is None]
    told = [pair for pair in pairs if pair is not None]
    return np.array(told) if _FEWEST <= len(told) == len(inner.items) else None


def _step(value: Value) -> tuple[float, float] | None:
    inner = unwrap(value)
    if isinstance(inner, Group) and len(inner.items) == 2:
        keyed = {(key or "").lower(): number_of(number) for key, number in inner.items}
        for across, up in itertools.product(_ACROSS, _UP):
            x, y = keyed.get(across), keyed.get(up)
            if x is not None and y is not None:
                return x, y
    point = point_of(inner)
    return (point.values[0], point.values[1]) if point and len(point.values) == 2 else None
