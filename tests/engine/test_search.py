"""First poses from positions of walls alone: rooms of one colour have no regions to go by."""

from __future__ import annotations

import numpy as np
import pytest

from regmap.engine.contours import Heading
from regmap.engine.edges import find_edges
from regmap.engine.search import SMALL, USUAL, correlate_profiles
from tests.engine import scenes


def true_heading(pose: scenes.Floats) -> Heading:
    axes = pose[:, :2]
    return Heading(np.asarray(axes / np.hypot(axes[0], axes[1])))


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn_deg", [0.0, 27.0, 200.0])
def test_a_floor_of_one_colour_is_found_by_its_walls(turn_deg: float, mirrored: bool) -> None:
    scene = scenes.scene(turn_deg=turn_deg, mirrored=mirrored, line_mm=60.0, one_colour=True)
    walls = scene.walls
    truth = scene.pose(walls)
    edges = find_edges(scene.image, 1.0)
    poses = correlate_profiles(edges, walls, [true_heading(truth)], similarity=True)[0]
    assert 0 < len(poses) <= 90
    gaps = np.array([scenes.gap_px(walls, pose, truth) for pose in poses])
    # Near enough for what follows, which takes in edges from 8 px away.
    assert gaps.min() < 8.0
    axes = poses[:, :, :2]
    np.testing.assert_allclose(np.hypot(*axes[..., 0].T), np.hypot(*axes[..., 1].T), rtol=1e-9)


@pytest.mark.parametrize("stretch", [0.75, 1.3])
def test_a_stretched_one_as_well(stretch: float) -> None:
    scene = scenes.scene(stretch=stretch, line_mm=60.0, one_colour=True)
    walls = scene.walls
    truth = scene.pose(walls)
    edges = find_edges(scene.image, 1.0)
    poses = correlate_profiles(edges, walls, [true_heading(truth)], similarity=False)[0]
    gaps = np.array([scenes.gap_px(walls, pose, truth) for pose in poses])
    assert gaps.min() < 8.0
    # One scale for both axes does not do.
    alike = correlate_profiles(edges, walls, [true_heading(truth)], similarity=True)[0]
    assert min(scenes.gap_px(walls, pose, truth) for pose in alike) > 1.5 * gaps.min()


def test_a_part_of_the_floor_is_enough() -> None:
    whole = scenes.scene(size=(300, 220), line_mm=60.0, one_colour=True)
    walls = whole.walls
    left, top = 60, 30
    part = np.ascontiguousarray(whole.image[top:, left:])
    truth = whole.pose(walls)
    truth[:, 2] -= (left, top)
    poses = correlate_profiles(
        find_edges(part, 1.0), walls, [true_heading(truth)], similarity=True
    )[0]
    assert min(scenes.gap_px(walls, pose, truth) for pose in poses) < 8.0


@pytest.mark.parametrize(("span", "found"), [(USUAL, False), (SMALL, True)])
def test_a_small_floor_on_a_large_screen(span: tuple[float, float], found: bool) -> None:
    small = scenes.scene(turn_deg=27.0, line_mm=60.0, one_colour=True)
    height, width = small.image.shape[:2]
    image = np.full((700, 1600, 3), small.image[0, 0], dtype=np.uint8)
    image[420 : 420 + height, 1100 : 1100 + width] = small.image
    truth = small.pose(small.walls)
    truth[:, 2] += (1100, 420)
    edges, headings = find_edges(image, 1.0), [true_heading(truth)]
    poses = correlate_profiles(edges, small.walls, headings, similarity=True, span=span)[0]
    gaps = [scenes.gap_px(small.walls, pose, truth) for pose in poses]
    assert (min(gaps) < 8.0) == found


@pytest.mark.parametrize("similarity", [True, False])
def test_a_blank_picture_gives_poses_without_numbers_that_are_none(similarity: bool) -> None:
    edges = find_edges(np.full((60, 80, 3), 200, dtype=np.uint8), 1.0)
    poses = correlate_profiles(
        edges, scenes.scene().walls, [Heading(np.eye(2))], similarity=similarity
    )[0]
    assert np.isfinite(poses).all()
