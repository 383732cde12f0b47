"""`regmap area`: what was marked in the picture, in the robot's coordinates."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options, safety

if TYPE_CHECKING:
    from regmap.areas import DeviceArea
    from regmap.registration import Registration

__all__ = ["area"]


Pair = tuple[float, float]


def _corners(
    _ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[list[Pair], ...]:
    """Read 'C,R C,R ...', the corners of a polygon or the ends of a line's pieces, in px."""
    least = 3 if param.name == "polygons" else 2
    shapes = []
    for value in values:
        try:
            pairs = [[float(part) for part in pair.split(",")] for pair in value.split()]
        except ValueError:
            pairs = []
        numbers = [number for pair in pairs for number in pair]
        whole = all(len(pair) == 2 for pair in pairs) and all(map(math.isfinite, numbers))
        if len(pairs) < least or not whole:
            raise click.BadParameter(
                f"{value!r} is not understood: give {least} or more corners as "
                f"'{' '.join(['COLUMN,ROW'] * least)}'"
            )
        shapes.append([(pair[0], pair[1]) for pair in pairs])
    return tuple(shapes)


def _margin(_ctx: click.Context, param: click.Parameter, value: str) -> float | str:
    """Read a length, or the word 'expected'."""
    words = ("expected", "-expected") if param.name == "keep_off" else ("expected",)
    if value in words:
        return value
    try:
        return float(value)
    except ValueError:
        raise click.BadParameter(f"{value!r} is no number, nor the word 'expected'") from None


@click.command(short_help="Areas of the picture in the robot's coordinates.")
@options.registration_argument
@click.option(
    "--rectangle",
    "rectangles",
    nargs=4,
    type=float,
    multiple=True,
    metavar="C0 R0 C1 R1",
    help="Two opposite corners, px. May be repeated, as the other shapes may.",
)
@click.option(
    "--polygon",
    "polygons",
    multiple=True,
    callback=_corners,
    metavar="'C,R C,R C,R'",
    help="Three or more corners, px, in one quoted word.",
)
@click.option(
    "--line",
    "lines",
    multiple=True,
    callback=_corners,
    metavar="'C,R C,R'",
    help="Two or more points of a line, px, in one quoted word.",
)
@click.option(
    "--point", "points", nargs=2, type=float, multiple=True, metavar="C R", help="A place, px."
)
@click.option(
    "--name",
    "names",
    multiple=True,
    metavar="NAME",
    help="Names: of the rectangles first, then of polygons, lines and points.",
)
@click.option(
    "--marks",
    type=click.Path(allow_dash=True),
    metavar="FILE",
    help="Areas from a GeoJSON file whose positions are px. Their properties name, keep_off, rooms "
    "and off_walls are heeded.",
)
@click.option(
    "--keep-off",
    default="0",
    callback=_margin,
    metavar="LENGTH",
    help="Grow each area by so much (shrink it, if negative); 'expected', '-expected': by the "
    "predicted error.",
)
@click.option("--room", "rooms", multiple=True, metavar="NAME", help="Cut to these rooms.")
@click.option(
    "--off-walls",
    default="0",
    callback=_margin,
    metavar="LENGTH",
    help="Cut away what is nearer than this to the border of its room; or 'expected'.",
)
@options.out_file_option("Store the areas as GeoJSON, device frame.", short=True)
@options.picture_option
@options.out_file_option("Draw the areas on the picture, PNG. Needs --picture.", "--draw")
@options.accept_doubt_option
@options.json_option
@options.force_option
def area(registration: str, out: str | None, draw: str | None, **given: Any) -> None:
    """Turn areas of the picture into the robot's coordinates.

    REGISTRATION is a file that `regmap register` wrote, or its folder. Columns and rows count from
    the picture's upper left corner. A doubtful fit is refused unless you accept the doubt.

    \b
    Example:
      regmap area ground-floor --rectangle 120 80 310 205 --keep-off expected
      regmap area ground-floor --polygon '120,80 310,80 215,205' --name bench --out zones.geojson
      regmap area ground-floor --marks marks.geojson --picture floor.png --draw zones.png
    """
    from regmap.areas import CAUTION
    from regmap.outputs import whole_files

    options.with_both(draw, given["picture"], "--draw and --picture go together")
    safety.check_outputs(out, draw, force=given["force"])
    read = (options.fit_file(registration), given["marks"], given["picture"])
    safety.keep(read, (out, draw))
    marked = _marked(given)
    fit = options.load_fit(registration)
    found = {name: _placed(fit, name, one, given) for name, one in marked.items()}
    files = _files(fit, found, out, draw, given["picture"])
    whole_files.write_together(files.items(), overwrite=given["force"])
    if given["json_"]:
        listed = [{"name": name, **_as_json(fit, one)} for name, one in found.items()]
        options.echo_json({"areas": listed, "files": list(files), "caution": CAUTION})
        return
    for name, one in found.items():
        _tell(fit, name, one)
    if files:
        options.say(f"wrote {', '.join(files)}")
    options.say(CAUTION)


