"""Texts that bring the newest first -> the oldest first, as all else expects.

They are turned only where time stamps say so plainly. In a log whole records begin with one each,
and nearly all go back in time: two records are enough if their stamps have a date, else three. In a
document each list of outlines has a stamp beside it under one key, and none is newer than the last.
"""

from __future__ import annotations

import datetime
import itertools
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.words import tells_revision

__all__ = ["Ordered", "by_time", "in_time", "is_stamp"]

_LOOKED_AT = 80
"""A stamp stands in so many bytes at the beginning of a line."""

_FIRST_STAMPS = 200
"""If so many stamps do not go back in time, no more of them are looked at."""

_FIRST_LINES = 2000
"""If so many lines have no stamp among them, none is looked for."""

_AGAIN = 20
"""Of so many steps back in time one may go forward: records of several sources."""

_DAY = 86_400.0
_MONTHS = (b"jan", b"feb", b"mar", b"apr", b"may", b"jun", b"jul", b"aug", b"sep", b"oct", b"nov",
           b"dec")  # fmt: skip
_MARGIN = re.compile(rb"[^\s\]})]")
_STAMP = re.compile(
    rb"(?<![\w.])(?:"
    rb"(?:(?P<Y>\d{4})[-/.](?P<M>\d\d?)[-/.](?P<D>\d\d?)(?:T|,?[ ]+)"
    rb"|(?P<d>\d\d?)\.(?P<mo>\d\d?)\.(?P<y>\d{4}),?[ ]+"
    rb"|(?P<word>" + b"|".join(_MONTHS) + rb")[a-z]*[ ]+(?P<day>\d\d?)[ ]+)?"
    rb"(?P<h>\d\d?):(?P<m>\d\d)(?::(?P<s>\d\d(?:[.,]\d{1,9})?))?(?![\d:])"
    rb"|(?P<epoch>1\d{9}(?:\d{3}){0,2}(?:\.\d{1,9})?)(?![\w.])"
    rb"|(?<=\[)[ ]{0,8}(?P<up>\d{1,9}\.\d{1,9})(?=\]))",
    re.IGNORECASE,
)
_NUMERIC = b"0123456789.+-"
_REVISION = re.compile(r"[^\W\d]{0,8}[ .#-]?(\d{1,9})", re.ASCII)
_ZONE = re.compile(r"\s?(?:Z|UTC|GMT|[+-]\d\d:?\d\d)\Z")
_COUNT = re.compile(rb"(?<![\w.-])\d{1,6}(?![\w.])")
_OPENING = re.compile(rb"(?i)(?<![^\W_])(?:begins?|starts?|opens?|new)(?![^\W_])")
_CLOSING = re.compile(rb"(?i)(?<![^\W_])(?:ends?|ended|stops?|closes?|done|finished)(?![^\W_])")


@dataclass(frozen=True, slots=True)
class Ordered:
    """Text with the oldest records first; the number of each line before, None if all are kept."""

    data: bytes
    lines: list[int] | None


def in_time(data: bytes) -> Ordered:
    """Turn a log round if its newest records stand first.

    A record is a line with a stamp and those without that follow it. What stands above the first
    stays there. Records of one moment are turned round too, unless what they count or begin and end
    says that they follow one another as they stand, or they are all alike.
    """
    whole = Ordered(data, None)
    stamps = _stamps(data)
    if stamps is None:
        return whole
    lines = data.split(b"\n")
    if lines[-1] == b"":
        del lines[-1]
    starts = [at for at, _ in stamps]
    bounds = itertools.pairwise([*starts, len(lines)])
    records = [range(start, end) for start, end in bounds]
    if not all(_is_whole(lines, record) for record in records[:-1]) or _closes(lines, records[-1]):
        return whole
    told = [seconds for _, seconds in stamps]
    turned = list(range(starts[0]))
    for record in _turned(lines, records, told):
        turned.extend(record)
    return Ordered(b"\n".join([lines[at] for at in turned]) + b"\n", [at + 1 for at in turned])


def _stamps(data: bytes) -> list[tuple[int, float]] | None:
    """The lines with a stamp and its seconds, or None if they do not plainly go back in time."""
    found: list[tuple[int, float]] = []
    kind: tuple[bool, ...] = ()
    back = forth = 0
    for at, line in enumerate(_beginnings(data)):
        stamp = _STAMP.search(line) if _MARGIN.match(line) else None
        if stamp is None:
            if not found and at > _FIRST_LINES:
                return None
            continue
        own = (stamp["epoch"] is not None, stamp["up"] is not None, _is_dated(stamp))
        seconds = _seconds(stamp)
        kind = own if seconds is not None and not kind else kind
        if own != kind or seconds is None:
            continue
        step = seconds - found[-1][1] if found else 0.0
        if not any(kind) and abs(step) > _DAY / 2:
            step = -step  # past midnight
        back += step < 0
        forth += step > 0
        found.append((at, seconds))
        if len(found) == _FIRST_STAMPS and _AGAIN * forth > back:
            return None
    return found if back >= (1 if any(kind) else 2) and _AGAIN * forth <= back else None


def _beginnings(data: bytes) -> Iterator[bytes]:
    """The first bytes of each line."""
    start = 0
    while start < len(data):
        end = data.find(b"\n", start)
        end = len(data) if end < 0 else end
        yield data[start : min(end, start + _LOOKED_AT)]
        start = end + 1


def _is_dated(stamp: re.Match[bytes]) -> bool:
    return any(stamp[part] is not None for part in ("Y", "y", "word"))


