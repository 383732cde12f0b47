"""Captures of the benchmark's sets, on one floor each: what was once read stays so."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.captured import CAPTURES, drawn
from benchmarks.captures import judge, made_rooms

ROOMS = made_rooms(3, 0)


@pytest.mark.parametrize(
    ("which", "name"),
    [(which, name) for which, captures in CAPTURES.items() for name in captures],
)
def test_every_capture_is_read_and_nothing_beyond(which: str, name: str) -> None:
    made = CAPTURES[which][name](ROOMS, np.random.default_rng([3, 0]))
    text, truth = made if isinstance(made, tuple) else (made, ROOMS)
    assert judge(truth, text) == "right"


@pytest.mark.parametrize("seed", range(40))
def test_captures_put_together_at_random(seed: int) -> None:
    text, truth = drawn.draw(seed, ROOMS)
    assert judge(truth, text) == "right"
