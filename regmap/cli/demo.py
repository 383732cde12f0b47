"""`regmap demo`: the whole job on a made floor, compared with the truth.

The floor is that of a small library, whose night robot must keep off some places. A screenshot, the
robot's log, what somebody marked in the screenshot and the robot's log of a later mapping run are
written to files; then the commands run on these files alone, as a user would run them.
"""

from __future__ import annotations

import contextlib
import io
import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from regmap.registration import Registration
    from regmap.synthetic.library import Library

__all__ = ["demo"]

PICTURE, LOG, LATER_LOG, MARKS = "library.png", "spring.txt", "autumn.txt", "marks.geojson"
UPSTAIRS, UPSTAIRS_LOG, TABLE = "gallery.png", "gallery.txt", "floors.csv"
ZONES, KEEP_OUT, WORK_IN = "zones", "keep-out", "work-in"


@click.command(short_help="The whole job on a made floor.")
@click.option(
    "-o",
    "--out",
    default="regmap-demo",
    show_default=True,
    type=click.Path(file_okay=False),
    metavar="DIR",
    help="Folder for what the demo makes.",
)
@click.option(
    "--seed",
    type=click.IntRange(0),
    default=4,
    show_default=True,
    help="Another number, another floor.",
)
@options.json_option
@options.force_option
def demo(out: str, seed: int, json_: bool, force: bool) -> None:
    """Do the whole job on a made floor, and compare with the truth.

    Makes the floor of a small town's library, a screenshot of it, three areas marked in it and two
    logs in which its robot tells the rooms' outlines: of spring, and of autumn, when the robot has
    mapped again. Then it fits them, turns the areas into the robot's coordinates and into upright
    rectangles, hands the fit over in open formats and carries everything over to autumn. At the end
    it says how far off all of it was. The files stay for you to look at.

    \b
    Example:
      regmap demo --out look-at-this
    """
    from regmap.synthetic.library import make_library

    place = Path(out)
    library = make_library(seed)
    _write(library, place, force)
    quiet = io.StringIO()
    with contextlib.redirect_stdout(quiet) if json_ else contextlib.nullcontext():
        options.say(f"made {', '.join((PICTURE, LOG, MARKS, LATER_LOG))} in {place}")
        options.say(f"and of the floor above {UPSTAIRS}, {UPSTAIRS_LOG}, to try {TABLE} with")
        code = _whole_job(place, ["--force"] * force)
    if code != options.SURE:
        raise click.exceptions.Exit(code)
    truth = _Truth(library, place)
    if json_:
        options.echo_json({**truth.figures(), "folder": str(place)})
        return
    truth.tell()
    options.say("")
    options.say("Now look at the pictures:", bold=True)
    for picture in (
        "spring/proof.png",
        *(f"{n}.png" for n in (ZONES, KEEP_OUT, WORK_IN, "autumn")),
    ):
        options.say(f"  {place / picture}")


def _write(library: Library, place: Path, force: bool) -> None:
    """Write what the scenario begins with, unless something of this name is there already."""
    from regmap.outputs import drawing, folder, whole_files

    files: dict[str, bytes | str] = {
        PICTURE: drawing.encoded(library.image),
        LOG: library.log,
        MARKS: whole_files.json_text(library.marks),
        LATER_LOG: library.later_log,
        UPSTAIRS: drawing.encoded(library.gallery_image),
        UPSTAIRS_LOG: library.gallery_log,
        TABLE: f"picture,outlines\n{PICTURE},{LOG}\n{UPSTAIRS},{UPSTAIRS_LOG}\n",
    }
    made = (f"{n}{end}" for n in (ZONES, KEEP_OUT, WORK_IN) for end in (".geojson", ".png"))
    later = ("spring", "hand-over", "autumn", "autumn.json", "autumn.png", "zones-autumn.geojson")
    folder.check_free(place, (*files, *made, *later), overwrite=force)
    folder.write_files(place, files, overwrite=force)


def _whole_job(place: Path, again: list[str]) -> int:
    """Run the commands; the first that is not sure of itself ends it, and its exit code is told."""
    picture, log, later = place / PICTURE, place / LOG, place / LATER_LOG
    fit, zones = place / "spring", place / f"{ZONES}.geojson"
    shown = ("--picture", picture)
    on_picture = ("--registration", fit, *shown)

    def saved(name: str) -> tuple[object, ...]:
        return "--out", place / f"{name}.geojson", "--draw", place / f"{name}.png"

    out = place / "hand-over"
    carried = (
        *("--out", place / "autumn.json", "--areas-out", place / "zones-autumn.geojson"),
        *("--draw", place / "autumn.png"),
    )
    work_in, keep_out = (
        ("--only", "Open shelves"),
        ("--only", "Folio cabinets", "--only", "Map chest"),
    )
    commands: tuple[tuple[object, ...], ...] = (
        ("outlines", log),
        ("register", picture, log, "--out", fit),
        ("area", fit, "--marks", place / MARKS, *saved(ZONES), *shown),
        ("rectangles", zones, "--fit", "cover", *keep_out, *saved(KEEP_OUT), *on_picture),
        ("rectangles", zones, "--fit", "inside", *work_in, *saved(WORK_IN), *on_picture),
        ("hand-over", fit, *shown, "--out", out),
        ("align", log, later, "--registration", fit, "--areas", zones, *carried),
        ("register", picture, later, "--near", place / "autumn.json", "--out", place / "autumn"),
    )
    for command in commands:
        code = _run(*command, *(again if command[0] != "outlines" else ()))
        if code != options.SURE:
            return code
    return options.SURE


