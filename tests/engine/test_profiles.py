"""Profiles across walls: what is read, and where the steps in it lie."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.special import erf

from regmap.engine import profiles
from regmap.engine.profiles import Chunks, Paint
from regmap.engine.walls import build_walls, sample_walls
from tests.engine import scenes

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]


def some_image(shape: tuple[int, ...]) -> Picture:
    return np.random.default_rng(7).integers(0, 255, shape, dtype=np.uint8)


@pytest.mark.parametrize("channels", [1, 3])
def test_bilinear_reading_against_scipy(channels: int) -> None:
    image = some_image((40, 50, channels))
    rng = np.random.default_rng(3)
    points = np.stack([rng.uniform(0.5, 49.4, 300), rng.uniform(0.5, 39.4, 300)], axis=1)
    found = profiles.read_colours(image, points.reshape(30, 10, 2))
    assert found.shape == (30, 10, channels)
    # scipy counts rows and columns from the pixels' centres.
    where = [points[:, 1] - 0.5, points[:, 0] - 0.5]
    for channel in range(channels):
        plane = image[..., channel].astype(np.float64)
        expected = map_coordinates(plane, where, order=1)
        # Single precision of values up to 255.
        np.testing.assert_allclose(found[..., channel].ravel(), expected, atol=2e-4)


def test_outside_the_picture_its_rim_goes_on() -> None:
    image = some_image((6, 9, 3))
    points = np.array([[-5.0, -5.0], [100.0, 3.5], [4.5, 1e9]])
    found = profiles.read_colours(image, points)
    expected = np.array([image[0, 0], image[3, 8], image[5, 4]])
    np.testing.assert_allclose(found, expected, atol=0.3)


@pytest.mark.parametrize("shape", [(1, 1, 3), (1, 30, 3), (30, 1, 1)])
def test_pictures_of_one_row_or_column(shape: tuple[int, ...]) -> None:
    image = some_image(shape)
    found = profiles.read_colours(image, np.array([[0.5, 0.5], [shape[1] - 0.5, shape[0] - 0.5]]))
    np.testing.assert_allclose(found, np.array([image[0, 0], image[-1, -1]]), atol=0.3)


def test_profiles_run_outward_along_the_normal() -> None:
    column, row = np.meshgrid(np.arange(80) + 0.5, np.arange(60) + 0.5)
    image = (2.0 * column + row + 0.5)[..., None].astype(np.uint8)
    point, normal = np.array([[30.0, 20.0], [40.0, 31.0]]), np.array([[1.0, 0.0], [0.6, 0.8]])
    slope = np.array([2.0, 2.0 * 0.6 + 0.8])
    for exact in (True, False):
        values, offset = profiles.normal_profiles(
            image, point, normal, half=4.0, step=0.5, exact=exact
        )
        assert offset.tolist() == (np.arange(-8, 9) * 0.5).tolist()
        expected = (2.0 * point[:, 0] + point[:, 1] + 0.5)[:, None] + slope[:, None] * offset
        # OpenCV rounds places to 1/32 px and values to whole grey levels.
        np.testing.assert_allclose(values[..., 0], expected, atol=0.02 if exact else 0.6)


def chunks_of(count: int, size: int) -> Chunks:
    """`count` samples in runs of `size`, all of one wall and one room."""
    first = np.arange(0, count, size)
    zero = np.zeros(len(first), dtype=np.int64)
    each = np.diff(np.append(first, count))
    return Chunks(first, zero, zero, zero, each, each.astype(np.float64))


def response(profile: Floats, size: int, step: float = 0.5) -> tuple[Floats, Floats, Floats]:
    weight = np.ones(len(profile), dtype=np.float32)
    chunks = chunks_of(len(profile), size)
    strength, coherence, error = profiles.edge_response(
        profile.astype(np.float32), profiles.averages(chunks, weight), chunks.count, step=step
    )
    return strength.astype(np.float64), coherence.astype(np.float64), error.astype(np.float64)


def test_the_response_to_a_ramp_is_its_slope() -> None:
    offset = np.arange(-20, 21) * 0.5
    slopes = np.array([3.0, -4.0, 0.0])
    ramp = 100.0 + offset[None, :, None] * slopes
    strength, coherence, error = response(np.repeat(ramp, 4, axis=0), 4)
    # Away from the ends; three channels add up as lengths do.
    np.testing.assert_allclose(strength[:, 8:-8], 5.0, rtol=1e-4)
    np.testing.assert_allclose(coherence[:, 8:-8], 1.0, rtol=1e-4)
    np.testing.assert_allclose(error[:, 8:-8], 0.0, atol=0.05)


def test_the_response_to_a_blurred_step() -> None:
    """A Gaussian derivative on a Gaussian step: the peak is A / sqrt(2 pi (s^2 + b^2)), with the
    step's blur s and the filter's own b."""
    contrast, blur, own = 100.0, 1.2, 0.9
    offset = np.arange(-24, 25) * 0.25
    profile = 60.0 + contrast * 0.5 * (1.0 + erf(offset / (blur * np.sqrt(2.0))))
    strength, _, _ = response(profile[None, :, None], 1, step=0.25)
    assert int(np.argmax(strength)) == 24
    expected = contrast / np.sqrt(2.0 * np.pi * (blur**2 + own**2))
    assert strength[0, 24] == pytest.approx(expected, rel=0.02)


def test_coherence_tells_a_border_from_noise() -> None:
    rng = np.random.default_rng(9)
    noise = rng.normal(128.0, 20.0, (900, 33, 3))
    _, of_noise, _ = response(noise, 9)
    # The mean of n random vectors is 1 / sqrt(n) of their lengths.
    assert of_noise.mean() == pytest.approx(1.0 / 3.0, abs=0.04)
    edge = np.where(np.arange(33) > 16, 200.0, 80.0)[None, :, None] + noise * 0.1
    _, of_edge, _ = response(edge, 9)
    assert of_edge[:, 15:18].min() > 0.9


@pytest.mark.parametrize("size", [4, 6, 9, 20])
@pytest.mark.parametrize("channels", [1, 3])
def test_the_error_of_a_step_is_what_noise_makes_of_it(size: int, channels: int) -> None:
    """On nothing but noise the steps are errors, and their mean square is that of the error, which
    for few samples is that of Student's t: larger by (n - 1) / (n - 3)."""
    rng = np.random.default_rng(21)
    steps, _, error = response(rng.normal(128.0, 10.0, (600 * size, 25, channels)), size)
    told = np.sqrt((error[:, 6:-6] ** 2).mean() * (size - 3) / (size - 1))
    # Steps are compared by direction: their mean length is less than their root mean square.
    assert told == pytest.approx(np.sqrt((steps[:, 6:-6] ** 2).mean()), rel=0.3)
    assert np.isinf(response(rng.normal(128.0, 10.0, (30, 25, channels)), 3)[2]).all()


