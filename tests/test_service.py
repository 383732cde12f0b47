"""regmap inside a program that runs day and night: threads, an event loop, giving up, no noise."""

from __future__ import annotations

import asyncio
import functools
import logging
import pickle
import subprocess
import sys
import threading
import warnings
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import cv2
import pytest

import regmap
from regmap import Registration, synthetic
from regmap.batch import Job, register_many
from regmap.errors import DoubtfulFitWarning, RegmapError

STAGES = ["rasterise", "edges", "segment", "search", "refine", "judge"]


@pytest.fixture(scope="module")
def problem() -> synthetic.Sample:
    return synthetic.sample("flat", 2)


@pytest.fixture(scope="module")
def answer(problem: synthetic.Sample) -> Registration:
    return regmap.register(problem.image, problem.outlines)


def test_eight_threads_give_identical_results(
    problem: synthetic.Sample, answer: Registration, tmp_path: Path
) -> None:
    """Half of them read a file, so that all that reading sets up is shared, too."""
    path = tmp_path / "floor.png"
    cv2.imwrite(str(path), problem.image[..., ::-1])
    logging: Any = getattr(cv2.utils, "logging", cv2)  # OpenCV 4.8 has the functions at the top
    level = logging.getLogLevel()
    together = threading.Barrier(8)

    def fit(number: int) -> Registration:
        together.wait()
        return regmap.register(path if number % 2 else problem.image, problem.outlines)

    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(fit, range(8)))
    assert all(one.same_as(answer) for one in found)
    assert logging.getLogLevel() == level


def test_an_event_loop_waits_for_a_fit_and_goes_on_meanwhile(
    problem: synthetic.Sample, answer: Registration
) -> None:
    async def serve() -> tuple[Registration, int]:
        loop = asyncio.get_running_loop()
        work = functools.partial(regmap.register, problem.image, problem.outlines)
        fit = loop.run_in_executor(None, work)
        turns = 0
        while not fit.done():
            await asyncio.sleep(0)
            turns += 1
        return await fit, turns

    found, turns = asyncio.run(serve())
    assert found.same_as(answer)
    assert turns > 10


class GivenUpError(Exception):
    pass


@pytest.mark.parametrize("last", STAGES)
def test_a_fit_is_given_up_between_two_stages(
    problem: synthetic.Sample, answer: Registration, last: str
) -> None:
    ended: list[str] = []

    def look(stage: str) -> None:
        ended.append(stage)
        if stage == last:
            raise GivenUpError(stage)

    with pytest.raises(GivenUpError, match=last):
        regmap.register(problem.image, problem.outlines, on_stage=look)
    assert ended == STAGES[: STAGES.index(last) + 1]


def test_who_only_watches_changes_nothing(problem: synthetic.Sample, answer: Registration) -> None:
    ended: list[str] = []
    fit = regmap.register(problem.image, problem.outlines, on_stage=ended.append)
    assert ended == STAGES
    assert fit.same_as(answer)


def test_a_batch_in_threads_is_given_up_job_by_job(problem: synthetic.Sample) -> None:
    stop = threading.Event()

    def look(_stage: str) -> None:
        if stop.is_set():
            raise GivenUpError

    jobs = [Job(problem.image, problem.outlines, options={"on_stage": look}) for _ in range(3)]
    with ThreadPoolExecutor(1) as pool:
        found = register_many(jobs, pool, lambda _done, _total: stop.set())
    assert found[0].fit is not None
    assert all(isinstance(one.error, GivenUpError) for one in found[1:])


def test_on_stage_must_be_a_function(problem: synthetic.Sample) -> None:
    wrong: Any = "edges"
    with pytest.raises(RegmapError, match="on_stage is 'edges', but a function or None is needed"):
        regmap.register(problem.image, problem.outlines, on_stage=wrong)


def test_a_result_survives_pickling(answer: Registration) -> None:
    assert pickle.loads(pickle.dumps(answer)).same_as(answer)


def test_a_batch_says_doubt_in_its_results_and_warns_nobody(
    capfd: pytest.CaptureFixture[str],
) -> None:
    twin = synthetic.sample("twin-mirror", 0)
    filters = list(warnings.filters)
    with warnings.catch_warnings():
        warnings.simplefilter("error", DoubtfulFitWarning)
        with ThreadPoolExecutor(2) as pool:
            there = register_many([(twin.image, twin.outlines)] * 2, pool)
        here = register_many([(twin.image, twin.outlines)])
    assert {one.verdict for one in (*there, *here)} == {"doubtful"}
    assert warnings.filters == filters
    assert capfd.readouterr() == ("", "")


def test_nothing_is_printed_and_no_log_is_set_up(
    problem: synthetic.Sample, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    root = list(logging.getLogger().handlers)
    (tmp_path / "torn.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(40))
    regmap.register(problem.image, problem.outlines)
    with pytest.raises(RegmapError):
        regmap.register(tmp_path / "torn.png", problem.outlines)
    assert capfd.readouterr() == ("", "")
    assert logging.getLogger().handlers == root
    own = [name for name in logging.Logger.manager.loggerDict if name.split(".")[0] == "regmap"]
    handlers = [handler for name in own for handler in logging.getLogger(name).handlers]
    assert [type(handler) for handler in handlers] == [logging.NullHandler]
    assert logging.getLogger("regmap").level == logging.NOTSET


def test_loading_everything_starts_no_thread_and_sets_nothing_of_the_process() -> None:
    code = (
        "import signal\n"
        "before = signal.getsignal(signal.SIGINT)\n"
        "import threading, logging, regmap\n"
        "[getattr(regmap, name) for name in regmap.__all__]\n"
        "print(threading.active_count(), logging.getLogger().handlers)\n"
        "print(signal.getsignal(signal.SIGINT) is before)"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parent.parent,
    )
    assert ran.stdout.splitlines() == ["1 []", "True"], ran.stderr
