"""Many registrations in one process: memory, time and answers stay as they were."""

from __future__ import annotations

import gc
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from benchmarks import scenes
from benchmarks.report import Report, Table
from benchmarks.samples import attempt
from benchmarks.settings import Settings

__all__ = ["resident_bytes", "run", "slope"]

ROUNDS, QUICK_ROUNDS = 250, 5
"""Rounds over all pictures; eight pictures make 2,000 registrations."""

PICTURES, THREADS = 8, 8
WARM = 3
"""First rounds that do not count: caches fill, allocators take what they will keep."""

ENOUGH = 500
"""Registrations from which on it is told whether they become slower."""

Measured = tuple[float, float]


def run(settings: Settings, _runs: object) -> Report:
    """Register the same pictures again and again, then once by several threads at once."""
    samples = [scenes.make(settings.seed + i, size=(500, 400)) for i in range(PICTURES)]
    rounds = WARM + (QUICK_ROUNDS if settings.quick else ROUNDS)
    first = [_answer(sample) for sample in samples]
    curve: list[Measured] = []
    differing = 0
    for _ in range(rounds):
        began = time.process_time()
        answers = [_answer(sample) for sample in samples]
        spent = time.process_time() - began
        gc.collect()
        differing += sum(a != b for a, b in zip(answers, first, strict=True))
        curve.append((resident_bytes(), spent / len(samples)))
    with ThreadPoolExecutor(THREADS) as pool:
        together = list(pool.map(_answer, samples * 2))
    differing_threads = sum(a != b for a, b in zip(together, first * 2, strict=True))
    return _report(np.array(curve[WARM:]), len(samples), differing, differing_threads)


def _answer(sample: Any) -> dict[str, Any]:
    found = attempt(sample.image, sample.outlines)
    if found.fit is None:
        raise RuntimeError(f"no answer: {found.crash or found.reasons}")
    return found.fit.to_dict()


def resident_bytes() -> float:
    """Return the memory of this process that lies in RAM now (Linux; elsewhere nan)."""
    status = Path("/proc/self/statm")
    if not status.exists():
        return float("nan")
    import resource

    return float(int(status.read_text().split()[1]) * resource.getpagesize())


def slope(values: NDArray[np.float64]) -> tuple[float, float]:
    """Return the change a step by least squares, and its standard error.

    Both in the unit of `values`, from the residuals about the line (any textbook of regression).
    """
    step = np.arange(len(values)) - (len(values) - 1) / 2
    rise = float(step @ values / (step @ step))
    rest = values - values.mean() - rise * step
    spread = float(np.sqrt(rest @ rest / max(len(values) - 2, 1) / (step @ step)))
    return rise, spread


def _report(curve: NDArray[np.float64], pictures: int, differing: int, threaded: int) -> Report:
    memory, seconds = curve[:, 0], curve[:, 1]
    grown, grown_error = slope(memory / pictures)
    drift, drift_error = slope(seconds / seconds.mean() / pictures)
    number = len(curve) * pictures
    # Of few registrations the slope is the machine's unrest, many times enlarged.
    told = (1e3 * drift, 1e3 * drift_error) if number >= ENOUGH else (None, None)
    rows: list[list[Any]] = [
        ["registrations", number, None],
        ["memory at the end, MiB", memory[-1] / 2**20, None],
        ["memory added by a registration, KiB", grown / 2**10, grown_error / 2**10],
        ["time of one, ms of processor", 1e3 * float(np.median(seconds)), None],
        ["time added by 1,000 registrations, share", *told],
        ["answers that differ from the first", differing, None],
        [f"answers of {THREADS} threads that differ", threaded, None],
    ]
    columns = {"what": "", "value": ".4g", "standard error": ".2g"}
    note = f"The first {WARM} rounds over the {pictures} pictures do not count."
    table = Table("The same pictures again and again in one process", columns, rows, note)
    return Report("soak", [table], lambda figure: _draw(figure, curve, pictures))


def _draw(figure: Figure, curve: NDArray[np.float64], pictures: int) -> None:
    number = np.arange(1, len(curve) + 1) * pictures
    above, below = figure.subplots(2, 1, sharex=True)
    above.plot(number, curve[:, 0] / 2**20, color="#0072b2")
    above.set_ylabel("memory, MiB")
    below.plot(number, 1e3 * curve[:, 1], color="#d55e00")
    below.set_ylabel("time of one, ms")
    below.set_xlabel("registrations")
    below.set_ylim(bottom=0)
