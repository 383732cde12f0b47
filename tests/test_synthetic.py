"""Made floors and pictures: their truth must be exact, or nothing measured against them counts."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import MultiPoint, Polygon

from regmap import frames, synthetic
from regmap.synthetic import variants
from regmap.synthetic.floors import STYLES, Floor, make_floor
from regmap.synthetic.looks import LOOKS, Scene
from regmap.synthetic.photos import photo
from regmap.synthetic.raster import Canvas, coverage
from regmap.synthetic.shapes import through
from regmap.synthetic.symmetry import lopsided

Array = NDArray[np.float64]
STRANGERS = ("stranger", "same-shell", "next-storey", "two-rooms-alike", "photo")
FITTING = [family for family in synthetic.FAMILIES if family not in STRANGERS]
SLOW = ("big", "many-rooms")
CENTRES = np.arange(4000) + frames.PIXEL_CENTRE


@cache
def made(family: str) -> synthetic.Sample:
    return synthetic.sample(family, 1)


# Exact painting -----------------------------------------------------------------------------------


def centroid(share: Array) -> Array:
    """Centroid (column, row) px of a coverage picture, from its definition."""
    height, width = share.shape
    total = share.sum()
    middle: Array = np.array([share.sum(0) @ CENTRES[:width], share.sum(1) @ CENTRES[:height]])
    return np.asarray(middle / total)


def test_coverage_has_the_area_and_the_centroid_of_the_shape() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        shape = MultiPoint(rng.uniform(3, 57, (7, 2))).convex_hull
        hole = shapely.Point(shape.centroid).buffer(1.7)
        shape = shape.difference(hole)
        rows, columns, share = coverage(shape, 60, 60)
        full = np.zeros((60, 60))
        full[rows, columns] = share
        assert full.sum() == pytest.approx(shape.area, abs=1e-3)
        assert centroid(full) == pytest.approx((shape.centroid.x, shape.centroid.y), abs=5e-3)


def test_coverage_of_single_pixels_is_their_overlap() -> None:
    shape = Polygon([(1.3, 0.8), (6.1, 2.2), (4.9, 6.7), (0.4, 5.1)])
    rows, columns, share = coverage(shape, 8, 8)
    for i, row in enumerate(range(rows.start, rows.stop)):
        for j, column in enumerate(range(columns.start, columns.stop)):
            overlap = shape.intersection(shapely.box(column, row, column + 1, row + 1)).area
            assert share[i, j] == pytest.approx(overlap, abs=1e-6)


def test_coverage_drops_what_lies_outside() -> None:
    shape = Polygon([(-30, -20), (25.5, -20), (25.5, 40.25), (-30, 40.25)])
    rows, columns, share = coverage(shape, 100, 50)
    assert (rows, columns) == (slice(0, 41), slice(0, 26))
    assert share.sum() == pytest.approx(25.5 * 40.25, abs=1e-3)


def test_tiles_leave_no_seam() -> None:
    canvas = Canvas(np.zeros((20, 20, 3), np.float32), np.array([[1.0, 0, 0], [0, 1.0, 0]]))
    left, right = shapely.box(0, 0, 10.3, 20), shapely.box(10.3, 0, 20, 20)
    canvas.tile([left, right], [(200, 200, 200), (200, 200, 200)])
    assert canvas.image == pytest.approx(np.full((20, 20, 3), 200.0), abs=1e-3)


VIEWS: tuple[dict[str, Any], ...] = (
    {},
    {"turn_deg": 31.7, "size": (311, 257)},
    {"mirrored": True, "turn_deg": 90.0},
    {"stretch": 1.3, "turn_deg": 12.0},
    {"screen": True, "size": (540, 960)},
    {"shrink": 0.7, "turn_deg": 5.0},
)


def paint_plain(canvas: Canvas, floor: Floor, rooms: Any, rng: np.random.Generator) -> Scene:
    """Rooms at grey level 240 on 10, so that a pixel's level tells its share."""
    canvas.image[:] = 10
    canvas.tile(rooms.values(), [(240, 240, 240)] * len(rooms))
    return Scene(np.full(3, 10.0), {}, np.full(3, 10.0))


