"""What loading costs: time above Python's own start, packages loaded, memory."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from benchmarks import scenes
from benchmarks.report import Report, Table, Value
from benchmarks.samples import attempt, one_thread
from benchmarks.settings import Settings

__all__ = ["run", "seconds_in_turn"]

REPEAT, QUICK_REPEAT = 15, 4
HEAVY = ("numpy", "affine", "shapely", "scipy", "cv2", "rasterio", "click")

USE = (
    "import sys, regmap; fit = regmap.Registration.load(sys.argv[1]); "
    "fit.to_device([[9, 9]]); fit.expected_error([[9, 9]])"
)
CASES = {
    "Python alone": "pass",
    "import regmap": "import regmap",
    "load a stored fit and use it": USE,
    "the same, and mark an area": USE
    + "; regmap.areas.to_device(fit, (60, 60, 90, 90), accept_doubt=True)",
    "regmap.read_outlines": "import regmap; regmap.read_outlines",
    "regmap.register": "import regmap; regmap.register",
    "import numpy": "import numpy",
    "import shapely": "import shapely",
    "import scipy.optimize": "import scipy.optimize",
    "import cv2": "import cv2",
    "import rasterio": "import rasterio",
}
LOOK = """
import sys
with open("/proc/self/status") as status:
    peak = [line.split()[1] for line in status if line.startswith("VmHWM:")]
print(*[name for name in {heavy} if name in sys.modules], peak[0])
"""


def run(settings: Settings, _runs: object) -> Report:
    """Start Python again and again, each case in turn."""
    one_thread()
    with tempfile.TemporaryDirectory() as folder:
        stored = Path(folder) / "fit.json"
        sample = scenes.make(settings.seed, size=(500, 400))
        fit = attempt(sample.image, sample.outlines).fit
        assert fit is not None, "a clean picture of a made floor is refused"
        fit.save(stored)
        times = seconds_in_turn(CASES, stored, QUICK_REPEAT if settings.quick else REPEAT)
        rows = [_row(name, times, stored) for name in CASES]
    return Report(
        "imports",
        [
            Table(
                "Loading, each time in a Python of its own",
                {
                    "what": "",
                    "ms above Python alone": ".1f",
                    "time / Python alone": ".2f",
                    "peak MB": ".0f",
                    "loaded": "",
                },
                rows,
                "Median of the starts; the cases take turns.",
            )
        ],
        lambda figure: _draw(figure, rows),
    )


def seconds_in_turn(cases: dict[str, str], stored: Path, repeat: int) -> dict[str, float]:
    """Return the median wall time of a Python that runs each case."""
    found: dict[str, list[float]] = {name: [] for name in cases}
    for number in range(repeat + 1):
        for name, code in cases.items():
            began = time.perf_counter()
            subprocess.run([sys.executable, "-c", code, str(stored)], check=True)
            if number:  # the first one warms the disk's cache, and compiles
                found[name].append(time.perf_counter() - began)
    return {name: float(np.median(one)) for name, one in found.items()}


def _row(name: str, times: dict[str, float], stored: Path) -> list[Value]:
    alone = times["Python alone"]
    loaded, peak = "", None
    if os.path.exists("/proc/self/status"):
        code = CASES[name] + "\n" + LOOK.format(heavy=HEAVY)
        ran = subprocess.run(
            [sys.executable, "-c", code, str(stored)], check=True, capture_output=True, text=True
        )
        *packages, kilobytes = ran.stdout.split()
        loaded, peak = " ".join(packages), int(kilobytes) / 1024
    return [name, 1e3 * (times[name] - alone), times[name] / alone, peak, loaded]


def _draw(figure: Figure, rows: list[list[Any]]) -> None:
    axes = figure.add_subplot()
    names = [row[0] for row in rows]
    colours = ["#0072b2" if "regmap" in CASES[name] else "#999999" for name in names]
    axes.barh(names, [row[1] for row in rows], color=colours)
    axes.invert_yaxis()
    axes.axvline(50, color="black", lw=0.8, ls="--")
    axes.set_xlabel("ms above Python alone (dashed: the limit for `import regmap`)")
