"""Small moves: what they do to a pose is what their derivatives say."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import frames
from regmap.engine.moves import apply_step, columns, design_matrix

Floats = NDArray[np.float64]

MIDDLE, HALF = np.array([310.0, -45.0]), 220.0


def made_poses(count: int) -> Floats:
    return np.random.default_rng(6).uniform(-300.0, 300.0, (count, 2, 3))


@pytest.mark.parametrize("affine", [False, True])
def test_a_move_shifts_points_along_normals_as_the_design_matrix_says(affine: bool) -> None:
    """The move is linear in its parameters, so that this holds for steps of any size."""
    rng = np.random.default_rng(3)
    count = 6 if affine else 4
    poses, steps = made_poses(7), rng.normal(0.0, 3.0, (7, count))
    own = rng.normal(0.0, 1.0, (20, 2))
    angle = rng.uniform(0.0, 2.0 * np.pi, 20)
    normal = np.column_stack([np.cos(angle), np.sin(angle)])
    moved = apply_step(poses, steps, MIDDLE, HALF, affine=affine)
    for pose, after, step in zip(poses, moved, steps, strict=True):
        before = frames.apply(pose, own)
        design = design_matrix((before - MIDDLE) / HALF, normal, affine=affine)
        assert design.shape == (20, count)
        travelled = ((frames.apply(after, own) - before) * normal).sum(axis=1)
        np.testing.assert_allclose(travelled, design @ step, atol=1e-9)


def test_without_stretch_and_shear_a_similarity_stays_one() -> None:
    cos, sin = 3.0 * np.cos(0.4), 3.0 * np.sin(0.4)
    pose = np.array([[[cos, -sin, 12.0], [sin, cos, -7.0]]])
    step = np.array([[5.0, -2.0, 11.0, 22.0]])
    linear = apply_step(pose, step, MIDDLE, HALF, affine=False)[0, :, :2]
    grown = 3.0 * np.hypot(1.0 + 11.0 / HALF, 22.0 / HALF)
    np.testing.assert_allclose(linear.T @ linear, grown**2 * np.eye(2), atol=1e-12)
    # A turn as long as the half size is one of 45 degrees, growth for growth.
    np.testing.assert_allclose(
        np.arctan2(linear[1, 0], linear[0, 0]) - 0.4, np.arctan(22.0 / (HALF + 11.0))
    )


def test_parameters_are_told_apart_by_places_and_normals() -> None:
    """Six places suffice for six parameters, and the columns are those of the design matrix."""
    rng = np.random.default_rng(9)
    place, normal = rng.normal(size=(2, 6, 2))
    design = design_matrix(place, normal, affine=True)
    assert np.linalg.matrix_rank(design) == 6
    parts = [p.astype(np.float32) for p in (*place.T, *normal.T)]
    single = columns(*parts, affine=True)
    assert {column.dtype for column in single} == {np.dtype(np.float32)}
    np.testing.assert_allclose(np.stack(single, axis=-1), design, rtol=1e-5, atol=1e-5)
    # Of many poses at once: the parameters come last.
    stacked = design_matrix(place.reshape(3, 2, 2), normal.reshape(3, 2, 2), affine=True)
    np.testing.assert_array_equal(stacked, design.reshape(3, 2, 6))
