"""Units of length that a text tells of its outlines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regmap.inputs.captures.clues import Clue
from regmap.inputs.captures.find import Found
from regmap.inputs.captures.words import words_of

__all__ = ["in_one_unit", "units_of"]

_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inches": 25.4}
_UNITS = {
    **dict.fromkeys(("mm", "millimeter", "millimetre", "millimeters", "millimetres"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimetre", "centimeters", "centimetres"), "cm"),
    **dict.fromkeys(("m", "meter", "metre", "meters", "metres"), "m"),
    **dict.fromkeys(("in", "inch", "inches"), "inches"),
    **dict.fromkeys(("cell", "cells"), "cells"),
    **dict.fromkeys(("px", "pix", "pixel", "pixels"), "px"),
}
_SAME = 0.01
"""Boxes are one that differ by no more than this share of all that they lie in."""

_NO_ENDS = frozenset(("in", "cell", "cells"))
"""What ends keys, too, that speak of no unit."""

_SAYS_UNIT = frozenset(("unit", "units", "uom", "length", "lengths"))
_OF_OTHERS = frozenset(("area", "speed", "angle", "time", "weight", "volume", "temperature"))


def in_one_unit(found: Sequence[Found]) -> None:
    """Bring outlines under one key to one unit, the smallest of theirs, where they tell several.

    Each tells its own beside it, at the end of its key, or is told one with the list it is in.
    Their clues say that unit then.
    """
    kinds: defaultdict[tuple[str, ...], list[tuple[Found, str]]] = defaultdict(list)
    for one in found:
        if unit := _unit_of(one):
            kinds[_bare(one.path)].append((one, unit))
    for path, several in kinds.items():
        units = {unit for _, unit in several}
        if len(units) < 2 or (len({one.path for one, _ in several}) > 1 and _are_twice(several)):
            continue
        least = min(units, key=lambda unit: _MM[unit])
        for one, unit in several:
            scale = _MM[unit] / _MM[least]
            one.points = one.points * scale
            one.holes = [hole * scale for hole in one.holes]
            one.clues = [replace(c, text=least) if _said(c) else c for c in one.clues]
            one.path = path


def _unit_of(found: Found) -> str | None:
    """The one unit that is said nearest to an outline, or None."""
    headed = any(not _SAYS_UNIT.isdisjoint(words_of(key)[-1:]) for key in found.path)
    for outside in range(1 + max((clue.outside for clue in found.clues), default=0)):
        clues = [clue for clue in found.clues if clue.outside == outside]
        said = [_said(clue) for clue in clues]
        if headed:  # map unit=mm [{"name": "hall", "ring": ...
            said += [{_UNITS[c.text]} for c in clues if c.key == "" and c.text in _UNITS]
        units = set().union(*said) & _MM.keys()
        if not units and outside == 0 and (end := _ending(found.path)):
            units = {end} & _MM.keys()
        if units:
            return min(units) if len(units) == 1 else None
    return None


def _ending(path: Sequence[str]) -> str | None:
    """The unit at the end of the last key: outline_cm."""
    words = words_of(path[-1]) if path else ()
    return _UNITS.get(words[-1]) if len(words) > 1 and words[-1] not in _NO_ENDS else None


def _bare(path: tuple[str, ...]) -> tuple[str, ...]:
    """A path without the unit at the end of its last key."""
    return (*path[:-1], "_".join(words_of(path[-1])[:-1])) if _ending(path) in _MM else path


def _are_twice(several: Sequence[tuple[Found, str]]) -> bool:
    """Whether outlines under keys of two units are the same rooms, told in both."""
    boxes: defaultdict[str, list[tuple[float, ...]]] = defaultdict(list)
    for one, unit in several:
        scaled = one.points * _MM[unit]
        boxes[unit].append((*scaled.min(axis=0), *scaled.max(axis=0)))
    first, *others = (np.array(held) for held in boxes.values())
    return any(
        bool((np.abs(one - first).max(axis=1) < _SAME * np.ptp(first)).any())
        for other in others
        for one in other
    )


def units_of(found: Found) -> set[str]:
    """The units that are said of an outline: at the end of a key to it, or under one for units."""
    ends = (words_of(key)[-1:] for key in found.path if len(words_of(key)) > 1)
    units = {_UNITS[end[0]] for end in ends if end and end[0] in _UNITS.keys() - _NO_ENDS}
    return units.union(*map(_said, found.clues))


def _said(clue: Clue) -> set[str]:
    """The units of length that a clue says, if it says in which unit lengths are."""
    words = set(words_of(clue.key))
    if not words & _SAYS_UNIT or words & _OF_OTHERS:
        return set()
    parts = (part.strip("[](),").casefold() for part in clue.text.split())
    return {_UNITS[part] for part in parts if part in _UNITS}
