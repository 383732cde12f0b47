"""Commands that are asked for what would lose something, never end, or cannot be told."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from affine import Affine
from click.testing import CliRunner, Result

from regmap.cli import main
from regmap.registration import Registration
from tests.fit_examples import make_fit
from tests.test_cli_wrong_input import COMMANDS, READ, place

__all__ = ["place"]

WRITTEN = [(name, word) for name, words in COMMANDS.items() for word in words if "out." in word]
# A fit that was carried over may take the place of the old one, and areas that of the old ones.
SAME_KIND = {("align", "out.json", "fit.json"), ("align", "out.geojson", "zones.geojson")}


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def with_word(command: str, old: str, new: str) -> list[str]:
    return [command, *(new if word == old else word for word in COMMANDS[command])]


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def refused(ran: Result, code: int) -> str:
    assert ran.exit_code == code, ran.output
    assert isinstance(ran.exception, SystemExit), ran.exception
    assert ran.stdout == ""
    return ran.stderr


# --- what is read is not lost ---------------------------------------------------------------------


@pytest.mark.parametrize(("command", "output"), WRITTEN)
def test_no_output_takes_the_place_of_an_input(place: Path, command: str, output: str) -> None:
    """Not even with --force, nor by way of a link."""
    Path("link").symlink_to("fit.json")
    before = files_of(place)
    for read in [word for name, word in READ if name == command]:
        if (command, output, read) in SAME_KIND:
            continue
        said = refused(run(*with_word(command, output, read), "--force"), 2)
        assert f"{read} is read, and would be lost" in said
        if read == "fit.json":
            assert "link is read" in refused(run(*with_word(command, output, "link"), "--force"), 2)
        assert files_of(place) == before


def test_a_fit_in_its_folder_is_read_too(place: Path) -> None:
    (place / "ground").mkdir()
    shutil.copy("fit.json", "ground/registration.json")
    words = ("area", "ground", "--point", "60", "290", "--out", "ground/registration.json")
    assert "is read" in refused(run(*words, "--force"), 2)
    Registration.load("ground/registration.json")


def test_a_folder_that_holds_the_picture_under_a_name_of_the_outputs(place: Path) -> None:
    before = (place / "floor.png").read_bytes()
    (place / "floor.png").rename("proof.png")
    (place / "fit.json").rename("registration.json")
    for words in (
        ("register", "proof.png", "rooms.json", "--out", ".", "--near", "registration.json"),
        ("verify", "registration.json", "proof.png", "--out", "."),
        ("identify", "proof.png", "rooms.json", "later.json", "--out", "."),
    ):
        assert "proof.png is read, and would be lost" in refused(run(*words, "--force"), 2)
    assert (place / "proof.png").read_bytes() == before


@pytest.mark.parametrize(
    ("read", "name"), [("floor.png", "floor.tif"), ("fit.json", "rooms.geojson")]
)
def test_a_hand_over_into_the_folder_of_its_input(place: Path, read: str, name: str) -> None:
    (place / read).rename(name)
    before = files_of(place)
    words = [name if word == read else word for word in COMMANDS["hand-over"]]
    words[words.index("--out") + 1] = "."
    said = refused(run("hand-over", *words, "--force"), 2)
    assert f"{name} is read, and would be lost" in said
    assert files_of(place) == before


@pytest.mark.parametrize(
    ("read", "name"),
    [("floors.csv", "summary.csv"), ("rooms.json", "floor.json"), ("floor.png", "y.json")],
)
def test_a_batch_into_the_folder_of_its_table(place: Path, read: str, name: str) -> None:
    rows = "floor.png,rooms.json,\nfloor.png,later.json,x\n".replace(read, name, 1)
    (place / "floors.csv").write_text(f"picture,outlines,name\n{rows}")
    (place / read).rename(name)
    (place / "records").mkdir()
    before = files_of(place)
    table = "summary.csv" if read == "floors.csv" else "floors.csv"
    assert f"{name} is read" in refused(run("batch", table, "--out", ".", "--force"), 2)
    assert files_of(place) == before


# --- what would never end -------------------------------------------------------------------------


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with names here")
@pytest.mark.parametrize(("command", "word"), READ, ids=[f"{n}-{w}" for n, w in READ])
def test_a_pipe_with_a_name_is_not_waited_for(place: Path, command: str, word: str) -> None:
    (place / word).unlink()
    os.mkfifo(word)
    said = refused(run(command, *COMMANDS[command]), 1)
    assert word in said
    assert "it is a pipe" in said
    assert not list(place.glob("out*"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with names here")
def test_a_pipe_among_the_records_of_a_batch(place: Path) -> None:
    (place / "out" / "records").mkdir(parents=True)
    os.mkfifo("out/records/floor.record.json")
    assert "would be overwritten" in refused(run("batch", "floors.csv", "--out", "out"), 1)


@pytest.mark.skipif(not os.path.exists("/dev/fd"), reason="pipes have no names here")
def test_what_a_shell_hands_over_is_read(place: Path) -> None:
    end, begin = os.pipe()
    with os.fdopen(begin, "wb") as file:
        file.write((place / "fit.json").read_bytes())
    ran = run("locate", f"/dev/fd/{end}", "--pixel", "60", "290")
    os.close(end)
    assert ran.exit_code == 0
    assert ran.stdout == run("locate", "fit.json", "--pixel", "60", "290").stdout


# --- what cannot be written, or not be told -------------------------------------------------------


@pytest.mark.parametrize("command", [name for name in COMMANDS if name != "demo"])
def test_no_folder_to_write_into_is_told_before_the_work(
    place: Path, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not a file is read."""
    monkeypatch.setattr("regmap.inputs.pictures.read_picture", None)
    monkeypatch.setattr("regmap.cli.options.content_of", None)
    words = ["fit.json/" + w if w.startswith("out") else w for w in COMMANDS[command]]
    if command == "hand-over":
        return  # what it writes is known when it is made
    said = refused(run(command, *words), 1)
    assert "cannot be" in said
    assert "fit.json" in said


