"""First poses from headings and from boxes of rooms and regions."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap import frames
from regmap.engine import contours
from regmap.engine.contours import Heading, find_headings
from regmap.engine.edges import find_edges
from regmap.engine.segment import Region, RegionMaps
from regmap.engine.walls import Walls, build_walls
from tests.engine import scenes

Floats = NDArray[np.float64]

BOTH = (-1.0, 1.0)


def heading_of(pose: Floats) -> Floats:
    """(2, 2) a pose's axes of unit length."""
    axes = pose[:, :2]
    return np.asarray(axes / np.hypot(axes[0], axes[1]))


def off_deg(headings: list[Heading], true: Floats) -> Floats:
    """For each heading the larger angle between its axes and the true ones, degrees."""
    cosines = np.array([(h.matrix * true).sum(axis=0) for h in headings])
    return np.asarray(np.rad2deg(np.arccos(np.clip(cosines, -1, 1))).max(axis=1))


def headings_of(
    scene: scenes.Scene, flips: tuple[float, ...], *, similarity: bool, look: str = "usual"
) -> list[Heading]:
    edges = find_edges(scene.image, 1.0)
    regions = RegionMaps(edges).every
    return find_headings(edges, regions, scene.walls, flips, similarity=similarity, look=look)


def test_a_wide_look_sees_more_headings() -> None:
    scene = scenes.scene(turn_deg=27.0)
    few = headings_of(scene, BOTH, similarity=True)
    more = headings_of(scene, BOTH, similarity=True, look="wide")
    assert len(more) > len(few)
    assert off_deg(more, heading_of(scene.pose(scene.walls))).min() < 1.5


def test_hatching_does_not_drown_the_walls() -> None:
    """Mown stripes, hatching: a thousand edges of one direction, and few of the walls'."""
    scene = scenes.scene(turn_deg=20.0)
    ground = scene.image[0, 0]
    image = np.full((460, 640, 3), ground, dtype=np.uint8)
    row, column = np.mgrid[:460, :640]
    image[(row + column) % 12 < 6] -= 8
    floor = (scene.image != ground).any(axis=2)
    image[100:320, 200:500][floor] = scene.image[floor]
    edges = find_edges(image, 1.0)
    regions = RegionMaps(edges).every
    true = heading_of(scene.pose(scene.walls))
    found = find_headings(edges, regions, scene.walls, BOTH, similarity=True, look="wide")
    assert off_deg(found, true).min() < 1.5


def test_upright_print_all_over_a_turned_floor_does_not_drown_its_walls() -> None:
    """Most edges are those of letters and their boxes; but they lie on no long lines."""
    scene = scenes.scene(turn_deg=20.0)
    image = np.asarray(cv2.resize(scene.image, None, fx=2.0, fy=2.0), dtype=np.uint8)
    place = np.random.default_rng(3)
    for left, top in place.uniform((0, 0), (image.shape[1] - 120, image.shape[0] - 40), (30, 2)):
        x, y = int(left), int(top)
        cv2.rectangle(image, (x, y), (x + 110, y + 30), (250, 250, 250), cv2.FILLED)
        cv2.putText(image, "kitchen", (x + 6, y + 22), 0, 0.7, (20, 20, 20), 2)
    edges = find_edges(image, 1.0)
    true = heading_of(scene.pose(scene.walls))
    found = find_headings(edges, [], scene.walls, BOTH, similarity=True, look="wide")
    assert off_deg(found, true).min() < 1.5
    long = contours._long_lines(edges)
    plain = contours._histogram(edges.angle, edges.weight)
    # Of 360 bins a half turn, 40 are 20 degrees.
    walls = [40, 220]
    assert long[walls].max() > 0.3 * long.max()
    assert plain[walls].max() < 0.15 * plain.max()


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 27.0, 141.0, -64.0])
def test_the_true_heading_is_among_them(turn_deg: float, mirrored: bool) -> None:
    scene = scenes.scene(turn_deg=turn_deg, mirrored=mirrored)
    walls = scene.walls
    found = headings_of(scene, BOTH, similarity=True)
    off = off_deg(found, heading_of(scene.pose(walls)))
    assert off.min() < 1.5
    assert len(found) <= 24
    for heading in found:
        np.testing.assert_allclose(heading.matrix.T @ heading.matrix, np.eye(2), atol=1e-12)


