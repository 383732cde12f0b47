"""Regions of a picture: rooms come back with their place and size, print and paths or not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap import frames
from regmap.engine import segment
from regmap.engine.edges import find_edges
from regmap.engine.segment import Region, RegionMaps, find_silhouettes, overlaps
from tests.engine import scenes

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]


def laid(scene: scenes.Scene) -> dict[str, shapely.Polygon]:
    """The rooms in the picture, px."""
    return {
        name: shapely.Polygon(frames.apply(scene.to_image, rings[0]))
        for name, rings in scene.rings.items()
    }


def share(region: Region, room: shapely.Polygon) -> float:
    """Intersection over union. A contour joins pixel centres: its pixels reach half a px more."""
    shape = shapely.make_valid(shapely.Polygon(region.contour)).buffer(0.5, join_style="mitre")
    return float(shape.intersection(room).area / shape.union(room).area)


def likest(regions: list[Region], room: shapely.Polygon) -> Region:
    return max(regions, key=lambda region: share(region, room))


def bounds(region: Region) -> Floats:
    return np.concatenate([region.contour.min(axis=0) - 0.5, region.contour.max(axis=0) + 0.5])


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 27.0])
def test_every_room_is_a_region(turn_deg: float) -> None:
    scene = scenes.scene(turn_deg=turn_deg)
    regions = RegionMaps(find_edges(scene.image, 1.0)).every
    for room in laid(scene).values():
        region = likest(regions, room)
        # In the gradient a border is a few px wide, and belongs to no region; corners are rounded.
        assert np.abs(bounds(region) - room.bounds).max() < (6.0 if turn_deg % 90 else 4.5)
        assert room.buffer(-4.0).area < region.area < room.area
        assert room.buffer(1.0).contains(shapely.Polygon(region.contour))
        assert np.hypot(*(region.contour.mean(axis=0) - middle_of(room))) < 2.0


def middle_of(room: shapely.Polygon) -> Floats:
    """The middle of a room's outline: of its border, as contours have it."""
    return np.array(room.exterior.centroid.coords[0])


def test_the_area_counts_pixels() -> None:
    regions = RegionMaps(find_edges(scenes.scene(turn_deg=27.0).image, 1.0)).every
    counted = 0
    for region in regions:
        shape = shapely.Polygon(region.contour)
        if not shape.is_valid:
            continue
        (left, top), (right, bottom) = region.contour.min(axis=0), region.contour.max(axis=0)
        x, y = np.meshgrid(np.arange(left, right + 1), np.arange(top, bottom + 1))
        assert region.area == shapely.intersects_xy(shape, x.ravel(), y.ravel()).sum()
        counted += 1
    assert counted > 6


def test_regions_end_with_the_picture() -> None:
    image = np.full((120, 160, 3), 60, dtype=np.uint8)
    image[:, 80:] = 200
    regions = RegionMaps(find_edges(image, 1.0)).every
    for region in regions:
        assert (bounds(region) >= 0).all()
        assert (bounds(region) <= [160, 120, 160, 120]).all()
    for box in (shapely.box(0, 0, 80, 120), shapely.box(80, 0, 160, 120)):
        assert np.abs(bounds(likest(regions, box)) - box.bounds).max() < 4


def test_the_hull_holds_the_contour() -> None:
    for region in RegionMaps(find_edges(scenes.scene(turn_deg=27.0).image, 1.0)).every:
        expected = shapely.MultiPoint(region.contour).convex_hull
        assert expected.symmetric_difference(shapely.Polygon(region.hull)).area < 1e-3


def with_print(image: Picture) -> Picture:
    image = image.copy()
    font, grey = cv2.FONT_HERSHEY_SIMPLEX, (40, 40, 40)
    for text, place in (("Hall 9 m2", (105, 274)), ("Kitchen", (80, 157)), ("14.5", (307, 112))):
        cv2.putText(image, text, place, font, 0.35, grey, 1, cv2.LINE_AA)
    return image


def with_path(image: Picture) -> Picture:
    image = image.copy()
    rows = np.arange(90, 285, 30)
    path = np.array([(75 if n % 2 else 375, row) for n, row in enumerate(rows)], dtype=np.int32)
    cv2.polylines(image, [path.reshape(-1, 1, 2)], False, (250, 250, 250), 1, cv2.LINE_AA)
    return image


@pytest.mark.parametrize("clutter", [with_print, with_path])
def test_clutter_splits_no_room(clutter: object) -> None:
    assert callable(clutter)
    scene = scenes.scene(size=(450, 330))
    image = clutter(scene.image)
    assert np.abs(image.astype(int) - scene.image).max() > 20
    regions = RegionMaps(find_edges(image, 1.0)).every
    for name, room in laid(scene).items():
        assert share(likest(regions, room), room) > 0.65, name


