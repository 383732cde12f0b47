"""Which robot told an outline, where only a host or an address says so: on its line, or above it.

Each robot has a frame of its own, so what two of them tell is never one floor, unless it is the
same rooms at the same places.
"""

from __future__ import annotations

import bisect
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence

from regmap.inputs.captures.clues import Clue
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.tokens import CLOCK
from regmap.inputs.captures.words import (
    LOG_LEVELS,
    is_change,
    is_not_held,
    is_plumbing,
    is_storey,
    name_rank,
    tells_revision,
    votes,
    words_of,
)

__all__ = ["SPEAKER", "tell_speakers"]

SPEAKER = "robot address"
"""The key of what is said of each outline where there are several."""

_OCTET = r"(?:25[0-5]|2[0-4]\d|1?\d?\d)"
_ADDRESS = (
    rf"(?<![\w.])(?:{_OCTET}\.){{3}}{_OCTET}(?![\w]|\.\d{{1,4}}\.)|"
    r"(?<![\w:-])(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}(?![\w:-])"
)
_FOUND = re.compile(_ADDRESS)
_MAYBE = [
    re.compile(p) for p in (r"\.\d{1,3}\.\d{1,3}\.\d", r":\w\w:\w\w:\w\w:", r"-\w\w-\w\w-\w\w-")
]
"""What a text with an address has one of; each begins with its sign, so is looked for quickly."""

_WHOLE = re.compile(rf"(?:\w+://)?({_ADDRESS})(?:[:.]\d{{1,5}})?(?:/\S*)?")
_KEY = (
    r"(?:\w+[ _-]?)?(?:host|hostname|ip|mac|addr|address|source|src|sender|peer|client|remote|from)"
)
_ABOVE = re.compile(
    rf"^[^\w\n]{{0,40}}(?:{_KEY}[\"']?[ \t]*[:=][ \t]*[\"']?)?({_ADDRESS})"
    r"(?:[:.]\d{1,5})?[^\w\n]{0,40}$",
    re.IGNORECASE | re.MULTILINE,
)
"""A line that says an address, and nothing else."""

_LOGGED = re.compile(
    rf"(?:<\d{{1,3}}>(?:\d[ ])?)?(?:{CLOCK})[ ]++(?P<host>[A-Za-z][\w.-]*+)[ ]++"
    r"[\w./-]++\[\d++\]:(?=\s)"
)
"""A line of a system's log (RFC 3164, section 4.1): when, which host, which process."""

_HOSTS = frozenset(("host", "hostname"))
_SENDERS = _HOSTS | {
    *("ip", "mac", "addr", "address", "source", "src", "sender", "peer", "client", "remote"),
    *("from", "origin"),
}
_REACH = 240
"""An address stands so near the beginning of an outline's line, or so near before the outline."""


def tell_speakers(shapes: Sequence[Shape], text: str) -> None:
    """Say of each outline which host or address told it, if they are several."""
    for labels in _columns(shapes, text):
        if len({*labels} - {None}) > 1:
            for shape, label in zip(shapes, labels, strict=True):
                if label is not None:
                    shape.found.clues.append(Clue(SPEAKER, 0, label, False, True, 1, 1))
            return


def _columns(shapes: Sequence[Shape], text: str) -> Iterator[list[str | None]]:
    yield [_led_from(shape) for shape in shapes]
    yield [_said(shape) for shape in shapes]
    told = any(pattern.search(text) for pattern in _MAYBE)
    if told:
        yield _above(shapes, text)
    heads = [_head(text, shape.found.offset) for shape in shapes]
    if told:
        several = [_addresses(head) for head in heads]
        common = set[str].intersection(*map(set, several)) if several else set[str]()
        yield [next((a for a in found if a not in common), None) for found in several]
    yield [_logged(head) for head in heads]
    yield _devices(shapes)


def _led_from(shape: Shape) -> str | None:
    """An address among the keys that lead to an outline."""
    return next((key for key in shape.found.path if _WHOLE.fullmatch(key)), None)


def _said(shape: Shape) -> str | None:
    """What a key for a host or an address says beside an outline, the nearest first."""
    for clue in sorted(shape.found.clues, key=lambda clue: clue.far):
        words = words_of(clue.key)[-2:]
        if _SENDERS.isdisjoint(words):
            continue
        if address := _WHOLE.fullmatch(clue.text):
            return address[1]
        if words[-1:] == ("hostname",) or (len(words) == 1 and words[0] in _HOSTS):
            return clue.text.split()[0]
    return None


def _above(shapes: Sequence[Shape], text: str) -> list[str | None]:
    """The last line before each outline that says an address and nothing else."""
    lines = [(found.start(), found[1]) for found in _ABOVE.finditer(text)]
    starts = [start for start, _ in lines]
    places = (bisect.bisect_left(starts, shape.found.offset) for shape in shapes)
    return [lines[place - 1][1] if place else None for place in places]


def _head(text: str, offset: int) -> str:
    """An outline's line before it, without its middle if that is long."""
    start = text.rfind("\n", 0, offset) + 1
    if offset - start <= 2 * _REACH:
        return text[start:offset]
    return text[start : start + _REACH] + "\n" + text[offset - _REACH : offset]


def _addresses(head: str) -> list[str]:
    return list(dict.fromkeys(_FOUND.findall(head)))


def _logged(head: str) -> str | None:
    found = _LOGGED.match(head)
    host = found["host"] if found else ""
    return None if not host or host.casefold() in LOG_LEVELS else host


def _devices(shapes: Sequence[Shape]) -> list[str | None]:
    """Names of devices on the ways to outlines, as topics have them: each has several rooms, which
    have names of their own below."""
    rooms: defaultdict[str, set[str]] = defaultdict(set)
    labels: list[str | None] = []
    for shape in shapes:
        own = shape.own_key if shape.wrapper is None else shape.wrapper
        named = {
            c.text for c in shape.found.clues if not c.outside and name_rank(c.key) is not None
        }
        if own is None or not named or own in named or not _may_be_device(shape, own):
            return []
        rooms[own] |= named
        labels.append(own)
    return labels if all(len(names) > 1 for names in rooms.values()) else []


def _may_be_device(shape: Shape, key: str) -> bool:
    """Whether a key above a word for rooms or a map is no revision, state or storey of them."""
    star = "*" if shape.wrapper is None else "**"
    below = shape.pattern[shape.pattern.index(star) + 1 :] if star in shape.pattern else ()
    if not any(votes(step)[0] or step in ("map", "floor", "plan") for step in below):
        return False
    letters = sum(map(len, words_of(key)))
    other = is_plumbing(key) or is_not_held(key) or is_storey(key) or tells_revision(key)
    return letters > 2 and not other and not is_change((key,))
