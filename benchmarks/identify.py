"""Which of five floors is this? Houses of storeys that share their outer walls, and strangers."""

from __future__ import annotations

import time
import warnings
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.random import Generator

from benchmarks.report import Report, Table
from benchmarks.samples import TOLERANCE_PX, spread_out
from benchmarks.scores import rms
from benchmarks.settings import Settings
from regmap import frames, synthetic
from regmap.errors import NoFitError
from regmap.floors import identify
from regmap.synthetic.samples import Plan, a_floor, borders, drawing_options, rng_for
from regmap.synthetic.variants import next_storey, same_shell

__all__ = ["FLOORS", "Pick", "measure", "run"]

FLOORS = ("ground", "first", "second", "annex", "shed")
"""The first three share their outer walls and the stairs; the others are houses of their own."""

SURE = 0.9
UNKNOWN_EVERY = 5
"""Every fifth picture shows a floor that is none of the five."""


@dataclass(frozen=True)
class Pick:
    """One answer: `shown` and `said` are names of floors, "" for none of them."""

    seed: int
    shown: str
    said: str
    stranger: str
    confidence: float
    error_px: float
    seconds: float

    @property
    def right(self) -> bool:
        """The floor that is shown, or a refusal where it is none of the five."""
        return self.said == self.shown

    @property
    def sure(self) -> bool:
        """Handed over as safe to use."""
        return self.said != "" and self.confidence >= SURE


def run(settings: Settings, _runs: object) -> Report:
    """Identify as many pictures as a family of the other suites has."""
    found = list(spread_out(measure, [(seed,) for seed in settings.seeds], settings.jobs))
    known = [p for p in found if p.shown]
    unknown = [p for p in found if not p.shown]
    columns = {
        "picture of": "",
        "pictures": "d",
        "floor right": ".1%",
        f"position within {TOLERANCE_PX:g} px": ".1%",
        f"sure (>= {SURE:g})": ".1%",
        "sure and wrong": "d",
        "median s": ".2f",
        "seeds not right": "",
    }
    groups = {name: [p for p in known if p.shown == name] for name in FLOORS}
    rows = [_row(name, group) for name, group in groups.items() if group]
    rows += [_row("any of the five", known)] if known else []
    kinds = sorted({p.stranger for p in unknown})
    rows += [_row(f"none: {kind}", [p for p in unknown if p.stranger == kind]) for kind in kinds]
    return Report(
        "identify",
        [
            Table(
                "Which of five floors is this?",
                columns,
                rows,
                "Ground, first and second floor share their outer walls. Where the picture shows "
                "none of the five, right is a refusal, and sure is wrong.",
            )
        ],
        lambda figure: _draw(figure, found),
        {"pictures": [asdict(p) for p in found]},
    )


def measure(seed: int) -> Pick:
    """Make a house and a picture, and identify it."""
    rng = rng_for("identify", seed)
    plan = Plan(rooms=(4, 14))
    ground = a_floor(plan, rng)
    house = [ground, next_storey(ground, rng), next_storey(ground, rng)]
    house += [a_floor(plan, rng), a_floor(plan, rng)]
    number = int(rng.integers(len(FLOORS)))
    stranger = ""
    floor = house[number]
    if seed % UNKNOWN_EVERY == UNKNOWN_EVERY - 1:
        stranger = str(rng.choice(["another house", "another storey", "same outer walls"]))
        floor = _stranger(stranger, ground, plan, rng)
    drawn, _ = borders(floor, plan, rng)
    image = synthetic.draw(floor, rng, shapes=drawn, **drawing_options(plan, rng))
    robots = [synthetic.robot_outlines(one, rng, simplify_mm=20.0) for one in house]
    outlines = {name: robot.rings for name, robot in zip(FLOORS, robots, strict=True)}
    began = time.perf_counter()
    said, fit = _identified(image.image, outlines)
    seconds = time.perf_counter() - began
    error = float("nan")
    if fit is not None and not stranger and said == FLOORS[number]:
        truth = frames.compose(robots[number].floor_to_device, image.image_to_floor)
        corners = np.concatenate([rings[0] for rings in robots[number].rings.values()])
        px = frames.apply(frames.invert(truth), corners)
        error = rms(fit.to_image(corners) - px)
    shown = "" if stranger else FLOORS[number]
    confidence = fit.confidence if fit is not None else 0.0
    return Pick(seed, shown, said, stranger, confidence, error, seconds)


def _stranger(kind: str, ground: synthetic.Floor, plan: Plan, rng: Generator) -> synthetic.Floor:
    if kind == "another storey":
        return next_storey(ground, rng)
    return same_shell(ground, rng) if kind == "same outer walls" else a_floor(plan, rng)


def _identified(image: Any, outlines: Any) -> tuple[str, Any]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return identify(image, outlines)
        except NoFitError:
            return "", None


def _row(name: str, group: Sequence[Pick]) -> list[str | float | int | None]:
    wrong = [p for p in group if p.sure and not p.right]
    known = [p for p in group if p.shown]
    return [
        name,
        len(group),
        float(np.mean([p.right for p in group])),
        float(np.mean([p.error_px <= TOLERANCE_PX for p in known])) if known else None,
        float(np.mean([p.sure for p in group])),
        len(wrong),
        float(np.median([p.seconds for p in group])),
        " ".join(f"{p.seed}{'!' if p.sure else ''}" for p in group if not p.right),
    ]


def _draw(figure: Figure, found: Sequence[Pick]) -> None:
    axes = figure.add_subplot()
    for row, (label, group) in enumerate(
        {
            "right floor": [p for p in found if p.shown and p.right],
            "wrong floor": [p for p in found if p.shown and not p.right],
            "none of the five": [p for p in found if not p.shown],
        }.items()
    ):
        said = [p.confidence for p in group]
        axes.scatter(said, np.full(len(said), row), s=16, alpha=0.5, linewidths=0, label=label)
    axes.axvline(SURE, color="black", lw=0.8, ls="--")
    axes.set_yticks(range(3), ["right floor", "wrong floor", "none of the five"])
    axes.set_xlim(-0.02, 1.02)
    axes.set_xlabel("confidence (0: refused)")
    axes.set_title("Five floors, and pictures of none of them", fontsize=10)
