"""regmap beside pipelines of general libraries, on the same pictures in the same run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import numpy as np
from matplotlib.figure import Figure

from benchmarks.families import coloured
from benchmarks.pipelines import PIPELINES
from benchmarks.report import Report, Table
from benchmarks.samples import REGMAP, TOLERANCE_PX, Outcome, Runs, summary
from benchmarks.settings import Settings

__all__ = ["compare", "run"]

METHODS = (REGMAP, *PIPELINES)


def run(settings: Settings, runs: Runs) -> Report:
    """Run all methods on the coloured families."""
    outcomes = runs.outcomes(coloured(settings), methods=METHODS)
    groups = {m: [o for o in outcomes if o.method == m] for m in METHODS}
    return Report(
        "peers",
        [_table(groups)],
        lambda figure: _draw(figure, groups),
        {"pictures": [asdict(o) for o in outcomes]},
    )


def compare(runs: Runs, families: Sequence[str], *, at_most: int) -> Table:
    """Return the table alone, over the first pictures of each family."""
    outcomes = runs.outcomes(families, methods=METHODS, at_most=at_most)
    return _table({m: [o for o in outcomes if o.method == m] for m in METHODS})


def _table(groups: dict[str, list[Outcome]]) -> Table:
    """Return a row a method; the time ratio is the median of its time by regmap's, by picture."""
    rows: list[list[str | float | int | None]] = []
    own = {(o.family, o.seed): o for o in groups[REGMAP]}
    for method, group in groups.items():
        count, right, middle, _ = summary(group)
        good = [o.error_px for o in group if o.right]
        ratio = float(np.median([o.seconds / own[o.family, o.seed].seconds for o in group]))
        seconds = float(np.median([o.seconds for o in group]))
        of_right = float(np.median(good)) if good else None
        rows.append([method, count, right, middle, of_right, seconds, ratio])
    return Table(
        "General pipelines on the coloured families",
        {
            "method": "",
            "pictures": "d",
            f"within {TOLERANCE_PX:g} px": ".1%",
            "median px": ".3f",
            "median px of the right": ".3f",
            "median s": ".2f",
            "time / regmap's": ".2f",
        },
        rows,
        "Only regmap says how sure it is; the others return their best guess, right or not.",
    )


def _draw(figure: Figure, groups: dict[str, list[Outcome]]) -> None:
    axes = figure.add_subplot()
    for method, group in groups.items():
        error = np.sort([o.error_px if o.error_px == o.error_px else np.inf for o in group])
        axes.step(*_steps(error), where="post", label=method)
    axes.axvline(TOLERANCE_PX, color="black", lw=0.8, ls="--")
    axes.set_xscale("log")
    axes.set_xlim(1e-3, 1e3)
    axes.set_ylim(0, 1.01)
    axes.set_xlabel("RMS error over the visible floor, px")
    axes.set_ylabel("share of the pictures with less")
    axes.legend()


def _steps(error: Sequence[float] | np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    share = np.arange(1, len(error) + 1) / len(error)
    return np.asarray(error, dtype=float), share
