"""Upright rectangles against exhaustive search, closed forms and what must always hold."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import numpy as np
import pytest
import shapely
import shapely.affinity
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from regmap import areas, frames
from regmap.areas import clearance, cover, grid, inside
from regmap.errors import RegmapError
from tests.fit_examples import TURNED, make_fit
from tests.polygons import star, together

# --- Exhaustive search: of a polygon made of cells, the best boxes end on the cells' lines.


class _Cells:
    """A polygon of random cells, 4 by 4, of random widths, and all its blocks as bit masks."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        self.x = np.cumsum(rng.integers(1, 9, 5)).astype(float)
        self.y = np.cumsum(rng.integers(1, 9, 5)).astype(float)
        self.true = rng.random((4, 4)) < 0.7
        self.true[1, 1] = True
        self.area = np.outer(np.diff(self.y), np.diff(self.x))
        boxes = [
            shapely.box(self.x[c], self.y[r], self.x[c + 1], self.y[r + 1])
            for r, c in np.argwhere(self.true)
        ]
        self.polygon = shapely.union_all(boxes)
        # Cells that meet at a corner alone are fine for a MultiPolygon, as they are for a room.
        spans = list(combinations(range(5), 2))
        masks = np.zeros((len(spans) ** 2, 4, 4), dtype=bool)
        for i, ((r0, r1), (c0, c1)) in enumerate((r, c) for r in spans for c in spans):
            masks[i, r0:r1, c0:c1] = True
        self.masks = masks

    def _area_of(self, bits: np.ndarray) -> np.ndarray:
        sizes = np.zeros(len(bits))
        for i, size in enumerate(self.area.ravel()):
            sizes += size * ((bits >> i) & 1)
        return sizes

    def _chosen(self, masks: np.ndarray, count: int) -> np.ndarray:
        bits = (masks.reshape(len(masks), -1) * (1 << np.arange(16))).sum(axis=1)
        bits = np.unique(bits)
        joined = bits
        for _ in range(count - 1):
            joined = np.unique(joined[:, None] | bits)
        return joined

    def best_fill(self, count: int) -> float:
        within = self.masks[(self.masks & ~self.true).sum(axis=(1, 2)) == 0]
        return float(self._area_of(self._chosen(within, count)).max() / self.area[self.true].sum())

    def best_spill(self, count: int) -> float:
        joined = self._chosen(self.masks, count)
        needed = int((self.true.ravel() * (1 << np.arange(16))).sum())
        whole = joined[(joined & needed) == needed]
        return float(self._area_of(whole).min() / self.area[self.true].sum() - 1)


@pytest.mark.parametrize("count", [2, 3])
def test_rectangles_of_cells_are_the_best_of_all(count: int) -> None:
    missed = 0
    for seed in range(6):
        cells = _Cells(seed)
        within = areas.rectangles(cells.polygon, fit="inside", max_count=count)
        over = areas.rectangles(cells.polygon, fit="cover", max_count=count)
        fill, spill = cells.best_fill(count), cells.best_spill(count)
        assert fill * 0.97 - 1e-9 <= within.fill <= fill + 1e-9
        assert spill - 1e-9 <= over.spill <= spill + 0.05
        missed += (within.fill < fill - 1e-9) + (over.spill > spill + 1e-9)
        # What is proved is no less than what all the rectangles that there are can reach.
        assert within.best_possible >= fill - 1e-9
        assert over.best_possible <= spill + 1e-9
    assert missed <= 1  # of 12


# --- Closed forms, worked out by hand.


@pytest.mark.parametrize("count", [1, 2, 3])
def test_right_triangle_takes_equal_steps(count: int) -> None:
    # Of staircases with K steps under a straight slope the one of equal steps is the largest: it
    # fills K / (K + 1) of the triangle. Over it, equal steps spill 1 / K.
    triangle = shapely.Polygon([(0, 0), (4000, 0), (0, 3000)])
    within = areas.rectangles(triangle, fit="inside", max_count=count)
    assert within.fill == pytest.approx(count / (count + 1), abs=1e-3)
    assert within.fill <= count / (count + 1) + 1e-9
    assert within.best_possible >= count / (count + 1) - 1e-9
    over = areas.rectangles(triangle, fit="cover", max_count=count)
    assert over.spill == pytest.approx(1 / count, abs=5e-3)
    assert over.spill >= 1 / count - 1e-9


def test_disc_takes_a_square_then_a_cross() -> None:
    disc = shapely.Point(500, 300).buffer(1000, quad_segs=32)
    square = areas.rectangles(disc, max_count=1)
    assert square.fill == pytest.approx(2 / math.pi, abs=2e-3)
    # Two boxes 2 cos t by 2 sin t, crossed: 4 sin 2t - 4 sin^2 t, largest where tan 2t = 2.
    cross = areas.rectangles(disc, max_count=2)
    assert cross.fill == pytest.approx((2 * math.sqrt(5) - 2) / math.pi, abs=3e-3)
    assert areas.rectangles(disc, fit="cover", max_count=1).spill == pytest.approx(
        4 / math.pi - 1, abs=2e-3
    )


