"""The result: its arithmetic, what it refuses, and that nobody can change it."""

from __future__ import annotations

import dataclasses
import math
import pickle
from typing import Any

import numpy as np
import pytest
from affine import Affine

from regmap.errors import RegmapError
from regmap.registration import RoomFit, fits_nowhere
from tests.fit_examples import STUDY, TURNED, make_fit


def test_arithmetic_of_the_transform() -> None:
    fit = make_fit(transform=TURNED)
    assert fit.unit_per_px == pytest.approx(20.0)
    assert fit.rotation_deg == pytest.approx(30.0)
    assert not fit.mirrored
    assert make_fit(transform=Affine(1, 0, 0, 0, 1, 0)).mirrored
    px = np.array([[0.0, 0.0], [10.0, 0.0], [640.0, 480.0]])
    xy = fit.to_device(px)
    assert xy[0] == pytest.approx([-3000, 5200])
    assert xy[1] == pytest.approx([-3000 + 200 * math.cos(math.pi / 6), 5300])
    assert fit.to_image(xy) == pytest.approx(px)
    assert fit.device_to_image == pytest.approx(
        np.linalg.inv([*fit.image_to_device, [0, 0, 1]])[:2]
    )
    assert fit.to_device((10, 0)).shape == (1, 2)
    assert fit.to_device([]).shape == (0, 2)


def test_expected_error_is_what_perturbed_coefficients_do() -> None:
    """Draw transforms from the covariance; 95 % of their errors stay below the prediction."""
    fit = make_fit(transform=TURNED)
    rng = np.random.default_rng(11)
    draws = rng.multivariate_normal(np.zeros(6), fit.covariance, size=40_000).reshape(-1, 2, 3)
    for px in ([0.0, 0.0], [200.0, 150.0], [640.0, 100.0]):
        about = np.array([px[0] - fit.anchor_px[0], px[1] - fit.anchor_px[1], 1.0])
        errors = draws @ about + rng.normal(scale=fit.floor_error, size=(len(draws), 2))
        spread = np.cov(errors.T)
        assert fit.position_covariance(px)[0] == pytest.approx(spread, abs=0.04 * np.trace(spread))
        share = (np.hypot(*errors.T) < fit.expected_error(px)).mean()
        assert share == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / len(errors)))
        assert fit.error_ellipses(px).shape == (1, 3)


def test_expected_error_grows_away_from_the_anchor() -> None:
    fit = make_fit()
    away = np.linspace(0, 2000, 9)[:, None] * [[1.0, 0.3]] + fit.anchor_px
    assert (np.diff(fit.expected_error(away)) > 0).all()


def test_doubt() -> None:
    assert not make_fit(confidence=0.9).doubtful
    assert make_fit(confidence=0.8999).doubtful
    assert make_fit(alternatives=(make_fit(),)).doubtful
    assert "doubtful" in repr(make_fit(confidence=0.5))


def test_a_floor_that_fits_in_many_ways_does_not_fit_nowhere() -> None:
    assert fits_nowhere(0.04, [])
    assert not fits_nowhere(0.05, [])
    assert not fits_nowhere(0.03, [0.03] * 11)
    assert fits_nowhere(0.01, [0.01, 0.01])


def test_nothing_can_be_changed() -> None:
    mine = np.array([[0, 0], [1000, 0], [0, 1000]], float)
    fit = make_fit(outlines={"a": (mine,)})
    for array in (fit.covariance, fit.residuals, fit.outlines["a"][0]):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1
    anything: Any = fit
    with pytest.raises(TypeError):
        anything.outlines["b"] = ()
    with pytest.raises(dataclasses.FrozenInstanceError):
        anything.confidence = 1.0
    mine[:] = 7  # the caller's own array stays the caller's
    assert fit.outlines["a"][0][1, 0] == 1000
    assert mine.flags.writeable


def test_pickled_fit_is_the_same_and_still_read_only() -> None:
    fit = make_fit(alternatives=(make_fit(confidence=0.95, transform=TURNED),))
    again = pickle.loads(pickle.dumps(fit))
    assert again.same_as(fit)
    assert list(again.outlines) == list(fit.outlines)
    assert not again.covariance.flags.writeable
    assert not again.outlines["study"][0].flags.writeable
    assert not again.alternatives[0].covariance.flags.writeable


def test_comparing_never_raises() -> None:
    one, other = make_fit(), make_fit()
    assert one != other
    assert one == one
    assert len({one, other}) == 2
    assert one.same_as(other)
    assert not one.same_as(make_fit(wall_offset=np.nextafter(-12.5, 0)))
    assert not one.same_as(make_fit(outlines={"study": STUDY}))


