"""How time grows with pixels and with rooms, on one core."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from benchmarks import scenes, stages
from benchmarks.report import Report, Table
from benchmarks.samples import one_thread
from benchmarks.settings import Settings
from benchmarks.speed import decode_seconds, register_seconds, warm_up

__all__ = ["run"]

MEGAPIXELS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)
REPEAT = 3
ROOMS = (8, 16, 32, 64, 128, 256, 400)


def run(settings: Settings, _runs: object) -> Report:
    """Sweep the pixels at 8 rooms, then the rooms at 2 MP, over the same seeds."""
    one_thread()
    warm_up()
    seeds = [settings.seed + i for i in range(1 if settings.quick else 3)]
    pixels = [_point(seeds, 8, mp) for mp in (MEGAPIXELS[:-2] if settings.quick else MEGAPIXELS)]
    rooms = [_point(seeds, n, 2.0) for n in (ROOMS[::3] if settings.quick else ROOMS)]
    over_pixels, over_rooms = ([p.pop("stages") for p in points] for points in (pixels, rooms))
    return Report(
        "growth",
        [
            _table("Time against pixels (8 rooms)", pixels),
            stages.table(over_pixels),
            _table("Time against rooms (2 MP)", rooms),
        ],
        lambda figure: _draw(figure, pixels, rooms),
        {"stages": [*over_pixels, *over_rooms]},
        (10.0, 4.0),
    )


def size_of(megapixels: float) -> tuple[int, int]:
    """Columns and rows of a 5:4 picture of so many pixels."""
    columns = round(np.sqrt(megapixels * 1e6 * 1.25))
    return columns, round(columns * 0.8)


def _point(seeds: list[int], rooms: int, megapixels: float) -> dict[str, Any]:
    """Medians over the seeds."""
    times, decodes, counts, spent = [], [], [], []
    for seed in seeds:
        sample = scenes.make(seed, rooms=rooms, size=size_of(megapixels))
        seconds, by_stage = register_seconds(sample, repeat=REPEAT)
        times.append(seconds)
        decodes.append(decode_seconds(sample.image))
        counts.append(len(sample.outlines))
        spent.append(by_stage)
    names, values = stages.medians(spent)
    return {
        "megapixels": megapixels,
        "rooms": int(np.median(counts)),
        "seconds": float(np.median(times)),
        "ratio": float(np.median(np.array(times) / decodes)),
        "stages": dict(zip(names, values, strict=True)),
    }


def _table(title: str, points: list[dict[str, Any]]) -> Table:
    first = points[0]["seconds"]
    rows: list[list[str | float | int | None]] = [
        [
            p["megapixels"],
            p["rooms"],
            p["seconds"],
            p["seconds"] / p["megapixels"],
            p["ratio"],
            p["seconds"] / first,
        ]
        for p in points
    ]
    columns = {"MP": "g", "rooms": "d", "s": ".3f", "s / MP": ".3f", "/ decoding its PNG": ".1f"}
    return Table(title, columns | {"/ first row": ".2f"}, rows)


def _draw(figure: Figure, pixels: list[dict[str, Any]], rooms: list[dict[str, Any]]) -> None:
    left, right = figure.subplots(1, 2)
    for axes, points, key in ((left, pixels, "megapixels"), (right, rooms, "rooms")):
        at = [p[key] for p in points]
        axes.loglog(at, [p["seconds"] for p in points], "o-", color="#0072b2", label="register")
        decode = [p["seconds"] / p["ratio"] for p in points]
        axes.loglog(at, decode, "s--", color="#999999", ms=3, label="decoding the PNG")
        axes.set_xlabel(key)
        axes.set_ylabel("s on one core")
    left.legend()
