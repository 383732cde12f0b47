"""How often is the answer right, how exact is it, and does it know when it is not?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import numpy as np
from matplotlib.figure import Figure

from benchmarks import peers
from benchmarks.families import COLOURED, chosen, coloured
from benchmarks.report import Report, Table
from benchmarks.samples import BENT_SHARE, SURE, TOLERANCE_PX, Outcome, Runs, by_family, summary
from benchmarks.scores import false_rate_bound
from benchmarks.settings import Settings

__all__ = ["run"]

PEER_PICTURES = 10  # a family: the other pipelines take seconds for each


def run(settings: Settings, runs: Runs) -> Report:
    """Run every family; fits, strangers and twins get a table each."""
    outcomes = runs.outcomes(chosen(settings))
    fits = [o for o in outcomes if o.answer == "fits"]
    strangers = [o for o in outcomes if o.answer == "stranger"]
    twins = [o for o in outcomes if o.answer == "twins"]
    tables = [_fits(fits), _strangers(strangers), _twins(twins), _verdict(outcomes)]
    if families := coloured(settings):
        tables.append(peers.compare(runs, families, at_most=PEER_PICTURES))
    return Report(
        "success",
        [t for t in tables if t.rows],
        lambda figure: _draw(figure, fits),
        {"pictures": [asdict(o) for o in outcomes]},
        (9.0, 0.28 * len(by_family(fits)) + 2.0),
    )


def _fits(outcomes: Sequence[Outcome]) -> Table:
    groups = by_family(outcomes)
    coloured = [o for o in outcomes if o.family in COLOURED]
    rows = [_fit_row(name, group) for name, group in groups.items()]
    if coloured:
        rows.append(_fit_row("coloured", coloured))
    if outcomes:
        rows.append(_fit_row("all", outcomes))
    return Table(
        "Pictures of the floor that the outlines describe",
        {
            "family": "",
            "pictures": "d",
            f"within {TOLERANCE_PX:g} px": ".1%",
            "median px": ".3f",
            f"sure (>= {SURE:g})": ".1%",
            "sure and wrong": "d",
            "refused": "d",
            "crashed": "d",
            "median s": ".2f",
            "seeds not right (!: sure)": "",
        },
        rows,
        "px: RMS over the visible floor of where the found map puts a device position, "
        "less where it is. "
        f"Maps that a robot bent are right within {BENT_SHARE:.0%} of the floor's diagonal.",
    )


def _fit_row(name: str, group: Sequence[Outcome]) -> list[str | float | int | None]:
    count, right, middle, sure = summary(group)
    total = name in ("coloured", "all")
    wrong = sum(o.wrong_and_sure for o in group)
    missed = [f"{o.seed}{'!' if o.wrong_and_sure else ''}" for o in group if not o.right]
    return [
        name,
        count,
        right,
        middle,
        sure,
        wrong,
        sum(o.refused for o in group),
        sum(bool(o.crash) for o in group),
        float(np.median([o.seconds for o in group])),
        "" if total else " ".join(missed),
    ]


def _strangers(outcomes: Sequence[Outcome]) -> Table:
    groups = by_family(outcomes) | ({"all": list(outcomes)} if outcomes else {})
    rows: list[list[str | float | int | None]] = [
        [
            name,
            len(group),
            float(np.mean([not o.sure for o in group])),
            float(np.mean([not o.crash and (o.refused or o.confidence < 0.5) for o in group])),
            sum(bool(o.crash) for o in group),
            " ".join(str(o.seed) for o in group if o.sure) if name != "all" else "",
        ]
        for name, group in groups.items()
    ]
    return Table(
        "Outlines of another floor, or no floor at all",
        {
            "family": "",
            "pictures": "d",
            f"refused or < {SURE:g}": ".1%",
            "< 0.5": ".1%",
            "crashed": "d",
            "seeds accepted": "",
        },
        rows,
    )


def _twins(outcomes: Sequence[Outcome]) -> Table:
    groups = by_family(outcomes) | ({"all": list(outcomes)} if outcomes else {})
    rows: list[list[str | float | int | None]] = [
        [
            name,
            len(group),
            float(np.mean([o.told for o in group])),
            float(np.mean([_shared(o) for o in group])),
            float(np.mean([o.tied for o in group])),
            sum(o.wrong_and_sure for o in group),
            " ".join(str(o.seed) for o in group if not (o.told and _shared(o)))
            if name != "all"
            else "",
        ]
        for name, group in groups.items()
    ]
    return Table(
        "Floors that look the same mirrored, turned or shifted",
        {
            "family": "",
            "pictures": "d",
            "truth among the answers": ".1%",
            "confidence shared": ".1%",
            "one tie point settles it": ".1%",
            "sure and wrong": "d",
            "seeds not told": "",
        },
        rows,
        "Shared: there is an alternative, no answer is sure, the confidences add up to 1 at most.",
    )


def _shared(outcome: Outcome) -> bool:
    said = (outcome.confidence, *outcome.others_confidence)
    return len(said) > 1 and max(said) < SURE and sum(said) <= 1.0 + 1e-6


def _verdict(outcomes: Sequence[Outcome]) -> Table:
    wrong = [o for o in outcomes if o.wrong_and_sure]
    bound = false_rate_bound(len(wrong), len(outcomes))
    named = ", ".join(f"{o.family} {o.seed}" for o in wrong) or "none"
    return Table(
        "Sure and wrong, over everything",
        {"pictures": "d", "sure and wrong": "d", "95 % bound of the rate": ".2%", "which": ""},
        [[len(outcomes), len(wrong), bound, named]] if outcomes else [],
    )


def _draw(figure: Figure, outcomes: Sequence[Outcome]) -> None:
    groups = by_family(outcomes)
    axes = figure.add_subplot()
    for row, group in enumerate(groups.values()):
        error = np.clip([o.error_px if o.error_px == o.error_px else 1e3 for o in group], 1e-4, 1e3)
        colours = [
            "#d55e00" if o.wrong_and_sure else "#0072b2" if o.sure else "#999999" for o in group
        ]
        axes.scatter(error, np.full(len(error), row), c=colours, s=14, alpha=0.6, linewidths=0)
    axes.axvline(TOLERANCE_PX, color="black", lw=0.8, ls="--")
    axes.set_xscale("log")
    axes.set_yticks(range(len(groups)), list(groups))
    axes.invert_yaxis()
    axes.set_xlabel("RMS error over the visible floor, px (1000: no answer)")
    axes.set_title(
        "Error by family: blue sure, grey doubtful or refused, orange sure and wrong", fontsize=10
    )
