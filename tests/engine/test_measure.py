"""Borders across walls: where they are to a fraction of a px, and which face of a wall counts."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap import frames
from regmap.engine.measure import (
    carried,
    gap_px,
    place_samples,
    robust_weights,
)
from regmap.engine.profiles import chunk_samples
from regmap.engine.walls import Samples, sample_walls
from tests.engine import boxes, scenes

Floats = NDArray[np.float64]

PHASES = np.arange(25) / 25.0


def box_at(phase: float) -> boxes.Box:
    return (20.0 + phase, 15.0 + phase, 80.0 + phase, 65.0 + phase)


@pytest.mark.parametrize(
    ("kind", "tolerance"), [(0.5, 0.03), (0.7, 0.02), (1.0, 0.02), ("anti-aliased", 0.05)]
)
def test_borders_are_found_to_a_fraction_of_a_pixel(kind: float | str, tolerance: float) -> None:
    """At every phase of the pixel grid; the truth is a formula."""
    means = []
    for phase in PHASES:
        box = box_at(float(phase))
        if isinstance(kind, float):
            image = boxes.blurred(box, (100, 80), blur=kind)
        else:
            image = boxes.covered(box, (100, 80))
        walls, pose = boxes.room(box)
        fit = boxes.look(image, pose, boxes.probe_of(walls))
        chosen = boxes.away_from_corners(fit, box)
        assert chosen.sum() > 20
        assert np.abs(fit.residual[chosen]).max() < tolerance
        assert fit.quality[chosen].min() > 0.7
        means.append(fit.residual[chosen].mean())
    # No lean to the outside or the inside is left on average.
    assert abs(np.mean(means)) < 1e-3


@pytest.mark.parametrize("shift", [-1.3, -0.4, 0.7, 1.6])
def test_residuals_are_outward_distances(shift: float) -> None:
    """Outlines that lie `shift` px inside the border have it that much further out."""
    box = (20.3, 15.7, 80.3, 65.7)
    image = boxes.blurred(box, (100, 80), blur=0.8)
    smaller = (box[0] + shift, box[1] + shift, box[2] - shift, box[3] - shift)
    walls, pose = boxes.room(smaller)
    for mirror in (1.0, -1.0):
        flip = np.array([[mirror, 0, 0 if mirror > 0 else 100.0], [0, 1, 0]])
        picture = image if mirror > 0 else np.ascontiguousarray(image[:, ::-1])
        fit = boxes.look(picture, frames.compose(flip, pose), boxes.probe_of(walls), half=3.0)
        middle = np.abs(fit.residual - shift) < 0.3
        assert middle.mean() > 0.8
        assert np.median(fit.residual) == pytest.approx(shift, abs=0.02)
        # All outer walls: the offset takes it up.
        fit = boxes.look(
            picture, frames.compose(flip, pose), boxes.probe_of(walls), offset=(0.0, shift)
        )
        assert np.median(fit.residual) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("noise", [2.0, 5.0])
def test_single_lines_against_the_best_possible_error(noise: float) -> None:
    """No unbiased measure of a blurred step's place on one scan line has a standard error below
    (sigma_n / A) sqrt(2 sqrt(pi) s), the bound of Cramer and Rao: A = 100, sigma_n = 2, s = 0.7
    give 0.0315 px. This one comes within a factor of 1.5 of it."""
    blur, contrast = 0.7, 100.0
    bound = noise / contrast * math.sqrt(2.0 * math.sqrt(math.pi) * blur)
    if noise == 2.0:
        assert bound == pytest.approx(0.0315, abs=5e-5)
    rng = np.random.default_rng(17)
    found = []
    for phase in PHASES[::2]:
        box = (20.0 + phase, 10.0, 80.0 + phase, 210.0)
        image = boxes.blurred(box, (100, 220), blur=blur, contrast=contrast, noise=noise, rng=rng)
        walls, pose = boxes.room(box)
        # A sample a row, on the rows' centres, each on its own: one scan line each.
        every = sample_walls(walls, 520)
        placed = frames.apply(pose, every.point)
        upright = (np.abs(every.along @ walls.linear.T)[:, 0] < 1e-9) & (
            np.abs(placed[:, 1] - 110.0) < 90.0
        )
        samples = Samples(
            every.point[upright],
            every.normal[upright],
            every.along[upright],
            every.wall[upright],
            every.room[upright],
            every.weight[upright],
        )
        assert np.abs(placed[upright, 1] % 1.0 - 0.5).max() < 1e-6
        probe = boxes.probe_of(walls)
        chunks = chunk_samples(samples, walls.bend, 1)
        lines = type(probe)(walls, samples, chunks, probe.inside, 1)
        found.append(boxes.look(image, pose, lines).residual)
    error = float(np.concatenate(found).std())
    # About 4700 lines: the standard deviation itself is known to 1 %.
    assert 1.0 * bound < error < 1.5 * bound
    assert abs(np.concatenate(found).mean()) < 0.1 * bound


def test_the_mean_of_a_chunk_is_as_much_better_as_it_has_rows() -> None:
    rng = np.random.default_rng(23)
    box = (20.4, 10.0, 80.4, 210.0)
    walls, pose = boxes.room(box)
    spread = {}
    for chunk in (1, 9):
        errors = []
        for _ in range(6):
            image = boxes.blurred(box, (100, 220), blur=0.7, noise=6.0, rng=rng)
            fit = boxes.look(image, pose, boxes.probe_of(walls, samples=520, chunk=chunk))
            upright = boxes.away_from_corners(fit, box) & (np.abs(fit.normal[:, 0]) > 0.9)
            errors.append(fit.residual[upright])
        spread[chunk] = float(np.concatenate(errors).std())
    assert spread[1] / spread[9] == pytest.approx(3.0, rel=0.25)


def test_what_lies_outside_the_picture_is_not_shown() -> None:
    box = (-20.0, 15.0, 80.0, 65.0)
    image = boxes.blurred(box, (100, 80), blur=0.7)
    walls, pose = boxes.room(box)
    fit = boxes.look(image, pose, boxes.probe_of(walls))
    outside = fit.place[:, 0] < 0.0
    assert outside.any()
    assert fit.shown[fit.place[:, 0] < -5].max() == 0.0
    assert fit.quality[outside].max() == 0.0
    assert fit.shown[fit.place[:, 0] > 5].min() == 1.0


def test_where_there_is_no_border_there_is_no_quality() -> None:
    walls, pose = boxes.room((20.0, 15.0, 80.0, 65.0))
    probe = boxes.probe_of(walls)
    blank = np.full((80, 100, 3), 90, dtype=np.uint8)
    assert boxes.look(blank, pose, probe).quality.max() == 0.0
    noise = np.random.default_rng(2).normal(120, 8, (80, 100, 3)).astype(np.uint8)
    true = boxes.look(boxes.blurred((20, 15, 80, 65), (100, 80), blur=0.7), pose, probe)
    assert boxes.look(noise, pose, probe).quality.mean() < 0.3 * true.quality.mean()


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn_deg", [0.0, 27.0])
def test_samples_are_placed_with_outward_normals(turn_deg: float, mirrored: bool) -> None:
    scene = scenes.scene(turn_deg=turn_deg, mirrored=mirrored)
    walls = scene.walls
    samples = sample_walls(walls, 150)
    place, normal = place_samples(scene.pose(walls)[None], samples.point, samples.along)
    np.testing.assert_allclose(np.hypot(*normal[0].T), 1.0)
    rooms = [shapely.Polygon(frames.apply(scene.to_image, r[0])) for r in scene.rings.values()]
    own = np.array(rooms)[samples.room]
    assert shapely.contains_xy(own, *(place[0] - 0.5 * normal[0]).T).all()
    assert not shapely.contains_xy(own, *(place[0] + 0.5 * normal[0]).T).any()


def test_a_line_beside_the_wall_is_not_the_wall() -> None:
    """A driven path goes round the room near its walls, and is far brighter against it than what
    lies behind them. The room's colour comes back behind the line; behind the wall it does not."""
    box = (20.0, 15.0, 80.0, 65.0)
    image = np.full((80, 100, 1), 140, dtype=np.uint8)
    image[15:65, 20:80] = 160
    image[18:62, 23:77] = 255
    image[20:60, 25:75] = 160
    walls, pose = boxes.room((21.5, 16.5, 78.5, 63.5))
    fit = boxes.look(image, pose, boxes.probe_of(walls), half=4.0)
    chosen = boxes.away_from_corners(fit, box)
    assert fit.residual[chosen] == pytest.approx(1.5, abs=0.3)
    assert fit.lasting[chosen].min() > 0.9
    # Where the line is all there is, it is worth less.
    image[image == 140] = 160
    alone = boxes.look(image, pose, boxes.probe_of(walls), half=4.0)
    assert alone.lasting[chosen].max() < 0.5


