"""Which of the things beside outlines name them: asked of all outlines of a family together."""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely import Polygon

from regmap.inputs.captures.clues import Clue
from regmap.inputs.captures.find import Names
from regmap.inputs.captures.groups import Word
from regmap.inputs.captures.phrases import trimmed
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.words import (
    id_rank,
    is_count,
    is_measure,
    is_plumbing,
    is_way,
    name_rank,
    stem,
    votes,
)

__all__ = ["name_all"]

_NO_NAME = re.compile(
    r"(?i)[\W\d_]*[^\w.-][\W\d_]*|\d+|[\W_]*"  # no letters
    r"|#[0-9a-f]{3,8}|(?=[a-f]*\d)[0-9a-f]{6,}|[0-9a-f]{4,}(-[0-9a-f]{4,})+"  # colours, numbers
    r"|[-+]?\d[\d.,]*\s*(?:[mc]?m[2²]?|qm|sqm|px|%|s|ms|h)"  # measures
    r"|\d{4}-\d\d-\d\d.*|\d\d?:\d\d.*|\w+://.*"  # times, addresses
    r"|(?:unit )?(?:mm|cm|px|inch(?:es)?|(?:milli|centi)?met(?:er|re)s?|pixels?)"  # units
    r"|true|false|yes|no|on|off|ok|null|none|nan|polygon|polyline|feature"
    r"|trace|debug|info|notice|warn|warning|error|fatal"  # of loggers
)
_MEASURED = re.compile(r"[-+]?\d[\d.,]*\s*(?:m2|m²|qm|sqm|mm|cm|%)\Z")
_NULL = frozenset(("null", "none", "nil", "undefined", "nan", "~"))
_ALIKE = 0.67
"""A column names outlines if at least this share of its values within a list differ."""

_ALIKE_AT_ALL = 0.34
"""The same for outlines that were not listed together, but came one by one."""

_SAME_NAMES = 0.2
"""The same for what is called a name: two bedrooms are no rarity."""

_COUNTED = re.compile(r"(.*\S)\s*[(\[](\d{1,6})[)\]]")
_NUMBERS = (5, 6, 7, 8)
_DIGITS = re.compile(r"\d+")
_ENDING = re.compile(r"\d+\Z", re.ASCII)
"""The kinds of columns that hold numbers of rooms, the surest first."""

_COMMON = 100
"""A text that so many outlines apart from each other have is no name: no closer look is needed."""

_FAR = 50
"""What is on a line below counts as so much further away."""

_LAST = 99
"""Further outside than anything."""

Rank = tuple[int, ...]


@dataclass(slots=True)
class _Column:
    rank: Rank
    texts: dict[int, str]
    bare: bool
    sources: frozenset[int] = frozenset()


def name_all(family: Sequence[Shape], tables: Names) -> bool:
    """Give every shape of a family its name; return whether any was found in the text."""
    columns = sorted(_columns(family), key=lambda column: column.rank)
    named = False
    for number, shape in enumerate(family):
        own = [(column.rank, column.texts[number]) for column in columns if number in column.texts]
        if own:
            rank, shape.name = own[0]
            named = named or rank[1] < 5
        else:
            shape.name = f"room {number + 1}"
    named = _from_tables(family, columns, _said_before(family, columns), tables) or named
    _rename(family, columns, tables)
    return named


def _columns(family: Sequence[Shape]) -> list[_Column]:
    gathered: defaultdict[tuple[Rank, str], dict[int, Clue]] = defaultdict(dict)
    for number, shape in enumerate(family):
        for clue in shape.found.clues:
            rank = _rank(clue)
            if rank is not None:
                gathered[rank, clue.key].setdefault(number, clue)
    columns = [
        _Column(
            rank,
            {n: clue.text for n, clue in clues.items()},
            any(c.bare for c in clues.values()),
            frozenset(c.source for c in clues.values()),
        )
        for (rank, _), clues in gathered.items()
    ]
    for kind in (1, 4, 6):
        keys = {n: s.own_key for n, s in enumerate(family) if _key_kind(s) == kind}
        if keys:
            bare = all(isinstance(key, Word) for key in keys.values())
            columns.append(_Column((0, kind), {n: k for n, k in keys.items() if k}, bare))
    useful = [column for column in columns if _tells_apart(column, family)]
    _put_back(useful, family)
    for column in useful:
        kind = column.rank[1]
        if kind == 3 or (column.bare and kind in (1, 2, 4)):
            words = trimmed(list(column.texts.values()), logged=kind == 2)
            column.texts = dict(zip(column.texts, words, strict=True))
            column.texts = _without_counts(column.texts, family)
    return useful


def _without_counts(texts: dict[int, str], family: Sequence[Shape]) -> dict[int, str]:
    """Names without the count of corners behind them, if each has that of its own: hall (4)."""
    found = {number: _COUNTED.fullmatch(text) for number, text in texts.items()}
    told = {number: one for number, one in found.items() if one is not None}
    right = [
        abs(len(family[number].found.points) - int(one[2])) <= 1 for number, one in told.items()
    ]
    if len(told) < len(texts) or not all(right):
        return texts
    return {number: one[1] for number, one in told.items()}


