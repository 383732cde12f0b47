"""Claimed covariances against what fits really do."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import frames
from regmap.engine import precision
from regmap.engine.measure import Fit, robust_weights
from regmap.engine.moves import design_matrix
from regmap.engine.precision import (
    Precision,
    chance_within,
    estimate_precision,
    position_covariance,
)
from regmap.engine.wall_offset import offset_prior
from tests.engine.walls_by_hand import SIZE, disturbed, walls

Floats = NDArray[np.float64]


def part_of(fit: Fit, chosen: NDArray[np.bool_]) -> Fit:
    chunks = replace(
        fit.chunks,
        **{
            name: getattr(fit.chunks, name)[chosen]
            for name in ("first", "wall", "piece", "room", "count", "weight")
        },
    )
    arrays = {
        name: getattr(fit, name)[chosen]
        for name in ("place", "normal", "residual", "quality", "shown", "outer")
    }
    return replace(fit, chunks=chunks, **arrays)


def solved(fit: Fit, *, affine: bool) -> tuple[Floats, Fit]:
    """The small move that fits best, as (a, b, c, d, e, f) about the picture's middle, and what it
    leaves: weighted least squares with the engine's weights, worked out here once more."""
    middle = 0.5 * SIZE
    moved = np.zeros(6)
    for _ in range(6):
        weight, rough = robust_weights(fit, smallest=0.35)
        design = design_matrix(fit.place - middle, fit.normal, affine=affine)
        kinds = np.stack([~fit.outer, fit.outer], axis=1)
        design = np.concatenate([design, kinds], axis=1)
        # Both offsets are known beforehand to some extent, as in the engine.
        prior, _ = offset_prior(fit, weight, rough)
        matrix = design.T @ (weight[:, None] * design)
        matrix[-2:, -2:] += prior
        pull = design.T @ (weight * fit.residual)
        pull[-2:] -= prior @ fit.offset
        step = np.linalg.solve(matrix, pull)
        fit = replace(fit, residual=fit.residual - design @ step, offset=fit.offset + step[-2:])
        x, y, grow, turn = step[:4]
        stretch, shear = (step[4], step[5]) if affine else (0.0, 0.0)
        moved += [grow + stretch, shear - turn, x, shear + turn, grow - stretch, y]
    return moved, fit


def about(covariance: Floats, anchor: Floats, other: Floats) -> Floats:
    """The covariance of the coefficients about another point."""
    lift = np.eye(6)
    for row in (2, 5):
        lift[row, row - 2 : row] = other - anchor
    return np.asarray(lift @ covariance @ lift.T)


@pytest.mark.parametrize(("affine", "free"), [(False, 4), (True, 6)])
def test_fits_of_halves_differ_by_as_much_as_claimed(affine: bool, free: int) -> None:
    """The splitting test of Pennec & Thirion, IJCV 25(3), 1997: the squared Mahalanobis distance of
    two independent fits, under the sum of their claimed covariances, follows chi-squared with as
    many degrees of freedom as there are parameters: 4 for a similarity, 6 for an affine map.

    With the covariances known exactly its mean would be 4 (6). Estimated from a dozen walls each,
    they are made wider on purpose (Student's t), so that the mean lies below it, but not far.
    """
    rng = np.random.default_rng(31)
    # (x, y, growth, turn[, stretch, shear]) out of the six coefficients.
    pick = np.array(
        [
            [0, 0, 1, 0, 0, 0],
            [0, 0, 0, 0, 0, 1],
            [0.5, 0, 0, 0, 0.5, 0],
            [0, -0.5, 0, 0.5, 0, 0],
            [0.5, 0, 0, 0, -0.5, 0],
            [0, 0.5, 0, 0.5, 0, 0],
        ]
    )[:free]
    distances = []
    for _ in range(200):
        whole = disturbed(walls(rng, 36), rng, wall_px=0.2, chunk_px=0.15)
        first = rng.permutation(36)[:18]
        halves = np.isin(whole.chunks.wall, first)
        moves, claimed = [], []
        for chosen in (halves, ~halves):
            moved, fit = solved(part_of(whole, chosen), affine=affine)
            known = estimate_precision(fit, 0.5, affine=affine)
            moves.append(pick @ moved)
            claimed.append(pick @ about(known.covariance, known.anchor, 0.5 * SIZE) @ pick.T)
        gap = moves[0] - moves[1]
        distances.append(float(gap @ np.linalg.solve(claimed[0] + claimed[1], gap)))
    mean = float(np.mean(distances))
    # The mean of 200 draws of chi-squared has a standard deviation of sqrt(2 free / 200).
    noise = np.sqrt(2.0 * free / 200)
    assert 0.5 * free < mean < free + 3.0 * noise
    # In the tail too: chi-squared exceeds its 95 % point (9.49; 12.59) in one case of twenty.
    limit = {4: 9.488, 6: 12.592}[free]
    assert np.mean(np.array(distances) > limit) < 0.08


