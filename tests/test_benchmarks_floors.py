"""The suites `align` and `identify` measure what they say: their cases' truth, and a small run."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from shapely.geometry.base import BaseGeometry

from benchmarks import align, identify
from benchmarks.__main__ import main
from benchmarks.remaps import REMAPS, Remap, remap
from regmap import frames


def polygons(rings: dict[str, tuple[np.ndarray, ...]], matrix: frames.Map) -> BaseGeometry:
    whole: BaseGeometry = shapely.union_all(
        [shapely.Polygon(frames.apply(matrix, parts[0])).buffer(60) for parts in rings.values()]
    )
    return whole


def alike(case: Remap, matrix: frames.Map) -> float:
    old, new = polygons(dict(case.old), matrix), polygons(dict(case.new), np.eye(2, 3))
    return float(old.intersection(new).area / old.union(new).area)


@pytest.mark.parametrize("family", [name for name in REMAPS if name != "other-floor"])
def test_the_truth_lays_the_old_floor_on_the_new_one(family: str) -> None:
    case = remap(family, 0)
    # Parts of the floor may be missing in one of the runs, or cut out for furniture.
    assert alike(case, case.old_to_new) > (0.5 if family in ("parts", "everything") else 0.8)
    for other in case.others:
        assert alike(case, other) > 0.9
        assert np.abs(other - case.old_to_new).max() > 0.5
    grown = frames.scale_of(case.old_to_new)
    assert (abs(grown - 1) > 0.002) == (family == "scale")
    assert frames.is_mirrored(case.old_to_new)  # positive determinant: both frames have y up


def test_cases_are_the_same_every_time() -> None:
    one, two = remap("everything", 5), remap("everything", 5)
    assert all(
        np.array_equal(a, b)
        for name in one.new
        for a, b in zip(one.new[name], two.new[name], strict=True)
    )
    assert remap("everything", 6).new.keys() != one.new.keys() or not np.array_equal(
        remap("everything", 6).old_to_new, one.old_to_new
    )


def test_verdicts_on_answers() -> None:
    def answer(**changes: object) -> align.Alignment:
        fields: dict[str, Any] = {
            "family": "noise", "seed": 1, "answer": "fits", "rooms": 4, "seconds": 0.1,
            "refused": False, "confidence": 0.95, "rms_mm": 20.0, "worst_mm": 40.0, "covered": 1.0,
            "expected_mm": 30.0, "others_mm": (), "tied_mm": np.nan, "tied_confidence": np.nan,
        }  # fmt: skip
        return align.Alignment(**{**fields, **changes})

    assert answer().right
    assert answer().sure
    assert not answer().wrong_and_sure
    assert answer(rms_mm=51.0).wrong_and_sure
    assert not answer(rms_mm=51.0, confidence=0.89).wrong_and_sure
    assert not answer(rms_mm=51.0, others_mm=(9.0,)).wrong_and_sure
    assert not answer(rms_mm=51.0, refused=True).wrong_and_sure
    assert answer(answer="twins").wrong_and_sure
    none = identify.Pick(4, "", "ground", "another storey", 0.95, np.nan, 1.0)
    assert none.sure
    assert not none.right
    assert identify.Pick(4, "", "", "another storey", 0.0, np.nan, 1.0).right


def test_the_align_suite_end_to_end(tmp_path: Path) -> None:
    ran = CliRunner().invoke(
        main,
        [
            "align",
            "--pictures",
            "1",
            "--families",
            "cells,twins,other-floor",
            "--out",
            str(tmp_path),
        ],
    )
    assert ran.exit_code == 0, ran.output
    stored = json.loads((tmp_path / "align.json").read_text())
    assert [case["family"] for case in stored["cases"]] == ["cells", "twins", "other-floor"]
    cells, twins, other = stored["cases"]
    assert cells["rms_mm"] < align.CELL_MM
    assert min(twins["rms_mm"], *twins["others_mm"]) < align.CELL_MM
    assert twins["tied_mm"] < align.CELL_MM
    assert other["confidence"] < 0.5
    assert (tmp_path / "align.png").stat().st_size > 5000


def test_a_picture_of_the_identify_suite() -> None:
    pick = identify.measure(10_003)
    assert pick.shown in identify.FLOORS
    assert pick.said in ("", *identify.FLOORS)
    assert 0.0 <= pick.confidence <= 1.0
