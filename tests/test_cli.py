"""The command line as a user meets it: files in, files and exit codes out."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from regmap.cli import main
from regmap.errors import NoFitError
from regmap.registration import Registration, RoomFit
from tests.fit_examples import make_fit

Solver = Callable[[Registration | Exception], list[dict[str, Any]]]

ROOMS = {
    "kiln": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "glazing": [[4100, 0], [9000, 0], [9000, 3000], [4100, 3000]],
}


def run(*arguments: object, stdin: str | None = None) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments], input=stdin)


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """A picture of 640 x 480 px and a capture of two rooms."""
    picture, capture = tmp_path / "floor.png", tmp_path / "capture.json"
    cv2.imwrite(str(picture), np.full((480, 640, 3), 230, np.uint8))
    capture.write_text(json.dumps({"rooms": ROOMS}))
    return picture, capture


@pytest.fixture
def solver(monkeypatch: pytest.MonkeyPatch) -> Solver:
    """Put a known answer in the place of the engine's; return what it was asked with."""

    def prepare(answer: Registration | Exception) -> list[dict[str, Any]]:
        asked: list[dict[str, Any]] = []

        def stand_in(image: object, polygons: object, **options: Any) -> Registration:
            asked.append({"image": image, "polygons": polygons, **options})
            if isinstance(answer, Exception):
                raise answer
            return answer

        monkeypatch.setattr(importlib.import_module("regmap.register"), "register", stand_in)
        return asked

    return prepare


def test_a_sure_fit(files: tuple[Path, Path], solver: Solver, tmp_path: Path) -> None:
    fit = make_fit()
    asked = solver(fit)
    out = tmp_path / "out"
    ran = run("register", *files, "--out", out)
    assert ran.exit_code == 0, ran.output
    assert Registration.load(out / "registration.json").same_as(fit)
    assert sorted(path.name for path in out.iterdir()) == ["proof.png", "registration.json"]
    for part in ("0.97", "0.31 px RMSE", "12 mm outside", "not shown: hall", "no safety barrier"):
        assert part in ran.stdout
    assert asked[0]["image"].shape == (480, 640, 3)
    assert list(asked[0]["polygons"]) == list(ROOMS)
    assert (asked[0]["model"], asked[0]["mirrored"], asked[0]["unit"]) == ("similarity", None, "mm")


def test_options_reach_the_engine(files: tuple[Path, Path], solver: Solver, tmp_path: Path) -> None:
    asked = solver(make_fit())
    ties = ("--tie", 10, 20, 3000, -400, "--tie", 30, 40.5, 0, 7)
    ran = run("register", *files, "-o", tmp_path / "o", "--model", "affine", "--mirrored", *ties)
    assert ran.exit_code == 0, ran.output
    assert (asked[0]["model"], asked[0]["mirrored"]) == ("affine", True)
    assert asked[0]["tie_points"] == [((10, 20), (3000, -400)), ((30, 40.5), (0, 7))]
    run("register", *files, "-o", tmp_path / "p", "--not-mirrored")
    assert asked[1]["mirrored"] is False


def test_a_stored_fit_to_start_from(
    files: tuple[Path, Path], solver: Solver, tmp_path: Path
) -> None:
    """As its file, or as the folder that `register` made."""
    asked = solver(make_fit())
    assert run("register", *files, "-o", tmp_path / "first").exit_code == 0
    stored = tmp_path / "first" / "registration.json"
    for number, near in enumerate((stored, stored.parent)):
        ran = run("register", *files, "-o", tmp_path / f"{number}", "--near", near)
        assert ran.exit_code == 0, ran.output
        assert asked[-1]["near"].same_as(make_fit())
    assert asked[0]["near"] is None


def test_a_doubtful_fit_is_written_and_has_its_own_exit_code(
    files: tuple[Path, Path], solver: Solver, tmp_path: Path
) -> None:
    room = RoomFit("study", "disagrees", 0.3, 2.0, 0.2, 1.0, (90.0, 240.0))
    solver(make_fit(confidence=0.6, rooms=(room,), alternatives=(make_fit(),)))
    ran = run("register", *files, "--out", tmp_path / "out")
    assert ran.exit_code == 3
    for part in (
        "DOUBTFUL",
        "disagree: study",
        "one wall lies outside the picture",
        "fits as well",
    ):
        assert part in ran.stdout
    assert (tmp_path / "out" / "proof.png").exists()


