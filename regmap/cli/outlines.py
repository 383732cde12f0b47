"""`regmap outlines`: what a capture holds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["outlines"]


@click.command()
@options.capture_argument
@options.key_option
@click.option("--unit", default="mm", show_default=True, help="Unit of the robot's coordinates.")
@options.json_option
def outlines(capture: str, key: str | None, unit: str, json_: bool) -> None:
    """List the rooms' outlines that CAPTURE holds, without fitting anything.

    CAPTURE is a text in nearly any form; '-' reads standard input.

    \b
    Example:
      regmap outlines capture.txt
    """
    rooms = options.read_capture(capture, key)
    if json_:
        options.echo_json({name: _as_json(room) for name, room in rooms.items()})
        return
    wide = max(len(name) for name in rooms)
    click.secho(f"{'room':<{wide}}  corners  holes   width x height ({unit})", bold=True)
    for name, room in rooms.items():
        left, low, right, high = room.bounds
        size = f"{right - left:.0f} x {high - low:.0f}"
        corners = len(room.exterior.coords) - 1
        click.echo(f"{name:<{wide}}  {corners:7d}  {len(room.interiors):5d}   {size}")


def _as_json(room: Polygon) -> dict[str, Any]:
    return {
        "ring": [list(point[:2]) for point in room.exterior.coords[:-1]],
        "holes": [[list(point[:2]) for point in hole.coords[:-1]] for hole in room.interiors],
        "area": room.area,
    }
