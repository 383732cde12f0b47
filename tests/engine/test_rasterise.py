"""Label raster and distance fields against rasterio and shapely."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio.features
import shapely
from affine import Affine
from numpy.typing import NDArray

from regmap.engine.edges import ORIENTATIONS
from regmap.engine.rasterise import Raster, inner_points, rasterise
from regmap.engine.walls import Walls, build_walls
from tests.engine import scenes

Floats = NDArray[np.float64]

RING = np.array([[0, 0], [6000, 0], [6000, 4000], [2500, 5200], [0, 4000]], dtype=np.float64)
COURT = np.array([[2000, 1500], [3500, 1500], [3500, 2600], [2000, 2600]], dtype=np.float64)


def courtyard() -> Walls:
    other = np.array([[6200, 0], [9000, 0], [9000, 1200], [6200, 2500]], dtype=np.float64)
    return build_walls([(RING, COURT), (other,)])


@pytest.fixture(params=["floor", "courtyard"])
def drawn(request: pytest.FixtureRequest) -> tuple[Walls, Raster]:
    if request.param == "courtyard":
        walls = courtyard()
    else:
        walls = build_walls(list(scenes.FLOOR.values()))
    return walls, rasterise(walls, 256)


def polygons(walls: Walls) -> list[shapely.Polygon]:
    return [shapely.Polygon(rings[0], rings[1:]) for rings in walls.rings]


def centres(raster: Raster) -> Floats:
    """(h, w, 2) the middles of all cells, own frame."""
    rows, columns = raster.label.shape
    grid = np.stack(np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5), axis=-1)
    return np.asarray((grid - raster.shift) / raster.scale)


def test_labels_against_rasterio(drawn: tuple[Walls, Raster]) -> None:
    walls, raster = drawn
    to_own = Affine(
        1 / raster.scale, 0, -raster.shift[0] / raster.scale,
        0, 1 / raster.scale, -raster.shift[1] / raster.scale,
    )  # fmt: skip
    shapes = [(shape, number + 1) for number, shape in enumerate(polygons(walls))]
    other = rasterio.features.rasterize(shapes, raster.label.shape, transform=to_own)
    # The two may differ in the cells that a wall runs through, and nowhere else.
    lines = shapely.unary_union([shape.boundary for shape in polygons(walls)])
    middles = centres(raster).reshape(-1, 2)
    away = shapely.distance(lines, shapely.points(middles)).reshape(raster.label.shape)
    clear = away * raster.scale > 1.0
    assert clear.mean() > 0.8
    assert np.array_equal(raster.label[clear], other[clear])


def test_distances_against_shapely(drawn: tuple[Walls, Raster]) -> None:
    walls, raster = drawn
    rng = np.random.default_rng(2)
    row, column = rng.integers(0, raster.label.shape, (400, 2)).T
    points = shapely.points(centres(raster)[row, column][:, None])
    pieces = shapely.linestrings(np.stack([walls.start, walls.end], axis=1)[None])
    every = shapely.distance(points, pieces)
    cell = 1.0 / raster.scale
    # A line of cells is up to a cell off the wall; the 5 x 5 transform errs by up to 2 %
    # (Borgefors, CVGIP 34(3), 1986).
    allowed = cell + 0.02 * every.min(axis=1)
    assert (np.abs(raster.depth[row, column] - every.min(axis=1)) <= allowed).all()
    angle = np.arctan2(walls.normal[:, 1], walls.normal[:, 0])
    for channel in range(ORIENTATIONS):
        off = np.angle(np.exp(2j * (angle - channel * np.pi / ORIENTATIONS))) / 2
        chosen = np.abs(np.rad2deg(off)) < 18.0
        found = raster.distance[channel, row, column]
        if not chosen.any():
            assert found.min() > 4.0
            continue
        expected = every[:, chosen].min(axis=1)
        assert (np.abs(found - expected) <= cell + 0.02 * expected).all()


def test_a_square_of_ten_cells_keeps_its_size() -> None:
    """The outline that OpenCV finds of a mask of 10 x 10 px joins pixel centres and has an area of
    81, GDAL's has 100: the fill must not lose a cell, and gains none but those on the border."""
    walls = build_walls([(np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=np.float64),)])
    lean = []
    for size in range(60, 100):
        raster = rasterise(walls, size)
        side = 10.0 * raster.scale * float(np.hypot(*np.linalg.inv(walls.linear)[:, 0]))
        filled = np.argwhere(raster.label > 0)
        assert side - 0.5 <= np.sqrt(len(filled)) <= side + 2.0
        lean.append(filled.mean(axis=0) + 0.5 - raster.shift)
    # Half a cell to one side, by which the two conventions differ, would be seen here.
    assert np.abs(np.mean(lean, axis=0)).max() < 0.25


