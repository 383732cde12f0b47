"""Circular error and error ellipses against independent integration and made samples."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, special

from regmap.accuracy import circular_error, error_ellipses
from regmap.errors import RegmapError


def _share_within(radius: float, major: float, minor: float) -> float:
    """Integrate over x what lies within the circle above and below it, with x = R sin(t)."""

    def slice_at(t: float) -> float:
        x, y = radius * math.sin(t), radius * math.cos(t)
        density = math.exp(-((x / minor) ** 2) / 2) / (minor * math.sqrt(2 * math.pi))
        return density * special.erf(y / (major * math.sqrt(2))) * radius * math.cos(t)

    edge = min(math.pi / 2, 12 * minor / radius)
    return float(integrate.quad(slice_at, -edge, edge, epsabs=1e-12, limit=200)[0])


@pytest.mark.parametrize("ratio", [0.01, 0.123, 0.5, 0.77, 0.999, 1.0])
@pytest.mark.parametrize("share", [0.5, 0.9, 0.95, 0.999])
def test_circle_holds_the_share_that_it_promises(ratio: float, share: float) -> None:
    radius = float(circular_error(np.diag([4.0, 4.0 * ratio**2]), share=share))
    step = 2e-6 * radius
    # The true radius lies within 2e-6 of the one returned.
    assert _share_within(radius - step, 2.0, 2.0 * ratio) < share
    assert _share_within(radius + step, 2.0, 2.0 * ratio) > share


axis = st.one_of(st.just(0.0), st.floats(1e-6, 1e4))  # squares of less would vanish


@given(axis, axis, st.floats(-180, 180))
def test_turning_the_ellipse_changes_nothing_but_its_direction(
    a: float, b: float, t: float
) -> None:
    cos, sin = math.cos(math.radians(t)), math.sin(math.radians(t))
    turn = np.array([[cos, -sin], [sin, cos]])
    lying = np.diag([a**2, b**2])
    turned = turn @ lying @ turn.T
    size = max(a, b, 1e-100)
    assert circular_error(turned) == pytest.approx(circular_error(lying), abs=1e-6 * size)
    major, minor, angle = error_ellipses(turned)
    assert major == pytest.approx(math.sqrt(5.991465) * max(a, b), rel=1e-6, abs=1e-99)
    assert -90 <= angle <= 90
    if min(a, b) < 0.9 * max(a, b) and size > 1e-50:
        expected = t if a > b else t + 90
        gap = (angle - expected + 90) % 180 - 90
        assert gap == pytest.approx(0, abs=1e-4)
    assert minor <= major
    # The circle is never smaller than one axis alone asks, nor larger than the major axis.
    assert 1.95996 * max(a, b) <= circular_error(turned) * 1.000001
    assert circular_error(turned) <= major * 1.000001


def test_samples_stay_inside_ellipse_and_circle_as_often_as_promised() -> None:
    covariance = np.array([[9.0, 3.0], [3.0, 4.0]])
    rng = np.random.default_rng(3)
    errors = rng.multivariate_normal([0, 0], covariance, size=100_000)
    allowed = 4 * math.sqrt(0.95 * 0.05 / len(errors))
    within = np.hypot(*errors.T) < circular_error(covariance)
    assert within.mean() == pytest.approx(0.95, abs=allowed)
    major, minor, angle = error_ellipses(covariance)
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    along, across = errors @ [cos, sin], errors @ [-sin, cos]
    inside = (along / major) ** 2 + (across / minor) ** 2 < 1
    assert inside.mean() == pytest.approx(0.95, abs=allowed)


def test_many_at_once_and_none() -> None:
    many = np.stack([np.eye(2), np.eye(2) * 4, np.zeros((2, 2))]).reshape(3, 1, 2, 2)
    found = circular_error(many)
    assert found.shape == (3, 1)
    assert found.ravel() == pytest.approx([2.4477468, 4.8954937, 0.0])
    assert error_ellipses(many).shape == (3, 1, 3)
    assert circular_error(np.empty((0, 2, 2))).shape == (0,)


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(RegmapError, match=r"shape \(3, 3\)"):
        circular_error(np.eye(3))
    for share in (0.0, 0.49, 1.0, math.nan):
        with pytest.raises(RegmapError, match=r"at least 0\.5"):
            circular_error(np.eye(2), share=share)
