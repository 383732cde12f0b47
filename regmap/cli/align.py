"""`regmap align`: the robot has mapped again; what becomes of stored areas and fits?"""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options

if TYPE_CHECKING:
    from regmap.floors import FrameChange, MovedArea

__all__ = ["align"]


@click.command()
@click.argument("old_capture", type=click.Path())
@click.argument("new_capture", type=click.Path())
@click.option(
    "--registration",
    type=click.Path(),
    metavar="FILE",
    help="A stored fit in the old frame, to be carried over.",
)
@click.option(
    "-o",
    "--out",
    type=click.Path(dir_okay=False),
    metavar="FILE",
    help="Where the fit goes, in the new frame. Needs --registration.",
)
@click.option(
    "--areas",
    type=click.Path(),
    metavar="FILE",
    help="Stored areas in the old frame, GeoJSON, to be carried over.",
)
@click.option(
    "--areas-out",
    type=click.Path(dir_okay=False),
    metavar="FILE",
    help="Where the areas go, in the new frame, GeoJSON. Needs --areas.",
)
@click.option(
    "--tie",
    "ties",
    nargs=4,
    type=float,
    multiple=True,
    metavar="X Y NEW_X NEW_Y",
    help="A place in both frames, known to a metre: the charging station. May be repeated.",
)
@click.option("--unit", default="mm", show_default=True, help="Unit of both: mm, cm, m, in or ft.")
@options.key_option
@options.accept_doubt_option
@options.json_option
@options.force_option
def align(
    old_capture: str,
    new_capture: str,
    registration: str | None,
    out: str | None,
    areas: str | None,
    areas_out: str | None,
    ties: tuple[tuple[float, float, float, float], ...],
    unit: str,
    key: str | None,
    accept_doubt: bool,
    json_: bool,
    force: bool,
) -> None:
    """Find where a robot's old coordinates lie in its new ones, after it has mapped again.

    OLD_CAPTURE and NEW_CAPTURE hold the outlines of the two mapping runs. Stored fits and areas
    move along; areas that no longer lie on the floor are named. Nothing is written if the change is
    doubtful, unless you accept the doubt.

    \b
    Example:
      regmap align capture-may.txt capture-june.txt
      regmap align capture-may.txt capture-june.txt --registration ground-floor/registration.json \\
          --out ground-floor-june.json
      regmap align capture-may.txt capture-june.txt --areas zones.geojson \\
          --areas-out zones-june.geojson
    """
    from regmap.floors import NoChangeError, align_outlines
    from regmap.inputs.captures import parse_outlines

    if (out is None) != (registration is None) or (areas_out is not None and areas is None):
        raise click.UsageError("--out goes with --registration, and --areas-out with --areas")
    _check_free(out, areas_out, force)
    old, new = (
        parse_outlines(options.capture_bytes(path), key=key) for path in (old_capture, new_capture)
    )
    carry = _Carry.load(registration, areas)
    pairs = [((x, y), (new_x, new_y)) for x, y, new_x, new_y in ties]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # said below
            change = align_outlines(old, new, tie_points=pairs, unit=unit)
    except NoChangeError as error:
        _report_none(error, json_)
        raise click.exceptions.Exit(options.NO_FIT) from None
    usable = accept_doubt or not change.doubtful
    moved = carry.apply(change, out, areas_out, force) if usable else ()
    written = [path for path in (out, areas_out) if path is not None and usable]
    _report(change, moved, written, json_)
    if change.doubtful:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _check_free(out: str | None, areas_out: str | None, force: bool) -> None:
    from regmap.outputs import storage

    for path in (out, areas_out):
        if path is not None:
            storage.check_free(path, overwrite=force)


class _Carry:
    """What is to be carried over: read before the work, written after it."""

    def __init__(self, fit: Any, areas: dict[str, Any]) -> None:
        self.fit, self.areas = fit, areas

    @classmethod
    def load(cls, registration: str | None, areas: str | None) -> _Carry:
        from regmap.inputs.stored_areas import parse_areas
        from regmap.registration import Registration

        return cls(
            None if registration is None else Registration.load(registration),
            {} if areas is None else parse_areas(options.capture_bytes(areas)),
        )

    def apply(
        self, change: FrameChange, out: str | None, areas_out: str | None, force: bool
    ) -> tuple[MovedArea, ...]:
        from regmap.outputs import geojson

        moved = change.areas(self.areas, accept_doubt=True)
        fit = None if out is None else change.registration(self.fit, accept_doubt=True)
        if areas_out is not None:
            geojson.write(geojson.moved_areas(moved), areas_out, overwrite=force)
        if fit is not None and out is not None:
            fit.save(out, overwrite=force)
        return moved


