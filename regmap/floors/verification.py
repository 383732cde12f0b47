"""`verify`: is a stored fit still true of today's picture?"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from regmap.areas.floor import floor_points
from regmap.errors import DoubtfulFitError
from regmap.floors.fitting import Attempt, attempt
from regmap.given import instance
from regmap.registration import SURE, Registration, RoomFit

__all__ = ["Verification", "verify"]

Floats = NDArray[np.float64]

# Drift below this is not told from none: a picture drawn anew puts its lines on other pixels.
_STILL_PX = 1.0
# A new fit that starts from the old one is believed within so much of the picture's diagonal;
# farther off it may have caught the wrong walls, and the whole search must agree.
_NEAR = 0.02
# A room has changed if so much less of its outline lies on edges than when the fit was made; a
# third of that will do where the region that it is matched with is another one, too.
_LESS_SUPPORT, _LESS_OVERLAP = 0.3, 0.1
_AS_SURE = 0.05


@dataclass(frozen=True, eq=False)
class Verification:
    """Whether a stored fit is still true of today's picture.

    Attributes:
        holds: the stored fit may go on being used with today's picture.
        drift_px: largest distance over the floor, in px of today's picture, between where the
            stored fit puts a place and where it is now. nan if nothing fits. drift: the same in
            device units. median_drift_px, median_drift: at half of the floor it is less.
        tolerance_px: drift up to which the fit holds: the predicted errors of both fits, or 1 px.
        confidence: 0..1, that today's fit is right.
        changed_rooms: names of the rooms that agreed with the picture when the fit was stored, and
            do not any more.
        reasons: in words, why it does not hold, or what else is to be known.
        registration: today's fit; where nothing fits the nearest miss, or None.
        unit: of the device frame.
    """

    holds: bool
    drift_px: float
    drift: float
    median_drift_px: float
    median_drift: float
    tolerance_px: float
    confidence: float
    changed_rooms: tuple[str, ...]
    reasons: tuple[str, ...]
    registration: Registration | None
    unit: str

    def refuse_drift(self) -> None:
        """Raise DoubtfulFitError, with today's fit, if the stored one does not hold."""
        if not self.holds and self.registration is not None:
            raise DoubtfulFitError(self.registration)


def verify(fit: Registration, image: Any) -> Verification:
    """Look whether a stored fit is still true of today's picture, and fit that picture anew.

    The new fit starts from the stored one, which takes a fraction of the time of a whole fit. If
    that is weak, or lies far from the stored one, or rooms have changed, or if the stored one was
    doubtful, the whole search is run.

    Args:
        fit: as it was stored.
        image: today's picture, as in `register`. One of another size is told, for pixel coordinates
            of the old one do not hold in it.

    Returns:
        A Verification, whatever comes out; nothing is raised because of a poor fit.

    Raises:
        PictureError: if the picture cannot be read.
    """
    from regmap.inputs.pictures import read_picture

    instance(fit, Registration, "fit")
    picture = read_picture(image)
    height, width = picture.shape[:2]
    other_size = (width, height) != fit.image_size
    today = None if other_size or fit.doubtful else _fitted(fit, picture, near=fit)
    if today is None or not _settled(today, fit, math.hypot(width, height)):
        today = _better(today, _fitted(fit, picture), fit)
    return _verdict(fit, today, (width, height))


def _fitted(fit: Registration, picture: Any, near: Registration | None = None) -> Attempt:
    return attempt(picture, fit.outlines, model=fit.model, near=near, unit=fit.unit)


def _settled(today: Attempt, fit: Registration, diagonal: float) -> bool:
    """The quick fit is plainly the old one again: sure, not far off, and no room has changed."""
    # It looks at one place alone, so that a doubt about other places would be lost in it.
    if today.refused or today.fit is None or fit.doubtful:
        return False
    away, _ = _drift(fit, today.fit)
    return (
        today.fit.confidence >= SURE
        and float(away.max()) <= _NEAR * diagonal
        and not _changed_rooms(fit, today.fit)
    )


