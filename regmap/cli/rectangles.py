"""`regmap rectangles`: stored areas as upright rectangles, for robots that take nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import click

from regmap.cli import options, safety

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from regmap.areas import Rectangles

__all__ = ["rectangles"]


@click.command(short_help="Stored areas as upright rectangles.")
@click.argument("areas", type=click.Path(allow_dash=True))
@click.option(
    "--fit",
    required=True,
    type=click.Choice(["inside", "cover"]),
    help="inside: within each area, for a robot that works there; cover: nothing of it left out, "
    "for a robot that must not enter.",
)
@click.option("--count", default=5, show_default=True, help="Most rectangles for an area, 1 to 50.")
@click.option("--only", multiple=True, metavar="NAME", help="This area alone. May be repeated.")
@options.out_file_option("Store the rectangles as GeoJSON, a feature a rectangle.", short=True)
@click.option(
    "--registration", type=click.Path(), metavar="FILE", help="The fit on --picture, for --draw."
)
@options.picture_option
@options.out_file_option(
    "Draw the rectangles on the picture, PNG. Needs --registration, --picture.", "--draw"
)
@options.accept_doubt_option
@options.json_option
@options.force_option
def rectangles(
    areas: str,
    fit: Literal["inside", "cover"],
    count: int,
    only: tuple[str, ...],
    out: str | None,
    registration: str | None,
    picture: str | None,
    draw: str | None,
    accept_doubt: bool,
    json_: bool,
    force: bool,
) -> None:
    """Turn stored areas into a few upright rectangles each.

    AREAS is a GeoJSON file in the robot's frame, as `regmap area --out` and `regmap align
    --areas-out` write it. After the robot has mapped again carry the areas over, and make
    rectangles of them anew: a rectangle that was carried over is not upright any more.

    \b
    Example:
      regmap rectangles zones.geojson --fit cover
      regmap rectangles zones.geojson --fit inside --count 3 --only bench --out boxes.geojson
    """
    from regmap.areas import CAUTION
    from regmap.outputs import geojson, whole_files

    for other in (registration, picture):
        options.with_both(draw, other, "--draw, --registration and --picture go together")
    safety.check_outputs(out, draw, force=force)
    fit_file = None if registration is None else options.fit_file(registration)
    safety.keep((areas, fit_file, picture), (out, draw))
    ground = None if registration is None else options.load_fit(registration)
    if ground is not None:
        ground.refuse_doubt(accept_doubt)
    stored, unit = _stored(areas)
    chosen = _chosen(stored, only)
    found = _fitted(chosen, fit, count)
    files: dict[str, bytes | str] = {}
    if out is not None:
        files[out] = whole_files.json_text(geojson.rectangles(found, unit=unit))
    if draw is not None and ground is not None:
        files[draw] = options.area_drawing(ground, picture, chosen, found)
    whole_files.write_together(files.items(), overwrite=force)
    if json_:
        listed = [{"name": name, **_as_json(one)} for name, one in found.items()]
        answer: dict[str, Any] = {"areas": listed, "unit": unit or None}
        options.echo_json({**answer, "files": list(files), "caution": CAUTION})
        return
    for name, one in found.items():
        _tell(name, one)
    if files:
        options.say(f"wrote {', '.join(files)}")
    options.say(CAUTION)


def _stored(path: str) -> tuple[dict[str, BaseGeometry], str]:
    """Return the areas of a file and their unit."""
    from regmap.errors import RegmapError
    from regmap.inputs.stored_areas import parse_areas, parse_unit

    content = options.content_of(path)
    unit = options.parsed(path, parse_unit, content)
    if unit == "px":
        raise RegmapError(f"{path} is in px of a picture: `regmap area --marks` takes it")
    return options.parsed(path, parse_areas, content), unit


def _fitted(
    chosen: dict[str, BaseGeometry], fit: Literal["inside", "cover"], count: int
) -> dict[str, Rectangles]:
    from regmap.areas import rectangles as boxes_of
    from regmap.errors import RegmapError

    found = {}
    with options.progress(len(chosen), "fitting rectangles", least=1) as step:
        for name, area in chosen.items():
            try:
                found[name] = boxes_of(area, fit=fit, max_count=count)
            except RegmapError as error:
                raise RegmapError(f"{name}: {error}") from None
            step(1)
    return found


def _chosen(stored: dict[str, BaseGeometry], only: tuple[str, ...]) -> dict[str, BaseGeometry]:
    from regmap.errors import RegmapError

    unknown = [name for name in only if name not in stored]
    if unknown:
        raise RegmapError(f"no area is called {unknown[0]!r}; there are {list(stored)}")
    return {name: area for name, area in stored.items() if name in only or not only}


def _as_json(found: Rectangles) -> dict[str, Any]:
    return {
        "fit": found.fit,
        "boxes": found.boxes.tolist(),
        "fill": found.fill,
        "spill": found.spill,
        "best_possible": found.best_possible,
    }


def _tell(name: str, found: Rectangles) -> None:
    count, s = len(found.boxes), "s" if len(found.boxes) == 1 else ""
    best = f"{100 * found.best_possible:.1f} %"
    if found.fit == "inside":
        figure = f"fill{s} {100 * found.fill:.1f} % of it (no more than {best} is possible)"
    else:
        figure = f"cover{s} it and spill{s} {100 * found.spill:.1f} % of its size"
        # Of several boxes nothing is proved.
        figure += f" (less than {best} is impossible)" if found.best_possible > 0 else ""
    options.say(f"{name}: {count} rectangle{'' if s else 's'} {figure}", bold=True)
    options.say(f"  {'x_min':>12} {'y_min':>12} {'x_max':>12} {'y_max':>12}")
    for box in found.boxes.tolist():
        options.say("  " + " ".join(f"{value:12.1f}" for value in box))
