"""What a caller gave: taken where it is of the kind that is needed, refused in words where not.

Typed callers never meet this. Others get a RegmapError that says what came, and not an
AttributeError out of the depth.
"""

from __future__ import annotations

import numbers
import os
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, TypeVar

from regmap.errors import RegmapError

__all__ = [
    "as_path",
    "callback",
    "chosen",
    "instance",
    "listed",
    "mapping",
    "real",
    "short",
    "whole",
]

_Kind = TypeVar("_Kind")

_MOST = 80


def short(value: object) -> str:
    """Return what came, cut to a length that an error message bears."""
    kind = f"a {type(value).__name__}"
    try:
        text = " ".join(repr(value).split())  # arrays come in several lines
    except Exception:  # code of others, or a number of too many digits
        text = kind
    if " at 0x" in text:  # an address in memory helps nobody
        text = kind
    return text if len(text) <= _MOST else text[: _MOST - 3] + "..."


def instance(
    value: object, kind: type[_Kind], what: str, *, error: type[RegmapError] = RegmapError
) -> _Kind:
    """Return `value` if it is of this kind.

    Raises:
        RegmapError: or what `error` is, if it is not.
    """
    if not isinstance(value, kind):
        name = "text" if kind is str else kind.__name__
        raise error(f"{what} is {short(value)}, but a {name} is needed")
    return value


def mapping(value: Any, what: str, *, error: type[RegmapError] = RegmapError) -> Mapping[Any, Any]:
    """Return `value` if it is a mapping.

    Raises:
        RegmapError: or what `error` is, if it is not.
    """
    if not isinstance(value, Mapping):
        raise error(f"{what} is {short(value)}, but a mapping (a dict) is needed")
    return value


def listed(value: Any, what: str) -> list[Any]:
    """Return what an iterable gives.

    Raises:
        RegmapError: if it is none, or fails.
    """
    try:
        return list(value)
    except RegmapError:
        raise
    except Exception as error:  # code of others may fail in ways of its own
        raise RegmapError(
            f"{what} is {short(value)}, but a list is needed ({type(error).__name__}: {error})"
        ) from error


def chosen(value: Any, allowed: Collection[str], what: str) -> str:
    """Return `value` if it is one of the words that are allowed.

    Raises:
        RegmapError: if it is not.
    """
    if not isinstance(value, str) or value not in allowed:
        raise RegmapError(f"{what} is {short(value)}, but it must be among {', '.join(allowed)}")
    return value


def real(value: Any, what: str) -> float:
    """Return a number as a float; it may be nan or infinite.

    Raises:
        RegmapError: if it is no number, or one that no float holds.
    """
    if type(value) is float:  # nearly always, and thousands of times: the question below is slow
        return value
    try:
        if isinstance(value, numbers.Real) and value is not True and value is not False:
            return float(value)
    except OverflowError:
        pass
    raise RegmapError(f"{what} is {short(value)}, but a number is needed")


def whole(value: Any, what: str, *, error: type[RegmapError] = RegmapError) -> int:
    """Return a whole number above zero.

    Raises:
        RegmapError: or what `error` is, if it is none.
    """
    number = isinstance(value, numbers.Integral) and value is not True
    if not number or value < 1:
        raise error(f"{what} is {short(value)}, but a whole number above zero is needed")
    return int(value)


def callback(value: object, what: str) -> None:
    """Refuse what is neither None nor can be called.

    Raises:
        RegmapError: if it is neither.
    """
    if value is not None and not callable(value):
        raise RegmapError(f"{what} is {short(value)}, but a function or None is needed")


def as_path(value: object, what: str, *, error: type[RegmapError] = RegmapError) -> Path:
    """Return the path that `value` is: a text or an `os.PathLike`.

    Raises:
        RegmapError: or what `error` is, if it is none.
    """
    if not isinstance(value, str | os.PathLike):
        raise error(f"{what} is {short(value)}, but the path of a file or folder is needed")
    return Path(value)