def test_an_open_door_joins_no_rooms() -> None:
    """Two rooms of one colour between dark walls, with a door in the wall between them."""
    image = np.full((220, 300, 3), 235, dtype=np.uint8)
    for top, bottom, left, right in ((20, 200, 20, 150), (20, 200, 150, 280)):
        cv2.rectangle(image, (left, top), (right, bottom), (40, 40, 40), 3)
    image[95:101, 148:153] = 235
    regions = RegionMaps(find_edges(image, 1.0)).every
    for box in (shapely.box(22, 22, 149, 199), shapely.box(152, 22, 279, 199)):
        assert share(likest(regions, box), box) > 0.85


def test_overlaps_against_shapely() -> None:
    scene = scenes.scene(turn_deg=27.0)
    walls = scene.walls
    pose = scene.pose(walls)
    rooms = list(laid(scene).values())
    shifts = np.array([[0, 0], [3, -2], [8, 5], [-14, 4], [0, 22], [300, 300]], dtype=np.float64)
    regions = []
    for room, shift in zip(rooms, shifts, strict=True):
        contour = shapely.get_coordinates(shapely.segmentize(room.exterior, 1.0))[:-1] + shift
        regions.append(Region(contour, contour, room.area))
    found = overlaps(regions, walls.rings, pose)
    for number, room in enumerate(rooms):
        shapes = [shapely.Polygon(region.contour) for region in regions]
        expected = max(room.intersection(s).area / room.union(s).area for s in shapes)
        if np.isnan(found[number]):
            assert expected < 0.45
        else:
            assert found[number] == pytest.approx(expected, abs=0.03)
    assert found[0] > 0.97
    assert np.isnan(found[-1])
    assert np.isnan(overlaps([], walls.rings, pose)).all()


@pytest.mark.parametrize("shape", [(1, 1, 3), (1, 50, 3), (60, 80, 1)])
def test_an_empty_picture_is_one_region_at_most(shape: tuple[int, int, int]) -> None:
    assert len(RegionMaps(find_edges(np.full(shape, 90, dtype=np.uint8), 1.0)).every) <= 1


def test_rooms_under_a_path_as_dense_as_its_own_lines_are_found_by_their_colour() -> None:
    """Two rooms of different colours, hatched all over by strokes three pixels apart."""
    image = np.full((160, 240, 3), 40, np.uint8)
    rooms = {"a": (20, 20, 110, 140), "b": (112, 20, 220, 140)}
    colours = {"a": (200, 90, 40), "b": (60, 120, 210)}
    for name, (left, top, right, bottom) in rooms.items():
        image[top:bottom, left:right] = colours[name]
        for column in range(left + 6, right - 6, 5):
            image[top + 6 : bottom - 6, column : column + 2] = 250
    regions = segment.colour_regions(find_edges(image, 1.0))
    for left, top, right, bottom in rooms.values():
        box = np.array([left, top, right, bottom], dtype=float)
        found = [np.concatenate([r.contour.min(axis=0), r.contour.max(axis=0)]) for r in regions]
        assert min(np.abs(f - box).max() for f in found) <= 3.0


def test_a_picture_of_one_colour_or_of_noise_gives_few_colours() -> None:
    plain = np.full((60, 80, 1), 128, np.uint8)
    assert len(segment._colour_masks(plain)) == 1
    noise = np.random.default_rng(2).integers(0, 256, (60, 80, 3)).astype(np.uint8)
    assert len(segment._colour_masks(noise)) <= 12


@pytest.mark.parametrize("turn_deg", [0.0, 27.0])
def test_a_floor_full_of_lines_is_one_silhouette(turn_deg: float) -> None:
    """Whatever is drawn upon its rooms, which are flat nowhere."""
    scene = scenes.scene(size=(420, 310), turn_deg=turn_deg)
    rooms = laid(scene)
    image = scene.image.copy()
    ground = image[0, 0].copy()
    row, column = np.mgrid[: image.shape[0], : image.shape[1]]
    lines = (image != ground).any(axis=2) & ((row + 2 * column) % 9 < 4)
    image[lines] = 255
    edges = find_edges(image, 1.0)
    found = find_silhouettes(edges)
    seams = shapely.union_all(list(rooms.values())).buffer(0.2, join_style="mitre")
    whole = shapely.Polygon(shapely.get_coordinates(shapely.get_exterior_ring(seams)))
    assert share(found[0], whole) > 0.93
    assert bounds(found[0]) == pytest.approx(whole.bounds, abs=3.0)
    # A blank picture has none.
    assert find_silhouettes(find_edges(np.full((60, 80, 3), 9, dtype=np.uint8), 1.0)) == []