def test_errors_at_points_are_as_claimed() -> None:
    """The claimed variance of a point's place against the spread over many fits."""
    rng = np.random.default_rng(5)
    points = np.array([[320.0, 240.0], [20.0, 20.0], [620.0, 460.0]])
    base = walls(rng, 30)
    found, claimed = [], []
    for _ in range(150):
        moved, fit = solved(disturbed(base, rng, wall_px=0.3, chunk_px=0.1), affine=False)
        known = estimate_precision(fit, 0.5, affine=False)
        offset = points - 0.5 * SIZE
        found.append(offset @ moved.reshape(2, 3)[:, :2].T + moved.reshape(2, 3)[:, 2])
        claimed.append([np.trace(covariance_at(known, p)) for p in points])
    real = np.var(np.array(found), axis=0).sum(axis=1)
    said = np.mean(claimed, axis=0)
    # Wider than true by the factor of Student's t, at most; never narrower than chance makes it.
    assert (said / real > 0.85).all()
    assert (said / real < 2.0).all()


def covariance_at(known: Precision, point: Floats) -> Floats:
    u, v = point - known.anchor
    lift = np.array([[u, v, 1, 0, 0, 0], [0, 0, 0, u, v, 1]])
    return np.asarray(lift @ known.covariance @ lift.T)


def test_fewer_walls_are_less_sure() -> None:
    rng = np.random.default_rng(8)
    sizes = []
    for count in (48, 24, 12, 9):
        values = []
        for _ in range(12):
            _, fit = solved(
                disturbed(walls(rng, count), rng, wall_px=0.2, chunk_px=0.1), affine=False
            )
            known = estimate_precision(fit, 0.5, affine=False)
            values.append(np.trace(covariance_at(known, 0.5 * SIZE)))
        sizes.append(float(np.median(values)))
    assert sizes == sorted(sizes)
    assert sizes[1] > 1.4 * sizes[0]


def test_more_samples_of_the_same_walls_are_no_more_evidence() -> None:
    rng = np.random.default_rng(9)
    fit = disturbed(walls(rng, 24), rng, wall_px=0.2, chunk_px=0.0)
    chosen = np.arange(len(fit.residual)) % 2 == 0
    many = estimate_precision(fit, 0.5, affine=False)
    few = estimate_precision(part_of(fit, chosen), 0.5, affine=False)
    assert np.trace(many.covariance) == pytest.approx(np.trace(few.covariance), rel=0.25)
    assert many.walls == pytest.approx(few.walls, rel=0.05)
    assert 12 < many.walls <= 24


def test_both_faces_of_a_wall_are_one_piece_of_evidence() -> None:
    rng = np.random.default_rng(10)
    fit = disturbed(walls(rng, 24), rng, wall_px=0.2, chunk_px=0.05)
    other = replace(
        fit, place=fit.place + 1.0 * fit.normal, normal=-fit.normal, residual=-fit.residual
    )
    twice: dict[str, Any] = {
        name: np.concatenate([getattr(fit, name), getattr(other, name)])
        for name in ("place", "normal", "residual", "quality", "shown", "outer")
    }
    chunks = replace(
        fit.chunks,
        **{
            name: np.tile(getattr(fit.chunks, name), 2)
            for name in ("first", "wall", "piece", "room", "count", "weight")
        },
    )
    double = replace(fit, chunks=chunks, **twice)
    both = estimate_precision(double, 0.5, affine=False)
    one = estimate_precision(fit, 0.5, affine=False)
    assert both.walls < 1.35 * one.walls
    assert np.trace(both.covariance) > 0.6 * np.trace(one.covariance)


