"""`regmap identify`: which floor does a picture show?"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import click

from regmap.cli import options, safety

__all__ = ["identify"]


@click.command(short_help="Which floor does a picture show?")
@options.picture_argument
@click.argument("floors", nargs=-1, required=True, type=click.Path())
@options.out_folder_option(
    "Folder for registration.json and proof.png of the floor; made if need be."
)
@options.json_option
@options.force_option
def identify(
    picture: str, floors: tuple[str, ...], out: str | None, json_: bool, force: bool
) -> None:
    """Tell which of several floors PICTURE shows, and fit it.

    FLOORS is a folder of stored fits, or several captures or stored fits, a file a floor; floors
    are called like their files or folders. The exit code is 3 if the answer is doubtful, and 4 if
    the picture shows none of them.

    \b
    Example:
      regmap identify today.png house/
      regmap identify today.png cellar.txt ground-floor.txt attic.txt --out today
    """
    from regmap.errors import DoubtfulFitWarning, NoFitError
    from regmap.floors import identify as find_floor
    from regmap.inputs.pictures import read_picture
    from regmap.outputs import folder

    if out is not None:
        folder.check_free(out, overwrite=force)
        safety.keep((picture, *floors), (Path(out) / name for name in folder.FIT_FILES))
    known: dict[str, Any] = {}
    for path in floors:
        for name, floor in _floors(path).items():
            if name in known:
                raise click.UsageError(f"two floors are called {name!r}: rename one of the files")
            known[name] = floor
    image = read_picture(picture)
    try:
        with options.progress(len(known), "looking at floors") as step, warnings.catch_warnings():
            warnings.simplefilter("ignore", DoubtfulFitWarning)  # said below, in the summary
            name, fit = find_floor(image, known, progress=lambda done, total: step(1))
    except NoFitError as error:
        headline = f"The picture shows none of {', '.join(known)}"
        options.tell_none(headline, error.reasons, json_, {"floor": None, "floors": list(known)})
        raise click.exceptions.Exit(options.NO_FIT) from None
    files = () if out is None else folder.write_fit(fit, image, out, overwrite=force)
    options.tell_fit(fit, files, json_, floor=name)
    if fit.doubtful:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _floors(path: str) -> dict[str, Any]:
    """Return the floors of a folder, or the one of a file: a stored fit or a capture."""
    from regmap.floors import load_house
    from regmap.outputs.folder import REGISTRATION
    from regmap.outputs.storage import FORMAT

    place = Path(path)
    if (place / REGISTRATION).is_file():
        return {place.resolve().name: options.load_fit(path)}
    if place.is_dir():
        return dict(load_house(place))
    content = options.content_of(path)
    if f'"{FORMAT}"'.encode() in content:
        return {place.stem: options.load_fit(path)}
    return {place.stem: options.read_capture(path)}
