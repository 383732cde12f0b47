"""Walls: their normals, their own frame, and which of them are inner and outer ones."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap.engine import walls as walling
from regmap.engine.walls import Walls, build_walls
from tests.engine import scenes

Floats = NDArray[np.float64]

SQUARE = np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], dtype=np.float64)
HOLE = np.array([[1000, 1000], [1800, 1000], [1400, 1900]], dtype=np.float64)
L_SHAPE = np.array([[0, 0], [5, 0], [5, 2], [2, 2], [2, 7], [0, 7]], dtype=np.float64)


def rounded(corners: int, radius: float = 2000.0) -> Floats:
    angle = np.arange(corners) * 2.0 * np.pi / corners + 0.1
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def device_points(walls: Walls, own: Floats) -> Floats:
    return np.asarray(own @ walls.linear.T + walls.origin)


@pytest.mark.parametrize("outer_turn", [1, -1])
@pytest.mark.parametrize("hole_turn", [1, -1])
def test_normals_point_out_of_the_room(outer_turn: int, hole_turn: int) -> None:
    walls = build_walls([(SQUARE[::outer_turn], HOLE[::hole_turn]), (rounded(20) + 9000,)])
    rooms = [shapely.Polygon(SQUARE, [HOLE]), shapely.Polygon(rounded(20) + 9000)]
    middle = 0.5 * (walls.start + walls.end)
    for side, expected in ((-0.005, True), (0.005, False)):
        points = device_points(walls, middle + side * walls.normal)
        inside = [
            bool(shapely.contains_xy(rooms[room], *point))
            for room, point in zip(walls.room, points, strict=True)
        ]
        assert inside == [expected] * len(points)
    np.testing.assert_allclose(np.hypot(*walls.normal.T), 1.0, atol=1e-12)
    along = (walls.end - walls.start) / walls.length[:, None]
    np.testing.assert_allclose((along * walls.normal).sum(axis=1), 0.0, atol=1e-12)


@pytest.mark.parametrize("offset", [0.0, 1e6, 1e12])
def test_far_origins_cost_no_precision(offset: float) -> None:
    walls = build_walls([(SQUARE + offset, HOLE + offset)])
    near = build_walls([(SQUARE, HOLE)])
    # The given numbers themselves are rounded to this.
    rounding = 4.0 * np.spacing(max(offset, 1.0))
    unit = float(np.hypot(*near.linear[:, 0]))
    np.testing.assert_allclose(walls.start, near.start, rtol=0, atol=rounding / unit + 1e-14)
    np.testing.assert_allclose(walls.normal, near.normal, rtol=0, atol=rounding / 800 + 1e-14)
    corners = device_points(walls, walls.start) - offset
    expected = np.concatenate([SQUARE, HOLE])
    found = np.abs(corners[:, None] - expected[None]).max(axis=2).min(axis=1)
    assert found.max() <= rounding


def test_a_far_origin_does_not_turn_the_walls() -> None:
    """In steps of 1/4096 mm, all of which a double holds 2^40 mm (1.1 * 10^9 m) from the origin."""
    turned = np.stack([L_SHAPE @ (np.cos(a), np.sin(a)) for a in (0.4, 0.4 - np.pi / 2)], axis=1)
    near = np.rint(700.0 * turned * 4096.0) / 4096.0
    far = near + 2.0**40
    np.testing.assert_array_equal(far - 2.0**40, near)
    np.testing.assert_allclose(
        build_walls([(far,)]).linear, build_walls([(near,)]).linear, rtol=1e-12
    )


def test_the_own_frame_lies_along_the_walls() -> None:
    turn = np.deg2rad(17.0)
    turned = SQUARE @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    assert np.abs(build_walls([(turned,)]).normal).max(axis=1) == pytest.approx(1.0, abs=1e-12)
    straight = build_walls([(SQUARE,)])
    assert straight.linear[0, 1] == straight.linear[1, 0] == 0.0
    # Of unit size: the farthest corner is 1 away.
    assert np.hypot(*straight.corners.T).max() == pytest.approx(1.0)


def test_a_wall_with_a_room_behind_it_is_an_inner_one() -> None:
    other = SQUARE + np.array([4100, 0])
    walls = build_walls([(SQUARE,), (other,)])
    x = device_points(walls, 0.5 * (walls.start + walls.end))[:, 0]
    shared = (np.abs(x - 4000) < 1) | (np.abs(x - 4100) < 1)
    assert shared.sum() == 2
    assert list(walls.outer) == list(~shared)
    # The other side of a hall is no wall behind this one.
    far = build_walls([(SQUARE,), (SQUARE + np.array([8000, 0]),)])
    assert far.outer.all()


def test_a_cupboard_against_a_wall_does_not_make_it_an_outer_one() -> None:
    """The other room has its cupboard cut out right behind the middle of this one's wall."""
    niche = [(4100, 0), (8100, 0), (8100, 4000), (4100, 4000), (4100, 2600), (4900, 2600)]
    beside = np.array([*niche, (4900, 1400), (4100, 1400)], dtype=np.float64)
    walls = build_walls([(np.array([[0, 0], [4000, 0], [4000, 4000], [0, 4000.0]]),), (beside,)])
    x = device_points(walls, 0.5 * (walls.start + walls.end))[:, 0]
    wall = (np.abs(x - 4000) < 1) & (walls.room == 0)
    assert wall.sum() == 1
    assert not walls.outer[wall].any()


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 45.0])
def test_in_a_long_row_of_rooms_the_walls_between_are_inner_ones(turn_deg: float) -> None:
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    room = np.array([[0, 0], [3000, 0], [3000, 2000], [0, 2000]], dtype=np.float64)
    rings = [room + np.array([3000.0 * number, 0.0]) for number in range(20)]
    walls = build_walls([(ring @ np.array([[cos, sin], [-sin, cos]]),) for ring in rings])
    along = device_points(walls, 0.5 * (walls.start + walls.end)) @ (cos, sin)
    across = np.abs(along - 3000.0 * np.rint(along / 3000.0)) < 1.0
    between = across & (along > 1.0) & (along < 59_999.0)
    np.testing.assert_array_equal(walls.outer, ~between)


