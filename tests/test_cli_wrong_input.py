"""Every input of every command, wrong in every usual way: told, exit code 1, nothing written."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from regmap.cli import main
from regmap.inputs import captures
from tests.fit_examples import make_fit

ROOMS = {
    "kiln": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "glazing": [[4100, 0], [9000, 0], [9000, 3000], [4100, 3000]],
}
SQUARE = [[60, 230], [110, 230], [110, 260], [60, 260], [60, 230]]
DRAWN = ("--picture", "floor.png", "--draw", "out.png")

# What each command reads is named by its file; what it writes begins with "out".
COMMANDS: dict[str, tuple[str, ...]] = {
    "outlines": ("rooms.json", "--draw", "out.png"),
    "register": ("floor.png", "rooms.json", "--out", "out", "--near", "fit.json"),
    "area": ("fit.json", "--marks", "marks.geojson", "--out", "out.geojson", *DRAWN),
    "rectangles": (
        *("zones.geojson", "--fit", "cover", "--out", "out.geojson"),
        *("--registration", "fit.json", *DRAWN),
    ),
    "locate": ("fit.json", "--path", "way.csv", *DRAWN),
    "hand-over": ("fit.json", "--picture", "floor.png", "--out", "out"),
    "verify": ("fit.json", "floor.png", "--out", "out"),
    "identify": ("floor.png", "fit.json", "--out", "out"),
    "align": (
        *("rooms.json", "later.json", "--registration", "fit.json", "--out", "out.json"),
        *("--areas", "zones.geojson", "--areas-out", "out.geojson", "--draw", "out.png"),
    ),
    "batch": ("floors.csv", "--out", "out"),
}
READ = [(name, word) for name, words in COMMANDS.items() for word in words if "." in word]
READ = [(name, word) for name, word in READ if not word.startswith("out")]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    make_fit().save("fit.json")
    cv2.imwrite("floor.png", np.full((480, 640, 3), 230, np.uint8))
    for name in ("rooms.json", "later.json"):
        Path(name).write_text(json.dumps({"rooms": ROOMS}))
    for name, unit in (("marks.geojson", "px"), ("zones.geojson", "mm")):
        square = {"type": "Polygon", "coordinates": [SQUARE]}
        feature = {"type": "Feature", "properties": {"name": "a"}, "geometry": square}
        collection = {"type": "FeatureCollection", "unit": unit, "features": [feature]}
        Path(name).write_text(json.dumps(collection))
    Path("way.csv").write_text("200,200\n2000,900\n")
    Path("floors.csv").write_text("picture,outlines\nfloor.png,rooms.json\n")
    return tmp_path


def _files(place: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in place.rglob("*") if path.is_file()}


def test_all_commands_are_here() -> None:
    assert set(COMMANDS) | {"demo"} == set(main.commands)


@pytest.mark.parametrize("wrong", ["missing", "folder", "empty", "{}", "[1, 2", "text", "bytes"])
@pytest.mark.parametrize(("command", "word"), READ, ids=[f"{n}-{w}" for n, w in READ])
def test_it_is_told_and_nothing_is_written(
    place: Path, command: str, word: str, wrong: str
) -> None:
    (place / word).unlink()
    if wrong == "folder":
        (place / word).mkdir()
    elif wrong == "bytes":
        (place / word).write_bytes(bytes(range(256)))
    elif wrong != "missing":
        (place / word).write_text({"empty": "", "text": "nothing of this kind"}.get(wrong, wrong))
    before = _files(place)
    ran = CliRunner().invoke(main, [command, *COMMANDS[command]])
    assert ran.exit_code == 1, ran.output
    assert isinstance(ran.exception, SystemExit), ran.exception
    assert ran.stderr.startswith("error: ")
    assert len(ran.stderr.splitlines()) <= 6
    assert word in ran.stderr
    assert ran.stdout == ""
    assert _files(place) == before
    assert not list(place.glob("out*"))


@pytest.mark.parametrize("command", sorted(main.commands))
def test_every_help_has_an_example(command: str) -> None:
    ran = CliRunner().invoke(main, [command, "--help"])
    assert ran.exit_code == 0
    assert f"regmap {command}" in ran.stdout.partition("Example:")[2]
    assert "--json" in ran.stdout
    assert ("--force" in ran.stdout) is ("--out" in ran.stdout or "--draw" in ran.stdout)


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_a_place_where_nothing_can_be_written(place: Path, command: str) -> None:
    """Folders for files and files for folders are told before the work."""
    for word in COMMANDS[command]:
        if word.startswith("out."):
            (place / word).mkdir()
        elif word == "out":
            (place / word).write_text("mine")
    ran = CliRunner().invoke(main, [command, *COMMANDS[command]])
    assert ran.exit_code in (1, 2), ran.output
    assert isinstance(ran.exception, SystemExit), ran.exception
    assert "out" in ran.stderr
    assert ran.stdout == ""


@pytest.mark.parametrize("command", ["outlines", "register", "align"])
def test_a_capture_without_end_is_given_up(
    place: Path, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(captures, "MAX_BYTES", 1000)
    words = ["/dev/zero" if word == "rooms.json" else word for word in COMMANDS[command]]
    ran = CliRunner().invoke(main, [command, *words])
    assert ran.exit_code == 1, ran.output
    assert "/dev/zero" in ran.stderr
    assert not list(place.glob("out*"))


def test_what_a_command_has_no_option_for_is_not_named_as_one(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(place)
    long = "\n".join(f"{n};{2 * n};way" for n in range(150_000))
    (place / "long.csv").write_text("x;y;name\n" + long)
    ran = CliRunner().invoke(main, ["outlines", "long.csv"])
    assert ran.exit_code == 1
    assert "cut out the part with the rooms (in Python, most_parts= allows more)" in ran.stderr
