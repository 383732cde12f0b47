"""Does the predicted error keep its word? Coverage of CE95 by family."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import numpy as np
from matplotlib.figure import Figure

from benchmarks.families import chosen
from benchmarks.report import Report, Table
from benchmarks.samples import Outcome, Runs, by_family
from benchmarks.settings import Settings

__all__ = ["run"]


def run(settings: Settings, runs: Runs) -> Report:
    """Compare predicted with true error at the check points of every fit that is right."""
    outcomes = [o for o in runs.outcomes(chosen(settings)) if o.right and not np.isnan(o.covered)]
    groups = by_family(outcomes) | ({"all": outcomes} if outcomes else {})
    return Report(
        "coverage",
        [
            Table(
                "Share of check points whose true error is below the predicted CE95",
                {
                    "family": "",
                    "fits": "d",
                    "covered": ".1%",
                    "of the sure": ".1%",
                    "fits covered at no point": "d",
                    "median predicted": ".2f",
                    "median true": ".2f",
                },
                [_row(name, group) for name, group in groups.items()],
                "Errors in device units (mm). Points of one fit share its error: "
                "the number of fits, not of points, says how sure these shares are.",
            )
        ],
        lambda figure: _draw(figure, outcomes),
        {"pictures": [asdict(o) for o in outcomes]},
        (10.0, 5.0),
    )


def _row(name: str, group: Sequence[Outcome]) -> list[str | float | int | None]:
    sure = [o.covered for o in group if o.sure]
    return [
        name,
        len(group),
        float(np.mean([o.covered for o in group])),
        float(np.mean(sure)) if sure else None,
        sum(o.covered == 0 for o in group),
        float(np.median([o.expected for o in group])),
        float(np.median([o.apart for o in group])),
    ]


def _draw(figure: Figure, outcomes: Sequence[Outcome]) -> None:
    shares, pairs = figure.subplots(1, 2)
    groups = by_family(outcomes)
    covered = [float(np.mean([o.covered for o in g])) for g in groups.values()]
    shares.barh(list(groups), covered, color="#56b4e9")
    shares.axvline(0.95, color="black", lw=0.8, ls="--")
    shares.invert_yaxis()
    shares.set_xlim(0, 1)
    shares.tick_params(axis="y", labelsize=7)
    shares.set_xlabel("share of the points below the predicted CE95")
    expected = np.clip([o.expected for o in outcomes], 1e-2, None)
    apart = np.clip([o.apart for o in outcomes], 1e-2, None)
    pairs.loglog(expected, apart, ".", ms=3, color="#0072b2", alpha=0.5)
    if outcomes:
        ends = np.array([expected.min(), expected.max()])
        pairs.plot(ends, ends, color="black", lw=0.8, ls="--")
    pairs.set_xlabel("median predicted CE95 of a fit, mm")
    pairs.set_ylabel("median true error of the fit, mm")
