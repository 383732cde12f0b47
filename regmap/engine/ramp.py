"""A threshold that is not a step: evidence just below it says a little less than just above."""

from __future__ import annotations


def ramp(value: float, low: float, high: float) -> float:
    """0 up to `low`, 1 from `high` on, straight between; the other way round if `high` < `low`."""
    return float(min(max((value - low) / (high - low), 0.0), 1.0))
