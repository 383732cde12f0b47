"""How far strips reach within a polygon, as shapely has it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap.areas import clearance, grid
from tests.areas.made import random_cells
from tests.polygons import star

Floats = NDArray[np.float64]


def test_reach_of_strips_as_shapely_has_it() -> None:
    """Between the border below a place and the border above it, of all that a strip holds."""
    rng = np.random.default_rng(5)
    compared = 0
    for turn in range(60):
        shape = star(turn, corners=40)
        space = clearance.Clearance(grid.edges_of(shape))
        seed = rng.uniform(shape.bounds[:2], shape.bounds[2:])
        if not shapely.contains_xy(shape, *seed):
            continue
        axis, out = turn % 2, (turn // 2 % 2) * 2 - 1
        widths = np.sort(rng.uniform(1, 900, 6))
        places = np.sort(seed[axis] + out * widths)
        found = np.column_stack(space.reach(axis, float(seed[axis]), places, seed[1 - axis]))
        for place, ends in zip(places, found, strict=True):
            start, end = sorted((float(seed[axis]), float(place)))
            cut = np.array([seed, seed])
            cut[:, axis] = start, end
            if not shape.contains(shapely.LineString(cut)):
                assert ends[0] == ends[1]
                continue
            strip = [start, -1e4, end, 1e4] if axis == 0 else [-1e4, start, 2e4, end]
            border = shapely.clip_by_rect(shape.boundary, *strip)
            across = shapely.bounds(shapely.get_parts(border))[:, [1 - axis, 3 - axis]]
            below = across[across[:, 1] < seed[1 - axis], 1].max()
            above = across[across[:, 0] > seed[1 - axis], 0].min()
            assert ends == pytest.approx([below, above], abs=1e-6)
            compared += 1
    assert compared > 60


def test_edges_that_do_not_matter_change_nothing() -> None:
    rng = np.random.default_rng(3)
    fewer = 0
    for turn in range(40):
        shape = star(turn, corners=30)
        space = clearance.Clearance(grid.edges_of(shape))
        for own, coordinates in zip(space.corners, shapely.get_coordinates(shape).T, strict=True):
            np.testing.assert_array_equal(own, np.unique(coordinates))
        place = rng.uniform(shape.bounds[:2], shape.bounds[2:])
        axis = turn % 2
        far = float(space.corners[axis][-1 if turn % 4 < 2 else 0])
        fixed, seed = float(place[axis]), float(place[1 - axis])
        places = np.sort(np.r_[np.linspace(fixed, far, 9)[1:]])
        ahead = space.ahead(axis, fixed, far, seed)
        fewer += len(ahead) < len(space.edges)
        expected = space.reach(axis, fixed, places, seed)
        found = space.reach(axis, fixed, places, seed, ahead)
        np.testing.assert_array_equal(found, expected)
    assert fewer > 20


def _reached(
    x: Floats, y: Floats, true: NDArray[np.bool_], fixed: float, place: float, seed: float
) -> tuple[float, float]:
    """How far a strip from x = fixed reaches along y, by looking at every cell."""
    low, high = sorted((fixed, place))
    across = (x[:-1] < high) & (x[1:] > low)
    beyond = low < x[0] or high > x[-1]
    free = np.array([not beyond and bool(of_row[across].all()) for of_row in true])
    row = first = last = int(np.searchsorted(y, seed)) - 1
    if not free[row]:
        return seed, seed
    while first > 0 and free[first - 1]:
        first -= 1
    while last + 1 < len(free) and free[last + 1]:
        last += 1
    return float(y[first]), float(y[last + 1])


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e5])
@pytest.mark.parametrize("seed", range(4))
def test_what_only_touches_a_strip_does_not_stand_in_its_way(seed: int, scale: float) -> None:
    """Walls along the axes: strips that end on them, and beside them, either way round."""
    cells, true = random_cells(seed)
    x, y = cells.x * scale, cells.y * scale
    shape = shapely.union_all(
        [shapely.box(x[c], y[r], x[c + 1], y[r + 1]) for r, c in np.argwhere(true)]
    )
    edges = grid.edges_of(shapely.orient_polygons(shape))
    turned = edges[:, [1, 0, 3, 2]]
    rng = np.random.default_rng(seed)
    for row, column in rng.permutation(np.argwhere(true))[:8].tolist():
        at = float(rng.uniform(y[row], y[row + 1]))
        inner = float(rng.uniform(x[column], x[column + 1]))
        for fixed in (inner, float(x[column])):
            places = np.concatenate([x, (x[:-1] + x[1:]) / 2, [x[0] - scale, x[-1] + scale]])
            for side in (np.sort(places[places > fixed]), np.sort(places[places < fixed])):
                expected = [_reached(x, y, true, fixed, float(p), at) for p in side]
                if not len(side):
                    continue
                for axis, own in ((0, edges), (1, turned)):
                    space = clearance.Clearance(own)
                    ahead = space.ahead(axis, fixed, float(side[-1 if side[0] > fixed else 0]), at)
                    for given in (None, ahead):
                        found = np.column_stack(space.reach(axis, fixed, side, at, given))
                        assert found == pytest.approx(np.array(expected), rel=1e-12)


def test_beside_a_polygon_nothing_is_reached() -> None:
    space = clearance.Clearance(grid.edges_of(star(3)))
    for seed in (-9000.0, 2000.0):
        low, high = space.reach(0, 6000.0, np.array([6500.0, 7000.0, 8000.0]), seed)
        assert low.tolist() == high.tolist() == [seed] * 3
