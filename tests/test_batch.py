"""Many pictures at once: order, errors, executors, and a run that is broken off."""

from __future__ import annotations

import csv
import io
import json
import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result
from numpy.typing import NDArray

from regmap import Registration, register_many, synthetic
from regmap.batch import BatchResult, Job, as_done, in_processes
from regmap.cli import main
from regmap.errors import NoFitError, OutlineError, PictureError, RegmapError
from regmap.floors import load_house
from regmap.inputs.batch_table import content_key, read_table
from regmap.outputs.batch_folder import BatchFolder
from tests.fit_examples import make_fit

pytestmark = pytest.mark.filterwarnings("ignore::regmap.errors.DoubtfulFitWarning")

Image = NDArray[np.uint8]


def small_case(seed: int) -> tuple[Image, dict[str, Any]]:
    rng = np.random.default_rng(seed)
    floor = synthetic.make_floor(rng, rooms=4, style="plain")
    image = synthetic.draw(floor, rng, size=(320, 240), fill=0.9).image
    return image, dict(synthetic.robot_outlines(floor, rng).rings)


class Unreadable:
    """A picture that breaks whoever looks at it."""

    @property
    def __array_interface__(self) -> dict[str, Any]:
        raise RuntimeError("the camera is gone")


class Deadly:
    """A picture that takes the process down."""

    @property
    def __array_interface__(self) -> dict[str, Any]:
        os._exit(1)


class StubbornError(Exception):
    """An error that cannot be read again after pickling."""

    def __init__(self, code: int, text: str) -> None:
        super().__init__(text)


class RaisesStubborn:
    @property
    def __array_interface__(self) -> dict[str, Any]:
        raise StubbornError(3, "no way back")


CASES = [small_case(seed) for seed in (1, 2, 3)]


def same(one: BatchResult, two: BatchResult) -> bool:
    if one.fit is None or two.fit is None:
        return one.fit is two.fit and str(one.error) == str(two.error)
    return one.fit.same_as(two.fit)


@pytest.fixture(scope="module")
def one_by_one() -> tuple[BatchResult, ...]:
    return register_many([CASES[0], (np.zeros((9, 9), np.uint8), {}), CASES[1], CASES[2]])


def test_results_come_in_order_and_one_failure_stops_nothing(
    one_by_one: tuple[BatchResult, ...],
) -> None:
    assert [result.name for result in one_by_one] == ["job 1", "job 2", "job 3", "job 4"]
    assert isinstance(one_by_one[1].error, OutlineError)
    assert one_by_one[1].verdict == "error"
    for number, (image, outlines) in zip((0, 2, 3), CASES, strict=True):
        fit = one_by_one[number].fit
        assert fit is not None
        assert list(fit.outlines) == list(outlines)
        assert fit.image_size == (image.shape[1], image.shape[0])
        assert one_by_one[number].seconds > 0


