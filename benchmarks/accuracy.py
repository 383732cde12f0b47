"""How exact is a right answer? Error and bias against noise, size of the picture and turn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from benchmarks import scenes
from benchmarks.pipelines import PIPELINES
from benchmarks.report import Report, Table
from benchmarks.samples import REGMAP, Outcome, Runs, measure_sample, one_thread
from benchmarks.settings import Settings

__all__ = ["run"]

SWEEPS: dict[str, tuple[str, tuple[float, ...]]] = {
    "noise": ("noise, grey levels", (0, 1, 2, 5, 10, 20)),
    "size": ("longer side, px", (250, 500, 1000, 2000, 4000)),
    "turn": ("turn against the pixel grid, degrees", (0, 0.5, 1, 5, 15, 30, 45)),
}
PEER_PICTURES = 3  # they take seconds each, and their errors do not need many


def run(settings: Settings, _runs: Runs) -> Report:
    """Sweep one thing at a time over the same floors."""
    one_thread()
    tables, curves = [], {}
    for name, (label, values) in SWEEPS.items():
        if settings.quick:
            values = values[::2] if name != "size" else values[:-1:2]
        points = [_point(settings, name, value) for value in values]
        rows = [_row(v, own, others) for v, (own, others) in zip(values, points, strict=True)]
        tables.append(Table(f"Error against {label}", _columns(label), rows))
        curves[name] = (label, rows)
    bias = "Bias: mean signed error over all pictures, with its standard error; px everywhere."
    tables[-1] = Table(tables[-1].title, tables[-1].columns, tables[-1].rows, bias)
    return Report("accuracy", tables, lambda figure: _draw(figure, curves), {}, (13.0, 4.0))


def _point(
    settings: Settings, sweep: str, value: float
) -> tuple[list[Outcome], dict[str, list[Outcome]]]:
    """Measure regmap on some pictures of one setting, the other pipelines on the first few."""
    options: dict[str, Any] = {}
    if sweep == "noise":
        options["noise"] = value
    elif sweep == "size":
        options["size"] = (int(value), int(value * 0.8))
    else:
        options["turn_deg"] = value
    count = min(settings.pictures, 20)
    compared = PEER_PICTURES
    if settings.quick:  # once a sweep
        compared = int(value == SWEEPS[sweep][1][0])
    own = []
    others: dict[str, list[Outcome]] = {name: [] for name in PIPELINES}
    for i, seed in enumerate(range(settings.seed, settings.seed + count)):
        sample = scenes.make(seed, **options)
        own.append(measure_sample(sample, REGMAP, seed))
        if i < compared and sample.image.size < 4e6:
            for name in PIPELINES:
                others[name].append(measure_sample(sample, name, seed))
    return own, others


def _columns(label: str) -> dict[str, str]:
    columns = {label: "g", "pictures": "d", "right": "d", "median": ".4f", "95 %": ".4f"}
    columns |= {"bias column": "+.4f", "+-": ".4f", "bias row": "+.4f", "+- ": ".4f"}
    return columns | {f"{name}, median": ".2f" for name in PIPELINES}


def _row(
    value: float, own: Sequence[Outcome], others: dict[str, list[Outcome]]
) -> list[str | float | int | None]:
    right = [o for o in own if o.right]
    row: list[str | float | int | None] = [value, len(own), len(right)]
    if right:
        error = [o.error_px for o in right]
        bias = np.array([o.bias_px for o in right])
        row += [float(np.median(error)), float(np.quantile(error, 0.95))]
        spread = bias.std(axis=0, ddof=1) / np.sqrt(len(bias)) if len(bias) > 1 else [np.nan] * 2
        for mean, deviation in zip(bias.mean(axis=0), spread, strict=True):
            row += [float(mean), float(deviation)]
    else:
        row += [None] * 6
    for group in others.values():
        errors = [np.inf if np.isnan(o.error_px) else o.error_px for o in group]
        row.append(float(np.median(errors)) if errors else None)
    return row


def _draw(figure: Figure, curves: dict[str, tuple[str, list[list[Any]]]]) -> None:
    panels = figure.subplots(1, len(curves), sharey=True)
    for axes, (label, rows) in zip(panels, curves.values(), strict=True):
        at = [row[0] for row in rows]
        _line(axes, at, [row[3] for row in rows], REGMAP, "#0072b2")
        colours = ("#d55e00", "#009e73", "#cc79a7")
        for k, (name, colour) in enumerate(zip(PIPELINES, colours, strict=True)):
            _line(axes, at, [row[9 + k] for row in rows], name, colour)
        axes.set_yscale("log")
        axes.set_xscale("log" if "px" in label else "linear")
        axes.set_xlabel(label)
    panels[0].set_ylabel("median RMS error over the floor, px")
    panels[0].legend(fontsize=8)


def _line(axes: Any, at: list[float], values: list[float | None], name: str, colour: str) -> None:
    shown = [(x, y) for x, y in zip(at, values, strict=True) if y is not None and np.isfinite(y)]
    axes.plot(*zip(*shown, strict=True), "o-", ms=3, color=colour, label=name) if shown else None
