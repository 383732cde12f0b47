"""Which chunks lie on one line of the picture, and positions that rest on one line alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from regmap.engine.precision import rests_on_one_line, wall_lines
from tests.engine import boxes
from tests.engine.walls_by_hand import walls


@pytest.mark.parametrize(("lit", "expected"), [(1, 1.0), (2, 0.5), (3, 0.0), (6, 0.0)])
def test_a_position_that_rests_on_one_line_of_many_is_told(lit: int, expected: float) -> None:
    """Twelve walls, six each way; across one way only so many have a border where they should."""
    fit = walls(np.random.default_rng(7), 12, angles=(0, 90))
    level = fit.chunks.wall // 2
    upright = fit.chunks.wall % 2 == 1
    fit = replace(fit, quality=np.where(upright & (level >= lit), 0.0, 1.0))
    assert rests_on_one_line(fit) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize("angle", [0.0, 7.0, 88.0, 92.0, 179.0, 181.0, 271.0, 359.0])
def test_both_faces_of_a_wall_lie_on_one_line(angle: float) -> None:
    """Whichever way they face; a wall farther off is another line, one at its end is not."""
    turn = np.deg2rad(angle)
    normal, along = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    place = 101.5 * normal + np.outer([0.0, 0.0, 40.0, 0.0], along)
    place[3] += 20.0 * normal
    normals = np.array([normal, -normal, normal, normal])
    fit = boxes.made_fit(place, normals, np.zeros(4), wall=np.arange(4))
    lines, side = wall_lines(fit, np.zeros(2))
    assert lines[0] == lines[1] == lines[2] != lines[3]
    assert side[0] == -side[1] == side[2] == side[3]


def test_a_line_that_is_off_is_no_line_that_agrees() -> None:
    fit = walls(np.random.default_rng(7), 12, angles=(0, 90))
    other = (fit.chunks.wall % 2 == 1) & (fit.chunks.wall > 1)
    assert rests_on_one_line(replace(fit, residual=np.where(other, 8.0, 0.0))) > 0.9


def test_the_only_line_that_is_shown_is_not_doubted() -> None:
    fit = walls(np.random.default_rng(7), 12, angles=(0, 90))
    other = (fit.chunks.wall % 2 == 1) & (fit.chunks.wall > 1)
    cut_off = replace(fit, quality=np.where(other, 0.0, 1.0), shown=np.where(other, 0.0, 1.0))
    assert rests_on_one_line(cut_off) == 0.0
    assert rests_on_one_line(replace(fit, quality=np.zeros(len(other)))) == 0.0
