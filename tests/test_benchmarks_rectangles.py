"""The long search against which rectangles are measured finds what is known to be best."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from benchmarks import long_search
from benchmarks.__main__ import main
from benchmarks.rectangles import KINDS, slanted

TRIANGLE = shapely.Polygon([(0, 0), (4000, 0), (0, 3000)])


def test_steps_under_a_slope_are_found() -> None:
    """K steps fill at most K / (K + 1) of a right triangle, and spill at least 1 / K over it."""
    fill = long_search.anneal_inside(TRIANGLE, 2, np.random.default_rng(0), steps=1500)
    assert 0.65 < fill <= 2 / 3 + 1e-9
    rng = np.random.default_rng(0)
    spill = long_search.anneal_cover(TRIANGLE, 2, rng, chains=12, steps=600)
    assert 0.5 - 1e-6 <= spill < 0.53


def test_boxes_inside_are_inside() -> None:
    """Compared with shapely, for shapes with a notch, too."""
    rng = np.random.default_rng(1)
    for kind in KINDS:
        shape = slanted(kind, 3)
        low = rng.uniform(shape.bounds[:2], shape.bounds[2:], (300, 2))
        boxes = np.hstack([low, low + rng.uniform(10, 900, (300, 2))])
        found = long_search._inside(boxes, long_search._edges(shape))
        expected = [shape.covers(shapely.box(*box)) for box in boxes]
        assert found.tolist() == expected
        assert 0 < found.sum() < 300


@pytest.mark.parametrize("kind", KINDS)
def test_areas_are_slanted_and_all_different(kind: str) -> None:
    one, other = slanted(kind, 10_000), slanted(kind, 10_001)
    assert one.is_valid
    assert one.equals(slanted(kind, 10_000))
    assert not one.equals(other)
    ring = np.diff(shapely.get_coordinates(one.exterior), axis=0)
    assert (np.abs(ring).min(axis=1) > 1).all()  # no side is upright


def test_the_suite_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("benchmarks.rectangles.QUICK_STEPS", 60)
    ran = CliRunner().invoke(
        main, ["rectangles", "--quick", "--pictures", "1", "--seed", "0", "--out", str(tmp_path)]
    )
    assert ran.exit_code == 0, ran.output
    stored = json.loads((tmp_path / "rectangles.json").read_text("utf-8"))
    (case,) = stored["data"]["cases"] if "data" in stored else stored["cases"]
    assert case["kind"] == "rectangle"
    assert case["fill"] <= case["bound"] + 1e-9
    assert case["long_fill"] <= case["bound"] + 1e-9
    assert case["spill"] > 0