def test_nothing_fits(files: tuple[Path, Path], solver: Solver, tmp_path: Path) -> None:
    solver(NoFitError(make_fit(confidence=0.02), ("the walls lie elsewhere",)))
    ran = run("register", *files, "--out", tmp_path / "out")
    assert ran.exit_code == 4
    assert "the walls lie elsewhere" in ran.stderr
    assert not (tmp_path / "out").exists()
    ran = run("register", *files, "--out", tmp_path / "out", "--json")
    assert ran.exit_code == 4
    assert json.loads(ran.stdout)["verdict"] == "nothing fits"
    assert json.loads(ran.stdout)["best"]["confidence"] == 0.02


def test_json_is_for_programs(files: tuple[Path, Path], solver: Solver, tmp_path: Path) -> None:
    fit = make_fit()
    solver(fit)
    ran = run("register", *files, "--out", tmp_path / "out", "--json")
    told = json.loads(ran.stdout)
    assert told["verdict"] == "sure"
    assert told["picture_to_device"] == fit.image_to_device.tolist()
    assert told["rooms"] == {"study": "agrees", "hall": "not shown"}
    assert all(Path(path).exists() for path in told["files"])
    assert told["predicted_error_95"]["median"] <= told["predicted_error_95"]["worst"]


def test_nothing_is_overwritten_unless_told(
    files: tuple[Path, Path], solver: Solver, tmp_path: Path
) -> None:
    asked = solver(make_fit())
    out = tmp_path / "out"
    out.mkdir()
    (out / "proof.png").write_bytes(b"mine")
    ran = run("register", *files, "--out", out)
    assert ran.exit_code == 1
    assert "would be overwritten" in ran.stderr
    assert not asked  # said before the work, not after it
    assert [path.name for path in out.iterdir()] == ["proof.png"]
    assert (out / "proof.png").read_bytes() == b"mine"
    assert run("register", *files, "--out", out, "--force").exit_code == 0
    assert (out / "proof.png").read_bytes() != b"mine"


@pytest.mark.parametrize(
    ("which", "content", "says"),
    [
        (0, None, "picture"),
        (0, b"", "picture"),
        (0, b"\x89PNG\r\n\x1a\n cut off", "picture"),
        (1, None, "capture.json"),
        (1, b"", ""),
        (1, b"no outline in here", ""),
        (1, b'{"rooms": {"kiln": [[0, 0], [1', ""),
        (1, b"\xff\xfe\x00\x01", ""),
    ],
)
def test_bad_input_is_one_line_and_exit_code_1(
    files: tuple[Path, Path],
    tmp_path: Path,
    which: int,
    content: bytes | None,
    says: str,
) -> None:
    if content is None:
        files[which].unlink()
    else:
        files[which].write_bytes(content)
    ran = run("register", *files, "--out", tmp_path / "out")
    assert ran.exit_code == 1, ran.output
    assert ran.stderr.startswith("error: ")
    assert ran.stderr.count("\n") == 1
    assert says in ran.stderr
    assert "Traceback" not in ran.output
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ("register",),
        ("register", "a.png", "b.txt"),
        ("register", "a.png", "b.txt", "--out", "o", "--model", "projective"),
        ("register", "a.png", "b.txt", "--out", "o", "--tie", "1", "2", "3"),
        ("area", "fit.json"),
        ("area", "fit.json", "--rectangle", "1", "2", "3"),
        ("area", "fit.json", "--polygon", "1,2 3,4"),
        ("area", "fit.json", "--polygon", "1,2 3,4 5,x"),
        ("area", "fit.json", "--point", "1", "2", "--keep-off", "much"),
        ("paint",),
    ],
)
def test_wrong_usage_is_exit_code_2(arguments: tuple[str, ...]) -> None:
    ran = run(*arguments)
    assert ran.exit_code == 2
    assert "Error: " in ran.stderr


