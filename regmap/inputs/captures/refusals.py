"""What a text itself says against its outlines: that some is missing, or that they are elsewhere.

What is said here is said of outlines that were chosen for the rooms, so that it can be refused; who
asks for them by `key=` takes them as they are.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import TypeAlias

import numpy as np

from regmap.inputs.captures.gone import said_gone, said_of_corners
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.turned import are_bare_pairs, said_y_first
from regmap.inputs.captures.units import units_of
from regmap.inputs.captures.words import ROOM, is_kind, votes, words_of

__all__ = ["against"]


def _listed(words: str) -> frozenset[str]:
    return frozenset(words.split())


_KEPT_OUT_OF = _listed(
    """
    forbidden restricted restriction restrictions nogo noentry keepout keepaway exclude excluded
    exclusion exclusions ban banned blocked barrier barriers fence fences sperrzone sperrzonen
    sperrbereich verboten gesperrt verbot verbotszone verbotszonen interdit interdite prohibited
    offlimits lockout stayout taboo tabu sperrfläche
    """
)
_CORNERS = _listed(
    "corner corners point points pts vertex vertices verts node nodes coords ecken punkte"
)
_COUNTING = _listed("n no num number count counts total len length size anzahl nombre")
_COUNTS = _listed("n count num")
_RELATIVE = re.compile(
    r"(?i)\b(?:relative|related|measured|counted|with respect)\s+(?:to|from)\s+"
    r"(?:the\s+|this\s+|its\s+|their\s+)?(?:\w+\s+)?(?:origin|anchor|offset)\b"
)
_CELL = re.compile(
    r"(?i)(?<![a-z])(?:(mm|cm|m|met(?:er|re)s?)[_ ]?per[_ ]?cell|resolution|(?:grid|cell|raster)"
    r"[_ ]?(?:size|step|spacing|resolution|width))(?![a-z])[^\d\n-]{0,12}?"
    r"(\d{1,6}(?:\.\d{1,9})?)(?![.\d])"
    r"(?:[ ]?(mm|cm|m)\b)?"
)
_PAGE = (("page",), ("page", "number"), ("page", "no"), ("current", "page"))
_PAGES = (("pages",), ("page", "count"), ("total", "pages"), ("last", "page"))
_TELLS_CODING = _listed(
    "encoding encoded coding format layout convention coordinates coords points"
)
_BY_STEPS = _listed("delta deltas incremental increments differential differences relative")
_SMALL, _LARGE = 1500.0, 200_000.0
"""No floor is smaller, and hardly one larger, in mm."""

_FEW = 3
_CROSSED = 4
"""If one outline in so many crosses itself, that is how they are told, and no mishap of one."""

Reason: TypeAlias = tuple[str, str]
"""What is the matter, and what helps."""


def against(rooms: Sequence[Shape], shapes: Sequence[Shape], text: str) -> str:
    """Return what the text says against its rooms, with what helps; "" if nothing.

    `shapes`: everything that may be an outline; `text`: all of it.
    """
    for reason in _reasons(rooms, shapes, text):
        if reason is not None:
            what, how = reason
            return f"{what}; {how}, or choose outlines with key= to take them as they are"
    return ""


def _reasons(rooms: Sequence[Shape], shapes: Sequence[Shape], text: str) -> Iterator[Reason | None]:
    if rooms:
        yield _kept_out_of(rooms)
        yield _drawn(rooms, text)
        yield _apart(rooms)
        yield _of_many_units(rooms)
    yield _uneven(rooms, shapes)
    if rooms:
        yield _crossed(rooms, shapes)
        yield _short_of_corners(rooms)
        yield _short_of_rooms(rooms, shapes)
        yield _turned(rooms, text)
        yield _removed(rooms, text)


def _kept_out_of(rooms: Sequence[Shape]) -> Reason | None:
    """All there is are areas to keep out of."""
    said = [next(_barring(room), None) for room in rooms]
    if None in said:
        return None
    return (
        f"the only outlines are of areas to keep out of ({said[0]})",
        "give a text that holds rooms",
    )


def _barring(room: Shape) -> Iterator[str]:
    """What says of an outline that it is to be kept out of: a key to it, or words before it."""
    path = room.found.path
    spoken = [at for at, key in enumerate(path) if votes(key)[0]]
    yield from filter(_bars, path[spoken[-1] if spoken else 0 :])
    if not spoken:
        bare = (c.text for c in room.found.clues if c.key == "" and c.place < 0)
        yield from filter(_bars, bare)


def _bars(text: str) -> bool:
    words = words_of(text)
    pairs = list(itertools.pairwise(words))
    # No entry, no crossing: no whatever.
    refused = any(first == "no" and second.isalpha() for first, second in pairs)
    virtual = "virtual" in words and not {"wall", "walls"}.isdisjoint(words)
    joined = (first + second for first, second in pairs)
    return refused or virtual or not _KEPT_OUT_OF.isdisjoint((*words, *joined, "".join(words)))


def _drawn(rooms: Sequence[Shape], text: str) -> Reason | None:
    """All outlines are said to be in pixels, or in cells of a grid."""
    if all("px" in units_of(room.found) for room in rooms):
        return "the outlines are said to be in pixels of a picture", "give such as the robot has"
    ends = [words_of(room.tail)[-2:] for room in rooms]
    whole = all((room.found.points % 1 == 0).all() for room in rooms)
    keyed = whole and all(e[1:] == ("cells",) and votes(e[0])[1] for e in ends)
    if keyed or all("cells" in units_of(room.found) for room in rooms):
        said = rooms[0].tail if keyed else "rows and columns"
    elif (
        not whole or any(units_of(room.found) for room in rooms) or not (said := _grid(rooms, text))
    ):
        return None
    return (
        f"the outlines are said to be in cells of a grid ({said})",
        "give them in the robot's own frame and unit",
    )


def _grid(rooms: Sequence[Shape], text: str) -> str:
    """What tells a size of cells in which rooms that are far too small would be a floor, or ""."""
    points = np.concatenate([room.found.points for room in rooms])
    across = float(np.ptp(points, axis=0).max())
    for found in _CELL.finditer(text) if across < _SMALL else ():
        size = float(found[2])
        size *= {"mm": 1.0, "cm": 10.0, "m": 1000.0}.get(
            found[3] or found[1], 1.0 if size >= 1.0 else 1000.0
        )
        if _SMALL < across * size < _LARGE:
            return " ".join(found[0].split())
    return ""


def _apart(rooms: Sequence[Shape]) -> Reason | None:
    """The outlines are said to be told from a place of their own, or moved where they stand."""
    for clue in rooms[0].found.clues:
        if _RELATIVE.search(clue.text):
            return (
                f"the outlines are said to be told from an origin of their own ({clue.text!r})",
                "add it first",
            )
        coded = not _TELLS_CODING.isdisjoint(words_of(clue.key)[-1:])
        if coded and not _BY_STEPS.isdisjoint(words_of(clue.text)):
            return (
                f"the outlines are said to be told step by step ({clue.key}: {clue.text})",
                "give places in one frame",
            )
        if clue.key == "transform" and any(map(str.isdigit, clue.text)):
            return f"the outlines stand under a transform ({clue.text})", "apply it first"
    return None


def _of_many_units(rooms: Sequence[Shape]) -> Reason | None:
    """Two units are said of one outline, or others of others."""
    several = [(room, units_of(room.found)) for room in rooms]
    every = set().union(*(units for _, units in several))
    if len(every) < 2:
        return None
    for room, units in several:
        if len(units) > 1:
            return (
                f"{room.name!r} is said to be in {' and in '.join(sorted(units))}",
                "take away what is wrong",
            )
    told = ", ".join(f"{room.name!r} in {min(units)}" for room, units in several[:4] if units)
    return f"the outlines are in several units ({told})", "give all in one"


def _uneven(rooms: Sequence[Shape], shapes: Sequence[Shape]) -> Reason | None:
    """A list of all x beside one of all y has more numbers than that, or fewer."""
    kinds = {room.pattern for room in rooms}
    for shape in shapes:
        if shape.found.uneven and (shape.pattern in kinds or not rooms):
            x, y = shape.found.uneven
            return f"{shape.name!r} has {x} values of x and {y} of y", "give as many of both"
    return None


def _crossed(rooms: Sequence[Shape], shapes: Sequence[Shape]) -> Reason | None:
    """Many outlines of the rooms' kind cross themselves: those that do not were read wrong, too."""
    kinds = {room.pattern for room in rooms}
    known = {room.name for room in rooms}
    said = set().union(*map(_kinds, rooms))
    crossed = (s for s in shapes if s.polygon is None and not s.found.cut and s.pattern in kinds)
    lost = [
        n for n in dict.fromkeys(s.name for s in crossed if _kinds(s) <= said) if n not in known
    ]
    if not lost or _CROSSED * len(lost) < len(lost) + len(rooms):
        return None
    return (
        f"{len(lost)} of {len(lost) + len(rooms)} outlines, {lost[0]!r} among them, enclose "
        "nothing or cross themselves, so that the others may be read wrong as well",
        "give the corners of each in turn, as pairs of x and y",
    )


