"""The pipeline as a whole: known answers, and doubt where doubt is due."""

from __future__ import annotations

import warnings
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
import pytest
import shapely
from affine import Affine
from numpy.typing import NDArray

from regmap import frames, synthetic
from regmap.errors import (
    DoubtfulFitWarning,
    NoFitError,
    RegmapError,
)
from regmap.register import quietly, register, stage_times
from regmap.registration import Registration
from tests.drawn_fits import SIZE, answer, drawn, error_px, flat, rms, solve
from tests.engine import scenes

# --- known answers -------------------------------------------------------------------------------

VIEWS: dict[str, dict[str, Any]] = {
    "upright": {},
    "turned": {"turn_deg": 33.0},
    "mirrored": {"turn_deg": 200.0, "mirrored": True},
    "lines": {"turn_deg": 33.0, "line_mm": 90.0, "one_colour": True},
    "stretched": {"turn_deg": 20.0, "stretch": 1.25},
    "stretched and mirrored": {"stretch": 0.8, "mirrored": True},
}


@pytest.mark.parametrize("view", list(VIEWS))
def test_the_truth_is_found_without_a_start(view: str) -> None:
    options = VIEWS[view]
    scene, fit = drawn(**options), answer(**options)
    off = error_px(fit, scenes.to_device(scene))
    assert rms(off) < 0.1
    assert fit.confidence >= 0.9
    assert not fit.alternatives
    assert fit.mirrored == options.get("mirrored", False)
    assert fit.model == ("affine" if "stretch" in options else "similarity")
    assert fit.image_size == SIZE
    assert {room.state for room in fit.rooms} == {"agrees"}
    assert [room.name for room in fit.rooms] == list(scene.rings)
    # What it says of itself: residuals are small, and the error stays below the one predicted.
    assert fit.reprojection_error < 0.3
    points = np.array([[150.0, 110.0], [60.0, 60.0], [240.0, 150.0]])
    limit = fit.expected_error(points) / fit.unit_per_px
    assert (error_px(fit, scenes.to_device(scene), points) <= limit).all()
    # Half a pixel would not do as a prediction for pictures as clean as these.
    assert (limit < 0.6).all()


def test_rooms_are_found_where_they_are() -> None:
    scene, fit = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    assert [room.name for room in fit.rooms] == list(scene.rings)
    for room in fit.rooms:
        polygon = shapely.Polygon(frames.apply(scene.to_image, scene.rings[room.name][0]))
        assert polygon.buffer(-2.0).contains(shapely.Point(room.label_px))
        # Small rooms lose much of their area to the rim of a few px that is no region.
        assert room.overlap > 0.5
        assert room.support > 0.8
        assert room.shown == pytest.approx(1.0, abs=1e-6)
        assert room.rmse_px < 0.3


def test_residuals_lie_on_the_outlines() -> None:
    scene, fit = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    borders = shapely.union_all(
        [
            shapely.LinearRing(frames.apply(scene.to_image, rings[0]))
            for rings in scene.rings.values()
        ]
    )
    away = np.asarray(shapely.distance(borders, shapely.points(fit.residuals[:, :2])))
    assert len(away) > 80
    assert np.median(away) < 0.1
    assert float(np.median(np.abs(fit.residuals[:, 2]))) < 0.1


@pytest.mark.parametrize("by_mm", [60.0, -60.0])
def test_the_wall_offset_is_solved_for(by_mm: float) -> None:
    """Outlines inside the drawn borders have a positive offset, those outside a negative one."""
    scene = drawn(turn_deg=33.0)
    rings = {name: scenes.inset(rings[0], by_mm) for name, rings in scene.rings.items()}
    fit = solve(scene.image, rings)
    assert fit.wall_offset == pytest.approx(by_mm, abs=6.0)
    assert rms(error_px(fit, scenes.to_device(scene))) < 0.15


