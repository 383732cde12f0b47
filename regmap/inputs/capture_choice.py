"""All point sequences of a text -> the rooms among them, named, each in its newest shape."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from regmap.inputs.capture_find import Found, Names
from regmap.inputs.capture_names import Shape, name_all
from regmap.inputs.capture_numbers import Points
from regmap.inputs.capture_words import (
    is_aside,
    is_plumbing,
    is_room_word,
    name_rank,
    votes,
    words_of,
)
from regmap.inputs.repair import repair

__all__ = ["Choice", "choose", "name_rest", "shapes_of"]

KEPT_SHARE = 0.95
"""A self-crossing outline is repaired only if this share of its area stays in one piece."""

SAME_GROUND = 0.5
"""An older outline of which newer ones cover this share is out of date."""

MAX_POINTS = 20_000
"""A longer sequence is no outline."""

FLAT = 1e-9
"""An outline whose area is below this share of its extent squared is a line."""

_KINDS = frozenset(
    [
        "type",
        "kind",
        "category",
        "class",
        "topic",
        "channel",
        "layer",
        "event",
        "role",
        "method",
        "op",
    ]
)
_FORBIDDEN = re.compile(
    r"no[\W_]*(go|entry|mop)|keep[\W_]*out|forbidden|restricted|virtual[\W_]*wall|sperr|verboten",
    re.IGNORECASE,
)


def shapes_of(found: Iterable[Found]) -> list[Shape]:
    """Return the sequences as areas, families marked by their patterns."""
    shapes = [Shape(one, _polygon(one), order) for order, one in enumerate(found)]
    _mark_patterns(shapes)
    return shapes


def _ring(points: Points) -> Points:
    """Without repeated points; the first counts as after the last."""
    kept = (points != np.roll(points, 1, axis=0)).any(axis=1)
    if not kept[0]:
        kept[0] = True
        last = np.flatnonzero((points != points[0]).any(axis=1))
        kept[(int(last[-1]) + 1 if len(last) else 1) :] = False
    return np.asarray(points[kept])


def _polygon(found: Found) -> Polygon | None:
    ring = _ring(found.points)
    if not 3 <= len(ring) <= MAX_POINTS or not np.isfinite(ring).all():
        return None
    holes = [hole for hole in map(_ring, found.holes) if len(hole) >= 3]
    polygon = Polygon(ring, holes)
    if not polygon.is_valid:
        mended = repair(polygon)
        if mended.piece is None or mended.share < KEPT_SHARE:
            return None
        polygon = mended.piece
    extent = float(np.ptp(ring, axis=0).max())
    return polygon if polygon.area > FLAT * extent**2 else None


# --- families ----------------------------------------------------------------------------------


def _mark_patterns(shapes: Sequence[Shape]) -> None:
    """Put "*" into each path where outlines of one kind differ: there stands a name.

    Where paths still differ then, "**" stands for what wraps whole lists, such as a floor's name.
    """
    values = _variants(shape.found.path for shape in shapes)
    for shape in shapes:
        path = shape.found.path
        own = [at for at, key in enumerate(path) if not is_plumbing(key)]
        best = max(own, key=lambda at: len(values[_starred(path, at)]), default=None)
        shape.pattern, shape.tail = path, path[-1] if path else ""
        if best is None:
            continue
        if len(values[_starred(path, best)]) > 1:
            shape.tail = next((key for key in reversed(_starred(path, best)) if key != "*"), "")
        else:
            best = own[-1]
            if any(votes(key)[0] for key in path[best + 1 :]):
                continue  # it wraps rooms
        shape.own_key, shape.own_place = path[best], best - len(path)
        shape.pattern = _starred(path, best)
    values = _variants({shape.pattern for shape in shapes})
    for shape in shapes:
        pattern = shape.pattern
        for at, key in enumerate(pattern):
            starred = _starred(pattern, at, "**")
            if key != "*" and len(values.get(_starred(pattern, at), ())) > 1:
                shape.pattern, shape.wrapper = starred, key
                break
    own_keys: defaultdict[tuple[str, ...], set[str | None]] = defaultdict(set)
    for shape in shapes:
        own_keys[shape.pattern].add(shape.own_key)
    for shape in shapes:
        shape.sure = shape.own_key is not None and len(own_keys[shape.pattern]) > 1


def _starred(path: tuple[str, ...], at: int, star: str = "*") -> tuple[str, ...]:
    return (*path[:at], star, *path[at + 1 :])


def _variants(paths: Iterable[tuple[str, ...]]) -> defaultdict[tuple[str, ...], set[str]]:
    """Which words come at each place of otherwise equal paths, those that name nothing left out."""
    values: defaultdict[tuple[str, ...], set[str]] = defaultdict(set)
    for path in set(paths):
        for at, key in enumerate(path):
            if key != "*" and not is_plumbing(key):
                values[_starred(path, at)].add(key)
    return values


def _votes(pattern: Sequence[str]) -> tuple[int, int, int, int]:
    """Words for a room and for an outline anywhere in a path, for other things near its end.

    What stands above a word for rooms only wraps them.
    """
    rooms = [at for at, key in enumerate(pattern) if votes(key)[0]]
    near = pattern[rooms[-1] :] if rooms else pattern[-3:]
    if tuple(near[-2:]) == ("path", "d"):
        near = near[:-2]  # a shape of a drawing
    room, outline = (sum(votes(key)[i] for key in pattern) for i in (0, 1))
    other, way = (sum(votes(key)[i] for key in near) for i in (2, 3))
    return room, outline, other, way


def _score(family: Sequence[Shape], *, named: bool, crossing: int) -> float:
    room, outline, other, way = _votes(family[0].pattern)
    score = 4.0 * min(room, 2) + 2.0 * min(outline, 2) - 6.0 * min(other, 2) - 6.0 * min(way, 2)
    score += 3.0 * named - 6.0 * crossing / (crossing + len(family))
    return score + min(float(np.log2(len({shape.name for shape in family}))), 4.0)


def _votes_beside(shape: Shape) -> tuple[int, int]:
    """What stands beside an outline that speaks against a room: for other things, for a way."""
    other = int(shape.own_key is not None and bool(_FORBIDDEN.search(shape.own_key)))
    way = 0
    for clue in shape.found.clues:
        if clue.outside:
            continue
        kind = words_of(clue.key)[-1:]
        if (kind and kind[0] in _KINDS) or (clue.key == "" and clue.bare and is_aside(clue.text)):
            other += votes(clue.text)[2]
            way += votes(clue.text)[3]
        elif clue.text.lower() in ("true", "1", "yes"):
            other += votes(clue.key)[2]
        elif name_rank(clue.key) is not None:
            other += bool(_FORBIDDEN.search(clue.text))
    return other, way


def _called_rooms(shapes: Sequence[Shape]) -> Sequence[Shape]:
    """Where some are said to be rooms ("kind": "room"), leave out what is said to be otherwise."""
    said: list[dict[str, str]] = []
    for shape in shapes:
        clues = [c for c in shape.found.clues if not c.outside and words_of(c.key)[-1:]]
        said.append({c.key: c.text for c in clues if words_of(c.key)[-1] in _KINDS})
    keys = {key for kinds in said for key, text in kinds.items() if is_room_word(text)}
    return [
        shape
        for shape, kinds in zip(shapes, said, strict=True)
        if all(votes(kinds[key])[0] for key in keys & set(kinds))
    ]


@dataclass(frozen=True, eq=False)
class Choice:
    """The rooms in their newest shapes, and all shapes of rooms that the text holds."""

    rooms: Sequence[Shape] = ()
    versions: Sequence[Shape] = ()


def choose(shapes: Sequence[Shape], tables: Names, *, every: bool = False) -> Choice:
    """Return the newest shape of each room, in the order in which rooms first come.

    `every`: also what seems to be no room, for it was asked for.
    """
    whole = [s for s in shapes if not s.found.cut and s.polygon is not None]
    if not every:
        against = {id(shape): _votes_beside(shape) for shape in whole}
        whole = [s for s in whole if not against[id(s)][1] and not _votes(s.pattern)[3]]
    free = [shape for shape in whole if every or not against[id(shape)][0]]
    crossing = Counter(s.pattern for s in shapes if s.polygon is None)
    families: defaultdict[tuple[str, ...], list[Shape]] = defaultdict(list)
    for shape in _called_rooms(free) or whole:
        families[shape.pattern].append(shape)
    if not families:
        return Choice()
    scores = {}
    for pattern, family in families.items():
        named = name_all(family, tables)
        scores[pattern] = _score(family, named=named, crossing=crossing[pattern])
    best = max(scores, key=lambda pattern: scores[pattern])
    chosen = list(families[best])
    for pattern, family in families.items():
        if pattern != best and scores[pattern] > 0 and _belongs(family, families[best]):
            chosen += family
    chosen.sort(key=lambda shape: shape.order)
    return Choice(_newest(chosen), chosen)


def name_rest(shapes: Sequence[Shape], tables: Names) -> None:
    """Name what was not among the choice, for whoever looks at it."""
    families: defaultdict[tuple[str, ...], list[Shape]] = defaultdict(list)
    for shape in shapes:
        if not shape.name:
            families[shape.pattern].append(shape)
    for family in families.values():
        name_all(family, tables)


def _belongs(family: Sequence[Shape], rooms: Sequence[Shape]) -> bool:
    """Whether outlines under other keys are of the same rooms at another time, or more rooms."""
    same_tail = family[0].tail == rooms[0].tail
    known: dict[str, Shape] = {shape.name: shape for shape in rooms}
    again = [shape for shape in family if shape.name in known]
    if again:
        matching = sum(shape.matches(known[shape.name]) for shape in again)
        apart = not {s.found.record for s in family} & {s.found.record for s in rooms}
        return 2 * matching >= len(again) and (same_tail or apart)
    speaks_of_rooms = any(votes(key)[0] for key in family[0].found.path)
    return (
        speaks_of_rooms
        and same_tail
        and not any(s.overlaps(r.polygon) for s in family for r in rooms)
    )


# --- versions ----------------------------------------------------------------------------------


def _newest(shapes: Sequence[Shape]) -> list[Shape]:
    current: dict[str, Shape] = {}
    count: Counter[tuple[str, tuple[int, int]]] = Counter()
    for shape in shapes:
        name = shape.name
        if name in current and _both_stay(current[name], shape):
            # A second bedroom of the same list; it is told apart by number.
            count[name, shape.found.moment] += 1
            name = f"{name} {count[name, shape.found.moment] + 1}"
        shape.name = name
        current[name] = shape
    rooms = list(current.values())
    old = _out_of_date(rooms)
    return [room for at, room in enumerate(rooms) if at not in old]


def _both_stay(one: Shape, other: Shape) -> bool:
    """Two rooms of one name in one list are two rooms, unless they share their ground."""
    if one.found.moment != other.found.moment:
        return False
    return not one.overlaps(other.polygon)


def _out_of_date(rooms: Sequence[Shape]) -> set[int]:
    """The places of rooms on whose ground newer ones of other lists lie."""
    polygons = np.array([room.polygon for room in rooms], dtype=object)
    tree = shapely.STRtree(polygons)
    old = set()
    for at, room in enumerate(rooms):
        newer = [
            polygons[other]
            for other in tree.query(polygons[at])
            if rooms[other].order > room.order and rooms[other].found.moment != room.found.moment
        ]
        if newer:
            covered = polygons[at].intersection(shapely.union_all(newer)).area
            if covered > SAME_GROUND * polygons[at].area:
                old.add(at)
    return old
