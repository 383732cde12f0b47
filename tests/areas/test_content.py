"""What boxes hold of a polygon, as shapely has it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap.areas import content as contents
from regmap.areas import grid
from tests.areas.made import random_cells
from tests.polygons import star, together


def test_union_difference_and_bounds_of_boxes_as_shapely_has_them() -> None:
    rng = np.random.default_rng(1)
    content = contents.Content(star(4))
    for _ in range(50):
        low = rng.integers(0, 8, (4, 2)) * 700.0 + [4000, -7000]
        boxes = np.hstack([low, low + rng.integers(1, 6, (4, 2)) * 600.0])
        assert grid.union_area(boxes) == pytest.approx(together(boxes).area)
        pieces = grid.outside(boxes[0], boxes[1:])
        left = shapely.box(*boxes[0]).difference(together(boxes[1:]))
        assert grid.union_area(pieces) == pytest.approx(left.area, abs=1e-6)
        held = star(4).intersection(left)
        bounds = content.bounds(pieces)
        if held.area > 1:
            assert bounds is not None
            assert bounds == pytest.approx(np.array(held.bounds), abs=1e-4)


@pytest.mark.parametrize("some", [1, 3, 256])
def test_of_many_edges_and_boxes_bounds_are_the_same_a_few_at_a_time(
    some: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    shape = star(6, corners=60)
    rng = np.random.default_rng(1)
    low = rng.uniform(shape.bounds[:2], shape.bounds[2:], (40, 3, 2))
    low[:5] = np.array(shape.bounds[2:]) + 10  # beside it
    many = np.concatenate([low, low + rng.uniform(20, 1500, (40, 3, 2))], axis=2)
    usual = [contents.Content(shape).bounds(boxes) for boxes in many]
    monkeypatch.setattr(contents, "_AT_ONCE", 0)
    monkeypatch.setattr(contents, "_SOME", some)
    for boxes, expected in zip(many, usual, strict=True):
        found = contents.Content(shape).bounds(boxes)
        if expected is None:
            assert found is None
        else:
            np.testing.assert_array_equal(found, expected)
    assert 5 <= sum(bounds is None for bounds in usual) < 20


def test_what_a_box_alone_holds_is_looked_up_where_only_others_far_off_changed() -> None:
    shape = star(5)
    asked = 0

    class Counted(contents.Content):
        def bounds(self, boxes: NDArray[np.float64]) -> NDArray[np.float64] | None:
            nonlocal asked
            asked += 1
            return super().bounds(boxes)

    known = contents.Alone(Counted(shape))
    rng = np.random.default_rng(6)
    low = rng.uniform(shape.bounds[:2], shape.bounds[2:], (20, 2)) - 600.0
    boxes = np.hstack([low, low + rng.uniform(200.0, 1500.0, (20, 2))])
    beyond = np.array([[1e5, 1e5, 2e5, 2e5]])
    for turn in range(3):
        for i in range(len(boxes)):
            others = np.vstack([np.delete(boxes, i, axis=0), beyond + turn])
            found = known.alone(boxes[i], others)
            left = shape.intersection(shapely.box(*boxes[i])).difference(together(others))
            if left.area > 1:
                assert found == pytest.approx(np.array(left.bounds), abs=1e-4)
    assert asked == len(boxes)
    moved = boxes[1:] + np.array([0.0, 0.0, 1.0, 1.0])
    known.alone(boxes[0], moved)
    near = shapely.box(*boxes[0])
    meets = any(near.intersection(shapely.box(*box)).area > 0 for box in boxes[1:])
    assert asked == len(boxes) + meets


def test_points_inside_as_shapely_has_them() -> None:
    shape = star(9, corners=25).difference(shapely.Point(7000, -4000).buffer(300))
    x, y = np.random.default_rng(2).uniform([4000, -7000], [10_000, -1000], (400, 2)).T
    expected = shapely.contains_xy(shape, x, y)
    assert expected.any()
    assert np.array_equal(contents.Content(shape)._contains(x, y), expected)
    # At the height of corners, which belong to one of their two edges.
    corners = shapely.get_coordinates(shape)
    x = corners[:, 0] - 17.0
    expected = shapely.contains_xy(shape, x, corners[:, 1])
    assert np.array_equal(contents.Content(shape)._contains(x, corners[:, 1]), expected)


@pytest.mark.parametrize("seed", range(6))
def test_boxes_that_only_touch_hold_nothing_and_cut_boxes_end_on_their_sides(seed: int) -> None:
    cells, true = random_cells(seed)
    shape = together(cells.boxes(np.array([[r, r + 1, c, c + 1] for r, c in np.argwhere(true)])))
    for content in (contents.Content(shape), contents.RoughContent(cells)):
        for row, column in np.argwhere(np.ones_like(true)).tolist():
            box = cells.boxes(np.array([[row, row + 1, column, column + 1]]))
            found = content.bounds(box)
            assert (found is not None) is bool(true[row, column])
            if found is not None:
                assert np.array_equal(found, box[0])
        assert content.bounds(np.empty((0, 4))) is None
        # All of them together, and some that reach beyond.
        beyond = np.array([[cells.x[0] - 5, cells.y[0] - 5, cells.x[3], cells.y[-1] + 5]])
        expected = shape.intersection(shapely.box(*beyond[0])).bounds
        assert content.bounds(beyond) == pytest.approx(np.array(expected))
