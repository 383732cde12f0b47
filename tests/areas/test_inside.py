"""Boxes inside: how they are chosen among all blocks, put in order, and bounded."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from regmap.areas import grid, inside, room
from tests.areas.made import random_boxes, random_cells
from tests.polygons import together


def test_fewer_turns_are_taken_of_more_boxes_and_edges() -> None:
    assert [inside.fewer(20, count) for count in (1, 6, 12, 50)] == [20, 20, 10, 2]
    assert inside.fewer(2, 50) == 1
    many, few = (room.Room(np.zeros((size, 4))) for size in (4000, 400))
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
