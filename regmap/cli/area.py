"""`regmap area`: what was marked in the picture, in the robot's coordinates."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import click

from regmap.cli import options

if TYPE_CHECKING:
    from regmap.areas import DeviceArea

__all__ = ["area"]


Pair = tuple[float, float]


def _polygons(
    _ctx: click.Context, _param: click.Parameter, values: tuple[str, ...]
) -> tuple[list[Pair], ...]:
    """Read 'C,R C,R C,R ...', the corners of a polygon in px."""
    polygons = []
    for value in values:
        try:
            pairs = [[float(part) for part in pair.split(",")] for pair in value.split()]
        except ValueError:
            pairs = []
        if len(pairs) < 3 or any(len(pair) != 2 for pair in pairs):
            raise click.BadParameter(
                f"{value!r} is not understood: give three or more corners as "
                "'COLUMN,ROW COLUMN,ROW COLUMN,ROW'"
            )
        polygons.append([(pair[0], pair[1]) for pair in pairs])
    return tuple(polygons)


def _margin(
    _ctx: click.Context, _param: click.Parameter, value: str
) -> float | Literal["expected"]:
    """Read a length, or the word 'expected'."""
    if value == "expected":
        return "expected"
    try:
        return float(value)
    except ValueError:
        raise click.BadParameter(f"{value!r} is no number, nor the word 'expected'") from None


@click.command()
@click.argument("registration", type=click.Path())
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
    callback=_polygons,
    metavar="'C,R C,R C,R'",
    help="Three or more corners, px, in one quoted word.",
)
@click.option(
    "--point", "points", nargs=2, type=float, multiple=True, metavar="C R", help="A place, px."
)
@click.option(
    "--keep-off",
    default="0",
    callback=_margin,
    metavar="LENGTH",
    help="Grow each area by so much (shrink it, if negative); 'expected': by the predicted error.",
)
@options.accept_doubt_option
@options.json_option
def area(
    registration: str,
    rectangles: tuple[tuple[float, float, float, float], ...],
    polygons: tuple[list[Pair], ...],
    points: tuple[Pair, ...],
    keep_off: float | Literal["expected"],
    accept_doubt: bool,
    json_: bool,
) -> None:
    """Turn areas of the picture into the robot's coordinates.

    REGISTRATION is a file that `regmap register` wrote. Columns and rows count from the picture's
    upper left corner. A doubtful fit is refused unless you accept the doubt.

    \b
    Example:
      regmap area ground-floor/registration.json --rectangle 120 80 310 205
      regmap area ground-floor/registration.json --polygon '120,80 310,80 215,205' --keep-off 50
    """
    from regmap import areas
    from regmap.registration import Registration

    marked: list[Any] = [*rectangles, *polygons, *points]
    if not marked:
        raise click.UsageError("mark something: --rectangle, --polygon or --point")
    fit = Registration.load(registration)
    found = [
        areas.to_device(fit, one, keep_off=keep_off, accept_doubt=accept_doubt) for one in marked
    ]
    if json_:
        options.echo_json({"areas": [_as_json(one) for one in found], "caution": areas.CAUTION})
        return
    for one in found:
        _echo(one)
    click.echo(areas.CAUTION)


def _corners(found: DeviceArea) -> list[list[Pair]]:
    """Return the area's rings, or its points, as lists of (x, y); rings are not closed."""
    import shapely

    if shapely.get_dimensions(found.geometry) == 2:
        rings = [
            ring for part in shapely.get_parts(found.geometry) for ring in shapely.get_rings(part)
        ]
        return [[(x, y) for x, y in shapely.get_coordinates(ring)[:-1].tolist()] for ring in rings]
    return [[(x, y) for x, y in shapely.get_coordinates(found.geometry).tolist()]]


def _as_json(found: DeviceArea) -> dict[str, Any]:
    return {
        "kind": found.geometry.geom_type,
        "rings": _corners(found),
        "unit": found.unit,
        "keep_off": found.keep_off,
        "expected_error_95": found.expected_error,
        "rooms": dict(found.rooms),
        "off_floor": found.off_floor,
    }


def _echo(found: DeviceArea) -> None:
    from regmap.outputs.summary import quantity

    where = [f"{name} ({100 * share:.0f} %)" for name, share in found.rooms.items()]
    if found.off_floor > 0.005:
        where.append(f"no room ({100 * found.off_floor:.0f} %)")
    error = quantity(found.expected_error, found.unit)
    click.secho(
        f"{found.geometry.geom_type} in {', '.join(where)}; right within {error} at 95 %", bold=True
    )
    for ring in _corners(found):
        for x, y in ring:
            click.echo(f"  {x:12.1f} {y:12.1f}")
