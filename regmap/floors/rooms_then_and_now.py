"""What became of each room between two mapping runs, from overlaps in one frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.errors import OutlineError, RegmapError
from regmap.floors.shared_area import shared_areas

__all__ = ["ROOM_CHANGES", "RoomChange", "room_changes"]

ROOM_CHANGES = ("kept", "joined", "split", "changed", "gone")

MOST_MET, MOST_PAIRS = 20, 20_000
"""On a floor a room meets a few others. Where it is more, on average, or so many pairs of an old
and a new room in all, they are not compared."""

_SAME, _HELD, _GONE, _TOUCHES = 0.75, 0.75, 0.25, 0.02


@dataclass(frozen=True, eq=False)
class RoomChange:
    """What became of one old room.

    Attributes:
        name: of the old room.
        state: "kept"; "joined": it is now part of a larger room, with others; "split": it is now
            several rooms; "changed": its walls stand elsewhere; "gone": the new outlines leave its
            place empty.
        overlap: 0..1, area that it shares with the new room that is most like it, over the area
            that either covers; to some hundredths where rooms have thousands of corners.
        now: new room -> share (0..1) of the old one's area, largest first.
    """

    name: str
    state: str
    overlap: float
    now: Mapping[str, float]

    def __post_init__(self) -> None:
        if self.state not in ROOM_CHANGES:
            raise RegmapError(
                f"room {self.name!r}: state is {self.state!r}, but must be among {ROOM_CHANGES}"
            )
        object.__setattr__(self, "now", MappingProxyType(dict(self.now)))

    def __reduce__(self) -> tuple[object, ...]:
        return RoomChange, (self.name, self.state, self.overlap, dict(self.now))


def room_changes(
    old: Mapping[str, BaseGeometry], new: Mapping[str, BaseGeometry]
) -> tuple[RoomChange, ...]:
    """Compare rooms, shapely polygons in one and the same frame.

    Raises:
        OutlineError: if more overlap than `MOST_MET` and `MOST_PAIRS` say: they lie on each other.
    """
    names, rooms, shapes = list(new), list(old.values()), list(new.values())
    size = np.array([shape.area for shape in shapes])
    shared = np.zeros((len(old), len(new)))
    pairs = _meeting(rooms, shapes)
    most = min(MOST_MET * max(len(old), len(new)), MOST_PAIRS)
    if len(pairs) > most:
        _refuse_heaps(len(pairs), most, "an old and a new room")
    shared[pairs[:, 0], pairs[:, 1]] = shared_areas(rooms, shapes, pairs)
    own = np.array([room.area for room in old.values()])
    of_old, of_new = shared / own[:, None], shared / size
    # Corners that overlays put on a grid may make rooms that are equal share more than they are.
    alike = np.minimum(shared / (own[:, None] + size - shared), 1.0)
    of_old = np.minimum(of_old, 1.0)
    return tuple(
        RoomChange(
            name,
            _state(of_old, of_new, alike, i),
            float(alike[i].max()),
            {names[j]: float(of_old[i, j]) for j in _largest_first(of_old[i])},
        )
        for i, name in enumerate(old)
    )


def check_apart(rings: Mapping[str, tuple[NDArray[np.float64], ...]], which: str) -> None:
    """Refuse outlines that lie upon each other before anything is worked out about them.

    Raises:
        OutlineError: if more of these rooms overlap, `which` says whose, than could be compared
            with themselves on another day.
    """
    boxes = np.array([[*r[0].min(axis=0), *r[0].max(axis=0)] for r in rings.values()])
    # Each with another counts once, and with itself not at all.
    pairs = (int(_overlap(boxes, boxes).sum()) - len(boxes)) // 2
    most = (min(MOST_MET * len(boxes), MOST_PAIRS) - len(boxes)) // 2
    if pairs > most:
        _refuse_heaps(pairs, most, f"two {which} rooms")


def _refuse_heaps(pairs: int, most: int, of_what: str) -> NoReturn:
    raise OutlineError(
        f"{pairs} pairs of {of_what} overlap, and at most {most} are compared: rooms lie upon each "
        "other; give each room once"
    )


def _largest_first(shares: NDArray[np.float64]) -> NDArray[np.intp]:
    """Which shares are more than a touch; of equal ones the first comes first."""
    told = np.flatnonzero(shares > _TOUCHES)
    return told[np.argsort(-shares[told], kind="stable")]


def _meeting(rooms: list[BaseGeometry], shapes: list[BaseGeometry]) -> NDArray[np.intp]:
    """(P, 2) pairs of a room and a shape, by number, whose boxes have an area in common."""
    return np.argwhere(_overlap(shapely.bounds(rooms), shapely.bounds(shapes)))


def _overlap(own: NDArray[np.float64], its: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(N, M) which of boxes (N, 4) have an area in common with which of (M, 4)."""
    over = np.ones((len(own), len(its)), dtype=bool)
    for low, high in ((0, 2), (1, 3)):
        over &= own[:, low, None] < its[:, high]
        over &= its[:, low] < own[:, high, None]
    return over


def _state(
    of_old: NDArray[np.float64],
    of_new: NDArray[np.float64],
    alike: NDArray[np.float64],
    i: int,
) -> str:
    if alike[i].max() >= _SAME:
        return "kept"
    if of_old[i].sum() < _GONE:
        return "gone"
    holder = int(of_old[i].argmax())
    if of_old[i, holder] >= _HELD and int((of_old[:, holder] >= _HELD).sum()) > 1:
        return "joined"
    if of_old[i].sum() >= _HELD and int((of_new[i] >= _HELD).sum()) > 1:
        return "split"
    return "changed"
