"""Is the confidence a probability? Reliability diagram, expected calibration error, ROC."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
from matplotlib.figure import Figure

from benchmarks.families import chosen
from benchmarks.report import Report, Table
from benchmarks.samples import SURE, TOLERANCE_PX, Outcome, Runs, by_family
from benchmarks.scores import (
    auroc,
    expected_calibration_error,
    false_rate_bound,
    reliability,
    roc,
    share_interval,
)
from benchmarks.settings import Settings

__all__ = ["run"]


def run(settings: Settings, runs: Runs) -> Report:
    """Judge the confidences of all families together, strangers and twins included."""
    # A crash says nothing of its confidence; the suite `success` counts crashes.
    outcomes = [o for o in runs.outcomes(chosen(settings)) if not o.crash]
    said = np.array([0.0 if np.isnan(o.confidence) else o.confidence for o in outcomes])
    right = np.array([o.right for o in outcomes], dtype=float)
    bins = reliability(said, right)
    clear = [o for o in outcomes if o.right and o.answer == "fits"]
    wrong = sum(o.wrong_and_sure for o in outcomes)
    # Which of twins comes first is chance: no confidence can rank their answers.
    one = np.array([o.answer != "twins" for o in outcomes], dtype=bool)
    figures = {
        "pictures": len(outcomes),
        "of them strangers": sum(o.answer == "stranger" for o in outcomes),
        "right": int(right.sum()),
        "expected calibration error": expected_calibration_error(said, right),
        "the same without twins": expected_calibration_error(said[one], right[one]),
        "AUROC, right against wrong": auroc(said, right),
        "AUROC without twins": auroc(said[one], right[one]),
        f"share of right, unambiguous fits with >= {SURE:g}": float(
            np.mean([o.sure for o in clear])
        )
        if clear
        else None,
        "sure and wrong": wrong,
        "95 % bound of their rate": false_rate_bound(wrong, len(outcomes)) if outcomes else None,
    }
    tables = [
        Table(
            "Confidence as a probability",
            {"figure": "", "value": ".4g"},
            [[name, value] for name, value in figures.items()],
            f"Right: within {TOLERANCE_PX:g} px RMS over the visible floor. "
            "Twins: the answer, not an alternative: which one comes first is chance. "
            "A refusal says 0.",
        ),
        Table(
            "Reliability",
            {"from": ".1f", "to": ".1f", "pictures": "d", "said": ".3f", "was": ".3f"},
            [[b.low, b.high, b.count, b.said, b.was] for b in bins],
        ),
        _by_family(outcomes),
    ]
    return Report(
        "calibration",
        tables,
        lambda figure: _draw(figure, said, right),
        {"pictures": [asdict(o) for o in outcomes]},
        (10.0, 5.0),
    )


def _by_family(outcomes: list[Outcome]) -> Table:
    rows: list[list[str | float | int | None]] = [
        [
            name,
            len(group),
            float(np.mean([o.right for o in group])),
            float(np.nanmean([np.nan_to_num(o.confidence) for o in group])),
            float(np.mean([o.sure for o in group])),
            float(min((o.confidence for o in group if o.right), default=np.nan)),
            float(max((o.confidence for o in group if not o.right), default=np.nan)),
        ]
        for name, group in by_family(outcomes).items()
    ]
    columns = {
        "family": "",
        "pictures": "d",
        "right": ".1%",
        "mean confidence": ".3f",
        "sure": ".1%",
    }
    columns |= {"least of the right": ".3f", "most of the wrong": ".3f"}
    return Table("Confidence by family", columns, rows)


def _draw(figure: Figure, said: np.ndarray, right: np.ndarray) -> None:
    diagram, curve = figure.subplots(1, 2)
    bins = reliability(said, right)
    diagram.plot([0, 1], [0, 1], color="#999999", lw=0.8)
    for b in bins:
        low, high = share_interval(round(b.was * b.count), b.count)
        diagram.plot([b.said, b.said], [low, high], color="#0072b2", lw=1)
        diagram.plot(b.said, b.was, "o", color="#0072b2")
        diagram.annotate(
            str(b.count), (b.said, b.was), (4, -10), textcoords="offset points", fontsize=7
        )
    diagram.set_xlabel("confidence said")
    diagram.set_ylabel("share that was right")
    diagram.set_title(
        f"expected calibration error {expected_calibration_error(said, right):.4f}", fontsize=10
    )
    diagram.set_ylim(-0.05, 1.05)
    false, true = roc(said, right)
    curve.plot(false, true, color="#0072b2", drawstyle="steps-post")
    curve.set_xlabel("share of wrong answers above the threshold")
    curve.set_ylabel("share of right answers above it")
    curve.set_title(f"AUROC {auroc(said, right):.4f}", fontsize=10)
