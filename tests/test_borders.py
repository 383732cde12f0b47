"""Where the drawn borders are expected: each side of an outline moved by its own offset."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from numpy.typing import NDArray

from regmap.outputs.borders import borders
from tests.fit_examples import make_fit

Floats = NDArray[np.float64]

RING = np.array([[0.0, 0], [60, 0], [60, 40], [30, 40], [30, 70], [0, 70]])
HOLE = np.array([[10.0, 10], [10, 20], [20, 20], [20, 10]])


def _borders(rings: tuple[Floats, ...], samples: Floats, offset_px: float, **kw: Any) -> list[Any]:
    """Return the borders of one room whose outline is given in px, at 10 mm a pixel."""
    transform = Affine(10, 0, 0, 0, -10, 0)
    residuals = np.column_stack([samples, np.zeros(len(samples))]) if len(samples) else samples
    fit = make_fit(
        transform=transform,
        outlines={"kiln": tuple(ring * (10, -10) for ring in rings)},
        wall_offset=10 * offset_px,
        residuals=residuals,
        **kw,
    )
    return [ring for _, ring in borders(fit)]


@pytest.mark.parametrize("offset", [0.0, 3.0, -2.0])
@pytest.mark.parametrize("backwards", [False, True])
def test_without_samples_it_is_the_mitred_buffer(offset: float, backwards: bool) -> None:
    """Compared with shapely's buffer; a hole shrinks where the room grows."""
    rings = (RING[::-1], HOLE[::-1]) if backwards else (RING, HOLE)
    outer, hole = _borders(rings, np.empty((0, 3)), offset)
    expected = shapely.Polygon(RING, [HOLE]).buffer(offset, join_style="mitre")
    assert shapely.Polygon(outer, [hole]).symmetric_difference(expected).area == pytest.approx(
        0, abs=1e-6
    )


def test_each_side_takes_the_offset_of_its_samples() -> None:
    """The left side is an outer wall, 5 px thick; all others 2 px. Samples of others cross it."""
    left = np.column_stack([np.full(12, -5.0), np.linspace(3, 67, 12)])
    low = np.column_stack([np.linspace(-5, 62, 12), np.full(12, -2.0)])
    right = np.column_stack([np.full(8, 62.0), np.linspace(0, 40, 8)])
    (ring,) = _borders((RING,), np.concatenate([left, low, right]), 2.5)
    polygon = shapely.Polygon(ring)
    assert polygon.bounds == pytest.approx((-5, -2, 62, 72.5), abs=1e-9)
    assert polygon.is_valid


def test_a_curved_wall_stays_smooth() -> None:
    """Short sides that go on in one direction move along with each other."""
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    circle = 30 * np.column_stack([np.cos(angle), np.sin(angle)]) + 100
    (ring,) = _borders((circle,), np.empty((0, 3)), 4.0)
    assert np.hypot(*(ring - 100).T) == pytest.approx(34, abs=0.05)
    assert len(ring) == 48


def test_spikes_and_sides_of_no_length_stay_within_reach() -> None:
    ring = np.array([[0.0, 0], [50, 0], [50, 0], [50, 1], [0, 1]])
    spike = np.array([[0.0, 0], [80, 1], [0, 2]])
    for shape in (ring, spike):
        (moved,) = _borders((shape,), np.empty((0, 3)), 3.0)
        assert np.isfinite(moved).all()
        assert shapely.distance(shapely.points(moved), shapely.LinearRing(shape)).max() <= 9.001