def wall_of(count: int) -> tuple[Floats, Floats, NDArray[np.int64]]:
    place = np.stack([np.linspace(0, 100, count), np.zeros(count)], axis=1)
    return place, np.tile([0.0, 1.0], (count, 1)), np.zeros(count, dtype=np.int64)


def test_robust_weights_let_go_of_outliers() -> None:
    """Geman & McClure's kernel: what lies beyond its width loses its say, the rest keeps it."""
    rng = np.random.default_rng(12)
    residual = rng.normal(0.0, 0.1, 100)
    residual[:25] = rng.choice([-1, 1], 25) * rng.uniform(3.0, 6.0, 25)
    place, normal, wall = wall_of(100)
    fit = boxes.made_fit(place, normal, residual, wall=wall)
    weight, rough = robust_weights(fit, smallest=0.35)
    assert weight[:25].max() < 0.03 * weight[25:].mean()
    assert weight[25:].min() > 0.3 * weight.max()
    # The scatter is that of the good ones, though a quarter are none.
    assert 0.08 < rough < 0.25
    assert abs(np.average(residual, weights=weight)) < 0.03


def test_the_kernel_is_a_quarter_at_its_width_and_falls() -> None:
    """1 / (1 + (x / s)^2)^2, as Geman & McClure (1987) have it: 1, 16/25, 1/4, 1/25 at these x."""
    residual = np.zeros(101)
    residual[:4] = [0.0, 0.5 * 0.35, 0.35, 2 * 0.35]
    place, normal, wall = wall_of(101)
    weight, _ = robust_weights(boxes.made_fit(place, normal, residual, wall=wall), smallest=0.35)
    np.testing.assert_allclose(weight[:4] / weight[0], [1, 16 / 25, 1 / 4, 1 / 25])


