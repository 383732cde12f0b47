"""Rooms that are gone, by what a text says beside their outlines or later of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from regmap.inputs.captures.find import Found
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.words import ROOM, id_rank, is_plumbing, name_rank, words_of

__all__ = ["inactive", "is_told_gone", "said_gone", "said_of_corners"]


def _listed(words: str) -> frozenset[str]:
    return frozenset(words.split())


_GONE = frozenset(("deleted", "removed", "erased", "trashed", "archived", "dissolved"))
_STATES = frozenset(("status", "state", "action", "event", "ev", "evt", "type", "op", "change"))
_DAY = re.compile(r"\d{4}-\d\d|\d{10}")
_HOLDING = (("active",), ("exists",), ("present",), ("valid",))
_NO = frozenset(("false", "0", "no", "n"))
_YES = frozenset(("true", "1", "yes", "y"))

_REMOVAL = re.compile(
    r"(?i:(?<![^\W_])(?:delete|remove|erase)[ds]?(?![^\W_]))"
    r"|(?<=[a-z])(?:Delete|Remove|Erase)[ds]?(?![a-z])"
)
_TOKEN = re.compile(r"[^\w\n]{0,6}?([\"'({\[]?)(\w+)")
_FILLERS = _listed("name names label title from where the and area outline key map true 1")
_ENDED = re.compile(r"[\"')}\].,;]?\s|[\"')}\].,;]|\Z")
_REACH = 160
"""What is gone is named so many characters behind the word for it."""

_PATCH = re.compile(
    r"\{[^{}]*?\"op\"\s*:\s*\"(?P<op>\w+)\"[^{}]*?\"path\"\s*:\s*\"(?P<path>/[^\"]+)\""
    r"|\{[^{}]*?\"path\"\s*:\s*\"(?P<path2>/[^\"]+)\"[^{}]*?\"op\"\s*:\s*\"(?P<op2>\w+)\""
)
"""A step of a JSON patch (RFC 6902)."""


def is_told_gone(found: Found) -> bool:
    """Whether an outline comes with the word that its room is gone: deleted: true."""
    for clue in found.clues:
        if clue.outside:
            continue
        words, text = set(words_of(clue.key)), clue.text.casefold()
        if not words.isdisjoint(_GONE) and (text in _YES or _DAY.match(text)):
            return True
        if not _STATES.isdisjoint(words) and not _GONE.isdisjoint(words_of(text)):
            return True
    return False


def inactive(found: Sequence[Found]) -> list[bool]:
    """Which outlines are said to be of rooms that do not hold: active: false, exists: no.

    That is said of some where most do hold. Where few are active, those are what the robot is at
    work in, and a room that is not enabled, visible or selected is still a room.
    """
    told = [_holds(one) for one in found]
    most = 2 * told.count(True) > len(told)
    return [most and holds is False for holds in told]


def _holds(found: Found) -> bool | None:
    """Whether an outline's room is said to hold, or None if nothing says."""
    for clue in found.clues:
        if not clue.outside and words_of(clue.key)[-1:] in _HOLDING:
            text = clue.text.casefold()
            if text in _YES | _NO:
                return text in _YES
    return None


def said_gone(rooms: Sequence[Shape], text: str) -> tuple[str, str] | None:
    """Return which room is said to be gone below its outline, and how; None if none is."""
    for room in rooms:
        if room.found.emptied:
            return room.name, room.found.emptied
    last = {room.name: room.found.offset for room in rooms if len(room.name) > 1}
    marks = {mark: room for room in rooms for mark in _marks(room)}
    for found in _REMOVAL.finditer(text):
        for start, end, sure in _tokens(text, found.end()):
            name = next((n for n in last if text.startswith(n, start)), "")
            if name and _ENDED.match(text, start + len(name)):
                if found.start() > last[name]:
                    return name, " ".join(text[found.start() : start + len(name)].split())
                break
            own = marks.get(text[start:end]) if sure else None
            if own is not None and found.start() > own.found.offset and _ENDED.match(text, end):
                return own.name, " ".join(text[found.start() : end].split())
    for op, path, at in _patches(text):
        above = path[:-1][-1:]
        held = [room for room in rooms if above and above[0] in room.found.path]
        if op == "remove" and held and path[-1] != held[0].tail and at > held[0].found.offset:
            return held[0].name if len(rooms) == 1 else "a room", f"{op} /{'/'.join(path)}"
    return None


def said_of_corners(rooms: Sequence[Shape], text: str) -> str:
    """What a text says later of single corners of a room's outline, or ""."""
    tails = {room.tail for room in rooms if room.tail}
    first = min(room.found.offset for room in rooms)
    for op, path, at in _patches(text):
        if at > first and not tails.isdisjoint(path[:-1]) and op in ("add", "remove", "replace"):
            return f"{op} /{'/'.join(path)}"
    return ""


def _patches(text: str) -> Iterator[tuple[str, list[str], int]]:
    for found in _PATCH.finditer(text) if '"op"' in text else ():
        path = found["path"] or found["path2"]
        yield found["op"] or found["op2"], path.strip("/").split("/"), found.start()


def _marks(room: Shape) -> Iterator[str]:
    """What tells a room from others by number."""
    ids = {c.key: c.text for c in reversed(room.found.clues) if not c.outside}
    yield from (t for k, t in ids.items() if id_rank(k) is not None and name_rank(k) is None)
    if room.own_key is not None and room.own_key.isdigit():
        yield room.own_key


def _tokens(text: str, at: int) -> Iterator[tuple[int, int, bool]]:
    """Where the words behind a place begin and end, up to one that names something, and whether a
    word before says that a number of a room follows, or a list of some."""
    sure = listed = False
    end = at + _REACH
    while (found := _TOKEN.match(text, at, end)) is not None:
        listed = listed or found[1] == "["
        yield found.start(2), found.end(), sure or listed
        word = found[2].casefold()
        if word in ROOM or word == "path" or id_rank(word) is not None:
            sure = True
        elif word not in _FILLERS and not (word.isdigit() and listed) and not is_plumbing(word):
            return
        at = found.end()
