"""All point sequences of a text -> the rooms among them, named, each in its newest shape."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from regmap.inputs.capture_clues import Clue
from regmap.inputs.capture_numbers import Points
from regmap.inputs.capture_points import Found
from regmap.inputs.capture_words import id_rank, is_plumbing, name_rank, votes, words_of

__all__ = ["Shape", "choose", "shapes_of"]

KEPT_SHARE = 0.95
SAME_GROUND = 0.5
"""An older outline of which newer ones cover this share is out of date."""

_COLOUR = re.compile(r"#?[0-9A-Fa-f]{6,}|[0-9A-Fa-f-]{32,}|\W*")
_FORBIDDEN = re.compile(
    r"no[\W_]*(go|entry|mop)|keep[\W_]*out|forbidden|restricted|virtual[\W_]*wall|sperr|verboten",
    re.IGNORECASE,
)


@dataclass(slots=True)
class Shape:
    """A found sequence as an area.

    Attributes:
        polygon: None if the points enclose no area.
        pattern: the path with "*" where outlines of one family differ.
    """

    found: Found
    polygon: Polygon | None
    pattern: tuple[str, ...] = ()
    own_key: str | None = None
    name: str = ""
    chosen: bool = False
    score: float = 0.0
    order: int = 0


def shapes_of(found: Iterable[Found]) -> list[Shape]:
    """Return the sequences as areas, families marked by their patterns."""
    shapes = [Shape(one, _polygon(one), order=i) for i, one in enumerate(found)]
    shapes = [s for s in shapes if s.polygon is not None or len(s.found.points) >= 3]
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
    if len(ring) < 3 or not np.isfinite(ring).all():
        return None
    holes = [hole for hole in map(_ring, found.holes) if len(hole) >= 3]
    polygon = Polygon(ring, holes)
    if not polygon.is_valid:
        parts = [
            part
            for part in shapely.get_parts(shapely.get_parts(shapely.make_valid(polygon)))
            if isinstance(part, Polygon) and part.area > 0
        ]
        whole = sum(part.area for part in parts)
        if not parts:
            return None
        polygon = max(parts, key=lambda part: part.area)
        if polygon.area < KEPT_SHARE * whole:
            return None
    extent = float(np.ptp(ring, axis=0).max())
    return polygon if polygon.area > 1e-9 * extent**2 else None


# --- families ----------------------------------------------------------------------------------


def _mark_patterns(shapes: Sequence[Shape]) -> None:
    """Put "*" into each path where most others differ from it: there stands a name."""
    values: defaultdict[tuple[str, ...], set[str]] = defaultdict(set)
    for path in {shape.found.path for shape in shapes}:
        for at, key in enumerate(path):
            if not is_plumbing(key):
                values[(*path[:at], "*", *path[at + 1 :])].add(key)
    for shape in shapes:
        path = shape.found.path
        best, shape.pattern = 1, path
        for at, key in enumerate(path):
            if is_plumbing(key):
                continue
            pattern = (*path[:at], "*", *path[at + 1 :])
            if len(values[pattern]) > best:
                best, shape.pattern, shape.own_key = len(values[pattern]), pattern, key
        if best == 1:
            own = [at for at, key in enumerate(path) if not is_plumbing(key)]
            if own and any(votes(key)[0] for key in path[: own[-1]]):
                at = own[-1]
                shape.pattern, shape.own_key = (*path[:at], "*", *path[at + 1 :]), path[at]


def _score(family: Sequence[Shape]) -> float:
    pattern = family[0].pattern
    room, outline, other, way = (sum(votes(key)[i] for key in pattern) for i in range(4))
    sound = [shape for shape in family if shape.polygon is not None]
    if not sound:
        return -100.0
    named = sum(any(map(_is_name, s.found.clues)) for s in sound) / len(sound)
    score = 4.0 * min(room, 2) + 2.0 * min(outline, 2) - 6.0 * min(other, 2) - 6.0 * min(way, 2)
    score += 2.0 * named + 4.0 * (len(sound) / len(family) - 1.0)
    score += float(np.log2(1 + len({_identity(s) for s in sound})))
    if "*" in pattern:
        score += 1.0
    return score


def _identity(shape: Shape) -> object:
    name = next((c.text for c in shape.found.clues if _is_name(c)), None)
    return name or shape.own_key or shape.found.offset


def _is_name(clue: Clue) -> bool:
    return clue.outside == 0 and (clue.key == "" or name_rank(clue.key) is not None)


def _is_barred(shape: Shape) -> bool:
    """Whether something beside the outline says that it is a place to keep out of."""
    for clue in shape.found.clues:
        if clue.outside or clue.far > 3:
            continue
        words = votes(clue.key)
        if clue.key and words[2] and clue.text.lower() in ("true", "1", "yes"):
            return True
        if words_of(clue.key)[-1:] in (("type",), ("kind",), ("category",), ("class",)) and (
            votes(clue.text)[2] or votes(clue.text)[3]
        ):
            return True
        if _is_name(clue) and _FORBIDDEN.search(clue.text):
            return True
    return shape.own_key is not None and bool(_FORBIDDEN.search(shape.own_key))


def choose(shapes: Sequence[Shape]) -> list[Shape]:
    """Return the newest shape of each room, in the order in which rooms first come."""
    families: defaultdict[tuple[str, ...], list[Shape]] = defaultdict(list)
    for shape in shapes:
        if not shape.found.cut and not _is_barred(shape):
            families[shape.pattern].append(shape)
    if not families:
        return []
    for family in families.values():
        score = _score(family)
        for shape in family:
            shape.score = score
    best = max(families, key=lambda pattern: families[pattern][0].score)
    if families[best][0].score <= -50:
        return []
    chosen = [shape for shape in families[best] if shape.polygon is not None]
    _name(chosen)
    known = {shape.name for shape in chosen}
    for pattern, family in families.items():
        if pattern != best and family[0].score > 0 and _tail(pattern) == _tail(best):
            more = [shape for shape in family if shape.polygon is not None]
            _name(more)
            if known & {shape.name for shape in more}:
                chosen += more
    return _newest(sorted(chosen, key=lambda shape: shape.order))


def _tail(pattern: tuple[str, ...]) -> str:
    return next((key for key in reversed(pattern) if key != "*"), "")


# --- names -------------------------------------------------------------------------------------


def _name(family: Sequence[Shape]) -> None:
    shared: defaultdict[tuple[int, int], int] = defaultdict(int)
    for shape in family:
        for source in {clue.source for clue in shape.found.clues}:
            shared[source] += 1
    for number, shape in enumerate(family, 1):
        options = [
            (_rank(clue), clue.text.strip())
            for clue in shape.found.clues
            if shared[clue.source] == 1 or len(family) == 1 or clue.key == ""
        ]
        if shape.own_key is not None:
            options.append(((0, 150 if not shape.own_key.isdigit() else 450), shape.own_key))
        options = [(rank, text) for rank, text in options if rank is not None]
        shape.name = min(options)[1] if options else f"room {number}"


def _rank(clue: Clue) -> tuple[int, int] | None:
    """How good a clue is as a name; less is better, None is no name."""
    if _COLOUR.fullmatch(clue.text) or clue.text.lower() in ("true", "false", "null", "none"):
        return None
    rank = name_rank(clue.key)
    if rank is not None and not clue.number:
        return clue.outside, rank
    if clue.key == "":
        return clue.outside, 200
    if not clue.number and id_rank(clue.key) is None:
        return (clue.outside, 300) if not is_plumbing(clue.text) else None
    rank = id_rank(clue.key)
    if rank is not None:
        return clue.outside, 400 + rank
    return None


# --- versions ----------------------------------------------------------------------------------


def _newest(shapes: Sequence[Shape]) -> list[Shape]:
    current: dict[str, Shape] = {}
    for shape in shapes:
        name, number = shape.name, 2
        while name in current and _both_stay(current[name], shape):
            name, number = f"{shape.name} {number}", number + 1
        shape.name = name
        current[name] = shape
    return [shape for shape in current.values() if not _out_of_date(shape, current.values())]


def _both_stay(one: Shape, other: Shape) -> bool:
    """Two rooms of one name in one list are two rooms, unless they share their ground."""
    if one.found.moment != other.found.moment or one.polygon is None or other.polygon is None:
        return False
    common = one.polygon.intersection(other.polygon).area
    return bool(common < 0.1 * min(one.polygon.area, other.polygon.area))


def _out_of_date(shape: Shape, others: Iterable[Shape]) -> bool:
    assert shape.polygon is not None
    newer = [
        other.polygon
        for other in others
        if other.order > shape.order and other.found.moment != shape.found.moment
    ]
    if not newer:
        return False
    covered = shape.polygon.intersection(shapely.union_all(newer)).area
    return bool(covered > SAME_GROUND * shape.polygon.area)
