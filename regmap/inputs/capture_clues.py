"""What stands beside an outline in a text and may name it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from regmap.inputs.capture_groups import Group, Value, Word, text_of, unwrap
from regmap.inputs.capture_numbers import Numbers, as_number

__all__ = ["Clue", "Trail", "clues_of", "moment_of"]

Trail: TypeAlias = list[tuple[Group, int]]
"""The groups that lead to an outline, outermost first, each with the place of the next in it."""

_MOST_CLUES = 60


@dataclass(frozen=True, slots=True)
class Clue:
    """Something that stands beside an outline and may name it.

    Attributes:
        key: what stands before it; "" for words that stand alone.
        text: the value; `quoted` words are rarer by chance than numbers.
        far: how many groups lie between it and the outline; `outside`: it belongs to a whole list
            of which the outline is one element.
        source: the place in the text, equal for two outlines that share the clue.
    """

    key: str
    text: str
    number: bool
    far: int
    outside: int
    source: tuple[int, int]


def moment_of(trail: Trail) -> int:
    """The innermost group on the way that lists several groups."""
    for group, _ in reversed(trail):
        if sum(isinstance(value, Group) for _, value in group.items) > 1 and group.kind != "{":
            return group.serial
    return trail[0][0].serial


def clues_of(trail: Trail, own: range, holding: set[int]) -> list[Clue]:
    clues: list[Clue] = []
    outside = 0
    for far, (group, index) in enumerate(reversed(trail)):
        clues += _beside(group, index, far, outside)
        for at, (key, value) in enumerate(group.items[:_MOST_CLUES]):
            if key is None or at == index or (far == 0 and at in own):
                continue
            if isinstance(value, Group) and value.serial in holding:
                continue
            clues += _scalars(key, value, far, outside, (group.serial, at))
        level = len(trail) - 1 - far
        if level > 0:
            parent, at = trail[level - 1]
            clues += _parallel(group, index, parent, at, far, outside)
        siblings = [v for k, v in group.items if k is None and isinstance(v, Group)]
        if len(siblings) > 1 and far > 0 and group.kind != "line":
            outside += 1
    return clues


def _scalars(
    key: str, value: Value, far: int, outside: int, source: tuple[int, int], deep: int = 1
) -> Iterator[Clue]:
    text = text_of(value)
    if text is not None:
        if text and len(text) < 200:
            yield Clue(key, text, as_number(text) is not None, far, outside, source)
    elif deep and isinstance(value, Group) and len(value.items) < 30:
        for at, (inner, below) in enumerate(value.items):
            if inner is not None and not isinstance(below, Numbers):
                yield from _scalars(inner, below, far, outside, (value.serial, at), 0)


def _beside(group: Group, index: int, far: int, outside: int) -> Iterator[Clue]:
    """Words without a key: those right before, else those right after."""
    before = _words(group, range(index - 1, -1, -1))
    text = " ".join(reversed(before)) or " ".join(_words(group, range(index + 1, len(group.items))))
    if text and len(text) < 200:
        yield Clue("", text, False, far, outside, (group.serial, index))


def _words(group: Group, indices: Iterable[int]) -> list[str]:
    words: list[str] = []
    for at in indices:
        key, value = group.items[at]
        if key is not None or not isinstance(value, str):
            break
        if not isinstance(value, Word):
            return words or [value]
        words.append(value)
    return words


def _parallel(
    group: Group, index: int, parent: Group, at: int, far: int, outside: int
) -> Iterator[Clue]:
    """The value at the same place in a list beside this list."""
    count = len(group.items)
    if count < 1 or parent.kind not in "{<([":
        return
    for other, (key, value) in enumerate(parent.items[:_MOST_CLUES]):
        value = unwrap(value)
        if other == at or key is None or not isinstance(value, Group):
            continue
        if len(value.items) == count and value is not group:
            text = text_of(value.items[index][1])
            if text:
                number = as_number(text) is not None
                yield Clue(key, text, number, far, outside, (value.serial, index))