def _seconds(stamp: re.Match[bytes]) -> float | None:
    """The seconds of a stamp from some moment on; None if there is no such day."""
    if stamp["epoch"]:
        whole = stamp["epoch"].partition(b".")[0]
        return float(stamp["epoch"]) / 10.0 ** (len(whole) - 10)
    if stamp["up"]:
        return float(stamp["up"])
    clock = int(stamp["h"]) * 3600.0 + int(stamp["m"]) * 60.0
    clock += float((stamp["s"] or b"0").replace(b",", b"."))
    if clock > _DAY:
        return None
    if not _is_dated(stamp):
        return clock if stamp["s"] else None
    if stamp["word"]:
        parts = (2000, _MONTHS.index(stamp["word"].lower()) + 1, int(stamp["day"]))
    else:
        names = ("Y", "M", "D") if stamp["Y"] else ("y", "mo", "d")
        parts = (int(stamp[names[0]]), int(stamp[names[1]]), int(stamp[names[2]]))
    try:
        return datetime.date(*parts).toordinal() * _DAY + clock
    except ValueError:
        return None


def _turned(
    lines: Sequence[bytes], records: Sequence[range], stamps: Sequence[float]
) -> Iterable[range]:
    """The records from the oldest on."""
    moments: list[list[range]] = []
    for at, record in enumerate(records):
        if at and stamps[at] == stamps[at - 1]:
            moments[-1].append(record)
        else:
            moments.append([record])
    several = [moment for moment in moments if len(moment) > 1]
    told = sum(_goes_on(lines, moment) for moment in several)
    onward = told > 0 or (told == 0 and all(_are_alike(lines, moment) for moment in several))
    for moment in reversed(moments):
        yield from moment if onward else reversed(moment)


def _are_alike(lines: Sequence[bytes], moment: Sequence[range]) -> bool:
    """Whether records of one moment differ in numbers alone: then none heads the others."""
    return len({lines[record.start].translate(None, _NUMERIC) for record in moment}) == 1


def _goes_on(lines: Sequence[bytes], moment: Sequence[range]) -> int:
    """Above 0 if records of one moment follow one another as they stand, below if the other way."""
    told = 0
    texts = [lines[record.start] for record in moment]
    for one, other in itertools.pairwise(texts):
        counts = [list(map(int, _COUNT.findall(text[:4096]))) for text in (one, other)]
        if len(counts[0]) == len(counts[1]):
            steps = [b - a for a, b in zip(*counts, strict=True)]
            told += steps.count(1) - steps.count(-1)
    first, last = texts[0][:4096], texts[-1][:4096]
    told += bool(_OPENING.search(first)) + bool(_CLOSING.search(last))
    return told - bool(_CLOSING.search(first)) - bool(_OPENING.search(last))


def _is_whole(lines: Sequence[bytes], record: range) -> bool:
    """Whether as many brackets open as close in a record, so it is no part of something larger."""
    return all(
        sum(lines[at].count(opening) - lines[at].count(closing) for at in record) == 0
        for opening, closing in ((b"{", b"}"), (b"[", b"]"))
    )


def _closes(lines: Sequence[bytes], record: range) -> bool:
    """Whether a record closes brackets that it did not open."""
    return any(
        sum(lines[at].count(opening) - lines[at].count(closing) for at in record) < 0
        for opening, closing in ((b"{", b"}"), (b"[", b"]"))
    )


def by_time(shapes: Sequence[Shape]) -> Sequence[Shape]:
    """Return outlines with the newest last, by stamps or revisions that stand beside them or their
    lists, and number them in that order.

    They are left as they are unless everywhere where two are of one name or of two lists that
    follow one another, the later one in the text is older, or as old.
    """
    columns: defaultdict[tuple[str, int], dict[int, float]] = defaultdict(dict)
    for number, shape in enumerate(shapes):
        for clue in shape.found.clues:
            told = _revised(clue.text) if tells_revision(clue.key) else _told(clue.text)
            if clue.key and told is not None:
                columns[clue.key, clue.outside].setdefault(number, told)
    for stamps in columns.values():
        if len(stamps) == len(shapes) and _go_back(shapes, stamps):
            turned = [shapes[at] for at in sorted(stamps, key=lambda at: (stamps[at], at))]
            for order, shape in enumerate(turned):
                shape.order = order
            return turned
    return shapes


def is_stamp(text: str) -> bool:
    """Whether a text is a day and a time, and nothing else."""
    return _told(text) is not None


def _told(text: str) -> float | None:
    """The seconds that a text tells if it is a stamp with a date, and nothing else."""
    if len(text) >= _LOOKED_AT or not any(map(str.isdigit, text)):
        return None
    stamp = _STAMP.fullmatch(_ZONE.sub("", text).encode())
    return _seconds(stamp) if stamp and (stamp["epoch"] or _is_dated(stamp)) else None


def _revised(text: str) -> float | None:
    """The number of a revision, as 4 of r4, or None."""
    found = _REVISION.fullmatch(text)
    return float(found[1]) if found else None


def _go_back(shapes: Sequence[Shape], stamps: dict[int, float]) -> bool:
    newest: dict[str, int] = {}
    back = forth = 0
    for at, shape in enumerate(shapes):
        before = [newest.get(shape.name)]
        before += [at - 1] if at and shapes[at - 1].found.moment != shape.found.moment else []
        for other in before:
            if other is not None:
                back += stamps[other] > stamps[at]
                forth += stamps[other] < stamps[at]
        newest[shape.name] = at
    return back > 0 and forth == 0
