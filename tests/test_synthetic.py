"""Made floors and pictures: their truth must be exact, or nothing measured against them counts."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPoint, Polygon

from regmap import frames, synthetic
from regmap.synthetic.raster import Canvas, coverage

EVERY = synthetic.FAMILIES


@pytest.mark.parametrize("family", EVERY)
def test_every_family_draws_what_it_says(family: str) -> None:
    made = synthetic.sample(family, 1)
    assert made.image.dtype == np.uint8
    assert made.image.ndim == 3
    assert made.image.shape[2] == 3
    assert len(made.visible_px) >= 40
    height, width = made.image.shape[:2]
    assert (made.visible_px >= 0).all()
    assert (made.visible_px <= (width, height)).all()
    assert made.mirrored == frames.is_mirrored(made.image_to_device)
    assert all(len(ring) >= 3 for rings in made.outlines.values() for ring in rings)


@pytest.mark.parametrize("family", EVERY)
def test_same_seed_same_bits(family: str) -> None:
    first, again = synthetic.sample(family, 3), synthetic.sample(family, 3)
    assert np.array_equal(first.image, again.image)
    assert np.array_equal(first.image_to_device, again.image_to_device)
    other = synthetic.sample(family, 4)
    assert not np.array_equal(first.image_to_device, other.image_to_device)


def test_coverage_has_the_area_and_the_centroid_of_the_shape() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        shape = MultiPoint(rng.uniform(3, 57, (7, 2))).convex_hull
        hole = shapely.Point(shape.centroid).buffer(1.7)
        shape = shape.difference(hole)
        rows, columns, share = coverage(shape, 60, 60)
        full = np.zeros((60, 60))
        full[rows, columns] = share
        assert full.sum() == pytest.approx(shape.area, abs=1e-3)
        centre = np.arange(60) + frames.PIXEL_CENTRE
        found = (full.sum(0) @ centre / full.sum(), full.sum(1) @ centre / full.sum())
        assert found == pytest.approx((shape.centroid.x, shape.centroid.y), abs=5e-3)


def test_coverage_drops_what_lies_outside() -> None:
    shape = Polygon([(-30, -20), (25.5, -20), (25.5, 40.25), (-30, 40.25)])
    rows, columns, share = coverage(shape, 100, 50)
    assert (rows, columns) == (slice(0, 41), slice(0, 26))
    assert share.sum() == pytest.approx(25.5 * 40.25, abs=1e-3)


def test_tiles_leave_no_seam() -> None:
    canvas = Canvas(np.zeros((20, 20, 3), np.float32), np.array([[1.0, 0, 0], [0, 1.0, 0]]))
    left, right = shapely.box(0, 0, 10.3, 20), shapely.box(10.3, 0, 20, 20)
    canvas.tile([left, right], [(200, 200, 200), (200, 200, 200)])
    assert canvas.image == pytest.approx(np.full((20, 20, 3), 200.0), abs=1e-3)
