"""Areas marked in the picture, as device geometry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from regmap import frames
from regmap.areas import overlay
from regmap.areas.floor import polygons
from regmap.areas.sound import checked
from regmap.caution import CAUTION
from regmap.errors import RegmapError
from regmap.given import instance, listed, short
from regmap.registration import Registration

__all__ = ["CAUTION", "DeviceArea", "room_at", "room_polygons", "to_device", "to_image"]

Floats: TypeAlias = NDArray[np.float64]

_FARTHEST = 1e9
# Offset corners as sharp as 23 degrees stay pointed, so that a grown rectangle stays one.
_MITRE = 5.0
# An area that lies within its room to the pixel may stick out by rounding.
LEAVES_FLOOR = 0.005

MAX_CORNERS = 5000
"""An area of more corners or points is refused: margins of so many are not found in seconds."""

_MOST_POINTS = 1000
# A border that is more times as long as its area is wide runs to and fro: strips beside all of it,
# which overlap, would be merged for seconds.
_LONGEST = 200.0
_LARGEST_MARGIN = 1e12

Margin: TypeAlias = float | Literal["expected", "-expected"]


@dataclass(frozen=True, eq=False)
class DeviceArea:
    """An area in the device frame. It is no safety barrier: see `caution`.

    Attributes:
        geometry: shapely geometry in device coordinates; polygons have their outer rings
            anti-clockwise. With a margin, points and lines become polygons.
        marked: the same in the picture, (column, row) px, as it was marked.
        keep_off: the margin in device units by which it was grown (+) or shrunk (-).
        expected_error: device units, CE95 at the worst corner of what was marked: how far the
            result may lie from the right place there, in 95 % of cases.
        rooms: name -> share (0..1) of the geometry that lies in that room, largest share first;
            shares of area, or of length, or of the number of points.
        off_floor: share (0..1) that lies in no room.
        unit: of the device frame.
        caution: what everybody who uses a zone must have read.
        off_walls: how far, in device units, it was kept off the walls.
    """

    geometry: BaseGeometry
    marked: BaseGeometry
    keep_off: float
    expected_error: float
    rooms: Mapping[str, float]
    off_floor: float
    unit: str
    caution: str = CAUTION
    off_walls: float = 0.0

    @property
    def leaves_floor(self) -> bool:
        """True if more than half a percent of it lies in no room: in a wall, or off the floor."""
        return self.off_floor > LEAVES_FLOOR


def to_device(
    fit: Registration,
    area: Any,
    *,
    keep_off: Margin = 0.0,
    rooms: str | Iterable[str] | None = None,
    off_walls: float | Literal["expected"] = 0.0,
    accept_doubt: bool = False,
) -> DeviceArea:
    """Return what was marked in the picture as an area in the device frame.

    Args:
        fit: of this picture.
        area: px, (column, row). One pair is a point; four numbers (c0, r0, c1, r1) are a
            rectangle; a (2, 2) array is a line; an (N, 2) array with N >= 3 is a polygon, closed or
            not. A shapely point, line or polygon, or several of one kind, is taken as what it is.
        keep_off: margin in device units by which the area grows, so that a robot that must not
            enter keeps that much farther off; "expected" takes `expected_error`. A negative margin,
            or "-expected", shrinks it, so that a robot that works inside keeps within what was
            marked.
        rooms: names of rooms. What lies outside them is cut off, after the margin.
        off_walls: what lies nearer than this to the border of its room is cut off, too: a robot
            that is sent there does not meet a wall. "expected" takes `expected_error`. Without
            `rooms` all rooms count.
        accept_doubt: use a doubtful fit as it is.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
        RegmapError: if the area crosses itself, has no size or more than `MAX_CORNERS` corners, if
            its border runs to and fro and it is to have a margin, if a room is unknown, or if
            nothing is left of the area.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    marked = _marked(area)
    expected = float(fit.expected_error(shapely.get_coordinates(marked)).max())
    margin = _margin(keep_off, expected, "keep_off")
    apart = _margin(off_walls, expected, "off_walls")
    geometry = _wound(_mapped(fit.image_to_device, marked))
    if margin:
        geometry = _grown(geometry, margin, fit.unit)
    polygons = room_polygons(fit)
    if rooms is not None or apart:
        geometry = _cut(geometry, polygons if rooms is None else rooms, polygons, apart, fit.unit)
    floor = overlay.union(polygons.values())
    return DeviceArea(
        geometry=geometry,
        marked=marked,
        keep_off=margin,
        expected_error=expected,
        rooms=overlay.shares(geometry, polygons),
        off_floor=1.0 - overlay.share(geometry, floor),
        unit=fit.unit,
        off_walls=apart,
    )


