"""Single values of a stored file: spelled for JSON, and read with suspicion.

What is no number, text or list where one must be raises TypeError or ValueError.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regmap.frames import LARGEST
from regmap.given import short

__all__ = ["items", "number", "pair", "real", "table", "text", "value"]


def number(value: float) -> float | str | None:
    """Spell what JSON has no number for: nan as null, infinity as a text."""
    if math.isnan(value):
        return None
    return float(value) if math.isfinite(value) else "infinite"


def value(stored: object) -> float:
    """Return a number that may be missing (null) or infinite."""
    if stored is None:
        return math.nan
    return math.inf if stored == "infinite" else real(stored)


def real(stored: object) -> float:
    """Return a finite number; neither a truth value nor a text is one."""
    if isinstance(stored, bool) or not isinstance(stored, int | float):
        raise TypeError(f"{short(stored)} is no number")
    if not abs(stored) <= LARGEST:
        raise ValueError(f"{short(stored)} is larger than {LARGEST:g}")
    return float(stored)


def whole(stored: object) -> int:
    """Return a whole number, however it is spelled."""
    number = real(stored)
    if not number.is_integer():
        raise ValueError(f"{short(stored)} is no whole number")
    return int(number)


def table(stored: object) -> NDArray[np.float64]:
    """Return an array of numbers of any shape."""
    given = np.array(stored)
    if given.size and given.dtype.kind not in "iuf":
        raise TypeError(f"{short(stored)} are not all numbers")
    if given.size and not np.abs(given).max() <= LARGEST:
        raise ValueError(f"a number is larger than {LARGEST:g}")
    return np.asarray(given, dtype=np.float64)


def pair(stored: object) -> tuple[float, float]:
    """Return two numbers."""
    first, second = map(real, items(stored))
    return first, second


def items(stored: object) -> list[Any]:
    """Return what must be a list."""
    if not isinstance(stored, list | tuple):
        raise TypeError(f"{short(stored)} is no list")
    return list(stored)


def text(stored: object) -> str:
    """Return what must be a text."""
    if not isinstance(stored, str):
        raise TypeError(f"{short(stored)} is no text")
    return stored
