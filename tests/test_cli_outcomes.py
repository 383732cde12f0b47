"""What a command ends with, whatever happens to it: one line, an exit code, files or none."""

from __future__ import annotations

import errno
import importlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from regmap import floors
from regmap.batch import BatchResult, Job
from regmap.cli import main
from regmap.errors import DoubtfulFitError, NoFitError, PictureError
from regmap.registration import Registration
from tests.fit_examples import make_fit

SURE, ERROR, DOUBTFUL, NO_FIT = 0, 1, 3, 4  # as --help says
SQUARE = [[60, 230], [110, 230], [110, 260], [60, 260], [60, 230]]
ROOMS = {
    "kiln": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "glazing": [[4100, 0], [9000, 0], [9000, 3000], [4100, 3000]],
}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    cv2.imwrite("floor.png", np.full((480, 640, 3), 230, np.uint8))
    make_fit().save("fit.json")
    for name in ("rooms.json", "later.json"):
        Path(name).write_text(json.dumps({"rooms": ROOMS}))
    return tmp_path


ENDS: dict[str, tuple[BaseException, int, str]] = {
    "nothing fits": (NoFitError(None, ("no wall in it",)), NO_FIT, "nowhere: no wall in it"),
    "doubt": (DoubtfulFitError(make_fit(confidence=0.4)), DOUBTFUL, "confidence 0.40"),
    "bad input": (PictureError("it is\nno picture"), ERROR, "it is"),
    "a library is missing": (ModuleNotFoundError("x", name="rasterio"), ERROR, "rasterio is not"),
    "the disk": (OSError(errno.ENOSPC, "No space left", "a.png"), ERROR, "a.png: No space left"),
    "the disk, unnamed": (OSError("all is lost"), ERROR, "a file: all is lost"),
    "depth": (RecursionError(), ERROR, "nested too deeply"),
    "memory": (MemoryError(), ERROR, "memory does not suffice"),
}