@pytest.mark.parametrize("flips", [(-1.0,), (1.0,)])
def test_only_the_flips_asked_for(flips: tuple[float, ...]) -> None:
    scene = scenes.scene(turn_deg=27.0)
    found = headings_of(scene, flips, similarity=True)
    assert {float(np.sign(np.linalg.det(h.matrix))) for h in found} == set(flips)
    stretched = headings_of(scene, flips, similarity=False)
    assert {float(np.sign(np.linalg.det(h.matrix))) for h in stretched} == set(flips)


@pytest.mark.parametrize("turn_deg", [0.0, 20.0, 52.0])
@pytest.mark.parametrize("stretch", [0.75, 1.3])
def test_stretched_pictures_have_skew_headings(turn_deg: float, stretch: float) -> None:
    scene = scenes.scene(turn_deg=turn_deg, stretch=stretch)
    walls = scene.walls
    true = heading_of(scene.pose(walls))
    found = headings_of(scene, BOTH, similarity=False)
    assert off_deg(found, true).min() < 2.5
    if turn_deg == 20.0:
        # The right angles of the floor are none in this picture.
        assert abs(float(true[:, 0] @ true[:, 1])) > 0.1
        assert off_deg(headings_of(scene, BOTH, similarity=True), true).min() > 2.5


@pytest.mark.parametrize("wall_px", [0.0, 6.0, 11.0])
def test_a_silhouette_shows_how_thick_the_outer_walls_are(wall_px: float) -> None:
    """Outlines end at the inner faces; what the picture shows of a floor from outside is larger by
    a wall all round, and would be taken for a larger scale."""
    scene = scenes.scene(turn_deg=27.0)
    walls = scene.walls
    truth = scene.pose(walls)
    heading = Heading(heading_of(truth))
    low, high = walls.corners[0], walls.corners[2]
    # Half a px less all round: regions count from the centres of their pixels.
    reach = (wall_px - 0.5) / np.hypot(*truth[:, 0])
    corners = [low - reach, [high[0] + reach, low[1] - reach]]
    corners += [high + reach, [low[0] - reach, high[1] + reach]]
    ring = np.array(corners) @ truth[:, :2].T + truth[:, 2]
    shape = Region(ring, ring, float(shapely.Polygon(ring).area))
    poses = contours.match_silhouettes([shape], walls, heading, similarity=True)
    gaps = [scenes.gap_px(walls, pose, truth) for pose in poses]
    assert min(gaps) < 0.5
    assert contours.match_silhouettes([], walls, heading, similarity=True).shape == (0, 2, 3)


def test_poses_in_a_heading_scale_and_shift_along_its_axes() -> None:
    heading = Heading(np.array([[0.8, 0.3], [0.6, -np.sqrt(1 - 0.09)]]))
    scales, shift = np.array([[2.0, 3.0], [5.0, 0.5]]), np.array([[7.0, -1.0], [0.0, 4.0]])
    poses = contours.poses_in_heading(heading, scales, shift)
    own = np.array([0.3, -0.7])
    for pose, scale, move in zip(poses, scales, shift, strict=True):
        expected = heading.matrix @ (scale * own + move)
        np.testing.assert_allclose(frames.apply(pose, own)[0], expected, atol=1e-12)
    np.testing.assert_allclose(heading.inverse @ heading.matrix, np.eye(2), atol=1e-12)