def test_robust_weights_widen_with_the_scatter() -> None:
    rng = np.random.default_rng(13)
    place, normal, wall = wall_of(400)
    for spread in (0.5, 2.0):
        fit = boxes.made_fit(place, normal, rng.normal(0.0, spread, 400), wall=wall)
        weight, rough = robust_weights(fit, smallest=0.35)
        # The median of |x| is 0.6745 sigma for a normal distribution.
        assert rough == pytest.approx(spread, rel=0.15)
        assert weight.mean() > 0.7 * weight.max()


@pytest.mark.parametrize(("spread", "least", "most"), [(0.02, 8.0, 10.0), (3.0, 0.9, 1.1)])
def test_rough_walls_count_alike_whatever_their_length(
    spread: float, least: float, most: float
) -> None:
    """Walls of 10 and 100 chunks: the variance of a wall's mean is that of the wall and that of a
    chunk over their number (a random effect: Laird & Ware, 1982), and weights are its inverse."""
    place, normal, _ = wall_of(110)
    wall = np.repeat([0, 1], [10, 100])
    residual = spread * np.tile([-1.0, 1.0], 55) / 1.4826
    weight, _ = robust_weights(
        boxes.made_fit(place, normal, residual, wall=wall), smallest=100.0 * spread
    )
    ratio = weight[wall == 1].sum() / weight[wall == 0].sum()
    assert least < ratio < most


