"""Where the time of one call goes, from the times that `regmap.register` keeps when asked."""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np

from benchmarks.report import Table

__all__ = ["medians", "recorded", "table"]


@contextmanager
def recorded() -> Iterator[dict[str, float]]:
    """Collect seconds by stage while the block runs; empty if this version keeps none."""
    keep = getattr(importlib.import_module("regmap.register"), "stage_times", None)
    if keep is None:
        yield {}
        return
    with keep() as times:
        yield times


def medians(times: Sequence[dict[str, float]]) -> tuple[list[str], list[float]]:
    """Return the stages in the order in which they ran, and the median seconds of each."""
    names = list(dict.fromkeys(name for one in times for name in one))
    return names, [float(np.median([one.get(name, 0.0) for one in times])) for name in names]


def table(times: Sequence[dict[str, float]]) -> Table:
    """Return a row a stage."""
    names, values = medians(times)
    whole = sum(values)
    return Table(
        "Stage by stage (median)",
        {"stage": "", "ms": ".1f", "share": ".0%"},
        [[n, 1e3 * v, v / whole if whole else None] for n, v in zip(names, values, strict=True)],
    )