def to_image(fit: Registration, xy: ArrayLike, *, accept_doubt: bool = False) -> Floats:
    """Return where places of the robot, or a path of it, lie in the picture.

    Args:
        fit: of this picture.
        xy: (N, 2) device coordinates, or one pair.
        accept_doubt: use a doubtful fit as it is.

    Returns:
        (N, 2) (column, row) in px; places that the picture does not show lie outside it.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    return fit.to_image(xy)


def room_at(
    fit: Registration, px: ArrayLike, *, accept_doubt: bool = False
) -> tuple[str | None, ...]:
    """Return the name of the room at each of (N, 2) picture points, None off the floor.

    A border belongs to its room. Where rooms overlap, the smallest one counts.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    x, y = fit.to_device(px).T
    found: list[str | None] = [None] * len(x)
    places = shapely.STRtree(shapely.points(x, y))
    by_size = sorted(room_polygons(fit).items(), key=lambda entry: -entry[1].area)
    for name, polygon in by_size:
        for index in places.query(polygon, predicate="intersects"):
            found[index] = name
    return tuple(found)


def room_polygons(fit: Registration) -> dict[str, BaseGeometry]:
    """Return name -> shapely polygon in the device frame, wound anti-clockwise, holes cut out."""
    return {
        name: _wound(_of_dimension(2, room))
        for name, room in polygons(instance(fit, Registration, "fit").outlines).items()
    }


def _marked(area: Any) -> BaseGeometry:
    """Return the shapely geometry that was meant, valid and with finite coordinates."""
    geometry = area if isinstance(area, BaseGeometry) else _from_numbers(area)
    geometry = shapely.force_2d(geometry)
    if geometry.is_empty or not (np.abs(shapely.get_coordinates(geometry)) <= _FARTHEST).all():
        raise RegmapError(
            f"the area is empty, or some of its numbers are not finite or above {_FARTHEST:g} px"
        )
    corners = shapely.get_coordinates(geometry)
    if len(corners) > MAX_CORNERS:
        raise RegmapError(
            f"the area has {len(corners)} corners, and at most {MAX_CORNERS} are taken: simplify "
            "it first"
        )
    return checked(geometry)


def _from_numbers(area: Any) -> BaseGeometry:
    try:
        given = np.asarray(area)
        flat = np.empty(0) if given.dtype.kind == "c" else given.astype(np.float64)
    except Exception:  # an array of somebody else's may fail in ways of its own
        flat = np.empty(0)
    if flat.shape == (4,):
        (c0, c1), (r0, r1) = sorted((flat[0], flat[2])), sorted((flat[1], flat[3]))
        if not (c0 < c1 and r0 < r1):
            raise RegmapError(
                f"the rectangle {flat.tolist()} has no size: two opposite corners are needed, "
                "(c0, r0, c1, r1)"
            )
        box: BaseGeometry = shapely.box(c0, r0, c1, r1)
        return box
    if flat.size == 0 or (flat.shape != (2,) and (flat.ndim != 2 or flat.shape[1] != 2)):
        raise RegmapError(
            f"an area is {short(area)}, but a pair, four numbers, an (N, 2) array or a shapely "
            "geometry is needed"
        )
    points = frames.as_points(flat, "the area")
    if len(points) == 1:
        return shapely.Point(points[0])
    if len(points) == 2:
        return shapely.LineString(points)
    if len(np.unique(points, axis=0)) < 3:
        raise RegmapError("a polygon needs at least three different corners")
    return shapely.Polygon(points)


