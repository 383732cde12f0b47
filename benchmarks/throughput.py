"""Many floors: how a batch grows with floors and with workers."""

from __future__ import annotations

import os
import resource
import tempfile
import time
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from matplotlib.figure import Figure

from benchmarks.families import coloured
from benchmarks.report import Report, Table, Value
from benchmarks.settings import Settings
from regmap import synthetic
from regmap.batch import Job, in_processes

__all__ = ["jobs_of", "run", "when_done"]

FLOORS, QUICK_FLOORS = 200, 12


def run(settings: Settings, _runs: object) -> Report:
    """Run one batch with one worker, with two, and with as many as there are processors."""
    count = QUICK_FLOORS if settings.quick else FLOORS
    workers = sorted({1, 2, *(() if settings.quick else (os.cpu_count() or 1,))})
    with tempfile.TemporaryDirectory() as folder:
        jobs = jobs_of(settings, count, Path(folder))
        done, work = {}, {}
        for n in workers:
            before = _children_seconds()
            done[n] = when_done(jobs, n)
            work[n] = (_children_seconds() - before) / count
    marks = [n for n in (1, 10, 25, 50, 100) if n < count] + [count]
    return Report(
        "throughput",
        [_table(done, marks), _work(work)],
        lambda figure: _draw(figure, done),
        {"seconds_until_done": {str(n): times for n, times in done.items()}},
        (9.0, 4.0),
    )


def jobs_of(settings: Settings, count: int, folder: Path) -> list[Job]:
    """Return jobs on files, as a batch has them: pictures as PNG, outlines in memory."""
    families = coloured(settings)
    jobs = []
    for number in range(count):
        family = families[number % len(families)]
        sample = synthetic.sample(family, settings.seed + number // len(families))
        path = folder / f"{number}.png"
        cv2.imwrite(str(path), sample.image[..., ::-1])
        options = {"model": sample.model}
        jobs.append(Job(str(path), dict(sample.outlines), f"{family} {number}", options))
    return jobs


def when_done(jobs: list[Job], workers: int) -> list[float]:
    """Return the seconds after which the first, second ... job was done, from a standing start."""
    began = time.perf_counter()
    times = []
    for _, result in in_processes(jobs, workers):
        assert result.verdict != "error", f"{result.name}: {result.error}"
        times.append(time.perf_counter() - began)
    return times


def _children_seconds() -> float:
    """Processor time of all processes that this one started and that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _work(work: dict[int, float]) -> Table:
    return Table(
        "Processor time of the same batch",
        {"workers": "d", "processor s / floor": ".3f", "/ one worker's": ".2f"},
        [[n, seconds, seconds / work[1]] for n, seconds in work.items()],
        "Where this stays at 1, workers do not get in each other's way: what the time above lacks "
        "was taken by other programs.",
    )


def _table(done: dict[int, list[float]], marks: list[int]) -> Table:
    rows: list[list[Value]] = []
    for workers, times in done.items():
        for mark in marks:
            seconds = times[mark - 1]
            gain = done[1][mark - 1] / seconds
            steady = None
            if mark > 10:  # without the start of the processes
                steady = (done[1][mark - 1] - done[1][9]) / (seconds - times[9])
            rows.append([workers, mark, seconds, mark / seconds, gain, steady])
    return Table(
        "A batch, floors and workers",
        {
            "workers": "d",
            "floors": "d",
            "s": ".1f",
            "floors / s": ".2f",
            "one worker's time / this": ".2f",
            "the same after the first ten": ".2f",
        },
        rows,
        "Coloured families, PNG files. From a standing start: processes and imports count. "
        f"This machine has {os.cpu_count()} processors.",
    )


def _draw(figure: Figure, done: dict[int, list[float]]) -> None:
    axes: Any = figure.add_subplot()
    for workers, times in done.items():
        label = f"{workers} worker{'s' if workers > 1 else ''}"
        axes.plot(times, np.arange(1, len(times) + 1), label=label)
    axes.set_xlabel("s from the start")
    axes.set_ylabel("floors done")
    axes.set_ylim(bottom=0)
    axes.set_xlim(left=0)
    axes.legend()
