"""Edges: where they are, which way they run, and how far it is to the next one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.special import erf

from regmap.engine import edges as seeing
from regmap.engine import gradient
from regmap.engine.edges import ORIENTATIONS, Edges, find_edges
from tests.engine import scenes

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]


def step(
    angle_deg: float,
    through: tuple[float, float],
    *,
    size: tuple[int, int] = (90, 70),
    blur: float = 0.6,
    dark: tuple[float, ...] = (80.0, 90.0, 60.0),
    light: tuple[float, ...] = (180.0, 150.0, 200.0),
) -> Picture:
    """A blurred straight step, worked out by formula at every pixel's centre."""
    normal = np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))
    column, row = np.meshgrid(np.arange(size[0]) + 0.5, np.arange(size[1]) + 0.5)
    away = (column - through[0]) * normal[0] + (row - through[1]) * normal[1]
    share = 0.5 + 0.5 * erf(away / (blur * np.sqrt(2)))
    colours = np.array(dark) + share[..., None] * (np.array(light) - np.array(dark))
    return np.asarray(np.rint(colours), dtype=np.uint8)


def turned_by(angle: Floats, expected_deg: float) -> Floats:
    """Degrees between directions modulo half a turn."""
    twice = np.angle(np.exp(2j * (angle - np.deg2rad(expected_deg))))
    return np.asarray(np.abs(np.rad2deg(twice)) / 2)


def away_from_the_rim(point: Floats) -> NDArray[np.bool_]:
    """Directions are means over some pixels, and the picture of `step` ends somewhere."""
    return np.asarray((point > 12).all(axis=1) & (point < (90 - 12, 70 - 12)).all(axis=1))


@pytest.mark.parametrize("angle_deg", [0.0, 12.0, 30.0, 45.0, 61.0, 90.0, 118.0, 135.0, 171.0])
def test_a_step_is_found_where_it_is_and_as_it_runs(angle_deg: float) -> None:
    through = (44.3, 35.8)
    found = find_edges(step(angle_deg, through), 1.0)
    inner = away_from_the_rim(found.point)
    normal = np.array([np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))])
    away = (found.point - through) @ normal
    # Points are pixel centres: half a pixel of spread, no lean to one side.
    assert len(away) > 50
    assert np.abs(away).max() < 0.9
    assert abs(away.mean()) < 0.35
    assert turned_by(found.angle[inner], angle_deg).max() < 1.5
    assert found.weight.min() > 0.3
    assert found.angle.min() >= 0.0
    assert found.angle.max() < np.pi


def test_places_count_from_the_corner_of_the_first_pixel() -> None:
    image = np.full((60, 80, 3), 40, dtype=np.uint8)
    image[:, 41:] = 200
    # Half covered: the step runs through the middle of the pixels of column 40.
    image[:, 40] = 120
    found = find_edges(image, 1.0)
    assert np.unique(found.point[:, 0]).tolist() == [40.5]
    found = find_edges(np.ascontiguousarray(image.swapaxes(0, 1)), 1.0)
    assert np.unique(found.point[:, 1]).tolist() == [40.5]


