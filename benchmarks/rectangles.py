"""Slanted areas in five upright rectangles: fill and spill against a search without haste."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from shapely import Polygon, affinity

from benchmarks.long_search import anneal_cover, anneal_inside
from benchmarks.report import Report, Table
from benchmarks.settings import Settings
from regmap.areas import rectangles

__all__ = ["KINDS", "run", "slanted"]

COUNT = 5
KINDS = ("rectangle", "ell", "triangle", "free")
STEPS, QUICK_STEPS = 6000, 1500
MOST = 24
"""Shapes of a full run: the other search takes half a minute for each."""


def slanted(kind: str, seed: int) -> Polygon:
    """Return an area of a few metres as somebody marks it, turned by 5 to 85 degrees; mm."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    wide, tall = rng.uniform(800, 4000, 2)
    if kind == "rectangle":
        ring = [(0, 0), (wide, 0), (wide, tall), (0, tall)]
    elif kind == "ell":
        a, b = rng.uniform(0.3, 0.7, 2) * (wide, tall)
        ring = [(0, 0), (wide, 0), (wide, b), (a, b), (a, tall), (0, tall)]
    elif kind == "triangle":
        ring = [(0, 0), (wide, 0), (rng.uniform(0, wide), tall)]
    else:
        turns = np.sort(rng.uniform(0, 2 * np.pi, 7))
        reach = rng.uniform(0.6, 1.0, 7) * wide
        ring = list(zip(reach * np.cos(turns), reach * np.sin(turns), strict=True))
    shape = Polygon(ring)
    if not shape.is_valid or shape.area < 1e5:
        return slanted(kind, seed + 100_000)
    turned: Polygon = affinity.rotate(shape, float(rng.uniform(5, 85)))
    return turned


def run(settings: Settings, _runs: object) -> Report:
    """Fit rectangles to slanted areas both ways, and let the other search look for better ones."""
    count = min(settings.pictures, MOST, 4 if settings.quick else MOST)
    steps = QUICK_STEPS if settings.quick else STEPS
    seeds = range(settings.seed, settings.seed + count)
    shapes = [(KINDS[seed % len(KINDS)], seed) for seed in seeds]
    cases = [_case(kind, seed, steps) for kind, seed in shapes]
    by_kind = {kind: [case for case in cases if case["kind"] == kind] for kind in KINDS}
    rows = [_row(kind, some) for kind, some in (*by_kind.items(), ("all", cases)) if some]
    table = Table(
        f"Slanted areas in {COUNT} upright rectangles, against a long search",
        {
            "areas": "",
            "n": "d",
            "fill %": ".1f",
            "long search": ".1f",
            "less by, worst": ".1f",
            "spill %": ".1f",
            "long search ": ".1f",
            "more by, worst": ".1f",
            "s inside": ".2f",
            "s cover": ".2f",
            "long, s": ".0f",
        },
        rows,
        "Means over the areas, per cent of the area; worst: largest difference of one area, in "
        "per cent of the area (negative: the long search found nothing as good).",
    )
    return Report("rectangles", [table], lambda figure: _draw(figure, cases), {"cases": cases})


def _case(kind: str, seed: int, steps: int) -> dict[str, Any]:
    shape = slanted(kind, seed)
    began = time.process_time()
    within = rectangles(shape, fit="inside", max_count=COUNT)
    middle = time.process_time()
    over = rectangles(shape, fit="cover", max_count=COUNT)
    end = time.process_time()
    rng = np.random.default_rng(seed)
    fill = anneal_inside(shape, COUNT, rng, steps=2 * steps)
    spill = anneal_cover(shape, COUNT, rng, steps=steps)
    return {
        "kind": kind,
        "seed": seed,
        "fill": within.fill,
        "long_fill": fill,
        "bound": within.best_possible,
        "spill": over.spill,
        "long_spill": spill,
        "inside_s": middle - began,
        "cover_s": end - middle,
        "long_s": time.process_time() - end,
    }


def _row(kind: str, cases: list[dict[str, Any]]) -> list[Any]:
    def mean(name: str) -> float:
        return float(np.mean([case[name] for case in cases]))

    less = max(case["long_fill"] - case["fill"] for case in cases)
    more = max(case["spill"] - case["long_spill"] for case in cases)
    shares = [100 * v for v in (mean("fill"), mean("long_fill"), less)]
    shares += [100 * v for v in (mean("spill"), mean("long_spill"), more)]
    return [kind, len(cases), *shares, mean("inside_s"), mean("cover_s"), mean("long_s")]


def _draw(figure: Figure, cases: list[dict[str, Any]]) -> None:
    for place, name, title in ((121, "fill", "Fill (inside)"), (122, "spill", "Spill (cover)")):
        axes = figure.add_subplot(place)
        ours = [100 * case[name] for case in cases]
        theirs = [100 * case[f"long_{name}"] for case in cases]
        axes.plot(theirs, ours, "o", markersize=4)
        ends = [min(ours + theirs), max(ours + theirs)]
        axes.plot(ends, ends, linewidth=0.8, color="grey")
        axes.set_xlabel("long search, %")
        axes.set_ylabel("regmap.areas.rectangles, %")
        axes.set_title(title)
