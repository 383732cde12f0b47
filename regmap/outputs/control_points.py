"""Pairs of places as text, for whatever computes its own transform: JSON, YAML, CSV, GDAL."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterable
from typing import Any

from regmap.errors import RegmapError
from regmap.given import as_path, instance, listed
from regmap.outputs.tables import csv_text
from regmap.outputs.whole_files import json_text, write_whole
from regmap.pairs import ControlPoint
from regmap.registration import Registration

__all__ = ["KEYS", "pairs_of", "scalar", "to_csv", "to_gdal", "to_json", "to_yaml", "write"]

KEYS = ("name", "image_column", "image_row", "device_x", "device_y")
"""What each pair holds."""

_FRAMES = "image: px from the outer corner of the first pixel, rows downwards"


def to_json(
    fit: Registration,
    points: int | Iterable[ControlPoint] = 4,
    *,
    accept_doubt: bool = False,
) -> str:
    """Return a JSON object: unit, frames, image_width, image_height, pairs.

    Args:
        fit: whose pairs to write.
        points: how many well-spread room corners, or the pairs themselves.
        accept_doubt: write a doubtful fit as it is.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
        RegmapError: if the picture shows too few corners.
    """
    return json_text({**_head(fit), "pairs": _rows(fit, points, accept_doubt)})


def to_yaml(
    fit: Registration,
    points: int | Iterable[ControlPoint] = 4,
    *,
    accept_doubt: bool = False,
) -> str:
    """Return the same as YAML; see `to_json`."""
    lines = [f"{key}: {scalar(value)}" for key, value in _head(fit).items()]
    lines.append("pairs:")
    for row in _rows(fit, points, accept_doubt):
        first, *rest = (f"{key}: {scalar(value)}" for key, value in row.items())
        lines += [f"  - {first}", *(f"    {entry}" for entry in rest)]
    return "\n".join(lines) + "\n"


def to_csv(
    fit: Registration,
    points: int | Iterable[ControlPoint] = 4,
    *,
    accept_doubt: bool = False,
) -> str:
    """Return a table with a heading, as RFC 4180 describes it; see `to_json`.

    A name that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    rows = [list(row.values()) for row in _rows(fit, points, accept_doubt)]
    return csv_text([KEYS, *rows])


def to_gdal(
    fit: Registration,
    points: int | Iterable[ControlPoint] = 4,
    *,
    accept_doubt: bool = False,
) -> str:
    """Return the options that give the pairs to GDAL's tools: -gcp pixel line easting northing.

    GDAL's pixel and line are this package's column and row, both from the outer corner.
    """
    keys = ("image_column", "image_row", "device_x", "device_y")
    rows = _rows(fit, points, accept_doubt)
    return " ".join(shlex.join(["-gcp", *(repr(float(row[key])) for key in keys)]) for row in rows)


_FORMATS = {".json": to_json, ".yaml": to_yaml, ".yml": to_yaml, ".csv": to_csv, ".txt": to_gdal}


def write(
    fit: Registration,
    path: str | os.PathLike[str],
    points: int | Iterable[ControlPoint] = 4,
    *,
    overwrite: bool = False,
    accept_doubt: bool = False,
) -> None:
    """Write pairs in the format of the file's ending: .json, .yaml, .yml, .csv or .txt (GDAL).

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
        StoredFileError: if the file is there already, or cannot be written.
        RegmapError: if the ending is another.
    """
    ending = as_path(path, "path").suffix.lower()
    if ending not in _FORMATS:
        raise RegmapError(f"the file's ending is {ending!r}, but it must be among {list(_FORMATS)}")
    write_whole(path, _FORMATS[ending](fit, points, accept_doubt=accept_doubt), overwrite=overwrite)


def _head(fit: Registration) -> dict[str, Any]:
    width, height = instance(fit, Registration, "fit").image_size
    return {"unit": fit.unit, "frames": _FRAMES, "image_width": width, "image_height": height}


def _rows(
    fit: Registration, points: int | Iterable[ControlPoint], accept_doubt: bool
) -> list[dict[str, Any]]:
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    pairs = pairs_of(fit, points)
    return [dict(zip(KEYS, (pair.name, *pair.image, *pair.device), strict=True)) for pair in pairs]


def pairs_of(fit: Registration, points: int | Iterable[ControlPoint]) -> list[ControlPoint]:
    """Return so many control points of a fit, or those that were given.

    Raises:
        RegmapError: if what was given is neither, or the picture shows too few corners.
    """
    if not isinstance(points, Iterable):
        return list(fit.control_points(points))
    return [instance(one, ControlPoint, "one of the points") for one in listed(points, "points")]


def scalar(value: object) -> str:
    """Spell a number or a text so that YAML 1.1 and 1.2 read it back as the same."""
    if isinstance(value, str):
        # Double quotes keep every text from being taken for a number, a date or a truth value.
        return '"' + "".join(_spelled(char) for char in value) + '"'
    if isinstance(value, float):
        # YAML 1.1 takes 1e+20 for a text: the dot must be there.
        mantissa, e, exponent = repr(value).partition("e")
        return f"{mantissa}.0e{exponent}" if e and "." not in mantissa else repr(value)
    return str(value)


def _spelled(char: str) -> str:
    if char in '"\\':
        return "\\" + char
    return char if char.isprintable() else f"\\U{ord(char):08x}"