def test_borders_without_anti_aliasing_are_known_to_half_a_pixel() -> None:
    """Uniform within half a pixel is a standard deviation of 1 / sqrt(12) = 0.2887 px, and a whole
    axis-parallel wall shares it, however well its samples agree. Slanted walls do not."""
    rng = np.random.default_rng(11)
    fit = walls(rng, 24, angles=(0, 90))
    smooth = estimate_precision(fit, 0.75, affine=False)
    crisp = estimate_precision(fit, 1.0, affine=False)
    assert smooth.wall_px < 0.05
    assert crisp.wall_px == pytest.approx(0.2887, abs=0.01)
    slanted = walls(rng, 24, angles=(20, 110))
    assert estimate_precision(slanted, 1.0, affine=False).wall_px < 0.05


def test_outlying_walls_widen_the_claim() -> None:
    rng = np.random.default_rng(12)
    base = walls(rng, 24)
    values = []
    for wall_px in (0.05, 0.2, 0.8):
        _, fit = solved(disturbed(base, rng, wall_px=wall_px, chunk_px=0.05), affine=False)
        values.append(estimate_precision(fit, 0.5, affine=False).wall_px)
    assert values == sorted(values)
    assert values[2] == pytest.approx(0.8, rel=0.6)


@pytest.mark.parametrize("affine", [False, True])
def test_the_claim_is_a_covariance(affine: bool) -> None:
    rng = np.random.default_rng(13)
    _, fit = solved(disturbed(walls(rng, 20), rng, wall_px=0.2, chunk_px=0.1), affine=affine)
    known = estimate_precision(fit, 0.5, affine=affine)
    np.testing.assert_allclose(known.covariance, known.covariance.T, rtol=1e-9, atol=1e-15)
    value = np.linalg.eigvalsh(known.covariance)
    assert value.min() > -1e-12
    # As many directions as there are parameters.
    assert (value > 1e-9 * value.max()).sum() == (6 if affine else 4)
    assert (fit.place.min(axis=0) < known.anchor).all()
    assert (known.anchor < fit.place.max(axis=0)).all()


def test_the_covariance_in_the_device_frame_by_finite_differences() -> None:
    """Draw small moves in the picture; the places in the device frame spread as is claimed."""
    rng = np.random.default_rng(14)
    _, fit = solved(disturbed(walls(rng, 20), rng, wall_px=0.2, chunk_px=0.1), affine=True)
    known = estimate_precision(fit, 0.5, affine=True)
    transform = np.array([[17.0, 6.0, -300.0], [5.0, -18.0, 900.0]])
    claimed = position_covariance(known, transform[:, :2])
    point = np.array([500.0, 60.0])
    root = np.linalg.cholesky(known.covariance + 1e-18 * np.eye(6))
    step = 1e-3
    columns = []
    for number in range(6):
        change = (step * root[:, number]).reshape(2, 3)
        shifted = point + frames.apply(change, point - known.anchor)[0]
        columns.append(
            (frames.apply(transform, shifted) - frames.apply(transform, point))[0] / step
        )
    expected = np.array(columns).T @ np.array(columns)
    u, v = point - known.anchor
    lift = np.array([[u, v, 1, 0, 0, 0], [0, 0, 0, u, v, 1]])
    np.testing.assert_allclose(lift @ claimed @ lift.T, expected, rtol=1e-6)


def test_nothing_to_go_by_is_no_crash() -> None:
    rng = np.random.default_rng(15)
    fit = replace(walls(rng, 6), quality=np.zeros(60))
    known = estimate_precision(fit, 0.5, affine=False)
    assert np.isfinite(known.covariance).all()
    single = part_of(walls(rng, 3), np.arange(30) < 1)
    assert np.isfinite(estimate_precision(single, 0.5, affine=True).covariance).all()


