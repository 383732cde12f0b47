"""First poses: each way of finding them brings one from which the truth can be reached."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from regmap.engine import candidates, contours, segment, starts
from regmap.engine.edges import find_edges
from regmap.engine.rasterise import rasterise
from regmap.engine.segment import RegionMaps
from regmap.engine.starts import Scene
from tests.engine import scenes
from tests.engine.test_candidates import stage

Floats = NDArray[np.float64]

FLOORS: dict[str, dict[str, float]] = {
    "turned": {},
    "upright": {"turn_deg": 0.0},
    "mirrored": {"turn_deg": 200.0, "mirrored": True},
    "stretched": {"stretch": 1.25},
    "of one colour": {"one_colour": True},
}

REACH_PX = 8.0
"""How far apart walls and edges may lie that the first step of the search brings together."""


def headings_of(scene: Scene, look: str = "usual") -> list[contours.Heading]:
    return contours.find_headings(
        scene.edges,
        scene.regions,
        scene.walls,
        scene.flips,
        similarity=not scene.affine,
        look=look,
    )


WAYS: dict[str, Callable[[Scene], Floats]] = {
    "a glance": lambda s: starts.at_a_glance(s, s.edges, headings_of(s, "glance")),
    "pairs and profiles": lambda s: starts.first_poses(s, s.edges, s.regions, headings_of(s)),
    "lone rooms": lambda s: starts.lone_rooms(s, s.edges, s.regions, headings_of(s)),
    "whole floors": lambda s: starts.whole_floors(s, s.edges, headings_of(s)),
}
MOST = {"a glance": 12, "pairs and profiles": 100, "lone rooms": 12, "whole floors": 16}


# Rooms that look alike are no regions of their own.
PAIRED = [(way, floor) for way in WAYS for floor in FLOORS if floor != "of one colour"]


@pytest.mark.parametrize(
    ("way", "floor"),
    [*PAIRED, ("pairs and profiles", "of one colour"), ("whole floors", "of one colour")],
)
def test_one_pose_is_within_reach_of_the_truth(way: str, floor: str) -> None:
    scene, truth = stage(**FLOORS[floor])
    poses = WAYS[way](scene)
    assert 1 <= len(poses) <= MOST[way]
    gaps = [scenes.gap_px(scene.walls, pose, truth) for pose in poses]
    assert min(gaps) < REACH_PX


@pytest.mark.parametrize("way", ["a glance", "pairs and profiles"])
def test_the_likest_come_first(way: str) -> None:
    scene, truth = stage()
    poses = WAYS[way](scene)
    assert scenes.gap_px(scene.walls, poses[0], truth) < REACH_PX


@pytest.mark.parametrize("floor", ["turned", "stretched"])
@pytest.mark.parametrize("way", WAYS)
def test_no_two_poses_are_one(way: str, floor: str) -> None:
    scene, _ = stage(**FLOORS[floor])
    poses = WAYS[way](scene)
    for number in range(len(poses) - 1):
        assert candidates.pose_gaps(scene.walls, poses[number:])[1:].min() > 3.9


@pytest.mark.parametrize("way", WAYS)
def test_poses_are_similarities_unless_the_picture_may_be_stretched(way: str) -> None:
    def stretched(poses: Floats) -> NDArray[np.bool_]:
        """Whether the two axes have other scales, or do not stand upright on each other."""
        x, y = poses[:, :, 0], poses[:, :, 1]
        size = np.hypot(*x.T) * np.hypot(*y.T)
        ratio = np.hypot(*x.T) / np.hypot(*y.T)
        return np.asarray((np.abs((x * y).sum(axis=1)) > 1e-6 * size) | (np.abs(ratio - 1) > 1e-6))

    assert not stretched(WAYS[way](stage()[0])).any()
    assert stretched(WAYS[way](stage(stretch=1.25)[0])).any()


def test_headings_that_were_tried_are_not_tried_again() -> None:
    scene, _ = stage()
    headings = headings_of(scene)
    again = starts.thorough(scene, scene.edges, scene.regions, headings, headings, wide=False)
    assert again.shape == (0, 2, 3)
    fresh = starts.thorough(scene, scene.edges, scene.regions, headings, [], wide=False)
    assert np.array_equal(fresh, WAYS["pairs and profiles"](scene))
    some = starts.thorough(scene, scene.edges, scene.regions, headings, headings[1:], wide=False)
    only = starts.first_poses(scene, scene.edges, scene.regions, headings[:1])
    assert np.array_equal(some, only)


def test_a_wide_look_adds_whole_floors_lone_rooms_and_shapes() -> None:
    scene, _ = stage()
    headings = headings_of(scene)
    poses = starts.thorough(scene, scene.edges, scene.regions, headings, headings, wide=True)
    alike = starts.alike_shapes(scene, scene.edges, scene.regions)
    added = [WAYS["whole floors"](scene), WAYS["lone rooms"](scene), alike]
    assert np.array_equal(poses, np.concatenate(added))


def test_where_there_is_nothing_there_are_no_poses() -> None:
    scene, _ = stage()
    assert starts.at_a_glance(scene, scene.edges, []).shape == (0, 2, 3)
    headings = headings_of(scene)
    assert starts.lone_rooms(scene, scene.edges, [], headings).shape == (0, 2, 3)
    # Without regions the profiles of walls are left to go by.
    poses = starts.first_poses(scene, scene.edges, [], headings)
    gaps = [scenes.gap_px(scene.walls, pose, stage()[1]) for pose in poses]
    assert min(gaps) < REACH_PX


@pytest.mark.parametrize("flips", [(-1.0,), (-1.0, 1.0)])
def test_many_rooms_that_look_alike_are_found_at_a_glance(flips: tuple[float, ...]) -> None:
    """Ten by nine rooms between slightly uneven walls: any pairs with any."""
    rng = np.random.default_rng(5)
    x, y = (np.cumsum(rng.uniform(2500, 3500, count)) for count in (11, 10))
    rings = {
        f"{column} {row}": scenes.ring(
            (x[column], y[row]),
            (x[column + 1], y[row]),
            (x[column + 1], y[row + 1]),
            (x[column], y[row + 1]),
        )
        for column in range(10)
        for row in range(9)
    }
    to_image = scenes.place(rings, (600, 480), turn_deg=20.0)
    drawn = scenes.Scene(scenes.paint(rings, to_image, (600, 480)), rings, to_image)
    edges, walls = find_edges(drawn.image, 1.0), drawn.walls
    scene = Scene(edges, RegionMaps(edges), walls, rasterise(walls), affine=False, flips=flips)
    poses = starts.at_a_glance(scene, edges, headings_of(scene, "glance"))
    assert 1 <= len(poses) <= MOST["a glance"]
    assert min(scenes.gap_px(walls, pose, drawn.pose(walls)) for pose in poses) < REACH_PX


def test_a_floor_that_is_small_in_its_picture() -> None:
    """Its rooms are of a few pixels: the whole of it is found, or the profiles of a small floor."""
    size = (480, 360)
    to_image = scenes.place(scenes.FLOOR, size, turn_deg=27.0, fill=0.22)
    drawn = scenes.Scene(scenes.paint(scenes.FLOOR, to_image, size), scenes.FLOOR, to_image)
    edges = find_edges(drawn.image, 1.0)
    walls = drawn.walls
    scene = Scene(edges, RegionMaps(edges), walls, rasterise(walls), False, (-1.0, 1.0))
    poses = WAYS["whole floors"](scene)
    assert min(scenes.gap_px(walls, pose, drawn.pose(walls)) for pose in poses) < 0.5 * REACH_PX


def test_a_floor_that_is_small_is_found_by_the_profiles_of_its_walls_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nothing stands out as one thing, for instance since the picture has a frame of that colour:
    of all sizes and places of the profiles, the few that lie on edges are kept."""
    size = (480, 360)
    to_image = scenes.place(scenes.FLOOR, size, turn_deg=27.0, fill=0.3)
    drawn = scenes.Scene(scenes.paint(scenes.FLOOR, to_image, size), scenes.FLOOR, to_image)
    edges, walls = find_edges(drawn.image, 1.0), drawn.walls
    scene = Scene(edges, RegionMaps(edges), walls, rasterise(walls), False, (-1.0, 1.0))
    monkeypatch.setattr(segment, "find_silhouettes", lambda _: [])
    poses = WAYS["whole floors"](scene)
    assert 1 <= len(poses) <= MOST["whole floors"]
    assert scenes.gap_px(walls, poses[0], drawn.pose(walls)) < REACH_PX