def drawn_regions(walls: Walls, pose: Floats, grow: float = 0.0) -> list[Region]:
    """The rooms themselves as regions of a picture, and some that are none."""
    regions = []
    for rings in walls.rings:
        room = shapely.Polygon(frames.apply(pose, rings[0])).buffer(grow, join_style="mitre")
        contour = shapely.get_coordinates(shapely.segmentize(room.exterior, 1.0))[:-1]
        regions.append(Region(contour, shapely.get_coordinates(room.convex_hull)[:-1], room.area))
    box = shapely.box(5, 5, 40, 21)
    corners = shapely.get_coordinates(box)[:-1]
    return [Region(corners, corners, box.area), *regions]


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("stretch", "similarity"), [(1.0, True), (1.3, False)])
def test_a_pair_of_region_and_room_gives_the_pose(
    mirrored: bool, stretch: float, similarity: bool
) -> None:
    scene = scenes.scene(mirrored=mirrored, stretch=stretch)
    walls = scene.walls
    truth = scene.pose(walls)
    heading = Heading(heading_of(truth))
    # Half a pixel less all round: boxes take in the rim of the outermost pixels.
    exact = drawn_regions(walls, truth, -0.5)
    poses = contours.match_regions(exact, walls, heading, similarity=similarity)
    gaps = [scenes.gap_px(walls, pose, truth) for pose in poses]
    assert min(gaps) < 0.01
    assert np.sum(np.array(gaps) < 0.05) >= len(walls.rings) - 1
    if similarity:
        axes = poses[:, :, :2]
        np.testing.assert_allclose(axes[:, :, 0] @ axes[0, :, 1], 0.0, atol=1e-9)
    found = RegionMaps(find_edges(scene.image, 1.0)).every
    poses = contours.match_regions(found, walls, heading, similarity=similarity)
    assert min(scenes.gap_px(walls, pose, truth) for pose in poses) < 8.0


def test_without_regions_there_are_no_pairs() -> None:
    scene = scenes.scene()
    none = contours.match_regions([], scene.walls, Heading(np.eye(2)), similarity=True)
    assert none.shape == (0, 2, 3)


@pytest.mark.parametrize("similarity", [True, False])
def test_poses_settle_on_the_regions(similarity: bool) -> None:
    scene = scenes.scene(turn_deg=27.0)
    walls = scene.walls
    truth = scene.pose(walls)
    regions = drawn_regions(walls, truth, -0.5)
    heading = Heading(heading_of(truth))
    changes: list[dict[str, float]] = [
        {"shift_x": 9.0},
        {"shift_x": -6.0, "shift_y": 7.0},
        {"grow": 0.07},
        {"grow": -0.06, "shift_y": 4.0},
    ]
    starts = np.stack([scenes.moved(truth, (300, 220), **change) for change in changes])
    assert min(scenes.gap_px(walls, start, truth) for start in starts) > 4.0
    settled, overlap = contours.settle_on_regions(
        starts, regions, walls, heading, similarity=similarity
    )
    for pose in settled:
        assert scenes.gap_px(walls, pose, truth) < 1.5
    assert overlap.shape == (4,)
    assert overlap.min() > 0.85
    far = scenes.moved(truth, (300, 220), shift_x=1000.0)[None]
    stayed, none = contours.settle_on_regions(far, regions, walls, heading, similarity=similarity)
    np.testing.assert_allclose(stayed, far, atol=1e-9)
    assert none[0] == 0.0


def test_directions_have_no_first_and_no_last() -> None:
    """All directions turned by whole bins, the histogram goes round by as many."""
    rng = np.random.default_rng(4)
    angle, weight = rng.uniform(0, 0.4, 50), rng.uniform(1, 2, 50)
    usual = contours._histogram(angle, weight)
    assert np.linalg.norm(usual) == pytest.approx(1)
    for bins in (1, 90, len(usual) - 5):
        turned = contours._histogram(angle + bins * np.pi / len(usual), weight)
        np.testing.assert_allclose(turned, np.roll(usual, bins), atol=1e-9)
    # Smoothed evenly to both sides: one direction alone gives a symmetric hill.
    hill = np.roll(contours._histogram(np.zeros(1), np.ones(1)), 20)
    np.testing.assert_allclose(hill[:41], hill[:41][::-1], atol=1e-9)