def test_samples_without_weight_have_no_say() -> None:
    offset = np.arange(-10, 11) * 0.5
    profile = np.stack([offset * 4.0, offset * -900.0])[..., None]
    average = profiles.averages(chunks_of(2, 2), np.array([1.0, 0.0], np.float32))
    few = np.array([2])
    strength, _, _ = profiles.edge_response(profile.astype(np.float32), average, few, step=0.5)
    assert strength[0, 10] == pytest.approx(4.0, rel=1e-3)


@pytest.mark.parametrize("size", [1, 6, 50])
def test_chunks_part_the_samples(size: int) -> None:
    walls = build_walls(list(scenes.FLOOR.values()))
    samples = sample_walls(walls, 700)
    chunks = profiles.chunk_samples(samples, walls.bend, size)
    assert chunks.first[0] == 0
    assert (np.diff(chunks.first) == chunks.count[:-1]).all()
    assert int(chunks.count.sum()) == len(samples.point)
    assert chunks.weight.sum() == pytest.approx(samples.weight.sum())
    assert chunks.count.max() <= 1.5 * size
    for first, count, wall, room in zip(
        chunks.first, chunks.count, chunks.wall, chunks.room, strict=True
    ):
        run = slice(first, first + count)
        assert set(walls.bend[samples.wall[run]]) == {wall}
        assert set(samples.room[run]) == {room}


def test_the_paint_of_rooms_shines_through_print() -> None:
    image = np.full((60, 90, 3), (200, 180, 90), dtype=np.uint8)
    image[:, 45:] = (40, 90, 150)
    cv2.putText(image, "Room", (5, 40), cv2.FONT_HERSHEY_SIMPLEX, 0.8, (0, 0, 0), 2)
    rng = np.random.default_rng(5)
    left, right = rng.uniform((3, 3), (42, 57), (40, 2)), rng.uniform((48, 3), (87, 57), (40, 2))
    half_out = np.where(np.arange(40)[:, None] % 2 == 0, right, [1e6, -1e6])
    gone = np.full((40, 2), -50.0)
    paint = profiles.room_paint(image, np.stack([left, right, half_out, gone]))
    np.testing.assert_allclose(paint.colour[0], (200, 180, 90), atol=1)
    np.testing.assert_allclose(paint.colour[1], (40, 90, 150), atol=1)
    np.testing.assert_allclose(paint.colour[2], (40, 90, 150), atol=1)
    assert paint.spread[:3].max() < 3.0
    # A room out of the picture has no colour that anything could differ from.
    assert paint.spread[3] == 255.0
    assert np.isfinite(paint.colour).all()


def test_an_area_marked_on_a_room_gives_it_a_second_colour() -> None:
    image = np.full((80, 80, 3), (200, 180, 90), dtype=np.uint8)
    image[:, 30:] = (220, 120, 80)  # the same room under a translucent area
    points = np.random.default_rng(6).uniform(3, 77, (1, 60, 2))
    paint = profiles.room_paint(image, points)
    both = np.stack([paint.colour[0], paint.second[0]])
    np.testing.assert_allclose(both, [(220, 120, 80), (200, 180, 90)], atol=3)
    assert paint.spread[0] < 3.0
    # A few strokes of a pen are no colour of the room.
    image[:] = (200, 180, 90)
    image[::10] = (0, 0, 0)
    paint = profiles.room_paint(image, points)
    np.testing.assert_allclose(paint.second[0], paint.colour[0])