def _margin(given: float | str, expected: float, what: str) -> float:
    named = {"expected": expected}
    if what == "keep_off":
        named["-expected"] = -expected
    if isinstance(given, str) and given in named:
        return named[given]
    number = isinstance(given, int | float | np.number) and abs(given) <= _LARGEST_MARGIN
    if isinstance(given, str) or not number or (given < 0 and what == "off_walls"):
        words = " or ".join(f'"{name}"' for name in named)
        sign = ", not negative," if what == "off_walls" else ""
        kind = f"a number{sign} up to {_LARGEST_MARGIN:g}"
        raise RegmapError(f"{what} is {short(given)}, but {kind} or {words} is needed")
    return float(given)


def _mapped(matrix: Floats, geometry: BaseGeometry) -> BaseGeometry:
    mapped: BaseGeometry = shapely.transform(geometry, lambda points: frames.apply(matrix, points))
    return mapped


def _wound(geometry: BaseGeometry) -> BaseGeometry:
    """Wind outer rings anti-clockwise and holes clockwise: the flip of the frames turned them."""
    if isinstance(geometry, shapely.Polygon):
        return orient(geometry)
    if isinstance(geometry, shapely.MultiPolygon):
        return shapely.MultiPolygon([orient(part) for part in geometry.geoms])
    return geometry


def _grown(geometry: BaseGeometry, margin: float, unit: str) -> BaseGeometry:
    for ring in shapely.get_rings(geometry):
        x0, y0, x1, y1 = ring.bounds
        if ring.length > _LONGEST * max(x1 - x0, y1 - y0):
            raise RegmapError(
                f"the area's border runs to and fro, more than {_LONGEST:g} times as long as it is "
                "wide: smooth it, or give it no margin"
            )
    kind = shapely.get_dimensions(geometry)
    if _is_none(margin, geometry):
        return geometry
    if kind == 0:
        grown = overlay.union(shapely.buffer(_few_points(geometry), margin))
    else:
        corners: Literal["mitre", "round"] = "mitre" if kind == 2 else "round"
        grown = shapely.buffer(geometry, margin, join_style=corners, mitre_limit=_MITRE)
    if grown.is_empty:
        raise RegmapError(f"nothing is left of the area {-margin:.4g} {unit} inside its border")
    return _wound(grown)


def _is_none(margin: float, geometry: BaseGeometry) -> bool:
    """True of a margin so small that coordinates do not show it: a buffer of it loses the area."""
    return abs(margin) < 16 * float(np.spacing(np.abs(shapely.get_coordinates(geometry)).max()))


def _few_points(geometry: BaseGeometry) -> Any:
    """The different points of a geometry, each by itself: circles that overlap all over are merged
    in a fraction of the time if they come one by one."""
    places = np.unique(shapely.get_coordinates(geometry), axis=0)
    if len(places) > _MOST_POINTS:
        raise RegmapError(
            f"{len(places)} points came, and at most {_MOST_POINTS} get a margin: mark a polygon "
            "around them, or give them none"
        )
    return shapely.points(places)


def _cut(
    geometry: BaseGeometry,
    rooms: str | Iterable[str],
    polygons: Mapping[str, BaseGeometry],
    apart: float,
    unit: str,
) -> BaseGeometry:
    names = [rooms] if isinstance(rooms, str) else list(map(str, listed(rooms, "rooms")))
    unknown = [name for name in names if name not in polygons]
    if unknown or not names:
        raise RegmapError(f"rooms are {names}, but they must be among {list(polygons)}")
    # Each room by itself: the wall between two rooms is a wall for both.
    apart = 0.0 if _is_none(apart, geometry) else apart
    free = [shapely.buffer(polygons[name], -apart, join_style="mitre") for name in names]
    left = overlay.intersection(geometry, overlay.union(free))
    # Where borders touch, lines and points come out beside the polygons that were meant.
    left = _of_dimension(int(shapely.get_dimensions(geometry)), left)
    if left.is_empty:
        off = f", {apart:.4g} {unit} off the walls" if apart else ""
        raise RegmapError(f"nothing of the area lies in {', '.join(names)}{off}")
    return _wound(left)


def _of_dimension(dimension: int, geometry: BaseGeometry) -> BaseGeometry:
    """Return the parts of this dimension: 0 points, 1 lines, 2 polygons."""
    parts = [p for p in shapely.get_parts(geometry) if shapely.get_dimensions(p) == dimension]
    return parts[0] if len(parts) == 1 else overlay.union(parts)