@pytest.mark.parametrize("affine", [False, True])
@pytest.mark.parametrize("tolerance", [0.5, 1.0, 2.0])
def test_the_chance_of_being_within_a_tolerance_is_what_draws_show(
    affine: bool, tolerance: float
) -> None:
    """Against Monte Carlo draws from the claimed covariance; Satterthwaite's approximation is
    known to be good to a few hundredths (from memory)."""
    rng = np.random.default_rng(12)
    fit = disturbed(walls(rng, 15), rng, wall_px=1.5, chunk_px=0.3)
    known = estimate_precision(fit, 0.5, affine=affine)
    draws = rng.multivariate_normal(np.zeros(6), known.covariance, 4000)
    basis = np.column_stack([fit.place - known.anchor, np.ones(len(fit.place))])
    error = np.stack([draws[:, :3] @ basis.T, draws[:, 3:] @ basis.T])
    rms = np.sqrt((error**2).sum(axis=0).mean(axis=1))
    shown = float((rms <= tolerance).mean())
    assert chance_within(known, fit.place, tolerance) == pytest.approx(shown, abs=0.04)


def test_outlines_on_a_grid_are_not_trusted_because_few_of_them_fit() -> None:
    rng = np.random.default_rng(13)
    few, many = walls(rng, 7), walls(rng, 60)
    for fit, least, most in ((few, 0.5, 10.0), (many, 0.0, 0.45)):
        known = estimate_precision(replace(fit, grain=1.0), 0.5, affine=False)
        assert least <= known.wall_px <= most


def test_walls_that_are_off_as_rounding_has_them_are_known_no_better() -> None:
    """The variance of rounding is that of a uniform distribution, a twelfth of a cell squared; ten
    walls that fit better by luck are no better, and a figure that is known is not guessed."""
    found, guessed = [], []
    for seed in range(30):
        rng = np.random.default_rng(100 + seed)
        fit = disturbed(walls(rng, 12), rng, wall_px=1.0, chunk_px=0.05)
        known = estimate_precision(replace(fit, grain=1.0), 0.5, affine=False)
        found.append(known.wall_px)
        guessed.append(known.guessed)
        assert estimate_precision(fit, 0.5, affine=False).guessed == 1.0
    # Of all of them a few fit so well that the picture might be of the same grid.
    assert np.mean(np.array(found) > 0.85) > 0.9
    assert 0.0 <= min(guessed) < 0.05 < max(guessed) <= 1.0


def test_small_moves_displace_points_as_their_names_say() -> None:
    """By definition: a shift moves all points alike, growth along (u, v), a turn along (-v, u),
    stretch along (u, -v), shear along (v, u)."""
    rng = np.random.default_rng(1)
    u, v = rng.normal(size=(2, 20))
    one, none = np.ones(20), np.zeros(20)
    expected = [(one, none), (none, one), (u, v), (-v, u), (u, -v), (v, u)]
    for (a, b, c, d, e, f), (x, y) in zip(precision._coefficients(6).T, expected, strict=True):
        np.testing.assert_array_equal(a * u + b * v + c, x)
        np.testing.assert_array_equal(d * u + e * v + f, y)
    np.testing.assert_array_equal(precision._coefficients(4), precision._coefficients(6)[:, :4])


def test_errors_of_the_outlines_themselves_are_told_from_those_of_lines() -> None:
    """What two faces of a line are off by together is the line's, what is left is the outlines'."""
    rng = np.random.default_rng(14)
    lines = 400
    owner, wall = np.repeat(np.arange(lines), 2), np.arange(2 * lines)
    # Pulls at which the two faces differ, and pulls that they share.
    weight = np.ones(2 * lines)
    pull = np.stack([np.tile([1.0, -1.0], lines), weight], axis=1)
    common = rng.normal(0.0, 3.0, lines)
    for own in (0.0, 1.0):
        moved = common[owner] + rng.normal(0.0, own, 2 * lines)
        found = precision._of_faces(wall, weight, moved, owner, pull)
        assert found[0, 0] / (2 * lines) == pytest.approx(own**2, rel=0.2, abs=1e-9)
        # What both share is in the line's own error already.
        assert found[1, 1] == pytest.approx(0.0, abs=1e-9)
    # A line with one face says nothing of it.
    assert not precision._of_faces(wall, weight, moved, wall, pull).any()


