"""A stored fit of a picture, carried into the frame of a new mapping run."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap import frames
from regmap.areas.floor import polygons
from regmap.errors import RegmapError
from regmap.floors.rooms_then_and_now import room_changes
from regmap.given import instance
from regmap.registration import Registration, RoomFit

if TYPE_CHECKING:
    from regmap.floors.frame_change import FrameChange

__all__ = ["moved_fit"]

Floats = NDArray[np.float64]


def moved_fit(change: FrameChange, fit: Registration) -> Registration:
    """Return `fit` with the new outlines, in the new frame; see `FrameChange.registration`."""
    instance(fit, Registration, "fit")
    if fit.unit != change.unit:
        raise RegmapError(f"the fit is in {fit.unit}, but the change of frame is in {change.unit}")
    own = polygons(fit.outlines)
    same = room_changes(own, polygons(change.old_outlines))
    if not any(room.state == "kept" for room in same):
        raise RegmapError(
            "none of the fit's rooms lies on one of the old outlines: this is the fit of another "
            "floor, or of another mapping run"
        )
    others = [_carried(other, fit) for other in change.alternatives]
    others += [_carried(change, other) for other in fit.alternatives]
    return dataclasses.replace(_carried(change, fit), alternatives=tuple(others))


def _carried(change: FrameChange, fit: Registration) -> Registration:
    linear = frames.affine_to_matrix(change.old_to_new)[:, :2]
    to_new = frames.matrix_to_affine(frames.compose(change.old_to_new, fit.transform))
    reasons = [*fit.reasons, *(f"carried to a new mapping run: {why}" for why in change.reasons)]
    return dataclasses.replace(
        fit,
        transform=to_new,
        confidence=fit.confidence * change.confidence,
        reprojection_error=math.hypot(fit.reprojection_error, change.rmse / fit.unit_per_px),
        wall_offset=fit.wall_offset - change.outline_offset,
        covariance=_turned(fit.covariance, linear) + _seen_from_picture(change, fit),
        floor_error=math.hypot(fit.floor_error, change.floor_error),
        outlines=change.new_outlines,
        rooms=_rooms(change, fit, frames.invert(to_new)),
        reasons=tuple(reasons),
        alternatives=(),
        residuals=np.empty((0, 3)),
    )


def _turned(covariance: Floats, linear: Floats) -> Floats:
    """The fit's own covariance (6, 6), its positions mapped on by `linear`."""
    spread = np.kron(linear, np.eye(3))
    mapped: Floats = (spread @ covariance @ spread.T).astype(np.float64)
    return mapped


def _seen_from_picture(change: FrameChange, fit: Registration) -> Floats:
    """The change's covariance (6, 6) as one of coefficients of picture positions about the fit's
    anchor: old position minus anchor is `matrix` times (u, v, 1)."""
    first = frames.affine_to_matrix(fit.transform)
    matrix = np.eye(3)
    matrix[:2, :2] = first[:, :2]
    matrix[:2, 2] = fit.to_device(fit.anchor_px)[0] - change.anchor
    spread = np.kron(np.eye(2), matrix.T)
    mapped: Floats = (spread @ change.covariance @ spread.T).astype(np.float64)
    return mapped


def _rooms(change: FrameChange, fit: Registration, to_image: Floats) -> tuple[RoomFit, ...]:
    """What the picture says of the new rooms: those that were kept keep what was found; of others
    the picture shows what stood there before."""
    before = {
        name: shapely.transform(room, change.to_new)
        for name, room in polygons(fit.outlines).items()
    }
    known = {room.name: room for room in fit.rooms}
    now = polygons(change.new_outlines)
    rooms = []
    for room in room_changes(now, before):
        shown = _shown(now[room.name], to_image, fit.image_size)
        old = known.get(next(iter(room.now), "")) if room.state == "kept" else None
        label = frames.apply(to_image, shapely.get_coordinates(now[room.name].point_on_surface()))
        rooms.append(
            RoomFit(
                name=room.name,
                state=old.state if old else "disagrees" if shown > 0.0 else "not shown",
                overlap=room.overlap if math.isnan(_overlap(old)) else room.overlap * _overlap(old),
                rmse_px=old.rmse_px if old else math.nan,
                support=old.support if old else 0.0,
                shown=shown,
                label_px=(float(label[0, 0]), float(label[0, 1])),
            )
        )
    return tuple(rooms)


def _overlap(room: RoomFit | None) -> float:
    return room.overlap if room else math.nan


def _shown(room: BaseGeometry, to_image: Floats, size: tuple[int, int]) -> float:
    border = shapely.transform(room.boundary, lambda xy: frames.apply(to_image, xy))
    inside = shapely.intersection(border, shapely.box(0, 0, *size))
    return float(np.clip(inside.length / border.length, 0.0, 1.0))