def test_a_room_that_is_not_as_outlined_is_named() -> None:
    """The wall between kitchen and hall is gone, and the hall reaches up to where none is."""
    scene = drawn(turn_deg=33.0)
    rings = dict(scene.rings)
    rings["store"] = scenes.ring((6600, -600), (7600, -600), (7600, 300), (6600, 300))
    fit = solve(scene.image, rings)
    states = {room.name: room.state for room in fit.rooms}
    assert states.pop("store") == "disagrees"
    assert set(states.values()) == {"agrees"}
    assert rms(error_px(fit, scenes.to_device(scene))) < 0.2


def test_a_room_outside_the_picture_is_not_shown() -> None:
    scene = drawn()
    right = 197
    part = np.ascontiguousarray(scene.image[:, :right])
    fit = solve(part, scene.rings)
    states = {room.name: room.state for room in fit.rooms}
    assert states["store"] == "not shown"
    assert states["kitchen"] == states["hall"] == states["bath"] == "agrees"
    assert rms(error_px(fit, scenes.to_device(scene))) < 0.2


def test_far_origins_and_odd_units_change_nothing() -> None:
    scene, fit = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    for scale, shift in ((1.0, 1e9), (1e-6, 0.0), (1e6, -3e11)):
        rings = {n: tuple(scale * r + shift for r in rs) for n, rs in scene.rings.items()}
        other = solve(scene.image, rings, unit="furlong")
        expected = frames.compose(np.array([[scale, 0, shift], [0, scale, shift]]), fit.transform)
        assert error_px(other, expected).max() < 1e-3
        assert other.confidence == pytest.approx(fit.confidence, abs=1e-3)
        assert other.unit == "furlong"


# --- doubt ---------------------------------------------------------------------------------------


def twins() -> synthetic.Sample:
    return synthetic.sample("twin-mirror", 0)


@lru_cache
def twin_answer() -> Registration:
    sample = twins()
    with pytest.warns(DoubtfulFitWarning, match="tie point") as caught:
        fit = register(sample.image, sample.outlines)
    # The warning points at the caller's line.
    assert caught[0].filename == __file__
    return fit


def test_a_floor_that_is_its_own_mirror_image_has_two_answers() -> None:
    sample, fit = twins(), twin_answer()
    truths = [sample.image_to_device, *sample.alternatives]
    assert len(fit.alternatives) == 1
    both = (fit, *fit.alternatives)
    for truth in truths:
        assert min(rms(error_px(one, truth, sample.visible_px)) for one in both) < 0.5
    # Neither is likelier than the other, and none is to be relied on.
    assert fit.doubtful
    assert fit.confidence <= 0.5
    assert fit.alternatives[0].confidence == pytest.approx(fit.confidence)
    assert fit.mirrored != fit.alternatives[0].mirrored
    assert any("other position" in reason for reason in fit.reasons)


@pytest.mark.parametrize("which", [0, 1])
def test_one_tie_point_settles_a_twin(which: int) -> None:
    sample = twins()
    truth = [sample.image_to_device, *sample.alternatives][which]
    # A place by eye: several px off, far from where the twins meet.
    gaps = error_px(twin_answer(), truth, sample.visible_px)
    gaps += error_px(twin_answer().alternatives[0], truth, sample.visible_px)
    place = sample.visible_px[int(np.argmax(gaps))]
    tie = (tuple(place + np.array([3.0, -4.0])), tuple(frames.apply(truth, place)[0]))
    fit = solve(sample.image, sample.outlines, tie_points=[tie])
    assert rms(error_px(fit, truth, sample.visible_px)) < 0.5
    assert not fit.alternatives
    assert fit.confidence > 0.9


def test_knowing_whether_it_is_mirrored_settles_a_mirror_twin() -> None:
    sample = twins()
    for mirrored in (True, False):
        fit = solve(sample.image, sample.outlines, mirrored=mirrored)
        assert fit.mirrored is mirrored
        assert not fit.alternatives


