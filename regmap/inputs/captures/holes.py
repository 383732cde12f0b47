"""Points of one outline that a further column parts again: rings inside it, or a second outline."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import shapely

from regmap.inputs.captures.words import is_kind, votes, words_of

__all__ = ["Part", "is_border", "parted_again"]

_FEWEST = 3
_WALLS = 0.05
"""Walls are no thicker, in parts of a room's width, and no room is as narrow."""

_HOLES = frozenset(("hole", "holes", "cutout", "cutouts", "inner", "interior", "void", "island"))


@dataclass(frozen=True, slots=True)
class Part:
    """One outline among points: what names it, which points it has, and which its holes have."""

    text: str
    indices: list[int]
    holes: list[list[int]] = field(default_factory=list)


_Several: TypeAlias = Sequence[tuple[Part, Sequence[Sequence[int]]]]
"""Parts, and the rings into which a column parts each."""


def parted_again(
    parts: Sequence[Part],
    columns: Mapping[tuple[str, int], Sequence[str]],
    values: Sequence[Sequence[float]],
) -> list[Part] | None:
    """Return parts of points as a further column parts them, or None if none does.

    `columns`: what is said of every point. `values`: their places. A column parts points into rings
    if each of its texts comes once in a part, with three points at least. All rings lie inside the
    first of their part, and are its holes, unless they leave no more of it than walls; or that
    would cross itself, and they are outlines each.
    """
    for (key, _), texts in columns.items():
        rings = [list(_stretches(part.indices, texts)) for part in parts]
        several = [(part, own) for part, own in zip(parts, rings, strict=True) if len(own) > 1]
        if not several or not all(_is_once(own, texts) for _, own in several):
            continue
        shapes = [
            [shapely.Polygon([values[i] for i in ring]) for ring in own] for _, own in several
        ]
        if not all(polygon.is_valid for own in shapes for polygon in own):
            continue
        first = {texts[own[0][0]] for own in rings}
        inside = all(one.contains(other) for one, *others in shapes for other in others)
        if inside and all(is_border(one, others) for one, *others in shapes):
            return [Part(p.text, own[0]) for p, own in zip(parts, rings, strict=True)]
        if inside and len(first) == 1 and _may_be_holes(key, several, texts):
            return [Part(p.text, own[0], own[1:]) for p, own in zip(parts, rings, strict=True)]
        crossed = (shapely.Polygon([values[i] for i in part.indices]) for part, _ in several)
        other = inside and _tells_others(key, several, texts)
        if other or not any(polygon.is_valid for polygon in crossed):
            pairs = zip(parts, rings, strict=True)
            return [Part(part.text, ring) for part, own in pairs for ring in own]
    return None


def is_border(outer: shapely.Polygon, inner: Sequence[shapely.Polygon]) -> bool:
    """Whether all that a ring inside leaves of an area is its walls, so that it is no hole."""
    if len(inner) != 1:
        return False
    wide = 2 * (outer.area - inner[0].area) / (outer.length + inner[0].length)
    return bool(wide < _WALLS * outer.area**0.5)


def _stretches(indices: Sequence[int], texts: Sequence[str]) -> Iterator[list[int]]:
    for _, own in itertools.groupby(indices, key=lambda i: texts[i]):
        yield list(own)


def _is_once(rings: Sequence[Sequence[int]], texts: Sequence[str]) -> bool:
    """Whether each text comes once in a part, with enough points for a ring."""
    told = {texts[ring[0]] for ring in rings}
    return len(told) == len(rings) and all(len(ring) >= _FEWEST for ring in rings)


def _may_be_holes(key: str, several: _Several, texts: Sequence[str]) -> bool:
    """Whether rings inside are no things of another kind: zones, say, or furniture."""
    said = _said_inside(several, texts)
    if not _HOLES.isdisjoint(words_of(key)):
        return True
    if all(not _HOLES.isdisjoint(words_of(text)) for text in said):
        return True
    return not is_kind(key) and not _tells_others(key, several, texts)


def _tells_others(key: str, several: _Several, texts: Sequence[str]) -> bool:
    """Whether a column speaks of what is no room."""
    return any(any(votes(text)[2:]) for text in (key, *_said_inside(several, texts)))


def _said_inside(several: _Several, texts: Sequence[str]) -> set[str]:
    return {texts[ring[0]] for _, own in several for ring in own[1:]}
