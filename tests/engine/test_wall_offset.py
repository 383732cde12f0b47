"""What is known of wall offsets beforehand, against the densities that it stands for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from regmap.engine.measure import Fit
from regmap.engine.wall_offset import offset_prior
from tests.engine import boxes

Floats = NDArray[np.float64]


def fit_of(walls: list[int], *, half_px: float = 350.0, gap_px: float = 0.0) -> Fit:
    """Chunks of walls of a floor whose half diagonal is so long, at offsets so far apart."""
    count = len(walls)
    fit = boxes.made_fit(
        np.zeros((count, 2)), np.ones((count, 2)), np.zeros(count), wall=np.array(walls)
    )
    turned = np.array([[0.6, -0.8, 4.0], [-0.8, -0.6, 9.0]])  # seen from above: mirrored
    return replace(fit, pose=half_px * turned, offset=np.array([0.7 * gap_px, -0.3 * gap_px]))


def deviations(prior: Floats, unit: float, direction: Floats) -> float:
    """Standard deviation, px, of what the prior says along a direction of the two offsets."""
    covariance = np.linalg.inv(prior / unit)
    return float(np.sqrt(direction @ covariance @ direction))


def test_offsets_are_as_large_as_common_practice_has_it() -> None:
    """140 mm, inner and outer ones within 30 mm, where a floor is 14 m from corner to corner."""
    px_per_mm = 0.05
    prior, unit = offset_prior(fit_of([0, 1, 2, 3], half_px=7000 * px_per_mm), np.ones(4), 0.5)
    both = deviations(prior, unit, np.array([0.5, 0.5])) / px_per_mm
    assert both == pytest.approx(140.0 / np.sqrt(2.0))
    gap = deviations(prior, unit, np.array([1.0, -1.0])) / px_per_mm
    # Student's t with 3 degrees of freedom is as sharp at its middle as a Gaussian whose standard
    # deviation is sqrt(3/4) of its scale.
    assert gap == pytest.approx(np.sqrt(3 / 4) * 30.0, rel=0.1)


@pytest.mark.parametrize("gap_px", [0.0, 0.4, -1.5, 30.0])
def test_a_gap_weighs_as_in_the_fit_of_a_t_distribution(gap_px: float) -> None:
    """Weights of iterative fits are (v + 1) / (v + d^2) of the Gaussian's at d scales from the
    middle, v degrees of freedom (Lange, Little & Taylor, JASA 84, 1989, section 2): they are
    -(log density)' / d."""
    scale = 0.004 * 350.0
    gap = abs(gap_px) or 1e-9
    prior, unit = offset_prior(fit_of([0, 1], gap_px=gap), np.ones(2), 0.5)
    usual = 1.0 / (0.02 * 350.0) ** 2
    # Along (1, -1) / sqrt 2 the gap changes by sqrt 2 for a step of 1.
    direction = np.array([1.0, -1.0]) / np.sqrt(2.0)
    found = (direction @ (prior / unit) @ direction - usual) / 2.0
    slope = (3 + 1) * gap / (3 * scale**2 + gap**2)
    assert found == pytest.approx(slope / gap)
    # Scaled by all that is large, it is the same of a picture twice the size.
    twice, its_unit = offset_prior(fit_of([0, 1], half_px=700, gap_px=2 * gap), np.ones(2), 0.5)
    np.testing.assert_allclose(twice / its_unit, prior / unit / 4.0)


def test_the_unit_is_the_weight_of_a_wall_times_its_variance() -> None:
    """Of walls of unlike weight there are as many as Kish's effective size says (Survey Sampling,
    1965, section 11.7): (sum w)^2 / sum w^2."""
    rough = 0.5
    _, one = offset_prior(fit_of([0, 0, 0]), np.array([1.0, 2.0, 3.0]), rough)
    assert one == pytest.approx(6.0 * rough**2, rel=0.01)
    _, four = offset_prior(fit_of([0, 1, 2, 3]), np.full(4, 1.5), rough)
    assert four == pytest.approx(1.5 * rough**2, rel=0.01)
    _, unlike = offset_prior(fit_of([0, 1, 2]), np.array([3.0, 1.0, 1.0]), rough)
    assert unlike == pytest.approx(5.0 / (25.0 / 11.0) * rough**2, rel=0.01)
    # Cut finer, a wall is worth what it was.
    weight, cut = np.array([3.0, 1.0, 1.0]), np.array([2.0, 1.0, 0.4, 0.6, 0.7, 0.3])
    prior, unit = offset_prior(fit_of([0, 1, 2]), weight, rough)
    finer, its_unit = offset_prior(fit_of([0, 0, 1, 1, 2, 2]), cut, rough)
    assert its_unit == pytest.approx(unit)
    np.testing.assert_allclose(finer, prior)
    # Weights have no unit: a thousandth of all of them is a thousandth of it.
    lighter, less = offset_prior(fit_of([0, 1, 2]), 1e-3 * weight, rough)
    assert less == pytest.approx(1e-3 * unit)
    np.testing.assert_allclose(lighter, 1e-3 * prior)


def test_edges_that_lie_exactly_on_the_walls_leave_it_finite() -> None:
    """And as fine as the finest edge: of contrast 100, under noise of 2 and a blur of 0.7 px, it is
    known to (2 / 100) sqrt(2 sqrt(pi) 0.7) = 0.0315 px at best (the Cramer-Rao bound)."""
    prior, unit = offset_prior(fit_of([0, 1]), np.ones(2), 0.0)
    best = 2.0 / 100.0 * np.sqrt(2.0 * np.sqrt(np.pi) * 0.7)
    assert 0.5 * best < np.sqrt(unit) <= best
    assert (np.linalg.eigvalsh(prior) > 0.0).all()


def test_without_weight_there_is_no_say() -> None:
    prior, unit = offset_prior(fit_of([0, 1]), np.zeros(2), 0.5)
    assert 0.0 < unit < 1e-9
    assert np.isfinite(prior).all()
    assert np.abs(prior).max() < 1e-9
