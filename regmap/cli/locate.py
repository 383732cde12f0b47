"""`regmap locate`: single places and driven paths, from the picture to the robot and back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options, safety

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from regmap.registration import Registration

__all__ = ["locate"]


@click.command(short_help="Places and driven paths, either way.")
@options.registration_argument
@click.option(
    "--pixel",
    "pixels",
    nargs=2,
    type=float,
    multiple=True,
    metavar="C R",
    help="A place in the picture, px. May be repeated.",
)
@click.option(
    "--device",
    "places",
    nargs=2,
    type=float,
    multiple=True,
    metavar="X Y",
    help="A place of the robot. May be repeated.",
)
@click.option(
    "--path",
    type=click.Path(allow_dash=True),
    metavar="FILE",
    help="A driven path: an x, y pair a line, a table whose head line names x and y, a JSON list "
    "of pairs or a GeoJSON line.",
)
@options.picture_option
@options.out_file_option("Draw the path on the picture, PNG. Needs --path, --picture.", "--draw")
@options.accept_doubt_option
@options.json_option
@options.force_option
def locate(
    registration: str,
    pixels: tuple[tuple[float, float], ...],
    places: tuple[tuple[float, float], ...],
    path: str | None,
    picture: str | None,
    draw: str | None,
    accept_doubt: bool,
    json_: bool,
    force: bool,
) -> None:
    """Tell where places of the picture lie for the robot, and the robot's places in the picture.

    Each line gives column and row in px, x and y of the robot, the predicted error there and the
    room. REGISTRATION is a file that `regmap register` wrote, or its folder.

    \b
    Example:
      regmap locate ground-floor --pixel 412.5 230 --device 3500 1200
      regmap locate ground-floor --path driven.csv --picture floor.png --draw driven.png
    """
    import numpy as np

    from regmap.inputs.places import parse_places
    from regmap.outputs import whole_files

    if not (pixels or places or path):
        raise click.UsageError("give places: --pixel, --device or --path")
    options.with_both(draw, picture, "--draw and --picture go together")
    options.with_both(draw, draw and path, "--draw draws a path: give --path")
    safety.check_outputs(draw, force=force)
    safety.keep((options.fit_file(registration), path, picture), (draw,))
    fit = options.load_fit(registration)
    fit.refuse_doubt(accept_doubt)
    way = np.empty((0, 2)) if path is None else options.parsed(path, parse_places)
    device = np.concatenate([np.array(places).reshape(-1, 2), way])
    px = np.concatenate([np.array(pixels).reshape(-1, 2), fit.to_image(device)])
    rows = _rows(fit, px)
    files: dict[str, bytes | str] = {}
    if draw is not None:
        files[draw] = options.area_drawing(fit, picture, {}, path=way)
    whole_files.write_together(files.items(), overwrite=force)
    if json_:
        options.echo_json({"places": rows, "unit": fit.unit, "files": list(files)})
        return
    options.say(f"{'column':>10} {'row':>10} {'x':>12} {'y':>12} {'+-':>8}  room", bold=True)
    for row in rows:
        (c, r), (x, y) = row["image"], row["device"]
        room = row["room"] or "(no room)"
        off = "" if row["in_picture"] else " (outside the picture)"
        error = f"{row['expected_error_95']:.1f}"
        options.say(f"{c:10.2f} {r:10.2f} {x:12.1f} {y:12.1f} {error:>8}  {room}{off}")
    if files:
        options.say(f"wrote {draw}")


def _rows(fit: Registration, px: NDArray[np.float64]) -> list[dict[str, Any]]:
    import numpy as np

    from regmap.areas import room_at

    rooms = room_at(fit, px, accept_doubt=True)
    inside: list[bool] = np.all((px >= 0) & (px <= fit.image_size), axis=1).tolist()
    columns = zip(px, fit.to_device(px), fit.expected_error(px), rooms, inside, strict=True)
    return [
        {
            "image": place.tolist(),
            "device": xy.tolist(),
            "expected_error_95": float(error),
            "room": room,
            "in_picture": seen,
        }
        for place, xy, error, room, seen in columns
    ]
