"""The result of aligning two mapping runs: a map old frame -> new, and what it carries over."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
import shapely
from affine import Affine
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from regmap import accuracy, frames
from regmap.areas import CAUTION, DeviceArea, overlay
from regmap.areas.floor import polygons
from regmap.areas.sound import checked
from regmap.errors import DoubtfulFitError, NoFitError, RegmapError
from regmap.floors.moved_fit import moved_fit
from regmap.floors.rooms_then_and_now import RoomChange
from regmap.given import mapping
from regmap.inputs.stored_areas import StoredArea
from regmap.registration import SURE, Registration

__all__ = ["DoubtfulChangeError", "FrameChange", "MovedArea", "NoChangeError"]

Floats = NDArray[np.float64]
Rings = Mapping[str, tuple[Floats, ...]]
_Area = TypeVar("_Area")

# An area is lost if so much more of it than before lies off the floor.
_LOST = 0.1
# An area is of another frame if so much less of it lies in the rooms that it was stored with.
_STAYED = 0.5


class DoubtfulChangeError(DoubtfulFitError):
    """Something was about to be carried over by a doubtful change of frame.

    Attributes:
        change: the change in question.
    """

    def __init__(self, change: FrameChange) -> None:
        self.change = change
        why = [f"confidence {change.confidence:.2f}", *change.reasons]
        RegmapError.__init__(
            self,
            "this change of frame is doubtful ("
            + "; ".join(why)
            + "). Give tie_points, or outlines "
            "of the whole floor, or pass accept_doubt=True to use it as it is",
        )

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.change,)


class NoChangeError(NoFitError):
    """The old outlines lie on the new ones nowhere.

    Attributes:
        change: the best position all the same.
        best: None, for there is no picture in this.
    """

    def __init__(self, change: FrameChange) -> None:
        self.change = change
        super().__init__(None, change.reasons)
        self.args = ("the new outlines fit the old ones nowhere: " + "; ".join(change.reasons),)

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.change,)


@dataclass(frozen=True, eq=False)
class MovedArea:
    """A stored area in the new frame. It is no safety barrier: see `caution`.

    Attributes:
        name: as it was given.
        geometry: shapely geometry, new device frame.
        rooms: new room -> share (0..1) of the geometry in it, largest first.
        off_floor: share (0..1) that lies in no new room; was_off_floor: in no old room, before.
        expected_error: device units, CE95 at its worst corner: of the move, and of the area as it
            was stored where that is known.
        caution: what everybody who uses a zone must have read.
    """

    name: str
    geometry: BaseGeometry
    rooms: Mapping[str, float]
    off_floor: float
    was_off_floor: float
    expected_error: float
    unit: str
    caution: str = CAUTION

    @property
    def lost(self) -> bool:
        """True if more than a tenth of it lay on the floor before and does not any more."""
        return self.off_floor - self.was_off_floor > _LOST


@dataclass(frozen=True, eq=False, repr=False)
class FrameChange:
    """Where a robot's old coordinates lie in its new ones, after it has mapped again.

    Attributes:
        old_to_new: device (x, y) old -> device (x, y) new: turn and shift, and a scale where it
            clearly is not 1. Never mirrored.
        confidence: 0..1, the probability that the floor is the same and the move right within
            50 mm, RMS over the corners of the old rooms.
        rmse: device units; root of the mean squared gap between old and new walls that lie on each
            other, across the wall.
        outline_offset: device units by which the new outlines lie outside (+) the old ones.
        covariance: (6, 6) of the coefficients of the new position, as in `Registration`, about
            `anchor`, (x, y) in the old frame.
        floor_error: standard deviation per axis, device units, that no number of walls removes.
        old_outlines, new_outlines: name -> rings, each (N, 2), not closed, the outer ring first.
        rooms: what became of each old room.
        reasons: in words, why the confidence is not higher.
        alternatives: other changes that fit as well.
        unit: of both frames.
    """

    old_to_new: Affine
    confidence: float
    rmse: float
    outline_offset: float
    covariance: Floats
    anchor: tuple[float, float]
    floor_error: float
    old_outlines: Rings
    new_outlines: Rings
    rooms: tuple[RoomChange, ...]
    reasons: tuple[str, ...] = ()
    alternatives: tuple[FrameChange, ...] = ()
    unit: str = "mm"

    def __post_init__(self) -> None:
        put = object.__setattr__
        covariance = np.array(self.covariance, dtype=np.float64)
        covariance.flags.writeable = False
        put(self, "covariance", covariance)
        for name in ("old_outlines", "new_outlines"):
            put(self, name, MappingProxyType(_read_only(getattr(self, name))))
        for name in ("rooms", "reasons", "alternatives"):
            put(self, name, tuple(getattr(self, name)))

    def __reduce__(self) -> tuple[Any, ...]:
        values = {f.name: getattr(self, f.name) for f in dataclasses.fields(self)}
        values |= {name: dict(values[name]) for name in ("old_outlines", "new_outlines")}
        return _rebuilt, (type(self), values)

    def __repr__(self) -> str:
        states = [room.state for room in self.rooms]
        return (
            f"<FrameChange: turned {self.rotation_deg:.2f} deg, confidence {self.confidence:.2f}, "
            f"rmse {self.rmse:.4g} {self.unit}, {states.count('kept')} of {len(states)} rooms kept"
            f"{', doubtful' if self.doubtful else ''}>"
        )

    @property
    def new_to_old(self) -> Affine:
        """The way back."""
        return frames.matrix_to_affine(frames.invert(self.old_to_new))

    @property
    def scale(self) -> float:
        """New units per old unit: 1, or near it."""
        return frames.scale_of(self.old_to_new)

    @property
    def rotation_deg(self) -> float:
        """Degrees ccw by which the old frame's x axis is turned in the new one."""
        return frames.rotation_of(self.old_to_new)

    @property
    def doubtful(self) -> bool:
        """True if the confidence is below 0.9, or other changes fit as well."""
        return self.confidence < SURE or bool(self.alternatives)

    def refuse_doubt(self, accept_doubt: bool = False) -> None:
        """Raise DoubtfulChangeError if this change is doubtful and `accept_doubt` is False."""
        if self.doubtful and not accept_doubt:
            raise DoubtfulChangeError(self)

    def to_new(self, xy: ArrayLike) -> Floats:
        """Map old device points (N, 2) to new ones (N, 2)."""
        return frames.apply(self.old_to_new, xy)

    def to_old(self, xy: ArrayLike) -> Floats:
        """Map new device points (N, 2) to old ones (N, 2)."""
        return frames.apply(frames.invert(self.old_to_new), xy)

    def position_covariance(self, xy: ArrayLike) -> Floats:
        """Return (N, 2, 2), device units squared, of where old points `xy` come to lie."""
        offsets = frames.as_points(xy, "xy") - self.anchor
        return accuracy.point_covariances(self.covariance, offsets, self.floor_error)

    def expected_error(self, xy: ArrayLike) -> Floats:
        """Return (N,) device units that the true error of the move of old points (N, 2) stays below
        at 95 % of such points (CE95)."""
        return accuracy.circular_error(self.position_covariance(xy))

    def area(self, area: _Area, *, accept_doubt: bool = False) -> _Area:
        """Return a stored area in the new frame, as the same kind of thing.

        Args:
            area: a shapely geometry, a DeviceArea, or (N, 2) points, in the old frame. An upright
                rectangle comes out turned; `areas.rectangles` makes upright ones of it again.
            accept_doubt: use a doubtful change as it is, and an area as in `areas`.

        Raises:
            DoubtfulFitError: if this change is doubtful and `accept_doubt` is False.
            RegmapError: if the area was marked in another frame than the old one.
        """
        self.refuse_doubt(accept_doubt)
        moved: Any
        if isinstance(area, BaseGeometry):
            moved = shapely.transform(area, self.to_new)
        elif isinstance(area, DeviceArea):
            if not accept_doubt:
                self._refuse_elsewhere("the area", area.geometry, area.rooms)
            geometry = shapely.transform(area.geometry, self.to_new)
            moved = dataclasses.replace(
                area,
                geometry=geometry,
                expected_error=float(np.hypot(area.expected_error, self._worst(area.geometry))),
                rooms=overlay.shares(geometry, self._new_rooms),
                off_floor=1.0 - overlay.share(geometry, self._new_floor),
            )
        else:
            points: Any = area
            moved = self.to_new(points)
        result: _Area = moved
        return result

    def areas(
        self, stored: Mapping[str, Any], *, accept_doubt: bool = False
    ) -> tuple[MovedArea, ...]:
        """Carry all stored areas over, and tell of each whether it still lies on the floor.

        Args:
            stored: name -> DeviceArea, StoredArea, shapely geometry, or corners (N, 2) of a
                polygon. The first two say in which rooms they lay, and how far off they may be.
            accept_doubt: use a doubtful change as it is, and areas that lie in other rooms of the
                old outlines than when they were stored.

        Raises:
            DoubtfulFitError: if this change is doubtful and `accept_doubt` is False.
            RegmapError: if something is no area, or was stored in another frame than the old one.
        """
        self.refuse_doubt(accept_doubt)
        return tuple(
            self._moved(str(name), area, accept_doubt)
            for name, area in mapping(stored, "stored").items()
        )

    def registration(self, fit: Registration, *, accept_doubt: bool = False) -> Registration:
        """Return a stored fit of the same picture, to the new frame and the new outlines.

        Its confidence is that of both together, and so is its predicted error. For the last
        millimetres register the picture anew with `near=` this.

        Raises:
            DoubtfulFitError: if this change is doubtful and `accept_doubt` is False.
            RegmapError: if the fit is of another unit, or its outlines are not the old ones.
        """
        self.refuse_doubt(accept_doubt)
        return moved_fit(self, fit)

    @cached_property
    def _new_rooms(self) -> dict[str, BaseGeometry]:
        return polygons(self.new_outlines)

    @cached_property
    def _new_floor(self) -> BaseGeometry:
        return overlay.union(self._new_rooms.values())

    @cached_property
    def _old_rooms(self) -> dict[str, BaseGeometry]:
        return polygons(self.old_outlines)

    @cached_property
    def _old_floor(self) -> BaseGeometry:
        return overlay.union(self._old_rooms.values())

    def _worst(self, geometry: BaseGeometry) -> float:
        return float(self.expected_error(shapely.get_coordinates(geometry)).max())

    def _moved(self, name: str, area: Any, accept_doubt: bool) -> MovedArea:
        before, error = _geometry(area), 0.0
        if isinstance(area, DeviceArea | StoredArea):
            error = area.expected_error or 0.0
            if not accept_doubt:
                self._refuse_elsewhere(repr(name), before, area.rooms)
        geometry = shapely.transform(before, self.to_new)
        return MovedArea(
            name,
            geometry,
            overlay.shares(geometry, self._new_rooms),
            1.0 - overlay.share(geometry, self._new_floor),
            1.0 - overlay.share(before, self._old_floor),
            math.hypot(error, self._worst(before)),
            self.unit,
        )

    def _refuse_elsewhere(self, name: str, area: BaseGeometry, rooms: Mapping[str, float]) -> None:
        """Refuse an area that the old outlines show in other rooms than those it was stored with:
        the runs were taken for each other, or it is of a third one. Nothing else would tell."""
        then = {room: share for room, share in rooms.items() if room in self._old_rooms}
        if not then:
            return
        now = overlay.shares(area, self._old_rooms)
        if sum(now.get(room, 0.0) for room in then) < _STAYED * sum(then.values()):
            raise RegmapError(
                f"{name} was stored as lying in {_named(then)}, but in the old outlines it lies "
                f"in {_named(now) or 'no room'}: are they those of the run in which it was marked, "
                "and were old and new not exchanged? If rooms were renamed since, pass "
                "accept_doubt=True"
            )


def _rebuilt(cls: type[FrameChange], values: dict[str, Any]) -> FrameChange:
    return cls(**values)


def _read_only(outlines: Rings) -> dict[str, tuple[Floats, ...]]:
    copies = {name: tuple(np.array(ring) for ring in rings) for name, rings in outlines.items()}
    for rings in copies.values():
        for ring in rings:
            ring.flags.writeable = False
    return copies


def _named(rooms: Mapping[str, float]) -> str:
    return ", ".join(map(repr, rooms))


def _geometry(area: Any) -> BaseGeometry:
    if isinstance(area, DeviceArea | StoredArea):
        area = area.geometry
    if isinstance(area, BaseGeometry):
        if area.is_empty:
            raise RegmapError("an area is empty: leave it out")
        frames.as_points(shapely.get_coordinates(area), "the area")
        return checked(area)
    corners = frames.as_points(area, "the area")
    if not len(corners):
        raise RegmapError("an area is empty: leave it out")
    if len(corners) == 1:
        return shapely.Point(corners[0])
    return checked(shapely.LineString(corners) if len(corners) == 2 else shapely.Polygon(corners))
