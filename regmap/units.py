"""Units of length that are known by their names, and whether a floor can be of a size.

A capture does not say its unit, and a fit is right in any: what a wrong one spoils are margins,
georeferences and every length that a person reads.
"""

from __future__ import annotations

__all__ = ["NAMES", "UNITS_MM", "size_in_words"]

UNITS_MM = {"mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Units that are known, and their lengths in mm."""

NAMES = {
    "mm": "millimetre",
    "cm": "centimetre",
    "dm": "decimetre",
    "m": "metre",
    "in": "inch",
    "ft": "foot",
}
"""What ISO 19162 calls them."""

# No robot that maps drives in rooms that are all shorter than the least, and halls are shorter
# than the most.
_LEAST_M, _MOST_M = 1.0, 500.0


def size_in_words(width: float, height: float, room: float, unit: str) -> str:
    """Say how large a floor is, and whether its unit may be a wrong one.

    Args:
        width: of the floor, in `unit`. height: likewise.
        room: length of the longest room, in `unit`.
        unit: any name; of those in UNITS_MM the size is said in metres, and looked at.
    """
    if unit not in UNITS_MM:
        return f"{width:.4g} x {height:.4g} {unit}"
    metres = UNITS_MM[unit] / 1000.0
    words = " x ".join(
        f"{side:.3g}" if side < 1000.0 else f"{side:.0f}"
        for side in (width * metres, height * metres)
    )
    words += " m"
    if _LEAST_M <= room * metres <= _MOST_M:
        return words
    small = "SMALL" if room * metres < _LEAST_M else "LARGE"
    return f"{words}: TOO {small} FOR A FLOOR, the coordinates are hardly in {unit}; say their unit"
