"""What everybody who uses a zone must have read. It stands beside all that a robot may be given."""

from __future__ import annotations

__all__ = ["CAUTION"]

CAUTION = (
    "A zone is no safety barrier: do not trust it with stairs, children, animals or wet floors. "
    "Watch the robot's first run. Local codes and licensed practice come first."
)
