"""Fits to straight walls, made by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from regmap.engine.measure import Fit
from tests.engine import boxes

Floats = NDArray[np.float64]

SIZE = np.array([640.0, 480.0])


def walls(rng: np.random.Generator, count: int, *, angles: tuple[float, ...] = (0, 90, 35)) -> Fit:
    """Chunks on `count` straight walls, no two in one line, nothing wrong with them yet."""
    places, normals, owner = [], [], []
    for number in range(count):
        angle = np.deg2rad(angles[number % len(angles)])
        along, normal = (
            np.array([np.cos(angle), np.sin(angle)]),
            np.array([-np.sin(angle), np.cos(angle)]),
        )
        # Evenly over the picture, by rank within its direction.
        level = (number // len(angles) + 0.5) * len(angles) / count - 0.5
        middle = 0.5 * SIZE + 420.0 * level * normal + rng.uniform(-120, 120) * along
        reach = rng.uniform(40.0, 160.0)
        steps = np.linspace(-reach, reach, 10)
        places.append(middle + steps[:, None] * along)
        normals.append(np.tile(normal * rng.choice([-1.0, 1.0]), (10, 1)))
        owner.append(np.full(10, number))
    wall = np.concatenate(owner)
    return boxes.made_fit(
        np.concatenate(places),
        np.concatenate(normals),
        np.zeros(len(wall)),
        wall=wall,
        outer=wall % 4 == 0,
    )


def disturbed(fit: Fit, rng: np.random.Generator, *, wall_px: float, chunk_px: float) -> Fit:
    """The same with something wrong with each wall as a whole, and with each chunk."""
    shared = rng.normal(0.0, wall_px, int(fit.chunks.wall.max()) + 1)[fit.chunks.wall]
    return replace(fit, residual=shared + rng.normal(0.0, chunk_px, len(fit.residual)))
