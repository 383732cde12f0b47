"""What a tie point says: against counts of drawn poses, and made floors."""

from __future__ import annotations

import numpy as np
import pytest

from regmap import synthetic
from regmap.engine import ties
from regmap.register import quietly


def test_gaps_are_those_of_the_worst_point() -> None:
    pose = np.array([[[10.0, 0.0, 5.0], [0.0, -10.0, 7.0]]])
    own = np.array([[0.0, 0.0], [1.0, 2.0]])
    image = np.array([[5.0, 7.0], [15.0 + 3.0, -13.0 + 4.0]])
    assert ties.tie_gaps(pose, image, own) == pytest.approx([5.0])


def test_of_poses_that_fit_alike_those_that_miss_the_point_by_more_than_a_slip_are_out() -> None:
    total = np.array([1.0, 0.9, 0.9, 0.3])
    out = ties.misses_clearly(np.array([14.0, 3.0, 9.0, 0.0]), total)
    # Eyes miss by 4 px along either axis: 14 px against 3 is no slip, 9 px is. A pose that fits
    # far worse rules out none, however near it comes.
    assert out.tolist() == [True, False, False, False]
    assert not ties.misses_clearly(np.array([14.0, 30.0]), np.array([1.0, 0.2]))[0]
    assert ties.misses_clearly(np.array([14.0, 30.0]), np.array([1.0, 0.2]))[1]


@pytest.mark.parametrize("prior", [0.1, 0.5, 0.8])
def test_a_met_tie_point_counts_as_bayes_rule_says(prior: float) -> None:
    """Right poses miss by an eye's error, wrong ones anywhere within reach: the share of right ones
    among those that miss by so much is the probability that is told."""
    rng = np.random.default_rng(3)
    reach, number = 40.0, 400_000
    right = rng.random(number) < prior
    eye = np.hypot(*rng.normal(0.0, 4.0, (2, number)))
    gap = np.where(right, eye, reach * np.sqrt(rng.random(number)))
    for low in (1.0, 4.0, 8.0):
        near = (gap >= low - 0.5) & (gap < low + 0.5)
        told = ties.vouched(prior, low, reach)
        assert told == pytest.approx(min(right[near].mean(), 0.98), abs=0.02)


def test_a_tie_point_never_takes_away_and_never_makes_certain() -> None:
    for sure in (0.0, 0.2, 0.995):
        for gap in (0.0, 12.0, 40.0):
            assert sure <= ties.vouched(sure, gap, 40.0) <= max(sure, 0.98)
    assert ties.vouched(0.0, 0.0, 40.0) == 0.0


def test_reach_grows_with_the_picture_and_has_a_least() -> None:
    assert ties.tie_reach((100, 100)) == 12.0
    assert ties.tie_reach((3000, 4000)) == pytest.approx(150.0)


def test_a_tie_point_makes_sure_of_what_clutter_left_open() -> None:
    sample = synthetic.sample("twin-shift", 84010)
    (column, row), *_ = sample.visible_px.tolist()
    there = sample.image_to_device[:, :2] @ [column, row] + sample.image_to_device[:, 2]

    def tied(right: float, down: float) -> float:
        tie = ((column + right, row + down), tuple(there.tolist()))
        return quietly(sample.image, sample.outlines, tie_points=[tie]).confidence

    assert quietly(sample.image, sample.outlines).confidence < 0.9
    # A wide miss takes its look-alikes away and vouches for nothing.
    assert tied(25.0, 0.0) < 0.95 < tied(2.0, -1.0)


def test_a_tie_point_finds_what_is_known_as_a_look_alike_of_a_better_pose_alone() -> None:
    """A row of equal rooms, print on some: no region leads to the true place, another place does,
    and that is ruled out."""
    sample = synthetic.sample("twin-shift", 84036)
    place = np.array([[440.0, 63.0]])
    point = place @ sample.image_to_device[:, :2].T + sample.image_to_device[:, 2]
    fit = quietly(sample.image, sample.outlines, tie_points=[((442, 61), tuple(point[0]))])
    gap = fit.to_device(sample.visible_px) - (
        sample.visible_px @ sample.image_to_device[:, :2].T + sample.image_to_device[:, 2]
    )
    assert np.hypot(*gap.T).max() < 30.0