def test_area_prints_the_transformed_corners(tmp_path: Path) -> None:
    fit = make_fit()
    stored = tmp_path / "fit.json"
    fit.save(stored)
    ran = run("area", stored, "--rectangle", 60, 230, 110, 260, "--point", 70, 240, "--json")
    assert ran.exit_code == 0, ran.output
    told = json.loads(ran.stdout)
    rectangle, point = told["areas"]
    # By hand: x = 20 column - 1000, y = 6000 - 20 row.
    assert sorted(rectangle["rings"][0]) == [[200, 800], [200, 1400], [1200, 800], [1200, 1400]]
    assert point["rings"] == [[[400, 1200]]]
    assert rectangle["expected_error_95"] == pytest.approx(
        fit.expected_error([[60, 230], [110, 230], [110, 260], [60, 260]]).max()
    )
    ran = run("area", stored, "--polygon", "60,230 110,230 110,260", "--keep-off", "100")
    assert ran.exit_code == 0
    assert "study" in ran.stdout
    assert "no safety barrier" in ran.stdout


def test_area_refuses_a_doubtful_fit_unless_told(tmp_path: Path) -> None:
    make_fit(confidence=0.5).save(tmp_path / "fit.json")
    ran = run("area", tmp_path / "fit.json", "--point", 70, 240)
    assert ran.exit_code == 3
    assert "--accept-doubt" in ran.stderr
    assert not ran.stdout
    assert run("area", tmp_path / "fit.json", "--point", 70, 240, "--accept-doubt").exit_code == 0


@pytest.mark.parametrize("content", [None, b"", b"{}", b"\xff\xff"])
def test_area_of_a_bad_file(tmp_path: Path, content: bytes | None) -> None:
    stored = tmp_path / "fit.json"
    if content is not None:
        stored.write_bytes(content)
    ran = run("area", stored, "--point", 70, 240)
    assert ran.exit_code == 1
    assert ran.stderr.startswith("error: ")
    assert "fit.json" in ran.stderr


def test_outlines_are_listed(files: tuple[Path, Path]) -> None:
    ran = run("outlines", files[1])
    assert ran.exit_code == 0, ran.output
    assert "4900 x 3000" in ran.stdout
    told = json.loads(run("outlines", "-", "--json", stdin=files[1].read_text()).stdout)
    assert [(room["name"], room["taken"], room["area"]) for room in told] == [
        ("kiln", True, 12e6),
        ("glazing", True, 14.7e6),
    ]
    assert told[0]["points"] == ROOMS["kiln"]


def test_what_is_no_room_is_listed_when_asked_for(tmp_path: Path) -> None:
    walked = [[100 * step, 50 * (step % 2)] for step in range(30)]
    capture = tmp_path / "capture.json"
    capture.write_text(json.dumps({"rooms": ROOMS, "trail": {"places": walked}}))
    ran = run("outlines", capture)
    assert "see --all" in ran.stdout
    assert "trail" not in ran.stdout
    ran = run("outlines", capture, "--all")
    assert "trail" in ran.stdout
    taken = [line.split()[:2] for line in ran.stdout.splitlines() if line.startswith("yes")]
    assert taken == [["yes", "kiln"], ["yes", "glazing"]]


def test_what_there_is_instead_is_listed_with_its_lines(tmp_path: Path) -> None:
    walked = [[100 * step, 50 * (step % 2)] for step in range(30)]
    capture = tmp_path / "capture.json"
    capture.write_text(json.dumps({"seq": 1, "trail": walked}, indent=1))
    ran = run("outlines", capture)
    assert ran.exit_code == 1
    assert ran.stdout == ""
    assert "capture.json: no room outlines were found" in ran.stderr
    assert "choose them with --key" in ran.stderr
    assert "line 4: 'room 1', key 'trail', 30 points" in ran.stderr
    floors = {n: {"rooms": {f"{n} {k}": r for k, r in ROOMS.items()}} for n in ("low", "high")}
    capture.write_text(json.dumps(floors))
    ran = run("outlines", capture)
    assert ran.exit_code == 1
    assert "choose one of --key 'low', --key 'high'" in ran.stderr
    assert "line 1: 'high kiln'" in ran.stderr
    assert run("outlines", capture, "--key", "high").exit_code == 0


