"""The demo: the whole job on files, compared with the truth that only the demo knows."""

from __future__ import annotations

import re
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from regmap import frames
from regmap.cli import main
from regmap.cli.demo import ROOMS, _make
from regmap.inputs.captures import read_outlines
from regmap.outputs.summary import floor_points
from regmap.registration import Registration


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    place = tmp_path_factory.mktemp("demo") / "out"
    return CliRunner().invoke(main, ["demo", "--out", str(place)]), place


def test_it_leaves_files_to_look_at(shown: tuple[Result, Path]) -> None:
    ran, place = shown
    assert ran.exit_code == 0, ran.output
    made = sorted(str(path.relative_to(place)) for path in place.rglob("*") if path.is_file())
    assert made == ["fit/proof.png", "fit/registration.json", "library.png", "robot-log.txt"]
    picture = cv2.imread(str(place / "library.png"))
    assert picture is not None
    assert picture.shape == (1500, 1080, 3)
    assert set(read_outlines(place / "robot-log.txt")) <= set(ROOMS)


def test_what_it_says_of_the_truth_is_true(shown: tuple[Result, Path]) -> None:
    ran, place = shown
    fit = Registration.load(place / "fit" / "registration.json")
    truth = _make(4).truth
    px = floor_points(fit)
    errors = np.hypot(*(fit.to_device(px) - frames.apply(truth, px)).T)
    told = re.search(r"true error .*within ([\d.]+) mm, .*within ([\d.]+) mm", ran.stdout)
    assert told is not None
    assert float(told[1]) == pytest.approx(np.median(errors), abs=0.06)
    assert float(told[2]) == pytest.approx(errors.max(), abs=0.06)
    assert errors.max() < 0.5 * fit.unit_per_px  # half a pixel
    held = (errors <= fit.expected_error(px)).mean()
    assert f"held at {100 * held:.0f} % of the floor" in ran.stdout
    assert ("it was truthful" in ran.stdout) is bool(held >= 0.95)
    assert "no safety barrier" in ran.stdout


def test_it_shows_the_commands_that_it_runs(shown: tuple[Result, Path]) -> None:
    ran, _ = shown
    commands = [line for line in ran.stdout.splitlines() if line.startswith("$ ")]
    assert [command.split()[1:3] for command in commands] == [
        ["regmap", "register"],
        ["regmap", "area"],
    ]
    again = CliRunner().invoke(main, commands[1].split()[2:])
    assert again.exit_code == 0
    assert again.stdout.strip() in ran.stdout


def test_it_replaces_nothing_unless_told(shown: tuple[Result, Path]) -> None:
    _, place = shown
    before = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    ran = CliRunner().invoke(main, ["demo", "--out", str(place)])
    assert ran.exit_code == 1
    assert "would be overwritten" in ran.stderr
    assert {path: path.read_bytes() for path in place.rglob("*") if path.is_file()} == before
    (place / "fit" / "proof.png").unlink()
    (place / "fit" / "registration.json").unlink()
    ran = CliRunner().invoke(main, ["demo", "--out", str(place)])
    assert ran.exit_code == 1
    assert "library.png" in ran.stderr
