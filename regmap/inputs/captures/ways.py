"""Which outlines are ways and no areas: by what they are said to be, and by how they run.

Well-known text and GeoJSON tell a line from an area by its type (OGC 06-103r4, section 6.1.7; RFC
7946, section 3.1.4). Where that is not told, a word for a way beside an outline may still be what a
person calls a room (Dock), or what stands there in the place of a name (path ring=...).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import shapely

from regmap.inputs.captures.ground import lies_beside
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.words import is_kind, name_rank, words_of

__all__ = ["beside_rooms", "part_lines", "without_lines"]

_LINES = frozenset(("linestring", "multilinestring"))
_AREAS = frozenset(("polygon", "multipolygon", "curvepolygon", "multisurface"))
_DIMENSIONS = frozenset(("z", "m", "zm"))

_THIN = 0.25
"""What is so narrow beside the narrowest room, and is called a way, is one."""


def part_lines(shapes: Sequence[Shape]) -> None:
    """Make a family of its own of what is typed a line, if areas are typed too."""
    types = [_type(shape) for shape in shapes]
    for shape, told in zip(shapes, types if not _AREAS.isdisjoint(types) else (), strict=False):
        if told in _LINES:
            shape.pattern = (*shape.pattern, told)


def without_lines(shapes: Sequence[Shape], answered: Callable[[Shape], bool]) -> list[Shape]:
    """Return what is not typed a line, if areas are typed too; `answered`: those that count.

    Who draws rooms as closed lines types none of them an area.
    """
    types = [_type(shape) for shape in shapes]
    areas = any(t in _AREAS and answered(s) for s, t in zip(shapes, types, strict=True))
    if not areas:
        return list(shapes)
    return [s for s, t in zip(shapes, types, strict=True) if t not in _LINES]


def beside_rooms(
    called: Sequence[Shape], rooms: Sequence[Shape], names_way: Callable[[Shape], bool]
) -> list[Shape]:
    """Which of the outlines called by a word for a place or a way are rooms all the same (Dock).

    They lie beside the others like a room, while a dock, a pose or a path lies on rooms. A word for
    a way (`names_way`: it is no place) is a name only where the rooms have theirs, and then the
    outline neither crosses itself nor is as thin as what is left between the legs of a way.
    """
    return [
        shape
        for shape in called
        if sum(room.pattern == shape.pattern for room in rooms) > 1
        and lies_beside(shape, rooms)
        and not (names_way(shape) and _runs_like_way(shape, rooms))
    ]


def _type(shape: Shape) -> str:
    """How an outline is typed, in well-known text or by a key for kinds; "" if it is not."""
    said = [shape.found.path[-1]] if shape.found.path else []
    clues = sorted((c for c in shape.found.clues if not c.outside), key=lambda clue: clue.far)
    said += [c.text for c in clues if (c.key == "" and c.place < 0) or is_kind(c.key)]
    for text in said:
        words = [word for word in words_of(text) if word not in _DIMENSIONS]
        whole = "".join(words).removesuffix("zm").removesuffix("z").removesuffix("m")
        if whole in _LINES | _AREAS:
            return whole
    return ""


def _runs_like_way(shape: Shape, rooms: Sequence[Shape]) -> bool:
    if _has_name(shape) < all(map(_has_name, rooms)):
        return True
    if not shapely.Polygon(shape.found.points).is_valid:
        return True
    return _width(shape) < _THIN * min(map(_width, rooms))


def _has_name(shape: Shape) -> bool:
    """Whether a key says that a name follows, beside the outline itself."""
    return any(not clue.outside and name_rank(clue.key) is not None for clue in shape.found.clues)


def _width(shape: Shape) -> float:
    """How wide an area is, were it a strip."""
    area = shape.polygon
    return 0.0 if area is None else float(2.0 * area.area / area.length)
