"""A stored fit moves into the frame of a new mapping run, and its predicted error with it."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest
from affine import Affine

from benchmarks.remaps import remap
from regmap import frames
from regmap.errors import DoubtfulFitWarning, RegmapError
from regmap.floors import FrameChange, align_outlines
from regmap.registration import Registration, RoomFit
from tests.fit_examples import make_fit
from tests.test_align import FLOOR, moved


@pytest.fixture(scope="module")
def turned() -> tuple[FrameChange, Affine]:
    new, truth = moved(FLOOR, 33.0, (25_000.0, -4_000.0))
    return align_outlines(FLOOR, new), truth


def old_fit(**changes: Any) -> Registration:
    rooms = tuple(RoomFit(name, "agrees", 0.9, 0.2, 0.8, 1.0, (10.0, 10.0)) for name in FLOOR)
    rings = {name: (ring,) for name, ring in FLOOR.items()}
    return make_fit(outlines=rings, rooms=rooms, **changes)


def test_positions(turned: tuple[FrameChange, Affine]) -> None:
    change, truth = turned
    fit = old_fit()
    there = change.registration(fit)
    px = np.array([[0.0, 0.0], [300.0, 40.0], [90.0, 410.0]])
    np.testing.assert_allclose(
        there.to_device(px), frames.apply(truth, fit.to_device(px)), atol=0.1
    )
    assert there.confidence == pytest.approx(fit.confidence * change.confidence)
    assert {room.state for room in there.rooms} == {"agrees"}
    assert list(there.outlines) == list(change.new_outlines)
    assert there.mirrored == fit.mirrored
    assert pickle.loads(pickle.dumps(there)).same_as(there)


def test_covariance_is_that_of_both_maps_in_a_row() -> None:
    """Against a simulation: coefficients of both maps drawn from their covariances."""
    case = remap("noise", 11)
    change = align_outlines(case.old, case.new)
    centre = case.corners.mean(axis=0)
    fit = make_fit(
        outlines=case.old, transform=Affine(20.0, 0, centre[0] - 6000, 0, -20.0, centre[1])
    )
    there = change.registration(fit)
    px = np.array([[40.0, 60.0], [600.0, 300.0]])
    rng = np.random.default_rng(0)
    a = rng.multivariate_normal(np.zeros(6), fit.covariance, 20_000).reshape(-1, 2, 3)
    b = rng.multivariate_normal(np.zeros(6), change.covariance, 20_000).reshape(-1, 2, 3)
    linear = frames.affine_to_matrix(change.old_to_new)[:, :2]
    g = np.column_stack([px - fit.anchor_px, np.ones(2)])
    h = np.column_stack([fit.to_device(px) - change.anchor, np.ones(2)])
    shift = np.einsum("ij,sjk,nk->nsi", linear, a, g) + np.einsum("sik,nk->nsi", b, h)
    floor = (fit.floor_error**2 + change.floor_error**2) * np.eye(2)
    for k, covariance in enumerate(there.position_covariance(px)):
        simulated = np.cov(shift[k].T) + floor
        np.testing.assert_allclose(covariance, simulated, atol=0.05 * np.trace(simulated))


def test_rooms_that_changed_do_not_agree() -> None:
    joined = {n: FLOOR[n] for n in ("loom", "stairs")}
    joined["both"] = np.array([[0, 4200], [3200, 4200], [3200, 2700], [7900, 2700],
                               [7900, 6900], [0, 6900]], float)  # fmt: skip
    there = align_outlines(FLOOR, joined).registration(old_fit())
    assert {room.name: room.state for room in there.rooms} == {
        "loom": "agrees",
        "stairs": "agrees",
        "both": "disagrees",
    }


def test_twins_come_along() -> None:
    room = {"cell": np.array([[0.0, 0], [5000, 0], [5000, 3000], [0, 3000]])}
    with pytest.warns(DoubtfulFitWarning):
        change = align_outlines(room, room)
    fit = make_fit(outlines={"cell": (room["cell"],)}, rooms=())
    there = change.registration(fit, accept_doubt=True)
    assert len(there.alternatives) == 1
    assert there.doubtful


def test_a_fit_of_something_else_is_refused(turned: tuple[FrameChange, Affine]) -> None:
    change, _ = turned
    with pytest.raises(RegmapError, match="another floor"):
        change.registration(make_fit())
    with pytest.raises(RegmapError, match="is in m, but"):
        change.registration(old_fit(unit="m"))