def _put_back(useful: Sequence[_Column], family: Sequence[Shape]) -> None:
    """Rank columns further back that by themselves look better than they are."""
    complete = any(c.rank[:2] == (0, 3) and len(c.texts) == len(family) for c in useful)
    for column in useful:
        if complete and column.rank[1] == 2 and len(column.texts) < len(family):
            # Other lines say it of some; what all say of themselves goes before.
            column.rank = (column.rank[0], 3, column.rank[2] + _FAR, column.rank[3])
        if column.rank[1] == 0 and _are_marks([*column.texts.values()]):
            column.rank = (column.rank[0], _NUMBERS[0], *column.rank[2:])
    told = [c for c in useful if c.rank[:1] == (0,) and c.rank[1] < 5 and _worded(c)]
    if any(len(column.texts) == len(family) for column in told):
        for column in useful:
            if column.rank[1] in (2, 3) and column not in told:
                # `swept 3 times` beside `Hall`; of `room 3` there may be nothing better.
                column.rank = (column.rank[0], 4, *column.rank[2:])
    for column in useful:
        if _is_common(column, family):
            column.rank = (_LAST, *column.rank[1:])


def _worded(column: _Column) -> bool:
    """Whether texts differ in more than numbers, though of names some may be numbered; most of
    them must where they stand below, and may as well belong to what follows."""
    told = {_DIGITS.sub("", text) for text in column.texts.values()}
    below = column.rank[1] == 3 and column.rank[2] >= _FAR
    return len(told) > 1 and (2 if below else 3) * len(told) > len(set(column.texts.values()))


def _key_kind(shape: Shape) -> int | None:
    """How surely the key in an outline's path is its name: 1, 4 or, after any id, 6."""
    if shape.own_key is None:
        return None
    if _NO_NAME.fullmatch(shape.own_key):
        return 6
    if shape.sure:
        return 1 if shape.told else 4
    # The last key alone, with other values beside it, tells what the points are.
    near = any(clue.key and clue.far <= 1 and not clue.outside for clue in shape.found.clues)
    return 6 if shape.own_place == -1 and near else 4


def _rank(clue: Clue) -> Rank | None:
    """How good a name is: (outside, kind, ...), less is better; None if it is no name."""
    if clue.bare and clue.text.lower() in _NULL:
        return None
    place = abs(clue.place) * 2 + (clue.place > 0)
    name, number = name_rank(clue.key), id_rank(clue.key)
    if name is not None and any(c.isalpha() for c in clue.text) and not _MEASURED.match(clue.text):
        return clue.outside, 0, name, clue.far
    if number is not None:
        return clue.outside, 5, number, clue.far
    if clue.number:
        if name is not None:
            return clue.outside, 5, 100 + name, clue.far
        if clue.key == "":
            return clue.outside, 7, place + _FAR * clue.below, clue.far
        told = clue.text.isdigit() and not is_measure(clue.key)
        return (clue.outside, 8, clue.far, 0) if told else None
    if _NO_NAME.fullmatch(clue.text) or is_count(clue.text):
        return None
    if clue.bare and is_way(clue.text):
        return clue.outside, 8, clue.far, 1
    if clue.key == "" and not clue.below:
        return clue.outside, 2, clue.far, place
    return clue.outside, 3, clue.far + _FAR * clue.below, place


def _tells_apart(column: _Column, family: Sequence[Shape]) -> bool:
    """Whether outlines that were listed together mostly differ in this column."""
    outside, kind = column.rank[:2]
    if kind in (7, 8) and len(family) > 1 and _counts_corners(column, family):
        return False
    several = len(set(column.texts.values())) > 1
    moments = {family[number].found.moment for number in column.texts}
    if len(family) > 1 and not several and (outside or (kind and _spread(family))):
        return False
    if kind == 3 and column.rank[2] >= _FAR and len(column.texts) < len(family):
        return False  # what stands behind each but the last is the next one's
    if kind == 3 and all(is_plumbing(text) for text in column.texts.values()):
        return False
    if outside and not several:
        return False
    lists: defaultdict[tuple[int, int], defaultdict[str, list[Polygon]]]
    lists = defaultdict(lambda: defaultdict(list))
    alone = len(moments) == len(column.texts)  # a list each: then all are one list
    for number, text in column.texts.items():
        shape = family[number]
        together = lists[(0, 0) if alone else shape.found.moment][text]
        if shape.polygon is None:
            continue
        if len(together) > _COMMON or not any(map(shape.overlaps, together)):
            together.append(shape.polygon)
    told = sum(len(parts) for grounds in lists.values() for parts in grounds.values())
    if kind == 0 and 2 * len(column.sources) < told:
        return False  # of a floor each
    for grounds in lists.values():
        share = len(grounds) / max(sum(map(len, grounds.values())), 1)
        least = _ALIKE_AT_ALL if alone else _ALIKE
        if share < (least if kind else _SAME_NAMES):
            return False
    return True


