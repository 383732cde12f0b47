"""Floors of the user's own, from a GeoJSON file (--floors): pictures of them, in many looks.

The file is a FeatureCollection of room polygons in mm, y up. The property `name` names a room, the
property `floor` says which floor it belongs to; without it all rooms are of one floor. Whatever
makes floors can write that.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import click
import numpy as np
import shapely
from matplotlib.figure import Figure
from shapely import Polygon

from benchmarks.report import Report, Table, Value
from benchmarks.samples import REGMAP, SURE, TOLERANCE_PX, Outcome, measure_sample, spread_out
from benchmarks.settings import Settings
from regmap import frames, synthetic
from regmap.errors import RegmapError
from regmap.inputs.outlines import as_rings
from regmap.synthetic.samples import Plan, drawing_options, rng_for, some_points
from regmap.synthetic.shapes import largest, through
from regmap.synthetic.symmetry import lopsided

__all__ = ["floor_of", "make", "measure", "read_floors", "run"]

_WALL_MM = 100.0
"""Rooms nearer than this to each other have a wall between them, and belong to one floor."""

Rooms = Mapping[str, Polygon]


def read_floors(path: Path) -> dict[str, dict[str, Polygon]]:
    """Return floor -> room -> polygon, mm.

    Raises:
        click.UsageError: if the file is no such collection; the text says what is wrong.
    """
    try:
        features = json.loads(path.read_text(encoding="utf-8"))["features"]
        groups: dict[str, list[Any]] = {}
        for feature in features:
            name = (feature.get("properties") or {}).get("floor", "floor")
            groups.setdefault(str(name), []).append(feature)
        floors = {}
        for name, group in groups.items():
            rings = as_rings({"type": "FeatureCollection", "features": group})
            floors[name] = {room: Polygon(r[0], r[1:]) for room, r in rings.items()}
    except (ValueError, KeyError, TypeError, AttributeError, RegmapError) as error:
        raise click.UsageError(
            f"{path} is no GeoJSON FeatureCollection of room polygons: {error}"
        ) from error
    if not floors:
        raise click.UsageError(f"{path} holds no rooms")
    return floors


def floor_of(rooms: Rooms) -> synthetic.Floor:
    """Return a floor whose drawn borders are the given ones."""
    grown = [room.buffer(_WALL_MM, join_style="mitre") for room in rooms.values()]
    shell = largest(shapely.union_all(grown).buffer(-_WALL_MM, join_style="mitre"))
    return synthetic.Floor(shell, dict(rooms), (shell,), _WALL_MM, _WALL_MM, 2 * _WALL_MM)


def make(name: str, rooms: Rooms, seed: int) -> synthetic.Sample:
    """Draw a floor in some look, and give a robot's outlines of it in a frame of its own."""
    rng = rng_for(name, seed)
    floor = floor_of(rooms)
    options = drawing_options(Plan(), rng)
    picture = synthetic.draw(floor, rng, shapes=rooms, **options)
    device = synthetic.robot_outlines(floor, rng, shapes=rooms, simplify_mm=20.0)
    shown = through(shapely.union_all(list(rooms.values())), picture.floor_to_image)
    truth = frames.compose(device.floor_to_device, picture.image_to_floor)
    return synthetic.Sample(
        family=name,
        name=f"{name}-{seed}",
        image=picture.image,
        outlines=device.rings,
        image_to_device=truth,
        visible_px=some_points(shown.intersection(picture.window), rng),
        model="similarity",
        answer="fits",
        mirrored=frames.is_mirrored(truth),
    )


def measure(name: str, rooms: Rooms, seed: int) -> Outcome:
    """Make a picture and fit it."""
    return measure_sample(make(name, rooms, seed), REGMAP, seed)


def run(settings: Settings, _runs: object) -> Report:
    """Fit pictures of every floor of the file."""
    if settings.floors is None:
        raise click.UsageError("the suite `own` needs floors of your own: --floors FILE.geojson")
    floors = read_floors(settings.floors)
    keys = [(name, rooms, seed) for name, rooms in floors.items() for seed in settings.seeds]
    outcomes = list(spread_out(measure, keys, settings.jobs))
    return Report(
        "own",
        [
            Table(
                "Pictures of your floors",
                {
                    "floor": "",
                    "rooms": "d",
                    "alike when mirrored or turned": "",
                    "pictures": "d",
                    f"within {TOLERANCE_PX:g} px": ".1%",
                    "median px": ".3f",
                    f"sure (>= {SURE:g})": ".1%",
                    "sure and wrong": "d",
                    "predicted error held": ".1%",
                    "median s": ".2f",
                },
                list(_rows(floors, outcomes)),
                "A floor that looks alike when mirrored or turned has more than one answer: there, "
                "doubt is right.",
            )
        ],
        lambda figure: _draw(figure, outcomes),
    )


def _rows(floors: Mapping[str, Rooms], outcomes: list[Outcome]) -> Iterator[list[Value]]:
    for name, rooms in floors.items():
        group = [o for o in outcomes if o.family == name]
        right = [o for o in group if o.right]
        yield [
            name,
            len(rooms),
            "no" if lopsided(floor_of(rooms)) else "yes",
            len(group),
            len(right) / len(group),
            float(np.median([o.error_px for o in right])) if right else None,
            float(np.mean([o.sure for o in group])),
            sum(o.wrong_and_sure for o in group),
            float(np.mean([o.covered for o in right])) if right else None,
            float(np.median([o.seconds for o in group])),
        ]


def _draw(figure: Figure, outcomes: list[Outcome]) -> None:
    axes: Any = figure.add_subplot()
    names = list(dict.fromkeys(o.family for o in outcomes))
    for row, name in enumerate(names):
        group = [o for o in outcomes if o.family == name]
        error = np.clip(np.nan_to_num([o.error_px for o in group], nan=1e3), 1e-4, 1e3)
        colours = ["#0072b2" if o.sure else "#999999" for o in group]
        axes.scatter(error, np.full(len(error), row), c=colours, s=16, alpha=0.6, linewidths=0)
    axes.axvline(TOLERANCE_PX, color="black", lw=0.8, ls="--")
    axes.set_xscale("log")
    axes.set_yticks(range(len(names)), names)
    axes.set_xlabel("RMS error over the visible floor, px (1000: no answer)")
    axes.set_title("Your floors: blue sure, grey doubtful or refused", fontsize=10)
