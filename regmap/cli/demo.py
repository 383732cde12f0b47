"""`regmap demo`: the whole job on a made floor, compared with the truth.

The floor is that of a small library, whose night robot must keep off some places. A screenshot
and a log of the robot are written to files; then the commands run on these files alone, as a user
would run them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from regmap.cli import options

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from regmap.registration import Registration
    from regmap.synthetic import Floor

__all__ = ["demo"]

PICTURE, LOG, FIT = "library.png", "robot-log.txt", "fit"

# The largest room gets the first name.
ROOMS = (
    "Reading room",
    "Local history",
    "Periodicals",
    "Lending desk",
    "Map store",
    "Workroom",
    "Listening booth",
    "Bindery",
    "Cloakroom",
    "Back stairs",
)


@dataclass(frozen=True, eq=False)
class _Scene:
    """What the demo made; `truth` is the (2, 3) map picture -> device."""

    image: NDArray[np.uint8]
    log: str
    truth: NDArray[np.float64]


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
@click.option("--seed", default=4, show_default=True, help="Another number, another floor.")
@options.force_option
def demo(out: str, seed: int, force: bool) -> None:
    """Do the whole job on a made floor, and compare with the truth.

    Makes the floor of a small town's library, a screenshot of it and a log in which its robot tells
    the rooms' outlines; fits them, marks an area, and says how far off both were and whether the
    predicted error was truthful. The files stay for you to look at.

    \b
    Example:
      regmap demo --out look-at-this
    """
    from regmap.outputs import folder
    from regmap.registration import Registration

    place = Path(out)
    folder.check_free(place / FIT, overwrite=force)
    scene = _make(seed)
    _write(scene, place, force)
    click.echo(f"made {place / PICTURE} and {place / LOG}")
    again = ["--force"] if force else []
    code = _run("register", place / PICTURE, place / LOG, "--out", place / FIT, *again)
    if code not in (options.SURE, options.DOUBTFUL):
        raise click.exceptions.Exit(code)
    stored = place / FIT / folder.REGISTRATION
    fit = Registration.load(stored)
    _compare_floor(fit, scene.truth)
    corners = _a_rectangle(fit)
    doubt = ["--accept-doubt"] if fit.doubtful else []
    _run("area", stored, "--rectangle", *(f"{corner:.0f}" for corner in corners), *doubt)
    _compare_area(fit, scene.truth, corners)
    click.echo(f"\nnow look at {place / FIT / folder.PROOF}")
    raise click.exceptions.Exit(code)


def _make(seed: int) -> _Scene:
    """Make a floor, a cluttered screenshot of it, and its outlines as a robot has them."""
    import numpy as np

    from regmap import frames, synthetic

    rng = np.random.default_rng(seed)
    floor = _named(synthetic.make_floor(rng, rooms=9, style="mixed"))
    picture = synthetic.draw(
        floor, rng, look="flat", size=(1080, 1500), turn_deg=90.0, mess=0.4, screen=True
    )
    device = synthetic.robot_outlines(floor, rng, noise_mm=8.0, simplify_mm=20.0)
    truth = frames.compose(device.floor_to_device, picture.image_to_floor)
    return _Scene(picture.image, synthetic.write_capture(device.rings, rng, style="log"), truth)


def _named(floor: Floor) -> Floor:
    """Give the rooms their names in this library, by size."""
    by_size = sorted(floor.cells, key=lambda name: -float(floor.cells[name].area))
    names = dict(zip(by_size, ROOMS, strict=False))
    cells = {names.get(old, old): cell for old, cell in floor.cells.items()}
    doors = tuple(
        replace(door, between=(names.get(a, a), names.get(b, b)))
        for door in floor.doors
        for a, b in [door.between]
    )
    return replace(floor, cells=cells, doors=doors)


def _write(scene: _Scene, place: Path, force: bool) -> None:
    from regmap.outputs import drawing, folder, storage

    folder.make(place)
    storage.write_whole(place / PICTURE, drawing.encoded(scene.image), overwrite=force)
    storage.write_whole(place / LOG, scene.log, overwrite=force)


def _run(*arguments: object) -> int:
    """Run a command of regmap as a user would, after showing it; return its exit code."""
    from regmap.cli import main

    words = [str(argument) for argument in arguments]
    click.secho(f"\n$ regmap {' '.join(words)}", bold=True)
    code = main.main(words, prog_name="regmap", standalone_mode=False)
    return code if isinstance(code, int) else options.SURE


def _a_rectangle(fit: Registration) -> tuple[int, int, int, int]:
    """Return (c0, r0, c1, r1): 1.6 m by 1.2 m about the middle of the first room that agrees."""
    room = next((room for room in fit.rooms if room.state == "agrees"), fit.rooms[0])
    column, row = room.label_px
    wide, tall = 800 / fit.unit_per_px, 600 / fit.unit_per_px
    return round(column - wide), round(row - tall), round(column + wide), round(row + tall)


def _compare_floor(fit: Registration, truth: NDArray[np.float64]) -> None:
    import numpy as np

    from regmap import frames
    from regmap.outputs.summary import floor_points

    px = floor_points(fit)
    errors = np.hypot(*(fit.to_device(px) - frames.apply(truth, px)).T)
    held = float((errors <= fit.expected_error(px)).mean())
    click.secho("\nThe truth is known here.", bold=True)
    click.echo(
        f"  true error         half of the floor within {np.median(errors):.1f} mm, "
        f"all of it within {errors.max():.1f} mm"
    )
    word = "truthful" if held >= 0.95 else "NOT truthful on this floor"
    click.echo(f"  the predicted error held at {100 * held:.0f} % of the floor: it was {word}")


def _compare_area(
    fit: Registration, truth: NDArray[np.float64], corners: tuple[int, int, int, int]
) -> None:
    import numpy as np

    from regmap import frames

    c0, r0, c1, r1 = corners
    px = np.array([[c0, r0], [c1, r0], [c1, r1], [c0, r1]])
    errors = np.hypot(*(fit.to_device(px) - frames.apply(truth, px)).T)
    click.echo(f"  by the truth its corners are off by {errors.max():.1f} mm at most")
