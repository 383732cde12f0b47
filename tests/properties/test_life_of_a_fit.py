"""A fit is made, stored, loaded, verified, carried over to a new mapping run, in any order.

The truth of the made floor is known all along, so that every step is compared with it and not with
the step before.
"""

from __future__ import annotations

import math
import tempfile
import warnings
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from numpy.typing import NDArray

import regmap
from regmap import frames
from regmap.errors import RegmapError, StoredFileError
from regmap.registration import Registration
from regmap.synthetic import draw, make_floor, robot_outlines

Floats = NDArray[np.float64]
WITHIN_PX = 0.5


@lru_cache
def scene() -> tuple[NDArray[np.uint8], dict[str, Any], Floats]:
    """A small picture, the outlines, and the true map picture -> device (2, 3)."""
    rng = np.random.default_rng(3)
    floor = make_floor(rng, rooms=6)
    device = robot_outlines(floor, rng, shapes=floor.cells)
    picture = draw(floor, rng, size=(840, 680), turn_deg=12.0)
    truth = frames.compose(device.floor_to_device, picture.image_to_floor)
    return picture.image, dict(device.rings), truth


@lru_cache
def first_fit() -> Registration:
    image, rings, _ = scene()
    return regmap.register(image, rings)


class LifeOfAFit(RuleBasedStateMachine):
    """`fit` is what a user holds; `truth` (2, 3) is what it should be."""

    @initialize()
    def make(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "fit.json"
        self.fit, self.outlines = first_fit(), scene()[1]
        self.truth = scene()[2]
        self.stored: tuple[Registration, Floats, Any] | None = None

    def teardown(self) -> None:
        self.folder.cleanup()

    @rule()
    def store(self) -> None:
        if self.path.exists():
            with pytest.raises(StoredFileError):
                self.fit.save(self.path)
        self.fit.save(self.path, overwrite=True)
        self.stored = (self.fit, self.truth, self.outlines)

    @precondition(lambda self: self.stored is not None)
    @rule()
    def load(self) -> None:
        assert self.stored is not None
        before, self.truth, self.outlines = self.stored
        self.fit = Registration.load(self.path)
        assert self.fit.same_as(before)

    @precondition(lambda self: self.stored is not None)
    @rule(cut=st.integers(0, 99))
    def store_is_cut_short(self, cut: int) -> None:
        whole = self.path.read_bytes()
        self.path.write_bytes(whole[: len(whole) * cut // 100])
        with pytest.raises(StoredFileError):
            Registration.load(self.path)
        self.path.write_bytes(whole)

    @rule()
    def verify(self) -> None:
        found = regmap.verify(self.fit, scene()[0])
        assert found.holds
        assert found.drift_px is not None
        assert found.drift_px < WITHIN_PX

    @rule(turn=st.sampled_from([0, 0.3, math.pi / 2, 2.0]), x=st.integers(-9, 9))
    def map_again(self, turn: float, x: int) -> None:
        """The robot maps the same floor again: its frame is turned and shifted."""
        c, s = math.cos(turn), math.sin(turn)
        moved = np.array([[c, -s, 1000.0 * x], [s, c, -700.0 * x]])
        new = {
            name: tuple(frames.apply(moved, ring) for ring in rings)
            for name, rings in self.outlines.items()
        }
        change = regmap.align_outlines(self.outlines, new)
        self.fit = change.registration(self.fit)
        self.outlines, self.truth = new, frames.compose(moved, self.truth)

    @rule()
    def register_near(self) -> None:
        self.fit = regmap.register(scene()[0], self.outlines, near=self.fit)

    @rule()
    def use(self) -> None:
        places = self.fit.to_image(next(iter(self.outlines.values()))[0])
        area = regmap.areas.to_device(self.fit, places, keep_off="expected")
        assert area.geometry.area > 0
        with pytest.raises(RegmapError):
            regmap.areas.to_device(self.fit, places[:0])

    @invariant()
    def is_true(self) -> None:
        if not hasattr(self, "fit"):
            return
        corners = np.array([[0.0, 0], [840, 0], [840, 680], [0, 680]])
        gap = self.fit.to_device(corners) - frames.apply(self.truth, corners)
        assert np.hypot(*gap.T).max() < WITHIN_PX * self.fit.unit_per_px
        assert not self.fit.doubtful
        assert list(self.fit.outlines) == list(self.outlines)


TestLifeOfAFit = LifeOfAFit.TestCase
TestLifeOfAFit.settings = settings(
    max_examples=6, stateful_step_count=10, deadline=None, derandomize=True
)


def test_the_first_fit_is_quick_and_sure() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert first_fit().confidence > 0.9
