"""Writing that fails half-way: afterwards there is the old file or the new one, never a torn one.

Every line of the modules that write is a place where a fault is put: the process is killed there,
or interrupted as by Ctrl-C; and every call that asks the system for something is made to fail.
"""

from __future__ import annotations

import errno
import os
import resource
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from regmap.batch import BatchResult
from regmap.errors import StoredFileError
from regmap.outputs import batch_folder, folder, storage, whole_files
from regmap.outputs.batch_folder import BatchFolder
from regmap.outputs.whole_files import write_together, write_whole
from regmap.registration import Registration
from tests.fit_examples import UPRIGHT, make_fit

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is forked and killed"),
    # Stopped between opening a file and minding it: the interpreter closes it, and says so.
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

WRITERS = {module.__file__ for module in (whole_files, storage, folder, batch_folder)}
OLD, NEW = b"old" * 50_000, b"new!" * 60_000


def at_line(number: int, fault: Callable[[], None]) -> Callable[[FrameType, str, Any], Any]:
    """A trace function that calls `fault` at the number-th line that runs in the writers."""
    left = number

    def trace(frame: FrameType, event: str, _: Any) -> Any:
        nonlocal left
        if frame.f_code.co_filename not in WRITERS:
            return None
        if event == "line":
            left -= 1
            if left == 0:
                sys.settrace(None)
                fault()
        return trace

    return trace


def run_killed(work: Callable[[], None], number: int) -> bool:
    """Run `work` in another process that is killed at a line; False if it was over before."""
    child = os.fork()
    if child == 0:
        sys.settrace(at_line(number, lambda: os.kill(os.getpid(), signal.SIGKILL)))
        try:
            work()
        finally:
            os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def interrupted(work: Callable[[], None], number: int) -> bool:
    """Run `work` here, with Ctrl-C at a line; False if it was over before."""

    def fault() -> None:
        raise KeyboardInterrupt

    before = sys.gettrace()
    sys.settrace(at_line(number, fault))
    try:
        work()
    except KeyboardInterrupt:
        return True
    finally:
        sys.settrace(before)
    return False


def every_fault(work: Callable[[], None], stop: Callable[..., bool], reset: Any) -> Iterator[int]:
    """Yield after each run of `work` that was stopped at one more line than the last."""
    number = 1
    reset()
    while stop(work, number):
        yield number
        number += 1
        reset()
    assert number > 15, "hardly any line was reached"


@pytest.mark.parametrize("stop", [run_killed, interrupted])
def test_a_file_is_the_old_or_the_new_one(stop: Callable[..., bool], tmp_path: Path) -> None:
    path = tmp_path / "fit.json"
    seen = set()
    for _ in every_fault(
        lambda: write_whole(path, NEW, overwrite=True), stop, lambda: path.write_bytes(OLD)
    ):
        seen.add(path.read_bytes())
    assert path.read_bytes() == NEW  # the last run was not stopped
    assert seen == {OLD, NEW}


@pytest.mark.parametrize("stop", [run_killed, interrupted])
def test_a_new_file_is_there_or_not(stop: Callable[..., bool], tmp_path: Path) -> None:
    path = tmp_path / "fit.json"
    seen = set()
    for _ in every_fault(
        lambda: write_whole(path, NEW), stop, lambda: path.unlink(missing_ok=True)
    ):
        seen.add(path.read_bytes() if path.exists() else None)
    assert seen == {None, NEW}


def test_ctrl_c_leaves_both_of_two_files_or_none(tmp_path: Path) -> None:
    pair = [tmp_path / "map.yaml", tmp_path / "map.pgm"]

    def reset() -> None:
        for path in tmp_path.iterdir():
            path.unlink()

    def work() -> None:
        write_together([(path, NEW) for path in pair])

    torn = 0
    for _ in every_fault(work, interrupted, reset):
        found = [path.exists() for path in pair]
        torn += found[0] != found[1]
        assert all(path.read_bytes() == NEW for path in pair if path.exists())
    # Between a name's taking and its being noted lies a line each.
    assert torn <= 2


def test_a_batch_folder_never_tells_of_a_fit_that_is_not_there(tmp_path: Path) -> None:
    batch = BatchFolder(tmp_path)
    old, new = make_fit(confidence=0.95), make_fit(confidence=0.96, transform=UPRIGHT)

    def result(fit: Registration) -> BatchResult:
        return BatchResult("floor", fit, None, 1.0)

    def reset() -> None:
        batch.write(result(old), "content 1")

    states = set()
    for _ in every_fault(lambda: void(batch.write(result(new), "content 2")), run_killed, reset):
        before, after = batch.finished("floor", "content 1"), batch.finished("floor", "content 2")
        assert before is None or after is None
        states.add((before is not None, after is not None))
        for record, fit in ((before, old), (after, new)):
            if record is not None:
                assert Registration.load(batch.fit_path("floor")).same_as(fit)
                assert record.confidence == fit.confidence
    assert states == {(True, False), (False, False), (False, True)}


def void(_: object) -> None:
    """Nothing comes back."""


CALLS = ("open", "fsync", "link", "replace", "fdopen")


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EACCES, errno.EIO, errno.EROFS, errno.EDQUOT])
@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("overwrite", [False, True])
def test_a_call_that_fails_leaves_what_was_there(
    call: str, code: int, overwrite: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "fit.json"
    if overwrite:
        path.write_bytes(OLD)

    def fail(*_: object, **__: object) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, call, fail)
    said = ""
    try:
        write_whole(path, NEW, overwrite=overwrite)
    except StoredFileError as error:
        said = str(error)
    monkeypatch.undo()
    failed = bool(said)
    assert not failed or os.strerror(code) in said
    # Another way round was found (no links: a rename), or nothing happened; no draft stays.
    expected = NEW if not failed else OLD if overwrite else None
    assert (path.read_bytes() if path.exists() else None) == expected
    assert [one.name for one in tmp_path.iterdir()] == ["fit.json"] * (expected is not None)


def test_a_disk_that_fills_up_in_the_middle(tmp_path: Path) -> None:
    """The system itself cuts the writing off, after as many bytes as a limit allows."""
    path = tmp_path / "fit.json"
    path.write_bytes(OLD)
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (len(NEW) // 2, len(NEW) // 2))
        try:
            write_whole(path, NEW, overwrite=True)
        except StoredFileError:
            os._exit(7)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 7
    assert path.read_bytes() == OLD
    assert os.listdir(tmp_path) == ["fit.json"]


@pytest.mark.parametrize("place", ["/proc/fit.json", "/dev/full/fit.json", "none/fit.json", "f/x"])
def test_places_where_nothing_can_be_written(
    place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "f").write_bytes(OLD)
    with pytest.raises(StoredFileError, match="cannot be written"):
        make_fit().save(place)
    assert os.listdir(tmp_path) == ["f"]


def test_folders_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "f").write_bytes(OLD)
    for place in (tmp_path / "f" / "fit", Path("/proc/fit"), tmp_path / "f"):
        with pytest.raises(StoredFileError, match=r"cannot be made|is a file"):
            folder.write_fit(make_fit(), None, place)
    assert os.listdir(tmp_path) == ["f"]
