"""Floors that no one move lays: parts moved by known ways, and stretches."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from regmap import synthetic
from regmap.engine.strain import _as_normal, _bends, strain_of, stretch_of
from regmap.register import quietly
from tests.engine.test_judge import GOOD
from tests.engine.walls_by_hand import SIZE, disturbed, walls

Floats = NDArray[np.float64]


@pytest.mark.parametrize("affine", [False, True])
def test_rough_outlines_alone_are_no_strain(affine: bool) -> None:
    """Of 60 floors of few walls and many hardly one is taken for strained, however rough."""
    rng = np.random.default_rng(11)
    found = [
        strain_of(disturbed(walls(rng, count), rng, wall_px=rough, chunk_px=0.3), affine=affine)
        for count in (9, 15, 40)
        for rough in (0.1, 0.8, 2.0)
        for _ in range(20)
    ]
    assert np.mean([strain.sure > 0.1 for strain in found]) < 0.03
    assert np.mean([strain.sure > 0.5 for strain in found]) < 0.01


@pytest.mark.parametrize("by_px", [4.0, -4.0])
@pytest.mark.parametrize("axis", [0, 1])
def test_a_part_that_has_moved_is_told_and_by_how_much(axis: int, by_px: float) -> None:
    rng = np.random.default_rng(5)
    fit = disturbed(walls(rng, 40, angles=(0, 90)), rng, wall_px=0.5, chunk_px=0.3)
    beyond = fit.place[:, axis] > 0.5 * SIZE[axis]
    moved = replace(fit, residual=fit.residual + by_px * beyond * fit.normal[:, axis])
    strain = strain_of(moved, affine=False)
    assert strain.sure > 0.9
    assert not strain.stretched
    # The move is told as it is left by edges that count, not by how the fit was made.
    assert strain.by_px == pytest.approx(abs(by_px), rel=0.25)
    assert strain.errors > 4.5


def test_a_stretch_is_told_unless_the_model_has_it() -> None:
    rng = np.random.default_rng(6)
    fit = disturbed(walls(rng, 40, angles=(0, 90)), rng, wall_px=0.4, chunk_px=0.3)
    away = (fit.place - 0.5 * SIZE) / SIZE.max()
    stretch = 12.0 * (away[:, 0] * fit.normal[:, 0] - away[:, 1] * fit.normal[:, 1])
    pulled = replace(fit, residual=fit.residual + stretch)
    strain = strain_of(pulled, affine=False)
    assert strain.sure > 0.9
    assert strain.stretched
    assert strain_of(pulled, affine=True).sure < 0.1


def test_nothing_seen_is_no_strain() -> None:
    fit = walls(np.random.default_rng(7), 12)
    assert strain_of(replace(fit, quality=np.zeros(len(fit.quality))), affine=False).sure == 0.0
    lying = walls(np.random.default_rng(7), 12, angles=(0,))
    assert strain_of(lying, affine=True).sure == 0.0


def test_students_ratio_as_a_normal_one() -> None:
    """Against the distributions of scipy.stats: within 2 % from 3 degrees of freedom on."""
    for free in (3.0, 8.0, 40.0):
        for ratio in (0.5, 2.0, 5.0, 9.0):
            exact = stats.norm.isf(stats.t.sf(ratio, free))
            assert _as_normal(np.array([ratio]), free)[0] == pytest.approx(exact, rel=0.02)


@pytest.mark.parametrize("seed", [7, 8])
def test_a_floor_of_which_a_part_has_moved_by_a_wall_is_doubted(seed: int) -> None:
    """Rough outlines, of which all that is right of the middle stands 150 mm off."""
    sample, rng = synthetic.sample("flat", seed), np.random.default_rng(1)
    rough = {
        name: tuple(ring + rng.normal(0.0, 25.0, ring.shape) for ring in rings)
        for name, rings in sample.outlines.items()
    }
    every = np.concatenate([ring for rings in sample.outlines.values() for ring in rings])
    middle = every[:, 0].min() + 0.5 * np.ptp(every[:, 0])
    moved = {
        name: tuple(ring + np.outer(ring[:, 0] > middle, (150.0, 0.0)) for ring in rings)
        for name, rings in rough.items()
    }
    whole, parts = quietly(sample.image, rough), quietly(sample.image, moved)
    assert whole.confidence >= 0.9
    assert not any("one part of the floor" in reason for reason in whole.reasons)
    assert parts.confidence < 0.55
    assert any("one part of the floor" in reason for reason in parts.reasons)
    centre = (0.5 * sample.image.shape[1], 0.5 * sample.image.shape[0])
    assert parts.expected_error(centre) > 2.0 * whole.expected_error(centre)


@pytest.mark.parametrize(
    ("family", "seed", "by"), [("one-colour", 571, 0.97), ("jpeg", 811, 0.979)]
)
def test_a_stretch_too_large_for_its_walls_to_be_found_is_doubted(
    family: str, seed: int, by: float
) -> None:
    sample = synthetic.sample(family, seed)
    image = cv2.resize(sample.image, None, fx=1.0, fy=by, interpolation=cv2.INTER_AREA)
    fit = quietly(image, sample.outlines)
    assert fit.confidence < 0.9
    assert any("stretched or bent" in reason for reason in fit.reasons)


@pytest.mark.parametrize(
    ("moved", "sharper", "sure"),
    [
        ((1.02, 0.98), 12.0, 1.0),  # a stretch that shows
        ((1.02, 0.98), 1.0, 0.0),  # one that walls know nothing of
        ((1.02, 1.02), 12.0, 0.0),  # growth is no stretch
        ((1.004, 0.998), 12.0, 0.0),  # nor what harms nothing
    ],
)
def test_a_stretch_is_told_from_the_fit_that_is_free_to_stretch(
    moved: tuple[float, float], sharper: float, sure: float
) -> None:
    rng = np.random.default_rng(12)
    fit = disturbed(walls(rng, 40, angles=(0, 90)), rng, wall_px=0.4, chunk_px=0.3)
    free = replace(fit, pose=np.diag([*moved, 1.0])[:2] @ np.vstack([fit.pose, [0.0, 0.0, 1.0]]))
    strain = stretch_of(fit, free, GOOD, replace(GOOD, surprise=GOOD.surprise + sharper))
    assert strain.sure == sure
    assert strain.stretched
    # What is left is half the difference, of the distance from the middle.
    usual = np.sqrt(((fit.place - fit.place.mean(axis=0)) ** 2).sum(axis=1).mean())
    assert strain.by_px == pytest.approx(0.5 * abs(moved[0] - moved[1]) * usual, rel=0.05)


@pytest.mark.parametrize(
    ("family", "seed", "by"), [("staircase", 809, 0.946), ("dark", 801, 0.965)]
)
def test_a_stretch_that_hides_on_the_other_faces_of_walls_is_told(
    family: str, seed: int, by: float
) -> None:
    """Every wall has a border, and residuals are those of rough outlines."""
    sample = synthetic.sample(family, seed)
    height, width = sample.image.shape[:2]
    image = cv2.resize(sample.image, (round(by * width), height), interpolation=cv2.INTER_AREA)
    fit = quietly(image, sample.outlines)
    assert fit.confidence < 0.9
    assert any("a stretch of the picture" in reason for reason in fit.reasons)
    free = quietly(image, sample.outlines, model="affine")
    assert free.confidence > fit.confidence
    assert not any("stretch" in reason for reason in free.reasons)


@pytest.mark.parametrize(
    ("family", "seed", "by"), [("offset-two", 604, 14.0), ("chrome", 605, 15.0)]
)
def test_a_floor_bent_in_an_arc_is_doubted(family: str, seed: int, by: float) -> None:
    """Columns go down along a parabola: no cut parts the floor, and nothing is stretched."""
    sample = synthetic.sample(family, seed)
    high, wide = sample.image.shape[:2]
    row, column = np.mgrid[0:high, 0:wide].astype(np.float32)
    arc = (by * ((2.0 * column / wide - 1.0) ** 2 - 0.33)).astype(np.float32)
    image = cv2.remap(
        sample.image, column, row - arc, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    assert quietly(sample.image, sample.outlines).confidence >= 0.9
    fit = quietly(image, sample.outlines)
    assert fit.confidence < 0.9


def test_bends_are_what_maps_of_the_plane_do_outward_at_small() -> None:
    """Against differences of the maps themselves: a lens one way, an arc, a homography."""
    rng = np.random.default_rng(6)
    place, angle = rng.uniform(-0.5, 0.5, (40, 2)), rng.uniform(0, 2 * np.pi, 40)
    normal = np.column_stack([np.cos(angle), np.sin(angle)])
    (x, y), step = place.T, 1e-6

    def outward(x_moved: Floats, y_moved: Floats) -> Floats:
        return np.asarray((np.column_stack([x_moved - x, y_moved - y]) * normal).sum(axis=1) / step)

    squeezed, bent, tilted = _bends(place, normal)
    far, aside = 1.0 - step * x, 1.0 - step * y
    for told, expected in (
        (squeezed[:, 0], outward(x + step * x**2, y)),
        (squeezed[:, 1], outward(x, y + step * y**2)),
        (bent[:, 0], outward(x + step * y**2, y)),
        (bent[:, 1], outward(x, y + step * x**2)),
        (tilted[:, 0], outward(x / far, y / far)),
        (tilted[:, 1], outward(x / aside, y / aside)),
    ):
        np.testing.assert_allclose(told, expected, atol=1e-5)
