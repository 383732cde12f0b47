"""Boxes inside: how they are chosen among all blocks, put in order, and bounded."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from regmap.areas import clearance, grid, inside
from tests.areas.made import random_boxes, random_cells
from tests.polygons import together


def test_fewer_turns_are_taken_of_more_boxes_and_edges() -> None:
    assert [inside.fewer(20, count) for count in (1, 6, 12, 50)] == [20, 20, 10, 2]
    assert inside.fewer(2, 50) == 1
    many, few = (clearance.Clearance(np.zeros((size, 4))) for size in (4000, 400))
    assert [inside.fewer(20, 6, space) for space in (few, many)] == [20, 5]
    assert inside.fewer(20, 12, many) == 2


@pytest.mark.parametrize("seed", range(5))
def test_blocks_are_chosen_so_that_no_exchange_of_one_helps(seed: int) -> None:
    cells, true = random_cells(seed)
    weight, blocks = cells.weight * cells.full, grid.maximal_blocks(cells.full)
    np.testing.assert_array_equal(cells.full, true)
    sums = [weight[r0:r1, c0:c1].sum() for r0, r1, c0, c1 in blocks]
    np.testing.assert_allclose(inside._sums(weight, blocks), sums)

    def covered(choice: tuple[int, ...]) -> float:
        return together(cells.boxes(blocks[list(choice)])).area

    for first in inside._starts(weight, blocks):
        choice = inside._exchange(weight, blocks, first, 3)
        assert inside._covered(weight, blocks, choice) == pytest.approx(covered(choice))
        for place in range(len(choice)):
            rest = choice[:place] + choice[place + 1 :]
            best = max(covered((*rest, other)) for other in range(len(blocks)))
            assert covered(choice) >= best - 1e-9
    greedy = inside.greedy_blocks(cells, 3)
    assert together(greedy[:1]).area == pytest.approx(max(sums))
    for count in (1, 2):
        tried = [together(np.vstack([greedy[:count], cells.boxes(blocks[[b]])])).area
                 for b in range(len(blocks))]  # fmt: skip
        assert together(greedy[: count + 1]).area == pytest.approx(max(tried))


def test_starts_differ_and_the_largest_block_is_first() -> None:
    cells, _ = random_cells(1)
    weight, blocks = cells.weight * cells.full, grid.maximal_blocks(cells.full)
    starts = inside._starts(weight, blocks)
    assert starts[0] == inside._sums(weight, blocks).argmax()
    assert len(set(starts)) == len(starts) > 3


def test_boxes_are_put_in_order_of_what_they_add() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        boxes = random_boxes(rng, 6)
        found = inside.ordered(boxes)
        areas = [0.0, *(together(found[: i + 1]).area for i in range(len(found)))]
        gains = np.diff(areas)
        assert (gains > 0).all()
        assert areas[-1] == pytest.approx(together(boxes).area)
        for place, gain in enumerate(gains):
            others = [together(np.vstack([found[:place], box[None]])).area for box in boxes]
            assert gain == pytest.approx(max(others) - areas[place])
        least = float(np.sort(gains)[-2]) * 0.99
        assert len(inside.ordered(boxes, least=least)) == 2
    twice = np.array([[0, 0, 4, 4], [0, 0, 4, 4], [1, 1, 2, 2.0]])
    assert inside.ordered(twice).tolist() == [[0, 0, 4, 4]]


@pytest.mark.parametrize("seed", range(4))
def test_no_boxes_exceed_the_bound_and_it_is_not_far_beyond_them(seed: int) -> None:
    cells, _ = random_cells(seed)
    boxes = cells.boxes(grid.maximal_blocks(cells.full))
    for count in (1, 2, 3):
        best = max(together(np.array(some)).area for some in combinations(boxes, count))
        bound = inside.coverage_bound(cells, count, 0.0)
        assert best - 1e-9 <= bound <= cells.area + 1e-9
        assert inside.coverage_bound(cells, count, 0.99 * cells.area) >= 0.99 * cells.area
        known = inside.coverage_bound(cells, count, best)
        assert best <= known <= best + (0.0 if count == 1 else 0.06 * cells.area)


# --- Without the grid


def of_cells(seed: int) -> tuple[grid.CellGrid, BaseGeometry, clearance.Clearance]:
    cells, true = random_cells(seed)
    boxes = cells.boxes(np.array([[r, r + 1, c, c + 1] for r, c in np.argwhere(true)]))
    shape = shapely.orient_polygons(together(boxes))
    return cells, shape, clearance.Clearance(grid.edges_of(shape))


@pytest.mark.parametrize("seed", range(5))
def test_a_box_grows_until_no_side_can_move(seed: int) -> None:
    """Among walls along the axes it ends as one of the blocks that cannot grow."""
    cells, shape, space = of_cells(seed)
    blocks = cells.boxes(grid.maximal_blocks(cells.full))
    nothing = grid.Covered.by(np.empty((0, 4)))
    rng = np.random.default_rng(seed)
    for _ in range(12):
        place = rng.uniform(shape.bounds[:2], shape.bounds[2:])
        if not shapely.contains_xy(shape, *place):
            continue
        box = inside._grown(space, place, nothing)
        assert np.abs(blocks - box).max(axis=1).min() < 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_a_side_moves_to_where_it_adds_most(seed: int) -> None:
    cells, shape, space = of_cells(seed)
    rng = np.random.default_rng(seed)
    blocks = cells.boxes(grid.maximal_blocks(cells.full))
    others = grid.Covered.by(blocks[rng.integers(0, len(blocks), 2)])
    moved = 0
    for start in blocks:
        low, high = np.sort(rng.uniform(start[:2], start[2:], (2, 2)), axis=0)
        box = np.concatenate([low, high])
        for side in range(4):
            found = inside._moved(space, box, side, others)
            assert shapely.box(*found).difference(shape).area < 1e-9
            axis, upper = side % 2, side >= 2
            fixed = box[axis if upper else 2 + axis]
            assert found[axis if upper else 2 + axis] == fixed
            gains = [others.areas_outside(box[None])[0]]
            lines = (cells.x, cells.y)[axis]
            for line in lines[lines > fixed] if upper else lines[lines < fixed]:
                seed_at = float(box[[1 - axis, 3 - axis]].mean())
                ends = space.reach(axis, float(fixed), np.array([line]), seed_at)
                made = np.empty(4)
                made[[axis, 2 + axis]] = min(fixed, line), max(fixed, line)
                made[[1 - axis, 3 - axis]] = ends[0][0], ends[1][0]
                gains.append(others.areas_outside(made[None])[0])
            assert others.areas_outside(found[None])[0] >= max(gains) - 1e-9
            moved += not np.array_equal(found, box)
    assert moved > len(blocks)


@pytest.mark.parametrize("most", [0, 1000])
@pytest.mark.parametrize("seed", range(4))
def test_places_that_are_left_lie_in_what_no_box_covers(
    seed: int, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of many edges by the cells, and of few by an overlay, which misses nothing."""
    monkeypatch.setattr(inside, "_EDGES", most)
    cells, shape, space = of_cells(seed)
    blocks = cells.boxes(grid.maximal_blocks(cells.full))
    boxes = inside.ordered(blocks)
    for count in (1, 2, len(boxes)):
        some = boxes[:count]
        left = shape.difference(together(some))
        places = inside._places_left(shape, cells, space, some)
        if left.area < 1e-9:
            assert len(places) == 0
        else:
            assert len(places) or not most
        for place in places:
            assert shape.covers(shapely.Point(place))
            assert not together(some).contains(shapely.Point(place))
    if most:
        parts = shapely.get_parts(shape.difference(together(boxes[:1])))
        parts = parts[np.argsort(-shapely.area(parts), kind="stable")]
        places = inside._places_left(shape, cells, space, boxes[:1])
        for part, place in zip(parts, places, strict=True):
            assert part.covers(shapely.Point(place))


@pytest.mark.parametrize("seed", range(4))
def test_the_whole_search_is_as_good_as_all_blocks_are(seed: int) -> None:
    cells, shape, _ = of_cells(seed)
    blocks = cells.boxes(grid.maximal_blocks(cells.full))
    for count in (1, 2):
        best = max(together(np.array(some)).area for some in combinations(blocks, count))
        found = inside.largest_inside(shape, cells, count)
        assert len(found) <= count
        assert together(found).difference(shape).area < 1e-9
        assert together(found).area >= (0.97 if count > 1 else 1 - 1e-9) * best
    # A box more that adds less than a thousandth is not worth it.
    almost = shapely.box(0, 0, 100, 100).union(shapely.box(100, 40, 100.05, 60))
    nearly = grid.CellGrid.of(almost, lines=8)
    assert len(inside.largest_inside(almost, nearly, 3)) == 1
    wide = shapely.box(0, 0, 100, 100).union(shapely.box(100, 40, 101, 60))
    assert len(inside.largest_inside(wide, grid.CellGrid.of(wide, lines=8), 3)) == 2
