"""How far strips reach within a polygon, as shapely has it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from regmap.areas import grid, room
from tests.polygons import star


def test_reach_of_strips_as_shapely_has_it() -> None:
    """Between the border below a place and the border above it, of all that a strip holds."""
    rng = np.random.default_rng(5)
    compared = 0
    for turn in range(60):
        shape = star(turn, corners=40)
        space = room.Room(grid.edges_of(shape))
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
        space = room.Room(grid.edges_of(shape))
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
