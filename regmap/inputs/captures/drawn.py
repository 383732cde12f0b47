"""Paths of drawings: a pen moves and draws lines, to places or by steps (SVG 2, section 9.3).

Curves are no walls, so paths with curves are no outlines.
"""

from __future__ import annotations

import re

from regmap.inputs.captures.numerals import PURE

__all__ = ["PATH_DATA", "drawn_rings", "is_curved"]

PATH_DATA = rf"[Mm]\s*+{PURE}(?:[\s,]*+(?:[Zz]\s*+[Mm]|[LlHhVvMm])?\s*+{PURE}){{4,}}+\s*+[Zz]?+"
"""Path data without curves, of three points or more."""

_ANY_DATA = re.compile(
    rf"\s*+[Mm]\s*+{PURE}(?:[\s,]*+(?:[A-Za-z][\s,]*+)?{PURE}|\s*+[Zz](?![A-Za-z]))++\s*+\Z"
)
_CURVES = frozenset("AaCcSsQqTt")
_PART = re.compile(rf"([A-Za-z])|({PURE})")


def drawn_rings(text: str) -> list[list[tuple[float, float]]]:
    """Return the corners of each part of path data, in the drawing's unit; none if it is broken."""
    rings: list[list[tuple[float, float]]] = []
    pen = "M"
    x = y = 0.0
    pending: list[float] = []
    for letter, number in _PART.findall(text):
        if letter:
            if pending:  # half a place: what follows would begin anywhere
                return []
            pen = letter
            if letter in "Zz" and rings:
                x, y = rings[-1][0]
            continue
        pending.append(float(number))
        command, by_steps = pen.upper(), pen.islower()
        if command in "ML" and len(pending) < 2:
            continue
        step_x = pending[0] if command != "V" else (0.0 if by_steps else x)
        step_y = pending[-1] if command != "H" else (0.0 if by_steps else y)
        x, y = (x + step_x, y + step_y) if by_steps else (step_x, step_y)
        if command == "M":
            rings.append([])
            pen = "l" if by_steps else "L"  # what follows without a letter is drawn
        rings[-1].append((x, y))
        pending = []
    return rings


def is_curved(text: str) -> bool:
    """Whether a text is path data with curves."""
    return (
        text.lstrip()[:1] in ("M", "m")
        and not _CURVES.isdisjoint(text)
        and bool(_ANY_DATA.match(text))
    )
