"""Phrases that hold names: what stands before and behind a name in them, and marks it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

from regmap.inputs.captures.numerals import as_number
from regmap.inputs.captures.words import BEFORE, BEHIND, KNOWN, NAMES, ROOM, id_rank, is_count

__all__ = ["trimmed", "unmarked"]

_EMPHASIS = re.compile(r"(\*{1,3}|_{2}|`)(?=\S)([^*`\n]*[^\s*`])\s?\1")
"""Of Markdown: **hall**."""

_ASIDE = re.compile(r"\s*[(\[]([^()\[\]]+)[)\]]\Z")
_HAS = re.compile(r"\s+(?:has|with|hat|mit|avec|con|à|a)\s+(\d+ \w+)\Z", re.IGNORECASE)
_ENDING = re.compile(r"\s+[-:=\u2013\u2014]+\Z")
_MARK = re.compile(r"[^\w\s(\[{<\"']+\s+(?=\w)")
_VERSION = re.compile(r"[vV]\d+(?:\.\d+)*")
_SAID = re.compile("[「『«“„‹]([^」』»”“›]+)[」』»”“›]")
"""What stands in quotes as print has them."""

_CALLED = re.compile(
    r"\b(?:called|named|genannt|namens|appel\u00e9e?|nomm\u00e9e?|llamad[oa])\s+([^,;:]*[^,;:\s])",
    re.IGNORECASE,
)
_DECLARING = frozenset(
    ("static", "const", "constexpr", "int", "float", "double", "let", "var", "final", "public")
)
"""Words of programs that all names stand behind, or none."""

_UNITS = frozenset(("m2", "m²", "qm", "sqm", "m", "%"))
_REMARKED = re.compile(r"[\s=:,;]+")
_NUMBER_SIGN = re.compile(r"(?:#|№|[Nn]o\.|[Nn]r\.)\d+[.:)]?")


def trimmed(phrases: Sequence[str], *, logged: bool) -> list[str]:
    """Take from phrases the words before and behind a name that tell what is named.

    "got room Kitchen outline" -> "Kitchen". What all of them begin with goes too, if those are
    known words or the phrases were `logged`.
    """
    split = [unmarked(phrase).split() for phrase in phrases]
    split = _uncounted(split)
    shared = 0
    if len({tuple(words) for words in split}) > 1:
        for _ in range(2):  # room 1, called hall: what they share stands before a count, or behind
            start = 0
            while _all_begin(split, start) and (logged or _leads(split, start)):
                start += 1
            split = _uncounted([words[start:] for words in split])
            shared += start
        split = [unmarked(" ".join(words)).split() for words in _untailed(split, logged=logged)]
    rest = [tuple(words[2:]) for words in split]
    if all(map(_is_numbered, split)) and 2 * len(set(rest)) > len(rest):
        split = [list(words) for words in rest]
    cores = [_core(words) for words in split]
    told = {tuple(words): core != words for core, words in zip(cores, split, strict=True)}
    # What tells what is named stands in most lines; in a few it is part of the name: home office.
    least = 1.0 if shared else 1 / 3  # where all begin alike, that told it
    enough = sum(told.values()) > least * len(told) or all(told.values())
    return [" ".join(words) for words in (cores if enough else split)]


def unmarked(phrase: str) -> str:
    """A phrase without marks that open, end or stress it, or a count of corners behind it: + hall,
    % hall, **hall** -, hall (4 corners), hall has 4 corners."""
    if said := _SAID.search(phrase) or _CALLED.search(phrase):
        phrase = said[1].strip()
    aside = _ASIDE.search(phrase) or _HAS.search(phrase)
    if aside and (is_count(aside[1]) or _is_remark(aside[1])):
        phrase = phrase[: aside.start()]
    phrase = _EMPHASIS.sub(r"\2", _ENDING.sub("", phrase))
    opening = _MARK.match(phrase)
    return phrase[opening.end() :] if opening else phrase


def _is_remark(text: str) -> bool:
    """Whether a text says no more than a number or a measure of something: id 4, #4, 12.5 m2."""
    parts = [part.lower() for part in _REMARKED.split(text) if part]
    numbers = [
        part for part in parts if as_number(part.lstrip("#~").removesuffix("m²")) is not None
    ]
    words = [part for part in parts if part not in numbers]
    told = all(id_rank(word) is not None or word in _UNITS or word in BEHIND for word in words)
    return bool(numbers) and told and (bool(words) or text.startswith("#"))


def _is_numbered(words: list[str]) -> bool:
    """Whether words are a room's number and its name: room 4 hall."""
    named = any(any(map(str.isalpha, word)) for word in words[2:])
    return named and _bare(words[0]) in ROOM and words[1].rstrip(".):").isdigit()


