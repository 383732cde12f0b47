"""The scenario of the demo and of the README: a small town's library and its night robot.

In spring the robot has mapped the library, and somebody has taken a screenshot of the map and
marked three areas in it. In autumn the shelves stand elsewhere, the map store is locked, and the
robot maps anew: other origin, other turn, other furniture. Upstairs is a gallery.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, affinity
from shapely.ops import polylabel

from regmap import frames

from .captures import write_capture
from .floors import Floor, make_floor
from .outlines import device_frame, robot_outlines
from .pictures import draw
from .samples import Plan, a_floor
from .variants import furnished

__all__ = ["LOCKED", "ROOMS", "Library", "make_library"]

Array = NDArray[np.float64]

# The largest room gets the first name.
ROOMS = (
    "Reading room",
    "Local history",
    "Periodicals",
    "Lending desk",
    "Map store",
    "Workroom",
    "Listening booth",
    "Bindery",
    "Cloakroom",
    "Back stairs",
)
LOCKED = "Map store"
"""The room into which the robot cannot get when it maps again."""


@dataclass(frozen=True, eq=False)
class Library:
    """What there is in the scenario, and the truth about it.

    Attributes:
        image: (H, W, 3) uint8 RGB, the screenshot.
        log: what the robot said in spring; later_log: in autumn.
        gallery_image, gallery_log: the same of the floor above, in spring.
        marks: a GeoJSON FeatureCollection in px, as somebody marked it in the screenshot.
        image_to_device: (2, 3) px -> mm of spring; old_to_new: (2, 3) mm of spring -> of autumn.
        lost: names of the marks that are not on the floor any more in autumn.
    """

    image: NDArray[np.uint8]
    log: str
    later_log: str
    gallery_image: NDArray[np.uint8]
    gallery_log: str
    marks: Mapping[str, Any]
    image_to_device: Array
    old_to_new: Array
    lost: tuple[str, ...]


def make_library(seed: int) -> Library:
    """Make the scenario. The same seed gives the same bits."""
    rng = np.random.default_rng(seed)
    floor = _named(make_floor(rng, rooms=9, style="mixed"))
    while LOCKED not in floor.cells:  # the shape allowed too few rooms
        floor = _named(make_floor(rng, rooms=9, style="mixed"))
    picture = draw(floor, rng, look="flat", size=(1500, 1080), mess=0.4, screen=True)
    spring = robot_outlines(floor, rng, noise_mm=8.0, simplify_mm=20.0)
    rooms = furnished(floor, rng, density=0.7)
    rooms.pop(LOCKED, None)
    frame = device_frame(rng, turn_deg=float(rng.uniform(60, 120)))
    autumn = robot_outlines(floor, rng, shapes=rooms, frame=frame, cell_mm=50.0)
    back = frames.invert(spring.floor_to_device)
    gallery_image, gallery_log = _gallery(seed)
    return Library(
        image=picture.image,
        log=write_capture(spring.rings, rng, style="log"),
        later_log=write_capture(autumn.rings, rng, style="log"),
        gallery_image=gallery_image,
        gallery_log=gallery_log,
        marks=_marks(floor, picture.floor_to_image),
        image_to_device=frames.compose(spring.floor_to_device, picture.image_to_floor),
        old_to_new=frames.compose(autumn.floor_to_device, back),
        lost=("Map chest",),
    )


def _gallery(seed: int) -> tuple[NDArray[np.uint8], str]:
    rng = np.random.default_rng([seed, 1])
    floor = a_floor(Plan(rooms=(5, 7), style="plain"), rng)
    by_size = sorted(floor.cells, key=lambda name: -float(floor.cells[name].area))
    numbers = {old: f"Gallery {number}" for number, old in enumerate(by_size, start=1)}
    floor = replace(
        floor, cells={numbers[old]: cell for old, cell in floor.cells.items()}, doors=()
    )
    picture = draw(floor, rng, look="flat", size=(1200, 900), mess=0.3, screen=True)
    device = robot_outlines(floor, rng, noise_mm=8.0)
    return picture.image, write_capture(device.rings, rng, style="document")


def _named(floor: Floor) -> Floor:
    """Give the rooms their names in this library, by size."""
    by_size = sorted(floor.cells, key=lambda name: -float(floor.cells[name].area))
    names = dict(zip(by_size, ROOMS, strict=False))
    cells = {names.get(old, old): cell for old, cell in floor.cells.items()}
    doors = tuple(
        replace(door, between=(names.get(a, a), names.get(b, b)))
        for door in floor.doors
        for a, b in [door.between]
    )
    return replace(floor, cells=cells, doors=doors)


def _marks(floor: Floor, floor_to_image: Array) -> dict[str, Any]:
    """Mark a slanted row of cabinets, the shelves of one room and a chest, to the pixel."""
    cabinets = _about(
        floor.rooms["Reading room"], [(-0.8, -0.3), (0.8, -0.3), (0.8, 0.3), (-0.8, 0.3)]
    )
    ring = [(1.25 * np.cos(t), 1.25 * np.sin(t)) for t in np.radians([10, 65, 120, 190, 245, 300])]
    shelves = _about(floor.rooms["Local history"], ring)
    chest = _about(floor.rooms[LOCKED], [(-0.5, -0.4), (0.5, -0.4), (0.5, 0.4), (-0.5, 0.4)])
    wished: list[tuple[str, Polygon, dict[str, Any]]] = [
        ("Folio cabinets", affinity.rotate(cabinets, 28), {"keep_off": "expected"}),
        ("Open shelves", shelves, {"rooms": ["Local history"], "off_walls": "expected"}),
        ("Map chest", chest, {"keep_off": "expected"}),
    ]
    features = []
    for name, shape, wishes in wished:
        corners = shapely.get_coordinates(shape)
        pixels = np.rint(frames.apply(floor_to_image, corners)).astype(int).tolist()
        features.append(
            {
                "type": "Feature",
                "properties": {"name": name, **wishes},
                "geometry": {"type": "Polygon", "coordinates": [pixels]},
            }
        )
    return {"type": "FeatureCollection", "unit": "px", "features": features}


def _about(room: Polygon, ring: list[tuple[float, float]]) -> Polygon:
    """A shape about the middle of a room; 1 is the radius of the largest circle in it."""
    middle = polylabel(room, 10.0)
    radius = float(room.exterior.distance(middle))
    return Polygon(np.array([middle.x, middle.y]) + radius * np.array(ring))
