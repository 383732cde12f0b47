"""`regmap outlines`: what a capture holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options, safety

if TYPE_CHECKING:
    from regmap.inputs.captures import Candidate

__all__ = ["outlines"]


@click.command()
@options.capture_argument
@options.key_option
@click.option("--all", "all_", is_flag=True, help="List also what was not taken for a room.")
@options.out_file_option("Draw what is listed, PNG.", "--draw")
@options.force_option
@options.json_option
def outlines(
    capture: str, key: str | None, all_: bool, draw: str | None, force: bool, json_: bool
) -> None:
    """List the room outlines that CAPTURE holds, without fitting anything.

    CAPTURE is a text in nearly any form; '-' reads standard input. What is listed is what
    `regmap register` would take; where the text speaks against it, that is said (exit code 3). If
    it is not what you want, `--all` shows what else there is, on which lines, and `--key` takes a
    part of the path that leads to the right ones. `--draw` shows them to the eye: rooms that lie
    beside each other are rooms.

    \b
    Example:
      regmap outlines capture.txt --all
      regmap outlines capture.txt --key areas --draw areas.png
    """
    from regmap.inputs import captures

    safety.check_outputs(draw, force=force)
    safety.keep([capture], [draw])
    content = options.content_of(capture)
    found = options.parsed(capture, lambda data: captures.list_candidates(data, key=key), content)
    shown = [one for one in found if one.chosen or all_]
    if not shown and not json_:
        # Its error lists what there is, with lines, and says how to choose.
        options.parsed(capture, lambda data: captures.parse_outlines(data, key=key), content)
    if draw is not None and shown:
        _draw(shown, draw, force=force)
    if json_:
        options.echo_json([_as_json(one) for one in shown])
    else:
        _list(shown, len(found) - len(shown))
    if any(one.chosen for one in shown):
        _ask_whether_taken(content, key)


def _list(shown: Sequence[Candidate], left: int) -> None:
    names = min(max(len(one.name) for one in shown), 40)
    options.say(f"taken  {'name':<{names}}  corners  width x height    line  path", bold=True)
    for one in shown:
        options.say(_row(one, names))
    if left:
        click.echo(f"{left} more sequences of points were not taken for rooms: see --all")


def _ask_whether_taken(content: bytes, key: str | None) -> None:
    """Tell why no command takes the rooms that are listed, if the text speaks against them."""
    from regmap.errors import OutlineError
    from regmap.inputs.captures import parse_outlines

    try:
        with options.telling_cuts("the capture"):
            parse_outlines(content, key=key)
    except OutlineError as why:
        said = options.spelled(f"But `regmap register` would take none of them: {why}")
        options.say(said, bold=True, err=True)
        raise click.exceptions.Exit(options.DOUBTFUL) from None


def _draw(shown: Sequence[Candidate], path: str, *, force: bool) -> None:
    from regmap.outputs import drawing, sketch, whole_files  # OpenCV

    rooms = [(one.name, one.points) for one in shown if one.chosen]
    others = [(one.key or one.name, one.points) for one in shown if not one.chosen]
    picture = drawing.encoded(sketch.capture_picture(rooms, others))
    whole_files.write_whole(path, picture, overwrite=force)


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
