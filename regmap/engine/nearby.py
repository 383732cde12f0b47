"""What stands right beside the walls of a fit on the full picture, and whether it is a stretch.

Walls that a stretch has moved by more than a border reaches are no longer seen by the fit, and its
wall offsets take up some of the rest. But all that run across one direction are found again at once
where a stretch would have them: two unknowns, voted for by all walls (the Hough transform: Duda &
Hart, Communications of the ACM 15(1), 1972).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .measure import (
    FACING,
    MARGIN,
    Fit,
    Probe,
    look,
    main_axes,
    missed_chunks,
    of_equal_weight,
    walls_apart,
)
from .profiles import Paint
from .ramp import ramp

Floats = NDArray[np.float64]

# Share of the outlines that a fit must miss for this to be worth a look.
_MISSES = 0.02
# px to either side within which walls are looked for, and by which a stretch may move either end.
_REACH_PX, _ENDS_PX = 12.0, 10.0
# px by which its ends move apart at least: less harms nothing, and walls have two faces.
_LEAST_PX = 2.0
# How much more of the walls across one direction is found under a stretch, as a share of all and
# of what is found without, and how many walls of equal length that is: by chance, and surely no
# chance.
_MORE, _MORE_THAN, _OF_WALLS = (0.06, 0.12), (0.25, 0.45), (1.4, 1.9)


@dataclass(frozen=True, eq=False)
class Nearby:
    """`value` (Q, K) 0..1: how well each place at `steps` (K,) px outward of each chunk of a fit is
    a border that ends its room."""

    value: NDArray[np.float32]
    steps: Floats


def look_nearby(image: NDArray[np.uint8], fit: Fit, probe: Probe, paint: Paint) -> Nearby | None:
    """What is beside the walls of a fit on a full picture, or None where it misses none of them;
    `probe` is the fit's own."""
    shown, missed = missed_chunks(fit)
    weight = fit.chunks.weight
    if float(weight[missed].sum()) < _MISSES * float(weight[shown].sum()):
        return None
    half = _REACH_PX + MARGIN
    view = look(image, 1.0, fit.pose, fit.offset, probe, paint, half=half, exact=False)
    # A border is as near as two steps of half a px.
    value = cv2.dilate(view.value * view.lasting, np.ones((1, 5), dtype=np.uint8))
    near = np.abs(view.steps) <= _REACH_PX
    return Nearby(np.asarray(value[:, near], dtype=np.float32), view.steps[near])


def stretched(fit: Fit, nearby: Nearby) -> tuple[float, float]:
    """0..1, how surely the picture is stretched or squeezed along one of the floor's two main
    directions, by so much that the fit misses walls; and the share missed of those across it."""
    shown, missed = missed_chunks(fit)
    found = (0.0, 0.0)
    for axis in main_axes(fit.pose):
        facing = fit.normal @ axis
        asked = np.flatnonzero(shown & (np.abs(facing) > FACING))
        if len(asked):
            weight = fit.chunks.weight[asked]
            lost = float(weight @ missed[asked]) / max(float(weight.sum()), 1e-12)
            place = fit.place[asked] @ axis
            sure = _found_again(place, np.sign(facing[asked]), weight, nearby, asked)
            found = max(found, (sure, lost))
    return found


def _found_again(
    place: Floats, side: Floats, weight: Floats, nearby: Nearby, asked: NDArray[np.int64]
) -> float:
    """0..1, how surely walls at places (N,) px along an axis, facing to either `side` of it, stand
    where a stretch along it has them."""
    value, steps = nearby.value[asked].astype(np.float64), nearby.steps
    share = weight / max(float(weight.sum()), 1e-12)
    along = (place - place.min()) / max(float(np.ptp(place)), 1e-9)
    each = np.arange(-_ENDS_PX, _ENDS_PX + 0.5)
    first, last = (ends.reshape(-1, 1) for ends in np.meshgrid(each, each, indexing="ij"))
    apart = (np.abs(first - last) >= _LEAST_PX)[:, 0]
    moved = (first[apart] * (1.0 - along) + last[apart] * along) * side
    number = np.rint((moved - steps[0]) / (steps[1] - steps[0])).astype(np.int64)
    there = value[np.arange(len(along)), number.clip(0, len(steps) - 1)]
    support = there @ share
    best = int(support.argmax())
    now = value[:, int(np.abs(steps).argmin())]
    more = float(support[best] - now @ share)
    gained = share * np.maximum(there[best] - now, 0.0)
    return min(
        ramp(more, *_MORE),
        ramp(more / max(float(now @ share), 1e-12), *_MORE_THAN),
        ramp(of_equal_weight(walls_apart(place), gained), *_OF_WALLS),
    )