def test_tie_points_that_contradict_the_picture_are_said_to() -> None:
    scene = drawn(turn_deg=33.0)
    wrong = ((20.0, 20.0), (0.0, 0.0))
    with pytest.raises(NoFitError) as caught:
        register(scene.image, scene.rings, tie_points=[wrong])
    assert "tie points contradict" in caught.value.reasons[0]
    assert "tie points contradict" in str(caught.value)
    # The picture's own answer is there to be looked at.
    assert caught.value.best is not None
    assert rms(error_px(caught.value.best, scenes.to_device(scene))) < 0.1
    assert caught.value.best.confidence < 0.05


def test_tie_points_that_agree_change_nothing() -> None:
    scene = drawn(turn_deg=33.0)
    ties = [
        (tuple(frames.apply(scene.to_image, corner)[0] + np.array([2.0, 1.0])), tuple(corner))
        for corner in (np.array([0.0, 0.0]), np.array([8600.0, 4800.0]))
    ]
    fit = solve(scene.image, scene.rings, tie_points=ties)
    assert error_px(fit, answer(turn_deg=33.0).image_to_device).max() < 0.01
    assert fit.confidence >= answer(turn_deg=33.0).confidence - 0.01


def test_the_wrong_handedness_is_no_sure_answer() -> None:
    scene = drawn(turn_deg=33.0)
    right = solve(scene.image, scene.rings, mirrored=False)
    assert error_px(right, answer(turn_deg=33.0).image_to_device).max() < 0.01
    wrong = solve(scene.image, scene.rings, mirrored=True)
    assert wrong.mirrored
    assert wrong.doubtful
    assert wrong.reasons


@pytest.mark.parametrize("kind", ["fit", "affine"])
def test_a_start_gives_the_same_answer(kind: str) -> None:
    scene, full = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    off = frames.compose(scenes.to_device(scene), np.array([[1, 0.01, 3.0], [-0.01, 1, -4.0]]))
    starts = {"fit": full, "affine": frames.matrix_to_affine(off)}
    fit = solve(scene.image, scene.rings, near=starts[kind])
    assert error_px(fit, full.image_to_device).max() < 0.02
    assert fit.confidence >= 0.9
    assert not fit.alternatives


def test_a_start_that_is_stretched_is_made_the_similarity_that_was_asked_for() -> None:
    scene, full = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    stretched = frames.compose(scenes.to_device(scene), np.array([[1.01, 0, 0], [0, 0.99, 0]]))
    fit = solve(scene.image, scene.rings, near=frames.matrix_to_affine(stretched))
    linear = fit.image_to_device[:, :2]
    assert linear @ linear.T == pytest.approx(fit.unit_per_px**2 * np.eye(2), abs=1e-6)
    assert error_px(fit, full.image_to_device).max() < 0.02


def test_a_start_far_off_is_no_sure_answer() -> None:
    scene = drawn(turn_deg=33.0)
    with pytest.raises(NoFitError):
        register(scene.image, scene.rings, near=Affine(20, 0, 1e9, 0, -20, 1e9))
    with pytest.raises(RegmapError, match="near lays the outlines"):
        register(scene.image, scene.rings, near=Affine(1e-9, 0, 0, 0, -1e-9, 0))


def test_a_doubtful_start_stays_doubtful_until_a_tie_point_settles_it() -> None:
    sample = synthetic.sample("twin-mirror", 3)
    start = quietly(sample.image, sample.outlines)
    assert start.confidence <= 0.5
    again = quietly(sample.image, sample.outlines, near=start)
    assert again.confidence <= start.confidence
    assert "started from" in again.reasons[0]
    place = start.to_image(start.outlines[next(iter(start.outlines))][0])[0]
    tie = ((float(place[0]), float(place[1])), tuple(start.to_device(place[None])[0].tolist()))
    assert quietly(sample.image, sample.outlines, near=start, tie_points=[tie]).confidence >= 0.9


def noise() -> NDArray[np.uint8]:
    return np.random.default_rng(3).integers(0, 255, (110, 150, 3), dtype=np.uint8)


def line() -> NDArray[np.uint8]:
    image = flat()
    image[:, 70:73] = 20
    return image


