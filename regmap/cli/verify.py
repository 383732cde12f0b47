"""`regmap verify`: is a stored fit still true of today's picture?"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options, safety

if TYPE_CHECKING:
    from regmap.floors import Verification

__all__ = ["verify"]


@click.command(short_help="Is a stored fit still true of today's picture?")
@options.registration_argument
@options.picture_argument
@options.out_folder_option(
    "Folder for registration.json and proof.png of today's fit, whether the old one holds or not, "
    "unless nothing fits; made if need be."
)
@options.json_option
@options.force_option
def verify(registration: str, picture: str, out: str | None, json_: bool, force: bool) -> None:
    """Look whether a stored fit is still true of today's picture.

    REGISTRATION is a file that `regmap register` wrote, or its folder; PICTURE the map as it looks
    today. The exit code is 0 if the fit holds, 3 if the map has moved in the picture or is not
    matched for certain, 4 if nothing fits.

    \b
    Example:
      regmap verify ground-floor today.png
      regmap verify ground-floor today.png --out ground-floor-today
    """
    from regmap.floors import verify as compare
    from regmap.inputs.pictures import read_picture
    from regmap.outputs import folder

    fit = options.load_fit(registration)
    if out is not None:
        folder.check_free(out, overwrite=force)
        safety.keep((picture,), (Path(out) / name for name in folder.FIT_FILES))
    image = read_picture(picture)
    found = compare(fit, image)
    nothing = math.isnan(found.drift_px)
    files: list[str] = []
    if out is not None and not nothing and found.registration is not None:
        written = folder.write_fit(found.registration, image, out, overwrite=force)
        files = [str(path) for path in written]
    _report(found, json_, files)
    if nothing:
        raise click.exceptions.Exit(options.NO_FIT)
    if not found.holds:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _report(found: Verification, json_: bool, files: list[str]) -> None:
    from regmap.caution import CAUTION
    from regmap.outputs.summary import quantity

    if json_:
        options.echo_json(_as_json(found, files))
        return
    verdict = "The stored fit holds" if found.holds else "THE STORED FIT DOES NOT HOLD"
    options.say(verdict, bold=True)
    if not math.isnan(found.drift_px):
        worst, middle = (quantity(d, found.unit) for d in (found.drift, found.median_drift))
        options.say(
            f"  drift              up to {found.drift_px:.2f} px or {worst}; at half of the floor "
            f"below {found.median_drift_px:.2f} px or {middle}"
        )
        options.say(f"  tolerance          {found.tolerance_px:.2f} px")
        options.say(f"  today's confidence {found.confidence:.2f}")
    if found.changed_rooms:
        options.say(f"  rooms that changed {', '.join(found.changed_rooms)}")
    for reason in found.reasons:
        options.say(f"  - {options.spelled(reason)}")
    if files:
        options.say(f"wrote today's fit: {' and '.join(files)}")
    options.say(CAUTION)


def _as_json(found: Verification, files: list[str]) -> dict[str, Any]:
    from regmap.caution import CAUTION

    return {
        "holds": found.holds,
        "drift_px": {"worst": found.drift_px, "median": found.median_drift_px},
        "drift": {"worst": found.drift, "median": found.median_drift},
        "tolerance_px": found.tolerance_px,
        "unit": found.unit,
        "confidence": found.confidence,
        "changed_rooms": list(found.changed_rooms),
        "reasons": list(found.reasons),
        "today": None if found.registration is None else options.as_json(found.registration),
        "files": files,
        "caution": CAUTION,
    }
