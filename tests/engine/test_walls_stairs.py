"""Outlines along cells: the lines that their stairs stand for, and the grid itself."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import rasterio.features
import shapely
from numpy.typing import NDArray

from regmap.engine import walls as walling
from regmap.engine.walls import grid_cell
from tests.engine.test_walls import HOLE, L_SHAPE, SQUARE, rounded

Floats = NDArray[np.float64]

BAY = np.array([[0, 0], [9, 0], [9, 4], [7, 4], [7, 5], [4, 5], [4, 4], [0, 4]], dtype=np.float64)
WINGS = np.array([[0, 0], [4, 0], [4, 3], [7, 3], [7, 5], [3, 5], [3, 2], [0, 2]], dtype=np.float64)


def stairs(polygon: shapely.Polygon, cell: float) -> Floats:
    """The outline of the cells whose middles lie in a polygon, by a raster library."""
    left, bottom, right, top = polygon.bounds
    size = (int((top - bottom) / cell) + 6, int((right - left) / cell) + 6)
    transform = rasterio.Affine(cell, 0, left - 3 * cell, 0, cell, bottom - 3 * cell)
    mask = rasterio.features.rasterize([polygon], size, transform=transform, dtype="uint8")
    shapes = list(rasterio.features.shapes(mask, mask == 1, transform=transform))
    return np.array(shapes[0][0]["coordinates"][0][:-1], dtype=np.float64)


@pytest.mark.parametrize("turn_deg", [8.0, 20.0, 33.0, 45.0, 70.0])
def test_stairs_become_the_slanted_wall_they_stand_for(turn_deg: float) -> None:
    cell = 50.0
    true = shapely.affinity.rotate(shapely.box(0, 0, 5000, 3300), turn_deg)
    ring = stairs(true, cell)
    line = walling.straighten(ring)
    assert len(line) < 12 < len(ring)
    # Where the corners of the stairs lie up to a cell off, the line is a fraction of one off.
    # Close to the corners of the room itself the cells say less.
    points = shapely.get_coordinates(shapely.Polygon(line).exterior.segmentize(100))
    corners = shapely.MultiPoint(shapely.get_coordinates(true))
    points = points[shapely.distance(shapely.points(points), corners) > 3 * cell]
    away = shapely.distance(shapely.points(points), true.exterior)
    assert len(points) > 100
    assert np.sqrt(np.mean(away**2)) < 0.25 * cell
    assert away.max() < 0.75 * cell
    before = shapely.distance(shapely.points(ring), true.exterior)
    assert np.sqrt(np.mean(before**2)) > 1.5 * np.sqrt(np.mean(away**2))


@pytest.mark.parametrize("turn_deg", [0.0, 8.0, 33.0])
def test_ragged_stairs_stand_for_the_same_wall(turn_deg: float) -> None:
    """A robot sees a wall a cell or two nearer here and farther there."""
    cell, size = 50.0, 120
    true = shapely.affinity.rotate(shapely.box(-2000, -1500, 2000, 1500), turn_deg)
    transform = rasterio.Affine(cell, 0, -0.5 * size * cell, 0, cell, -0.5 * size * cell)
    mask = rasterio.features.rasterize([true], (size, size), transform=transform, dtype="uint8")
    rng = np.random.default_rng(4)
    rim = cv2.dilate(mask, np.ones((3, 3), np.uint8)) - cv2.erode(mask, np.ones((3, 3), np.uint8))
    mask = np.where((rim > 0) & (rng.random(mask.shape) < 0.4), 1 - mask, mask).astype(np.uint8)
    shapes = rasterio.features.shapes(mask, mask == 1, transform=transform)
    rings = [np.array(shape["coordinates"][0][:-1]) for shape, _ in shapes]
    ring = max(rings, key=lambda each: abs(walling.signed_area(each)))
    line = walling.straighten(ring)
    assert len(ring) > 150
    assert len(line) <= 12
    points = shapely.get_coordinates(shapely.Polygon(line).exterior.segmentize(100))
    corners = shapely.MultiPoint(shapely.get_coordinates(true))
    points = points[shapely.distance(shapely.points(points), corners) > 4 * cell]
    away = shapely.distance(shapely.points(points), true.exterior)
    before = shapely.distance(shapely.points(ring), true.exterior)
    assert np.sqrt(np.mean(away**2)) < 0.5 * np.sqrt(np.mean(before**2))


@pytest.mark.parametrize(
    "ring",
    [
        SQUARE,
        HOLE,
        rounded(30),
        L_SHAPE,
        # Niches, bays and wings turn left and right as stairs do.
        BAY,
        BAY * 731.3 - 2000,
        WINGS,
        np.array([[0, 0], [4000, 0], [4000, 3000], [2600, 3000], [2600, 2880], [1700, 2880],
                  [1700, 3000], [0, 3000]], dtype=np.float64),
    ],
)  # fmt: skip
def test_other_rings_stay_as_they_are(ring: Floats) -> None:
    assert np.array_equal(walling.straighten(ring), ring)
    # Turned, the same: whatever the directions are.
    turned = ring @ np.array([[0.8, 0.6], [-0.6, 0.8]])
    assert np.array_equal(walling.straighten(turned), turned)


def test_the_line_of_stairs_does_not_depend_on_where_the_ring_begins() -> None:
    true = shapely.affinity.rotate(shapely.box(0, 0, 5000, 3300), 20.0)
    ring = stairs(true, 50.0)
    whole = shapely.Polygon(walling.straighten(ring))
    for start in (7, 31, len(ring) // 2):
        for turn in (1, -1):
            other = shapely.Polygon(walling.straighten(np.roll(ring, start, axis=0)[::turn]))
            assert whole.symmetric_difference(other).area < 0.004 * whole.area


@pytest.mark.parametrize("cell", [25.0, 50.0])
def test_corners_on_a_grid_show_its_cell(cell: float) -> None:
    rng = np.random.default_rng(0)
    corners = rng.uniform(-8000.0, 8000.0, (40, 2))
    on_grid = np.rint(corners / cell) * cell
    assert grid_cell(on_grid - on_grid[0]) == pytest.approx(cell)
    assert grid_cell(corners) == 0.0


def test_round_figures_are_no_grid_of_cells() -> None:
    corners = np.array([[0, 0], [4000, 0], [4000, 3000], [1500, 3000], [1500, 5500], [0, 5500.0]])
    assert grid_cell(corners) == 0.0


def test_kept_corners_are_those_nearest_to_what_opencv_keeps() -> None:
    """Corners that are met twice count at their first place."""
    rng = np.random.default_rng(8)
    for turn in range(200):
        size = int(rng.integers(3, 60))
        ring = np.array(rng.integers(-6, 7, (size, 2)) * 50.0 + turn % 2 * 3.3, dtype=np.float64)
        tolerance = (0.0, 5.0, 60.0)[turn % 3]
        scale = float(np.abs(ring).max())
        own = (ring / scale).astype(np.float32)
        line = cv2.approxPolyDP(own.reshape(-1, 1, 2), tolerance / scale, True).reshape(-1, 2)
        gaps = ((own[None] - line[:, None]) ** 2).sum(axis=2)
        assert walling._kept_corners(ring, tolerance) == sorted({*gaps.argmin(axis=1).tolist()})


def test_stairs_of_a_terrace_are_no_cells() -> None:
    """Six steps of half a metre in a room of six: each of them is a wall of its own."""
    corners = [(0.0, 0.0)]
    for step in range(6):
        corners += [(3000.0 + 500 * step, 500.0 * step), (3000.0 + 500 * step, 500.0 * (step + 1))]
    terrace = np.array([*corners, (0.0, 3000.0)])
    assert np.array_equal(walling.straighten(terrace), terrace)
    # The same steps of 50 mm are cells: the slope that they stand for is one wall.
    fine = [(0.0, 0.0)]
    for step in range(60):
        fine += [(3000.0 + 50 * step, 50.0 * step), (3000.0 + 50 * step, 50.0 * (step + 1))]
    slope = walling.straighten(np.array([*fine, (0.0, 3000.0)]))
    assert len(slope) < 8


def test_a_grid_is_found_whatever_its_cells_are_multiples_of() -> None:
    rng = np.random.default_rng(2)
    for least in range(1, 11):
        # Steps of `least` and of `least + 1` cells: the smallest is `least` of them.
        steps = rng.permutation(np.repeat([least, least + 1], 100)) * 40.0
        along = np.cumsum(steps)
        corners = np.column_stack([along, rng.permutation(along)])
        assert grid_cell(corners - corners[0]) == pytest.approx(40.0)


def test_corners_in_whole_units_may_stand_for_cells_that_are_none() -> None:
    """Cells of 40.6 mm, given in whole mm: no corner is off by more than half of one."""
    cells = np.random.default_rng(7).integers(-150, 150, (30, 2))
    exact = cells * 40.0
    near = exact + np.random.default_rng(8).uniform(-0.5, 0.5, exact.shape)
    assert grid_cell(exact - exact[0]) == pytest.approx(40.0)
    assert grid_cell(near - near[0]) in (0.0, pytest.approx(40.0, rel=0.01))
    # Off by a twentieth of a cell, they lie on none.
    off = exact + np.random.default_rng(8).uniform(-2.0, 2.0, exact.shape)
    assert grid_cell(off - off[0]) == 0.0


def slope(base: float, steps: int = 60, cell: float = 50.0) -> Floats:
    """A room as wide as `base` at its foot, under a slope of steps of a cell each way."""
    corners = [(0.0, 0.0)]
    for step in range(steps):
        corners += [(base + cell * step, cell * step), (base + cell * step, cell * (step + 1))]
    return np.array([*corners, (0.0, cell * steps)])


@pytest.mark.parametrize("unit", [1e-6, 1e-3, 1.0, 1e6])
def test_stairs_are_the_same_in_any_unit(unit: float) -> None:
    ring = stairs(shapely.affinity.rotate(shapely.box(0, 0, 5000, 3300), 20.0), 50.0)
    np.testing.assert_allclose(walling.straighten(ring * unit), walling.straighten(ring) * unit)


def test_a_room_of_three_corners_has_a_slanted_wall_too() -> None:
    line = walling.straighten(slope(50.0))
    assert len(line) == 3
    true = np.array([[0, 0], [3000, 3000], [0, 3000]])
    gaps = np.hypot(*(line[:, None] - true).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() < 2 * 50.0


def test_steps_that_do_not_lie_on_cells_are_none() -> None:
    """What lies between two right angles is a whole number of cells long, and square to them."""
    assert len(walling.straighten(slope(3000.0))) < 8
    for other in (slope(3025.0), slope(3000.0) @ np.array([[1.0, 0.0], [0.15, 1.0]])):
        np.testing.assert_array_equal(walling.straighten(other), other)
