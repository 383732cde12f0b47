"""Which lines are the walls' borders: from wherever refinement begins, all walls at once."""

from __future__ import annotations

import tracemalloc
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
import scipy.stats
import shapely
from numpy.typing import NDArray

from regmap import frames
from regmap.engine import faces
from regmap.engine.measure import View, make_probe, paint_rooms
from regmap.engine.walls import build_walls
from tests.engine import boxes, scenes

Floats = NDArray[np.float64]
SIZE = (420, 310)


@pytest.mark.parametrize("grow_px", [-4.0, -2.0, 0.0, 2.0, 4.0])
@pytest.mark.parametrize("start_px", [-2.0, 0.0, 2.0])
def test_the_faces_that_end_the_rooms_are_found(start_px: float, grow_px: float) -> None:
    """Rooms between dark walls, outlines at the inner faces. Wherever the search begins, near the
    other faces too, and however wrong the scale is, it ends on the faces that end the rooms."""
    scene = scenes.scene(size=SIZE, turn_deg=27.0, line_mm=160.0)
    inner = [scenes.inset(ring[0], 80.0) for ring in scene.rings.values()]
    walls = build_walls([(face,) for face in inner])
    pose = scene.pose(walls)
    assert 160.0 * frames.scale_of(scene.to_image) > 4.5
    probe = make_probe(walls, scenes.inside(walls), samples=700, chunk=6)
    begin = scenes.moved(pose, SIZE, grow=grow_px / 150.0)
    level = (1.0, scene.image)
    paint = paint_rooms(level, begin, probe)
    found = faces.settle(level, begin, np.full(2, start_px), probe, paint, affine=False)
    assert np.abs(found.offset).max() < 0.35
    assert scenes.gap_px(walls, found.pose, pose) < 0.35
    assert found.elsewhere < 0.05


@pytest.mark.parametrize("left_out", [None, "bath"])
@pytest.mark.parametrize(
    ("thick", "start_px"),
    [(200.0, (0, 0)), (200.0, (0, -3)), (200.0, (-2, 2)), (300.0, (0, 0)), (300.0, (0, -3))],
)
def test_an_outer_wall_that_stands_as_inner_ones_do_is_one(
    thick: float, start_px: tuple[float, float], left_out: str | None
) -> None:
    """Outlines 60 mm within all walls, but the picture's outer ones are thicker, inwards. Where
    the outlines lack a room, the study's wall towards it is no outer one; from wherever inner and
    outer walls were taken to stand before."""
    rooms = {name: shapely.Polygon(*rings) for name, rings in scenes.FLOOR.items()}
    house = shapely.union_all(list(rooms.values()))
    within = house.buffer(-thick, join_style="mitre", mitre_limit=10.0)
    drawn = {
        name: (shapely.get_coordinates(face.intersection(within))[:-1],)
        for name, room in rooms.items()
        for face in [room.buffer(-60.0, join_style="mitre", mitre_limit=10.0)]
    }
    to_image = scenes.place(scenes.FLOOR, SIZE, turn_deg=27.0)
    level = (1.0, scenes.paint(drawn, to_image, SIZE, ground=(60, 60, 70)))
    names = [name for name in rooms if name != left_out]
    walls = build_walls([(scenes.inset(scenes.FLOOR[name][0], 60.0),) for name in names])
    pose = frames.compose(to_image, np.column_stack([walls.linear, walls.origin]))
    probe = make_probe(walls, scenes.inside(walls), samples=700, chunk=6)
    paint = paint_rooms(level, pose, probe)
    settled = faces.settle(level, pose, np.array(start_px), probe, paint, affine=False)
    assert scenes.gap_px(walls, settled.pose, pose) < 0.35
    deeper = (thick - 60.0) * frames.scale_of(to_image)
    np.testing.assert_allclose(settled.offset, [0.0, -deeper], atol=0.35)
    assert not (settled.probe.walls.outer & ~walls.outer).any()
    changed = np.flatnonzero(walls.outer & ~settled.probe.walls.outer)
    assert [names[room] for room in walls.room[changed]] == ["study"] * bool(left_out)
    middle = 0.5 * (walls.start + walls.end)[changed] @ walls.linear.T + walls.origin
    np.testing.assert_allclose(middle, np.tile([3500.0, 3540.0], (len(changed), 1)), atol=1e-6)


@pytest.mark.parametrize("wide", [0.1, 0.8])
def test_a_border_scatters_normally_about_its_line_or_is_another(wide: float) -> None:
    """scipy's normal density for a line that is a border for certain; where there is no line, or
    all are far off, a border may stand anywhere in 18 px. Of several the likeliest counts."""
    lines = faces.Lines(
        np.zeros((3, 2)), np.array([[1.0, 1.0], [0.0, 0.0], [0.6, 0.3]], dtype=np.float64)
    )
    gap = np.array([[[0.3, 0.1, 30.0]], [[-0.7, 0.1, 30.0]]])
    found = np.exp(faces._likelihood(lines, gap, wide)[0])
    certain = scipy.stats.norm.pdf(0.3, scale=wide) + 0.1 / 18.0
    np.testing.assert_allclose(found, [certain, 1.0 / 18.0, (1.0 - 0.9 * 0.6) / 18.0])


