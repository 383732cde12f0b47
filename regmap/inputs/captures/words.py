"""What words beside an outline tell: is it a room, and which word names it?"""

from __future__ import annotations

import itertools
import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache

from regmap.inputs.captures.vocabulary import (
    BEFORE,
    BEHIND,
    CHANGE,
    DRAWN,
    IDS,
    KINDS,
    KNOWN,
    LOG_LEVELS,
    LONE_STOREY,
    MEASURES,
    NAMES,
    NOT_HELD,
    NOT_ROOM,
    OPENING,
    OUTLINE,
    PLACES,
    PLUMBING,
    POSES,
    RELATIVE,
    REVISION,
    ROOM,
    STOREYS,
    WAY,
    WHICH_STOREY,
)

__all__ = [
    "tells_size",
    "LOG_LEVELS",
    "BEFORE",
    "BEHIND",
    "KNOWN",
    "NAMES",
    "NUMBERED_AXIS",
    "ROOM",
    "STOREYS",
    "axis",
    "id_rank",
    "is_aside",
    "is_change",
    "is_count",
    "is_drawn",
    "is_field",
    "is_kind",
    "is_measure",
    "is_no_place",
    "is_opening",
    "is_not_held",
    "is_plumbing",
    "is_place_word",
    "is_pose",
    "is_relative",
    "is_room_word",
    "is_storey",
    "is_way",
    "name_rank",
    "stem",
    "tells_revision",
    "votes",
    "without_level",
    "words_of",
]

_PARTS = re.compile(r"[^\W\d_]+?(?=[A-Z][a-z])|[^\W\d_]+")

_AXIS = re.compile(
    r"(?:pos|coord|punkt|point|p|pt)?[_\W]*([xy])(?:[_\W]*(?:pos|coord|mm|cm|m|px|koordinate|value))?"
    r"|(?:.*[_\W])([xy])\Z",
    re.IGNORECASE,
)
NUMBERED_AXIS = re.compile(r"([xy])[_\W]?(\d{1,5})|(\d{1,5})[_\W]?([xy])", re.IGNORECASE)
"""One coordinate of a corner with a number: x1, y_1, 1.x."""

_WAY_MARK = re.compile(r"[./]")
_COUNTED = re.compile(r"\d+(?: ?(?:of|/) ?\d+)?\Z", re.ASCII)
_UNIT_WORDS = frozenset(("mm", "cm", "m", "in", "inch"))
_COMPASS = {"lon": "x", "lng": "x", "long": "x", "longitude": "x", "east": "x", "easting": "x"}
_COMPASS |= {"lat": "y", "latitude": "y", "north": "y", "northing": "y"}


@lru_cache(maxsize=4096)
def words_of(text: str) -> tuple[str, ...]:
    """Return the words of a key in small letters: `roomOutline_2` gives room, outline."""
    return tuple(part.lower() for part in _PARTS.findall(unicodedata.normalize("NFC", text)))


@lru_cache(maxsize=4096)
def votes(text: str) -> tuple[int, int, int, int]:
    """Count words for a room, for an outline, for what is no room, and for a way or a place."""
    words = words_of(text)
    whole = "".join(words)
    joined = [a + b for a, b in itertools.pairwise(words)]
    bag = {*words, *joined, whole}
    return (
        len(bag & ROOM),
        len(bag & OUTLINE),
        len(bag & NOT_ROOM),
        len(bag & WAY),
    )


@lru_cache(maxsize=4096)
def is_plumbing(key: str) -> bool:
    """Whether a key says what kind of thing follows, and so is nobody's name.

    A number makes a name of it (room 2), unless it counts what is no room (carpet 1).
    """
    words = [word for word in words_of(key) if len(word) > 1 or len(key) == 1]
    if not words:
        return len(key) < 2 and not key.isdigit()
    if any(c.isdigit() for c in key):
        return all(word in NOT_ROOM | WAY for word in words)
    lettered = len(words) < len(words_of(key))  # room A
    return not lettered and all(word in KNOWN or word + "s" in KNOWN for word in words)


def is_room_word(text: str) -> bool:
    """Whether a text is no more than a word for a room, without a number."""
    if any(map(str.isdigit, text)):
        return False
    return len(words := words_of(text)) == 1 and words[0] in ROOM


@lru_cache(maxsize=4096)
def is_kind(key: str) -> bool:
    """Whether a key says that what follows is the kind of thing that this is."""
    return not KINDS.isdisjoint(words_of(key)[-1:])


@lru_cache(maxsize=4096)
def is_measure(key: str) -> bool:
    """Whether a key says that what follows is a number of another kind than a coordinate."""
    return not MEASURES.isdisjoint(words_of(key))


@lru_cache(maxsize=4096)
def is_field(key: str) -> bool:
    """Whether a key says what about a room follows, and is no part of its name."""
    _, outline, other, _ = votes(key)
    return bool(outline or other or is_measure(key) or axis(key))


def is_count(text: str) -> bool:
    """Whether a text counts corners: 4 points."""
    number, _, words = text.partition(" ")
    return number.isdecimal() and bool(words) and all(w in BEHIND for w in words.lower().split())