def test_cells_of_points() -> None:
    raster = rasterise(courtyard(), 200)
    corner = -raster.shift / raster.scale
    cell = 1.0 / raster.scale
    points = corner + cell * np.array([[0.01, 0.01], [0.99, 0.01], [1.01, 5.5]])
    column, row = raster.cells(points)
    assert list(column) == [0, 0, 1]
    assert list(row) == [0, 0, 5]
    column, row = raster.cells(np.array([[-1e300, 1e300], [1e18, -1e18]]))
    rows, columns = raster.label.shape
    assert max(rows, columns) == 200
    assert list(column) == [0, columns - 1]
    assert list(row) == [rows - 1, 0]


def test_inner_points_lie_well_inside_their_rooms(drawn: tuple[Walls, Raster]) -> None:
    walls, raster = drawn
    points = inner_points(raster, walls, 40)
    assert points.shape == (len(walls.rings), 40, 2)
    for shape, own in zip(polygons(walls), points, strict=True):
        assert shapely.contains_xy(shape, own).all()
        deepest = shapely.maximum_inscribed_circle(shape, 0.001).length
        assert shapely.distance(shape.boundary, shapely.points(own)).min() > 0.25 * deepest
        # Spread over the room, not heaped in one place.
        assert (np.ptp(own, axis=0) > 0.2 * np.ptp(np.array(shape.exterior.coords), axis=0)).all()


def test_rooms_inside_rooms_keep_their_label() -> None:
    inner = np.array([[500, 500], [1500, 500], [1500, 1200], [500, 1200]], dtype=np.float64)
    for rooms in ((RING, inner), (inner, RING)):
        walls = build_walls([(ring,) for ring in rooms])
        raster = rasterise(walls, 256)
        areas = np.bincount(raster.label.ravel(), minlength=3)[1:] / raster.scale**2
        small, large = sorted(p.area for p in polygons(walls))
        expected = [small, large - small]
        assert sorted(areas) == pytest.approx(expected, rel=0.08)


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, -20.0])
def test_the_floor_lies_in_the_middle_with_a_margin_all_round(turn_deg: float) -> None:
    """An eighth of its larger side, so that what lies beside it is seen as well."""
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    # A wing at one corner: the middle of the box in the frame of the walls is another one.
    ring = np.array([[0, 0], [9000, 0], [9000, 700], [4000, 700], [4000, 5000], [0, 5000]])
    walls = build_walls([(ring @ np.array([[cos, sin], [-sin, cos]]),)])
    raster = rasterise(walls, 200)
    rows, columns = np.nonzero(raster.label)
    height, width = raster.label.shape
    for cells, count, of_long in ((columns, width, 9 / 9), (rows, height, 5 / 9)):
        assert count - 1 - cells.max() == pytest.approx(cells.min(), abs=2)
        assert cells.min() == pytest.approx(0.12 * 200 / 1.24, abs=2)
        side = cells.max() + 1 - cells.min()
        assert side == pytest.approx(of_long * 200 / 1.24, abs=2)


def test_beyond_the_rooms_it_is_as_deep_as_the_next_wall_is_far(
    drawn: tuple[Walls, Raster],
) -> None:
    _, raster = drawn
    assert not raster.beyond[raster.label > 0].any()
    outside = raster.label == 0
    assert np.array_equal(raster.beyond[outside], raster.depth[outside])
    assert raster.beyond[outside].max() > 0.0
