"""Many floors at once: in order, each with its own error, over any executor."""

from __future__ import annotations

import dataclasses
import math
import multiprocessing
import os
import pickle
import threading
import time
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from regmap.errors import NoFitError, RegmapError
from regmap.floors.fitting import quietly
from regmap.given import callback, chosen, instance, listed, mapping, short
from regmap.inputs.captures import read_outlines
from regmap.registration import Registration

__all__ = ["BatchResult", "Job", "as_done", "in_processes", "register_many"]

_AHEAD = 64
"""Jobs that are handed over and not yet done: pictures in the queue take memory."""

OPTIONS = ("model", "mirrored", "tie_points", "near", "unit", "on_stage", "key")
"""What a Job may say besides: the keywords of `register`, and `key` of `read_outlines`."""

Numbered = tuple[int, "BatchResult"]


@dataclass(frozen=True, eq=False)
class Job:
    """One picture to register.

    Attributes:
        image: as in `register`; a path is read by the worker.
        outlines: as in `register`, or the path of a capture, which is read by the worker.
        name: what the result is called; by default the picture's file name without its ending, or
            "job 1", "job 2" ...
        options: keywords of `register`, and `key` of `read_outlines` where `outlines` is a path.
    """

    image: Any
    outlines: Any
    name: str = ""
    options: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class BatchResult:
    """What became of one job.

    Attributes:
        name: of the job. fit: the Registration, or None. error: why there is none, or None.
        seconds: of reading and fitting; nan where the job was never run.
    """

    name: str
    fit: Registration | None
    error: Exception | None
    seconds: float

    @property
    def verdict(self) -> str:
        """ "sure", "doubtful", "nothing fits" or "error"."""
        if self.fit is not None:
            return "doubtful" if self.fit.doubtful else "sure"
        return "nothing fits" if isinstance(self.error, NoFitError) else "error"


def register_many(
    jobs: Iterable[Job | tuple[Any, Any]],
    executor: Executor | None = None,
    progress: Callable[[int, int], object] | None = None,
) -> tuple[BatchResult, ...]:
    """Register many pictures; one that fails does not stop the others.

    Args:
        jobs: Jobs, or pairs (image, outlines).
        executor: any `concurrent.futures.Executor`: a pool of processes or threads, or that of a
            cluster (`distributed.Client.get_executor()`). It is not shut down. By default the jobs
            are run here, one after another. Processes are quickest with one thread each:
            `ProcessPoolExecutor(n, initializer=cv2.setNumThreads, initargs=(1,))`.
        progress: called as progress(done, total) after each job, here and not in a worker.

    Returns:
        One BatchResult for each job, in the order of the jobs.

    Raises:
        RegmapError: before anything is run, if something among `jobs` is none.
    """
    named = [_named(job, number) for number, job in enumerate(listed(jobs, "jobs"))]
    callback(progress, "progress")
    if executor is not None:
        instance(executor, Executor, "executor")
    results: dict[int, BatchResult] = {}
    try:
        for number, result in as_done(named, executor):
            results[number] = result
            if progress is not None:
                progress(len(results), len(named))
    except BrokenExecutor as error:
        for number in range(len(named)):
            if number not in results:
                results[number] = BatchResult(named[number].name, None, error, math.nan)
    return tuple(results[number] for number in range(len(named)))


def as_done(
    jobs: Iterable[Job | tuple[Any, Any]], executor: Executor | None = None, *, ahead: int = _AHEAD
) -> Generator[Numbered, None, None]:
    """Yield (number of the job, result) as jobs are done; at most `ahead` of them are handed over.

    Raises:
        BrokenExecutor: if the executor takes no more jobs; those that it had taken were yielded.
    """
    numbered = ((number, _named(job, number)) for number, job in enumerate(jobs))
    if executor is None:
        yield from ((number, _run(job)) for number, job in numbered)
        return
    waiting: dict[Future[BatchResult], tuple[int, Job]] = {}
    broken: BrokenExecutor | None = None
    try:
        while True:
            while broken is None and len(waiting) < ahead:
                entry = next(numbered, None)
                if entry is None:
                    break
                try:
                    waiting[executor.submit(_run, entry[1])] = entry
                except BrokenExecutor as error:
                    broken = error
            if not waiting:
                break
            for future in wait(waiting, return_when=FIRST_COMPLETED).done:
                number, job = waiting.pop(future)
                failed = future.exception()
                if isinstance(failed, Exception):
                    yield number, BatchResult(job.name, None, failed, math.nan)
                else:
                    yield number, future.result()
    finally:
        for future in waiting:
            future.cancel()
    if broken is not None:
        raise broken


def in_processes(jobs: Iterable[Job | tuple[Any, Any]], workers: int) -> Iterator[Numbered]:
    """Yield (number, result) as jobs are done by `workers` processes of one thread each.

    A job that brings its process down, by lack of memory say, takes down those of the other
    workers, too. Then the jobs that were under way are run again, each in a process of its own, and
    the others go on in new ones: only the culprit fails.
    """
    rest = [(number, _named(job, number)) for number, job in enumerate(jobs)]
    while rest:
        suspects = []
        done: set[int] = set()
        with _pool(workers) as pool:
            try:
                for place, result in as_done((j for _, j in rest), pool, ahead=2 * workers):
                    done.add(place)
                    if isinstance(result.error, BrokenExecutor):
                        suspects.append(rest[place])
                    else:
                        yield rest[place][0], result
            except BrokenExecutor:
                pass  # the rest goes to the next pool
        for number, job in suspects:
            with _pool(1) as pool:
                yield number, next(as_done([job], pool))[1]
        rest = [entry for place, entry in enumerate(rest) if place not in done]


def _pool(workers: int) -> ProcessPoolExecutor:
    # Spawned, not forked: a fork of a process with threads in it may hang.
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=context, initializer=_begin)


def _begin() -> None:
    """Set up a worker: one thread for OpenCV, and no life of its own."""
    import cv2

    cv2.setNumThreads(1)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    # A parent that is killed cannot tell its workers to stop: they would wait for work for ever.
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _named(job: Any, number: int) -> Job:
    """What was given, as a Job with a name."""
    if isinstance(job, tuple | list) and len(job) == 2:
        job = Job(*job)
    if not isinstance(job, Job):
        raise RegmapError(
            f"job {number + 1} is {short(job)}, but a Job or (image, outlines) is needed"
        )
    for option in mapping(job.options, f"the options of job {number + 1}"):
        chosen(option, OPTIONS, f"an option of job {number + 1}")
    if instance(job.name, str, f"the name of job {number + 1}"):
        return job
    is_path = isinstance(job.image, str | os.PathLike)
    name = Path(job.image).stem if is_path else f"job {number + 1}"
    return dataclasses.replace(job, name=name)


def _run(job: Job) -> BatchResult:
    """Do one job. Runs in the worker, so that what it returns must survive the way back."""
    began = time.perf_counter()
    fit, error = None, None
    try:
        fit = _fit(job)
    except Exception as raised:
        error = _portable(raised)
    return BatchResult(job.name, fit, error, time.perf_counter() - began)


def _fit(job: Job) -> Registration:
    options = dict(job.options)
    outlines = job.outlines
    if isinstance(outlines, str | os.PathLike):
        outlines = read_outlines(outlines, key=options.pop("key", None))
    return quietly(job.image, outlines, options)


def _portable(error: Exception) -> Exception:
    """The error, or, if it cannot be pickled and read again, one that says the same."""
    try:
        pickle.loads(pickle.dumps(error))
    except Exception:
        return RegmapError(f"{type(error).__name__}: {error}")
    return error
