"""All point sequences of a text -> the rooms among them, named, each in its newest shape."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from regmap.inputs.captures.endings import mark_unended
from regmap.inputs.captures.families import mark_patterns
from regmap.inputs.captures.find import Found, Names
from regmap.inputs.captures.floors import head_floors
from regmap.inputs.captures.ground import are_heap, out_of_place, standing
from regmap.inputs.captures.names import name_all
from regmap.inputs.captures.numerals import Points, squareness
from regmap.inputs.captures.order import by_time
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.speakers import tell_speakers
from regmap.inputs.captures.turned import x_first
from regmap.inputs.captures.units import in_one_unit
from regmap.inputs.captures.versions import changes, newest
from regmap.inputs.captures.ways import beside_rooms, part_lines, without_lines
from regmap.inputs.captures.words import (
    id_rank,
    is_aside,
    is_drawn,
    is_kind,
    is_not_held,
    is_opening,
    is_place_word,
    is_relative,
    is_room_word,
    name_rank,
    votes,
)
from regmap.inputs.repair import repair

__all__ = ["Choice", "choose", "name_rest", "shapes_of"]

KEPT_SHARE = 0.95
"""A self-crossing outline is repaired only if this share of its area stays in one piece."""

MAX_POINTS = 20_000
"""A longer sequence is no outline."""

FLAT = 1e-9
"""An outline whose area is below this share of its extent squared is a line."""

_GROUND = 6.0
"""What lying on rooms counts against an outline, in the score where a word for a room counts 4."""

_FORBIDDEN = re.compile(
    r"no[\W_]*(go|entry|mop)|keep[\W_]*out|forbidden|restricted|virtual[\W_]*wall|sperr|verboten",
    re.IGNORECASE,
)

_LOOKED_AT = 100
"""Of more outlines than this the last are compared with the rooms."""

_STROKES = frozenset(("path", "paths", "line", "lines"))
"""What drawings call whatever a pen draws."""

_YES = frozenset(("true", "1", "yes"))
_NO = frozenset(("false", "no", "off", "none", "null", "nil", "0"))


def shapes_of(found: Iterable[Found], text: str) -> list[Shape]:
    """Return the sequences of a text as areas, families marked by their patterns."""
    found = list(found)
    x_first(found, text)
    in_one_unit(found)
    shapes = [Shape(one, _polygon(one), order) for order, one in enumerate(found)]
    mark_patterns(shapes)
    part_lines(shapes)
    head_floors(shapes)
    tell_speakers(shapes, text)
    mark_unended(shapes, text)
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
    if found.uneven or not 3 <= len(ring) <= MAX_POINTS or not np.isfinite(ring).all():
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


def _votes(shape: Shape) -> tuple[int, int, int, int]:
    """Words for a room and for an outline anywhere in a path, for other things near its end.

    What stands above a word for rooms only wraps them.
    """
    pattern = shape.pattern
    rooms = [at for at, key in enumerate(pattern) if votes(key)[0]]
    near = pattern[rooms[-1] :] if rooms else pattern[-3:]
    drawn = near[:-1] if near and near[-1] == "d" else near
    outlined = shape.found.closed or _speaks_of_outlines(pattern)
    if drawn and drawn[-1] in _STROKES and outlined:
        near = drawn[:-1]  # a shape of a drawing
    room, outline = (sum(votes(key)[i] for key in pattern) for i in (0, 1))
    other, way = (sum(votes(key)[i] for key in near) for i in (2, 3))
    return room, outline, other, way


def _is_chance(room: Shape) -> bool:
    """Whether a lone area is one only because any few numbers enclose something.

    No word speaks of rooms or outlines, and no corner is a right angle.
    """
    spoken = any(votes(key)[0] or votes(key)[1] for key in room.found.path)
    return not spoken and squareness(room.found.points) == 0


def _speaks_of_outlines(pattern: Sequence[str]) -> bool:
    return pattern[-1:] == ("d",) or any(votes(key)[0] or votes(key)[1] for key in pattern)


def _score(family: Sequence[Shape], *, named: bool, crossing: int) -> float:
    room, outline, other, way = _votes(family[0])
    score = 4.0 * min(room, 2) + 2.0 * min(outline, 2) - 6.0 * min(other, 2) - 6.0 * min(way, 2)
    score += 3.0 * named - 6.0 * crossing / (crossing + len(family))
    # The same rooms in the robot's unit and as drawn: the former, which has the larger numbers.
    areas = [shape.polygon.area for shape in family if shape.polygon is not None]
    score -= 3.0 * any(is_drawn(key) for key in family[0].found.path)
    score += 0.02 * float(np.clip(np.log10(max(areas)), -20.0, 20.0))
    return score + min(float(np.log2(len({shape.name for shape in family}))), 4.0)


def _answered(shapes: Iterable[Shape]) -> frozenset[str]:
    """The keys that say yes or no of outlines and nothing else, as no number of a zone does."""
    texts: defaultdict[str, set[str]] = defaultdict(set)
    for shape in shapes:
        for clue in shape.found.clues:
            texts[clue.key].add(clue.text.lower())
    return frozenset(key for key, said in texts.items() if key and said <= _YES | _NO)


def _votes_beside(shape: Shape, answered: Collection[str], *, bare: bool = True) -> tuple[int, int]:
    """What stands beside an outline that speaks against a room: for other things, for a way.

    `answered`: keys that say yes or no; `bare`: also where it may be a name.
    """
    other = int(shape.own_key is not None and bool(_FORBIDDEN.search(shape.own_key)))
    way = 0
    kinds: set[str] = set()
    for clue in shape.found.clues:
        if clue.outside or (shape.found.closed and clue.text in _STROKES):
            continue
        if is_kind(clue.key):
            if clue.key in kinds:
                continue  # of something beside it
            kinds.add(clue.key)
        loose = (bare and clue.bare) or (clue.tag and clue.place < -1)  # [scan] raw 5 6 7 8
        aside = clue.key == "" and loose and not any(c.isdigit() for c in clue.text)
        aside = aside and (clue.place < 0 or (clue.far == 0 and not is_opening(clue.text)))
        aside = aside and is_aside(clue.text)
        if aside or is_kind(clue.key):
            other += votes(clue.text)[2]
            way += votes(clue.text)[3]
        elif clue.key in answered and clue.text.lower() in _YES and id_rank(clue.key) is None:
            other += votes(clue.key)[2]
        elif name_rank(clue.key) is not None:
            other += bool(_FORBIDDEN.search(clue.text))
        elif clue.bare and clue.text.lower() not in _NO and _FORBIDDEN.fullmatch(clue.key):
            other += 1  # nogo: zone 1
    return other, way


def _named_way(shape: Shape) -> bool:
    """Whether what speaks of a way or a place beside an outline speaks of a way: path, no dock."""
    return not all(is_place_word(clue.text) for clue in shape.found.clues if not clue.outside)


def _beside_rooms(
    shapes: Sequence[Shape], rooms: Sequence[Shape], answered: Collection[str]
) -> list[Shape]:
    """What is called by a word for a place or a way, but lies beside the others like a room."""
    called = [
        s
        for s in shapes
        if _votes_beside(s, answered)[1] and not _votes_beside(s, answered, bare=False)[1]
    ]
    return beside_rooms(called, rooms, _named_way)


def _called_rooms(shapes: Sequence[Shape]) -> Sequence[Shape]:
    """Where some are said to be rooms ("kind": "room"), leave out what is said to be otherwise."""
    said: list[dict[str, str]] = []
    for shape in shapes:
        clues = [clue for clue in shape.found.clues if not clue.outside]
        said.append({clue.key: clue.text for clue in clues if is_kind(clue.key)})
    keys = {key for kinds in said for key, text in kinds.items() if is_room_word(text)}
    return [
        shape
        for shape, kinds in zip(shapes, said, strict=True)
        if all(votes(kinds[key])[0] for key in keys & set(kinds))
    ]


@dataclass(frozen=True, eq=False)
class Choice:
    """The rooms in their newest shapes, and all shapes of rooms that the text holds.

    `heap`: most of these lie on each other, so that they are no floor as they stand.
    """

    rooms: Sequence[Shape] = ()
    versions: Sequence[Shape] = ()
    heap: bool = False


def choose(shapes: Sequence[Shape], tables: Names, *, every: bool = False) -> Choice:
    """Return the newest shape of each room, in the order in which rooms first come.

    `every`: also what seems to be no room, for it was asked for.
    """
    whole = [s for s in shapes if not s.found.cut and s.polygon is not None]
    if not every:
        whole = [s for s in whole if not s.unended]
        answered = _answered(whole)
        against = {id(shape): _votes_beside(shape, answered) for shape in whole}
        beside = _beside_rooms(whole, [s for s in whole if not any(against[id(s)])], answered)
        against |= {id(shape): (against[id(shape)][0], 0) for shape in beside}
        whole = [s for s in whole if not against[id(s)][1] and not _votes(s)[3]]
        whole = [s for s in whole if not s.found.posed and not is_relative(s.tail)]
        whole = [s for s in whole if not any(map(is_not_held, s.found.path))] or whole
        whole = without_lines(whole, lambda shape: not any(against[id(shape)]))
    free = [shape for shape in whole if every or not against[id(shape)][0]]
    crossing = Counter(s.pattern for s in shapes if s.polygon is None)
    families: defaultdict[tuple[str, ...], list[Shape]] = defaultdict(list)
    for shape in _called_rooms(free) or whole:
        families[shape.pattern].append(shape)
    if not families:
        return Choice()
    scores = {}
    named = {pattern: name_all(family, tables) for pattern, family in families.items()}
    ground = standing(families)
    for pattern, family in families.items():
        scores[pattern] = _score(family, named=named[pattern], crossing=crossing[pattern])
        scores[pattern] += _GROUND * ground[pattern]
    best = max(scores, key=lambda pattern: scores[pattern])
    chosen = list(families[best])
    for pattern, family in families.items():
        if pattern != best and scores[pattern] > 0 and _belongs(family, families[best]):
            chosen += family
    chosen.sort(key=lambda shape: shape.order)
    if not every:
        kept = {id(shape) for shape in chosen}
        chosen += changes([shape for shape in free if id(shape) not in kept], chosen)
        chosen.sort(key=lambda shape: shape.order)
    rooms = newest(by_time(chosen))
    if not every:
        out = out_of_place(rooms)
        if are_heap(rooms, out) or _are_told_apart(chosen, rooms):
            return Choice((), chosen, heap=True)
        rooms = [room for at, room in enumerate(rooms) if at not in out]
        if len(rooms) == 1 and _is_chance(rooms[0]):
            return Choice()
    return Choice(rooms, chosen)


def _are_told_apart(chosen: Sequence[Shape], rooms: Sequence[Shape]) -> bool:
    """Whether most rooms that were told one by one lie under newer ones of other names, or some do
    and all have one first corner.

    Then each is told from a place of its own, and none is newer than another.
    """
    told = Counter(shape.found.moment for shape in chosen)
    newest_of = {shape.name: shape for shape in chosen if told[shape.found.moment] == 1}
    left = {id(room) for room in rooms}
    lost = sum(id(shape) not in left for shape in newest_of.values())
    if not lost or len(newest_of) < 3:
        return False
    # One room under ever new names stays where it is.
    first = {tuple(shape.found.points[0]) for shape in newest_of.values()}
    several = list(newest_of.values())[-_LOOKED_AT:]
    other = sum(not any(map(shape.matches, rooms)) for shape in several)
    if len(first) == 1:
        return not all(map(several[-1].matches, several))
    return min(lost, other) > len(rooms)


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