@pytest.mark.parametrize("name", ENDS)
def test_whatever_happens_is_told_with_its_exit_code(
    name: str, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    error, code, text = ENDS[name]

    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr("regmap.cli.options.load_fit", fail)
    ran = run("area", "fit.json", "--point", 70, 240)
    assert (ran.exit_code, ran.stdout) == (code, "")
    assert ran.stderr.startswith("error: ")
    assert text in ran.stderr
    assert "Traceback" not in ran.stderr


def test_what_nobody_foresaw_is_not_hidden(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mistake of the program keeps its traceback: it is the one thing that helps to mend it."""

    def fail(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("regmap.cli.options.load_fit", fail)
    assert isinstance(run("area", "fit.json", "--point", 70, 240).exception, ZeroDivisionError)


def test_a_reader_that_went_away_is_no_error(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`regmap outlines capture | head -1`: nothing is said of it."""

    def gone(*_: object, **__: object) -> None:
        raise BrokenPipeError(errno.EPIPE, "Broken pipe")

    monkeypatch.setattr("regmap.cli.options.load_fit", gone)
    ran = run("area", "fit.json", "--point", 70, 240)
    assert "error" not in ran.stderr
    assert ran.exit_code == ERROR


def test_help_lists_commands_in_the_order_of_the_job_and_the_exit_codes() -> None:
    shown = run("--help").stdout
    names = [line.split()[0] for line in shown.partition("Commands:")[2].splitlines() if line]
    names = [name for name in names if name in main.commands]
    assert names == list(main.commands)
    assert names.index("outlines") < names.index("register") < names.index("area")
    for code, word in ((ERROR, "error"), (DOUBTFUL, "the fit is doubtful"), (NO_FIT, "nothing")):
        assert f"{code} {word}" in shown


@pytest.mark.parametrize(("margin", "sign"), [("expected", 1), ("-expected", -1)])
def test_a_margin_by_the_expected_error(place: Path, margin: str, sign: int) -> None:
    words = ("area", "fit.json", "--rectangle", 60, 230, 110, 260)
    told = json.loads(run(*words, f"--keep-off={margin}", "--json").stdout)["areas"][0]
    left = min(x for x, _ in told["rings"][0])
    assert left == pytest.approx(200 - sign * told["expected_error_95"])
    ran = run(*words, "--off-walls=-expected")  # off walls there is one direction only
    assert ran.exit_code == click.UsageError.exit_code


def test_areas_in_another_unit_are_not_carried_over(place: Path) -> None:
    feature = {"type": "Feature", "geometry": {"type": "Polygon", "coordinates": [SQUARE]}}
    collection = {"type": "FeatureCollection", "unit": "m", "features": [feature]}
    Path("zones.geojson").write_text(json.dumps(collection))
    ran = run("align", "rooms.json", "later.json", "--areas", "zones.geojson")
    assert ran.exit_code == ERROR
    assert "zones.geojson is in m, but the outlines are in mm" in ran.stderr


def test_pictures_of_a_batch_that_are_not_sure_are_named(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ("attic", "cellar", "hall")
    rows = [f"floor.png,rooms.json,{name}" for name in names]
    Path("floors.csv").write_text("\n".join(["picture,outlines,name", *rows]))
    ends: dict[str, tuple[Registration | None, Exception | None]] = {
        "attic": (make_fit(), None),
        "cellar": (make_fit(confidence=0.4), None),
        "hall": (None, NoFitError(None, ("no wall in it",))),
    }

    def stand_in(jobs: list[Job], workers: int) -> Iterator[tuple[int, BatchResult]]:
        for number, job in enumerate(jobs):
            yield number, BatchResult(str(job.name), *ends[str(job.name)], 0.5)

    monkeypatch.setattr("regmap.batch.in_processes", stand_in)
    ran = run("batch", "floors.csv", "--out", "fits")
    assert ran.exit_code in (DOUBTFUL, NO_FIT)
    assert "3 pictures: 1 sure, 1 doubtful, 1 nothing fits" in ran.stdout
    assert "cellar: doubtful: one wall lies outside the picture" in ran.stdout
    assert "hall: nothing fits: no wall in it" in ran.stdout
    assert "attic:" not in ran.stdout


def test_the_demo_ends_where_a_command_is_not_sure(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def stand_in(command: str, *_: object) -> int:
        asked.append(command)
        return DOUBTFUL if command == "register" else SURE

    monkeypatch.setattr(importlib.import_module("regmap.cli.demo"), "_run", stand_in)
    assert run("demo", "--out", "made").exit_code == DOUBTFUL
    assert asked == ["outlines", "register"]


def test_identify_takes_a_house_and_tells_a_doubtful_floor(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (place / "house").mkdir()
    for name in ("ground", "upper"):
        make_fit().save(place / "house" / f"{name}.json")
    known: list[list[str]] = []

    def stand_in(image: object, house: dict[str, Any], **_: object) -> tuple[str, Registration]:
        known.append(list(house))
        return "upper", make_fit(confidence=0.5)

    monkeypatch.setattr(floors, "identify", stand_in)
    ran = run("identify", "floor.png", "house")
    assert known == [["ground", "upper"]]
    # Of a folder that `register` made, the floor is called like the folder.
    (place / "attic").mkdir()
    make_fit().save(place / "attic" / "registration.json")
    assert run("identify", "floor.png", "attic", "house/upper.json").exit_code == DOUBTFUL
    assert known[1:] == [["attic", "upper"]]
    assert ran.exit_code == DOUBTFUL
    assert "upper" in ran.stdout
    assert "wrote" not in ran.stdout
    assert "no safety barrier" in ran.stdout
    assert run("identify", "floor.png", "house", "rooms.json", "house").exit_code == 2


def test_nothing_fits_and_there_is_nothing_to_look_at(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stand_in(*_: object, **__: object) -> None:
        raise NoFitError(None, ("the picture is flat",))

    monkeypatch.setattr(importlib.import_module("regmap.register"), "register", stand_in)
    ran = run("register", "floor.png", "rooms.json", "--out", "out", "--json")
    assert ran.exit_code == NO_FIT
    told = json.loads(ran.stdout)
    assert told["verdict"] == "nothing fits"
    assert "best" not in told
    assert not Path("out").exists()


def test_todays_fit_is_written_where_verify_was_asked_for_it(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    today = make_fit(confidence=0.95)
    found = floors.Verification(True, 0.2, 0.1, 4.0, 2.0, 1.0, 0.95, (), (), today, "mm")
    monkeypatch.setattr(floors, "verify", lambda *_: found)
    ran = run("verify", "fit.json", "floor.png", "--out", "today")
    assert ran.exit_code == SURE, ran.output
    assert "wrote today's fit: " in ran.stdout
    assert Registration.load("today/registration.json").same_as(today)
