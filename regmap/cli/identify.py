"""`regmap identify`: which floor does a picture show?"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import click

from regmap.cli import options

__all__ = ["identify"]


@click.command()
@click.argument("picture", type=click.Path())
@click.argument("floors", nargs=-1, required=True, type=click.Path())
@click.option(
    "-o",
    "--out",
    type=click.Path(file_okay=False),
    metavar="DIR",
    help="Folder for registration.json and proof.png of the floor; made if need be.",
)
@options.json_option
@options.force_option
def identify(
    picture: str, floors: tuple[str, ...], out: str | None, json_: bool, force: bool
) -> None:
    """Tell which of several floors PICTURE shows, and fit it.

    FLOORS is a folder of stored fits, or several captures or stored fits, a file a floor; floors
    are called like their files. The exit code is 3 if the answer is doubtful, and 4 if the picture
    shows none of them.

    \b
    Example:
      regmap identify today.png house/
      regmap identify today.png cellar.txt ground-floor.txt attic.txt --out today
    """
    from regmap.errors import DoubtfulFitWarning, NoFitError
    from regmap.floors import identify as find_floor
    from regmap.inputs.pictures import read_picture
    from regmap.outputs import folder
    from regmap.outputs.summary import CAUTION, Summary

    if out is not None:
        folder.check_free(out, overwrite=force)
    known: dict[str, Any] = {}
    for path in floors:
        for name, floor in _floors(path).items():
            if name in known:
                raise click.UsageError(f"two floors are called {name!r}: rename one of the files")
            known[name] = floor
    image = read_picture(picture)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DoubtfulFitWarning)  # said below, in the summary
            name, fit = find_floor(image, known)
    except NoFitError as error:
        _report_none(error, list(known), json_)
        raise click.exceptions.Exit(options.NO_FIT) from None
    files = [] if out is None else folder.write_fit(fit, image, out, overwrite=force)
    written = [str(path) for path in files]
    if json_:
        options.echo_json({"floor": name, **options.as_json(fit), "files": written})
    else:
        click.secho(f"{name}{' (DOUBTFUL)' if fit.doubtful else ''}", bold=True)
        options.echo_summary(Summary.of(fit))
        if written:
            click.echo(f"wrote {' and '.join(written)}: look at the picture before you use the fit")
        click.echo(CAUTION)
    if fit.doubtful:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _floors(path: str) -> dict[str, Any]:
    """Return the floors of a folder, or the one of a file: a stored fit or a capture."""
    from regmap.floors import load_house
    from regmap.inputs.captures import parse_outlines
    from regmap.outputs.storage import FORMAT
    from regmap.registration import Registration

    place = Path(path)
    if place.is_dir():
        return dict(load_house(place))
    content = options.capture_bytes(path)
    if f'"{FORMAT}"'.encode() in content:
        return {place.stem: Registration.load(place)}
    return {place.stem: parse_outlines(content)}


def _report_none(error: Any, names: list[str], json_: bool) -> None:
    if json_:
        options.echo_json({"floor": None, "floors": names, "reasons": list(error.reasons)})
        return
    click.secho(f"The picture shows none of {', '.join(names)}", bold=True, err=True)
    for reason in error.reasons:
        click.echo(f"  - {reason}", err=True)