def test_starts_are_weighed_however_far_they_take_walls() -> None:
    """A star has normals along its border: growth by a pixel outward takes it thousands of pixels
    aside. As evaluated place by place; the table has no more places for that."""
    rng = np.random.default_rng(4)
    lines = faces.Lines(rng.uniform(-9.0, 9.0, (50, 4)), rng.uniform(0.0, 1.0, (50, 4)))
    share, ways = rng.uniform(0.1, 1.0, 50), np.array([-1.5, 0.0, 1.5])
    near = np.round(rng.uniform(-12.0, 12.0, (30, 50)) / faces._STEP) * faces._STEP
    far = near * np.where(rng.uniform(size=near.shape) < 0.3, 4000.0, 1.0)
    for moved in (near, far, far - 40_000.0, far + 40_000.0):
        tracemalloc.start()
        found = faces._weighed(lines, share, moved, ways)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        gaps = [lines.place.T[:, None] - (moved + way) for way in ways]
        expected = [faces._likelihood(lines, gap, faces._GRID_SCATTER) @ share for gap in gaps]
        np.testing.assert_allclose(found, expected, rtol=1e-9)
        assert peak < 2e6


def test_of_very_many_chunks_some_are_enough() -> None:
    """120 rooms whose outlines lie 0.8 px inside their borders, in more chunks than are asked."""
    corner = np.array([[0, 0], [20, 0], [20, 12], [0, 12]], float)
    shifts = [np.array([20.0 + i % 12 * 26, 20.0 + i // 12 * 18]) for i in range(120)]
    image = np.full((220, 340, 3), 250, np.uint8)
    for number, shift in enumerate(shifts):
        (left, top), (right, bottom) = (shift + c for c in corner[[0, 2]].astype(int))
        image[int(top) : int(bottom), int(left) : int(right)] = (90 + number, 160, 200 - number)
    inward = 0.8 * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    walls = build_walls([(corner + shift + inward,) for shift in shifts])
    pose = np.column_stack([walls.linear, walls.origin])
    probe = make_probe(walls, scenes.inside(walls), samples=6000, chunk=2)
    assert len(probe.chunks.first) > faces._CHUNKS
    start = pose + np.array([[0, 0, 1.5], [0, 0, -1.0]])
    level = (1.0, image)
    paint = paint_rooms(level, start, probe)
    found = faces.settle(level, start, np.zeros(2), probe, paint, affine=False)
    assert scenes.gap_px(walls, found.pose, pose) < 0.35
    assert found.offset[1] == pytest.approx(0.8, abs=0.35)


def test_walls_too_short_for_a_sample_keep_their_kind() -> None:
    """The last corner of the ring is cut off by a hair: those walls get no sample."""
    box = (20.0, 15.0, 80.0, 65.0)
    ring = np.array([(20.01, 15), (80, 15), (80, 65), (20, 65), (20, 15.01), (20.01, 15.01)])
    walls = build_walls([(ring,)])
    pose = np.column_stack([walls.linear, walls.origin])
    probe = make_probe(walls, boxes.inner_points(walls), samples=100, chunk=6)
    assert probe.chunks.wall.max() < walls.bend.max()
    level = (1.0, boxes.blurred(box, (100, 80), blur=0.7))
    paint = paint_rooms(level, pose, probe)
    settled = faces.settle(level, pose, np.zeros(2), probe, paint, affine=False)
    np.testing.assert_array_equal(settled.probe.walls.outer, walls.outer)
    assert np.isfinite(settled.pose).all()


def test_lines_are_listed_with_their_place_and_value_and_none_out_of_sight() -> None:
    """Two parabolic peaks at -1.2 and 2.3 steps of one px, the second of less value."""
    steps = np.arange(-6.0, 7.0)
    strength = np.maximum(
        np.maximum(9.0 - 2.0 * (steps + 1.2) ** 2, 6.0 - 2.0 * (steps - 2.3) ** 2), 0.0
    )
    value = np.where(steps < 0.5, 0.9, 0.4)
    rows = {"strength": strength, "value": value, "lasting": np.ones_like(steps)}
    view = SimpleNamespace(steps=steps, **{k: np.stack([v, v]) for k, v in rows.items()})
    lines = faces.list_lines(cast(View, view), np.array([True, False]))
    np.testing.assert_allclose(lines.place[0, :2], [-1.2, 2.3], atol=1e-9)
    np.testing.assert_allclose(lines.value[0, :3], [0.9, 0.4, 0.0])
    assert not lines.value[1].any()


def test_ends_that_lie_apart_and_are_as_likely_are_a_doubt() -> None:
    corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    ends = np.stack(
        [np.array([[50.0, 0.0, x], [0.0, 50.0, 0.0]]) for x in (0.0, 0.5, 4.0, 4.3, 1.5)]
    )
    alike = np.zeros(5)
    # Ends at one place count once, and those within two pixels are the same answer.
    assert faces.chance_elsewhere(ends, alike, 0, corners) == pytest.approx(0.5)
    # Nats count half as much again, for the two faces of a wall.
    nats = np.log(9.0) / 1.5
    behind = np.array([0.0, 0.0, -nats, -nats, 0.0])
    assert faces.chance_elsewhere(ends, behind, 0, corners) == pytest.approx(0.1)
    assert faces.chance_elsewhere(ends[:2], alike[:2], 0, corners) == 0.0
