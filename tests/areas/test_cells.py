"""The cells of a grid against shapely, where lines, edges and corners coincide too."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas import grid
from regmap.areas.cells import cut_into_cells
from tests.areas.made import random_boxes
from tests.polygons import together

Floats = NDArray[np.float64]


def _clean(polygon: BaseGeometry) -> BaseGeometry:
    return shapely.orient_polygons(shapely.make_valid(polygon).buffer(0))


def on_crossings(seed: int) -> BaseGeometry:
    """A polygon whose corners lie on crossings of whole numbers, and its edges often on lines."""
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(4, 14))))
    ring = np.column_stack([np.cos(turns), np.sin(turns)]) * rng.uniform(1, 4.5, (len(turns), 1))
    shape = _clean(shapely.Polygon(np.rint(ring)))
    boxes = np.rint(random_boxes(rng, 2) - 5)
    boxes[:, 2:] += 1
    return _clean(shape.symmetric_difference(together(boxes)))


def check_cells(shape: BaseGeometry, x: Floats, y: Floats, off: float = 0.0) -> None:
    """Compare with shapely; with every corner of the given polygon a little off."""
    edges = grid.edges_of(shape)
    # A corner belongs to two edges, and stays one corner.
    noise = np.random.default_rng(0).uniform(-off, off, (14, 14, 2))
    corners = edges.reshape(-1, 2)
    place = np.rint(corners).astype(int) + 6
    edges = (corners + noise[place[:, 0], place[:, 1]]).reshape(-1, 4)
    weight, full, touched, held = cut_into_cells(edges, x, y, 1e-9)
    (left, low), (right, high) = (np.meshgrid(x[i:j], y[i:j]) for i, j in ((0, -1), (1, None)))
    bounds = np.stack([left, low, right, high], axis=-1).reshape(-1, 4)
    cells = np.array([shapely.box(*box) for box in bounds])
    cut = shapely.intersection(cells, shape).reshape(weight.shape)
    area = shapely.area(cut)
    size = shapely.area(cells).reshape(weight.shape)
    np.testing.assert_allclose(weight, area, atol=1e-9)
    np.testing.assert_array_equal(touched, area > 1e-9)
    np.testing.assert_array_equal(full, area > size - 1e-9)
    for row, column in np.argwhere(touched).tolist():
        parts = shapely.get_parts(cut[row, column])
        expected = shapely.total_bounds(parts[shapely.area(parts) > 0])
        np.testing.assert_allclose(held[row, column], expected, atol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_cells_through_whose_corners_the_border_runs(seed: int) -> None:
    """Lines, edges and corners that coincide, in all the ways that there are."""
    shape = on_crossings(seed)
    whole = np.arange(-6.0, 7.0)
    check_cells(shape, whole, whole)
    # The first and the last line run along the outermost edges, as those of a grid do.
    left, low, right, high = (int(v) for v in shape.bounds)
    tight = np.arange(left, right + 1.0), np.arange(low, high + 1.0)
    check_cells(shape, *tight)
    x, y = (lines[[0, *range(2, len(lines) - 1, 2), -1]] for lines in tight)
    check_cells(shape, x, y)
    # Off by less than a thousandth of what counts as the same, corners are where they were.
    check_cells(shape, *tight, off=4e-13)
    rng = np.random.default_rng(seed)
    for _ in range(3):
        x, y = (np.unique(np.r_[-7, rng.choice(whole, 4), rng.uniform(-4, 4, 2), 8])
                for _ in range(2))  # fmt: skip
        check_cells(shape, x, y)


def test_a_border_that_is_off_a_line_by_rounding_is_on_it() -> None:
    """By less than a thousandth of what counts as the same; more is a cut."""
    x = y = np.arange(5.0)
    for off, cut in ((4e-13, 0), (-4e-13, 0), (1e-3, 4), (-1e-3, 4)):
        box = shapely.orient_polygons(shapely.box(1 - off, 1, 3, 3 + off))
        weight, full, touched, _ = cut_into_cells(grid.edges_of(box), x, y, 1e-9)
        assert weight.sum() == pytest.approx(box.area)
        if cut == 0:
            assert full.sum() == touched.sum() == 4
            assert weight.sum() == 4.0
        else:
            assert touched.sum() > full.sum()


def test_slivers_are_kept_as_cut_cells_and_not_as_full_ones() -> None:
    """A notch of a hundredth: the cell is not inside, though nearly all of it is."""
    square = shapely.box(0, 0, 4, 4).difference(shapely.box(1.4, 1.4, 1.41, 1.41))
    edges = grid.edges_of(shapely.orient_polygons(square))
    weight, full, touched, held = cut_into_cells(edges, np.arange(5.0), np.arange(5.0), 1e-9)
    assert not full[1, 1]
    assert full.sum() == 15
    assert touched.all()
    assert weight[1, 1] == pytest.approx(1 - 1e-4)
    assert held[1, 1].tolist() == [1, 1, 2, 2]
