"""Where a fit expects the drawn borders: the outlines, each side moved by its own wall offset.

Inner and outer walls differ in thickness, so that one offset does not serve all sides. A fit's
residual samples lie on the outlines as they were moved; from them each side's own offset is read.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from regmap.registration import Registration

__all__ = ["borders"]

Floats = NDArray[np.float64]

_BIN_PX = 0.25  # offsets that differ by less count as one
_FLAT = 0.25  # sine below which two sides go on in one direction
_FEW = 2  # samples that a side must have before they are believed


def borders(fit: Registration) -> list[tuple[str, Floats]]:
    """Return (room, ring) pairs, rings (N, 2) px, not closed, outer rings and holes alike."""
    usual = fit.wall_offset / fit.unit_per_px
    samples = np.asarray(fit.residuals, dtype=np.float64)[:, :2]
    moved = []
    for name, rings in fit.outlines.items():
        for number, ring in enumerate(rings):
            px = fit.to_image(ring)
            normals = _outward(px, hole=number > 0)
            offsets = _offsets(px, normals, samples, usual)
            moved.append((name, np.array(list(_moved(px, normals, offsets)))))
    return moved


def _outward(ring: Floats, *, hole: bool) -> Floats:
    """Return the unit normals (N, 2) of the sides, away from the room; 0 for sides of no length."""
    side = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(side[:, 0], side[:, 1])[:, None]
    left = np.column_stack([-side[:, 1], side[:, 0]]) / np.maximum(length, 1e-12)
    x, y = (ring - ring[0]).T
    doubled_area = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
    away: Floats = left if (doubled_area < 0) != hole else -left
    return away


def _offsets(ring: Floats, normals: Floats, samples: Floats, usual: float) -> Floats:
    """Return (N,) px by which each side is moved: where most of its samples lie.

    A side's own samples all lie at one distance from it; those of other walls, which cross its
    strip, are spread. A side without samples takes the usual offset.
    """
    found = np.full(len(ring), usual)
    reach = 2.5 * abs(usual) + 3.0
    ends = np.roll(ring, -1, axis=0)
    for index, (start, end, normal) in enumerate(zip(ring, ends, normals, strict=True)):
        along = end - start
        from_start = samples - start
        share = from_start @ along / max(float(along @ along), 1e-12)
        away = from_start @ normal
        own = np.sort(away[(share >= 0) & (share <= 1) & (np.abs(away) <= reach)])
        if len(own) >= _FEW:
            first = np.searchsorted(own, own - _BIN_PX, "left")
            last = np.searchsorted(own, own + _BIN_PX, "right")
            # Of equally crowded places that which is nearest to the usual one.
            best = int(np.argmax(last - first - 1e-3 * np.abs(own - usual)))
            found[index] = float(np.median(own[first[best] : last[best]]))
    return found


def _moved(ring: Floats, normals: Floats, offsets: Floats) -> Iterator[Floats]:
    """Yield the corners of a ring whose sides were moved: where the moved sides meet.

    Where two sides go on in one direction, or meet in a spike, both their ends are kept.
    """
    for index, corner in enumerate(ring):
        one, two = normals[index - 1], normals[index]
        first, second = float(offsets[index - 1]), float(offsets[index])
        turn = float(one[0] * two[1] - one[1] * two[0])
        if abs(turn) >= _FLAT:
            x = (first * two[1] - second * one[1]) / turn
            y = (one[0] * second - two[0] * first) / turn
            if np.hypot(x, y) <= 3.0 * max(abs(first), abs(second)):
                yield corner + np.array([x, y])
                continue
        elif abs(first - second) < _BIN_PX:
            yield corner + (one * first + two * second) / 2
            continue
        yield corner + one * first
        yield corner + two * second
