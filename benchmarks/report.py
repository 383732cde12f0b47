"""Tables for the eye, JSON for programs, a plot a suite."""

from __future__ import annotations

import json
import math
import os
import platform
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import metadata
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from matplotlib.figure import Figure

__all__ = ["Report", "Table", "Value", "as_text", "cell", "write"]

Value = str | float | int | None


@dataclass(frozen=True)
class Table:
    """Rows of values; `columns` maps each name to its format, as in `format(value, spec)`."""

    title: str
    columns: dict[str, str]
    rows: list[list[Value]]
    note: str = ""


@dataclass(frozen=True)
class Report:
    """What a suite hands back.

    Attributes:
        suite: its name, also of its files.
        tables: what is printed.
        draw: draws the plot into an empty figure.
        data: what else goes into the JSON file, the single pictures mostly.
    """

    suite: str
    tables: Sequence[Table]
    draw: Callable[[Figure], None]
    data: dict[str, Any] = field(default_factory=dict)
    size_inches: tuple[float, float] = (9.0, 5.0)


def as_text(table: Table) -> str:
    """Return the table in aligned columns: text to the left, numbers to the right."""
    names = list(table.columns)
    specs = list(table.columns.values())
    cells = [[cell(v, s) for v, s in zip(row, specs, strict=True)] for row in table.rows]
    width = [max(len(t) for t in column) for column in zip(names, *cells, strict=True)]
    left = [
        any(isinstance(row[i], str) for row in table.rows) or not table.rows
        for i in range(len(names))
    ]

    def line(texts: Sequence[str]) -> str:
        padded = (
            t.ljust(w) if to_left else t.rjust(w)
            for t, w, to_left in zip(texts, width, left, strict=True)
        )
        return "  ".join(padded).rstrip()

    lines = [table.title, line(names), line(["-" * w for w in width]), *map(line, cells)]
    return "\n".join([*lines, table.note] if table.note else lines)


def write(
    report: Report, folder: Path, about: Mapping[str, Any] | None = None
) -> tuple[Path, Path]:
    """Write SUITE.json and SUITE.png into `folder`, and return the two paths.

    `about`: what is to be known of the run: its settings, when it was, how long it took.
    """
    folder.mkdir(parents=True, exist_ok=True)
    stored = {
        "suite": report.suite,
        "run": dict(about or {}),
        "made_with": _versions(),
        "tables": [
            {
                "title": t.title,
                "note": t.note,
                "columns": t.columns,
                "rows": [dict(zip(t.columns, row, strict=True)) for row in t.rows],
            }
            for t in report.tables
        ],
        **report.data,
    }
    text = json.dumps(_plain(stored), indent=1, allow_nan=False)
    target, plot = folder / f"{report.suite}.json", folder / f"{report.suite}.png"
    target.write_text(text + "\n", encoding="utf-8")
    figure = Figure(figsize=report.size_inches, layout="constrained")
    report.draw(figure)
    figure.savefig(plot, dpi=80)
    return target, plot


def cell(value: Value, spec: str) -> str:
    """Return a value as it stands in a table."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "-"
    return value if isinstance(value, str) else format(value, spec)


def _plain(value: Any) -> Any:
    """Turn arrays into lists and numbers that JSON lacks into null."""
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [_plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _versions() -> dict[str, str]:
    found = {"python": platform.python_version(), "system": platform.system()}
    found |= {"machine": platform.machine(), "processors": str(os.cpu_count())}
    processor = Path("/proc/cpuinfo")
    if processor.exists():
        named = [line for line in processor.read_text().splitlines() if "model name" in line]
        found |= {"model": named[0].partition(":")[2].strip()} if named else {}
    found |= {"opencv": cv2.__version__, "numpy": np.__version__}
    return found | {name: metadata.version(name) for name in ("scipy", "shapely", "rasterio")}
