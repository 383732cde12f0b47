"""The statistics of the benchmarks: plain functions over arrays, each with its definition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import beta, rankdata

__all__ = [
    "Bin",
    "auroc",
    "edge_bound_px",
    "expected_calibration_error",
    "false_rate_bound",
    "reliability",
    "rms",
    "roc",
    "share_interval",
]


def rms(vectors: ArrayLike) -> float:
    """Root of the mean over the N points of dx^2 + dy^2, for (N, 2) vectors; nan for none."""
    array = np.asarray(vectors, dtype=np.float64)
    return float(np.sqrt((array**2).sum(axis=1).mean())) if len(array) else float("nan")


@dataclass(frozen=True)
class Bin:
    """One bar of a reliability diagram.

    `count` answers had a mean confidence of `said`; a share of `was` was right.
    """

    low: float
    high: float
    count: int
    said: float
    was: float


def reliability(confidence: ArrayLike, right: ArrayLike, *, bins: int = 10) -> tuple[Bin, ...]:
    """Sort answers into bins of equal width by their confidence; empty bins are left out."""
    said, was = _pairs(confidence, right)
    index = np.minimum((said * bins).astype(int), bins - 1)
    return tuple(
        Bin(
            i / bins,
            (i + 1) / bins,
            int(inside.sum()),
            float(said[inside].mean()),
            float(was[inside].mean()),
        )
        for i in range(bins)
        if (inside := index == i).any()
    )


def expected_calibration_error(confidence: ArrayLike, right: ArrayLike, *, bins: int = 10) -> float:
    """Mean over the answers of |said - was| of their bin (Guo et al., ICML 2017, equation 3)."""
    table = reliability(confidence, right, bins=bins)
    total = sum(b.count for b in table)
    return sum(b.count * abs(b.said - b.was) for b in table) / total if total else float("nan")


def auroc(confidence: ArrayLike, right: ArrayLike) -> float:
    """Chance that a right answer has the higher confidence than a wrong one, ties counted half.

    The area under the ROC curve is the Mann-Whitney statistic (Hanley & McNeil, Radiology
    143(1):29-36, 1982). nan if there is no right or no wrong answer.
    """
    said, was = _pairs(confidence, right)
    positive, negative = int(was.sum()), int((1 - was).sum())
    if not positive or not negative:
        return float("nan")
    ranks = float(rankdata(said)[was == 1].sum())
    return (ranks - positive * (positive + 1) / 2) / (positive * negative)


def roc(confidence: ArrayLike, right: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """False and true positive rate for a falling threshold; equal confidences move together."""
    said, was = _pairs(confidence, right)
    order = np.argsort(-said, kind="stable")
    said, was = said[order], was[order]
    last = np.append(np.flatnonzero(np.diff(said)), len(said) - 1)
    true, false = np.cumsum(was)[last], np.cumsum(1 - was)[last]
    return (
        np.concatenate([[0.0], false / max(false[-1], 1)]),
        np.concatenate([[0.0], true / max(true[-1], 1)]),
    )


def false_rate_bound(failures: int, trials: int) -> float:
    """Upper 95 % bound of a failure rate (Clopper & Pearson, Biometrika 26, 1934).

    Without a failure it is about 3 / trials.
    """
    if failures >= trials:
        return 1.0
    return float(beta.ppf(0.95, failures + 1, trials - failures))


def share_interval(count: int, trials: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share, count of trials (JASA 22(158):209-212, 1927)."""
    z = 1.959964
    middle = (count + z * z / 2) / (trials + z * z)
    half = z / (trials + z * z) * float(np.sqrt(count * (trials - count) / trials + z * z / 4))
    return middle - half, middle + half


def edge_bound_px(contrast: float, noise: float, blur_px: float) -> float:
    """Least possible standard error of an edge's position on one scan line, in px.

    A step of `contrast` grey levels, blurred by a Gaussian of standard deviation `blur_px`, in
    white noise of `noise` grey levels, sampled once a pixel: the Cramer-Rao bound is
    noise / sqrt(sum of squared slopes), and that sum is contrast^2 / (2 sqrt(pi) blur_px).
    """
    return noise / contrast * float(np.sqrt(2.0 * np.sqrt(np.pi) * blur_px))


def _pairs(
    confidence: ArrayLike, right: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    said = np.asarray(confidence, dtype=np.float64)
    was = np.asarray(right, dtype=np.float64)
    if said.shape != was.shape or said.ndim != 1:
        raise ValueError(f"one confidence an answer is needed, not {said.shape} for {was.shape}")
    return said, was
