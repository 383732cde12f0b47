"""`regmap verify`: is a stored fit still true of today's picture?"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options

if TYPE_CHECKING:
    from regmap.floors import Verification

__all__ = ["verify"]


@click.command()
@click.argument("registration", type=click.Path())
@click.argument("picture", type=click.Path())
@click.option(
    "-o",
    "--out",
    type=click.Path(dir_okay=False),
    metavar="FILE",
    help="Store today's fit here, whether the old one holds or not, unless nothing fits.",
)
@options.json_option
@options.force_option
def verify(registration: str, picture: str, out: str | None, json_: bool, force: bool) -> None:
    """Look whether a stored fit is still true of today's picture.

    REGISTRATION is a file that `regmap register` wrote, PICTURE the map as it looks today. The exit
    code is 0 if the fit holds, 3 if the map has moved in the picture or is not matched for certain,
    4 if nothing fits.

    \b
    Example:
      regmap verify ground-floor/registration.json today.png
      regmap verify ground-floor/registration.json today.png --out ground-floor-today.json
    """
    from regmap.floors import verify as compare
    from regmap.outputs import storage
    from regmap.registration import Registration

    fit = Registration.load(registration)
    if out is not None:
        storage.check_free(out, overwrite=force)
    found = compare(fit, picture)
    nothing = math.isnan(found.drift_px)
    if out is not None and not nothing and found.registration is not None:
        found.registration.save(out, overwrite=force)
    _report(found, json_, None if nothing else out)
    if nothing:
        raise click.exceptions.Exit(options.NO_FIT)
    if not found.holds:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _report(found: Verification, json_: bool, out: str | None) -> None:
    from regmap.outputs.summary import CAUTION, quantity

    if json_:
        options.echo_json(_as_json(found, out))
        return
    verdict = "The stored fit holds" if found.holds else "THE STORED FIT DOES NOT HOLD"
    click.secho(verdict, bold=True)
    if not math.isnan(found.drift_px):
        worst, middle = (quantity(d, found.unit) for d in (found.drift, found.median_drift))
        click.echo(
            f"  drift              up to {found.drift_px:.2f} px or {worst}; at half of the floor "
            f"below {found.median_drift_px:.2f} px or {middle}"
        )
        click.echo(f"  tolerance          {found.tolerance_px:.2f} px")
        click.echo(f"  today's confidence {found.confidence:.2f}")
    if found.changed_rooms:
        click.echo(f"  rooms that changed {', '.join(found.changed_rooms)}")
    for reason in found.reasons:
        click.echo(f"  - {reason}")
    if out is not None:
        click.echo(f"wrote today's fit to {out}")
    click.echo(CAUTION)


def _as_json(found: Verification, out: str | None) -> dict[str, Any]:
    from regmap.outputs.summary import CAUTION

    def number(value: float) -> float | None:
        return None if math.isnan(value) else value

    return {
        "holds": found.holds,
        "drift_px": {"worst": number(found.drift_px), "median": number(found.median_drift_px)},
        "drift": {"worst": number(found.drift), "median": number(found.median_drift)},
        "tolerance_px": number(found.tolerance_px),
        "unit": found.unit,
        "confidence": found.confidence,
        "changed_rooms": list(found.changed_rooms),
        "reasons": list(found.reasons),
        "today": None if found.registration is None else options.as_json(found.registration),
        "files": [] if out is None else [out],
        "caution": CAUTION,
    }
