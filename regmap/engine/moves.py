"""Small moves of a pose in the picture: what they do to places along walls, and to the pose."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Real = TypeVar("Real", Floats, NDArray[np.float32])


def design_matrix(place: Floats, normal: Floats, *, affine: bool) -> Floats:
    """Derivatives (..., P) of the distance along `normal` by the pose's P parameters.

    `place` (..., 2) is centred and of about unit size. Parameters: shift x, y, growth, turn, and
    for an affine map stretch and shear.
    """
    parts = (place[..., 0], place[..., 1], normal[..., 0], normal[..., 1])
    return np.stack(columns(*parts, affine=affine), axis=-1)


def columns(x: Real, y: Real, nx: Real, ny: Real, *, affine: bool) -> list[Real]:
    """The columns of `design_matrix`, from places and normals by component."""
    found = [nx, ny, nx * x + ny * y, -nx * y + ny * x]
    if affine:
        found += [nx * x - ny * y, nx * y + ny * x]
    return found


def apply_step(poses: Floats, step: Floats, middle: Floats, half: float, *, affine: bool) -> Floats:
    """Poses after a small move in the picture about `middle`."""
    grow, turn = step[:, 2] / half, step[:, 3] / half
    stretch = step[:, 4] / half if affine else np.zeros(len(step))
    shear = step[:, 5] / half if affine else np.zeros(len(step))
    move = np.empty((len(step), 2, 2))
    move[:, 0, 0], move[:, 0, 1] = 1.0 + grow + stretch, -turn + shear
    move[:, 1, 0], move[:, 1, 1] = turn + shear, 1.0 + grow - stretch
    moved = np.empty_like(poses)
    moved[:, :, :2] = move @ poses[:, :, :2]
    centred = poses[:, :, 2] - middle
    moved[:, :, 2] = (move @ centred[..., None])[..., 0] + middle + step[:, :2]
    return moved
