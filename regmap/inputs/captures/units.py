"""Units of length that a text tells of its outlines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

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
    **dict.fromkeys(("px", "pix", "pixel", "pixels"), "px"),
}
_SAYS_UNIT = frozenset(("unit", "units", "uom", "length", "lengths"))
_OF_OTHERS = frozenset(("area", "speed", "angle", "time", "weight", "volume", "temperature"))


def in_one_unit(found: Sequence[Found]) -> None:
    """Bring outlines under one key to one unit, the smallest of theirs, where each tells its own.

    Their clues say that unit then.
    """
    kinds: defaultdict[tuple[str, ...], list[tuple[Found, str]]] = defaultdict(list)
    for one in found:
        own = {unit for c in one.clues if not c.outside for unit in _said(c) & _MM.keys()}
        if len(own) == 1:
            kinds[one.path].append((one, min(own)))
    for several in kinds.values():
        units = {unit for _, unit in several}
        if len(units) < 2:
            continue
        least = min(units, key=lambda unit: _MM[unit])
        for one, unit in several:
            scale = _MM[unit] / _MM[least]
            one.points = one.points * scale
            one.holes = [hole * scale for hole in one.holes]
            one.clues = [replace(c, text=least) if _said(c) else c for c in one.clues]


def units_of(found: Found) -> set[str]:
    """The units that are said of an outline: at the end of a key to it, or under one for units."""
    ends = (words_of(key)[-1:] for key in found.path if len(words_of(key)) > 1)
    units = {_UNITS[end[0]] for end in ends if end and end[0] in _UNITS and end[0] != "in"}
    return units.union(*map(_said, found.clues))


def _said(clue: Clue) -> set[str]:
    """The units of length that a clue says, if it says in which unit lengths are."""
    words = set(words_of(clue.key))
    if not words & _SAYS_UNIT or words & _OF_OTHERS:
        return set()
    parts = (part.strip("[](),").casefold() for part in clue.text.split())
    return {_UNITS[part] for part in parts if part in _UNITS}
