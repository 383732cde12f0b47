"""Room outlines in nearly any text: logs, messages, tables, documents.

`capture_unpack` makes text of bytes, `capture_tree` a tree of the text, `capture_points` finds
every sequence of points in the tree, and `capture_choice` decides which of them are the rooms.
"""

from __future__ import annotations

import bisect
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from regmap.errors import OutlineError
from regmap.inputs.capture_choice import choose, shapes_of
from regmap.inputs.capture_clues import find
from regmap.inputs.capture_names import Shape
from regmap.inputs.capture_tree import build
from regmap.inputs.capture_unpack import Budget, decoded, unpacked

__all__ = ["Candidate", "list_candidates", "parse_outlines", "read_outlines"]


@dataclass(frozen=True, eq=False)
class Candidate:
    """A sequence of points that may be a room's outline.

    Attributes:
        name: what it would be called.
        key: the keys that lead to it, with dots between; `key=` takes any part of it.
        line: the line of the text on which it begins, counted from 1.
        points: (N, 2) as they stand in the text.
        area: what they enclose, in their unit squared; nan if they cross each other.
        chosen: whether it is among the outlines that are returned.
    """

    name: str
    key: str
    line: int
    points: NDArray[np.float64]
    area: float
    chosen: bool


def read_outlines(path: str | os.PathLike[str], *, key: str | None = None) -> dict[str, Polygon]:
    """Read room outlines from a file: see `parse_outlines`."""
    try:
        data = Path(path).read_bytes()
    except (OSError, ValueError) as error:
        raise OutlineError(f"cannot read the outlines from {str(path)!r}: {error}") from error
    return parse_outlines(data, key=key)


def parse_outlines(text: str | bytes, *, key: str | None = None) -> dict[str, Polygon]:
    """Find the rooms' outlines in a text and return them as `{name: polygon}`."""
    candidates = _candidates(text, key)
    return {s.name: s.polygon for s in candidates if s.chosen and s.polygon is not None}


def list_candidates(text: str | bytes, *, key: str | None = None) -> tuple[Candidate, ...]:
    """Return everything in a text that may be an outline, in the order of the text."""
    plain = text if isinstance(text, str) else decoded(text, Budget())
    breaks = [i for i, c in enumerate(plain) if c == "\n"]
    return tuple(
        Candidate(
            s.name,
            ".".join(s.found.path),
            bisect.bisect_left(breaks, s.found.offset) + 1,
            s.found.points,
            s.polygon.area if s.polygon is not None else float("nan"),
            s.chosen,
        )
        for s in _candidates(plain, key)
    )


def _candidates(text: str | bytes, key: str | None) -> list[Shape]:
    budget = Budget()
    plain = text if isinstance(text, str) else decoded(text, budget)
    packed = unpacked(plain.strip(), budget) if len(plain) < 2**26 else None
    found, tables = find(build(plain if packed is None else packed, budget))
    shapes = shapes_of(found)
    wanted = [s for s in shapes if key is None or key.lower() in ".".join(s.found.path).lower()]
    chosen = choose(wanted, tables)
    if not chosen:
        raise OutlineError(
            f"no room outlines were found in the text ({len(shapes)} sequences of points in all)"
        )
    for shape in chosen:
        shape.chosen = True
    return shapes
