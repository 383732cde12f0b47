"""Inputs that the fuzzer began with or found, through its targets: none breaks a promise again."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.targets import SEEDS, TARGETS, first_inputs, kept_inputs, run

KEPT = [path for name in TARGETS for path in kept_inputs(name)]


@pytest.mark.parametrize("path", KEPT, ids=lambda path: f"{path.parent.name}-{path.name[:16]}")
def test_inputs_that_were_kept(path: Path) -> None:
    run(path.parent.name, path.read_bytes())


@pytest.mark.parametrize("name", TARGETS)
def test_good_inputs_cut_short(name: str) -> None:
    for data in first_inputs(name):
        for share in (1.0, 0.9, 0.5, 0.1):
            run(name, data[: int(share * len(data))])


def test_seeds_belong_to_targets() -> None:
    assert {path.name for path in SEEDS.iterdir()} <= set(TARGETS)