def _covariance(**entries: float) -> np.ndarray:
    made = np.eye(6)
    for key, value in entries.items():
        made[int(key[1]), int(key[2])] = value
    return made


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"model": "rigid"}, "'rigid', but it must be among"),
        ({"confidence": 1.01}, "confidence is 1.01"),
        ({"confidence": math.nan}, "confidence is nan"),
        ({"reprojection_error": -1.0}, "reprojection_error is -1"),
        ({"wall_offset": math.inf}, "wall_offset"),
        ({"floor_error": -1e-9}, "floor_error"),
        ({"transform": Affine(1, 2, 0, 2, 4, 0)}, "cannot be inverted"),
        ({"transform": Affine(1, math.nan, 0, 2, 4, 0)}, "finite Affine"),
        ({"image_size": (0, 5)}, "image_size"),
        ({"image_size": (100.5, 5)}, "image_size"),
        ({"anchor_px": (1.0, math.inf)}, "anchor_px"),
        ({"covariance": np.eye(3)}, r"covariance's shape is \(3, 3\)"),
        ({"covariance": _covariance(c00=-1.0)}, "eigenvalue"),
        ({"covariance": _covariance(c01=0.5)}, "symmetric"),
        ({"covariance": _covariance(c01=2.0, c10=2.0)}, "eigenvalue"),
        ({"covariance": _covariance(c00=math.nan)}, "finite"),
        ({"residuals": np.zeros((4, 2))}, "residuals' shape"),
        ({"reasons": "one text"}, "several texts"),
        ({"outlines": {"a": (np.zeros((4, 3)),)}}, "outline 'a'"),
    ],
)
def test_odd_values_are_refused(changes: dict[str, object], text: str) -> None:
    with pytest.raises(RegmapError, match=text):
        make_fit(**changes)


@pytest.mark.parametrize(
    "changes",
    [{"state": "maybe"}, {"overlap": 1.5}, {"rmse_px": -0.1}, {"label_px": (1.0, math.nan)}],
)
def test_odd_rooms_are_refused(changes: dict[str, object]) -> None:
    fields: dict[str, Any] = {
        "name": "den",
        "state": "agrees",
        "overlap": 0.5,
        "rmse_px": 0.5,
        "support": 0.5,
        "shown": 1.0,
        "label_px": (1.0, 1.0),
    }
    RoomFit(**fields)
    with pytest.raises(RegmapError, match="room 'den'"):
        RoomFit(**{**fields, **changes})


def test_covariance_with_rounding_is_taken_and_made_symmetric() -> None:
    rng = np.random.default_rng(2)
    low_rank = rng.normal(size=(6, 4)) * np.array([1e-6, 1e-6, 10, 1e-6, 1e-6, 10])[:, None]
    noisy = low_rank @ low_rank.T
    noisy[0, 1] *= 1 + 1e-9
    kept = make_fit(covariance=noisy).covariance
    assert np.array_equal(kept, kept.T)


class TestControlPoints:
    def test_they_lie_on_corners_and_agree_with_the_transform(self) -> None:
        fit = make_fit(transform=TURNED)
        corners = {tuple(p) for rings in fit.outlines.values() for r in rings for p in r.tolist()}
        for pair in fit.control_points(4):
            assert pair.device in corners
            assert fit.to_device(pair.image)[0] == pytest.approx(pair.device)
            assert 0 <= pair.image[0] <= 640
            assert 0 <= pair.image[1] <= 480
            room, number = pair.name.rsplit(" ", 1)
            ring = np.concatenate(fit.outlines[room])
            assert tuple(ring[int(number) - 1]) == pair.device

    def test_corners_outside_the_picture_are_left_out(self) -> None:
        fit = make_fit(image_size=(251, 480))  # ends 20 mm beyond the study, at x = 4020
        assert all(pair.name.startswith("study") for pair in fit.control_points(8))

    @pytest.mark.parametrize("n", [3, 4, 6])
    def test_they_are_spread_nearly_as_well_as_can_be(self, n: int) -> None:
        """Against the best of all subsets: the determinant of the design, per point."""
        from itertools import combinations

        fit = make_fit(transform=TURNED)
        image = fit.to_image(
            np.unique(np.concatenate([*fit.outlines["study"], *fit.outlines["hall"]]), axis=0)
        )
        image = image[((image >= 0) & (image <= fit.image_size)).all(axis=1)]

        def spread(points: np.ndarray) -> float:
            rows = np.column_stack([points, np.ones(len(points))])
            return float(np.linalg.det(rows.T @ rows))

        best = max(spread(image[list(choice)]) for choice in combinations(range(len(image)), n))
        chosen = np.array([pair.image for pair in fit.control_points(n)])
        # D-efficiency, as in the design of experiments: 1 is the best there is.
        assert (spread(chosen) / best) ** (1 / 3) > 0.7

    def test_a_pair_of_rooms_sharing_a_corner_gives_it_once(self) -> None:
        ring = np.array([[0, 0], [1000, 0], [1000, 1000], [0, 1000]], float)
        fit = make_fit(outlines={"a": (ring,), "b": (ring + np.array([1000, 0]),)})
        points = fit.control_points(6)
        assert len({pair.device for pair in points}) == 6

    @pytest.mark.parametrize("n", [0, 15])
    def test_more_than_there_are_is_refused(self, n: int) -> None:
        with pytest.raises(RegmapError, match=f"{n} control points were asked for"):
            make_fit().control_points(n)
        with pytest.raises(RegmapError, match="shows 0 room corners"):
            make_fit(outlines={}).control_points(1)


def test_alternatives_are_registrations_too() -> None:
    given = make_fit(transform=TURNED)
    (other,) = make_fit(alternatives=[given]).alternatives
    assert other is given
    with pytest.raises(RegmapError, match="alternatives"):
        make_fit(alternatives=[given.to_dict()])
