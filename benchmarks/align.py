"""A robot maps again: how exactly are old coordinates found in the new frame, and is doubt told?"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from benchmarks.remaps import REMAPS, Remap, remap
from benchmarks.report import Report, Table
from benchmarks.samples import by_family, spread_out
from benchmarks.scores import false_rate_bound
from benchmarks.settings import Settings
from regmap import frames
from regmap.floors import FrameChange, NoChangeError, align_outlines
from regmap.inputs.options import TiePoint

__all__ = ["CELL_MM", "Alignment", "measure", "run"]

CELL_MM = 50.0
"""Right is what lies within one cell: RMS over all corners of the old rooms."""

SURE = 0.9
TIE_MM = 400.0
"""Standard deviation per axis of the tie point that is given to twins."""

Array = NDArray[np.float64]
Value = str | float | int | None


@dataclass(frozen=True)
class Alignment:
    """One answer, in plain numbers.

    Attributes:
        rms_mm, worst_mm: error over the corners of the old rooms. covered: share of the corners
            whose error is below `expected_error`. others_mm: RMS errors of the alternatives.
        tied_mm, tied_confidence: with one tie point (twins alone).
    """

    family: str
    seed: int
    answer: str
    rooms: int
    seconds: float
    refused: bool
    confidence: float
    rms_mm: float
    worst_mm: float
    covered: float
    expected_mm: float
    others_mm: tuple[float, ...]
    tied_mm: float
    tied_confidence: float

    @property
    def right(self) -> bool:
        """Within one cell."""
        return self.rms_mm <= CELL_MM

    @property
    def sure(self) -> bool:
        """Handed over as safe to use."""
        return not self.refused and not self.others_mm and self.confidence >= SURE

    @property
    def wrong_and_sure(self) -> bool:
        """The one thing that must not happen; to be sure of one of two twins is wrong, too."""
        return self.sure and (not self.right or self.answer == "twins")


def run(settings: Settings, _runs: object) -> Report:
    """Run every family of cases."""
    # Families of pictures may have been named for the other suites.
    families = [name for name in settings.families if name in REMAPS] or list(REMAPS)
    keys = [(name, seed) for name in families for seed in settings.seeds]
    found = list(spread_out(measure, keys, settings.jobs))
    fits = [a for a in found if a.answer == "fits"]
    twins = [a for a in found if a.answer == "twins"]
    others = [a for a in found if a.answer == "stranger"]
    tables = [_fits(fits), _twins(twins), _others(others), _verdict(found)]
    return Report(
        "align",
        [table for table in tables if table.rows],
        lambda figure: _draw(figure, fits),
        {"cases": [asdict(a) for a in found]},
    )


def measure(family: str, seed: int) -> Alignment:
    """Make a case, align it, and compare."""
    case = remap(family, seed)
    began = time.perf_counter()
    change, refused = _aligned(case)
    seconds = time.perf_counter() - began
    away = _away(change, case)
    tied_mm, tied_confidence = _tied(case, seed) if case.answer == "twins" else (np.nan, np.nan)
    return Alignment(
        family=family,
        seed=seed,
        answer=case.answer,
        rooms=len(case.old),
        seconds=seconds,
        refused=refused,
        confidence=0.0 if refused else change.confidence,
        rms_mm=_rms(away),
        worst_mm=float(away.max()),
        covered=float((away <= change.expected_error(case.corners)).mean()),
        expected_mm=float(np.median(change.expected_error(case.corners))),
        others_mm=tuple(_rms(_away(other, case)) for other in change.alternatives),
        tied_mm=tied_mm,
        tied_confidence=tied_confidence,
    )


def _aligned(case: Remap, tie_points: Sequence[TiePoint] = ()) -> tuple[FrameChange, bool]:
    """The change and whether it was refused."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return align_outlines(case.old, case.new, tie_points=tie_points), False
        except NoChangeError as error:
            return error.change, True


def _away(change: FrameChange, case: Remap) -> Array:
    gap = change.to_new(case.corners) - frames.apply(case.old_to_new, case.corners)
    return np.asarray(np.hypot(gap[:, 0], gap[:, 1]))


def _rms(away: Array) -> float:
    return float(np.sqrt((away**2).mean()))


def _tied(case: Remap, seed: int) -> tuple[float, float]:
    """Error and confidence with the place of a charging station, roughly known."""
    rng = np.random.default_rng(seed)
    dock = case.corners[int(rng.integers(len(case.corners)))]
    there = frames.apply(case.old_to_new, dock)[0] + rng.normal(0.0, TIE_MM, 2)
    change, refused = _aligned(case, tie_points=[(tuple(dock), tuple(there))])
    sure = 0.0 if refused or change.alternatives else change.confidence
    return _rms(_away(change, case)), sure


