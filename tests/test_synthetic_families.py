"""The families of made pictures: what they draw, and that the truth lies where it says."""

from __future__ import annotations

import json
from functools import cache

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, Polygon

from regmap import frames, synthetic
from regmap.synthetic.shapes import through

Array = NDArray[np.float64]
STRANGERS = ("stranger", "same-shell", "next-storey", "two-rooms-alike", "photo")
FITTING = [family for family in synthetic.FAMILIES if family not in STRANGERS]
SLOW = ("big", "many-rooms")
CENTRES = np.arange(4000) + frames.PIXEL_CENTRE


@cache
def made(family: str) -> synthetic.Sample:
    return synthetic.sample(family, 1)


# Exact painting -----------------------------------------------------------------------------------


@pytest.mark.parametrize("family", synthetic.FAMILIES)
def test_every_family_draws_what_it_says(family: str) -> None:
    sample = made(family)
    assert sample.image.dtype == np.uint8
    assert sample.image.ndim == 3
    assert sample.image.shape[2] == 3
    assert len(sample.visible_px) >= 40
    height, width = sample.image.shape[:2]
    assert (sample.visible_px >= 0).all()
    assert (sample.visible_px <= (width, height)).all()
    assert sample.mirrored == frames.is_mirrored(sample.image_to_device)
    assert all(len(ring) >= 3 for rings in sample.outlines.values() for ring in rings)
    assert sample.answer in ("fits", "twins", "stranger")
    assert bool(sample.alternatives) == (sample.answer == "twins")


@pytest.mark.parametrize("family", [f for f in synthetic.FAMILIES if f not in SLOW])
def test_same_seed_same_bits(family: str) -> None:
    first, again = made(family), synthetic.sample(family, 1)
    assert np.array_equal(first.image, again.image)
    assert np.array_equal(first.image_to_device, again.image_to_device)
    assert first.outlines.keys() == again.outlines.keys()


def test_another_seed_is_another_picture() -> None:
    first, other = made("flat"), synthetic.sample("flat", 2)
    assert first.image.shape != other.image.shape or not np.array_equal(first.image, other.image)


def test_an_unknown_family_is_refused_with_the_list_of_families() -> None:
    with pytest.raises(ValueError, match="flat, near-colours"):
        synthetic.sample("nonsense", 0)


def test_families_are_what_their_names_say() -> None:
    def pixels(family: str) -> int:
        height, width = made(family).image.shape[:2]
        return int(height * width)

    assert pixels("big") >= 10_000_000
    assert pixels("tiny") <= 400 * 400
    assert len(made("many-rooms").outlines) >= 60
    assert len(made("two-rooms").outlines) == 2
    assert made("mirrored").mirrored
    assert not made("flat").mirrored
    singular = np.linalg.svd(made("stretched").image_to_device[:, :2], compute_uv=False)
    assert 1.04 < singular[0] / singular[1] < 1.45
    assert made("stretched").model == "affine"
    plain = np.linalg.svd(made("turned").image_to_device[:, :2], compute_uv=False)
    assert plain[0] == pytest.approx(plain[1], rel=1e-9)


def test_cut_off_pictures_lose_a_part_of_the_floor() -> None:
    for seed in range(3):
        sample = synthetic.sample("cut-off", seed)
        height, width = sample.image.shape[:2]
        to_px = frames.invert(sample.image_to_device)
        rooms = shapely.union_all(
            [through(Polygon(r[0], r[1:]), to_px) for r in sample.outlines.values()]
        )
        share = rooms.intersection(shapely.box(0, 0, width, height)).area / rooms.area
        assert 0.3 < share < 0.95


def test_samples_tell_their_wall_offset() -> None:
    for seed in range(4):
        assert 0 < abs(synthetic.sample("offset", seed).wall_offset_mm) <= 150
    assert np.isnan(made("stranger").wall_offset_mm)


def test_a_bent_map_says_how_far_its_truth_goes() -> None:
    quality = [synthetic.sample("robot-recorded", seed).truth_quality_mm for seed in range(6)]
    assert max(quality) > 5
    assert max(quality) < 500


def test_twins_of_a_row_are_whole_steps_apart() -> None:
    sample = made("twin-shift")
    assert sample.alternatives
    for twin in sample.alternatives:
        assert np.allclose(twin[:, :2], sample.image_to_device[:, :2])
        assert np.hypot(*(twin - sample.image_to_device)[:, 2]) > 2500


def band_px(sample: synthetic.Sample) -> float:
    """How far an outline may be from its drawn border: 200 mm, and 2 px for lines."""
    return 2 + 200 / frames.scale_of(sample.image_to_device)


def edge_map(sample: synthetic.Sample) -> NDArray[np.float32]:
    """Strength of the picture's edges, the strongest within a band's reach."""
    grey = cv2.GaussianBlur(sample.image, (0, 0), 1.0).astype(np.float32).mean(axis=2)
    strength = np.hypot(cv2.Sobel(grey, cv2.CV_32F, 1, 0), cv2.Sobel(grey, cv2.CV_32F, 0, 1))
    strength = np.minimum(strength, np.percentile(strength, 99))
    band = int(band_px(sample))  # a line is two edges; outlines may stand at another face of a wall
    return np.asarray(cv2.dilate(strength, np.ones((2 * band + 1, 2 * band + 1))), np.float32)