def test_the_spread_measures_texture() -> None:
    rng = np.random.default_rng(5)
    image = np.clip(rng.normal(120, 10, (80, 80, 3)), 0, 255).astype(np.uint8)
    points = rng.uniform(3, 77, (1, 400, 2))
    # Bilinear reading averages: 10 levels of pixel noise are about 6.7 between the pixels (the
    # mean square of the weights is 4/9 for places spread evenly).
    spread = profiles.room_paint(image, points).spread[0]
    assert spread == pytest.approx(10.0 * 2.0 / 3.0, rel=0.15)


def test_a_room_ends_where_its_colour_does() -> None:
    step = 0.5
    offset = np.arange(-16, 17) * step
    # The room up to 1.0, then a wall of 3 px, then another room.
    inside, wall, beyond = (180.0, 160.0, 90.0), (40.0, 40.0, 40.0), (90.0, 150.0, 200.0)
    colour = np.where(
        (offset < 1.0)[:, None], inside, np.where((offset < 4.0)[:, None], wall, beyond)
    )
    profile = np.repeat(colour[None], 4, axis=0).astype(np.float32)
    paint = Paint(
        np.array([inside], np.float32),
        np.array([inside], np.float32),
        np.array([1.0], np.float32),
        1.0,
    )
    room = np.zeros(4, dtype=np.int64)
    weight = np.ones(4, dtype=np.float32)
    chunks = chunks_of(4, 4)
    average = profiles.averages(chunks, weight)
    every, lasting = profiles.room_ends(profile, chunks, average, paint, room, step=step)
    ends = every[0]
    at = {float(place): float(value) for place, value in zip(offset, ends, strict=True)}
    assert at[0.5] > 0.9
    # Deep inside, and at the wall's other face, nothing ends.
    assert at[-5.0] < 0.05
    assert at[4.5] < 0.2
    assert ends.min() >= 0.0
    assert ends.max() <= 1.0
    # The other room behind the wall is not this one come back.
    assert lasting[0][offset == 0.5] > 0.7
    # A line of 3 px upon the room ends it as well, but not for long.
    profile[:, offset >= 4.0] = inside
    every, lasting = profiles.room_ends(profile, chunks, average, paint, room, step=step)
    assert every[0][offset == 0.5] > 0.9
    assert lasting[0][offset == 0.5] < 0.35
    # A bright path in the other room ends this one's colour no more than little: that had ended.
    profile[:, offset >= 4.0] = beyond
    profile[:, (offset >= 5.0) & (offset < 7.0)] = 255.0
    profile[:, (offset >= 1.0) & (offset < 4.0)] = beyond
    every, lasting = profiles.room_ends(profile, chunks, average, paint, room, step=step)
    assert (every * lasting)[0][offset == 4.5] < 0.2 * (every * lasting)[0][offset == 0.5]


def drawn_line(phases: Floats, *, crisp: bool) -> tuple[Picture, Floats, Floats]:
    """Rows of which each has a step of its own phase; places on the steps and their normals."""
    column = np.arange(40)[None, :]
    place = 20.0 + phases[:, None]
    covered = np.clip(place - column, 0.0, 1.0)
    covered = np.rint(covered) if crisp else covered
    image = np.rint(60 + 140 * covered)[..., None].astype(np.uint8)
    rows = np.arange(len(phases)) + 0.5
    point = np.stack([place[:, 0], rows], axis=1)
    return image, point, np.tile([1.0, 0.0], (len(phases), 1))


def test_sharpness_tells_whether_borders_are_anti_aliased() -> None:
    """With anti-aliasing a pixel is covered by f, evenly spread over 0..1, and the larger of the
    two steps is max(f, 1 - f) of the whole: 3/4 on average."""
    phases = (np.arange(200) + 0.5) / 200
    for transposed in (False, True):
        for crisp, expected in ((False, 0.75), (True, 1.0)):
            image, point, normal = drawn_line(phases, crisp=crisp)
            if transposed:
                image = np.ascontiguousarray(image.swapaxes(0, 1))
                point, normal = point[:, ::-1], normal[:, ::-1]
            found = profiles.step_sharpness(image, point, normal)
            assert found == pytest.approx(expected, abs=0.02)


def test_slanted_borders_say_nothing_of_sharpness() -> None:
    image, point, normal = drawn_line(np.zeros(50), crisp=True)
    slanted = np.tile([0.8, 0.6], (50, 1))
    assert profiles.step_sharpness(image, point, slanted) == 0.5
    blank = np.full_like(image, 90)
    assert profiles.step_sharpness(blank, point, normal) == 0.5
    assert profiles.step_sharpness(blank, np.zeros((0, 2)), np.zeros((0, 2))) == 0.5
