"""Two sets of outlines -> every turn and shift that may lay the one on the other. Arrays, in mm.

The turn comes from the walls' directions, the shift from a correlation of wall pictures over the
whole plane, so that nothing is overlooked: a floor that looks the same turned by 180 degrees gives
two poses.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from regmap.floors.outline_walls import OutlineWalls
from regmap.floors.rigid import Pose

__all__ = ["find_poses"]

Floats = NDArray[np.float64]

_HEADINGS, _SHIFTS = 24, 6
_APART_DEG, _APART_MM = 7, 300.0
_CELLS = 160
_CELL_MM = 60.0
_BLUR_MM = 110.0
_BLUR_DEG = 2.0
_WORTH = 0.4


def find_poses(old: OutlineWalls, new: OutlineWalls) -> list[Pose]:
    """Return poses old -> new, the likeliest first: the best shifts at each likely turn."""
    radius = max(old.radius, new.radius)
    cell = max(_CELL_MM, 2.0 * radius / _CELLS)
    size = int(fft.next_fast_len(int(2.0 * (old.radius + new.radius) / cell) + 12))
    blur = np.exp(-0.5 * (2 * np.pi * np.fft.fftfreq(size) * _BLUR_MM / cell) ** 2)
    target = fft.fft2(_picture(new.point - new.centre, new.normal, size, cell))
    target *= np.outer(blur, blur)
    found: list[tuple[float, Pose]] = []
    for angle in _headings(old, new):
        turn = Pose(angle).turn
        moving = _picture((old.point - old.centre) @ turn.T, old.normal @ turn.T, size, cell)
        agreement = fft.ifft2(target * np.conj(fft.fft2(moving))).real
        for value, shift in _peaks(agreement, cell):
            x, y = shift + new.centre - turn @ old.centre
            found.append((value, Pose(angle, 1.0, (float(x), float(y)))))
    found.sort(key=lambda entry: -entry[0])
    return [pose for value, pose in found if value >= _WORTH * found[0][0]]


def _headings(old: OutlineWalls, new: OutlineWalls) -> list[float]:
    """Turns old -> new, radians, at which most walls face the same way, the best first."""
    before, after = (np.fft.fft(_facing(walls)) for walls in (old, new))
    agreement = np.fft.ifft(after * np.conj(before)).real
    left = agreement.copy()
    least = left.min() + 0.25 * np.ptp(left)
    chosen: list[float] = []
    while len(chosen) < _HEADINGS and left.max() > least:
        best = int(left.argmax())
        low, mid, high = agreement[np.arange(best - 1, best + 2) % 360]
        part = 0.5 * (low - high) / min(low - 2.0 * mid + high, -1e-12)
        chosen.append(float(np.radians(best + np.clip(part, -0.5, 0.5))))
        left[np.arange(best - _APART_DEG, best + _APART_DEG + 1) % 360] = -np.inf
    return chosen or [0.0]


def _facing(walls: OutlineWalls) -> Floats:
    """How much wall faces each of 360 directions, blurred; long walls tell their direction best."""
    degree = np.degrees(np.arctan2(walls.normal[:, 1], walls.normal[:, 0])) % 360.0
    weight = walls.weight * np.bincount(walls.wall, walls.weight)[walls.wall]
    low = np.floor(degree).astype(np.intp)
    part = degree - low
    counts = np.bincount(low % 360, weight * (1.0 - part), minlength=360)
    counts += np.bincount((low + 1) % 360, weight * part, minlength=360)
    blur = np.exp(-0.5 * (2 * np.pi * np.fft.fftfreq(360) * _BLUR_DEG) ** 2)
    return np.asarray(np.fft.ifft(np.fft.fft(counts) * blur).real)


def _picture(point: Floats, normal: Floats, size: int, cell: float) -> NDArray[np.complex128]:
    """Walls on a periodic grid, drawn with twice their direction as a complex number.

    Doubled, the two faces of a wall add up instead of cancelling, and walls across count against.
    """
    value = (normal[:, 0] + 1j * normal[:, 1]) ** 2
    column, row = (np.floor(point / cell).astype(np.intp) % size).T
    flat = row * size + column
    real = np.bincount(flat, value.real, minlength=size * size)
    imaginary = np.bincount(flat, value.imag, minlength=size * size)
    return np.asarray((real + 1j * imaginary).reshape(size, size))


def _peaks(agreement: Floats, cell: float) -> list[tuple[float, Floats]]:
    """The highest places of a periodic grid, some way apart, as (value, shift in mm)."""
    left = agreement.copy()
    size = len(left)
    reach = max(1, round(_APART_MM / cell))
    around = np.arange(-reach, reach + 1)
    found = []
    for _ in range(_SHIFTS):
        row, column = np.unravel_index(int(left.argmax()), left.shape)
        shift = np.array([column, row], dtype=np.float64)
        shift[shift > size / 2] -= size
        found.append((float(left[row, column]), shift * cell))
        left[np.ix_((row + around) % size, (column + around) % size)] = -np.inf
    return found
