"""Maps as arrays, and the least-squares fits, held against properties and an independent solver."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

from regmap import frames
from regmap.errors import RegmapError

coefficient = st.floats(-1e3, 1e3, allow_nan=False)


@st.composite
def maps(draw: st.DrawFn) -> np.ndarray:
    """Maps that stretch no direction more than 20 times as much as the other."""
    turn, lean = draw(st.floats(-math.pi, math.pi)), draw(st.floats(-math.pi, math.pi))
    small = draw(st.floats(0.05, 1.0)) * draw(st.sampled_from([1.0, -1.0]))
    size = draw(st.floats(1e-3, 1e3))

    def rotation(t: float) -> np.ndarray:
        return np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])

    linear = size * rotation(turn) @ np.diag([1.0, small]) @ rotation(lean)
    return np.column_stack([linear, [draw(coefficient), draw(coefficient)]])


@given(maps(), maps(), st.lists(st.tuples(coefficient, coefficient), max_size=5))
def test_compose_invert_and_apply_agree(
    outer: np.ndarray, inner: np.ndarray, points: list[tuple[float, float]]
) -> None:
    once = frames.apply(frames.compose(outer, inner), points)
    twice = frames.apply(outer, frames.apply(inner, points))
    assert once == pytest.approx(twice, rel=1e-9, abs=1e-6)
    there = frames.apply(inner, points)
    size = 1 + np.abs(there).max(initial=0.0) / frames.scale_of(inner)
    assert frames.apply(frames.invert(inner), there) == pytest.approx(
        frames.as_points(points), abs=1e-11 * 400 * size
    )


@given(maps())
def test_affine_and_matrix_are_the_same_map(matrix: np.ndarray) -> None:
    affine = frames.matrix_to_affine(matrix)
    assert np.array_equal(frames.affine_to_matrix(affine), matrix)
    assert frames.is_mirrored(affine) == (affine.determinant > 0)
    assert frames.scale_of(affine) == pytest.approx(math.sqrt(abs(affine.determinant)))
    x, y = frames.apply(affine, [(3.0, 4.0)])[0]
    assert x == pytest.approx(affine.a * 3 + affine.b * 4 + affine.c, abs=1e-9)
    assert y == pytest.approx(affine.d * 3 + affine.e * 4 + affine.f, abs=1e-9)


@pytest.mark.parametrize("turn", [-179.0, -90.0, 0.0, 33.0, 180.0])
def test_rotation_is_the_direction_of_the_columns(turn: float) -> None:
    plain = frames.compose(Affine.rotation(turn), Affine.scale(3.0))
    ordinary = frames.compose(plain, Affine.scale(1.0, -1.0))
    for matrix, mirrored in ((plain, True), (ordinary, False)):
        assert frames.rotation_of(matrix) == pytest.approx(turn)
        assert frames.is_mirrored(matrix) is mirrored


@pytest.mark.parametrize("mirrored", [True, False, None])
def test_similarity_is_the_least_of_all(mirrored: bool | None) -> None:
    rng = np.random.default_rng(5)
    source = rng.normal(size=(12, 2)) * 100 + 4000
    target = frames.apply([[2, 1, 7], [1, -2, -3]], source) + rng.normal(size=(12, 2)) * 60
    weights = rng.uniform(0.1, 3.0, 12)
    found = frames.fit_similarity(source, target, weights=weights, mirrored=mirrored)
    sign = 1.0 if mirrored else -1.0  # the made pairs are those of an ordinary picture

    def gaps(p: np.ndarray) -> np.ndarray:
        matrix = [[p[0], -sign * p[1], p[2]], [p[1], sign * p[0], p[3]]]
        left = frames.apply(matrix, source - 4000) - target
        return (left * np.sqrt(weights)[:, None]).ravel()

    other = least_squares(gaps, [1.0, 0.0, 0.0, 0.0], x_scale=[1, 1, 100, 100]).x
    assert found[:, 0] == pytest.approx(other[:2], rel=1e-6)
    assert frames.is_mirrored(found) is bool(mirrored)


def test_affine_is_the_least_of_all() -> None:
    rng = np.random.default_rng(6)
    source, target = rng.normal(size=(9, 2)) * 50 + 1e6, rng.normal(size=(9, 2)) * 50
    weights = rng.uniform(0.1, 3.0, 9)
    found = frames.fit_affine(source, target, weights=weights)
    # Normal equations: the weighted residuals are orthogonal to what the map can change.
    left = (target - frames.apply(found, source)) * weights[:, None]
    around = source - source.mean(axis=0)
    assert left.sum(axis=0) == pytest.approx([0, 0], abs=1e-6)
    assert around.T @ left == pytest.approx(np.zeros((2, 2)), abs=1e-4)


@given(maps(), st.integers(0, 1000))
def test_fits_return_the_map_that_made_the_points(matrix: np.ndarray, seed: int) -> None:
    source = np.random.default_rng(seed).uniform(-1000, 1000, (6, 2))
    target = frames.apply(matrix, source)
    size = np.abs(target).max()
    assert frames.apply(frames.fit_affine(source, target), source) == pytest.approx(
        target, abs=1e-9 * size
    )
    a, b = matrix[:, 0]
    turned = np.array([[a, b, 5.0], [b, -a, 6.0]])
    similar = frames.fit_similarity(source, frames.apply(turned, source))
    assert similar == pytest.approx(turned, abs=1e-9 * np.abs(turned).max())


def test_weights_of_zero_leave_pairs_out_and_whole_weights_repeat_them() -> None:
    source, target = [(0, 0), (1, 0), (0, 2), (3, 3)], [(0, 0), (0, 2), (-4, 0), (9, 9)]
    without = frames.fit_similarity(source[:3], target[:3], mirrored=True)
    assert np.allclose(
        frames.fit_similarity(source, target, weights=[1, 1, 1, 0], mirrored=True), without
    )
    twice = frames.fit_affine([*source, source[3]], [*target, target[3]])
    assert np.allclose(frames.fit_affine(source, target, weights=[1, 1, 1, 2]), twice)


def test_residuals_worked_out_by_hand() -> None:
    left = frames.residuals(Affine.identity(), [(0, 0), (1, 1)], [(3, 4), (1, 1)])
    assert left.vectors.tolist() == [[3, 4], [0, 0]]
    assert left.rmse == pytest.approx(math.sqrt(25 / 2))  # per point
    assert left.rmse_per_coordinate == pytest.approx(math.sqrt(25 / 4))
    assert left.largest == 5.0


@pytest.mark.parametrize(
    ("source", "target", "text"),
    [
        ([(1, 1)], [(2, 2)], "at least 2"),
        ([(1e7, 1e7)] * 3, [(0, 0), (1, 1), (2, 0)], "source points lie in one place"),
        ([(0, 0), (1, 1), (2, 0)], [(0.1, 0.1)] * 3, "target points lie in one place"),
        ([(0, 0), (1, 1), (2, 2)], [(0, 0), (2, 2), (4, 4)], "mirror image equally well"),
        ([(0, 0), (1, 1)], [(0, 0)], "2 source points but 1 target"),
        ([(0, 0, 0), (1, 1, 1)], [(0, 0), (1, 1)], r"shape is \(2, 3\)"),
        ([(0, 0), (1, math.nan)], [(0, 0), (1, 1)], "not finite"),
        ([(0, 0), ("a", 1)], [(0, 0), (1, 1)], "numbers in the shape"),
    ],
)
def test_similarity_refuses_what_does_not_determine_it(source: Any, target: Any, text: str) -> None:
    with pytest.raises(RegmapError, match=text):
        frames.fit_similarity(source, target)


def test_affine_refuses_a_line_even_far_from_the_origin() -> None:
    along = np.arange(5.0)[:, None] * [0.3, 0.7] + [5e6, 2e6]
    with pytest.raises(RegmapError, match="one line"):
        frames.fit_affine(along, np.random.default_rng(1).normal(size=(5, 2)))


@pytest.mark.parametrize("weights", [[1, 1], [1, 1, -1], [1, 1, math.inf]])
def test_odd_weights_are_refused(weights: list[float]) -> None:
    with pytest.raises(RegmapError, match="weights must be 3 finite numbers"):
        frames.fit_affine([(0, 0), (1, 0), (0, 1)], [(0, 0), (1, 0), (0, 1)], weights=weights)


def test_what_is_no_map_is_refused() -> None:
    with pytest.raises(RegmapError, match="finite Affine"):
        frames.apply(np.eye(2), [(0, 0)])
    with pytest.raises(RegmapError, match="finite Affine"):
        frames.invert([[1.0, 0.0, math.nan], [0.0, 1.0, 0.0]])
    with pytest.raises(RegmapError, match="cannot be inverted"):
        frames.invert([[1, 2, 0], [2, 4, 0]])
    assert np.array_equal(frames.affine_to_matrix(np.eye(3)), np.eye(3)[:2])
