"""Covers that trade pieces: every state covers, and the best trade is taken."""

from __future__ import annotations

import numpy as np
import pytest

from regmap.areas import grid, trade
from tests.areas.made import covers
from tests.polygons import star, together


def test_places_far_apart_are_each_the_farthest_from_those_before() -> None:
    places = np.random.default_rng(8).uniform(0, 9, (30, 2))
    chosen = trade._far_apart(places, 4, 6)
    assert chosen[0] == 4
    for count in range(1, 6):
        gaps = np.hypot(*(places[:, None] - places[chosen[:count]]).transpose(2, 0, 1)).min(axis=1)
        assert gaps[chosen[count]] == gaps.max()


def test_starts_and_trades_cover_and_the_best_trade_is_taken() -> None:
    shape = star(8)
    cells = grid.CellGrid.of(shape, lines=12, most=24)
    pieces = cells.held[cells.touched]
    extent = np.ptp(pieces.reshape(-1, 2), axis=0)
    starts = trade._starts(pieces, 3)
    assert len(starts) > 20
    assert all(covers(boxes, pieces) for boxes in starts)
    made, less = trade._best_trades(np.array(starts[:5]), pieces, extent)
    for start, best, area in zip(starts, made, less, strict=False):
        options = trade._trades(start, pieces, extent)
        assert len(options) > 8
        assert all(covers(boxes, pieces) for boxes in options)
        assert area == pytest.approx(together(best).area)
        assert area == pytest.approx(min(together(boxes).area for boxes in options))
    # Each side of each box is drawn in by several shares of the extent.
    moved = np.array([starts[0][None] != trade._trades(starts[0], pieces, extent)]).any(axis=(0, 1))
    assert moved.all()


def test_a_cover_is_left_where_no_trade_makes_it_smaller() -> None:
    shape = star(8)
    pieces = (cells := grid.CellGrid.of(shape, lines=12, most=24)).held[cells.touched]
    extent = pieces[:, 2:].max(axis=0) - pieces[:, :2].min(axis=0)
    found = trade.traded(pieces, 3, 4)
    areas = [together(boxes).area for boxes in found]
    assert len(found) == 4
    assert areas == sorted(areas)
    for boxes, area in zip(found, areas, strict=True):
        _, (less,) = trade._best_trades(boxes[None], pieces, extent)
        assert less > area * (1 - 2e-4)
    starts = [together(boxes).area for boxes in trade._starts(pieces, 3)]
    assert areas[0] < 0.97 * min(starts)


def test_trades_cover_every_piece() -> None:
    shape = star(8)
    cells = grid.CellGrid.of(shape, lines=12, most=24)
    pieces = cells.held[cells.touched]
    for boxes in trade.traded(pieces, 4, 3):
        low = (boxes[:, None, :2] <= pieces[:, :2]).all(axis=-1)
        high = (pieces[:, 2:] <= boxes[:, None, 2:]).all(axis=-1)
        assert (low & high).any(axis=0).all()
    assert trade.traded(pieces[:3], 4, 3) == []
