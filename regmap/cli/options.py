"""What several commands share: exit codes, options, reading and printing.

Nothing heavy is imported before a command runs, so that `regmap --help` is quick.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from regmap.outputs.summary import Summary
    from regmap.registration import Registration

__all__ = [
    "DOUBTFUL",
    "ERROR",
    "NO_FIT",
    "SURE",
    "accept_doubt_option",
    "as_json",
    "capture_argument",
    "capture_bytes",
    "echo_json",
    "echo_summary",
    "force_option",
    "json_option",
    "key_option",
]

SURE, ERROR, DOUBTFUL, NO_FIT = 0, 1, 3, 4  # 2 is click's own, for wrong usage

_Command = TypeVar("_Command", bound=Callable[..., Any])


def capture_argument(command: _Command) -> _Command:
    """CAPTURE: a path, or '-' for standard input."""
    return click.argument("capture", type=click.Path(allow_dash=True))(command)


def key_option(command: _Command) -> _Command:
    """--key: which of several sets of outlines in a capture."""
    text = "Which set of outlines to take, if the capture holds several (see `regmap outlines`)."
    return click.option("--key", metavar="NAME", help=text)(command)


def json_option(command: _Command) -> _Command:
    """--json: print for a program."""
    return click.option("--json", "json_", is_flag=True, help="Print JSON for a program.")(command)


def force_option(command: _Command) -> _Command:
    """--force: allow overwriting."""
    text = "Replace files that are there already."
    return click.option("--force", is_flag=True, help=text)(command)


def accept_doubt_option(command: _Command) -> _Command:
    """--accept-doubt: use a doubtful fit all the same."""
    text = "Use the fit although it is doubtful. Look at its proof picture first."
    return click.option("--accept-doubt", is_flag=True, help=text)(command)


def capture_bytes(capture: str) -> bytes:
    """Return the content of the file, or of standard input if it is '-'."""
    with click.open_file(capture, "rb") as stream:
        return bytes(stream.read())


def echo_summary(summary: Summary) -> None:
    """Print a fit in a few lines for a person."""
    click.secho(summary.verdict, bold=True)
    for name, text in (("confidence", summary.confidence), *summary.figures):
        click.echo(f"  {name:<19}{text}")
    for title, texts in (
        ("why the confidence is not higher", summary.reasons),
        ("what fits as well", summary.others),
    ):
        if texts:
            click.echo(f"{title}:")
        for text in texts:
            click.echo(f"  - {text}")


def as_json(fit: Registration) -> dict[str, Any]:
    """Return what `register --json` prints of a fit."""
    from regmap.outputs.summary import CAUTION, floor_error

    error = floor_error(fit)
    return {
        "verdict": "doubtful" if fit.doubtful else "sure",
        "confidence": fit.confidence,
        "model": fit.model,
        "mirrored": fit.mirrored,
        "unit": fit.unit,
        "picture_to_device": fit.image_to_device.tolist(),
        "unit_per_px": fit.unit_per_px,
        "rotation_deg": fit.rotation_deg,
        "reprojection_rmse_px": fit.reprojection_error,
        "predicted_error_95": {"median": error.median, "worst": error.worst},
        "wall_offset": fit.wall_offset,
        "rooms": {room.name: room.state for room in fit.rooms},
        "reasons": list(fit.reasons),
        "alternatives": [
            {"picture_to_device": other.image_to_device.tolist(), "confidence": other.confidence}
            for other in fit.alternatives
        ],
        "caution": CAUTION,
    }


def echo_json(value: object) -> None:
    """Print JSON."""
    click.echo(json.dumps(value, indent=2, ensure_ascii=False))