@pytest.mark.parametrize("fit", ["inside", "cover"])
def test_shapes_made_of_boxes_come_back_as_they_are(fit: Any) -> None:
    corner = shapely.Polygon([(0, 0), (4, 0), (4, 1), (2, 1), (2, 5), (0, 5)])
    cross = shapely.union(shapely.box(0, 1, 3, 2), shapely.box(1, 0, 2, 3))
    frame = shapely.difference(shapely.box(0, 0, 5, 4), shapely.box(1, 1, 4, 3))
    apart = shapely.union(shapely.box(0, 0, 1, 1), shapely.box(7, 5, 9, 6))
    for shape, fewest in (
        (corner, 2),
        (cross, 2),
        (frame, 4),
        (apart, 2),
        (shapely.box(1, 2, 3, 5), 1),
    ):
        found = areas.rectangles(shape, fit=fit, max_count=6)
        assert len(found.boxes) == fewest
        assert found.fill == pytest.approx(1)
        assert found.spill == pytest.approx(0, abs=1e-12)
        assert together(found.boxes).symmetric_difference(shape).area == pytest.approx(0, abs=1e-9)
        assert found.best_possible == pytest.approx(1 if fit == "inside" else 0, abs=1e-9)


# --- What must always hold.

shapes = st.builds(star, st.integers(0, 10_000), st.integers(4, 30))


@settings(max_examples=4, deadline=None)
@given(shapes, st.integers(1, 2), st.booleans())
def test_inside_stays_inside_and_cover_leaves_nothing_out(
    polygon: shapely.Polygon, count: int, hole: bool
) -> None:
    if not polygon.is_valid or polygon.area < 1e5:
        return
    shape: BaseGeometry = polygon
    if hole:
        shape = polygon.difference(polygon.representative_point().buffer(300, quad_segs=2))
    within = areas.rectangles(shape, fit="inside", max_count=count)
    assert len(within.boxes) <= count
    assert together(within.boxes).difference(shape).area < 1e-9 * shape.area
    assert within.fill == pytest.approx(together(within.boxes).area / shape.area, abs=1e-9)
    assert within.fill <= within.best_possible + 1e-12
    assert within.best_possible <= 1.0
    over = areas.rectangles(shape, fit="cover", max_count=count)
    assert len(over.boxes) <= count
    left = shapely.difference(shape, together(over.boxes), grid_size=1e-7)
    assert left.area < 1e-9 * shape.area
    assert over.spill == pytest.approx(together(over.boxes).area / shape.area - 1, abs=1e-9)
    for found in (within, over):
        assert (found.boxes[:, :2] < found.boxes[:, 2:]).all()


@pytest.mark.parametrize("fit", ["inside", "cover"])
def test_more_rectangles_never_do_worse(fit: Any) -> None:
    reached = []
    for count in (1, 2, 3):
        found = areas.rectangles(star(1), fit=fit, max_count=count)
        reached.append(found.fill if fit == "inside" else -found.spill)
    assert reached == sorted(reached)
    assert reached[2] > reached[0] + 0.1


@pytest.mark.parametrize("fit", ["inside", "cover"])
def test_moved_polygon_takes_the_moved_rectangles_and_the_same_bits(fit: Any) -> None:
    shape = star(3)
    found = areas.rectangles(shape, fit=fit, max_count=2)
    again = areas.rectangles(shape, fit=fit, max_count=2)
    assert np.array_equal(found.boxes, again.boxes)
    moved = shapely.transform(shape, lambda points: points + np.array([4096, -8192]))
    there = areas.rectangles(moved, fit=fit, max_count=2)
    measure = "fill" if fit == "inside" else "spill"
    assert getattr(there, measure) == pytest.approx(getattr(found, measure), abs=2e-3)


def test_a_longer_search_finds_little_less_to_spill(monkeypatch: pytest.MonkeyPatch) -> None:
    found = areas.rectangles(star(5), fit="cover", max_count=3)
    for name, value in (("_BEAM", 12), ("_PAIRS", 6)):
        monkeypatch.setattr(cover, name, value)
    longer = areas.rectangles(star(5), fit="cover", max_count=3)
    assert found.spill - longer.spill < 0.01


def test_random_starts_find_little_more_to_fill() -> None:
    shape = star(22)
    found = areas.rectangles(shape, fit="inside", max_count=3)
    rng = np.random.default_rng(0)
    space = clearance.Clearance(grid.edges_of(shape))
    best = 0.0
    for _ in range(12):
        boxes = np.empty((0, 4))
        while len(boxes) < 3:
            place = rng.uniform(shape.bounds[:2], shape.bounds[2:])
            if shapely.contains_xy(shape, *place):
                boxes = np.vstack([boxes, inside._grown(space, place, grid.Covered.by(boxes))])
        best = max(best, grid.union_area(inside._polish(space, boxes, 20)) / shape.area)
    assert 0.8 * found.fill < best < found.fill + 0.005


