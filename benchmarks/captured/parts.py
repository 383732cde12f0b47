"""What captures are put together from: rings, other things on the floor, times, the list of all."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.random import Generator

from benchmarks.spellings import Rooms, num, plain

__all__ = [
    "CAPTURES",
    "ODD",
    "Capture",
    "Ring",
    "Rooms",
    "Written",
    "box",
    "captured",
    "dump",
    "named",
    "num",
    "plain",
    "px",
    "shrunk",
    "stamp",
    "two",
    "walk",
]

Ring: TypeAlias = list[tuple[float, float]]
Written: TypeAlias = str | bytes | tuple[str | bytes, Rooms]
"""A text, and the rooms that it holds if they are not those that were given."""

Capture: TypeAlias = Callable[[Rooms, Generator], Written]

CAPTURES: dict[str, dict[str, Capture]] = {}
"""{set: {name: function}}."""

ODD = (
    "Kitchen & Dining", "Flur (EG)", "Bad/WC", "Chambre d'amis", "R-101", "Salle à manger",
    "Ванная", "寝室", "Guest room", "Büro Nord", "Werkstatt", "Den", "Studio 7", "Ankleide",
    "Vestíbulo", "Läsrum",
)  # fmt: skip


def captured(which: str) -> Callable[[Capture], Capture]:
    """Enter a capture into a set under its function's name."""

    def enter(function: Capture) -> Capture:
        CAPTURES.setdefault(which, {})[function.__name__.replace("_", " ")] = function
        return function

    return enter


def dump(value: object) -> str:
    """JSON with its letters as they are."""
    return json.dumps(value, ensure_ascii=False)


def box(rooms: Rooms, rng: Generator, size: float = 700.0) -> list[list[int]]:
    """An upright rectangle about a point of a room."""
    rings = list(rooms.values())
    centre = np.array(rings[int(rng.integers(len(rings)))]).mean(axis=0) + rng.normal(0, 150, 2)
    half = np.array(rng.uniform(0.4, 1.2, 2)) * size / 2
    x0, y0, x1, y1 = (int(v) for v in np.round([*(centre - half), *(centre + half)]))
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


def walk(rooms: Rooms, rng: Generator, count: int = 60) -> list[list[int]]:
    """A driven path."""
    corners = np.concatenate([np.array(ring) for ring in rooms.values()])
    way = corners.mean(axis=0) + rng.normal(0, 220, (count, 2)).cumsum(axis=0)
    return [[int(x), int(y)] for x, y in way]


def two(rooms: Rooms, rng: Generator) -> list[list[int]]:
    """A barrier of two points."""
    return box(rooms, rng, 1500)[::2]


def stamp(second: int) -> str:
    time = f"{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
    return f"2032-09-{1 + second // 86400:02d}T{time}Z"


def px(ring: Ring) -> list[list[float]]:
    """The same ring in the pixels of some screen."""
    return [[round(400 + 0.02 * x, 1), round(300 - 0.02 * y, 1)] for x, y in ring]


def named(rooms: Rooms, names: tuple[str, ...] | list[str]) -> dict[str, Ring]:
    return dict(zip(names, rooms.values(), strict=False))


def shrunk(ring: Ring) -> Ring:
    """The ring as it was before: a little smaller."""
    centre = np.mean(ring, axis=0)
    return [(float(x), float(y)) for x, y in np.round((np.array(ring) - centre) * 0.97 + centre, 1)]