def test_a_line_that_the_fit_follows_does_not_hide_its_error() -> None:
    """One long wall and two short ones run across all others; the long one is off by 0.4 px. The
    fit follows it, and its residual is small. The claimed error is of the size of the true."""
    rng = np.random.default_rng(15)
    base = walls(rng, 24, angles=(*[0.0] * 7, 90.0))
    long, short = base.chunks.wall == 7, np.isin(base.chunks.wall, [15, 23])
    weight = np.where(long, 3.0, np.where(short, 0.3, 1.0))
    base = replace(base, chunks=replace(base.chunks, weight=weight))
    spoilt = disturbed(base, rng, wall_px=0.02, chunk_px=0.02)
    moved, fit = solved(replace(spoilt, residual=spoilt.residual + 0.4 * long), affine=False)
    error = float(np.hypot(moved[2], moved[5]))
    known = estimate_precision(fit, 0.5, affine=False)
    claimed = float(np.sqrt(np.trace(covariance_at(known, 0.5 * SIZE))))
    assert error > 0.2
    assert np.abs(fit.residual[long]).mean() < 0.3 * error
    assert 0.65 * error < claimed < 3.0 * error


@pytest.mark.parametrize("lines", [7, 8, 60])
def test_what_a_fit_leaves_is_as_the_whole_matrix_has_it(lines: int) -> None:
    """Worked out with K written out, lines by lines."""
    rng = np.random.default_rng(lines)
    share = rng.uniform(0.1, 1.0, lines)
    share /= share.sum()
    design = rng.normal(size=(lines, 6))
    pulls = share[:, None] * design
    follows = design @ np.linalg.inv(design.T @ pulls + 1e-3 * np.eye(6))
    keeps = np.eye(lines) - follows @ pulls.T
    mean = float((share[:, None] * keeps**2).sum())
    square = float(((keeps.T @ (share[:, None] * keeps)) ** 2).sum())
    left, free = precision._left_by_fit(share, follows, pulls)
    assert left == pytest.approx(max(mean, 1e-3), rel=1e-9)
    assert free == pytest.approx(mean**2 / square, rel=1e-6)


def test_thousands_of_lines_take_little_memory() -> None:
    """A square of all of them would take 72 MB, and its products seconds."""
    fit = walls(np.random.default_rng(3), 3000, angles=tuple(np.arange(0.0, 180.0, 5.0)))
    fit = replace(fit, place=fit.place + 400.0 * (fit.place - 0.5 * SIZE))
    tracemalloc.start()
    known = estimate_precision(fit, 0.5, affine=False)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert known.walls > 1000.0
    assert peak < 0.5 * 8 * 3000**2


def test_few_lines_that_lie_exactly_do_not_hide_that_others_are_off() -> None:
    """A fit takes as many lines with it as it has unknowns, however rough all are."""
    rng = np.random.default_rng(21)
    few, many = walls(rng, 11, angles=(0, 90)), walls(rng, 60, angles=(0, 90))
    told = []
    for fit in (few, many):
        exact = disturbed(fit, rng, wall_px=0.0, chunk_px=0.02)
        strays = np.where(exact.chunks.wall % 11 < 3, 3.0, 0.0)
        rough = replace(exact, residual=exact.residual + strays * np.sign(fit.normal.sum(axis=1)))
        told.append([estimate_precision(one, 0.0, affine=True).wall_px for one in (exact, rough)])
    (exactly, among_few), (_, among_many) = told
    assert exactly < 0.1
    assert among_few > 1.5
    # Of many, three in eleven are walls that were moved.
    assert among_many < 0.5 * among_few
