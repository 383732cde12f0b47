"""Whatever a fit is, its two directions belong together."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from regmap import frames
from regmap.registration import Registration

coordinates = st.floats(-1e5, 1e5, allow_nan=False)
points = st.lists(st.tuples(coordinates, coordinates), min_size=1, max_size=20)


@st.composite
def maps(draw: st.DrawFn) -> np.ndarray:
    """Any map of a picture on a floor: turns, mirrors, 1 to 200 mm a pixel, some shear."""
    turn = draw(st.floats(-math.pi, math.pi))
    c, s = math.cos(turn), math.sin(turn)
    stretch = draw(st.floats(0.5, 2.0))
    handed = draw(st.sampled_from([-1.0, 1.0]))
    linear = draw(st.floats(1, 200)) * np.array([[c, -s], [s, c]]) @ np.diag([stretch, handed])
    shift = [draw(coordinates), draw(coordinates)]
    return np.column_stack([linear, shift])


def registration(matrix: np.ndarray) -> Registration:
    """A fit of one room with this map, as `register` would return it."""
    corners = np.array([[100.0, 100], [300, 120], [290, 200], [210, 190], [260, 330], [90, 300]])
    options: dict[str, Any] = {"transform": frames.matrix_to_affine(matrix), "model": "affine"}
    options |= {"confidence": 0.95, "reprojection_error": 0.1, "wall_offset": 0.0}
    options |= {"covariance": np.eye(6), "anchor_px": (200.0, 200.0), "floor_error": 1.0}
    options |= {"image_size": (400, 400), "rooms": ()}
    return Registration(**options, outlines={"room": (frames.apply(matrix, corners),)})


@given(maps(), points)
@settings(max_examples=60, deadline=None)
def test_there_and_back(matrix: np.ndarray, place: list[tuple[float, float]]) -> None:
    fit = registration(matrix)
    px = np.array(place)
    np.testing.assert_allclose(fit.to_image(fit.to_device(px)), px, atol=1e-6)
    np.testing.assert_allclose(fit.to_device(fit.to_image(px)), px, atol=1e-4)


@given(maps())
@settings(max_examples=30, deadline=None)
def test_mirrored_is_the_sign_of_the_area(matrix: np.ndarray) -> None:
    fit = registration(matrix)
    triangle = np.array([[0.0, 0], [1, 0], [0, 1]])  # clockwise to the eye, for rows go down
    (ax, ay), (bx, by) = np.diff(fit.to_device(triangle), axis=0)
    assume(abs(ax * by - ay * bx) > 1e-9)
    assert fit.mirrored == (ax * by - ay * bx > 0)


@given(maps(), st.integers(3, 6))
@settings(max_examples=30, deadline=None)
def test_control_points_lie_on_the_map(matrix: np.ndarray, count: int) -> None:
    fit = registration(matrix)
    pairs = fit.control_points(count)
    assert len({p.name for p in pairs}) == count
    image = np.array([p.image for p in pairs])
    device = np.array([p.device for p in pairs])
    np.testing.assert_allclose(fit.to_device(image), device, atol=1e-6)
    again = frames.fit_affine(image, device)
    np.testing.assert_allclose(again, matrix, rtol=1e-6, atol=1e-4)
