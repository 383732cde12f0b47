"""Ground control points: room corners as pairs of places, spread as well as a floor allows.

Needs numpy alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from regmap import given
from regmap.errors import RegmapError

__all__ = ["MOST_PAIRS", "ControlPoint", "corner_pairs", "pair"]

Floats: TypeAlias = NDArray[np.float64]

MOST_PAIRS = 1000
"""More serve no tool, and take long to spread."""


@dataclass(frozen=True)
class ControlPoint:
    """A pair of places that are the same place.

    Attributes:
        name: of the room, and the number of its corner.
        image: (column, row) in px, (0, 0) at the outer corner of the first pixel.
        device: (x, y) in device units.
    """

    name: str
    image: tuple[float, float]
    device: tuple[float, float]


def corner_pairs(
    outlines: Mapping[str, tuple[Floats, ...]],
    to_image: Callable[[Floats], Floats],
    image_size: tuple[int, int],
    n: int,
) -> tuple[ControlPoint, ...]:
    """Return `n` corners that lie inside the picture, far from each other.

    Args:
        outlines: name -> rings, each (N, 2), device frame. A corner that several share is taken
            once, by its first name.
        to_image: device points (N, 2) -> picture points (N, 2), px.
        image_size: (width, height) px.
        n: how many.

    Raises:
        RegmapError: if the picture shows fewer than `n` different corners, or `n` is above
            `MOST_PAIRS`.
    """
    if not isinstance(n, int | np.integer):
        raise RegmapError(f"n is {given.short(n)}, but it must be a whole number")
    corners: dict[tuple[float, float], str] = {}
    for name, rings in outlines.items():
        for number, corner in enumerate(np.concatenate([*rings, np.empty((0, 2))]), start=1):
            corners.setdefault(pair(corner), f"{name} {number}")
    device = np.array(list(corners), dtype=np.float64).reshape(-1, 2)
    image = to_image(device)
    inside = np.all((image >= 0) & (image <= image_size), axis=1)
    seen = int(inside.sum())
    if not 1 <= n <= min(seen, MOST_PAIRS):
        raise RegmapError(
            f"{given.short(n)} control points were asked for, but the picture shows {seen} room "
            f"corners: ask for at least one, and at most {min(seen, MOST_PAIRS)}"
        )
    names = [name for name, shown in zip(corners.values(), inside.tolist(), strict=True) if shown]
    image, device = image[inside], device[inside]
    return tuple(
        ControlPoint(names[i], pair(image[i]), pair(device[i])) for i in _well_spread(image, n)
    )


def pair(values: ArrayLike) -> tuple[float, float]:
    """Return two numbers as a tuple of floats."""
    first, second = np.asarray(values, dtype=np.float64)
    return float(first), float(second)


def _well_spread(points: Floats, n: int) -> list[int]:
    """Return `n` indices: the two ends of the longest direction, then each time the loneliest."""
    _, _, axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    along = points @ axes[0]
    chosen = [int(along.argmin()), int(along.argmax())][:n]
    gaps = np.linalg.norm(points[:, None] - points[chosen], axis=2).min(axis=1)
    gaps[chosen] = -1.0
    while len(chosen) < n:
        chosen.append(int(gaps.argmax()))
        gaps = np.minimum(gaps, np.linalg.norm(points - points[chosen[-1]], axis=1))
        gaps[chosen[-1]] = -1.0
    return chosen
