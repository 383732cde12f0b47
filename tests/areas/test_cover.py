"""Covers by bands and rests, shrunk and polished: each step against shapely."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely

from regmap.areas import content as contents
from regmap.areas import cover, grid, inside, trade
from tests.areas.made import covers, random_cells
from tests.polygons import star, together


def test_a_band_and_the_rest_cover_what_is_left_and_cost_what_they_say() -> None:
    cells, _ = random_cells(3)
    extent = float(np.ptp(cells.x) + np.ptp(cells.y))
    others = np.array([[cells.x[0], cells.y[0], cells.x[3], cells.y[2]]])
    left = cells.touched & ~cover._holds(cells, others)
    pieces = cells.held[left]
    found = cover._band_and_rest(cells, left, others)
    assert 1 < len(found) <= cover._PAIRS
    assert all(covers(pair, pieces) for pair in found)
    cost = [together(np.vstack([pair, others])).area for pair in found]
    assert cost == sorted(cost)
    for one, other in combinations(found, 2):
        assert np.abs(one - other).max() > extent / 24
    # None of all bands, from one line to another either way, costs less.
    least = np.inf
    for axis, lines in ((0, cells.x), (1, cells.y)):
        for low, high in combinations(lines, 2):
            band = (pieces[:, axis] >= low) & (pieces[:, 2 + axis] <= high)
            if band.any() and not band.all():
                pair = np.array([trade._around(pieces[band]), trade._around(pieces[~band])])
                least = min(least, together(np.vstack([pair, others])).area)
    assert cost[0] == pytest.approx(least)


def test_cells_are_held_by_a_box_that_holds_their_content() -> None:
    shape = star(2)
    cells = grid.CellGrid.of(shape, lines=8, most=16)
    boxes = np.array([[6000, -5000, 8000, -3000], [5000, -4500, 6500, -2000.0]])
    held = cover._holds(cells, boxes)
    assert 0 < held.sum() < cells.touched.sum()
    for row, column in np.argwhere(cells.touched).tolist():
        inner = shapely.box(*cells.held[row, column])
        assert held[row, column] == any(shapely.box(*box).covers(inner) for box in boxes)
    (whole,) = cover._with_rest(cells, boxes)
    assert np.array_equal(whole[:2], boxes)
    assert cover._holds(cells, whole)[cells.touched].all()
    (same,) = cover._with_rest(cells, whole)
    assert same is whole


def test_boxes_shrink_to_what_they_alone_hold() -> None:
    shape = star(4)
    content = contents.Alone(contents.Content(shape))
    low, high = np.array(shape.bounds[:2]), np.array(shape.bounds[2:])
    half = 0.5 * (low + high)
    boxes = np.array([[*low, half[0] + 100, high[1]], [half[0] - 100, *low[1:], *high],
                      [*(half - 50), *(half + 50)]])  # fmt: skip
    found = cover._shrunk(content, boxes, range(3))
    assert len(found) == 2  # the third holds nothing alone
    assert together(found).area < together(boxes).area
    assert shape.difference(together(found)).area < 1e-6 * shape.area
    polished = cover._polish(content, found, [400.0, 100.0, 25.0])
    assert together(polished).area <= together(found).area
    assert shape.difference(together(polished)).area < 1e-6 * shape.area


def test_of_many_boxes_those_with_most_beside_the_polygon_are_split_first() -> None:
    cells, _ = random_cells(2)
    few = cells.boxes(grid.maximal_blocks(cells.touched))[: trade.MOST_TRADED]
    assert cover._most_spilling(cells, few) == list(range(len(few)))
    x, y = cells.x, cells.y
    many = np.array([[x[c], y[0], x[c + 1], y[-1]] for c in range(6)])
    many = np.vstack([many, [[x[0], y[0], x[-1], y[-1]]]])
    shape = together(cells.boxes(np.array([[r, r + 1, c, c + 1]
                                           for r, c in np.argwhere(cells.full)])))  # fmt: skip
    spilt = [shapely.box(*box).difference(shape).area for box in many]
    order = cover._most_spilling(cells, many)
    assert [spilt[i] for i in order] == sorted(spilt, reverse=True)


def test_of_covers_that_are_alike_the_smaller_one_is_kept() -> None:
    one = np.array([[0, 0, 4, 4], [4, 0, 9, 3.0]])
    near = one + np.array([[0, 0, 0.2, 0], [0, 0, 0, 0.1]])
    far = one + np.array([[0, 0, 3, 0], [0, 0, 0, 0]])
    kept = cover._unlike([far, near[::-1], one], 0.5)
    assert len(kept) == 2
    assert sorted(kept[0].tolist()) == one.tolist()
    assert sorted(kept[1].tolist()) == far.tolist()
    # A box more is another cover, however near the rest is.
    assert len(cover._unlike([one, np.vstack([one, [[0, 0, 1, 1]]])], 0.5)) == 2
    assert cover._smallest([far, one, near]) is one


def test_a_box_that_holds_nothing_alone_cannot_be_covered_anew() -> None:
    cells, _ = random_cells(4)
    whole = np.array([[cells.x[0], cells.y[0], cells.x[-1], cells.y[-1]]])
    idle = np.vstack([whole, cells.boxes(np.array([[1, 3, 1, 4]]))])
    assert cover._covered_anew(cells, idle, (1,), 2) == []
    anew = cover._covered_anew(cells, idle, (0,), 2)
    assert anew
    pieces = cells.held[cells.touched]
    assert all(len(boxes) == 3 and covers(boxes, pieces) for boxes in anew)


def test_covers_are_bettered_for_so_long_and_stay_covers(monkeypatch: pytest.MonkeyPatch) -> None:
    shape = star(8)
    content, cells = (
        contents.Alone(contents.Content(shape)),
        grid.CellGrid.of(shape, lines=12, most=24),
    )
    start = cover._with_rest(cells, inside.greedy_blocks(cells, 2))[0]
    reached = []
    for most in (0, 4, 400):
        monkeypatch.setattr(cover, "_TAKEN", most)
        boxes = cover._bettered(content, cells, start, (2,))
        assert shape.difference(together(boxes)).area < 1e-6 * shape.area
        reached.append(together(boxes).area)
    assert reached[0] == together(start).area
    assert reached == sorted(reached, reverse=True)
    assert reached[2] < 0.99 * reached[0]


@pytest.mark.parametrize("side", range(4))
def test_where_a_side_moves_out_the_others_make_room(side: int) -> None:
    """Two halves of a square: whichever side moves between them, the other half ends there."""
    content = contents.Alone(contents.Content(shapely.box(0, 0, 10, 10)))
    halves = np.array([[0, 0, 4, 10], [4, 0, 10, 10.0]])
    if side % 2:
        halves = halves[:, [1, 0, 3, 2]]
    mover = 0 if side >= 2 else 1
    found = cover._tried(content, halves, mover, side, 1.5)
    meeting = 5.5 if side >= 2 else 2.5
    expected = halves.copy()
    expected[0, 2 + side % 2] = expected[1, side % 2] = meeting
    np.testing.assert_allclose(found, expected)
    # Where none is in the way, nobody is relieved, and all stay as they are.
    apart = halves + np.array([[0.0], [3.0]])
    assert cover._tried(content, apart, mover, (side + 2) % 4, 1.0) is apart


@pytest.mark.parametrize("seed", [0, 3])
def test_covers_of_more_boxes_spill_less_until_none_does(seed: int) -> None:
    cells, true = random_cells(seed)
    shape = shapely.orient_polygons(
        together(cells.boxes(np.array([[r, r + 1, c, c + 1] for r, c in np.argwhere(true)])))
    )
    spilt = []
    for count in (1, 2, 4):
        boxes = cover.tightest_cover(shape, cells, count)
        assert len(boxes) <= count
        assert shape.difference(together(boxes)).area < 1e-9
        spilt.append(together(boxes).area - shape.area)
    assert spilt == sorted(spilt, reverse=True)
    left, low, right, high = shape.bounds
    assert spilt[0] == pytest.approx((right - left) * (high - low) - shape.area)
    assert spilt[-1] < 0.8 * spilt[0]


def test_a_cover_that_spills_next_to_nothing_is_one_box() -> None:
    almost = shapely.box(0, 0, 100, 100).difference(shapely.box(0, 0, 3, 3))
    assert len(cover.tightest_cover(almost, grid.CellGrid.of(almost, lines=8), 3)) == 1
    notched = shapely.box(0, 0, 100, 100).difference(shapely.box(0, 0, 10, 10))
    boxes = cover.tightest_cover(notched, grid.CellGrid.of(notched, lines=8), 3)
    assert together(boxes).area == pytest.approx(notched.area)
