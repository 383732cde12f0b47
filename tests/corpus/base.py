"""What the spellings of the corpus are made with: the floors, and the list that they enter."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

__all__ = [
    "CORPUS",
    "FLOORS",
    "NO_GO",
    "WAY",
    "Case",
    "Rings",
    "entered",
    "ints",
    "num",
    "numbered",
    "pairs",
]

Rings = Mapping[str, list[tuple[float, float]]]


@dataclass(frozen=True)
class Case:
    """A spelling; `expected` gives names and rings where they differ from those written."""

    name: str
    write: Callable[[Rings], str | bytes]
    expected: Callable[[Rings], Rings]


CORPUS: list[Case] = []


def entered(
    expected: Callable[[Rings], Rings] = lambda rings: rings,
) -> Callable[[Callable[[Rings], str | bytes]], Callable[[Rings], str | bytes]]:
    def enter(write: Callable[[Rings], str | bytes]) -> Callable[[Rings], str | bytes]:
        CORPUS.append(Case(write.__name__, write, expected))
        return write

    return enter


def _stairs() -> Rings:
    """Eleven rooms whose borders run along square cells, as a robot's grid has them."""
    rng = np.random.default_rng(5)
    rooms = {}
    for i in range(11):
        left, low = 25000 + 3000 * (i % 4), -18000 + 2500 * (i // 4)
        heights = 1500 + 50 * rng.integers(0, 12, 8)
        ring: list[tuple[float, float]] = [(left, low), (left + 8 * 350, low)]
        for k in range(7, -1, -1):
            ring += [(left + (k + 1) * 350, low + heights[k]), (left + k * 350, low + heights[k])]
        clean = [ring[0], ring[1]]
        for point in ring[2:]:
            if point != clean[-1]:
                clean.append((float(point[0]), float(point[1])))
        rooms[f"Room {i + 1}" if i % 3 else f"Zimmer {chr(65 + i)}"] = clean
    return rooms


FLOORS: dict[str, Rings] = {
    "three": {
        "Küche": [(0, 0), (4200, 0), (4200, 3100), (0, 3100)],
        "Bad": [(-2100, 0), (-100, 0), (-100, 1500), (-900, 1500), (-900, 3100), (-2100, 3100)],
        "Living room": [(0, 3200), (6400, 3200), (6400, 8000), (2500, 8000), (0, 6500)],
    },
    "six": {
        "Room 1": [(1000.5, 2000.25), (4000.5, 2000.25), (4000.5, 5000.75), (1000.5, 5000.75)],
        "Room 2": [(4100.5, 2000.25), (7000, 2000.25), (7000, 5000.75), (4100.5, 5000.75)],
        "Büro Süd": [(-3000, -2000), (900, -2000), (900, 1900), (-1000, 1900), (-3000, 500)],
        "WC": [(-3000, 600), (-1100, 2000), (-3000, 2000)],
        "Kids' room": [(1000, -2000), (7000, -2000), (7000, 1900), (1000, 1900)],
        "Flur/Diele": [(-3000, 2100), (900, 2100), (900, 5000), (-500, 5000), (-3000, 4000)],
    },
    "stairs": _stairs(),
}


def ints(ring: list[tuple[float, float]]) -> list[list[float]]:
    return [[int(v) if float(v).is_integer() else float(v) for v in point] for point in ring]


def num(value: float) -> str:
    return format(value, ".12g")


def pairs(ring: Sequence[Sequence[float]], inner: str = ",", outer: str = ";") -> str:
    return outer.join(f"{num(x)}{inner}{num(y)}" for x, y in ring)


def numbered(first: int = 1) -> Callable[[Rings], Rings]:
    return lambda rings: {str(i): ring for i, ring in enumerate(rings.values(), first)}


WAY = [[0, 0], [500, 40], [900, 300], [400, 800], [700, 100], [100, 900], [950, 950], [20, 400]]
NO_GO = [[100, 100], [700, 100], [700, 800], [100, 800]]