def _fits(found: Sequence[Alignment]) -> Table:
    groups = by_family(found) | ({"all": list(found)} if found else {})
    return Table(
        "A floor that was mapped again",
        {
            "family": "",
            "cases": "d",
            f"RMS within {CELL_MM:g} mm": ".1%",
            "every corner within": ".1%",
            "median mm": ".1f",
            "98 % mm": ".1f",
            "covered by CE95": ".1%",
            "median CE95": ".1f",
            f"sure (>= {SURE:g})": ".1%",
            "sure and wrong": "d",
            "median s": ".2f",
            "seeds not right (!: sure)": "",
        },
        [_fit_row(name, group) for name, group in groups.items()],
        "Errors over the corners of the old rooms, in mm. Noise: corners off by 5 to 40 mm. Cells: "
        "of 50 mm. Everything: cells, noise, furniture, and rooms joined, split, missing or new.",
    )


def _fit_row(name: str, group: Sequence[Alignment]) -> list[Value]:
    rms = np.array([a.rms_mm for a in group])
    missed = [f"{a.seed}{'!' if a.wrong_and_sure else ''}" for a in group if not a.right]
    return [
        name,
        len(group),
        _share(group, lambda a: a.right),
        _share(group, lambda a: a.worst_mm <= CELL_MM),
        float(np.median(rms)),
        float(np.percentile(rms, 98)),
        float(np.mean([a.covered for a in group])),
        float(np.median([a.expected_mm for a in group])),
        _share(group, lambda a: a.sure),
        sum(a.wrong_and_sure for a in group),
        float(np.median([a.seconds for a in group])),
        "" if name == "all" else " ".join(missed),
    ]


def _twins(found: Sequence[Alignment]) -> Table:
    def told(a: Alignment) -> bool:
        return min((a.rms_mm, *a.others_mm)) <= CELL_MM

    rows: list[list[Value]] = [
        [
            name,
            len(group),
            _share(group, told),
            _share(group, lambda a: bool(a.others_mm) and a.confidence <= 0.5),
            _share(group, lambda a: a.tied_mm <= CELL_MM and a.tied_confidence >= SURE),
            sum(a.wrong_and_sure for a in group),
        ]
        for name, group in by_family(found).items()
    ]
    return Table(
        "Floors that look the same turned by 180 degrees",
        {
            "family": "",
            "cases": "d",
            "truth among the answers": ".1%",
            "confidence shared": ".1%",
            "one tie point settles it": ".1%",
            "sure and wrong": "d",
        },
        rows,
        f"The tie point is off by {TIE_MM:g} mm a coordinate (standard deviation).",
    )


def _others(found: Sequence[Alignment]) -> Table:
    rows: list[list[Value]] = [
        [
            name,
            len(group),
            _share(group, lambda a: a.refused),
            _share(group, lambda a: a.sure),
            _share(group, lambda a: a.right),
            sum(a.wrong_and_sure for a in group),
        ]
        for name, group in by_family(found).items()
    ]
    return Table(
        "Outlines of another floor",
        {
            "family": "",
            "cases": "d",
            "refused": ".1%",
            "sure": ".1%",
            "outer walls laid right": ".1%",
            "sure and wrong": "d",
        },
        rows,
        "Another storey, or other rooms inside the same outer walls, lies right on those walls: to "
        "be sure of that is no error of position.",
    )


def _verdict(found: Sequence[Alignment]) -> Table:
    wrong = [a for a in found if a.wrong_and_sure]
    named = ", ".join(f"{a.family} {a.seed}" for a in wrong) or "none"
    bound = false_rate_bound(len(wrong), len(found))
    return Table(
        "Sure and wrong, over everything",
        {"cases": "d", "sure and wrong": "d", "95 % bound of the rate": ".2%", "which": ""},
        [[len(found), len(wrong), bound, named]] if found else [],
    )


def _share(group: Sequence[Alignment], good: Callable[[Alignment], bool]) -> float:
    return float(np.mean([good(a) for a in group]))


def _draw(figure: Figure, found: Sequence[Alignment]) -> None:
    axes = figure.add_subplot()
    groups = by_family(found)
    for row, group in enumerate(groups.values()):
        colours = ["#0072b2" if a.sure else "#999999" for a in group]
        place = np.clip([a.rms_mm for a in group], 0.1, 1e4)
        axes.scatter(place, np.full(len(place), row), c=colours, s=14, alpha=0.6, linewidths=0)
    axes.axvline(CELL_MM, color="black", lw=0.8, ls="--")
    axes.set_xscale("log")
    axes.set_yticks(range(len(groups)), list(groups))
    axes.invert_yaxis()
    axes.set_xlabel("RMS error over the corners of the old rooms, mm")
    axes.set_title("Second mapping runs: blue sure, grey doubtful", fontsize=10)
