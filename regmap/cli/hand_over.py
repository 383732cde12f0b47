"""`regmap hand-over`: a fit in all open formats."""

from __future__ import annotations

from pathlib import Path

import click

from regmap.cli import options, safety

__all__ = ["hand_over"]

# regmap.outputs.hand_over.FORMATS, which would load what is heavy.
FORMATS = ("pairs", "rooms", "borders", "world-file", "geotiff", "robot-map")


@click.command(name="hand-over", short_help="A fit in open formats, for other programs.")
@options.registration_argument
@options.out_folder_option("Folder for the files; made if need be.", required=True)
@click.option("--picture", type=click.Path(), metavar="FILE", help="The picture of the fit.")
@click.option(
    "--format",
    "formats",
    multiple=True,
    type=click.Choice(FORMATS),
    help="May be repeated. Without any, all that can be made.",
)
@click.option("--points", type=int, help="How many control points; 4, unless given.")
@options.accept_doubt_option
@options.json_option
@options.force_option
def hand_over(
    registration: str,
    out: str,
    picture: str | None,
    formats: tuple[str, ...],
    points: int | None,
    accept_doubt: bool,
    json_: bool,
    force: bool,
) -> None:
    """Write a fit in open formats, for other programs: all files or none.

    pairs: control points as JSON, YAML, CSV and as options of GDAL's tools. rooms: the outlines as
    GeoJSON, robot's frame. borders: where the rooms are drawn, GeoJSON, picture px. world-file:
    to put beside the picture. geotiff: the picture with its place. robot-map: the picture as the
    YAML and PGM pair of map servers. The last two need --picture.

    \b
    Example:
      regmap hand-over ground-floor --picture ground-floor.png --out for-others
      regmap hand-over ground-floor --format pairs --points 6 --out pairs
    """
    from regmap.outputs import folder
    from regmap.outputs.hand_over import hand_over as made_of

    fit = options.load_fit(registration)
    image, name = None, "picture.png"
    if picture is not None:
        image, name = options.picture_of(fit, picture), Path(picture).name  # OpenCV
    made = made_of(
        fit,
        image,
        picture_name=name,
        formats=formats,
        points=points,
        accept_doubt=accept_doubt,
    )
    safety.keep((options.fit_file(registration), picture), (Path(out) / n for n in made.files))
    files = [str(path) for path in folder.write_files(out, made.files, overwrite=force)]
    if json_:
        options.echo_json({"files": files, "left_out": dict(made.left_out)})
        return
    for path in files:
        options.say(f"wrote {path}")
    for kind, why in made.left_out.items():
        options.say(f"left out {kind}: {options.spelled(why)}")
