"""`regmap register`: fit a picture to the outlines of a capture."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options

if TYPE_CHECKING:
    from regmap.errors import NoFitError
    from regmap.registration import Registration

__all__ = ["register"]


@click.command()
@click.argument("picture", type=click.Path())
@options.capture_argument
@click.option(
    "-o",
    "--out",
    required=True,
    type=click.Path(file_okay=False),
    metavar="DIR",
    help="Folder for registration.json and proof.png; made if need be.",
)
@click.option(
    "--model",
    type=click.Choice(["similarity", "affine"]),
    default="similarity",
    show_default=True,
    help="affine: the picture may be stretched more one way than the other.",
)
@click.option(
    "--mirrored/--not-mirrored",
    default=None,
    help="Say whether the picture shows the floor as in a looking-glass, if you know.",
)
@click.option(
    "--tie",
    "ties",
    nargs=4,
    type=float,
    multiple=True,
    metavar="COLUMN ROW X Y",
    help="A place in the picture and the robot's coordinates of it, roughly. May be repeated.",
)
@click.option("--unit", default="mm", show_default=True, help="Unit of the robot's coordinates.")
@options.key_option
@options.json_option
@options.force_option
def register(
    picture: str,
    capture: str,
    out: str,
    model: str,
    mirrored: bool | None,
    ties: tuple[tuple[float, float, float, float], ...],
    unit: str,
    key: str | None,
    json_: bool,
    force: bool,
) -> None:
    """Fit PICTURE, an image of a floor map, to the outlines in CAPTURE.

    CAPTURE is a text that holds the rooms' outlines in the robot's coordinates, in nearly any
    form; '-' reads it from standard input. Writes registration.json and proof.png into a folder,
    both or neither. Look at the proof before you use the fit.

    \b
    Example:
      regmap register ground-floor.png capture.txt --out ground-floor
      regmap register ground-floor.png capture.txt --out ground-floor --tie 412 230 3500 1200
    """
    from regmap.errors import DoubtfulFitWarning, NoFitError
    from regmap.inputs.captures import parse_outlines
    from regmap.inputs.pictures import read_picture
    from regmap.outputs import folder
    from regmap.register import register as fit_picture

    folder.check_free(out, overwrite=force)
    image = read_picture(picture)
    rooms = parse_outlines(options.capture_bytes(capture), key=key)
    pairs = [((column, row), (x, y)) for column, row, x, y in ties]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DoubtfulFitWarning)  # said below, in the summary
            fit = fit_picture(
                image, rooms, model=model, mirrored=mirrored, tie_points=pairs, unit=unit
            )
    except NoFitError as error:
        _report_no_fit(error, json_)
        raise click.exceptions.Exit(options.NO_FIT) from None
    files = folder.write_fit(fit, image, out, overwrite=force)
    _report(fit, [str(path) for path in files], json_)
    if fit.doubtful:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _report(fit: Registration, files: list[str], json_: bool) -> None:
    from regmap.outputs.summary import CAUTION, Summary

    if json_:
        options.echo_json({**options.as_json(fit), "files": files})
        return
    options.echo_summary(Summary.of(fit))
    click.echo(f"wrote {' and '.join(files)}: look at the picture before you use the fit")
    click.echo(CAUTION)


def _report_no_fit(error: NoFitError, json_: bool) -> None:
    if json_:
        answer: dict[str, Any] = {"verdict": "nothing fits", "reasons": list(error.reasons)}
        if error.best is not None:
            answer["best"] = options.as_json(error.best)
        options.echo_json(answer)
        return
    click.secho("Nothing fits: no files were written", bold=True, err=True)
    for reason in error.reasons:
        click.echo(f"  - {reason}", err=True)
