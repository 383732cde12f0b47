"""`register`: a picture and outlines come in, a Registration goes out; see `pipeline`."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from typing import Any

from affine import Affine

from regmap.errors import DoubtfulFitWarning, NoFitError
from regmap.inputs.options import TiePoint, as_pairs, check_options
from regmap.inputs.outlines import as_rings
from regmap.inputs.pictures import pixels_of
from regmap.pipeline import Pipeline
from regmap.registration import Registration, fits_nowhere
from regmap.timing import stage_times

__all__ = ["quietly", "register", "stage_times"]


def register(
    image: Any,
    polygons: Any,
    *,
    model: str = "similarity",
    mirrored: bool | None = None,
    tie_points: Sequence[TiePoint] = (),
    near: Registration | Affine | None = None,
    unit: str = "mm",
    on_stage: Callable[[str], object] | None = None,
) -> Registration:
    """Lay a picture of a floor over a robot's room outlines, without a start value.

    Args:
        image: a path, bytes, an array (H, W), (H, W, 3) or (H, W, 4), whatever has
            `__array_interface__`, or an open rasterio dataset. An array must stay as it is until
            the call ends.
        polygons: outlines in the device frame, a mapping from names or a sequence; each ring an
            (N, 2) array, a list of pairs, a shapely Polygon, or anything with `__geo_interface__`.
        model: "similarity" (turn, scale, shift, mirror), or "affine" for stretched pictures.
        mirrored: True or False where it is known whether the picture shows the floor as in a
            looking-glass; None to find out.
        tie_points: pairs ((column, row), (x, y)) known roughly by eye.
        near: a Registration or Affine (picture to device) to start from; the search is left out.
        unit: of the device frame, for the words of the result.
        on_stage: called with the name of each stage when it ends. What it raises ends the call: so
            a service gives up a fit that nobody waits for any more.

    Returns:
        The Registration. Python warns (DoubtfulFitWarning) where it is not to be trusted blindly.

    Raises:
        PictureError, OutlineError: if the input cannot be used; the text says what to do.
        NoFitError: if nothing fits; `best` holds the best Registration all the same.
    """
    fit = quietly(image, polygons, model, mirrored, tie_points, near, unit, on_stage)
    if fit.doubtful:
        why = "; ".join(fit.reasons) or f"confidence {fit.confidence:.2f}"
        warnings.warn(f"doubtful fit: {why}", DoubtfulFitWarning, stacklevel=2)
    return fit


def quietly(
    image: Any,
    polygons: Any,
    model: str = "similarity",
    mirrored: bool | None = None,
    tie_points: Sequence[TiePoint] = (),
    near: Registration | Affine | None = None,
    unit: str = "mm",
    on_stage: Callable[[str], object] | None = None,
) -> Registration:
    """As `register`, but without a warning: for callers that hand on the doubt themselves.

    Python's filters of warnings belong to the whole process, so that a thread cannot use them.
    """
    picture, rings = pixels_of(image), as_rings(polygons)
    check_options(model, mirrored, near, unit, on_stage)
    run = Pipeline(picture, rings, model, mirrored, as_pairs(tie_points), near, on_stage)
    fit = run.solve().registration(unit)
    if fits_nowhere(fit.confidence, (other.confidence for other in fit.alternatives)):
        raise NoFitError(fit, fit.reasons)
    return fit