def edge_strength(
    sample: synthetic.Sample, edges: NDArray[np.float32], matrix: Array, shift: Array
) -> float:
    """Mean strength under the outlines, as far as the picture shows them."""
    lines = MultiLineString([np.vstack([r[0], r[0][:1]]) for r in sample.outlines.values()])
    device = shapely.get_coordinates(shapely.segmentize(lines, 150.0))
    pixel = np.floor(frames.apply(frames.invert(matrix), device) + shift).astype(int)
    height, width = edges.shape
    inside = ((pixel >= 1) & (pixel < (width - 1, height - 1))).all(axis=1)
    return float(edges[pixel[inside, 1], pixel[inside, 0]].mean())


@pytest.mark.parametrize("family", [f for f in FITTING if f not in SLOW])
def test_the_truth_lays_the_outlines_on_edges_of_the_picture(family: str) -> None:
    sample = made(family)
    edges = edge_map(sample)
    true = edge_strength(sample, edges, sample.image_to_device, np.zeros(2))
    reach = 3 * band_px(sample)
    around = [
        edge_strength(
            sample, edges, sample.image_to_device, reach * np.array([np.cos(a), np.sin(a)])
        )
        for a in np.radians(np.arange(22.5, 360, 45))
    ]
    assert true > 1.02 * max(around)


@pytest.mark.parametrize("family", ["twin-mirror", "twin-turn", "twin-shift"])
@pytest.mark.parametrize("seed", [1, 201, 204])
def test_twins_lie_on_edges_as_the_truth_does(family: str, seed: int) -> None:
    sample = synthetic.sample(family, seed)
    edges = edge_map(sample)
    true = edge_strength(sample, edges, sample.image_to_device, np.zeros(2))
    assert sample.alternatives
    for twin in sample.alternatives:
        assert edge_strength(sample, edges, twin, np.zeros(2)) > 0.8 * true > 0


# Captures -----------------------------------------------------------------------------------------


SQUARE = np.array([[0.0, 0.0], [5000.0, 0.0], [5000.0, 5000.0], [0.0, 5000.0]])
INNER = np.array([[1000.0, 1000.0], [2000.0, 1000.0], [2000.0, 2000.0]])


def test_a_log_holds_the_last_outline_of_each_room_last() -> None:
    outlines = {"kitchen": [np.array([[0, 0], [4000, 0], [4000, 3000.4]])], "hall": [SQUARE, INNER]}
    text = synthetic.write_capture(outlines, np.random.default_rng(1), style="log", older=3)
    bodies = [json.loads(line[line.index("{") :]) for line in text.splitlines() if "{" in line]
    areas = [b for b in bodies if b["kind"] == "area"]
    assert len(areas) == 5
    last = {a["label"]: a for a in areas}
    assert last["kitchen"]["outline"] == "0,0;4000,0;4000,3000"
    assert last["hall"]["cutouts"] == ["1000,1000;2000,1000;2000,2000"]
    assert len({a["outline"] for a in areas}) == 5  # the earlier ones are others


def test_other_styles_hold_the_same_rings() -> None:
    outlines = {"a room": [SQUARE + 0.5, INNER]}
    rng = np.random.default_rng(1)
    text = synthetic.write_capture(outlines, rng, style="lines", decimals=1, older=0)
    rings = [json.loads(line) for line in text.splitlines()][-1]["outline"]
    assert np.array_equal(rings[0], SQUARE + 0.5)
    assert np.array_equal(rings[1], INNER)
    text = synthetic.write_capture(outlines, rng, style="escaped", decimals=1, older=0)
    body = json.loads(json.loads(text.splitlines()[-1])["body"])
    assert body["outline"].startswith("0.5,0.5;5000.5,0.5")
    text = synthetic.write_capture(outlines, rng, style="document", older=0)
    points = json.loads(text)["areas"][0]["cutouts"][0]
    assert [[p["x"], p["y"]] for p in points] == INNER.tolist()
    with pytest.raises(ValueError, match="log, escaped, lines, document"):
        synthetic.write_capture(outlines, rng, style="morse")


def test_a_robot_that_has_not_been_everywhere_leaves_rooms_unknown() -> None:
    """Fewer of the rooms' middles are free in the picture than where the robot went everywhere."""

    def free_share(family: str) -> float:
        shares = []
        for seed in range(4):
            sample = synthetic.sample(family, seed)
            middles = [np.mean(rings[0], axis=0) for rings in sample.outlines.values()]
            place = frames.apply(frames.invert(sample.image_to_device), np.array(middles))
            column, row = np.floor(place).astype(int).T
            height, width = sample.image.shape[:2]
            good = (column >= 0) & (row >= 0) & (column < width) & (row < height)
            unknown = sample.image[0, 0]
            seen = sample.image[row[good], column[good]]
            shares.append(float((seen != unknown).any(axis=1).mean()))
        return float(np.mean(shares))

    assert free_share("robot-explored") < 0.9 * free_share("robot-recorded")