@pytest.mark.parametrize(
    ("picture", "model"),
    [(flat, "similarity"), (noise, "similarity"), (line, "similarity"), (flat, "affine")],
)
def test_a_picture_without_a_floor_fits_nowhere(picture: Any, model: str) -> None:
    with pytest.raises(NoFitError, match="fit this picture nowhere") as caught:
        register(picture(), scenes.FLOOR, model=model)
    best = caught.value.best
    assert best is not None
    assert best.confidence < 0.05
    assert caught.value.reasons == best.reasons
    assert caught.value.reasons
    assert np.isfinite(best.image_to_device).all()
    assert np.isfinite(best.expected_error((10.0, 10.0))).all()


@pytest.mark.parametrize(("family", "seed"), [("stranger", 1), ("next-storey", 2)])
def test_outlines_of_another_floor_are_refused(family: str, seed: int) -> None:
    sample = synthetic.sample(family, seed)
    fit = solve(sample.image, sample.outlines)
    assert fit.confidence < 0.5
    assert fit.reasons


def test_one_room_is_never_more_than_a_guess() -> None:
    scene = drawn(turn_deg=33.0)
    fit = solve(scene.image, {"living": scene.rings["living"]})
    assert fit.confidence <= 0.5
    assert any("alone" in reason for reason in fit.reasons)


# --- the same input, the same bits ---------------------------------------------------------------


def bits(fit: Registration) -> tuple[bytes, ...]:
    return (
        fit.image_to_device.tobytes(),
        fit.covariance.tobytes(),
        fit.residuals.tobytes(),
        repr((fit.confidence, fit.reprojection_error, fit.wall_offset, fit.rooms)).encode(),
    )


def test_the_same_bits_from_many_threads() -> None:
    scene, expected = drawn(turn_deg=33.0), bits(answer(turn_deg=33.0))

    def again(_: int) -> tuple[bytes, ...]:
        return bits(register(scene.image, scene.rings))

    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(again, range(4))) == {expected}


@pytest.mark.parametrize("threads", [1, 2])
def test_the_same_bits_with_any_number_of_threads_in_opencv(threads: int) -> None:
    scene = drawn(turn_deg=33.0)
    usual = cv2.getNumThreads()
    cv2.setNumThreads(threads)
    try:
        again = register(scene.image, scene.rings)
    finally:
        cv2.setNumThreads(usual)
    assert bits(again) == bits(answer(turn_deg=33.0))


def test_what_comes_in_stays_as_it_was() -> None:
    """Arrays are handed in that refuse to be written to, and some that do not."""
    scene = drawn(turn_deg=33.0)
    assert not scene.image.flags.writeable
    image, rings = scene.image.copy(), {n: [r.copy() for r in rs] for n, rs in scene.rings.items()}
    fit = register(image, rings)
    assert np.array_equal(image, scene.image)
    for name, ring in rings.items():
        assert np.array_equal(ring[0], scene.rings[name][0])
    # Nor does the answer change with them.
    rings["hall"][0][:] = 0.0
    image[:] = 0
    assert np.array_equal(fit.outlines["hall"][0], scene.rings["hall"][0])
    assert bits(fit) == bits(answer(turn_deg=33.0))


@pytest.mark.parametrize(
    ("family", "seed"), [("tiny", 0), ("cut-off", 5), ("round", 3), ("jpeg", 4), ("drawing", 3)]
)
def test_no_warning_but_doubt_comes_through(family: str, seed: int) -> None:
    sample = synthetic.sample(family, seed)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", DoubtfulFitWarning)
        fit = register(sample.image, sample.outlines, model=sample.model)
    off = rms(error_px(fit, sample.image_to_device, sample.visible_px))
    assert off < 2.0 or fit.doubtful


def test_times_of_stages_are_collected_where_asked_for() -> None:
    scene = drawn(turn_deg=33.0)
    with stage_times() as times:
        register(scene.image, scene.rings, near=answer(turn_deg=33.0))
    assert {"edges", "segment", "search", "refine", "judge"} <= set(times)
    assert min(times.values()) >= 0.0
    before = dict(times)
    register(scene.image, scene.rings, near=answer(turn_deg=33.0))
    assert times == before