def test_a_marked_area_goes_straight_in() -> None:
    fit = make_fit(transform=TURNED)
    zone = areas.to_device(fit, (60, 260, 110, 290))
    found = areas.rectangles(zone, fit="cover", max_count=3)
    assert together(found.boxes).buffer(1e-6).covers(zone.geometry)
    same = areas.rectangles(np.array(zone.geometry.boundary.coords), fit="cover", max_count=3)
    assert np.array_equal(found.boxes, same.boxes)
    with pytest.raises(ValueError, match="read-only"):
        found.boxes[0, 0] = 1.0


def test_outline_of_small_cells_is_taken() -> None:
    """An outline that follows the cells of a robot's map has hundreds of corners."""
    turns = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    x, y = np.round(60 * np.cos(turns)) * 50, np.round(60 * np.sin(turns)) * 50
    stairs = [(x[0], y[0])]
    for i in range(1, 60):
        stairs += [(x[i], y[i - 1]), (x[i], y[i])]
    polygon = shapely.Polygon([*stairs, (x[0], y[-1])]).buffer(0)
    found = areas.rectangles(polygon, max_count=2)
    assert together(found.boxes).difference(polygon).area < 1e-6
    assert found.fill > 0.7


@pytest.mark.parametrize(
    ("polygon", "options", "text"),
    [
        (shapely.box(0, 0, 1, 1), {"fit": "outside"}, "'outside', but it must be among"),
        (shapely.box(0, 0, 1, 1), {"max_count": 0}, "max_count is 0"),
        (shapely.box(0, 0, 1, 1), {"max_count": True}, "max_count is True"),
        (shapely.Point(0, 0), {}, "not a Point"),
        (shapely.Polygon(), {}, "empty"),
        (shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)]), {}, "not clean"),
        ([(0, 0), (1, 1)], {}, "at least three"),
        (shapely.Point(0, 0).buffer(1, quad_segs=6000), {}, "24000 corners"),
        ([(0, 0), (1, math.nan), (1, 1)], {}, "not finite"),
    ],
)
def test_odd_input_is_refused(polygon: Any, options: Any, text: str) -> None:
    with pytest.raises(RegmapError, match=text):
        areas.rectangles(polygon, **options)


def test_of_many_corners_no_cell_and_no_box_is_wrong() -> None:
    """Of many corners cells are cut row by row, and not every corner is tried as a side's place."""
    turns = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    far = 2000 * (1 + 0.3 * np.sin(5 * turns))
    wave = shapely.Polygon(np.column_stack([np.cos(turns), np.sin(turns)]) * far[:, None])
    cells = grid.CellGrid.of(wave, lines=8, most=16)
    assert cells.area == pytest.approx(wave.area)
    for row, column in np.argwhere(cells.touched & ~cells.full)[::7].tolist():
        (x0, x1), (y0, y1) = cells.x[column : column + 2], cells.y[row : row + 2]
        box = shapely.box(x0, y0, x1, y1)
        assert cells.weight[row, column] == pytest.approx(wave.intersection(box).area)
    within = areas.rectangles(wave, max_count=1)
    assert together(within.boxes).difference(wave).area < 1e-9 * wave.area
    # A tenth of the corners, all of which are tried, tell how much one box can fill.
    few = areas.rectangles(wave.simplify(12), max_count=1)
    assert within.fill == pytest.approx(few.fill, abs=0.01)


def test_of_very_many_pieces_of_edges_half_the_lines_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thousands of long slanted edges are cut at fewer lines, and little is lost by that."""
    usual = areas.rectangles(star(1), max_count=1)
    monkeypatch.setattr("regmap.areas.boxes._PIECES", 10)
    found = areas.rectangles(star(1), max_count=1)
    assert together(found.boxes).difference(star(1)).area < 1e-6
    assert found.fill == pytest.approx(usual.fill, abs=0.02)
    assert found.best_possible >= usual.fill


def test_a_box_more_must_be_worth_it() -> None:
    """Turned by a hundredth of a degree, a rectangle is still one rectangle."""
    ring = frames.apply(Affine.rotation(0.01), [(0, 0), (1800, 0), (1800, 1500), (0, 1500)])
    for fit in ("inside", "cover"):
        found = areas.rectangles(ring, fit=fit, max_count=5)
        assert len(found.boxes) == 1
        assert found.fill > 0.999
        assert found.spill < 0.001


def test_arms_in_two_directions_are_covered_as_a_long_search_does() -> None:
    """An L turned by 45 degrees, two squares wide and tall and one thick. With five boxes
    `benchmarks.long_search.anneal_cover(ell, 5, np.random.default_rng(0))` found 0.342."""
    ell = shapely.Polygon([(0, 0), (2000, 0), (2000, 1000), (1000, 1000), (1000, 2000), (0, 2000)])
    found = areas.rectangles(shapely.affinity.rotate(ell, 45), fit="cover", max_count=5)
    assert found.spill < 0.342
