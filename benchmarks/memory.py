"""Peak memory of one call, in bytes a pixel: each picture in a process of its own."""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from benchmarks import scenes
from benchmarks.growth import size_of
from benchmarks.report import Report, Table
from benchmarks.samples import attempt, one_thread
from benchmarks.settings import Settings

__all__ = ["peak_bytes", "run"]

MEGAPIXELS = (1.0, 2.0, 4.0, 8.0, 16.0)


def run(settings: Settings, _runs: object) -> Report:
    """Measure one floor at several sizes."""
    rows: list[list[str | float | int | None]] = []
    for megapixels in MEGAPIXELS[:-2] if settings.quick else MEGAPIXELS:
        sample = scenes.make(settings.seed, size=size_of(megapixels))
        added = peak_bytes(sample.image, sample.outlines)
        pixels = sample.image.shape[0] * sample.image.shape[1]
        rows.append([megapixels, added / 2**20, added / pixels])
    return Report(
        "memory",
        [
            Table(
                "Peak memory of one call above what was in use before it",
                {"MP": "g", "MiB": ".1f", "bytes / pixel": ".1f"},
                rows,
                "In use before: the program with its libraries after one call on a small picture, "
                "and the picture itself (3 bytes a pixel).",
            )
        ],
        lambda figure: _draw(figure, rows),
    )


def peak_bytes(image: NDArray[np.uint8], outlines: Any) -> int:
    """Return by how much the peak of resident memory rises through one call of `register`."""
    with tempfile.TemporaryDirectory() as folder:
        stored = Path(folder) / "picture.npy"
        np.save(stored, image)
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(1, mp_context=context, initializer=one_thread) as pool:
            return pool.submit(_rise, str(stored), dict(outlines)).result()


def _rise(stored: str, outlines: Any) -> int:
    small = scenes.make(0, size=(320, 256))
    image = np.load(stored)
    for picture, rings in ((small.image, small.outlines), (image, outlines)):
        before = _peak()
        attempt(picture, rings)
    return _peak() - before


def _peak() -> int:
    """Return the highest resident memory of this process so far, in bytes.

    Linux hands a parent's figure down through getrusage, so its own status file is asked first.
    """
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return used if sys.platform == "darwin" else used * 1024


def _draw(figure: Figure, rows: list[list[Any]]) -> None:
    axes = figure.add_subplot()
    axes.plot([row[0] for row in rows], [row[2] for row in rows], "o-", color="#0072b2")
    axes.set_xlabel("megapixels")
    axes.set_ylabel("peak, bytes a pixel")
    axes.set_ylim(bottom=0)
