"""What a person wants to know of a fit, in words and few figures.

The proof picture and the command line both speak from here, so that they say the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from regmap.given import instance
from regmap.registration import Registration, RoomFit
from regmap.units import size_in_words

__all__ = ["FloorError", "Summary", "floor_error", "quantity"]

MOST_NAMES = 15
"""Rooms that a summary names before it only counts them."""


def quantity(value: float, unit: str) -> str:
    """Write a length with as many digits as a person can use: '7.3 mm', '41 mm', '0.018 mm'."""
    digits = 0 if abs(value) >= 10 else 1
    if unit == "mm" and (value == 0 or abs(value) >= 0.1):
        return f"{value:.{digits}f} {unit}"
    return f"{value:.{2 if unit == 'mm' else 3}g} {unit}"


@dataclass(frozen=True)
class FloorError:
    """Predicted error (CE95: 95 % of true errors are smaller) over the floor, in device units."""

    least: float
    median: float
    worst: float


def floor_error(fit: Registration) -> FloorError:
    """Return the least, median and worst predicted error over the floor's `floor_points`."""
    from regmap.areas.floor import floor_points  # shapely

    errors = fit.expected_error(floor_points(fit))
    return FloorError(float(errors.min()), float(np.median(errors)), float(errors.max()))


@dataclass(frozen=True)
class Summary:
    """A fit in words.

    Attributes:
        verdict: one sentence: may it be used?
        confidence: what the confidence says.
        figures: (name, value) pairs, each value with its unit and what it is.
        reasons: why the confidence is not higher and what would raise it.
        others: what else fits as well.
    """

    verdict: str
    confidence: str
    figures: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]
    others: tuple[str, ...]

    @classmethod
    def of(cls, fit: Registration) -> Summary:
        """Put a fit into words."""
        if instance(fit, Registration, "fit").doubtful:
            verdict = "DOUBTFUL: do not use this fit before you have looked at it"
        else:
            verdict = "The outlines fit this picture"
        share = int(100 * fit.confidence + 1e-9)  # never rounded up to certainty
        confidence = f"{0.01 * share:.2f} (of the fits that say so, {share} in 100 are right)"
        return cls(
            verdict,
            confidence,
            _figures(fit),
            tuple(fit.reasons),
            tuple(_other(fit, other) for other in fit.alternatives),
        )


def _figures(fit: Registration) -> tuple[tuple[str, str], ...]:
    error = floor_error(fit)
    scale = f"{fit.unit_per_px:.4g} {fit.unit} a pixel"
    side = "inside" if fit.wall_offset >= 0 else "outside"
    offset = f"the outlines lie {quantity(abs(fit.wall_offset), fit.unit)} {side} the drawn borders"
    if abs(fit.wall_offset) < 0.05 * fit.unit_per_px:
        offset = "none: the outlines lie on the drawn borders"
    return (
        (
            "predicted error",
            f"half of the floor within {quantity(error.median, fit.unit)}, "
            f"all of it within {quantity(error.worst, fit.unit)} (at 95 %)",
        ),
        (
            "reprojection error",
            f"{fit.reprojection_error:.2f} px RMSE (how well lines match, not how right they are)",
        ),
        ("wall offset", offset),
        (
            "position",
            f"{scale}, turned {fit.rotation_deg:.2f} deg"
            + (", MIRRORED (or the robot's y points down)" if fit.mirrored else ", not mirrored")
            + f", {fit.model}",
        ),
        ("floor", _size(fit)),
        ("rooms", _rooms(fit.rooms)),
    )


def _size(fit: Registration) -> str:
    outer = [rings[0] for rings in fit.outlines.values()]
    width, height = np.ptp(np.concatenate(outer), axis=0).tolist()
    longest = max(float(np.ptp(ring, axis=0).max()) for ring in outer)
    return size_in_words(width, height, longest, fit.unit)


def _rooms(rooms: tuple[RoomFit, ...]) -> str:
    parts = [f"{sum(room.state == 'agrees' for room in rooms)} of {len(rooms)} agree"]
    for state, words in (("disagrees", "disagree"), ("not shown", "not shown")):
        names = [room.name for room in rooms if room.state == state]
        if names:
            more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
            parts.append(f"{words}: {', '.join(names[:MOST_NAMES])}{more}")
    return "; ".join(parts)


def _other(fit: Registration, other: Registration) -> str:
    turn = 180 - (180 - round(other.rotation_deg - fit.rotation_deg)) % 360  # within (-180, 180]
    size = other.unit_per_px / fit.unit_per_px
    parts = ["mirrored" if other.mirrored != fit.mirrored else "not mirrored"]
    parts.append(f"turned by {turn} deg")
    if abs(size - 1) > 0.01:
        parts.append(f"{size:.2f} times the size")
    width, height = fit.image_size
    middle = np.array([[width / 2, height / 2]])
    away = float(np.hypot(*(other.to_device(middle) - fit.to_device(middle))[0]))
    parts.append(f"the picture's middle {quantity(away, fit.unit)} away")
    return f"{', '.join(parts)} (confidence {other.confidence:.2f})"
