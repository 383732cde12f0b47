"""`regmap batch`: results on the disk, whole or not at all; a run that is killed goes on."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from regmap import Registration, register_many
from regmap.batch import BatchResult, Job
from regmap.cli import main
from regmap.errors import NoFitError, RegmapError
from regmap.floors import load_house
from regmap.inputs.batch_table import content_key, read_table
from regmap.outputs.batch_folder import BatchFolder
from tests.fit_examples import make_fit
from tests.test_batch import CASES


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture
def table(tmp_path: Path) -> Path:
    lines = ["picture,outlines,name,key"]
    for number, (image, outlines) in enumerate(CASES):
        cv2.imwrite(str(tmp_path / f"{number}.png"), image[..., ::-1])
        rings = {name: np.round(parts[0], 3).tolist() for name, parts in outlines.items()}
        (tmp_path / f"{number}.json").write_text(json.dumps({"rooms": rings}))
        lines.append(f"{number}.png,{number}.json,storey {number},rooms")
    path = tmp_path / "table.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Put a known answer in the place of the work; return the names of the jobs that were run."""
    asked: list[str] = []

    def stand_in(jobs: list[Job], workers: int) -> Iterator[tuple[int, BatchResult]]:
        for number, job in reversed(list(enumerate(jobs))):  # in whatever order they are done
            asked.append(job.name)
            yield number, BatchResult(job.name, make_fit(), None, 0.5)

    monkeypatch.setattr("regmap.batch.in_processes", stand_in)
    return asked


def test_a_batch_by_command_line(table: Path, tmp_path: Path) -> None:
    ran = run("batch", table, "--out", tmp_path / "fits", "--workers", 1)
    assert ran.exit_code in (0, 3), ran.output
    assert "no safety barrier" in ran.output
    fits = load_house(tmp_path / "fits")
    assert list(fits) == ["storey 0", "storey 1", "storey 2"]
    alone = register_many([CASES[0]])[0].fit
    assert alone is not None
    assert np.allclose(fits["storey 0"].image_to_device, alone.image_to_device, atol=1e-3)
    rows = list(csv.DictReader(io.StringIO((tmp_path / "fits" / "summary.csv").read_text())))
    assert [row["name"] for row in rows] == list(fits)
    assert {row["verdict"] for row in rows} <= {"sure", "doubtful"}


def test_what_is_done_is_not_done_again(table: Path, tmp_path: Path, quick: list[str]) -> None:
    out = tmp_path / "fits"
    assert run("batch", table, "--out", out).exit_code == 0
    assert sorted(quick) == ["storey 0", "storey 1", "storey 2"]
    stamps = {path: path.stat().st_mtime_ns for path in out.glob("*.json")}
    ran = run("batch", table, "--out", out, "--json")
    assert len(quick) == 3
    assert [row["verdict"] for row in json.loads(ran.stdout)["rows"]] == ["sure"] * 3
    assert {path: path.stat().st_mtime_ns for path in out.glob("*.json")} == stamps


@pytest.mark.parametrize("damage", ["no fit", "half a fit", "no record", "half a record"])
def test_half_of_a_result_never_counts(
    table: Path, tmp_path: Path, quick: list[str], damage: str
) -> None:
    out = tmp_path / "fits"
    run("batch", table, "--out", out)
    fit = out / "storey 1.json"
    record = out / "records" / "storey 1.record.json"
    quick.clear()
    target = record if "record" in damage else fit
    if damage.startswith("half"):
        target.write_bytes(target.read_bytes()[:100])
    else:
        target.unlink()
    ran = run("batch", table, "--out", out)
    if "record" in damage:  # then it is not known whose file that is
        assert ran.exit_code == 1
        assert "would be overwritten" in ran.output
        assert not quick
        ran = run("batch", table, "--out", out, "--force")
    assert ran.exit_code == 0, ran.output
    assert quick == ["storey 1"]
    assert Registration.load(fit).same_as(make_fit())


def test_other_content_is_done_again_only_if_told(
    table: Path, tmp_path: Path, quick: list[str]
) -> None:
    out = tmp_path / "fits"
    run("batch", table, "--out", out)
    quick.clear()
    cv2.imwrite(str(tmp_path / "2.png"), CASES[0][0])
    ran = run("batch", table, "--out", out)
    assert ran.exit_code == 1
    assert "storey 2.record.json would be overwritten" in ran.output
    assert not quick
    assert run("batch", table, "--out", out, "--force").exit_code == 0
    assert quick == ["storey 2"]


def test_a_users_own_files_are_not_replaced(table: Path, tmp_path: Path, quick: list[str]) -> None:
    out = tmp_path / "fits"
    out.mkdir()
    for name in ("storey 1.json", "summary.csv"):
        (out / name).write_text("mine")
    ran = run("batch", table, "--out", out)
    assert ran.exit_code == 1
    assert not quick
    assert (out / "storey 1.json").read_text() == "mine"
    assert (out / "summary.csv").read_text() == "mine"


