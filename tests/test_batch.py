"""Many pictures at once: order, errors, executors, processes that die."""

from __future__ import annotations

import inspect
import json
import os
import pickle
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import register, register_many, synthetic
from regmap.batch import OPTIONS, BatchResult, Job, as_done, in_processes
from regmap.errors import NoFitError, OutlineError, PictureError, RegmapError
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


class TellsThreads:
    """A picture that says how many threads OpenCV has where it is looked at."""

    @property
    def __array_interface__(self) -> dict[str, Any]:
        raise RuntimeError(f"OpenCV has {cv2.getNumThreads()} threads")


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
    """Two workers, each a process of its own, as on machines of their own.

    Dask gives each one thread of BLAS. That of NumPy 1.26 adds up short products in another order
    then, and the last digit changes.
    """
    distributed = pytest.importorskip("distributed")
    told: list[tuple[int, int]] = []
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        jobs = [CASES[0], (np.zeros((9, 9), np.uint8), {}), CASES[1]]
        found = register_many(
            jobs, client.get_executor(), lambda done, total: told.append((done, total))
        )
    if np.lib.NumpyVersion(np.__version__) >= "2.0.0":
        assert all(map(same, found, one_by_one))
    for one, two in zip(found, one_by_one, strict=False):
        if one.fit is not None and two.fit is not None:
            gap = np.abs(one.fit.image_to_device - two.fit.image_to_device)
            assert (gap <= 1e-12 * np.abs(two.fit.image_to_device).max()).all()
    assert told == [(1, 3), (2, 3), (3, 3)]


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
    jobs: list[Any] = [CASES[0], "floor.png"]
    with pytest.raises(RegmapError, match=r"job 2 is 'floor.png'"):
        register_many(jobs)


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


def test_workers_have_one_thread_each() -> None:
    before = cv2.getNumThreads()
    ((_, told),) = in_processes([(TellsThreads(), CASES[0][1])], 1)
    assert "OpenCV has 1 threads" in str(told.error)
    assert cv2.getNumThreads() == before


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


def test_options_that_register_does_not_know_are_refused_before_anything_is_run() -> None:
    known = inspect.signature(register).parameters
    assert {*OPTIONS} - {"key"} == {n for n, one in known.items() if one.kind is one.KEYWORD_ONLY}
    job = Job("nowhere.png", {}, options={"modell": "affine"})
    with pytest.raises(RegmapError, match="an option of job 2 is 'modell', but it must be among"):
        register_many([("first.png", {}), job])
