"""Lines through corners, blocks of cells, and what boxes cover together."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely

from regmap.areas import grid
from tests.areas.made import random_boxes
from tests.polygons import together


def test_maximal_blocks_are_all_that_cannot_grow() -> None:
    rng = np.random.default_rng(0)
    for _ in range(60):
        rows, columns = rng.integers(1, 6, 2)
        cells = rng.random((rows, columns)) < 0.7
        blocks = {
            (r0, r1, c0, c1)
            for r0, r1 in combinations(range(rows + 1), 2)
            for c0, c1 in combinations(range(columns + 1), 2)
            if cells[r0:r1, c0:c1].all()
        }
        largest = {
            b
            for b in blocks
            if not any(
                o != b and o[0] <= b[0] and o[1] >= b[1] and o[2] <= b[2] and o[3] >= b[3]
                for o in blocks
            )
        }
        found = grid.maximal_blocks(cells)
        assert {tuple(b) for b in found.tolist()} == largest
        assert len(found) == len(largest)


def test_lines_run_through_the_corners_and_close_the_gaps_evenly() -> None:
    rng = np.random.default_rng(3)
    for gap in (0.3, 1.0, 7.0, np.inf):
        corners = rng.uniform(0, 10, 12)
        lines = grid._lines(corners, 1e-9, gap, 64)
        assert (np.diff(lines) > 0).all()
        assert np.isin(corners, lines).all()
        assert np.diff(lines).max() <= gap * (1 + 1e-6)
        # As few as do: between two corners, one line less would leave gaps that are too wide.
        for low, high in zip(np.sort(corners)[:-1], np.sort(corners)[1:], strict=True):
            within = lines[(lines >= low) & (lines <= high)]
            np.testing.assert_allclose(np.diff(within), (high - low) / (len(within) - 1))
            assert len(within) == 2 or (high - low) / (len(within) - 2) > gap
    # An extent of whole gaps takes no line for rounding.
    assert len(grid._lines(np.array([0.0, 0.3]), 1e-9, 0.1, 64)) == 4


def test_corners_of_a_long_row_share_lines_but_those_far_apart_do_not() -> None:
    row = np.cumsum(np.full(100, 0.4))  # each is near the one before
    lines = grid._lines(row, 1.0, np.inf, 200)
    assert (lines[0], lines[-1]) == (row[0], row[-1])
    assert np.diff(lines).min() > 1.0
    assert np.diff(lines).max() < 2.0
    two = grid._lines(np.array([0.0, 0.5]), 1.0, np.inf, 200)
    assert two.tolist() == [0.0, 0.5]


def test_of_very_many_corners_some_give_lines_all_over() -> None:
    even = np.linspace(1000.13, 1010.13, 501)
    assert len(grid._lines(even, 1e-9, np.inf, 26)) == 26
    assert np.ptp(np.diff(grid._lines(even, 1e-9, np.inf, 26))) < 1e-9
    corners = np.r_[np.linspace(0, 1, 500), np.linspace(1, 10, 10)]
    for most in (16, 40):
        lines = grid._lines(corners, 1e-9, np.inf, most)
        assert len(lines) <= most
        assert (lines[0], lines[-1]) == (0, 10)
        assert np.isin(lines, corners).all()
        assert set(range(2, 11)) <= set(lines.tolist())  # corners that stand alone keep theirs


@pytest.mark.parametrize("size", [1e-3, 1.0, 1e6])
@pytest.mark.parametrize("away", [0.0, 100.0])
def test_what_is_near_is_near_against_the_size_of_the_polygon(size: float, away: float) -> None:
    """A notch a ten-thousand-millionth as wide gives no lines, one a thousand times wider does."""
    for wide, lines in ((1e-10, 3), (1e-7, 4)):
        notch = [(0, 0), (1, 0), (1, 1), (0.5 + wide, 1), (0.5 + wide, 0.5), (0.5, 0.5), (0.5, 1)]
        ring = (np.array([*notch, (0, 1)]) + away) * size
        cells = grid.CellGrid.of(shapely.Polygon(ring), lines=8)
        assert len(cells.x) == lines
        assert len(cells.y) == 3


def test_edges_along_the_axes_need_no_lines_between() -> None:
    box = shapely.box(0, 0, 5, 3)
    cells = grid.CellGrid.of(box, lines=64)
    assert (cells.x.tolist(), cells.y.tolist()) == ([0, 5], [0, 3])
    away = grid.CellGrid.of(shapely.Polygon([(900, 0), (905, 0), (905, 3)]), lines=64)
    assert np.diff(away.x).max() <= 5 / 64 * (1 + 1e-6)
    slanted = grid.CellGrid.of(shapely.Polygon([(0, 0), (5, 0), (5, 3)]), lines=64)
    # Along the slanted edge, lines of both kinds meet on it.
    for share in (1 / 8, 3 / 8, 7 / 8):
        assert np.abs(slanted.x - 5 * share).min() < 1e-12
        assert np.abs(slanted.y - 3 * share).min() < 1e-12
    assert 64 <= len(slanted.x) - 1 <= 80
    assert np.diff(slanted.x).max() <= 5 / 64 * (1 + 1e-6)
    assert np.diff(slanted.y).max() <= 5 / 64 * (1 + 1e-6)
    # An edge that is slanted by rounding alone runs along the axis.
    tilted = shapely.Polygon([(0, 0), (5, 1e-12), (5, 3), (0, 3)])
    assert len(grid.CellGrid.of(tilted, lines=64).x) == 2
    block = np.array([[0, 1, 0, 1], [3, 10, 2, 4]])
    made = slanted.boxes(block)
    x, y = slanted.x, slanted.y
    assert made.tolist() == [[x[0], y[0], x[1], y[1]], [x[2], y[3], x[4], y[10]]]


def test_what_boxes_cover_of_others_as_shapely_has_it() -> None:
    rng = np.random.default_rng(11)
    for turn in range(20):
        others = random_boxes(rng, turn % 6, step=turn % 3 * 0.5)
        boxes = random_boxes(rng, 30, step=turn % 2 * 0.5)
        joined = together(others) if len(others) else shapely.Polygon()
        expected = [shapely.box(*box).difference(joined).area for box in boxes]
        assert grid.Covered.by(others).areas_outside(boxes) == pytest.approx(expected, abs=1e-9)
        assert grid.union_area(others) == pytest.approx(joined.area)
        left = grid.outside(boxes[0], others)
        assert grid.union_area(left) == pytest.approx(expected[0], abs=1e-9)
        assert all(shapely.box(*boxes[0]).covers(shapely.box(*piece)) for piece in left)
        pieces = grid.disjoint(others)
        areas = (pieces[:, 2:] - pieces[:, :2]).prod(axis=1)
        assert (areas > 0).all()
        assert areas.sum() == pytest.approx(joined.area)
        assert together(pieces).symmetric_difference(joined).area == pytest.approx(0, abs=1e-9)


def test_union_of_many_states_as_shapely_has_it() -> None:
    rng = np.random.default_rng(3)
    for count in (1, 2, 5):
        low = rng.uniform(0, 10, (20, count, 2))
        states = np.concatenate([low, low + rng.uniform(0.1, 6, (20, count, 2))], axis=2)
        expected = [together(boxes).area for boxes in states]
        assert grid.union_areas(states) == pytest.approx(expected)