def _marked(given: dict[str, Any]) -> dict[str, tuple[Any, dict[str, Any]]]:
    """Return name -> (what was marked, what is wished of it)."""
    import shapely

    from regmap.inputs.stored_areas import parse_marks

    lines = [shapely.LineString(line) for line in given["lines"]]
    shapes = [*given["rectangles"], *given["polygons"], *lines, *given["points"]]
    names = list(given["names"])
    if names and len(names) != len(shapes):
        raise click.UsageError(
            f"--name was given {len(names)} times for {len(shapes)} shapes: name all of them, "
            "rectangles first, then polygons, lines and points, or none"
        )
    names = names or [f"area {number}" for number in range(1, len(shapes) + 1)]
    marked: dict[str, tuple[Any, dict[str, Any]]] = {}
    listed: list[tuple[str, tuple[Any, dict[str, Any]]]] = [
        (name, (shape, {})) for name, shape in zip(names, shapes, strict=True)
    ]
    if given["marks"] is not None:
        found = options.parsed(given["marks"], parse_marks)
        listed += [(name, (mark.geometry, dict(mark.wishes))) for name, mark in found.items()]
    for name, one in listed:
        if name in marked:
            raise click.UsageError(f"two areas are called {name!r}: give each a name of its own")
        marked[name] = one
    if not marked:
        raise click.UsageError("mark something: --rectangle, --polygon, --line, --point or --marks")
    return marked


def _placed(
    fit: Registration, name: str, marked: tuple[Any, dict[str, Any]], given: dict[str, Any]
) -> DeviceArea:
    from regmap import areas
    from regmap.errors import DoubtfulFitError, RegmapError

    shape, wishes = marked
    usual = {
        "keep_off": given["keep_off"],
        "rooms": list(given["rooms"]) or None,
        "off_walls": given["off_walls"],
    }
    try:
        return areas.to_device(
            fit, shape, **{**usual, **wishes}, accept_doubt=given["accept_doubt"]
        )
    except DoubtfulFitError:
        raise
    except RegmapError as error:
        raise RegmapError(f"{name}: {error}") from None


def _files(
    fit: Registration,
    found: dict[str, DeviceArea],
    out: str | None,
    draw: str | None,
    picture: str | None,
) -> dict[str, bytes | str]:
    from regmap.outputs import geojson, whole_files

    files: dict[str, bytes | str] = {}
    if out is not None:
        files[out] = whole_files.json_text(geojson.areas(found))
    if draw is not None:
        files[draw] = options.area_drawing(fit, picture, found)
    return files


def _rings(found: DeviceArea) -> list[list[Pair]]:
    """Return the area's rings, or its points, as lists of (x, y); rings are not closed."""
    import shapely

    if shapely.get_dimensions(found.geometry) == 2:
        rings = [
            ring for part in shapely.get_parts(found.geometry) for ring in shapely.get_rings(part)
        ]
        return [[(x, y) for x, y in shapely.get_coordinates(ring)[:-1].tolist()] for ring in rings]
    return [[(x, y) for x, y in shapely.get_coordinates(found.geometry).tolist()]]


def _as_json(fit: Registration, found: DeviceArea) -> dict[str, Any]:
    return {
        "kind": found.geometry.geom_type,
        "rings": _rings(found),
        "unit": found.unit,
        "keep_off": found.keep_off,
        "off_walls": found.off_walls,
        "expected_error_95": found.expected_error,
        "rooms": dict(found.rooms),
        "off_floor": found.off_floor,
        "leaves_floor": found.leaves_floor,
        "in_picture": _in_picture(fit, found),
    }


def _in_picture(fit: Registration, found: DeviceArea) -> bool:
    left, top, right, bottom = found.marked.bounds
    width, height = fit.image_size
    return left >= 0 and top >= 0 and right <= width and bottom <= height


def _tell(fit: Registration, name: str, found: DeviceArea) -> None:
    from regmap.outputs.summary import quantity

    error = quantity(found.expected_error, found.unit)
    places = options.where(dict(found.rooms), found.off_floor)
    options.say(
        f"{name}: {found.geometry.geom_type} in {places}; right within {error} at 95 %", bold=True
    )
    if not _in_picture(fit, found):
        wide, tall = fit.image_size
        options.say(
            f"  LEAVES THE PICTURE, which has {wide} columns and {tall} rows: was it marked in "
            "another one, or in one that was shrunk?"
        )
    if found.leaves_floor:
        options.say(
            f"  LEAVES THE FLOOR: {100 * found.off_floor:.1f} % of it lies in no room, but in a "
            "wall or outside"
        )
    for word, margin in (("grown", found.keep_off), ("kept off walls", found.off_walls)):
        if margin:
            word = "shrunk" if margin < 0 else word
            options.say(f"  {word} by {quantity(abs(margin), found.unit)}")
    for ring in _rings(found):
        for x, y in ring:
            options.say(f"  {x:12.1f} {y:12.1f}")