def _counts_corners(column: _Column, family: Sequence[Shape]) -> bool:
    """Whether texts are the numbers of the outlines' own corners, the first again maybe."""
    if not all(map(str.isdigit, column.texts.values())):
        return False
    more = {int(text) - len(family[n].found.points) for n, text in column.texts.items()}
    return len(more) == 1 and more <= {-1, 0, 1}


def _are_marks(texts: Sequence[str]) -> bool:
    """Whether all names are one short word with numbers, and so are no people's names: p0, p1."""
    stems = {stem(text) for text in texts if " " not in text}
    alike = len(stems) == 1 and all(map(str.isalnum, texts))
    return len(texts) > 1 and alike and len(min(stems)) < 3 and min(stems).isalpha()


def _is_common(column: _Column, family: Sequence[Shape]) -> bool:
    """Whether one name is said of all outlines, though they lie apart: once, or with each message.

    It names them if nothing else does: the parts of one room.
    """
    moments = {family[number].found.moment for number in column.texts}
    once = len(column.sources) < len(column.texts) or len(moments) == len(column.texts)
    return once and len(family) > 1 and len(set(column.texts.values())) == 1 and _spread(family)


def _spread(family: Sequence[Shape]) -> bool:
    """Whether the outlines lie in different places, and so are not one room over and over."""
    polygons = [shape.polygon for shape in family if shape.polygon is not None]
    return any(not polygons[0].intersects(other) for other in polygons[1:])


def _said_before(family: Sequence[Shape], columns: Sequence[_Column]) -> dict[str, str]:
    """The names said with the numbers of outlines: a later message may bring the number alone."""
    names = [c.texts for c in columns if c.rank[0] == 0 and c.rank[1] < 4]
    numbers = [c.texts for c in columns if c.rank[0] == 0 and c.rank[1] in _NUMBERS]
    if not names or not numbers:
        return {}
    pairs = [(text, names[0].get(n)) for n, text in numbers[0].items()]
    return {number: name for number, name in pairs if name is not None}


def _rename(family: Sequence[Shape], columns: Sequence[_Column], tables: Names) -> None:
    """Give rooms the names that came behind all outlines, in records of rooms with their ids."""
    ids = [c.texts for c in columns if c.rank[:2] == (0, 5) and len(c.texts) == len(family)]
    latest = max((shape.found.parent for shape in family), default=0)
    for path, table in tables.items():
        if not ids or table.last <= latest or not any(votes(key)[0] for key in path):
            continue
        if table.keys() <= set(ids[0].values()) and all(map(_is_name, table.values())):
            for number, text in ids[0].items():
                family[number].name = table.get(text, family[number].name)


def _is_name(text: str) -> bool:
    return not _NO_NAME.fullmatch(text) and not is_count(text)


def _is_numbering(column: _Column, tables: Names) -> bool:
    """Whether texts say no more than numbers: room 4, or rim 4 if a table has names for them."""
    texts = list(column.texts.values())
    if all(map(_numbered, texts)):
        return True
    if len(texts) < 2 or len({stem(text) for text in texts}) > 1:
        return False
    numbers = {_numbered(text, alike=True) for text in texts}
    return any(numbers <= table.keys() for table in tables.values())


def _numbered(text: str, *, alike: bool = False) -> str | None:
    """The number in a text that says nothing else than what it counts (room 4), or None.

    `alike`: the texts of other rooms say the same but for their numbers.
    """
    found = _ENDING.search(text)
    told = found is not None and found.start() and (alike or is_plumbing(stem(text)))
    return found[0] if found and told else None


def _from_tables(
    family: Sequence[Shape],
    columns: Sequence[_Column],
    said: Mapping[str, str],
    tables: Names,
) -> bool:
    """Put names for numbers where the text holds a table of names apart from the outlines."""
    told = [c for c in columns if c.rank[0] == 0 and c.rank[1] < 4]
    counting = [c for c in told if _is_numbering(c, tables)]
    # What stands below may as well belong to what follows.
    least = min((c.rank for c in counting), default=(_LAST,))
    named = [c for c in told if c not in counting and (c.rank[1:3] < (3, _FAR) or c.rank < least)]
    marks = [c for c in columns if c.rank[0] == 0 and c.rank[1] in (4, *_NUMBERS)]
    numbers = marks + counting
    if not numbers:
        return False
    texts = numbers[0].texts
    best: Mapping[str, str] = {} if not named else said
    most = 0
    for column, table in itertools.product(numbers, () if named else tables.values()):
        alike = len({stem(text) for text in column.texts.values()}) == 1
        every = {
            n: text if text in table else _numbered(text, alike=alike) or text
            for n, text in column.texts.items()
        }
        known = {text for text in every.values() if text in table}
        enough = 2 * len(known) >= len(set(every.values())) and len(known) > most
        if enough and len({table[text] for text in known}) == len(known):
            texts, best, most = every, table, len(known)
    # Where names are called so, words of other kinds beside a known number are none.
    surest = [c for c in named if c.rank[1] == 0] if best is said else []
    for number, text in texts.items():
        if not any(number in column.texts for column in surest or named):
            family[number].name = best.get(text, family[number].name)
    return bool(best)