def _uncounted(split: list[list[str]]) -> list[list[str]]:
    """Phrases without the numbers that count them: 1. hall, 2. kitchen, or #16 hall."""
    first = [words[0] for words in split if len(words) > 1]
    counted = len(first) == len(split) and (
        (len(split) > 1 and _in_turn([word.rstrip(".):,") for word in first]))
        or all(map(_NUMBER_SIGN.fullmatch, first))
    )
    return [words[1:] for words in split] if counted else split


def _in_turn(words: Sequence[str]) -> bool:
    """Whether words are whole numbers, each by one more than the last."""
    if not all(word.isdecimal() and len(word) < 9 for word in words):
        return False
    return all(int(b) == int(a) + 1 for a, b in itertools.pairwise(words))


def _core(words: list[str]) -> list[str]:
    while len(words) > 1 and _stands_before(words[0]) and _names(words[1:]):
        if words[1][0] == "(":
            break  # an aside belongs to the word before it
        words = words[1:]
    while len(words) > 1 and _bare(words[-1]) in BEHIND and _names(words[:-1]):
        words = words[:-1]
    return words


def _all_begin(split: Sequence[list[str]], at: int) -> bool:
    """Whether phrases have a word in common, or a version each, and name something without it.

    Most do so by a word that is unknown, and then the others by any (Hall, Entry).
    """
    if not all(len(words) > at + 1 for words in split):
        return False
    versions = all(_VERSION.fullmatch(words[at]) for words in split)
    if not versions and any(words[at] != split[0][at] for words in split):
        return False
    rest = [words[at + 1 :] for words in split]
    if _bare(split[0][at]) in ROOM and all(words[0].isdigit() for words in rest):
        return False  # room 4 hall
    told = sum(map(_names, rest))
    return told == len(rest) or (2 * told >= len(rest) and all(map(_worded, rest)))


def _worded(words: Sequence[str]) -> bool:
    return any(len(word) > 1 and any(map(str.isalpha, word)) for word in words)


def _leads(split: Sequence[list[str]], at: int) -> bool:
    """Whether the word that all phrases have there is no part of names: it is known to stand before
    them, or it is small and all that follows is not: called Hall, called Bath."""
    word = split[0][at]
    small = word.islower() and all(words[at + 1][:1].isupper() for words in split)
    return _stands_before(word) or _bare(word) in KNOWN or word in _DECLARING or small


def _untailed(split: list[list[str]], *, logged: bool) -> list[list[str]]:
    """Phrases without what all of them end in: `runs from`, or counts, `- 2 windows, size 8`."""
    while True:
        counted = all(len(words) > 2 and as_number(words[-1]) is not None for words in split)
        shorter = [words[:-1] for words in split]
        if counted and all(_shares_end(words, shorter[0], logged=logged) for words in shorter):
            split = [words[:-1] for words in shorter]
        elif not all(_shares_end(words, split[0], logged=logged) for words in split):
            return split
        else:
            split = shorter
            shorter = [words[:-1] for words in split]
            counted = all(len(words) > 1 and as_number(words[-1]) is not None for words in split)
            if counted and len({*map(tuple, shorter)}) == len({*map(tuple, split)}):
                split = shorter
        if all(len(words) > 1 and not any(map(str.isalnum, words[-1])) for words in split):
            return [words[:-1] for words in split]


def _shares_end(words: list[str], other: list[str], *, logged: bool) -> bool:
    """Whether two phrases end alike, in a small word that is none for a room: `runs from`.

    If they were not logged, in one that is known to stand behind names.
    """
    last, own = (one[-1].rstrip(".,;") for one in (other, words))
    small = (last.islower() and last.isalnum() and last not in ROOM) or last in _UNITS
    joined = len(words) > 1 and not any(map(str.isalnum, words[-2]))  # bath & co
    known = logged or last in BEHIND
    same = own == last or (logged and own.rstrip("s") == last.rstrip("s"))
    return small and known and len(words) > 1 and same and not joined


def _stands_before(word: str) -> bool:
    """Whether a word stands before names and is none of them: outline, map, v2."""
    return _bare(word) in BEFORE or _VERSION.fullmatch(word) is not None


def _bare(word: str) -> str:
    return word.lower().strip(".,:;-_#*")


def _names(words: Sequence[str]) -> bool:
    """Whether words name something: one of them is unknown, or a room has a number."""
    rest = [_bare(word) for word in words]
    if any(len(word) > 1 and any(map(str.isalpha, word)) and word not in KNOWN for word in rest):
        return True
    return any(
        (word in ROOM or word in NAMES) and (len(after) == 1 or after.isdigit())
        for word, after in itertools.pairwise(rest)
    )
