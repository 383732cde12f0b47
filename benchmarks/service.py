"""In a live service: how long an event loop stands still, and what threads gain."""

from __future__ import annotations

import asyncio
import functools
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from benchmarks import scenes
from benchmarks.growth import size_of
from benchmarks.report import Report, Table, Value
from benchmarks.samples import attempt, one_thread
from benchmarks.settings import Settings
from regmap import synthetic

__all__ = ["Stall", "run", "stalls"]

TICK_S = 0.001
REPEAT, QUICK_REPEAT = 5, 2
PICTURES = ((1.0, 8), (4.0, 8), (10.0, 8), (2.0, 100), (2.0, 400))
"""Megapixels and rooms."""
THREADS = (1, 2, 4, 8)


def run(settings: Settings, _runs: object) -> Report:
    """Watch an event loop while fits run in its executor; then fit in more and more threads."""
    one_thread()
    repeat = QUICK_REPEAT if settings.quick else REPEAT
    found = {"nothing": _repeated(lambda: time.sleep(0.3), 1, repeat)}
    for megapixels, rooms in PICTURES[:2] if settings.quick else PICTURES:
        sample = scenes.make(settings.seed, rooms=rooms, size=size_of(megapixels))
        label = f"a fit, {megapixels:g} MP, {len(sample.outlines)} rooms"
        found[label] = _repeated(_fit_of(sample), 1, repeat)
    sample = scenes.make(settings.seed, size=size_of(1.0))
    found["two fits at once, 1 MP"] = _repeated(_fit_of(sample), 2, repeat)
    stalls = [_stall_row(name, runs) for name, runs in found.items()]
    threads = _threads(sample, THREADS[:2] if settings.quick else THREADS)
    return Report(
        "service",
        [
            Table(
                "How long an event loop stands still",
                {
                    "while in the executor": "",
                    "runs": "d",
                    "99 %, ms": ".1f",
                    "largest, median of the runs, ms": ".1f",
                    "largest of all, ms": ".1f",
                    "largest by own work, ms": ".1f",
                },
                stalls,
                "A task asks to be woken every millisecond; a stall is how much later it was. "
                "What `nothing` shows is the machine's own doing. By own work: the processor time "
                "of this process meanwhile, so that what others took from it does not count.",
            ),
            Table(
                "The same fit in several threads, 1 MP",
                {"threads": "d", "fits / s": ".2f", "/ one thread": ".2f"},
                threads,
                "OpenCV is kept to one thread.",
            ),
        ],
        lambda figure: _draw(figure, found),
        {"late_ms": {name: _late(runs).round(3) for name, runs in found.items()}},
        (9.0, 4.0),
    )


class Stall(NamedTuple):
    """By how many ms a task was woken too late, and what this process worked from its last turn."""

    late_ms: float
    worked_ms: float


def stalls(call: Callable[[], object], times: int = 1) -> list[Stall]:
    """Return how late an event loop's task was woken, each time that it asked to be.

    Meanwhile `call` runs `times` times at once in the loop's executor.
    """

    async def watch() -> list[Stall]:
        loop = asyncio.get_running_loop()
        found: list[Stall] = []
        with ThreadPoolExecutor(times) as pool:
            before, worked = time.perf_counter(), time.process_time()  # handing over may stall, too
            work = [loop.run_in_executor(pool, call) for _ in range(times)]
            while not found or not all(one.done() for one in work):
                await asyncio.sleep(TICK_S)
                now, work_now = time.perf_counter(), time.process_time()
                found.append(Stall(1e3 * (now - before - TICK_S), 1e3 * (work_now - worked)))
                before, worked = now, work_now
            await asyncio.gather(*work)
        return found

    return asyncio.run(watch())


def _fit_of(sample: synthetic.Sample) -> Callable[[], object]:
    return functools.partial(attempt, sample.image, sample.outlines)


def _repeated(call: Callable[[], object], times: int, repeat: int) -> list[list[Stall]]:
    call()  # first imports and allocations are no stall of a service that runs
    return [stalls(call, times) for _ in range(repeat)]


def _late(runs: list[list[Stall]]) -> NDArray[np.float64]:
    return np.array([one.late_ms for run in runs for one in run])


def _stall_row(name: str, runs: list[list[Stall]]) -> list[Value]:
    largest = [max(run).late_ms for run in runs]
    own = max(min(one) for run in runs for one in run)
    late = float(np.quantile(_late(runs), 0.99))
    return [name, len(runs), late, float(np.median(largest)), max(largest), own]


def _threads(sample: synthetic.Sample, counts: tuple[int, ...]) -> list[list[Value]]:
    fit = _fit_of(sample)
    rates = []
    for count in counts:
        began = time.perf_counter()
        with ThreadPoolExecutor(count) as pool:
            for future in [pool.submit(fit) for _ in range(max(counts))]:
                future.result()
        rates.append(max(counts) / (time.perf_counter() - began))
    return [[n, rate, rate / rates[0]] for n, rate in zip(counts, rates, strict=True)]


def _draw(figure: Figure, found: dict[str, list[list[Stall]]]) -> None:
    axes: Any = figure.add_subplot()
    for name, runs in found.items():
        late = np.sort(_late(runs))
        axes.plot(late, 1 - np.arange(len(late)) / len(late), drawstyle="steps-post", label=name)
    axes.axvline(20, color="black", lw=0.8, ls="--")
    axes.set_xlim(left=0)
    axes.set_yscale("log")
    axes.set_xlabel("stall, ms (dashed: the limit)")
    axes.set_ylabel("share of the wakings that were later")
    axes.legend(fontsize=7)