def is_way(text: str) -> bool:
    """Whether a text is a way of known words to something: map.room.4."""
    parts = _WAY_MARK.split(text.strip("./"))
    known = (part.isdecimal() or (len(part) > 1 and is_plumbing(part)) for part in parts)
    return len(parts) > 2 and all(known)


def is_change(path: Sequence[str]) -> bool:
    """Whether keys say that what follows is a change and not all there is."""
    return any(not CHANGE.isdisjoint(words_of(key)) for key in path)


@lru_cache(maxsize=4096)
def is_not_held(key: str) -> bool:
    """Whether a key says that what follows holds no more, or not yet: previous_map, draft."""
    words = set(words_of(key))
    return not words.isdisjoint(NOT_HELD) and words <= NOT_HELD | PLUMBING | ROOM


@lru_cache(maxsize=4096)
def tells_revision(key: str) -> bool:
    """Whether a key says that what follows counts the states of what it stands beside."""
    return not REVISION.isdisjoint(words_of(key)[-1:])


@lru_cache(maxsize=4096)
def is_storey(text: str) -> bool:
    """Whether a text says which storey of a house something is of, and nothing else: floor 2."""
    words = words_of(text)
    if not words or not WHICH_STOREY.issuperset(words):
        return False
    which = any(map(str.isdigit, text)) or not STOREYS.issuperset(words)
    return which and (not STOREYS.isdisjoint(words) or not LONE_STOREY.isdisjoint(words))


@lru_cache(maxsize=4096)
def is_relative(key: str) -> bool:
    """Whether a key says that what follows are no places, but ways from one place to the next."""
    return not RELATIVE.isdisjoint(words_of(key))


def is_no_place(key: str) -> bool:
    """Whether a key says of a number that it is no coordinate."""
    return is_measure(key) or is_relative(key)


def tells_size(keys: Iterable[str]) -> bool:
    """Whether keys tell how wide and high something is, or both its sides: of boxes."""
    first = {"".join(words_of(key)[:1]) for key in keys}
    return {"width", "height"} <= first or {"left", "right"} <= first


@lru_cache(maxsize=4096)
def is_drawn(key: str) -> bool:
    """Whether a key says that what follows is in the pixels of a picture."""
    return not DRAWN.isdisjoint(words_of(key))


@lru_cache(maxsize=4096)
def is_aside(phrase: str) -> bool:
    """Whether a phrase of known words alone speaks of what is no room."""
    words = list(words_of(phrase))
    while len(words) > 1 and words[0] in LOG_LEVELS:
        del words[0]
    room, _, other, way = votes(" ".join(words))
    return not room and bool(other or way) and all(word in KNOWN for word in words)


@lru_cache(maxsize=4096)
def is_place_word(text: str) -> bool:
    """Whether the words of a text that speak of a way or a place all speak of a place: dock."""
    return PLACES.issuperset(WAY.intersection(words_of(text)))


@lru_cache(maxsize=4096)
def is_pose(phrase: str) -> bool:
    """Whether a phrase ends in a word for where something is."""
    return not POSES.isdisjoint(words_of(phrase)[-1:])


@lru_cache(maxsize=4096)
def is_opening(phrase: str) -> bool:
    """Whether a phrase says that something begins, and so speaks of what follows it alone."""
    return not OPENING.isdisjoint(words_of(phrase))


def without_level(phrase: str) -> str:
    """Take away how a logger ranks a line: lines of one logger are of one list."""
    words = phrase.split()
    while len(words) > 1 and words[0].strip("[]<>:").lower() in LOG_LEVELS:
        del words[0]
    return " ".join(words)


@lru_cache(maxsize=4096)
def name_rank(key: str) -> int | None:
    """How surely what follows a key is a name, 0 the surest; None if it is not known."""
    if any(c.isdigit() for c in key):
        return None
    whole = "".join(words_of(key))
    whole = whole.removesuffix("s") if whole.removesuffix("s") in NAMES else whole
    if whole in NAMES:
        return NAMES.index(whole)
    if whole.endswith(("name", "label", "title")):
        return len(NAMES)
    return None


@lru_cache(maxsize=4096)
def id_rank(key: str) -> int | None:
    """How surely what follows a key identifies something; None if it is not known."""
    words = words_of(key)
    if not words:
        return None
    whole = "".join(words)
    whole = whole.removesuffix("s") if whole.removesuffix("s") in IDS else whole
    if whole in IDS:
        return IDS.index(whole)
    numbered = whole.endswith("id") and (whole[:-2] in NAMES or whole[:-2] in ROOM)
    return len(IDS) if numbered or words[-1] in ("id", "uid", "uuid", "nr") else None


@lru_cache(maxsize=4096)
def axis(key: str) -> str | None:
    """Return "x" or "y" if a key names that coordinate."""
    words = words_of(key)
    if words and _UNIT_WORDS.issuperset(words[1:]) and (compass := _COMPASS.get(words[0])):
        return compass
    found = _AXIS.fullmatch(key)
    return (found[1] or found[2]).lower() if found else None


@lru_cache(maxsize=4096)
def stem(key: str | None) -> str:
    """Return a key without the number at its end: p1, p2, p3 are of one kind."""
    return "" if key is None else _COUNTED.sub("", key).rstrip("_-. #")