def test_boxes_of_regions_and_how_full_they_are() -> None:
    """A region's box is that of its pixels, their outer corners; an L of 3 by 3 thirds is full to
    5/9."""
    image = np.full((120, 160, 3), 255, np.uint8)
    image[20:80, 30:90] = (200, 60, 60)
    image[20:60, 50:90] = 255
    regions = RegionMaps(find_edges(image, 1.0)).every
    upright = Heading(np.diag([1.0, -1.0]))
    boxes, full = contours._region_boxes(regions, upright)
    places = np.abs(boxes - [30, -80, 90, -20]).max(axis=1)
    nearest = int(places.argmin())
    assert places[nearest] < 3
    assert full[nearest] == pytest.approx(5 / 9, abs=0.1)


# --- the parts -----------------------------------------------------------------------------------


def test_lines_of_boxes_are_weighted_least_squares() -> None:
    """Along each axis both ends of every box count alike, by the box's weight: numpy's lstsq."""
    rng = np.random.default_rng(1)
    own = rng.normal(size=(7, 4))
    target = 2.5 * own[None] + rng.normal(0.0, 0.3, (3, 7, 4)) + 4.0
    weight = rng.uniform(0.1, 1.0, (3, 7))
    scale, own_mean, target_mean = contours._fit_lines(own, target, weight)
    for pose in range(3):
        root = np.sqrt(np.repeat(weight[pose], 2))
        for axis in (0, 1):
            x = own[:, [axis, 2 + axis]].ravel()
            y = target[pose][:, [axis, 2 + axis]].ravel()
            design = np.column_stack([x, np.ones(14)])
            best, *_ = np.linalg.lstsq(design * root[:, None], y * root, rcond=None)
            assert scale[pose, axis] == pytest.approx(best[0])
            shift = target_mean[pose, axis] - scale[pose, axis] * own_mean[pose, axis]
            assert shift == pytest.approx(best[1])


@pytest.mark.parametrize("place", [0.0, 17.3, 180.5, 359.8])
def test_peaks_of_a_circle_lie_between_its_bins(place: float) -> None:
    bins = np.arange(360.0)
    wave = 3.0 + 2.0 * np.cos(2.0 * np.pi * (bins - place) / 360.0)
    ((value, found),) = contours._circular_peaks(wave)
    assert value == pytest.approx(4.0, abs=1e-3)
    assert np.abs(np.mod(found - place + 180.0, 360.0) - 180.0) < 0.01
    # Of eight hills the six highest, the highest first.
    hills = wave + np.cos(2.0 * np.pi * 8.0 * (bins - place) / 360.0)
    peaks = contours._circular_peaks(hills)
    assert len(peaks) == 6
    assert peaks == sorted(peaks, reverse=True)
    assert contours._circular_peaks(np.full(360, 0.3)) == [(1e-9, 0.0)]


def test_the_likest_pairs_are_counted_from_the_least() -> None:
    values = np.random.default_rng(2).permutation(50).astype(float)
    assert contours._nth_least(values, 7) == 7.0
    assert contours._nth_least(values, 50) == contours._nth_least(values[:3], 7) == np.inf


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 100.0])
def test_long_sides_of_regions_tell_their_directions(turn_deg: float) -> None:
    """A bar with a step that is small against it: its two long sides and its ends, no more."""
    ring = np.array([[0, 0], [90, 0], [90, 30], [46, 30], [46, 31], [0, 31.0]])
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    ring = 200.0 + ring @ np.array([[cos, sin], [-sin, cos]])
    region = Region(ring, ring, float(shapely.Polygon(ring).area))
    angle, length = contours._sides([region])
    assert sorted(np.rint(length)) == pytest.approx([30, 31, 90, 90], abs=1.5)
    # Normals of the long sides stand at right angles to them.
    normal = np.rad2deg(angle[length > 60]) - turn_deg
    assert np.abs(np.mod(normal, 180.0) - 90.0) == pytest.approx(0.0, abs=1.0)
    none = contours._sides([])
    assert len(none[0]) == len(none[1]) == 0


def test_headings_less_than_half_a_degree_apart_are_one() -> None:
    def turned(degrees: float) -> Heading:
        cos, sin = np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))
        return Heading(np.array([[cos, -sin], [sin, cos]]))

    for degrees, same in ((0.0, True), (0.5, True), (-0.5, True), (1.0, False), (180.0, False)):
        assert turned(40.0).among([turned(-70.0), turned(40.0 + degrees)]) is same
    assert not turned(0.0).among([])


