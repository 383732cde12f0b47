"""`regmap register`: fit a picture to the outlines of a capture."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import click

from regmap.cli import options, safety

__all__ = ["register"]


@click.command(short_help="Fit a picture to the outlines of a capture.")
@options.picture_argument
@options.capture_argument
@options.out_folder_option(
    "Folder for registration.json and proof.png; made if need be.", required=True
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
@options.tie_option(
    "COLUMN ROW X Y",
    "A place in the picture and the robot's coordinates of it, roughly. May be repeated.",
)
@click.option(
    "--near",
    type=click.Path(),
    metavar="FILE",
    help="A stored fit to start from: quicker, and no other place is looked at.",
)
@options.unit_option
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
    near: str | None,
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
      regmap register today.png capture.txt --out today --near ground-floor
    """
    from regmap.errors import DoubtfulFitWarning, NoFitError
    from regmap.inputs.pictures import read_picture
    from regmap.outputs import folder
    from regmap.register import register as fit_picture

    folder.check_free(out, overwrite=force)
    safety.keep((picture, capture), (Path(out) / name for name in folder.FIT_FILES))
    start = None if near is None else options.load_fit(near)
    image = read_picture(picture)
    rooms = options.read_capture(capture, key)
    pairs = [((column, row), (x, y)) for column, row, x, y in ties]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DoubtfulFitWarning)  # said below, in the summary
            fit = fit_picture(
                image,
                rooms,
                model=model,
                mirrored=mirrored,
                tie_points=pairs,
                near=start,
                unit=unit,
            )
    except NoFitError as error:
        answer: dict[str, Any] = {"verdict": "nothing fits"}
        if error.best is not None:
            answer["best"] = options.as_json(error.best)
        headline = "Nothing fits: no files were written"
        options.tell_none(headline, (*error.reasons, *_said(mirrored, near)), json_, answer)
        raise click.exceptions.Exit(options.NO_FIT) from None
    options.tell_fit(fit, folder.write_fit(fit, image, out, overwrite=force), json_)
    if fit.doubtful:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _said(mirrored: bool | None, near: str | None) -> tuple[str, ...]:
    """Return what may be wrong with what was said beforehand, if something was said."""
    said = []
    if near is not None:
        said.append(
            f"--near {near} was given: no other place was looked at. Without it the whole picture "
            "is, as it must be where the picture or the robot's frame is another one than that of "
            "the stored fit"
        )
    if mirrored is not None:
        word = "--mirrored" if mirrored else "--not-mirrored"
        said.append(
            f"{word} was given: without it both are tried. Where the robot's y points down, a "
            "picture that is not mirrored counts as mirrored, and the other way about"
        )
    return tuple(said)
