"""Whether a text ends within a room's outline, or within the list of the rooms, and what of that
is to be told.

Brackets and elements that nothing closes say so themselves. A list of lines does not: there the
last outline is known for cut off by how all the others are drawn.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from regmap.inputs.captures.numerals import PURE, Points
from regmap.inputs.captures.shapes import Shape

__all__ = ["mark_unended", "told_cut_off", "without_cut_tag"]

_CUT_TAG = re.compile(r"</?[^\W\d][^<>]{0,400}\Z|</?\Z")
_TAG = re.compile(r"<[^\W\d][^<>]{0,400}>")
_NUMBER = re.compile(PURE)
_LOCAL = re.compile(r"[-+]?\d+,\d+")
_DIGITS = re.compile(r"[-+\d.]+")
_CLOSED = re.compile(r"[\])}>][\])}>\"'\s,;]*[\])}>]\s*\Z")
_TAIL = 120
"""The last point stands among so many last characters of a text that ends within its outline."""

_BESIDE = 4
"""How far before the last number of a text that of its last point's other axis may stand."""

_SCALES = np.array((1.0, 10.0, 1000.0))
"""Centimetres and metres may have been brought into millimetres."""

_FEWEST = 2
"""So many other outlines tell how outlines are drawn."""

_SQUARE = 0.1
"""The cosine of a corner that is no right angle, at least."""


def without_cut_tag(text: str) -> str:
    """Return a text without an element's tag at its end that was cut off."""
    found = _CUT_TAG.search(text, max(len(text) - 403, 0))
    return text[: found.start()] if found and _TAG.search(text) else text


def mark_unended(shapes: Sequence[Shape], text: str) -> None:
    """Mark the last outline of a text if the text seems to end within it.

    That is so if all others of its kind end where they began, and it does not; or if all their
    corners are square, and so are its own but for those at the wall that would close it, and the
    text ends with its last corner.
    """
    last = max(shapes, key=lambda shape: (shape.found.offset, shape.order), default=None)
    if last is None or last.polygon is None or last.found.cut or last.found.closed:
        return
    others = [s for s in shapes if s is not last and s.pattern == last.pattern and not s.found.cut]
    if len(others) < _FEWEST:
        return
    if all(map(_is_closed, others)):
        last.unended = not _is_closed(last)
    elif not any(map(_is_closed, (last, *others))) and _ends_with(text, last.found.points[-1]):
        whole = all(not _askew(other.found.points) for other in others)
        askew = _askew(last.found.points)
        last.unended = whole and bool(askew) and askew <= {0, len(last.found.points) - 1}


def told_cut_off(rooms: Sequence[Shape], shapes: Sequence[Shape], *, open_end: bool) -> str:
    """Return what is to be told of a text that was cut off, or "".

    `open_end`: it ends before something in it is closed.
    """
    kinds = {room.pattern for room in rooms}
    newest = {room.name: room.order for room in rooms}
    for shape in shapes:
        cut = shape.found.cut or (shape.unended and not shape.chosen)
        if cut and shape.pattern in kinds and newest.get(shape.name, -1) < shape.order:
            left = "an older one of it is taken" if shape.name in newest else "it is left out"
            return (
                f"the outline of {shape.name!r} was cut off after {len(shape.found.points)} points;"
                f" {left}, and rooms behind it may be missing"
            )
    if any(not room.found.ended for room in rooms):
        last = max(rooms, key=lambda room: room.order)
        return (
            f"what lists {last.name!r} was cut off behind it, so that rooms or what is said of "
            "them may be missing"
        )
    if open_end:
        return "the text ends before a bracket or an element in it is closed; rooms may be missing"
    return ""


def _is_closed(shape: Shape) -> bool:
    points = shape.found.points
    return bool((points[0] == points[-1]).all())


def _askew(ring: Points) -> set[int]:
    """The places of corners that are no right angles."""
    walls = np.roll(ring, -1, axis=0) - ring
    before = np.roll(walls, 1, axis=0)
    lengths = np.hypot(*walls.T) * np.hypot(*before.T)
    cosines = np.abs((walls * before).sum(axis=1))
    return set(np.flatnonzero(cosines >= _SQUARE * lengths).tolist())


def _without_cut_line(tail: str) -> str:
    """Return the end of a text without its last line, if that begins like the one above but for
    numbers, and is shorter or has fewer of them."""
    above, _, last = tail.rstrip().rpartition("\n")
    before = above.rpartition("\n")[2].rstrip()
    begun, whole = _DIGITS.sub("", last), _DIGITS.sub("", before)
    shorter = len(begun) < len(whole) or len(_DIGITS.findall(last)) < len(_DIGITS.findall(before))
    return above if shorter and whole.startswith(begun) else tail


def _ends_with(text: str, point: Points) -> bool:
    """Whether a text ends with a point, and nothing closes more than it."""
    tail = _without_cut_line(text[-_TAIL:])
    if _CLOSED.search(tail):
        return False
    for numbers in (_NUMBER.findall(tail), _LOCAL.findall(tail)):
        values = np.array([float(number.replace(",", ".")) for number in numbers[-_BESIDE:]])
        near = np.isclose(values[:, None] * _SCALES, point[:, None, None], rtol=1e-9, atol=1e-6)
        if near.any(axis=(1, 2)).all() and near[:, -1].any():
            return True
    return False