def _report(
    change: FrameChange, moved: tuple[MovedArea, ...], written: list[str], json_: bool
) -> None:
    from regmap.outputs.summary import CAUTION, quantity

    if json_:
        options.echo_json(_as_json(change, moved, written))
        return
    if change.doubtful:
        click.secho("DOUBTFUL: do not use this before you have looked at it", bold=True)
    else:
        click.secho("The old outlines lie on the new ones", bold=True)
    median, worst = _floor_error(change)
    click.echo(f"  confidence         {change.confidence:.2f}")
    click.echo(
        f"  predicted error    half of the floor within {quantity(median, change.unit)}, all of it "
        f"within {quantity(worst, change.unit)} (at 95 %)"
    )
    x, y = change.old_to_new.c, change.old_to_new.f
    click.echo(
        f"  old in new         turned {change.rotation_deg:.2f} deg, origin at ({x:.1f}, {y:.1f}) "
        f"{change.unit}, scale {change.scale:.4f}"
    )
    for state in ("joined", "split", "changed", "gone"):
        names = [room.name for room in change.rooms if room.state == state]
        if names:
            click.echo(f"  rooms {state:<13}{', '.join(names)}")
    for reason in change.reasons:
        click.echo(f"  - {reason}")
    for area in moved:
        _echo_area(area)
    if written:
        click.echo(f"wrote {' and '.join(written)}")
    click.echo(CAUTION)


def _echo_area(area: MovedArea) -> None:
    from regmap.outputs.summary import quantity

    where = [f"{name} ({100 * share:.0f} %)" for name, share in area.rooms.items()]
    if area.off_floor > 0.005:
        where.append(f"no room ({100 * area.off_floor:.0f} %)")
    word = "NO LONGER ON THE FLOOR: " if area.lost else ""
    error = quantity(area.expected_error, area.unit)
    click.echo(f"  {word}{area.name}: in {', '.join(where)}; moved within {error} at 95 %")


def _floor_error(change: FrameChange) -> tuple[float, float]:
    """Return median and worst predicted error over the old rooms' corners."""
    import numpy as np

    rings = [ring for parts in change.old_outlines.values() for ring in parts]
    errors = change.expected_error(np.concatenate(rings))
    return float(np.median(errors)), float(errors.max())


def _as_json(
    change: FrameChange, moved: tuple[MovedArea, ...], written: list[str]
) -> dict[str, Any]:
    from shapely.geometry import mapping

    from regmap import frames
    from regmap.outputs.summary import CAUTION

    median, worst = _floor_error(change)
    return {
        "verdict": "doubtful" if change.doubtful else "sure",
        "confidence": change.confidence,
        "unit": change.unit,
        "old_to_new": frames.affine_to_matrix(change.old_to_new).tolist(),
        "rotation_deg": change.rotation_deg,
        "scale": change.scale,
        "predicted_error_95": {"median": median, "worst": worst},
        "rooms": {room.name: {"state": room.state, "now": dict(room.now)} for room in change.rooms},
        "areas": [
            {
                "name": area.name,
                "geometry": mapping(area.geometry),
                "rooms": dict(area.rooms),
                "off_floor": area.off_floor,
                "was_off_floor": area.was_off_floor,
                "lost": area.lost,
                "expected_error_95": area.expected_error,
            }
            for area in moved
        ],
        "reasons": list(change.reasons),
        "alternatives": [
            {
                "old_to_new": frames.affine_to_matrix(other.old_to_new).tolist(),
                "confidence": other.confidence,
            }
            for other in change.alternatives
        ],
        "files": written,
        "caution": CAUTION,
    }


def _report_none(error: Any, json_: bool) -> None:
    if json_:
        options.echo_json({"verdict": "nothing fits", "reasons": list(error.reasons)})
        return
    click.secho(
        "The new outlines fit the old ones nowhere: nothing was written", bold=True, err=True
    )
    for reason in error.reasons:
        click.echo(f"  - {reason}", err=True)
