"""Points of several outlines, one after another: what is said beside each of them parts them."""

from __future__ import annotations

import itertools
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from regmap.inputs.captures.corner import Point, on_ground
from regmap.inputs.captures.holes import Part, parted_again
from regmap.inputs.captures.numerals import Points, as_number, counts
from regmap.inputs.captures.words import id_rank, is_kind, is_plumbing, name_rank, votes

__all__ = ["FEWEST", "Run", "array_of", "labelled"]

FEWEST = 3
"""Points below which nothing is an area."""

_ANSWERS = frozenset(("true", "false", "yes", "no", "on", "off", "null", "none"))

_MOST = 0.8
"""A column parts points into outlines if this share of them is in outlines then."""


@dataclass(slots=True, eq=False)
class Run:
    """Points that follow one another in a group.

    Attributes:
        key: what stands before them; `index`, `end`: which items of the group they are.
        points: (N, 2).
        offset: where they begin in the text.
        label: (key, text) that was said with each of the points, and of no others.
        said: what else was.
        closed: a pen that drew them was told to go back to the first.
        posed: each comes with where something headed there.
        uneven: how many x and y stood in two lists, if these are not as long as each other.
        holes: rings inside.
    """

    key: str | None
    index: int
    end: int
    points: Points
    offset: int
    label: tuple[str, str] | None = None
    said: tuple[tuple[str, str], ...] = ()
    closed: bool = False
    posed: bool = False
    uneven: tuple[int, int] | None = None
    holes: list[Points] = field(default_factory=list)


def labelled(points: Sequence[Point], run: Run) -> list[Run]:
    """Part a run of points by what is said beside each of them, if that parts it into outlines."""
    if not (points := on_ground(points)):
        return []
    whole = _said_of_all(points)
    kinds = _kinds(whole)
    # What is said with all points alike names one outline; what varies parts them.
    ranked = sorted(
        (len(set(texts)) == 1, _label_rank(name[0], texts), name) for name, texts in whole.items()
    )
    for _, rank, name in ranked:
        enough = sum(count for count in Counter(whole[name]).values() if count >= FEWEST)
        if enough >= _MOST * len(points) and not _measures(name[0], whole[name]):
            chosen = [Part(*part) for part in _parts(whole[name])]
            others = {other: texts for other, texts in whole.items() if other != name}
            again = parted_again(chosen, others, [point.values for point in points])
            chosen = again or [Part(*part) for part in _parts(whole[name], kinds)]
            if rank < 100 or kinds:  # two named points are a line
                chosen = [part for part in chosen if len(part.indices) >= FEWEST]
            elif len(chosen) > 1 and len(chosen[-1].indices) < FEWEST and _follow(chosen[-2:]):
                del chosen[-1]  # cut off
            if all(len(part.indices) >= FEWEST for part in chosen):
                break
        if rank < 20:
            return []  # named places, a point each
    else:
        return [replace(run, points=array_of(points))]
    return [_run_of(part, name[0], points, run) for part in chosen]


def _run_of(part: Part, key: str, points: Sequence[Point], run: Run) -> Run:
    """The run of a part of points, with what names it and what else is said of all of it."""
    first, *others = part.indices
    said = [one for one in points[first].more if one != (key, part.text) and one[0]]
    rest = [points[i].more for i in others]
    # `vertex 1 2` says what it is, not of which room.
    _, corner, *spoken = votes(part.text)
    named = part.text and not (key == "" and corner and is_plumbing(part.text) and not any(spoken))
    return replace(
        run,
        points=array_of([points[i] for i in part.indices]),
        holes=[array_of([points[i] for i in hole]) for hole in part.holes],
        label=(key, part.text) if named else None,
        said=(*run.said, *(one for one in said if all(one in more for more in rest))),
    )


def _said_of_all(points: Sequence[Point]) -> dict[tuple[str, int], list[str]]:
    """What is said of every point, by key and place; of some a name may be left out, then ""."""
    columns: defaultdict[tuple[str, int], list[str]] = defaultdict(list)
    for point in points:
        for place, (key, text) in enumerate(point.more):
            columns[key, 0 if key else place].append(text)
    for key, place in columns:
        if len(columns[key, place]) < len(points) and name_rank(key) is not None:
            columns[key, place] = [dict(point.more).get(key, "") for point in points]
    told = {name: texts for name, texts in columns.items() if len(texts) == len(points)}
    return {name: texts if name[0] else _carried(texts) for name, texts in told.items()}


def _carried(texts: Sequence[str]) -> list[str]:
    """Texts with what is empty filled from above."""
    carried: list[str] = []
    for text in texts:
        carried.append(text or (carried[-1] if carried else ""))
    return carried


def _place(text: str) -> float | None:
    """The number that a text is, or the place of a letter: a, b, c count as 0, 1, 2 do."""
    letter = text.casefold()
    lettered = len(letter) == 1 and letter.isascii() and letter.isalpha()
    return float(ord(letter) - ord("a")) if lettered else as_number(text)


def _measures(key: str, texts: Sequence[str]) -> bool:
    """Whether what is said of points are numbers of another kind than those of rooms.

    They count the points from room to room, or have fractions, or come and go under a key that
    speaks of no room.
    """
    if all(text.lower() in _ANSWERS for text in texts):
        return True  # door: false
    numbers = [_place(text) for text in texts]
    told = [number for number in numbers if number is not None]
    if len(told) < len(texts) or len(set(told)) < 2:
        return False
    if any(number % 1 for number in told) or counts(np.array(told)):
        return True
    speaks = key == "" or id_rank(key) is not None or name_rank(key) is not None
    stretches = sum(1 for _ in itertools.groupby(told))
    return not speaks and not votes(key)[0] and stretches > len(set(told))


def _follow(two: Sequence[Part]) -> bool:
    """Whether one part's points stand behind all of another's."""
    one, other = two
    return other.indices[0] > one.indices[-1]


def _label_rank(key: str, texts: Sequence[str]) -> int:
    numbers = as_number(texts[0]) is not None
    rank = name_rank(key)
    if rank is not None and not numbers:
        return rank
    if key == "" and not numbers:
        return 100
    return 200 if id_rank(key) is not None else 300 + numbers


def _kinds(whole: Mapping[tuple[str, int], Sequence[str]]) -> Sequence[str]:
    """What kinds of things points are of, if a key says so that by its name tells kinds."""
    for (key, _), texts in whole.items():
        if is_kind(key) and len(set(texts)) > 1:
            return texts
    return ()


def _parts(texts: Sequence[str], kinds: Sequence[str] = ()) -> Iterator[tuple[str, list[int]]]:
    """Yield (text, indices): stretches of one text, or all of its places if it comes and goes.

    Points of several kinds are never of one part.
    """
    if kinds and tuple(kinds) != tuple(texts):
        pairs = [f"{text}\0{kind}" for text, kind in zip(texts, kinds, strict=True)]
        yield from ((text.partition("\0")[0], part) for text, part in _parts(pairs))
        return
    stretches: list[tuple[str, list[int]]] = []
    for i, text in enumerate(texts):
        if stretches and stretches[-1][0] == text:
            stretches[-1][1].append(i)
        else:
            stretches.append((text, [i]))
    if sum(len(chosen) for _, chosen in stretches if len(chosen) >= FEWEST) >= _MOST * len(texts):
        yield from stretches
        return
    together: dict[str, list[int]] = {}
    for i, text in enumerate(texts):
        together.setdefault(text, []).append(i)
    yield from together.items()


def array_of(points: Sequence[Point]) -> Points:
    return np.array([point.values for point in points])
