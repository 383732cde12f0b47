"""Smaller copies of a picture: by how much, and that nothing is shifted."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from regmap.engine.pyramid import pyramid
from tests.engine import scenes


@pytest.mark.parametrize(
    "size", [(1501, 997), (640, 480), (997, 2003), (3000, 200), (1118, 894), (1920, 1080)]
)
def test_the_working_copy_has_one_factor_for_both_axes(size: tuple[int, int]) -> None:
    """The middle of mass of a blob must move by the factor that is returned, in both axes."""
    width, height = size
    image = np.zeros((height, width, 3), dtype=np.uint8)
    top, left = int(0.6 * height), int(0.8 * width)
    image[top : top + 40, left : left + 90] = 200
    factor, small = pyramid(image, 640)[0]
    assert min(540, max(size)) - 1 <= max(small.shape[:2]) <= 640
    grey = small[..., 0].astype(np.float64)
    row, column = (np.arange(n) + 0.5 for n in grey.shape)
    middle = np.array([(grey.sum(0) * column).sum(), (grey.sum(1) * row).sum()]) / grey.sum()
    expected = factor * np.array([left + 45.0, top + 20.0])
    assert np.abs(middle - expected).max() < 0.05


def test_a_small_picture_stays_as_it_is() -> None:
    image = scenes.scene().image
    factor, small = pyramid(image, 640)[0]
    assert factor == 1.0
    assert np.array_equal(small, image)
    _, grey = pyramid(np.ascontiguousarray(image[..., 0]), 640)[0]
    assert grey.shape == (*image.shape[:2], 1)


@pytest.mark.parametrize("longest", [300, 350, 640, 699, 700, 1300, 2000])
def test_the_pyramid_ends_with_the_picture_itself(longest: int) -> None:
    image = np.random.default_rng(1).integers(0, 255, (1400, 2100, 3), dtype=np.uint8)
    levels = pyramid(image, longest)
    assert max(levels[0][1].shape[:2]) <= longest
    assert levels[-1][0] == 1.0
    assert np.array_equal(levels[-1][1], image)
    for (before, _), (after, level) in itertools.pairwise(levels):
        assert 1.0 < after / before < 3.0 + 1e-9
        assert level.shape[1] == pytest.approx(2100 * after, abs=1)


@pytest.mark.parametrize("times", [2, 3, 4, 6])
def test_levels_are_means_of_blocks(times: int) -> None:
    image = np.random.default_rng(1).integers(0, 255, (1207, 2406, 3), dtype=np.uint8)
    for factor, level in pyramid(image, 2406 // times):
        size = round(1.0 / factor)
        height, width = level.shape[:2]
        blocks = image[: height * size, : width * size].reshape(height, size, width, size, 3)
        # Each halving rounds to whole levels, and so does what follows it.
        np.testing.assert_allclose(level, blocks.mean(axis=(1, 3)), atol=1.6)
    assert times * factor >= 1.0
