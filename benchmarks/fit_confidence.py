"""Fits the constants of the confidence and writes them where the engine reads them.

    python -m benchmarks.fit_confidence --pictures 16 --seed 200 --jobs 2

Made floors of every family and seed, fits and strangers alike, and each picture also with the
outlines of the picture before it. Measure with other seeds than these.
"""

from __future__ import annotations

import warnings
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import click
import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from regmap import frames
from regmap.engine import confidence
from regmap.engine.precision import chance_within
from regmap.errors import RegmapError
from regmap.inputs.outlines import as_rings
from regmap.pipeline import Pipeline
from regmap.synthetic import FAMILIES, Sample, sample

TARGET = Path(__file__).parents[1] / "regmap" / "engine" / "calibration.py"
RIGHT_PX = 3.0
_RIDGE = 0.001

Floats = NDArray[np.float64]
Row = tuple[list[float], float]


def rows_of(seed: int) -> list[Row]:
    """(signs, 1 for a right fit and 0 for any other) of all families at one seed.

    Fits with twins are left out: their confidence is shared among the answers.
    """
    cv2.setNumThreads(1)
    rows: list[Row] = []
    before: Sample | None = None
    for family in FAMILIES:
        problem = sample(family, seed)
        if problem.answer != "twins":
            rows += _row(problem, problem, problem.answer == "fits")
        if before is not None:
            rows += _row(problem, before, False)
        before = problem
    return rows


def _row(shown: Sample, known: Sample, fits: bool) -> list[Row]:
    """At most one row: the picture of `shown` with the outlines of `known`."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            run = Pipeline(shown.image, as_rings(known.outlines), shown.model).solve()
        except RegmapError:
            return []
    if run.twins:
        return []
    right = 0.0
    if fits:
        truth = frames.apply(shown.image_to_device, shown.visible_px)
        gap = frames.apply(frames.invert(run.image_to_device(0)), truth) - shown.visible_px
        rms = float(np.sqrt((gap**2).sum(axis=1).mean()))
        # The right place, found as well as is said of it: how well that is, the engine multiplies
        # in from the predicted error.
        right = float(
            rms < RIGHT_PX or chance_within(run.precision(0), shown.visible_px, rms) < 0.9
        )
    return [(confidence.signs(run.evidence[0], run.rival).tolist(), right)]


def logistic(signs: Floats, right: Floats) -> tuple[Floats, float]:
    """Weights (S,) and bias of a ridge-penalised logistic regression on standardised signs.

    No sign may speak against its meaning, whatever chance says on these floors: weights are bounded
    to the side that `confidence.SIGNS` and `confidence.AGAINST` name.
    """
    table = np.column_stack([signs, np.ones(len(signs))])

    def cost(guess: Floats) -> tuple[float, Floats]:
        score = table @ guess
        loss = np.where(right > 0, np.logaddexp(0, -score), np.logaddexp(0, score)).mean()
        slope = table.T @ (1 / (1 + np.exp(-score)) - right) / len(right)
        penalty = _RIDGE * guess * (np.arange(len(guess)) < len(guess) - 1)
        return float(loss + 0.5 * (penalty * guess).sum()), slope + penalty

    bounds: list[tuple[float | None, float | None]] = [
        (None, 0.0) if name in confidence.AGAINST else (0.0, None) for name in confidence.SIGNS
    ]
    start = np.zeros(table.shape[1])
    found = minimize(cost, start, jac=True, method="L-BFGS-B", bounds=[*bounds, (None, None)]).x
    return found[:-1], float(found[-1])


def module(rows: list[Row], first: int, last: int) -> str:
    """The text of the engine's module of constants."""
    signs = np.array([row[0] for row in rows])
    right = np.array([row[1] for row in rows])
    mean, spread = signs.mean(axis=0), signs.std(axis=0)
    weight, bias = logistic((signs - mean) / spread, right)

    def array(name: str, values: Floats) -> str:
        lines = "".join(
            f"        {v:.4f},  # {n}\n" for v, n in zip(values, confidence.SIGNS, strict=True)
        )
        return f"{name} = np.array(\n    [\n{lines}    ]\n)\n"

    return (
        f'''"""Constants of the confidence: written by `python -m benchmarks.fit_confidence`.

Fitted to {len(rows)} answers, {int(right.sum())} of them right, on made floors of {len(FAMILIES)}
families with seeds {first} to {last}; measured on others.
"""

import numpy as np

'''
        + array("MEAN", mean)
        + array("SPREAD", spread)
        + array("WEIGHT", weight)
        + f"BIAS = {bias:.4f}\n"
    )


@click.command()
@click.option("--pictures", default=16, show_default=True, help="Seeds a family.")
@click.option("--seed", default=200, show_default=True, help="The first seed.")
@click.option("--jobs", default=1, show_default=True, help="Processes.")
def main(pictures: int, seed: int, jobs: int) -> None:
    """Fit the constants of the confidence and write regmap/engine/calibration.py."""
    seeds = range(seed, seed + pictures)
    with ProcessPoolExecutor(jobs) as pool:
        parts = list(pool.map(rows_of, seeds))
    rows = [row for part in parts for row in part]
    TARGET.write_text(module(rows, seeds[0], seeds[-1]), encoding="utf-8")
    click.echo(f"{TARGET.name}: {len(rows)} answers")


if __name__ == "__main__":
    main()