@pytest.mark.parametrize(
    ("apart", "found"), [(88.9, False), (80.0, True), (55.0, True), (45.0, False)]
)
def test_directions_at_odd_angles_are_axes_of_a_stretched_picture(
    apart: float, found: bool
) -> None:
    """Between 50 and 88.5 degrees apart: right angles need no other heading, and no picture is
    stretched so far that they become less than 50."""
    angles = np.deg2rad(np.array([10.0, 10.0 + apart]))
    bins = np.arange(360) * np.pi / 360.0 - np.pi / 2
    picture = np.exp(60.0 * (np.cos(2.0 * (bins - angles[:, None])) - 1.0)).sum(axis=0)
    headings = contours._sheared(picture, BOTH)
    assert bool(headings) is found
    if found:
        assert {float(np.sign(np.linalg.det(h.matrix))) for h in headings} == set(BOTH)
        axes = [np.column_stack([np.cos(a), np.sin(a)]) for a in (angles, angles[::-1])]
        for axis in axes:
            assert off_deg(headings, axis.T).min() < 0.5
        assert len(contours._sheared(picture, (1.0,))) == len(headings) / 2


def shaped(ring: list[tuple[float, float]]) -> Region:
    corners = np.array(ring, dtype=np.float64)
    shape = shapely.Polygon(corners)
    hull = shapely.get_coordinates(shape.convex_hull)[:-1]
    return Region(corners, hull, float(shape.area))


@pytest.mark.parametrize(
    ("region", "similarity", "pairs"),
    [
        ([(0, 0), (79, 0), (79, 59), (0, 59)], True, True),
        # Of the same box, but a third of it is missing.
        ([(0, 0), (79, 0), (79, 20), (30, 20), (30, 59), (0, 59)], True, False),
        # Longer by a tenth, and by a third: such a room is the same in a stretched picture alone.
        ([(0, 0), (87, 0), (87, 59), (0, 59)], True, True),
        ([(0, 0), (106, 0), (106, 59), (0, 59)], True, False),
        ([(0, 0), (106, 0), (106, 59), (0, 59)], False, True),
        # No picture is stretched to twice the width and more.
        ([(0, 0), (179, 0), (179, 59), (0, 59)], False, False),
    ],
)
def test_regions_and_rooms_of_one_shape_are_pairs(
    region: list[tuple[float, float]], similarity: bool, pairs: bool
) -> None:
    walls = build_walls([(np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], dtype=float),)])
    heading = Heading(np.diag([1.0, -1.0]))
    poses = contours.match_regions([shaped(region)], walls, heading, similarity=similarity)
    assert bool(len(poses)) is pairs
    if pairs and not similarity:
        # The room's corners come to lie on the region's, rims of half a px included.
        low, high = walls.corners[0], walls.corners[2]
        ends = frames.apply(poses[0], np.array([low, high]))
        expected = [[-0.5, region[2][1] + 0.5], [region[1][0] + 0.5, -0.5]]
        np.testing.assert_allclose(ends, expected, atol=1e-9)


def test_of_very_many_pairs_the_likest_stay() -> None:
    """Forty regions of a room's shape and forty that are a little longer, for ten such rooms."""
    room = np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], dtype=float)
    walls = build_walls([(room + np.array([4100.0 * number, 0]),) for number in range(10)])
    exact = [(0, 0), (79, 0), (79, 59), (0, 59)]
    regions = []
    for number in range(80):
        wide = 79 if number % 2 else 87
        regions.append(shaped([(x * wide / 79 + 100.0 * number, y) for x, y in exact]))
    heading = Heading(np.diag([1.0, -1.0]))
    poses = contours.match_regions(regions, walls, heading, similarity=False)
    stretch = poses[:, 0, 0] / np.abs(poses[:, 1, 1])
    assert 300 <= len(poses) <= 400
    assert stretch == pytest.approx(1.0)
    few = contours.match_regions(regions[:4], walls, heading, similarity=False)
    assert len(few) == 40
