"""`regmap align`: the robot has mapped again; what becomes of stored areas and fits?"""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options, safety

if TYPE_CHECKING:
    from regmap.floors import FrameChange, MovedArea
    from regmap.inputs.stored_areas import StoredArea
    from regmap.registration import Registration

__all__ = ["align"]


@click.command(short_help="The robot has mapped again: carry over.")
@click.argument("old_capture", type=click.Path())
@click.argument("new_capture", type=click.Path())
@click.option(
    "--registration",
    type=click.Path(),
    metavar="FILE",
    help="A stored fit in the old frame, to be carried over; its file or folder.",
)
@options.out_file_option("Where the fit goes, in the new frame. Needs --registration.", short=True)
@click.option(
    "--areas",
    type=click.Path(),
    metavar="FILE",
    help="Stored areas in the old frame, GeoJSON, to be carried over.",
)
@options.out_file_option(
    "Where the areas go, in the new frame, GeoJSON. Needs --areas.", "--areas-out"
)
@options.out_file_option("Draw the old map and the areas on the new map, PNG.", "--draw")
@options.tie_option(
    "X Y NEW_X NEW_Y",
    "A place in both frames, known to a metre: the charging station. May be repeated.",
)
@options.unit_option
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
    draw: str | None,
    ties: tuple[tuple[float, float, float, float], ...],
    unit: str,
    key: str | None,
    accept_doubt: bool,
    json_: bool,
    force: bool,
) -> None:
    """Find where a robot's old coordinates lie in its new ones, after it has mapped again.

    OLD_CAPTURE and NEW_CAPTURE hold the outlines of the two mapping runs. Stored fits and areas
    move along; areas that no longer lie on the floor are named. No fit and no areas are written if
    the change is doubtful, unless you accept the doubt; all files are written, or none.

    \b
    Example:
      regmap align capture-may.txt capture-june.txt --draw june.png
      regmap align capture-may.txt capture-june.txt --registration ground-floor \\
          --out ground-floor-june.json
      regmap align capture-may.txt capture-june.txt --areas zones.geojson \\
          --areas-out zones-june.geojson
    """
    from regmap.floors import NoChangeError, align_outlines
    from regmap.outputs import whole_files

    if (out is None) != (registration is None) or (areas_out is not None and areas is None):
        raise click.UsageError("--out goes with --registration, and --areas-out with --areas")
    safety.check_outputs(out, areas_out, draw, force=force)
    # A fit may take the place of the old one, and areas that of the old ones.
    safety.keep((old_capture, new_capture), (out, areas_out, draw))
    safety.keep((areas,), (out, draw))
    safety.keep((registration and options.fit_file(registration),), (areas_out, draw))
    fit = None if registration is None else options.load_fit(registration)
    stored = {} if areas is None else _stored_areas(areas, unit)
    old, new = (options.read_capture(path, key) for path in (old_capture, new_capture))
    pairs = [((x, y), (new_x, new_y)) for x, y, new_x, new_y in ties]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # said below
            change = align_outlines(old, new, tie_points=pairs, unit=unit)
    except NoChangeError as error:
        headline = "The new outlines fit the old ones nowhere: nothing was written"
        options.tell_none(headline, error.reasons, json_, {"verdict": "nothing fits"})
        raise click.exceptions.Exit(options.NO_FIT) from None
    usable = accept_doubt or not change.doubtful
    moved = change.areas(stored, accept_doubt=accept_doubt) if usable else ()
    files = _files(change, moved, fit if usable else None, out, areas_out, draw)
    whole_files.write_together(files.items(), overwrite=force)
    known = {name for name, area in stored.items() if area.expected_error is not None}
    _report(change, moved, known, list(files), json_)
    if change.doubtful:
        raise click.exceptions.Exit(options.DOUBTFUL)


def _stored_areas(path: str, unit: str) -> dict[str, StoredArea]:
    from regmap.errors import RegmapError
    from regmap.inputs.stored_areas import parse_stored, parse_unit

    content = options.content_of(path)
    own = options.parsed(path, parse_unit, content)
    if own not in ("", unit):
        raise RegmapError(f"{path} is in {own}, but the outlines are in {unit}: see --unit")
    return options.parsed(path, parse_stored, content)


def _files(
    change: FrameChange,
    moved: tuple[MovedArea, ...],
    fit: Registration | None,
    out: str | None,
    areas_out: str | None,
    draw: str | None,
) -> dict[str, bytes | str]:
    from regmap.outputs import geojson, storage, whole_files

    files: dict[str, bytes | str] = {}
    if out is not None and fit is not None:
        files[out] = storage.file_text(change.registration(fit, accept_doubt=True))
    if areas_out is not None and moved:
        files[areas_out] = whole_files.json_text(geojson.moved_areas(moved))
    if draw is not None:
        from regmap.outputs import drawing, sketch  # OpenCV

        files[draw] = drawing.encoded(sketch.change_picture(change, moved))
    return files


def _report(
    change: FrameChange,
    moved: tuple[MovedArea, ...],
    known: set[str],
    written: list[str],
    json_: bool,
) -> None:
    from regmap.caution import CAUTION
    from regmap.outputs.summary import quantity

    if json_:
        options.echo_json(_as_json(change, moved, written))
        return
    if change.doubtful:
        options.say("DOUBTFUL: do not use this before you have looked at it", bold=True)
    else:
        options.say("The old outlines lie on the new ones", bold=True)
    median, worst = _floor_error(change)
    options.say(f"  confidence         {change.confidence:.2f}")
    options.say(
        f"  predicted error    half of the floor within {quantity(median, change.unit)}, all of it "
        f"within {quantity(worst, change.unit)} (at 95 %)"
    )
    x, y = change.old_to_new.c, change.old_to_new.f
    options.say(
        f"  old in new         turned {change.rotation_deg:.2f} deg, origin at ({x:.1f}, {y:.1f}) "
        f"{change.unit}, scale {change.scale:.4f}"
    )
    for state in ("joined", "split", "changed", "gone"):
        names = [room.name for room in change.rooms if room.state == state]
        if names:
            options.say(f"  rooms {state:<13}{', '.join(names)}")
    for reason in change.reasons:
        options.say(f"  - {options.spelled(reason)}")
    for area in moved:
        _tell_area(area, "right" if area.name in known else "moved")
    if written:
        options.say(f"wrote {', '.join(written)}")
    options.say(CAUTION)


def _tell_area(area: MovedArea, what: str) -> None:
    from regmap.outputs.summary import quantity

    word = "NO LONGER ON THE FLOOR: " if area.lost else ""
    error = quantity(area.expected_error, area.unit)
    places = options.where(dict(area.rooms), area.off_floor)
    options.say(f"  {word}{area.name}: in {places}; {what} within {error} at 95 %")
    if area.was_off_floor > 0.5:
        options.say(
            f"    {100 * area.was_off_floor:.0f} % of it lay off the OLD floor, too: was it marked "
            "in that mapping run?"
        )


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
    from regmap.caution import CAUTION

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