def test_colours_of_equal_grey_have_a_border() -> None:
    """The multichannel gradient of Di Zenzo, CVGIP 33(1), 1986, sees what grey levels do not."""
    red, green = (200.0, 60.0, 80.0), (60.0, 131.0, 82.0)
    image = step(20.0, (45, 35), dark=red, light=green)
    grey = np.asarray(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    assert np.ptp(grey) <= 1
    assert len(find_edges(grey[:, :, None], 1.0).point) == 0
    found = find_edges(image, 1.0)
    assert len(found.point) > 50
    inner = away_from_the_rim(found.point)
    assert turned_by(found.angle[inner], 20.0).max() < 1.5


def test_opposite_steps_in_two_channels_do_not_cancel() -> None:
    """Channels may rise and fall: Di Zenzo's direction of greatest change does not care."""
    image = step(70.0, (45, 35), dark=(50.0, 200.0, 90.0), light=(200.0, 50.0, 90.0))
    dx, dy = gradient.colour_gradient(image)
    inner = np.s_[2:-2, 2:-2]
    dx, dy = dx[inner], dy[inner]
    strong = np.hypot(dx, dy) > 30
    assert strong.sum() > 80
    angle = np.arctan2(dy[strong], dx[strong]).astype(np.float64)
    assert turned_by(angle, 70.0).max() < 2.0


def test_a_ramp_has_its_slope_as_gradient() -> None:
    column, row = np.meshgrid(np.arange(60.0), np.arange(50.0))
    ramp = np.rint(3.0 * column + 1.0 * row)[..., None].astype(np.uint8)
    dx, dy = (np.asarray(part)[5:-5, 5:-5] for part in gradient.colour_gradient(ramp))
    assert np.hypot(dx, dy) == pytest.approx(np.sqrt(10.0), abs=0.35)
    assert np.hypot(dx, dy).mean() == pytest.approx(np.sqrt(10.0), abs=0.02)


def test_noise_alone_is_no_wall() -> None:
    rng = np.random.default_rng(4)
    noise = np.clip(128 + rng.normal(0, 6, (120, 160, 3)), 0, 255).astype(np.uint8)
    wall = np.clip(step(0.0, (80, 60), size=(160, 120)) + rng.normal(0, 6, noise.shape), 0, 255)
    heavy = find_edges(wall.astype(np.uint8), 1.0)
    near = np.abs(heavy.point[:, 0] - 80) < 2
    assert heavy.weight[near].sum() > 3 * heavy.weight[~near].sum()
    assert find_edges(noise, 1.0).weight.sum() < 0.2 * heavy.weight.sum()


def distances(edges: Edges) -> NDArray[np.float32]:
    return np.stack([edges.near.distances(channel) for channel in range(ORIENTATIONS)])


@pytest.mark.parametrize(("size", "cell"), [((300, 220), 1), ((600, 440), 2)])
@pytest.mark.parametrize("turn_deg", [0.0, 33.0])
def test_distance_fields_against_a_search_tree(
    turn_deg: float, size: tuple[int, int], cell: int
) -> None:
    found = find_edges(scenes.scene(turn_deg=turn_deg, size=size).image, 1.0)
    assert found.near.cell == cell
    rng = np.random.default_rng(8)
    middles = cell * (np.stack([rng.integers(0, n // cell, 500) for n in size], axis=1) + 0.5)
    bins = seeing.orientation_bin(found.angle)
    # Where in a cell its edges lie is not told: half of a diagonal, at both ends.
    vague = 2.0 * np.hypot(cell - 1, cell - 1) / 2.0 + 0.05
    for channel in range(ORIENTATIONS):
        channels = np.full(500, channel)
        cells = found.near.cells(channels, *middles.T)
        away = found.near.away(cells)
        own = found.point[bins == channel]
        if len(own):
            # An edge is seen in its own channel, and it may be in a neighbouring one as well.
            assert (away <= cKDTree(own).query(middles)[0] * 1.03 + vague).all()
        if away.min() > 900:
            continue
        turn = np.full(500, channel * np.pi / ORIENTATIONS)
        x, y = middles.T
        ways = found.near.ways(channels, x, y, np.cos(turn), np.sin(turn))
        nearest = middles + np.stack(ways, axis=1)
        # Borgefors, CVGIP 34(3), 1986: the 5 x 5 chamfer errs by up to 2 %.
        straight = np.hypot(*(nearest - middles).T)
        np.testing.assert_allclose(away, straight, rtol=0.03, atol=vague)
        tree = cKDTree(found.point)
        off, place = (np.asarray(part) for part in tree.query(nearest))
        assert off.max() <= vague
        assert (turned_by(found.angle[place], channel * 22.5) <= 18.0 + 1e-6)[off < 0.05].all()


def test_orientation_bins_wrap() -> None:
    width = np.pi / ORIENTATIONS
    angle = np.array(
        [0.0, 0.49 * width, 0.51 * width, np.pi - 0.4 * width, np.pi, -width, 3 * np.pi]
    )
    assert seeing.orientation_bin(angle).tolist() == [0, 0, 1, 0, 0, ORIENTATIONS - 1, 0]


def test_thin_lines_upon_areas_are_set_aside() -> None:
    scene = scenes.scene(size=(420, 320))
    image = scene.image.copy()
    rng = np.random.default_rng(3)
    path = rng.uniform((80, 60), (340, 260), (10, 2)).astype(np.int32)
    cv2.polylines(image, [path.reshape(-1, 1, 2)], False, (20, 20, 20), 1)
    found = find_edges(image, 1.0)
    steady = seeing.steady_edges(found)
    assert steady is not None
    clean = find_edges(np.asarray(scene.image), 1.0)
    tree = cKDTree(clean.point)
    real = np.asarray(tree.query(steady.point)[0]) < 2.0
    among_all = np.asarray(tree.query(found.point)[0]) < 2.0
    assert real.mean() > 0.8 > 0.6 > among_all.mean()
    # What is left stands in the fields of its own: no distance leads to an edge left out.
    assert (distances(steady).min(axis=0) >= distances(found).min(axis=0) - 1e-3).all()


@pytest.mark.parametrize("shape", [(150, 40, 3), (64, 33, 1), (8, 5, 3), (1, 1, 3)])
def test_the_median_of_columns_and_rows(shape: tuple[int, ...]) -> None:
    """As defined: of seven pixels the fourth in order, the rim repeated outwards."""
    image = np.random.default_rng(5).integers(0, 256, shape, dtype=np.uint8)
    rim = np.pad(image, ((3, 3), (3, 3), (0, 0)), mode="edge")
    columns = np.median([rim[n : n + shape[0]] for n in range(7)], axis=0)
    rows = np.median([columns[:, n : n + shape[1]] for n in range(7)], axis=0)
    np.testing.assert_array_equal(gradient.without_thin_lines(image), rows)


def test_lines_go_and_corners_stay() -> None:
    plain = np.full((90, 120, 3), 200, np.uint8)
    cv2.rectangle(plain, (30, 20), (89, 69), (90, 140, 60), -1)
    lined = plain.copy()
    lined[:, 10:13] = lined[40:43] = 0
    np.testing.assert_array_equal(gradient.without_thin_lines(lined), plain)


def test_where_all_is_lines_no_edge_is_set_aside() -> None:
    drawing = scenes.scene(size=(420, 320), line_mm=25.0, one_colour=True)
    assert seeing.steady_edges(find_edges(drawing.image, 1.0)) is None


@pytest.mark.parametrize("shape", [(1, 1, 3), (1, 40, 3), (3, 2, 1), (50, 60, 3)])
def test_pictures_with_nothing_in_them(shape: tuple[int, ...]) -> None:
    found = find_edges(np.full(shape, 77, dtype=np.uint8), 1.0)
    assert len(found.point) == 0
    assert distances(found).shape == (ORIENTATIONS, *shape[:2])
    assert distances(found).min() > 900
    assert seeing.steady_edges(found) is None