def _run(*arguments: object) -> int:
    """Run a command of regmap as a user would, after showing it; return its exit code."""
    from regmap.cli import main

    words = [str(argument) for argument in arguments]
    options.say("")
    options.say(f"$ regmap {shlex.join(words)}", bold=True)
    code = main.main(words, prog_name="regmap", standalone_mode=False)
    return code if isinstance(code, int) else options.SURE


class _Truth:
    """What came out, read from the files, held against what only the demo knows."""

    def __init__(self, library: Library, place: Path) -> None:
        from regmap.inputs.stored_areas import parse_areas, parse_marks
        from regmap.outputs.whole_files import json_text
        from regmap.registration import Registration

        self.library = library
        self.spring = Registration.load(place / "spring" / "registration.json")
        self.autumn = Registration.load(place / "autumn" / "registration.json")
        later = options.content_of(str(place / "zones-autumn.geojson"))
        self.zones = parse_areas(options.content_of(str(place / "zones.geojson")))
        self.later_zones = parse_areas(later)
        self.lost = _lost(later)
        self.marks = parse_marks(json_text(library.marks))

    def figures(self) -> dict[str, Any]:
        """Return true errors in mm, and whether the predictions held."""
        import numpy as np
        import shapely

        from regmap import frames

        to_spring, to_autumn = self.library.image_to_device, self.library.old_to_new
        corners = {n: shapely.get_coordinates(m.geometry) for n, m in self.marks.items()}
        areas = {
            name: float(_errors(self.spring, to_spring, px).max()) for name, px in corners.items()
        }
        moved = {}
        for name, before in self.zones.items():
            there = frames.apply(to_autumn, shapely.get_coordinates(before))
            found = shapely.get_coordinates(self.later_zones[name])
            moved[name] = float(np.hypot(*(found - there).T).max())
        return {
            "spring": _compared(self.spring, to_spring),
            "autumn": _compared(self.autumn, frames.compose(to_autumn, to_spring)),
            "areas": areas,
            "areas_carried_over": moved,
            "no_longer_on_the_floor": {"told": list(self.lost), "true": list(self.library.lost)},
        }

    def tell(self) -> None:
        """Print the figures for a person."""
        told = self.figures()
        options.say("")
        options.say("The truth is known here.", bold=True)
        for name in ("spring", "autumn"):
            one = told[name]
            options.say(
                f"  fit of {name:<12}half of the floor off by less than {one['median']:.1f} mm, "
                f"all of it by less than {one['worst']:.1f} mm"
            )
            word = "truthful" if one["held"] >= 0.95 else "NOT truthful on this floor"
            options.say(
                f"{'':21}the predicted error held at {100 * one['held']:.0f} % of the floor: it "
                f"was {word}"
            )
        for title, key in (("areas", "areas"), ("carried over", "areas_carried_over")):
            off = ", ".join(f"{name} {error:.1f} mm" for name, error in told[key].items())
            options.say(f"  {title:<19}corners off by at most: {off}")
        lost = told["no_longer_on_the_floor"]
        right = "as is true" if sorted(lost["told"]) == sorted(lost["true"]) else "WRONGLY"
        names = ", ".join(lost["told"]) or "none"
        options.say(f"  left the floor     {names} was named, {right}")


def _compared(fit: Registration, truth: NDArray[np.float64]) -> dict[str, float]:
    import numpy as np

    from regmap.areas.floor import floor_points

    px = floor_points(fit)
    errors = _errors(fit, truth, px)
    held = float((errors <= fit.expected_error(px)).mean())
    return {"median": float(np.median(errors)), "worst": float(errors.max()), "held": held}


def _errors(
    fit: Registration, truth: NDArray[np.float64], px: NDArray[np.float64]
) -> NDArray[np.float64]:
    import numpy as np

    from regmap import frames

    off: NDArray[np.float64] = np.hypot(*(fit.to_device(px) - frames.apply(truth, px)).T)
    return off


def _lost(stored: bytes) -> tuple[str, ...]:
    import json

    features: list[Mapping[str, Any]] = json.loads(stored)["features"]
    said = [feature["properties"] for feature in features]
    return tuple(one["name"] for one in said if one["lost"])
