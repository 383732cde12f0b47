"""Expected residual and target error of fitted transforms, and figures of positional accuracy."""

from __future__ import annotations

import math

import numpy as np
import pytest

from regmap import accuracy, frames
from regmap.registration import Registration
from tests.fit_examples import make_fit

# The forms below are those of Sibson, "Studies in the robustness of multidimensional scaling:
# perturbational analysis of classical scaling", JRSS B 41, 1979, and of Fitzpatrick, West &
# Maurer, "Predicting error in rigid-body point-based registration", IEEE TMI 17(5), 1998, written
# for the plane. The plane's forms are derived; no source prints them.
POINTS = np.array(
    [(0, 0), (4000, 0), (4000, 3000), (0, 3000), (2000, 5000), (6500, 1200)], dtype=float
)
TARGET = np.array([(8000.0, 6000.0)])
SIGMA = 10.0
DRAWS = 2000


def _expected(model: str) -> tuple[float, float]:
    """Return the expected mean squared residual, and expected squared target error."""
    n, fle2 = len(POINTS), 2 * SIGMA**2
    around = POINTS - POINTS.mean(axis=0)
    r = TARGET[0] - POINTS.mean(axis=0)
    spread = (around**2).sum()
    if model == "similarity":
        return fle2 * (1 - 2 / n), fle2 * (1 / n + r @ r / spread)
    lean = r @ np.linalg.solve(around.T @ around, r)
    return fle2 * (1 - 3 / n), fle2 * (1 / n + lean)


@pytest.fixture(scope="module")
def draws() -> dict[str, np.ndarray]:
    """(DRAWS, 2) squared residual per point, and squared target error, of either model."""
    noise = np.random.default_rng(1979).normal(scale=SIGMA, size=(DRAWS, *POINTS.shape))
    found: dict[str, list[tuple[float, float]]] = {"similarity": [], "affine": []}
    for shift in noise:
        for model, rows in found.items():
            if model == "similarity":
                matrix = frames.fit_similarity(POINTS, POINTS + shift, mirrored=True)
            else:
                matrix = frames.fit_affine(POINTS, POINTS + shift)
            left = frames.residuals(matrix, POINTS, POINTS + shift).rmse ** 2
            miss = ((frames.apply(matrix, TARGET) - TARGET) ** 2).sum()
            rows.append((left, miss))
    return {model: np.array(rows) for model, rows in found.items()}


@pytest.mark.parametrize(
    ("model", "residual2", "target2"),
    # Worked out again, and confirmed by 200 000 draws to 0.4 %.
    [("similarity", 133.333, 198.248), ("affine", 100.0, 418.076)],
)
def test_noisy_fits_meet_the_closed_forms(
    draws: dict[str, np.ndarray], model: str, residual2: float, target2: float
) -> None:
    assert _expected(model) == pytest.approx((residual2, target2), abs=5e-4)
    mean = draws[model].mean(axis=0)
    # Four standard errors of the mean of this many draws.
    allowed = 4 * draws[model].std(axis=0) / math.sqrt(DRAWS)
    assert (np.abs(mean - (residual2, target2)) < allowed).all()
    assert (allowed < 0.1 * mean).all()  # fine enough to tell the models from each other


@pytest.mark.parametrize("model", ["similarity", "affine"])
def test_residual_and_target_error_are_uncorrelated(
    draws: dict[str, np.ndarray], model: str
) -> None:
    # Fitzpatrick, "Fiducial registration error and target registration error are uncorrelated",
    # Proc. SPIE 7261, 2009: a small residual is no proof of accuracy.
    correlation = np.corrcoef(draws[model].T)[0, 1]
    assert abs(correlation) < 4 / math.sqrt(DRAWS)


@pytest.mark.parametrize("model", ["similarity", "affine"])
def test_position_covariance_of_a_result_meets_the_closed_form(model: str) -> None:
    """The covariance of least squares, put into a result, gives the published target error."""
    anchor = POINTS.mean(axis=0)
    u, v = (POINTS - anchor).T
    zero, one = np.zeros_like(u), np.ones_like(u)
    rows_x = np.column_stack([u, v, one, zero, zero, zero])
    rows_y = np.column_stack([zero, zero, zero, u, v, one])
    design = np.concatenate([rows_x, rows_y])
    if model == "similarity":
        # (a, b, c, d, e, f) = (p, -q, c, q, p, f), a basis of the maps without mirror.
        basis = np.zeros((6, 4))
        basis[[0, 4], 0] = 1
        basis[1, 1], basis[3, 1] = -1, 1
        basis[2, 2] = basis[5, 3] = 1
    else:
        basis = np.eye(6)
    covariance = SIGMA**2 * basis @ np.linalg.inv((design @ basis).T @ (design @ basis)) @ basis.T
    fit = make_fit(covariance=covariance, anchor_px=tuple(anchor), floor_error=0.0)
    found = np.trace(fit.position_covariance(TARGET)[0])
    assert found == pytest.approx(_expected(model)[1], rel=1e-9)


# --- Positional accuracy. The constants are worked out again; that NSSDA (FGDC-STD-007.3-1998) and
# --- the ASPRS Positional Accuracy Standards use them is from memory.


def _fit_of_axes(sigma_x: float, sigma_y: float) -> Registration:
    covariance = np.zeros((6, 6))
    covariance[2, 2], covariance[5, 5] = sigma_x**2, sigma_y**2
    return make_fit(covariance=covariance, floor_error=0.0)


def test_radial_error_of_equal_axes() -> None:
    sigma = 7.0
    radial_rmse = math.sqrt(2) * sigma
    ce95 = _fit_of_axes(sigma, sigma).expected_error([(50, 60)])
    assert ce95 == pytest.approx([2.4477 * sigma], rel=3e-5)
    assert ce95 == pytest.approx([1.7308 * radial_rmse], rel=3e-5)
    ce90 = accuracy.circular_error(np.eye(2) * sigma**2, share=0.9)
    assert ce90 == pytest.approx(1.5174 * radial_rmse, rel=3e-5)


def test_radial_error_of_one_axis_is_the_normal_quantile() -> None:
    # The 97.5 % point of the standard normal distribution, in every table of it: 1.959964.
    assert _fit_of_axes(3.0, 0.0).expected_error([(0, 0)]) == pytest.approx([1.959964 * 3])