def _better(near: Attempt | None, anew: Attempt, fit: Registration) -> Attempt:
    """What the whole search says; of twins the one that lies nearest to the stored fit."""
    if anew.fit is None or anew.refused:
        # The quick fit looks at one place alone. That the whole search refuses the picture means
        # that this place is no better than others.
        return Attempt((near.fit if near else None) or anew.fit, True, anew.reasons)
    twins = (anew.fit, *anew.fit.alternatives)
    nearest = min(twins, key=lambda twin: float(_drift(fit, twin)[0].max()))
    others = tuple(dataclasses.replace(t, alternatives=()) for t in twins if t is not nearest)
    first = dataclasses.replace(nearest, alternatives=others, reasons=anew.fit.reasons)
    return Attempt(first, False, anew.reasons)


def _verdict(fit: Registration, today: Attempt, size: tuple[int, int]) -> Verification:
    reasons = []
    if size != fit.image_size:
        reasons.append(
            f"the picture is {size[0]} x {size[1]} px, and was {fit.image_size[0]} x "
            f"{fit.image_size[1]} px: pixel coordinates of the old one do not hold in it"
        )
    new = today.fit
    if new is None or today.refused:
        reasons.append("the outlines fit today's picture nowhere")
        reasons += today.reasons
        rooms = tuple(room.name for room in fit.rooms if room.state == "agrees")
        nan = math.nan
        return Verification(
            False, nan, nan, nan, nan, nan, 0.0, rooms, tuple(reasons), new, fit.unit
        )
    away_px, away = _drift(fit, new)
    tolerance = _tolerance_px(fit, new)
    changed = _changed_rooms(fit, new)
    drifted = float(away_px.max()) > tolerance
    if drifted:
        reasons.append(
            f"the map has moved in the picture: by up to {away_px.max():.1f} px, where "
            f"{tolerance:.1f} px may be chance; use today's fit"
        )
    # A fit that was doubtful when it was stored, and was taken all the same, need not be surer now.
    surer = fit.doubtful and new.confidence >= fit.confidence - _AS_SURE
    if new.doubtful:
        as_before = ", as it was not when the fit was stored" if surer else ""
        reasons.append(f"today's picture is not matched for certain{as_before}")
        reasons += new.reasons
    if changed:
        reasons.append(f"the picture does not show these rooms as before: {', '.join(changed)}")
    return Verification(
        holds=not drifted and (surer or not new.doubtful) and size == fit.image_size,
        drift_px=float(away_px.max()),
        drift=float(away.max()),
        median_drift_px=float(np.median(away_px)),
        median_drift=float(np.median(away)),
        tolerance_px=tolerance,
        confidence=new.confidence,
        changed_rooms=changed,
        reasons=tuple(reasons),
        registration=new,
        unit=fit.unit,
    )


def _drift(fit: Registration, new: Registration) -> tuple[Floats, Floats]:
    """(N,) px and device units, over the floor: what goes wrong if the stored fit is used on
    today's picture."""
    px = floor_points(new)
    device = fit.to_device(px)
    return np.hypot(*(new.to_image(device) - px).T), np.hypot(*(device - new.to_device(px)).T)


def _tolerance_px(fit: Registration, new: Registration) -> float:
    """Predicted error of the difference of both fits at the worst place of the floor, CE95."""
    px = floor_points(new)
    both = np.hypot(fit.expected_error(px), new.expected_error(px)).max()
    return max(_STILL_PX, float(both) / new.unit_per_px)


def _changed_rooms(fit: Registration, new: Registration) -> tuple[str, ...]:
    today = {room.name: room for room in new.rooms}
    return tuple(
        room.name
        for room in fit.rooms
        if room.state == "agrees" and _changed(room, today.get(room.name))
    )


def _changed(then: RoomFit, now: RoomFit | None) -> bool:
    if now is None or now.state == "disagrees":
        return True
    if now.state != "agrees":  # hidden today, which says nothing
        return False
    less, apart = then.support - now.support, then.overlap - now.overlap
    other_region = apart > _LESS_OVERLAP or (math.isnan(now.overlap) and then.overlap > 0.5)
    return less > (_LESS_SUPPORT / 3.0 if other_region else _LESS_SUPPORT)