def test_a_list_of_outlines_that_no_command_would_take_says_so(tmp_path: Path) -> None:
    capture = tmp_path / "capture.txt"
    capture.write_text(json.dumps({"rooms": ROOMS}) + "\ndelete room kiln\n")
    for more in ((), ("--json",)):
        ran = run("outlines", capture, *more)
        assert ran.exit_code == 3
        assert "kiln" in ran.stdout
        assert "would take none of them: 'kiln' is said to be gone (delete room kiln)" in ran.stderr
        assert "--key" in ran.stderr
    picture = tmp_path / "none.png"
    assert run("register", picture, capture, "--out", tmp_path / "fit").exit_code == 1
    assert run("outlines", capture, "--key", "rooms").exit_code == 0


def test_outlines_are_drawn(tmp_path: Path) -> None:
    walked = [[100 * step, 50 * (step % 2)] for step in range(30)]
    capture, picture = tmp_path / "capture.json", tmp_path / "rooms.png"
    capture.write_text(json.dumps({"rooms": ROOMS, "trail": walked}))
    assert run("outlines", capture, "--draw", picture).exit_code == 0
    drawn = cv2.imread(str(picture))
    assert drawn is not None
    before = picture.read_bytes()
    ran = run("outlines", capture, "--all", "--draw", picture)
    assert ran.exit_code == 1
    assert "--force" in ran.stderr
    assert picture.read_bytes() == before
    assert run("outlines", capture, "--all", "--draw", picture, "--force").exit_code == 0
    assert picture.read_bytes() != before


def test_as_a_program_of_its_own(tmp_path: Path) -> None:
    """In a process of its own: exit code, nothing but the answer on stdout, errors on stderr."""
    make_fit().save(tmp_path / "fit.json")
    command = [sys.executable, "-m", "regmap", "area", "fit.json", "--point", "70", "240"]
    root = str(Path(__file__).parent.parent)
    options: dict[str, Any] = {"capture_output": True, "text": True, "cwd": tmp_path}
    environment = {"PYTHONPATH": root, "PATH": ""}
    ran = subprocess.run([*command, "--json"], env=environment, check=False, **options)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert json.loads(ran.stdout)["areas"][0]["rings"] == [[[400, 1200]]]
    (tmp_path / "fit.json").write_text("{}")
    ran = subprocess.run(command, env=environment, check=False, **options)
    assert ran.returncode == 1
    assert ran.stdout == ""
    assert ran.stderr.startswith("error: ")


def test_what_was_said_of_a_picture_that_fits_nowhere_is_doubted(
    files: tuple[Path, Path], solver: Solver, tmp_path: Path
) -> None:
    solver(NoFitError(make_fit(confidence=0.01), ("no walls there",)))
    said = run("register", *files, "--out", tmp_path / "o", "--not-mirrored")
    assert said.exit_code == 4
    assert "--not-mirrored was given: without it both are tried" in said.stderr
    make_fit().save(tmp_path / "old.json")
    near = run("register", *files, "--out", tmp_path / "o", "--near", tmp_path / "old.json")
    assert "old.json was given: no other place was looked at" in near.stderr
    assert "was given" not in run("register", *files, "--out", tmp_path / "o").stderr


def test_verbose_tells_what_is_being_done(files: tuple[Path, Path], tmp_path: Path) -> None:
    ran = run("-vv", "register", *files, "--out", tmp_path / "o")
    assert "picture 'floor.png': PNG, 640 x 480 px" in ran.stderr
    assert "outlines of 2 rooms: ['kiln', 'glazing']" in ran.stderr
    for stage in ("edges", "segment", "search", "refine"):
        assert f"DEBUG regmap.timing: {stage}: " in ran.stderr
    assert "regmap.timing" not in run("-v", "register", *files, "--out", tmp_path / "o").stderr
