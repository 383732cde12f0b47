"""Recorded maps from a folder of the user's own: pairs of map and outlines, and their crossings.

The folder holds pairs.json, a list of objects with `map` and `outlines` (paths inside the folder),
`truth` (a..f with x = a col + b row + c, y = d col + e row + f, from picture px to mm),
`truth_quality_mm` (0: exact) and `same_recording`. An outlines file holds `rooms`: name -> ring.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
import numpy as np
import shapely
from matplotlib.figure import Figure
from numpy.typing import NDArray

from benchmarks.report import Report, Table
from benchmarks.samples import (
    BENT_SHARE,
    SURE,
    TOLERANCE_PX,
    Attempt,
    attempt,
    misplacement_px,
    one_thread,
)
from benchmarks.scores import rms
from benchmarks.settings import Settings
from regmap import frames
from regmap.inputs.pictures import read_picture

__all__ = ["Pair", "read_pairs", "run"]


@dataclass(frozen=True)
class Pair:
    """One map with the outlines of its place and the truth, picture -> device."""

    map: Path
    outlines: Path
    truth: NDArray[np.float64]
    truth_quality_mm: float
    same_recording: bool


def read_pairs(folder: Path) -> list[Pair]:
    """Read pairs.json of a folder of maps."""
    stored = json.loads((folder / "pairs.json").read_text(encoding="utf-8"))
    return [
        Pair(
            folder / entry["map"],
            folder / entry["outlines"],
            np.array([entry["truth"][k] for k in "abcdef"], dtype=float).reshape(2, 3),
            float(entry["truth_quality_mm"]),
            bool(entry["same_recording"]),
        )
        for entry in stored
    ]


def run(settings: Settings, _runs: object) -> Report:
    """Register every map with the outlines of its own place, and with those of every other."""
    if settings.maps is None:
        raise click.UsageError("the suite `real` needs a folder of recorded maps: --maps DIR")
    one_thread()
    pairs = read_pairs(settings.maps)
    own = [_own_row(pair) for pair in pairs]
    places = sorted({pair.outlines for pair in pairs})
    crossings = [
        _crossing_row(pair, place) for pair in pairs for place in places if place != pair.outlines
    ]
    return Report(
        "real",
        [_own_table(own), _crossing_table(crossings)],
        lambda figure: _draw(figure, own, crossings),
    )


def _own_row(pair: Pair) -> list[str | float | int | None]:
    rings = _rings(pair.outlines)
    tried = attempt(pair.map, rings)
    error = mm = share = float("nan")
    if tried.fit is not None:
        shown = _shown_points(rings, pair.truth, read_picture(pair.map).shape)
        error = rms(misplacement_px(tried.fit.transform, pair.truth, shown))
        mm = error * frames.scale_of(pair.truth)
        share = mm / float(np.hypot(*np.ptp(np.vstack(list(rings.values())), axis=0)))
    right = error <= TOLERANCE_PX or (not pair.same_recording and share <= BENT_SHARE)
    return [
        pair.map.stem,
        "same" if pair.same_recording else "other",
        error,
        mm,
        share,
        pair.truth_quality_mm,
        tried.confidence,
        "yes" if right else "no",
        tried.seconds,
        _why(tried),
    ]


def _crossing_row(pair: Pair, place: Path) -> list[str | float | int | None]:
    tried = attempt(pair.map, _rings(place))
    doubted = "yes" if tried.confidence < SURE else "no"
    return [pair.map.stem, place.stem, tried.confidence, doubted, tried.seconds, _why(tried)]


def _why(tried: Attempt) -> str:
    return (tried.crash or (tried.reasons[0] if tried.reasons else ""))[:80]


def _rings(path: Path) -> dict[str, NDArray[np.float64]]:
    rooms: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))["rooms"]
    return {name: np.array(ring, dtype=float) for name, ring in rooms.items()}


def _shown_points(
    rings: dict[str, NDArray[np.float64]], truth: NDArray[np.float64], shape: tuple[int, ...]
) -> NDArray[np.float64]:
    """Return (K, 2) px: room corners and a grid inside, as far as the picture reaches."""
    points = []
    for ring in rings.values():
        room = shapely.Polygon(frames.apply(frames.invert(truth), ring))
        left, top, right, bottom = room.bounds
        grid = np.stack(np.meshgrid(np.linspace(left, right, 14), np.linspace(top, bottom, 14)), -1)
        grid = grid.reshape(-1, 2)
        points += [np.array(room.exterior.coords), grid[shapely.contains_xy(room, grid)]]
    found = np.vstack(points)
    inside = (found >= 0).all(axis=1) & (found <= [shape[1], shape[0]]).all(axis=1)
    return np.asarray(found[inside], dtype=float)


def _own_table(rows: list[list[str | float | int | None]]) -> Table:
    columns = {"map": "", "recording": "", "px": ".2f", "mm": ".0f", "of the diagonal": ".2%"}
    columns |= {
        "truth good to mm": ".0f",
        "confidence": ".3f",
        "right": "",
        "s": ".2f",
        "reason": "",
    }
    return Table(
        "Recorded maps with the outlines of their own place",
        columns,
        rows,
        f"Right: within {TOLERANCE_PX:g} px, or for another recording within {BENT_SHARE:.0%} "
        "of the floor's diagonal. An error below the truth's own says nothing.",
    )


def _crossing_table(rows: list[list[str | float | int | None]]) -> Table:
    columns = {
        "map": "",
        "outlines of": "",
        "confidence": ".3f",
        "doubted": "",
        "s": ".2f",
        "reason": "",
    }
    return Table("Recorded maps with the outlines of another place", columns, rows)


def _draw(figure: Figure, own: list[list[Any]], crossings: list[list[Any]]) -> None:
    axes = figure.add_subplot()
    axes.plot([row[6] for row in own], np.full(len(own), 1.0), "o", color="#0072b2", ms=5)
    axes.plot(
        [row[2] for row in crossings], np.full(len(crossings), 0.0), "x", color="#d55e00", ms=5
    )
    axes.axvline(SURE, color="black", lw=0.8, ls="--")
    axes.set_yticks([0, 1], ["another place", "own place"])
    axes.set_ylim(-0.5, 1.5)
    axes.set_xlim(-0.02, 1.02)
    axes.set_xlabel("confidence")