def _kinds(shape: Shape) -> set[tuple[str, str]]:
    """What an outline is said to be, by the key that says so."""
    clues = (clue for clue in shape.found.clues if is_kind(clue.key) and not clue.outside)
    return {(clue.key, clue.text) for clue in clues}


def _turned(rooms: Sequence[Shape], text: str) -> Reason | None:
    """The text says that y comes before x, and has pairs without names."""
    said = said_y_first(text)
    told = said and any(not r.found.turned and are_bare_pairs(r.found, text) for r in rooms[:_FEW])
    return (f"y is said to come before x ({said})", "give x first") if told else None


def _removed(rooms: Sequence[Shape], text: str) -> Reason | None:
    """The text says below a room's outline that the room is gone, or a corner of it elsewhere."""
    if told := said_gone(rooms, text):
        name, said = told
        return f"{name!r} is said to be gone ({said})", "take its outline out of the text"
    if corner := said_of_corners(rooms, text):
        return f"corners of an outline are said to have changed ({corner})", "change them first"
    return None


def _short_of_corners(rooms: Sequence[Shape]) -> Reason | None:
    """Fewer corners are there than the text says."""
    sources = Counter(c.source for room in rooms for c in room.found.clues)
    told = [dict(_told_corners(room, sources)) for room in rooms]
    for key in told[0]:
        known = [counts.get(key, 0) for counts in told]
        here = [len(room.found.points) for room in rooms]
        short = [n - m for n, m in zip(known, here, strict=True)]
        if not any(s > 1 for s in short) or any(s < -1 for s in short):
            continue
        # A number that is not called one of corners must follow their number to be one.
        sure = bool(_CORNERS & set(words_of(key)))
        follows = 0 in short or (len({*short}) == 1 and len({*here}) > 1)
        if sure or (len(rooms) > 1 and (follows or len({*known}) == 1)):
            at = max(range(len(short)), key=lambda i: short[i])
            lost = sum(s > 1 for s in short)
            return (
                f"corners are missing of {lost} of {len(rooms)} outlines: of {rooms[at].name!r} "
                f"the text says {key}={known[at]} and lists {here[at]}",
                "give a text that was not cut",
            )
    return None