@pytest.mark.parametrize("seed", ["-1", "1.5", "x"])
def test_a_seed_is_a_whole_number_not_negative(place: Path, seed: str) -> None:
    assert "--seed" in refused(run("demo", "--out", "out", "--seed", seed), 2)
    assert not (place / "out").exists()


def shell(command: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run a line of shell in which $R stands for the command."""
    here = os.environ | {"R": f"{sys.executable} -m regmap", **environment}
    here["PYTHONPATH"] = str(Path(__file__).parent.parent)
    return subprocess.run(command, shell=True, capture_output=True, check=False, env=here)


needs_full = pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no disk is full here")


@needs_full
@pytest.mark.parametrize("words", ["--help", "area --help", "outlines rooms.json", "--version"])
def test_an_answer_that_finds_no_room(place: Path, words: str) -> None:
    ran = shell(f"$R {words} > /dev/full")
    assert ran.returncode == 1
    assert ran.stderr.startswith(b"error: ")
    assert b"No space left" in ran.stderr
    assert ran.stderr.count(b"\n") == 1


@needs_full
def test_an_error_that_finds_no_room(place: Path) -> None:
    ran = shell("$R outlines nothing 2> /dev/full")
    assert (ran.returncode, ran.stdout, ran.stderr) == (1, b"", b"")


@pytest.mark.skipif(os.name != "posix", reason="a shell of POSIX closes standard input")
def test_standard_input_that_is_closed(place: Path) -> None:
    ran = shell("$R outlines - <&-")
    assert ran.returncode == 1
    assert ran.stderr == b"error: standard input is closed: give the name of a file\n"


# --- names ----------------------------------------------------------------------------------------

POINTS = ("--point", "60", "290") * 5
NAMES = ["\x1b[31mred", "hall\u202egnp.exe", "two\nlines", "\x9b2J", "K\u00fcche \u53a8\u623f"]


@pytest.mark.parametrize("coding", ["utf-8", "ascii"])
def test_json_is_whole_and_sends_nothing_to_the_terminal(place: Path, coding: str) -> None:
    named = [word for name in NAMES for word in ("--name", name)]
    assert run("area", "fit.json", *named, *POINTS).stdout.replace("\n", "").isprintable()
    words = " ".join(f"--name {shlex.quote(name)}" for name in NAMES)
    line = f"$R area fit.json {words} {' '.join(POINTS)} --json"
    ran = shell(line, PYTHONIOENCODING=coding)
    assert ran.returncode == 0, ran.stderr
    text = ran.stdout.decode(coding)
    assert [one["name"] for one in json.loads(text)["areas"]] == NAMES
    assert text.replace("\n", "").isprintable()
    assert ("K\u00fcche \u53a8\u623f" in text) is (coding == "utf-8")


def test_an_output_whose_name_is_no_text(place: Path) -> None:
    name = os.fsdecode(b"\xff\xfe.geojson")
    ran = run("area", "fit.json", "--point", "60", "290", "--out", name)
    assert ran.exit_code == 0
    assert (place / name).exists()
    assert "\\udcff\\udcfe.geojson" in ran.stdout


@pytest.mark.parametrize("name", ["../x", "a/b", "..", ".hidden", "a\x1bb", "a\u202eb", "a\0b"])
def test_a_row_is_not_called_by_a_path(place: Path, name: str) -> None:
    (place / "floors.csv").write_text(f"picture,outlines,name\nfloor.png,rooms.json,{name}\n")
    assert "cannot be a file's name" in refused(run("batch", "floors.csv", "--out", "out"), 1)
    assert not (place / "out").exists()


# --- numbers --------------------------------------------------------------------------------------


@pytest.mark.parametrize("margin", ["1e-320", "-1e-320", "1e-100", "-1e-12", "0", "-0"])
def test_a_margin_too_small_to_be_seen_changes_nothing(place: Path, margin: str) -> None:
    make_fit(transform=Affine(20.0, 0.0, 1e6, 0.0, -20.0, 3e6)).save("far.json")
    shape = ("--rectangle", "120", "80", "310", "205")
    for fit in ("fit.json", "far.json"):
        plain = run("area", fit, *shape, "--json")
        grown = run("area", fit, *shape, "--json", "--keep-off", margin)
        assert grown.exit_code == 0, grown.output
        rings = [json.loads(ran.stdout)["areas"][0]["rings"] for ran in (plain, grown)]
        assert rings[0] == rings[1]
        if not margin.startswith("-"):
            assert run("area", fit, "--point", "60", "290", "--keep-off", margin).exit_code == 0
            assert run("area", "fit.json", *shape, "--off-walls", margin).exit_code == 0
