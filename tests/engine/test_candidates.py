"""The search put together: few poses, and the true one among them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap import frames
from regmap.engine import candidates, contours, starts
from regmap.engine.edges import find_edges
from regmap.engine.rasterise import rasterise
from regmap.engine.segment import RegionMaps
from regmap.engine.starts import Scene
from regmap.engine.walls import Walls, build_walls, sample_walls
from tests.engine import scenes

Floats = NDArray[np.float64]

SIZE = (300, 220)


@lru_cache
def stage(
    *,
    turn_deg: float = 27.0,
    mirrored: bool = False,
    stretch: float = 1.0,
    one_colour: bool = False,
    flips: tuple[float, ...] = (-1.0, 1.0),
) -> tuple[Scene, Floats]:
    """What poses are held against, and the true one."""
    drawn = scenes.scene(
        size=SIZE,
        turn_deg=turn_deg,
        mirrored=mirrored,
        stretch=stretch,
        one_colour=one_colour,
        line_mm=60.0 if one_colour else 0.0,
    )
    walls = drawn.walls
    edges = find_edges(drawn.image, 1.0)
    affine = stretch != 1.0
    scene = Scene(edges, RegionMaps(edges), walls, rasterise(walls), affine, flips)
    return scene, drawn.pose(walls)


@pytest.mark.parametrize(
    "options",
    [
        {},
        {"turn_deg": 0.0},
        {"turn_deg": 200.0, "mirrored": True},
        {"one_colour": True},
        {"stretch": 1.25},
        {"stretch": 0.8, "mirrored": True, "turn_deg": 0.0},
    ],
)
def test_the_truth_comes_first(options: dict[str, float]) -> None:
    scene, truth = stage(**options)
    poses, offset, _ = candidates.find_candidates(scene, 8)
    assert 1 <= len(poses) <= 8
    assert offset.shape == (len(poses), 2)
    # Poses nearer to each other are one to the search.
    assert scenes.gap_px(scene.walls, poses[0], truth) < 2.0
    for number in range(1, len(poses)):
        others = candidates.pose_gaps(scene.walls, np.concatenate([poses[number:], poses[:number]]))
        assert others[1:].min() >= 2.0


@pytest.mark.parametrize("flip", [-1.0, 1.0])
def test_flips_that_are_not_admitted_do_not_come(flip: float) -> None:
    scene, truth = stage(flips=(flip,))
    poses, _, _ = candidates.find_candidates(scene, 8)
    assert (np.sign(np.linalg.det(poses[:, :, :2])) == flip).all()
    near = scenes.gap_px(scene.walls, poses[0], truth) < 1.5
    assert near == (flip == np.sign(np.linalg.det(truth[:, :2])))


def test_what_is_known_beforehand_leaves_only_what_it_admits() -> None:
    scene, truth = stage()

    def left_half(poses: Floats) -> NDArray[np.bool_]:
        """Poses that lay the middle of the outlines elsewhere than the truth does."""
        middle = scene.walls.corners.mean(axis=0)
        placed = poses[:, :, :2] @ middle + poses[:, :, 2]
        return np.asarray(np.hypot(*(placed - frames.apply(truth, middle)[0]).T) > 15.0)

    poses, _, _ = candidates.find_candidates(scene, 8, left_half)
    assert left_half(poses).all()
    # What admits nothing is left to the caller to see: all stay.
    poses, _, _ = candidates.find_candidates(scene, 8, lambda p: np.zeros(len(p), dtype=bool))
    assert scenes.gap_px(scene.walls, poses[0], truth) < 1.5


CHANGES: dict[str, dict[str, float]] = {
    "shifted by 2 %": {"shift_x": 5.0, "shift_y": 4.0},
    "turned": {"turn_deg": 2.0},
    "grown": {"grow": 0.03},
}


@pytest.mark.parametrize("change", list(CHANGES))
def test_a_pose_given_from_outside_is_drawn_in(change: str) -> None:
    scene, truth = stage()
    start = scenes.moved(truth, SIZE, **CHANGES[change])
    poses, _, _ = candidates.settle_near(scene, start[None], 8)
    assert len(poses) == 1
    assert scenes.gap_px(scene.walls, poses[0], truth) < 1.5


@pytest.mark.parametrize("room", ["living", "kitchen"])
def test_one_room_that_alone_is_seen_is_laid_on_its_region(room: str) -> None:
    to_image = scenes.place(scenes.FLOOR, SIZE, turn_deg=12.0)
    image = scenes.paint({room: scenes.FLOOR[room]}, to_image, SIZE)
    walls = build_walls(list(scenes.FLOOR.values()))
    edges = find_edges(image, 1.0)
    scene = Scene(edges, RegionMaps(edges), walls, rasterise(walls), False, (-1.0, 1.0))
    headings = contours.find_headings(
        edges, scene.regions, walls, scene.flips, similarity=True, look="wide"
    )
    poses = starts.lone_rooms(scene, edges, scene.regions, headings)
    truth = scenes.Scene(image, scenes.FLOOR, to_image).pose(walls)
    assert min(scenes.gap_px(walls, pose, truth) for pose in poses) < 12.0


def laid(walls: Walls, pose: Floats) -> shapely.MultiPolygon:
    return shapely.MultiPolygon(
        [shapely.Polygon(frames.apply(pose, rings[0])) for rings in walls.rings]
    )


def test_a_symmetric_floor_is_laid_upon_itself() -> None:
    """A square of four rooms: every quarter turn and mirror image covers the same ground."""
    room = np.array([[0, 0], [3000, 0], [3000, 3000], [0, 3000]], dtype=np.float64)
    walls = build_walls([(room + np.array([x, y]),) for x in (0, 3000) for y in (0, 3000)])
    pose = np.array([[60.0, 25.0, 150.0], [25.0, -60.0, 110.0]])
    poses = candidates.look_alikes(walls, pose)
    whole = shapely.union_all(laid(walls, pose))
    same = [
        other
        for other in poses
        if shapely.union_all(laid(walls, other)).symmetric_difference(whole).area < 1e-6
    ]
    assert len(same) >= 7
    corners = [
        tuple(
            np.rint(
                frames.apply(p, walls.corners).ravel(),
            )
        )
        for p in [pose, *same[:7]]
    ]
    assert len(set(corners)) == 8
    # Room upon room: one of the shifts carries the first room onto its neighbour.
    first = shapely.Polygon(frames.apply(pose, walls.rings[0][0]))
    places = {
        number
        for other in poses[7:]
        for number, rings in enumerate(walls.rings)
        if shapely.Polygon(frames.apply(other, walls.rings[0][0]))
        .symmetric_difference(shapely.Polygon(frames.apply(pose, rings[0])))
        .area
        < 1e-6 * first.area
    }
    assert places >= {1, 2, 3}


def test_gaps_of_poses_by_hand() -> None:
    walls = build_walls(list(scenes.FLOOR.values()))
    pose = np.array([[60.0, 0.0, 150.0], [0.0, -60.0, 110.0]])
    shifted = pose + np.array([[0, 0, 3.0], [0, 0, 4.0]])
    grown = pose * np.array([[1.1, 1.1, 1], [1.1, 1.1, 1]])
    gaps = candidates.pose_gaps(walls, np.stack([pose, shifted, grown]))
    expected = 0.1 * 60.0 * np.sqrt((walls.corners**2).sum(axis=1).mean())
    assert gaps == pytest.approx(np.array([0.0, 5.0, expected]))


@pytest.mark.parametrize("affine", [False, True])
def test_a_blank_picture_gives_candidates_of_no_worth(affine: bool) -> None:
    blank = find_edges(np.full((90, 120, 3), 200, dtype=np.uint8), 1.0)
    walls = build_walls(list(scenes.FLOOR.values()))
    scene = Scene(blank, RegionMaps(blank), walls, rasterise(walls), affine, (-1.0, 1.0))
    poses, offset, _ = candidates.find_candidates(scene, 8)
    assert len(poses) >= 1
    assert np.isfinite(poses).all()
    samples = sample_walls(walls, 100)
    assert candidates.score(scene, poses, offset, samples).total.max() == 0.0


def test_a_row_of_equal_rooms_is_followed_to_its_end() -> None:
    """Outlines of two rooms in a row of six that are alike: five places, each as good."""
    row = {f"room {n}": scenes.ring((3000 * n, 0), (3000 * n + 3000, 0), (3000 * n + 3000, 4100),
                                    (3000 * n, 4100)) for n in range(6)}  # fmt: skip
    to_image = scenes.place(row, (420, 160))
    image = scenes.paint(row, to_image, (420, 160), colours=scenes.COLOURS[:1], line_mm=120.0)
    walls = build_walls([row["room 0"], row["room 1"]])
    edges = find_edges(image, 1.0)
    scene = Scene(edges, RegionMaps(edges), walls, rasterise(walls), False, (-1.0,))
    poses, _, scores = candidates.find_candidates(scene, 12)
    own = frames.compose(to_image, np.column_stack([walls.linear, walls.origin]))
    for number in range(5):
        there = own.copy()
        there[:, 2] += to_image[:, :2] @ (3000.0 * number, 0.0)
        gaps = [scenes.gap_px(walls, pose, there) for pose in poses]
        assert min(gaps) < 4.0, number
        assert scores[int(np.argmin(gaps))] > 0.75 * scores[0]


def test_every_place_is_kept_before_another_has_one_more_variant() -> None:
    """Poses 2 and 3 px off the truth are variants of it, one 5 px off is another place."""
    scene, truth = stage(turn_deg=0.0)
    poses = np.repeat(truth[None], 4, axis=0)
    poses[1:, :, 2] += np.array([(0.0, -2.2), (3.0, 0.0), (-5.0, 0.0)])
    alone = candidates.score(scene, poses, np.zeros((4, 2)), scene.samples).total
    assert alone[2] > alone[3]
    ranked, _, scores = candidates.rank_poses(scene, poses, np.zeros((4, 2)), 3)
    assert scores[0] == alone[0]
    assert [scenes.gap_px(scene.walls, pose, truth) for pose in ranked] == pytest.approx(
        [0, 2.2, 5]
    )
    assert len(candidates.rank_poses(scene, poses, np.zeros((4, 2)), 4)[0]) == 4


def test_poses_beside_one_lie_across_its_own_axes() -> None:
    """Where walls stand 5 px off the borders, a pose that has caught the other faces lies 5 px off
    along one axis of the floor or along both; the axes are those of the floor, not the picture."""
    cos, sin = np.cos(0.5), np.sin(0.5)
    turned = np.array([[cos, -sin], [sin, cos]])
    pose = np.column_stack([70.0 * turned, [200.0, 150.0]])
    beside = candidates._across_walls(pose, np.array([-5.0, 3.0]))
    np.testing.assert_array_equal(beside[:, :, :2], np.repeat(pose[None, :, :2], 8, axis=0))
    along = (beside[:, :, 2] - pose[:, 2]) @ turned
    expected = {(x, y) for x in (-5.0, 0.0, 5.0) for y in (-5.0, 0.0, 5.0)} - {(0.0, 0.0)}
    assert {(round(x, 9) + 0.0, round(y, 9) + 0.0) for x, y in along.tolist()} == expected
    assert len(candidates._across_walls(pose, np.array([-1.9, 1.9]))) == 0