def _told_corners(room: Shape, sources: Mapping[int, int]) -> Iterator[tuple[str, int]]:
    """Numbers said of one outline alone that may be that of its corners, by their keys."""
    for clue in room.found.clues:
        words = set(words_of(clue.key))
        named = words & _CORNERS and (words & _COUNTING or words <= _CORNERS)
        own = not clue.outside and sources[clue.source] == 1
        number = own and clue.text.isdigit() and len(clue.text) < 6
        if number and (named or clue.key.casefold() in _COUNTS):
            yield clue.key, int(clue.text)


def _short_of_rooms(rooms: Sequence[Shape], shapes: Sequence[Shape]) -> Reason | None:
    """Fewer rooms are there than the text says beside them, or than its pages hold."""
    for room in rooms:
        if room.found.fewer:
            return (
                f"rooms are missing: in their place the text has {room.found.fewer!r}",
                "give a text that was not shortened",
            )
    if (pages := _pages(rooms)) and len(pages[0]) < pages[1]:
        return (
            f"rooms are missing: of {pages[1]} pages the text has {', '.join(sorted(pages[0]))}",
            "give a text with all pages",
        )
    lists: dict[tuple[int, int], int] = {}
    for shape in shapes:
        whole = shape.polygon is not None and not shape.found.cut
        lists[shape.found.moment] = lists.get(shape.found.moment, 0) + whole
    for room in rooms:
        for clue in room.found.clues:
            words = set(words_of(clue.key))
            known = int(clue.text) if clue.text.isdigit() and len(clue.text) < 6 else 0
            named = words & ROOM and words & _COUNTING and words <= ROOM | _COUNTING
            if named and clue.outside and known > max(len(rooms), lists[room.found.moment]):
                return (
                    f"rooms are missing: the text says {clue.key}={known}, and outlines of "
                    f"{len(rooms)} are there",
                    "give a text that was not cut",
                )
    return None


def _pages(rooms: Sequence[Shape]) -> tuple[set[str], int] | None:
    """Which pages of a long list the rooms come from, and how many it has; None if nothing says."""
    clues = [c for room in rooms for c in room.found.clues if c.text.isdigit()]
    here = {c.text for c in clues if words_of(c.key) in _PAGE}
    known = [int(c.text) for c in clues if words_of(c.key) in _PAGES]
    return (here, max(known)) if here and known else None
