"""`regmap outlines`: what a capture holds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options

if TYPE_CHECKING:
    from regmap.inputs.captures import Candidate

__all__ = ["outlines"]


@click.command()
@options.capture_argument
@options.key_option
@click.option("--all", "all_", is_flag=True, help="List also what was not taken for a room.")
@options.json_option
def outlines(capture: str, key: str | None, all_: bool, json_: bool) -> None:
    """List the room outlines that CAPTURE holds, without fitting anything.

    CAPTURE is a text in nearly any form; '-' reads standard input. What is listed is what
    `regmap register` would take. If it is not what you want, `--all` shows what else there is, and
    `--key` takes a part of the path that leads to the right ones.

    \b
    Example:
      regmap outlines capture.txt --all
      regmap outlines capture.txt --key areas
    """
    from regmap.errors import OutlineError
    from regmap.inputs import captures

    found = captures.list_candidates(options.content_of(capture), key=key)
    shown = [one for one in found if one.chosen or all_]
    if json_:
        options.echo_json([_as_json(one) for one in shown])
        return
    if not shown:
        more = f": see --all for {len(found)} sequences of points that were not taken for rooms"
        raise OutlineError(f"{capture} holds no room outlines{more if found else ''}")
    names = min(max(len(one.name) for one in shown), 40)
    options.say(f"taken  {'name':<{names}}  corners  width x height    line  path", bold=True)
    for one in shown:
        options.say(_row(one, names))
    left = len(found) - len(shown)
    if left:
        click.echo(f"{left} more sequences of points were not taken for rooms: see --all")


def _row(one: Candidate, names: int) -> str:
    wide, tall = one.points.max(axis=0) - one.points.min(axis=0)
    size = f"{wide:.0f} x {tall:.0f}"
    mark = "yes" if one.chosen else "no"
    return (
        f"{mark:<5}  {one.name:<{names}}  {len(one.points):7d}  {size:<15} {one.line:6d}  {one.key}"
    )


def _as_json(one: Candidate) -> dict[str, Any]:
    return {
        "name": one.name,
        "taken": one.chosen,
        "path": one.key,
        "line": one.line,
        "area": None if math.isnan(one.area) else one.area,
        "points": one.points.tolist(),
    }
