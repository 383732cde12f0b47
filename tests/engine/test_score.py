"""The coarse score: the truth wins, and what is farther off gets less."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap import frames
from regmap.engine import score as scoring
from regmap.engine.edges import Edges, Nearest, find_edges, normal_channel
from regmap.engine.rasterise import rasterise
from regmap.engine.score import Scores
from regmap.engine.walls import Samples, Walls, build_walls, sample_walls
from tests.engine import scenes

Floats = NDArray[np.float64]

SIZE = (300, 220)


@lru_cache
def stage(turn_deg: float = 27.0) -> tuple[Walls, Samples, scoring.Field, Floats]:
    """Walls, samples along them, what they are scored against, and the true pose."""
    scene = scenes.scene(turn_deg=turn_deg, size=SIZE)
    walls = scene.walls
    field = scoring.make_field(
        find_edges(scene.image, 1.0), rasterise(walls), reach=3.0, picked=300
    )
    return walls, sample_walls(walls, 400), field, scene.pose(walls)


def scored(poses: list[Floats]) -> Scores:
    _, samples, field, _ = stage()
    return scoring.score_poses(np.stack(poses), samples, field)


STEPS = {
    "shift_x": (0.0, 2.0, 4.0, 7.0, 11.0, 17.0),
    "shift_y": (0.0, -2.0, -4.0, -7.0, -11.0, -17.0),
    "turn_deg": (0.0, 1.0, 2.0, 4.0, 7.0, 11.0),
    "grow": (0.0, 0.02, 0.04, 0.07, 0.11, 0.17),
    "stretch": (0.0, -0.02, -0.04, -0.07, -0.11),
    "shear": (0.0, 0.02, 0.04, 0.07, 0.11),
}


@pytest.mark.parametrize("kind", list(STEPS))
def test_the_score_falls_as_the_truth_is_left(kind: str) -> None:
    truth = stage()[3]
    scores = scored([scenes.moved(truth, SIZE, **{kind: step}) for step in STEPS[kind]])
    assert scores.forward[0] > 0.75
    assert scores.backward[0] > 0.9
    assert scores.captured[0] > 0.9
    assert scores.shown[0] == pytest.approx(1.0)
    falls = np.diff(scores.total)
    # A step of the first few may be as good as the next where both are on no edge at all.
    assert (falls < 0.02).all()
    assert (falls[:2] < 0.0).all()
    assert scores.total[-1] < 0.35 * scores.total[0]


def test_all_parts_are_shares() -> None:
    rng = np.random.default_rng(6)
    truth = stage()[3]
    poses = [
        scenes.moved(
            truth,
            SIZE,
            shift_x=float(rng.normal(0, 60)),
            shift_y=float(rng.normal(0, 60)),
            turn_deg=float(rng.uniform(-180, 180)),
            grow=float(rng.uniform(-0.7, 1.5)),
        )
        for _ in range(60)
    ]
    scores = scored([truth, *poses])
    for part in (scores.forward, scores.backward, scores.captured, scores.shown, scores.total):
        assert part.min() >= 0.0
        assert part.max() <= 1.0 + 1e-6
    assert scores.total[0] > 1.5 * scores.total[1:].max()


def test_small_fits_and_fits_out_of_the_picture_do_not_win() -> None:
    truth = stage()[3]
    tiny = scenes.moved(truth, SIZE, grow=-0.9)
    away = scenes.moved(truth, SIZE, shift_x=150.0)
    gone = scenes.moved(truth, SIZE, shift_x=1e6)
    huge = scenes.moved(truth, SIZE, grow=1e6)
    scores = scored([truth, tiny, away, gone, huge])
    assert (scores.total[1:] < 0.1 * scores.total[0]).all()
    assert np.isfinite(scores.total).all()
    assert scores.shown[3] == 0.0


def test_the_share_shown_against_shapely() -> None:
    walls, _, _, truth = stage()
    inside = shapely.box(1, 1, SIZE[0] - 1, SIZE[1] - 1)
    poses = [scenes.moved(truth, SIZE, shift_x=x, shift_y=0.4 * x) for x in (30, 80, 130, -90)]
    found = scored(poses).shown
    for pose, share in zip(poses, found, strict=True):
        # One by one: shapely would count a wall that two rooms share but once.
        lines = [
            shapely.LineString(frames.apply(pose, np.stack(ends)))
            for ends in zip(walls.start, walls.end, strict=True)
        ]
        expected = sum(line.intersection(inside).length for line in lines)
        assert share == pytest.approx(expected / sum(line.length for line in lines), abs=0.02)


def test_one_heading_is_only_quicker() -> None:
    _, samples, field, truth = stage()
    poses = np.stack([scenes.moved(truth, SIZE, shift_x=x, grow=x / 100) for x in (0.0, 3.0, 9.0)])
    plain = scoring.score_poses(poses, samples, field)
    quick = scoring.score_poses(poses, samples, field, one_heading=True)
    for name in ("forward", "backward", "captured", "shown"):
        np.testing.assert_allclose(getattr(quick, name), getattr(plain, name), atol=1e-6)


def test_wall_offsets_lay_the_outlines_back_on_the_borders() -> None:
    scene = scenes.scene(turn_deg=27.0, size=SIZE)
    _, _, field, truth = stage()
    scale = frames.scale_of(scene.to_image)
    inner = [
        shapely.get_coordinates(
            shapely.Polygon(rings[0]).buffer(-5.0 / scale, join_style="mitre").exterior
        )[:-1]
        for rings in scene.rings.values()
    ]
    walls = build_walls([(ring,) for ring in inner])
    samples = sample_walls(walls, 400)
    pose = scene.pose(walls)[None]
    without = scoring.score_poses(pose, samples, field).forward[0]
    offset = np.full((1, len(samples.point)), 5.0)
    outward = scoring.score_poses(pose, samples, field, offset=offset).forward[0]
    inward = scoring.score_poses(pose, samples, field, offset=-offset).forward[0]
    full = scoring.score_poses(truth[None], stage()[1], field).forward[0]
    assert outward > 0.9 * full
    assert without < 0.5 * full
    assert inward < 0.5 * full


def test_borders_in_thick_walls_are_explained_though_they_lie_outside_of_the_rooms() -> None:
    scene = scenes.scene(turn_deg=3.0, size=SIZE)
    field = stage(3.0)[2]
    scale = frames.scale_of(scene.to_image)
    inner = [
        shapely.get_coordinates(
            shapely.Polygon(rings[0]).buffer(-8.0 / scale, join_style="mitre").exterior
        )[:-1]
        for rings in scene.rings.values()
    ]
    walls = build_walls([(ring,) for ring in inner])
    samples = sample_walls(walls, 400)
    own = scoring.make_field(field.edges, rasterise(walls), reach=3.0, picked=300)
    offset = np.full((1, len(samples.point)), 8.0)
    scores = scoring.score_poses(scene.pose(walls)[None], samples, own, offset=offset)
    assert scores.backward[0] > 0.9
    assert scores.captured[0] > 0.9


def by_hand(points: list[tuple[float, float, float, float]]) -> Edges:
    """Edges of a picture of 100 x 80 px: (column, row, degrees of the normal, weight)."""
    table = np.array(points, dtype=np.float64)
    shape = (80, 100)
    return Edges(
        factor=1.0,
        image=np.zeros((*shape, 3), dtype=np.uint8),
        point=table[:, :2],
        angle=np.deg2rad(table[:, 2]),
        weight=table[:, 3],
        border=np.ones(len(table)),
        near=Nearest(shape, table[:, :2], np.deg2rad(table[:, 2])),
        gradient=np.zeros(shape, dtype=np.float32),
        calm_gradient=np.zeros(shape, dtype=np.float32),
    )


SQUARE = np.array([[20, 20], [80, 20], [80, 60], [20, 60]], dtype=np.float64)


def test_what_is_explained_is_counted_exactly() -> None:
    """One room of 60 x 40 px, and edges whose part is known by hand."""
    walls = build_walls([(SQUARE,)])
    pose = np.column_stack([walls.linear, walls.origin])
    edges = by_hand(
        [
            (20.5, 40.5, 0, 1.0),  # on the left wall, and as it runs
            (80.5, 30.5, 0, 2.0),  # on the right one
            (50.5, 19.5, 90, 3.0),  # on the upper one, a px off
            (50.5, 60.5, 0, 4.0),  # on the lower one, but across it: inside, not explained
            (50.5, 40.5, 0, 5.0),  # in the middle of the room: inside, not explained
            (5.5, 5.5, 0, 6.0),  # elsewhere in the picture
            (90.5, 70.5, 90, 7.0),  # elsewhere
        ]
    )
    backward, captured = scoring.explained(pose, np.zeros(2), walls, edges, reach=2.5)
    assert backward == pytest.approx((1 + 2 + 3) / (1 + 2 + 3 + 4 + 5))
    assert captured == pytest.approx((1 + 2 + 3) / 28)


def test_walls_are_asked_where_the_borders_are() -> None:
    """With an offset of 8 px outward the walls stand 8 px further out, on every side."""
    walls = build_walls([(SQUARE,)])
    pose = np.column_stack([walls.linear, walls.origin])
    edges = by_hand([(12.5, 40.5, 0, 1.0), (88.5, 30.5, 0, 1.0), (50.5, 68.5, 90, 1.0)])
    offset = np.array([0.0, 8.0])  # all walls are outer ones
    assert scoring.explained(pose, offset, walls, edges, reach=2.5) == (1.0, 1.0)
    assert scoring.explained(pose, np.zeros(2), walls, edges, reach=2.5) == (0.0, 0.0)
    mirrored = frames.compose(np.array([[-1.0, 0, 100], [0, 1, 0]]), pose)
    edges = by_hand([(87.5, 40.5, 0, 1.0), (11.5, 30.5, 0, 1.0), (49.5, 68.5, 90, 1.0)])
    assert scoring.explained(mirrored, offset, walls, edges, reach=2.5) == (1.0, 1.0)


def test_inner_walls_have_an_offset_of_their_own() -> None:
    """Two rooms 2 px apart, whose wall stands in the middle between them; the others stand 8 px
    outside the outlines."""
    walls = build_walls([(SQUARE - (15.0, 0.0),), (SQUARE * (0.4, 1.0) + (59.0, 0.0),)])
    pose = np.column_stack([walls.linear, walls.origin])
    assert walls.outer.sum() == 6
    edges = by_hand([(66.0, 40.5, 0, 2.0), (35.5, 11.5, 90, 1.0), (79.5, 68.5, 90, 1.0)])
    offset = np.array([1.0, 8.0])
    assert scoring.explained(pose, offset, walls, edges, reach=2.0) == (1.0, 1.0)
    assert scoring.explained(pose, offset[::-1], walls, edges, reach=2.0) == (0.0, 0.0)


def test_along_an_edge_no_place_is_off_although_cells_know_but_one_of_its_points() -> None:
    """Walls upon their edges are as close as can be, wherever in their cells the points lie."""
    walls = build_walls([(SQUARE,)])
    pose = np.column_stack([walls.linear, walls.origin])
    down, across = np.arange(20.3, 60.0, 0.9), np.arange(20.3, 80.0, 0.9)
    edges = by_hand(
        [(x, float(y), 0.0, 1.0) for x in (20.0, 80.0) for y in down]
        + [(float(x), y, 90.0, 1.0) for y in (20.0, 60.0) for x in across]
    )
    assert edges.near.cell >= 1.0
    field = scoring.make_field(edges, rasterise(walls), reach=3.0, picked=100)
    samples = sample_walls(walls, 200)
    offset = np.zeros((1, len(samples.point)))
    found = scoring.score_poses(pose[None], samples, field, offset=offset).forward[0]
    x, y = (samples.point @ pose[:, :2].T + pose[:, 2]).astype(np.float32).T
    right, down = (samples.along @ pose[:, :2].T).T
    chance = field.chance.at(normal_channel(-down[None], right[None]), x[None], y[None])[0]
    # Of what is beyond chance, less a tenth that is allowed for.
    most = np.average((1.0 - chance) / (1.1 - chance), weights=samples.weight)
    assert found == pytest.approx(most, abs=0.01)


def test_a_pose_far_out_of_the_picture_explains_nothing() -> None:
    walls, _, field, truth = stage()
    for change in ({"shift_x": 1e7}, {"grow": 1e7}):
        pose = scenes.moved(truth, SIZE, **change)
        _, captured = scoring.explained(pose, np.zeros(2), walls, field.edges, reach=2.5)
        assert captured < 0.2


def test_a_floor_laid_as_small_as_a_speck_explains_nothing() -> None:
    truth = stage()[3]
    specks = []
    for place in ([60.0, 60.0], [320.0, 240.0]):
        speck = truth * 0.02
        speck[:, 2] = place
        specks.append(speck)
    scores = scored([truth, *specks])
    assert (scores.captured[1:] < 0.1 * scores.captured[0]).all()
    assert (scores.total[1:] < 0.1 * scores.total[0]).all()


def test_distinct_poses_keep_the_best_of_each_place() -> None:
    walls, _, _, truth = stage()
    shifts = (0.0, 1.0, 30.0, 31.5, 33.9, 60.0)
    poses = np.stack([scenes.moved(truth, SIZE, shift_x=x) for x in shifts])
    order = np.array([3, 2, 4, 0, 1, 5])
    kept = scoring.distinct_poses(poses, order, walls.corners, 2.0, 10)
    # 30.0 lies 1.5 px from 31.5, and 1.0 lies 1.0 px from 0.0.
    assert kept == [3, 4, 0, 5]
    assert scoring.distinct_poses(poses, order, walls.corners, 2.0, 2)[0] == 3
    assert len(scoring.distinct_poses(poses, order, walls.corners, 2.0, 2)) == 2


def test_what_is_drawn_in_the_rooms_speaks_against_a_pose_and_the_rest_does_not() -> None:
    """Backward is the share of the edges within the rooms that walls explain."""
    scene = scenes.scene(turn_deg=27.0, size=SIZE)
    walls, pose = scene.walls, scene.pose(scene.walls)
    rooms = np.zeros(scene.image.shape[:2], np.uint8)
    for rings in walls.rings:
        corners = rings[0] @ pose[:, :2].T + pose[:, 2]
        cv2.fillPoly(rooms, [np.rint(corners).astype(np.int32)], 1)
    kernel = np.ones((25, 25), np.uint8)
    well_inside, well_outside = cv2.erode(rooms, kernel), 1 - cv2.dilate(rooms, kernel)

    def backward(where: NDArray[Any]) -> float:
        image = scene.image.copy()
        rng = np.random.default_rng(2)
        for row, column in rng.permutation(np.argwhere(where))[:40].tolist():
            cv2.rectangle(image, (column - 2, row - 2), (column + 2, row + 2), (0, 0, 0), -1)
        field = scoring.make_field(find_edges(image, 1.0), rasterise(walls), reach=3.0, picked=300)
        samples = sample_walls(walls, 400)
        return float(scoring.score_poses(pose[None], samples, field).backward[0])

    clean = backward(np.zeros_like(rooms))
    assert clean > 0.9
    # Of 300 edges each is 0.3 %, and which are asked depends on all that there are.
    assert backward(well_outside) > clean - 0.015
    assert backward(well_inside) < clean - 0.02


def test_a_picture_without_edges_scores_nothing() -> None:
    walls, samples, _, pose = stage()
    blank = find_edges(np.full((220, 300, 3), 255, np.uint8), 1.0)
    field = scoring.make_field(blank, rasterise(walls), reach=3.0, picked=300)
    scores = scoring.score_poses(pose[None], samples, field)
    assert scores.forward[0] < 0.01
    assert scores.backward[0] == 0.0
    assert scores.captured[0] == 0.0


def test_rooms_seen_clearly_count_for_more_than_a_little_of_all() -> None:
    """Of equal mean: two rooms of eight seen whole, and a quarter of each by chance."""
    part = np.array([1.0, 1.0, 0, 0, 0, 0, 0, 0])
    chance = np.full(8, 0.25)
    whole, little = scoring.clear_rooms(np.stack([part, chance]), np.ones(8))
    assert little == pytest.approx(0.25)
    assert whole == pytest.approx(np.cbrt(2.0 / 8.0))


def test_one_room_alone_does_not_stand_out() -> None:
    alone = np.array([1.0, 0.1, 0.1, 0.1])
    assert float(scoring.clear_rooms(alone, np.ones(4))) == pytest.approx(0.1)
    assert float(scoring.clear_rooms(np.array([0.7]), np.ones(1))) == pytest.approx(0.7)