def test_gently_turning_pieces_are_one_wall() -> None:
    walls = build_walls([(rounded(40),), (SQUARE + 9000,)])
    angle = np.arctan2(walls.normal[:, 1], walls.normal[:, 0])
    for number in np.unique(walls.bend):
        own = angle[walls.bend == number]
        turned = np.abs(np.angle(np.exp(1j * (own - own[0]))))
        assert np.rad2deg(turned.max()) <= 45.0 + 1e-6
    of_round = walls.room == 0
    assert 7 <= len(np.unique(walls.bend[of_round])) <= 9
    assert len(np.unique(walls.bend[~of_round])) == 4
    assert not set(walls.bend[of_round]) & set(walls.bend[~of_round])
    # Rooms do not share numbers, however many there are.
    many = build_walls([(SQUARE + 5000 * i,) for i in range(5)])
    assert len(np.unique(many.bend)) == 4 * 5


def test_signed_area_against_shapely() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        ring = rounded(9) * rng.uniform(0.4, 1.0, (9, 1))
        ring = ring[:: int(rng.choice([-1, 1]))] + rng.uniform(-1e5, 1e5, 2)
        shape = shapely.Polygon(ring)
        area = walling.signed_area(ring)
        assert abs(area) == pytest.approx(shape.area, rel=1e-12)
        assert (area > 0) == shapely.is_ccw(shape.exterior)


@pytest.mark.parametrize("tolerance", [15.0, 40.0])
def test_simplifying_stays_within_the_tolerance(tolerance: float) -> None:
    ring = rounded(60)
    walls = build_walls([(ring,)], tolerance)
    left = shapely.Polygon(device_points(walls, walls.rings[0][0]))
    assert len(walls.start) < 40
    away = shapely.hausdorff_distance(
        shapely.Polygon(ring).exterior.segmentize(20), left.exterior.segmentize(20)
    )
    assert away <= tolerance * 1.01


@pytest.mark.parametrize("count", [1, 50, 1000])
def test_samples_are_spread_evenly(count: int) -> None:
    walls = build_walls(list(scenes.FLOOR.values()))
    samples = walling.sample_walls(walls, count)
    lines = shapely.linestrings(np.stack([walls.start, walls.end], axis=1)[samples.wall])
    assert shapely.distance(lines, shapely.points(samples.point)).max() < 1e-12
    assert len(samples.point) == pytest.approx(count, abs=len(walls.start))
    if count >= 50:
        of_wall = np.bincount(samples.wall, samples.weight, minlength=len(walls.length))
        np.testing.assert_allclose(of_wall, walls.length)
        # As many to either side: the middle of a wall's samples is its own.
        for axis in (0, 1):
            middle = np.bincount(samples.wall, samples.weight * samples.point[:, axis])
            expected = 0.5 * (walls.start + walls.end)[:, axis]
            np.testing.assert_allclose(middle / of_wall, expected, atol=1e-12)
    if count == 1000:
        assert samples.weight.max() / samples.weight.min() < 1.2


# --- stairs of cells -----------------------------------------------------------------------------


def test_all_rings_lie_one_after_another() -> None:
    """A room with a hole, and one without: boxes and areas against shapely, rings as they were."""
    outer = np.array([[0, 0], [5000, 0], [5000, 4000], [0, 4000]], dtype=np.float64)
    hole = np.array([[1000, 1000], [2000, 1000], [1500, 2500]], dtype=np.float64)
    other = np.array([[5100, 0], [8000, 200], [7000, 3900], [6000, 4500], [5100, 3000]])
    walls = build_walls([(outer, hole), (other.astype(np.float64),)])
    assert [len(bounds) for bounds in walls.ring_bounds] == [2, 1]
    for rings, bounds in zip(walls.rings, walls.ring_bounds, strict=True):
        for ring, (start, end) in zip(rings, bounds, strict=True):
            np.testing.assert_array_equal(walls.ring_corners[start:end], ring)
    shapes = [shapely.Polygon(rings[0]) for rings in walls.rings]
    np.testing.assert_allclose(walls.boxes, shapely.bounds(shapes))
    np.testing.assert_allclose(walls.areas, shapely.area(shapes))