def test_rows_that_fail_are_told_and_the_others_done(
    table: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stand_in(jobs: list[Job], workers: int) -> Iterator[tuple[int, BatchResult]]:
        yield 0, BatchResult(jobs[0].name, None, NoFitError(None, ("another floor",)), 0.5)
        yield 1, BatchResult(jobs[1].name, None, MemoryError(), 0.5)

    monkeypatch.setattr("regmap.batch.in_processes", stand_in)
    (tmp_path / "1.png").unlink()
    ran = run("batch", table, "--out", tmp_path / "fits", "--json")
    assert ran.exit_code == 1
    verdicts = {row["name"]: row["verdict"] for row in json.loads(ran.stdout)["rows"]}
    assert verdicts == {"storey 0": "nothing fits", "storey 1": "failed", "storey 2": "failed"}
    folder = BatchFolder(tmp_path / "fits")
    rows = read_table(table)
    # A refusal stands; a lack of memory may pass.
    assert folder.finished("storey 0", content_key(rows[0])) is not None
    assert folder.finished("storey 2", content_key(rows[2])) is None


def _children(pid: int) -> list[int]:
    listed = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(child) for child in listed.read_text().split()]


def _works(pid: int) -> bool:
    """True unless the process is gone, or dead and only not yet collected."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


@pytest.mark.parametrize("who", ["all processes", "the parent alone"])
def test_a_run_that_is_killed_goes_on(table: Path, tmp_path: Path, who: str) -> None:
    """Killed with a signal that no program can catch, as by lack of memory or power."""
    if who == "the parent alone" and not Path("/proc/self/task").exists():
        pytest.skip("needs Linux: the workers' numbers are read from /proc")
    out = tmp_path / "fits"
    head, *lines = table.read_text().splitlines()
    more = [line.replace(",storey", f",storey {n}.") for n in range(3) for line in lines]
    table.write_text("\n".join([head, *more]) + "\n")  # enough of them to be still at work
    command = [sys.executable, "-m", "regmap", "batch", str(table), "--out", str(out)]
    first = subprocess.Popen(
        [*command, "--workers", "1"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd=Path(__file__).parent.parent,
        start_new_session=True,
    )
    while first.poll() is None and not list(out.glob("*.json")):
        time.sleep(0.02)
    if who == "all processes":
        os.killpg(first.pid, signal.SIGKILL)
    else:
        children = _children(first.pid)
        assert children
        first.kill()
    first.wait()
    if who == "the parent alone":  # then its workers must not stay behind
        for _ in range(500):
            if not any(map(_works, children)):
                break
            time.sleep(0.02)
        assert not any(map(_works, children))
    there = {path: path.read_bytes() for path in out.glob("*.json")}
    assert there
    done = BatchFolder(out)
    rows = read_table(table)
    kept = [row.name for row in rows if done.finished(row.name, content_key(row)) is not None]
    assert kept
    assert len(kept) < len(rows), "the run was over before it was killed"
    records = {name: (out / "records" / f"{name}.record.json").read_bytes() for name in kept}
    ran = run("batch", table, "--out", out, "--workers", 1)
    assert ran.exit_code in (0, 3), ran.output
    assert f"({len(kept)} of them were done before)" in ran.output
    assert list(load_house(out)) == [row.name for row in rows]
    for name, record in records.items():  # its seconds would be others if it had run again
        assert (out / "records" / f"{name}.record.json").read_bytes() == record
    assert not list(out.rglob("*.part"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "columns"),
        ("picture,outlines\n", "no rows"),
        ("picture,capture\na,b\n", "outlines are needed"),
        ("picture,outlines,colour\na,b,c\n", "needed"),
        ("picture,outlines\na.png\n", "line 2: there are more or fewer cells"),
        ("picture,outlines\na.png,\n", "line 2: picture or outlines is empty"),
        ("picture,outlines,mirrored\na.png,b,maybe\n", "mirrored is 'maybe'"),
        ("picture,outlines,model\na.png,b,cubic\n", "model is 'cubic'"),
        ("picture,outlines,name\na.png,b,x/y\n", "cannot be a file's name"),
        ("picture,outlines,name\na.png,b,../x\n", "cannot be a file's name"),
        ("picture,outlines\na.png,b\nc/A.png,b\n", "lines 2 and 3: both results"),
        ("picture,outlines\n" + "x" * 200_000 + ",b\n", "line 2: no table of cells"),
        ("x" * 200_000 + "\n", "line 1: no table of cells"),
        ("picture,outlines\n" + "a,b\n" * 2**20, "split the table"),
    ],
)
def test_tables_that_say_something_wrong(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text(text)
    with pytest.raises(RegmapError, match=says):
        read_table(path)


@pytest.mark.parametrize("endless", ["/dev/zero", "/dev/full"])
def test_rows_that_name_a_device_are_told(tmp_path: Path, endless: str) -> None:
    (tmp_path / "t.csv").write_text(f"picture,outlines\n{endless},t.csv\nt.csv,{endless}\n")
    for row in read_table(tmp_path / "t.csv"):
        with pytest.raises(RegmapError, match="is no file"):
            content_key(row)


def test_tables_as_people_and_programs_write_them(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(
        b"\xef\xbb\xbfpicture; outlines; mirrored\r\n"
        b'"plans;old/one.png"; cap.txt; yes\r\n\r\nplans/two.png; cap.txt;\r\n'
    )
    one, two = read_table(path)
    assert one.picture == tmp_path / "plans;old" / "one.png"
    assert one.outlines == tmp_path / "cap.txt"
    assert (one.name, two.name) == ("one", "two")
    assert one.options["mirrored"] is True
    assert "mirrored" not in two.options


def test_the_content_key_sees_files_and_options(table: Path, tmp_path: Path) -> None:
    rows = read_table(table)
    keys = {content_key(row) for row in rows}
    assert len(keys) == 3
    changed = table.with_name("other.csv")
    changed.write_text(table.read_text().replace("rooms", "room"))
    assert content_key(read_table(changed)[0]) not in keys
    (tmp_path / "0.json").write_text("{}")
    assert content_key(rows[0]) not in keys