def test_weights_are_length_times_quality_where_all_fits() -> None:
    place, normal, wall = wall_of(50)
    length, quality = np.linspace(1, 5, 50), np.linspace(0, 1, 50)
    fit = boxes.made_fit(place, normal, np.zeros(50), wall=wall, weight=length, quality=quality)
    weight, _ = robust_weights(fit, smallest=0.35)
    np.testing.assert_allclose(weight, length * quality)
    nothing = boxes.made_fit(place, normal, np.zeros(50), wall=wall, quality=0.0)
    assert robust_weights(nothing, smallest=0.35)[0].max() == 0.0


def test_a_path_all_over_the_picture_is_no_noise() -> None:
    """Lines every 5 px leave no quarter of the profiles free; bare floor between them is even."""
    box = (20.0, 15.0, 140.0, 105.0)
    image = boxes.covered(box, (160, 120), contrast=40.0)
    image[2:118:5, 2:158] = 255
    image[2:118, 2:158:5] = 255
    walls, pose = boxes.room(box)
    fit = boxes.look(image, pose, boxes.probe_of(walls))
    assert fit.flat[boxes.away_from_corners(fit, box)].max() < 0.3


def test_a_faint_border_is_seen_however_loud_the_floor_is_elsewhere() -> None:
    rng = np.random.default_rng(8)
    box = (20.0, 15.0, 140.0, 105.0)
    image = boxes.covered(box, (160, 120), contrast=14.0).astype(np.float64)
    image[30:90, 35:125] += rng.normal(0.0, 40.0, (60, 90, 1))
    walls, pose = boxes.room(box)
    fit = boxes.look(np.clip(image, 0, 255).astype(np.uint8), pose, boxes.probe_of(walls))
    assert fit.flat[boxes.away_from_corners(fit, box)].max() < 0.3


@pytest.mark.parametrize("noise", [2.0, 6.0, 15.0])
def test_noise_is_no_border(noise: float) -> None:
    """A picture of nothing but noise, asked for a wall: nothing is seen across it."""
    rng = np.random.default_rng(5)
    box = (20.0, 15.0, 140.0, 105.0)
    image = boxes.blurred(box, (160, 120), blur=0.8, contrast=0.0, noise=noise, rng=rng)
    walls, pose = boxes.room(box)
    fit = boxes.look(image, pose, boxes.probe_of(walls))
    assert np.average(fit.quality, weights=fit.chunks.weight) < 0.12
    assert np.average(fit.flat, weights=fit.chunks.weight) > 0.4


def test_a_fit_that_is_carried_is_as_if_it_had_been_looked_at_there() -> None:
    """Moved, turned, grown and offset by a little: same borders, walls where the pose puts them."""
    box = (20.3, 15.7, 80.3, 65.7)
    image = boxes.blurred(box, (100, 80), blur=0.8)
    walls, pose = boxes.room(box)
    probe = boxes.probe_of(walls)
    turn = 0.004
    move = np.array([[1.003, -turn, 0.3], [turn, 1.003, -0.4]])
    moved, offset = frames.compose(move, pose), (0.0, 0.25)
    here, there = boxes.look(image, pose, probe), boxes.look(image, moved, probe, offset=offset)
    found = carried(here, moved, np.array(offset))
    np.testing.assert_allclose(found.place, there.place, atol=0.01)
    kept = boxes.away_from_corners(here, box)
    np.testing.assert_allclose(found.residual[kept], there.residual[kept], atol=0.1)
    assert np.abs(here.residual - there.residual)[kept].max() > 0.4
    corners = frames.apply(moved, walls.corners) - frames.apply(pose, walls.corners)
    gap = gap_px(moved, np.array(offset), pose, np.zeros(2), probe)
    assert gap == pytest.approx(np.hypot(*corners.T).max())
    assert gap_px(pose, np.array([0.0, -7.0]), pose, np.zeros(2), probe) == pytest.approx(7.0)