@pytest.mark.parametrize("kind", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_an_executor_changes_nothing(
    kind: Callable[[int], Executor], one_by_one: tuple[BatchResult, ...]
) -> None:
    told: list[tuple[int, int]] = []
    with kind(2) as executor:
        found = register_many(
            [CASES[0], (np.zeros((9, 9), np.uint8), {}), CASES[1], CASES[2]],
            executor,
            lambda done, total: told.append((done, total)),
        )
    assert all(map(same, one_by_one, found))
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_a_cluster_is_an_executor_too(one_by_one: tuple[BatchResult, ...]) -> None:
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        found = register_many([CASES[0], CASES[1]], client.get_executor())
    assert same(found[0], one_by_one[0])
    assert same(found[1], one_by_one[2])


def test_jobs_have_names_and_options(tmp_path: Path) -> None:
    image, outlines = CASES[0]
    path = tmp_path / "ground floor.png"
    cv2.imwrite(str(path), image[..., ::-1])
    capture = tmp_path / "capture.json"
    rings = {name: np.round(parts[0], 3).tolist() for name, parts in outlines.items()}
    capture.write_text(json.dumps({"rooms": rings}))
    found = register_many(
        [
            Job(str(path), capture, options={"key": "rooms", "unit": "inch"}),
            Job(path, outlines, name="twice", options={"model": "cubic"}),
            (tmp_path / "nothing.png", outlines),
        ]
    )
    assert [result.name for result in found] == ["ground floor", "twice", "nothing"]
    assert found[0].fit is not None
    assert found[0].fit.unit == "inch"
    assert "cubic" in str(found[1].error)
    assert isinstance(found[2].error, PictureError)


def test_something_that_is_no_job_is_refused_before_the_work() -> None:
    with pytest.raises(RegmapError, match=r"job 2 is 'floor.png'"):
        register_many([CASES[0], "floor.png"])  # type: ignore[list-item]


def test_any_error_is_caught_and_comes_back_from_a_process() -> None:
    with ProcessPoolExecutor(1) as pool:
        found = register_many([(Unreadable(), CASES[0][1]), (RaisesStubborn(), CASES[0][1])], pool)
    assert "the camera is gone" in str(found[0].error)
    assert "no way back" in str(found[1].error)
    assert all(result.verdict == "error" for result in found)


def test_a_broken_pool_is_said_of_every_job_it_did_not_do() -> None:
    jobs = [(Deadly(), CASES[0][1]), *[CASES[0]] * 3]
    with ProcessPoolExecutor(1) as pool:
        found = register_many(jobs, pool)
    assert len(found) == 4
    assert isinstance(found[0].error, BrokenProcessPool)
    assert all(isinstance(result.error, BrokenProcessPool) for result in found[1:])


def test_a_job_that_kills_its_process_fails_alone() -> None:
    jobs: list[Job | tuple[Any, Any]] = [
        CASES[0],
        Job(Deadly(), CASES[0][1], name="deadly"),
        CASES[1],
        CASES[2],
    ]
    found = dict(in_processes(jobs, 2))
    assert sorted(found) == [0, 1, 2, 3]
    assert isinstance(found[1].error, BrokenProcessPool)
    assert [found[n].fit is not None for n in (0, 2, 3)] == [True] * 3
    assert [found[n].name for n in range(4)] == ["job 1", "deadly", "job 3", "job 4"]


class Counting(Executor):
    """Runs what it is given only when asked for the result of the oldest."""

    def __init__(self) -> None:
        self.queued = 0
        self.most = 0
        self.cancelled = 0

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.queued += 1
        future = Eager(self)
        self.most = max(self.most, self.queued)
        future.set_result(BatchResult("x", None, NoFitError(), 0.0))
        return future


class Eager(Future[Any]):
    def __init__(self, home: Counting) -> None:
        super().__init__()
        self.home = home

    def result(self, timeout: float | None = None) -> Any:
        self.home.queued -= 1
        return super().result(timeout)


def test_only_so_many_pictures_wait_in_the_queue() -> None:
    taken = 0

    def endless() -> Iterator[tuple[Image, dict[str, Any]]]:
        nonlocal taken
        for _ in range(1000):
            taken += 1
            yield CASES[0]

    home = Counting()
    results = as_done(endless(), home, ahead=5)
    for _ in range(20):
        next(results)
    results.close()
    assert home.most == 5
    assert taken <= 30


def test_results_pickle() -> None:
    result = BatchResult("a", make_fit(), None, 1.0)
    copy = pickle.loads(pickle.dumps(result))
    assert copy.fit.same_as(result.fit)
    assert copy.verdict == "sure"
    assert BatchResult("b", None, NoFitError(), 1.0).verdict == "nothing fits"
    assert BatchResult("c", make_fit(confidence=0.5), None, 1.0).verdict == "doubtful"


# --- the command --------------------------------------------------------------------------------


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


def test_a_run_that_is_killed_goes_on(table: Path, tmp_path: Path) -> None:
    """Killed with a signal that no program can catch, as by lack of memory or power."""
    out = tmp_path / "fits"
    command = [sys.executable, "-m", "regmap.cli", "batch", str(table), "--out", str(out)]
    first = subprocess.Popen(
        [*command, "--workers", "1"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        cwd=Path(__file__).parent.parent,
        start_new_session=True,
    )
    for _ in range(600):
        if list(out.glob("*.json")) or first.poll() is not None:
            break
        time.sleep(0.05)
    os.killpg(first.pid, signal.SIGKILL)
    first.communicate()
    there = {path: path.read_bytes() for path in out.glob("*.json")}
    assert there
    done = BatchFolder(out)
    rows = read_table(table)
    kept = [row.name for row in rows if done.finished(row.name, content_key(row)) is not None]
    records = {name: (out / "records" / f"{name}.record.json").read_bytes() for name in kept}
    ran = run("batch", table, "--out", out, "--workers", 1)
    assert ran.exit_code in (0, 3), ran.output
    assert list(load_house(out)) == [row.name for row in rows]
    for name, record in records.items():  # its seconds would be others if it had run again
        assert (out / "records" / f"{name}.record.json").read_bytes() == record


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
    ],
)
def test_tables_that_say_something_wrong(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text(text)
    with pytest.raises(RegmapError, match=says):
        read_table(path)


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