@pytest.mark.parametrize("view", VIEWS)
def test_pictures_are_true_to_a_fiftieth_of_a_pixel(
    view: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each room's area and centroid, measured in grey levels, are those that the map tells."""
    monkeypatch.setitem(LOOKS, "plain", paint_plain)
    floor = make_floor(np.random.default_rng(11), rooms=5, style="slanted")
    for name in floor.cells:
        room = {name: floor.rooms[name]}
        picture = synthetic.draw(
            floor, np.random.default_rng(3), look="plain", shapes=room, **({"fill": 0.7} | view)
        )
        shape = through(room[name], picture.floor_to_image)
        near = shape.buffer(4).bounds
        left, top, right, bottom = (int(v) for v in near)
        level = picture.image[top:bottom, left:right, 0].astype(float)
        share = (level - 10) / 230
        assert share.sum() == pytest.approx(shape.area, rel=1e-3)
        found = centroid(share) + np.array([left, top])
        assert found == pytest.approx((shape.centroid.x, shape.centroid.y), abs=0.02)


def test_cells_are_blocks_that_follow_the_floor(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cell is of one colour, and takes it from the floor at its middle."""
    monkeypatch.setitem(LOOKS, "plain", paint_plain)
    floor = make_floor(np.random.default_rng(4), rooms=4, style="plain")
    picture = synthetic.draw(
        floor,
        np.random.default_rng(3),
        look="plain",
        shapes=floor.rooms,
        cell_mm=100.0,
        turn_deg=8.0,
    )
    zoom = round(100.0 / frames.scale_of(picture.image_to_floor))
    assert zoom >= 2
    level = picture.image[:, :, 0]
    height, width = (n // zoom for n in level.shape)
    blocks = level[: height * zoom, : width * zoom].reshape(height, zoom, width, zoom)
    assert (np.ptp(blocks, axis=(1, 3)) == 0).all()
    column, row = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    middles = frames.apply(picture.image_to_floor, zoom * np.column_stack([column.flat, row.flat]))
    free = shapely.union_all(list(floor.rooms.values()))
    inside = shapely.contains_xy(free, middles).reshape(height, width)
    assert (inside == (blocks[:, 0, :, 0] == 240)).mean() > 0.995


# Floors -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("rooms", [2, 7, 24])
def test_cells_tile_the_shell_and_rooms_lie_within(style: str, rooms: int) -> None:
    floor = make_floor(np.random.default_rng(rooms), rooms=rooms, style=style)
    assert len(floor.cells) == rooms
    cells = list(floor.cells.values())
    assert sum(c.area for c in cells) == pytest.approx(floor.shell.area, rel=1e-3)
    assert shapely.union_all(cells).area == pytest.approx(floor.shell.area, rel=1e-3)
    free = list(floor.rooms.values())
    assert shapely.union_all(free).area == pytest.approx(sum(r.area for r in free), rel=1e-9)
    for name, room in floor.rooms.items():
        assert floor.cells[name].buffer(3).contains(room)
        # The nearest wall's middle line is half a wall away: thin ones inside, thick ones outside.
        assert room.distance(floor.wall_lines) == pytest.approx(floor.inner_wall_mm / 2, abs=3) or (
            room.distance(floor.wall_lines) > floor.inner_wall_mm / 2
        )


@pytest.mark.parametrize("area_m2", [20.0, 400.0, 20000.0])
def test_floors_have_the_area_asked_for(area_m2: float) -> None:
    rooms = 2 if area_m2 < 100 else 40
    floor = make_floor(np.random.default_rng(1), rooms=rooms, area_m2=area_m2)
    assert floor.shell.area == pytest.approx(area_m2 * 1e6, rel=1e-3)
    assert 70 <= floor.inner_wall_mm <= 150
    assert 200 <= floor.outer_wall_mm <= 400


def test_every_room_can_be_reached() -> None:
    for seed in range(8):
        floor = make_floor(np.random.default_rng(seed), rooms=9)
        reached = {next(iter(floor.cells))}
        for _ in floor.cells:
            for door in floor.doors:
                if set(door.between) & reached:
                    reached |= set(door.between) - {""}
        assert reached == set(floor.cells)
        assert all(door.width_mm <= 1200 for door in floor.doors)


def test_a_symmetric_floor_is_seen_to_be_one() -> None:
    rng = np.random.default_rng(2)
    for kind in ("mirror", "turn"):
        twins = variants.symmetric_floor(rng, kind=kind, rooms=8)
        assert not lopsided(twins.floor)
        union = shapely.union_all(list(twins.floor.cells.values()))
        moved = through(union, twins.moves[0])
        assert union.symmetric_difference(moved).area < 1e-3 * union.area
    plain = Floor(
        shell=shapely.box(0, 0, 9000, 5000),
        cells={"a": shapely.box(0, 0, 4000, 5000), "b": shapely.box(4000, 0, 9000, 5000)},
        zones=(shapely.box(0, 0, 9000, 5000),),
        inner_wall_mm=100,
        bearing_wall_mm=100,
        outer_wall_mm=300,
    )
    assert not lopsided(plain)  # two boxes side by side are their own mirror image


def test_other_floors_in_the_same_shell() -> None:
    rng = np.random.default_rng(9)
    floor = make_floor(rng, rooms=9)
    for make in (variants.same_shell, variants.next_storey, variants.renovate):
        other = make(floor, rng)
        assert other.shell.equals(floor.shell)
        cells = list(other.cells.values())
        assert sum(c.area for c in cells) == pytest.approx(floor.shell.area, rel=5e-3)
        same = [n for n, c in other.cells.items() if c.equals(floor.cells.get(n, Polygon()))]
        if make is variants.renovate:
            assert len(same) >= len(floor.cells) - 2


# Outlines -----------------------------------------------------------------------------------------


def test_outlines_stand_where_the_floor_has_its_rooms() -> None:
    floor = make_floor(np.random.default_rng(6), rooms=6)
    device = synthetic.robot_outlines(floor, np.random.default_rng(1))
    assert np.linalg.det(device.floor_to_device[:, :2]) == pytest.approx(
        1
    )  # y stays up, mm stay mm
    for name, rings in device.rings.items():
        back = through(Polygon(rings[0], rings[1:]), frames.invert(device.floor_to_device))
        assert back.symmetric_difference(floor.rooms[name]).area < 1.0


def test_staircase_outlines_run_along_cells() -> None:
    floor = make_floor(np.random.default_rng(6), rooms=6)
    device = synthetic.robot_outlines(floor, np.random.default_rng(1), cell_mm=50.0)
    area = {n: Polygon(r[0], r[1:]).area for n, r in device.rings.items()}
    for name, rings in device.rings.items():
        steps = np.diff(rings[0], axis=0)
        assert (np.abs(steps).min(axis=1) < 1e-6).all()  # parallel to the axes
        assert np.allclose(steps / 50, np.round(steps / 50), atol=1e-6)
        assert area[name] == pytest.approx(floor.rooms[name].area, rel=0.03)
    corners = np.vstack([rings[0] for rings in device.rings.values()])
    apart = np.round((corners - corners[0]) / 50, 6)
    assert (apart == np.round(apart)).all()  # all rooms share one grid


def test_borders_move_by_what_was_asked() -> None:
    floor = make_floor(np.random.default_rng(8), rooms=6, style="plain")
    for name, shape in floor.at("middle", shrink_mm=40.0, outer_shrink_mm=120.0).items():
        assert shape.distance(floor.cells[name].boundary) == pytest.approx(40.0, abs=0.5) or (
            shape.distance(floor.shell.boundary) == pytest.approx(120.0, abs=0.5)
        )
        assert shape.distance(floor.shell.boundary) >= 119.5


def test_outdated_outlines_differ_as_asked() -> None:
    floor = make_floor(np.random.default_rng(12), rooms=10)

    def count(**changes: Any) -> int:
        return len(synthetic.robot_outlines(floor, np.random.default_rng(1), **changes).rings)

    assert count(joined=1) == 9
    assert count(split_up=1) == 11
    assert count(missing=2) == 8
    assert count(new=1) == 11


# Families -----------------------------------------------------------------------------------------


def test_pictures_of_other_things_are_as_the_generator_says() -> None:
    """Six kinds, of three sizes; each seed gives one that no other gives, and the same again."""
    seen = [photo(np.random.default_rng(seed)) for seed in range(40)]
    assert all(image.dtype == np.uint8 and image.ndim == 3 for image in seen)
    assert {image.shape for image in seen} == {(700, 900, 3), (900, 1200, 3), (1000, 800, 3)}
    # None is empty: each has areas or lines of several colours.
    assert min(float(image.std()) for image in seen) > 5.0
    assert len({image.tobytes() for image in seen}) == len(seen)
    assert np.array_equal(seen[7], photo(np.random.default_rng(7)))


def test_a_cell_that_came_to_cross_itself_is_mended() -> None:
    floor = synthetic.sample("dark", 100001)
    assert all(Polygon(rings[0]).is_valid for rings in floor.outlines.values())
