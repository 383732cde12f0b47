"""Time on one core: against decoding the picture, stage by stage, against other pipelines."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
from matplotlib.figure import Figure

from benchmarks import scenes, stages
from benchmarks.families import coloured
from benchmarks.pipelines import PIPELINES
from benchmarks.report import Report, Table
from benchmarks.samples import attempt, measure_sample, one_thread
from benchmarks.settings import Settings
from regmap import synthetic

__all__ = ["decode_seconds", "longest_wait_seconds", "register_seconds", "run", "warm_up"]

REPEAT = 3


def run(settings: Settings, _runs: object) -> Report:
    """Time the first pictures of each coloured family, one after another, everything in turn."""
    one_thread()
    rows: list[list[str | float | int | None]] = []
    stage_times: list[dict[str, float]] = []
    ratios: dict[str, list[float]] = {name: [] for name in PIPELINES}
    count = 1 if settings.quick else 3
    warm_up()
    for family in coloured(settings)[:: 3 if settings.quick else 1]:
        for seed in list(settings.seeds)[:count]:
            sample = synthetic.sample(family, seed)
            own, spent = register_seconds(sample, repeat=REPEAT)
            stage_times.append(spent)
            megapixels = sample.image.shape[0] * sample.image.shape[1] / 1e6
            decode = decode_seconds(sample.image)
            rows.append(
                [
                    f"{family} {seed}",
                    megapixels,
                    len(sample.outlines),
                    own,
                    own / megapixels,
                    own / decode,
                ]
            )
            for name in PIPELINES:
                ratios[name].append(measure_sample(sample, name, seed).seconds / own)
    return Report(
        "speed",
        [
            _pictures(rows),
            stages.table(stage_times),
            _waits(settings.seed),
            _peers(ratios),
        ],
        lambda figure: _draw(figure, rows, stage_times),
        {"ratios": ratios, "stages": stage_times},
        (10.0, 5.0),
    )


def warm_up() -> None:
    """Run once on a small picture, so that imports and first allocations are not timed."""
    register_seconds(scenes.make(0, size=(320, 256)), repeat=1)


def register_seconds(sample: synthetic.Sample, *, repeat: int) -> tuple[float, dict[str, float]]:
    """Return the best of `repeat` wall times on the decoded picture, and its stages' times."""
    best, spent = np.inf, {}
    for _ in range(repeat):
        with stages.recorded() as times:
            seconds = attempt(sample.image, sample.outlines, model=sample.model).seconds
        if seconds < best:
            best, spent = seconds, dict(times)
    return best, spent


def longest_wait_seconds(call: Callable[[], Any]) -> float:
    """Return the longest time for which another thread could not run Python while `call` did.

    A thread that only wants to wake up every half millisecond is held back by whoever keeps the
    interpreter lock. Pure Python hands it over every 5 ms; a library that keeps it shows up. The
    least of three runs, for the system interrupts now and then.
    """
    least = np.inf
    for _ in range(3):
        worst, done = 0.0, threading.Event()

        def watch(done: threading.Event = done) -> None:
            nonlocal worst
            before = time.perf_counter()
            while not done.is_set():
                time.sleep(0.0005)
                now = time.perf_counter()
                worst, before = max(worst, now - before - 0.0005), now

        watcher = threading.Thread(target=watch)
        watcher.start()
        call()
        done.set()
        watcher.join()
        least = min(least, worst)
    return float(least)


def _waits(seed: int) -> Table:
    sample = scenes.make(seed, size=(1250, 800))
    return Table(
        "Longest wait of another thread for the interpreter (1 MP)",
        {"while": "", "ms": ".1f"},
        [
            ["idle", 1e3 * longest_wait_seconds(lambda: time.sleep(0.3))],
            [
                "register",
                1e3 * longest_wait_seconds(lambda: attempt(sample.image, sample.outlines)),
            ],
        ],
    )


def decode_seconds(image: np.ndarray) -> float:
    """Return the best of five wall times of decoding the picture from PNG of zlib level 6."""
    channels = image if image.ndim == 2 else image[..., ::-1]
    ok, coded = cv2.imencode(".png", channels, [cv2.IMWRITE_PNG_COMPRESSION, 6])
    if not ok:
        raise RuntimeError("OpenCV could not encode the picture as PNG")
    return min(_once(lambda: cv2.imdecode(coded, cv2.IMREAD_UNCHANGED)) for _ in range(5))


def _once(call: Callable[[], Any]) -> float:
    began = time.perf_counter()
    call()
    return time.perf_counter() - began


def _pictures(rows: list[list[str | float | int | None]]) -> Table:
    numbers = np.array([row[1:] for row in rows], dtype=float)
    total: list[str | float | int | None] = [
        "median",
        *(float(v) for v in np.median(numbers, axis=0)),
    ]
    total[2] = int(np.median(numbers[:, 1]))
    return Table(
        "Time of one call on one core",
        {
            "picture": "",
            "MP": ".2f",
            "rooms": "d",
            "s": ".3f",
            "s / MP": ".3f",
            "/ decoding its PNG": ".1f",
        },
        [*rows, total],
        "The picture is decoded already; the best of three calls.",
    )


def _peers(ratios: dict[str, list[float]]) -> Table:
    return Table(
        "Other pipelines' time by regmap's, same picture, same run",
        {"method": "", "median": ".2f", "least": ".2f", "most": ".2f"},
        [[name, float(np.median(r)), min(r), max(r)] for name, r in ratios.items() if r],
    )


def _draw(figure: Figure, rows: list[list[Any]], stage_times: list[dict[str, float]]) -> None:
    left, right = figure.subplots(1, 2)
    left.plot([row[1] for row in rows], [row[3] for row in rows], "o", color="#0072b2", ms=4)
    left.set_xlabel("megapixels")
    left.set_ylabel("s on one core")
    left.set_ylim(bottom=0)
    left.set_xlim(left=0)
    names, values = stages.medians(stage_times)
    right.barh(names, values, color="#56b4e9")
    right.invert_yaxis()
    right.set_xlabel("median s a stage")
