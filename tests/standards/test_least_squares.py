"""Least-squares transforms against worked examples that others published."""

from __future__ import annotations

import math

import numpy as np
import pytest

from regmap import frames

# --- Umeyama, "Least-squares estimation of transformation parameters between two point patterns",
# --- IEEE TPAMI 13(4):376-380, 1991: the paper's own example.
UMEYAMA_X = [(0, 0), (1, 0), (0, 2)]
UMEYAMA_Y = [(0, 0), (-1, 0), (0, 2)]


def test_umeyama_example_with_a_proper_rotation() -> None:
    matrix = frames.fit_similarity(UMEYAMA_X, UMEYAMA_Y, mirrored=True)
    scale = frames.scale_of(matrix)
    rotation = matrix[:, :2] / scale
    # As printed in the paper.
    assert np.round(rotation, 3).tolist() == [[0.832, 0.555], [-0.555, 0.832]]
    assert round(scale, 3) == 0.721
    assert np.round(matrix[:, 2], 3).tolist() == [-0.8, 0.4]
    # The same, worked out again to more digits by hand.
    assert rotation == pytest.approx(np.array([[3, 2], [-2, 3]]) / math.sqrt(13), abs=1e-12)
    assert scale == pytest.approx(0.7211102551, abs=1e-10)


def test_umeyama_example_residuals_are_named_rightly() -> None:
    # Mean squared point error of the proper rotation, worked out again by hand: 8 / 15.
    matrix = frames.fit_similarity(UMEYAMA_X, UMEYAMA_Y, mirrored=True)
    left = frames.residuals(matrix, UMEYAMA_X, UMEYAMA_Y)
    assert left.rmse**2 == pytest.approx(0.533333, abs=1e-6)
    assert left.rmse == pytest.approx(0.730297, abs=1e-6)
    assert left.rmse_per_coordinate == pytest.approx(0.516398, abs=1e-6)


def test_umeyama_example_with_a_reflection_allowed() -> None:
    # Worked out again by hand: Y is X mirrored in the second axis, so that nothing is left over.
    matrix = frames.fit_similarity(UMEYAMA_X, UMEYAMA_Y)
    assert matrix == pytest.approx(np.array([[-1, 0, 0], [0, 1, 0]]), abs=1e-12)
    assert frames.residuals(matrix, UMEYAMA_X, UMEYAMA_Y).largest == pytest.approx(0, abs=1e-12)


# --- Four-parameter (conformal) transformation: a worked example that several surveying codes
# --- carry, attributed to Ghilani & Wolf, "Adjustment Computations", ch. 18. The attribution is
# --- from memory; the figures were worked out again. The large offsets test centring, too.
CONFORMAL_FROM = [(121.622, -128.066), (141.228, 187.718), (175.802, 135.728)]
CONFORMAL_TO = [(1049422.40, 51089.20), (1049413.95, 49659.30), (1049244.95, 49884.95)]


def test_conformal_example_parameters() -> None:
    matrix = frames.fit_similarity(CONFORMAL_FROM, CONFORMAL_TO, mirrored=True)
    a, b = matrix[0, 0], matrix[1, 0]
    assert a == pytest.approx(-4.51249, abs=5e-6)
    assert b == pytest.approx(-0.25371, abs=5e-6)
    assert matrix[:, 2] == pytest.approx([1050003.715, 50542.131], abs=5e-4)
    assert frames.scale_of(matrix) == pytest.approx(4.519620521, abs=5e-9)
    assert frames.rotation_of(matrix) == pytest.approx(-176.78194, abs=5e-6)


def test_conformal_example_standard_error() -> None:
    matrix = frames.fit_similarity(CONFORMAL_FROM, CONFORMAL_TO, mirrored=True)
    left = frames.residuals(matrix, CONFORMAL_FROM, CONFORMAL_TO)
    # 6 observed coordinates, 4 unknowns: 2 degrees of freedom.
    assert math.sqrt((left.vectors**2).sum() / 2) == pytest.approx(0.1398, abs=5e-5)


def test_conformal_example_new_points() -> None:
    matrix = frames.fit_similarity(CONFORMAL_FROM, CONFORMAL_TO, mirrored=True)
    points = [(174.148, -120.262), (513.520, -192.130), (754.444, -67.706), (972.788, 120.994)]
    expected = [
        (1049187.361, 51040.629),
        (1047637.713, 51278.829),
        (1046582.113, 50656.241),
        (1045644.713, 49749.336),
    ]
    assert frames.apply(matrix, points) == pytest.approx(np.array(expected), abs=1e-3)