def turned(ring: Floats, turn_deg: float) -> Floats:
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    return np.asarray(ring @ np.array([[cos, sin], [-sin, cos]]))


@pytest.mark.parametrize(("gap", "inner"), [(365.0, True), (600.0, False)])
def test_a_bearing_wall_is_one_and_a_light_well_is_none(gap: float, inner: bool) -> None:
    """Bricks of DIN 105 make walls of 115, 175, 240, 300 and 365 mm (DIN 4172), on a floor of
    14 m from corner to corner."""
    room = np.array([[0, 0], [5800, 0], [5800, 6500], [0, 6500]], dtype=np.float64)
    walls = build_walls([(room,), (room + np.array([5800 + gap, 0]),)])
    x = device_points(walls, 0.5 * (walls.start + walls.end))[:, 0]
    facing = (np.abs(x - 5800) < 1) | (np.abs(x - 5800 - gap) < 1)
    assert facing.sum() == 2
    assert list(walls.outer) == list(~facing | (not inner))


@pytest.mark.parametrize(("share", "inner"), [(0.3, False), (0.7, True)])
def test_most_of_a_wall_decides_whether_a_room_lies_behind_it(share: float, inner: bool) -> None:
    room = np.array([[0, 0], [4000, 0], [4000, 4000], [0, 4000]], dtype=np.float64)
    beside = room * (1.0, share) + np.array([4100, 0])
    for flip in (1.0, -1.0):  # whichever end it is
        walls = build_walls([(room * (1.0, flip),), (beside * (1.0, flip),)])
        x = device_points(walls, 0.5 * (walls.start + walls.end))[:, 0]
        wall = (np.abs(x - 4000) < 1) & (walls.room == 0)
        assert wall.sum() == 1
        assert walls.outer[wall].tolist() == [not inner]


def test_corners_of_a_third_of_a_right_angle_and_more_begin_walls() -> None:
    """A regular polygon turns by 360 degrees over its corners: of 14 it has as many walls, of 15
    some are one, and of 120 there are eight, an eighth of a circle each."""
    for corners, walls in ((8, 8), (12, 12), (14, 14), (15, 8), (20, 7), (120, 8)):
        ring = turned(rounded(corners), 3.0)
        assert len(np.unique(walling._bends(ring))) == walls
    # Either way round, and wherever the turn passes half a circle.
    for turn_deg in np.arange(0.0, 360.0, 30.0):
        for ring in (turned(rounded(12), turn_deg), turned(rounded(12), turn_deg)[::-1]):
            assert len(np.unique(walling._bends(ring))) == 12


def test_of_very_many_corners_those_stay_that_a_picture_could_show(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nothing moves by more than a pixel where the floor's half diagonal is 2,000 px long."""
    assert walling._MANY_CORNERS == 20_000  # as said to the user
    monkeypatch.setattr(walling, "_MANY_CORNERS", 2000)
    rng = np.random.default_rng(4)
    angle = np.linspace(0.0, 2.0 * np.pi, 600, endpoint=False)
    rings = []
    for number in range(6):
        radius = 2000.0 + rng.normal(0.0, 2.0, 600)
        ring = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        rings.append(ring + np.array([4500.0 * (number % 3), 4500.0 * (number // 3)]))
    walls = build_walls([(ring,) for ring in rings])
    assert 500 < sum(len(r) for rs in walls.rings for r in rs) <= 2000
    unit = float(np.hypot(*walls.linear[:, 0]))
    for ring, (left,) in zip(rings, walls.rings, strict=True):
        line = shapely.LinearRing(device_points(walls, left))
        assert shapely.distance(line, shapely.points(ring)).max() < unit / 2000.0
    # Of so many and fewer every one stays.
    few = build_walls([(ring,) for ring in rings[:3]])
    assert sum(len(r) for rs in few.rings for r in rs) == 1800


def test_the_main_directions_are_those_of_most_of_the_walls_length() -> None:
    """No other turn has a larger sum of length times cos 4 (direction - turn)."""
    rng = np.random.default_rng(10)
    for _ in range(20):
        ring = turned(np.array([[0, 0], [9, 0], [11, 2], [2, 2.5]]), rng.uniform(-40.0, 40.0))
        ring = ring + rng.normal(0.0, 0.3, ring.shape)
        along = np.roll(ring, -1, axis=0) - ring
        length, angle = np.hypot(*along.T), np.arctan2(along[:, 1], along[:, 0])
        found = walling._main_turn([ring[:]])
        turn = np.arctan2(found[1, 0], found[0, 0])
        np.testing.assert_allclose(found.T @ found, np.eye(2), atol=1e-12)
        assert abs(turn) <= np.pi / 4
        every = np.linspace(-np.pi / 4, np.pi / 4, 2001)
        score = (length * np.cos(4.0 * (angle - every[:, None]))).sum(axis=1)
        assert (length * np.cos(4.0 * (angle - turn))).sum() >= score.max() - 1e-9
