"""What several commands share: exit codes, options, reading, and how results are told.

Nothing heavy is imported before a command runs, so that `regmap --help` is quick.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import sys
import warnings
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from regmap.registration import Registration

__all__ = [
    "DOUBTFUL",
    "ERROR",
    "NO_FIT",
    "SURE",
    "accept_doubt_option",
    "area_drawing",
    "as_json",
    "capture_argument",
    "content_of",
    "echo_json",
    "force_option",
    "json_option",
    "fit_file",
    "key_option",
    "load_fit",
    "parsed",
    "read_capture",
    "out_file_option",
    "out_folder_option",
    "picture_argument",
    "picture_of",
    "picture_option",
    "progress",
    "registration_argument",
    "say",
    "spelled",
    "tell_fit",
    "tell_none",
    "tie_option",
    "unit_option",
    "where",
    "with_both",
    "telling_cuts",
]

SURE, ERROR, DOUBTFUL, NO_FIT = 0, 1, 3, 4  # 2 is click's own, for wrong usage

_Command = TypeVar("_Command", bound=Callable[..., Any])
_Value = TypeVar("_Value")

# What a message of the library calls by its name in Python, by its name here.
_SPELLINGS = {
    "accept_doubt=True": "--accept-doubt",
    "overwrite=True": "--force",
    "say that they may be replaced": "--force",
    "mirrored=True": "--mirrored",
    "mirrored=False": "--not-mirrored",
    'model="affine"': "--model affine",
    'model="similarity"': "--model similarity",
    "tie_points hold": "--tie holds",
    "tie_points": "--tie",
    "keep_off is": "--keep-off is",
    "off_walls is": "--off-walls is",
    "max_count is": "--count is",
    ", or allow more with most_parts=": " (in Python, most_parts= allows more)",
    "key= ": "--key ",
    "key=": "--key ",
}

picture_argument = click.argument("picture", type=click.Path())
picture_option = click.option(
    "--picture", type=click.Path(), metavar="FILE", help="The picture of the fit, for --draw."
)
registration_argument = click.argument("registration", type=click.Path())
capture_argument = click.argument("capture", type=click.Path(allow_dash=True))
key_option = click.option(
    "--key",
    metavar="NAME",
    help="Which set of outlines to take, if the capture holds several (see `regmap outlines`).",
)
json_option = click.option("--json", "json_", is_flag=True, help="Print JSON for a program.")
force_option = click.option("--force", is_flag=True, help="Replace files that are there already.")
accept_doubt_option = click.option(
    "--accept-doubt",
    is_flag=True,
    help="Use the fit although it is doubtful. Look at its proof picture first.",
)
unit_option = click.option(
    "--unit", default="mm", show_default=True, help="Unit of the robot's coordinates."
)


def out_folder_option(text: str, *, required: bool = False) -> Callable[[_Command], _Command]:
    """-o, --out DIR."""
    return click.option(
        "-o", "--out", required=required, type=click.Path(file_okay=False), metavar="DIR", help=text
    )


def out_file_option(text: str, *names: str, short: bool = False) -> Callable[[_Command], _Command]:
    """--out FILE, or another name."""
    spelled_names = names or ("--out",)
    return click.option(
        *(("-o",) if short else ()),
        *spelled_names,
        type=click.Path(dir_okay=False),
        metavar="FILE",
        help=text,
    )


def tie_option(metavar: str, text: str) -> Callable[[_Command], _Command]:
    """--tie, four numbers, may be repeated."""
    return click.option(
        "--tie", "ties", nargs=4, type=float, multiple=True, metavar=metavar, help=text
    )


def with_both(one: Any, other: Any, text: str) -> None:
    """Refuse one of two options without the other."""
    if bool(one) != bool(other):
        raise click.UsageError(text)


def content_of(path: str) -> bytes:
    """Return the content of the file, or of standard input if it is '-'.

    No more than a byte beyond what the readers take: a device or a pipe may never end.

    Raises:
        RegmapError: if the path is that of a folder.
    """
    from regmap.errors import RegmapError
    from regmap.inputs.captures import MAX_BYTES
    from regmap.inputs.opened import opened

    if path == "-":
        if sys.stdin is None:
            raise RegmapError("standard input is closed: give the name of a file")
        return sys.stdin.buffer.read(MAX_BYTES + 1)
    if os.path.isdir(path):
        raise RegmapError(f"{path} is a folder: give the name of a file")
    with opened(path) as stream:
        return stream.read(MAX_BYTES + 1)


@contextlib.contextmanager
def telling_cuts(name: str) -> Iterator[None]:
    """Tell on standard error what a reader warns of: that the capture was cut off."""
    from regmap.errors import CutOffWarning

    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always", CutOffWarning)
        yield
    for one in told:
        if issubclass(one.category, CutOffWarning):
            say(spelled(f"{name}: {one.message}"), bold=True, err=True)
        else:
            warnings.warn_explicit(one.message, one.category, one.filename, one.lineno)


def parsed(path: str, parse: Callable[[bytes], _Value], content: bytes | None = None) -> _Value:
    """Return what a reader makes of a file; what it refuses is told with the name of the file.

    `content`: what the file holds, if it was read already.
    """
    from regmap.errors import RegmapError

    content = content_of(path) if content is None else content
    name = "standard input" if path == "-" else path
    try:
        with telling_cuts(name):
            return parse(content)
    except RegmapError as error:
        raise RegmapError(f"{name}: {error}") from error


def read_capture(path: str, key: str | None = None) -> dict[str, Any]:
    """Return the outlines of a capture, or of standard input if it is '-'."""
    from regmap.inputs.captures import parse_outlines

    return dict(parsed(path, lambda content: parse_outlines(content, key=key)))


def picture_of(fit: Registration, path: str) -> NDArray[np.uint8]:
    """Return the picture of a fit; say so if the fit does not hold on it.

    A screenshot taken anew is mostly of the same size, and its map panned: nothing else tells that
    what is drawn on it, or handed on with it, lies elsewhere.
    """
    from regmap.floors import verify
    from regmap.inputs.pictures import read_picture

    pixels = read_picture(path)
    if (pixels.shape[1], pixels.shape[0]) != fit.image_size:
        return pixels  # refused by whoever draws on it
    found = verify(fit, pixels)
    if not found.holds:
        say(
            f"THE FIT DOES NOT HOLD on {path}: give its own picture, or register this one", err=True
        )
        for reason in found.reasons:
            say(f"  - {spelled(reason)}", err=True)
    return pixels


def area_drawing(fit: Registration, picture: str | None, *what: Any, **more: Any) -> bytes:
    """Return what `sketch.area_picture` draws as the bytes of a PNG file."""
    from regmap.outputs import drawing, sketch  # OpenCV: only where something is to be drawn

    image = None if picture is None else picture_of(fit, picture)
    return drawing.encoded(sketch.area_picture(fit, image, *what, **more))


def load_fit(path: str) -> Registration:
    """Load a stored fit: its file, or the folder that `regmap register` wrote it into."""
    from regmap.registration import Registration

    return Registration.load(fit_file(path))


def fit_file(path: str) -> Path:
    """Return where a fit is stored that is called by its file, or by its folder."""
    from regmap.outputs.folder import REGISTRATION

    place = Path(path)
    return place / REGISTRATION if place.is_dir() else place


@contextlib.contextmanager
def progress(length: int, label: str, *, least: int = 2) -> Iterator[Callable[[int], object]]:
    """Give a function that moves a progress bar on standard error by so many steps.

    None is seen where standard error is no terminal, or for less than `least` steps.
    """
    if length < least or not sys.stderr.isatty():
        yield lambda steps: None
        return
    with click.progressbar(length=length, label=label, file=sys.stderr) as bar:
        yield bar.update


def spelled(text: str) -> str:
    """Return a message of the library with the options called as they are on the command line."""
    for python, here in _SPELLINGS.items():
        text = text.replace(python, here)
    return text


def say(text: str, *, bold: bool = False, err: bool = False, lines: bool = False) -> None:
    """Print a line, or several if `lines`.

    Names come from captures and may hold anything: no control character of theirs reaches the
    terminal.
    """
    clean = "".join(c if c.isprintable() or (lines and c == "\n") else ascii(c)[1:-1] for c in text)
    click.secho(clean, bold=bold, err=err)


def echo_json(value: object) -> None:
    """Print JSON: nan, which JSON does not have, becomes null.

    Letters are left as they are where standard output can hold them. Control characters of names
    are escaped, as `say` does it, in JSON's own spelling.
    """
    text = json.dumps(_finite(value), indent=2, ensure_ascii=False, allow_nan=False)
    coded = getattr(sys.stdout, "encoding", None) or "utf-8"
    if not text.replace("\n", "").isprintable() or not _can_write(text, coded):
        text = "".join(c if c == "\n" or _fine(c, coded) else json.dumps(c)[1:-1] for c in text)
    click.echo(text)


def _fine(letter: str, coded: str) -> bool:
    return letter.isprintable() and _can_write(letter, coded)


def _can_write(text: str, coded: str) -> bool:
    try:
        text.encode(coded)
    except UnicodeEncodeError:
        return False
    return True


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _finite(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(entry) for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def where(rooms: dict[str, float], off_floor: float) -> str:
    """Say in which rooms something lies: 'hall (80 %), no room (20 %)'."""
    parts = [f"{name} ({100 * share:.0f} %)" for name, share in rooms.items()]
    if off_floor > 0.005:
        parts.append(f"no room ({100 * off_floor:.0f} %)")
    return ", ".join(parts)


def tell_fit(
    fit: Registration,
    files: Iterable[str | os.PathLike[str]],
    json_: bool,
    *,
    floor: str | None = None,
) -> None:
    """Print a fit and what was written of it, for a person or a program."""
    from regmap.caution import CAUTION
    from regmap.outputs.summary import Summary

    written = [str(path) for path in files]
    if json_:
        head = {} if floor is None else {"floor": floor}
        echo_json({**head, **as_json(fit), "files": written})
        return
    if floor is not None:
        say(f"{floor}{' (DOUBTFUL)' if fit.doubtful else ''}", bold=True)
    summary = Summary.of(fit)
    say(summary.verdict, bold=True)
    for name, text in (("confidence", summary.confidence), *summary.figures):
        say(f"  {name:<19}{text}")
    for title, texts in (
        ("why the confidence is not higher", summary.reasons),
        ("what fits as well", summary.others),
    ):
        if texts:
            say(f"{title}:")
        for text in texts:
            say(f"  - {spelled(text)}")
    if written:
        say(f"wrote {' and '.join(written)}: look at the picture before you use the fit")
    say(CAUTION)


def tell_none(headline: str, reasons: Iterable[str], json_: bool, answer: dict[str, Any]) -> None:
    """Print that there is no answer, and why."""
    if json_:
        echo_json({**answer, "reasons": list(reasons)})
        return
    say(headline, bold=True, err=True)
    for reason in reasons:
        say(f"  - {spelled(reason)}", err=True)


def as_json(fit: Registration) -> dict[str, Any]:
    """Return what `register --json` prints of a fit."""
    from regmap.caution import CAUTION
    from regmap.outputs.summary import floor_error

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
