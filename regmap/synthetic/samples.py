"""From a plan to a sample: a picture, a device's outlines, and the exact truth about them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from regmap.frames import apply, compose, fit_similarity, invert, is_mirrored

from .floors import Floor, make_floor
from .outlines import DeviceOutlines, device_frame, robot_outlines
from .pictures import Picture, draw
from .shapes import through
from .symmetry import lopsided, skew_twin
from .variants import bent

__all__ = ["Plan", "Sample", "a_floor", "assemble", "borders", "rng_for", "some_points"]

Array = NDArray[np.float64]
Rooms = Mapping[str, Polygon]


@dataclass(frozen=True, eq=False)
class Sample:
    """One made problem with its truth.

    `image` (H, W, 3) uint8 RGB. `outlines`: name -> rings, each (N, 2) mm, device frame, y up.
    `image_to_device` (2, 3): true way from (column, row) px to device mm; for a "stranger" it only
    says where the device's frame lies. `visible_px` (K, 2): check points spread over the rooms that
    both know and the picture shows. `model`: "similarity" or "affine". `answer`: "fits", "twins"
    (`alternatives` fit as well, each (2, 3)) or "stranger" (nothing fits). `mirrored`: the picture
    shows the floor as in a looking-glass. `truth_quality_mm`: 0 where the truth is exact, else the
    RMS by which a bent map departs from it. `wall_offset_mm`: how far the outlines lie inside (+)
    or outside (-) the drawn borders, on which lines are centred; nan where walls differ in that.
    """

    family: str
    name: str
    image: NDArray[np.uint8]
    outlines: Mapping[str, tuple[Array, ...]]
    image_to_device: Array
    visible_px: Array
    model: str
    answer: str
    mirrored: bool
    alternatives: tuple[Array, ...] = ()
    truth_quality_mm: float = 0.0
    wall_offset_mm: float = float("nan")


@dataclass(kw_only=True)
class Plan:
    """What a family asks for; whatever it leaves open is drawn at random.

    `rooms`: fewest and most. `style`, `shape`, `courtyard`, `area_m2`: see floors.make_floor.
    `drawn`, `known`: see `borders`; None for any. `turned`: any angle. `bow`: see variants.bent.
    `same_cells`: the picture shows the device's own outlines. `draw`, `device`: options of
    pictures.draw and outlines.robot_outlines.
    """

    rooms: tuple[int, int] = (3, 20)
    style: str | None = None
    shape: str | None = None
    courtyard: bool = False
    room_m2: tuple[float, float] | None = None
    drawn: Mapping[str, Any] | None = None
    known: Mapping[str, Any] | None = None
    turned: bool = False
    bow: float = 0.0
    same_cells: bool = False
    model: str = "similarity"
    draw: dict[str, Any] = field(default_factory=dict)
    device: dict[str, Any] = field(default_factory=dict)


SIZES = ((640, 480), (700, 560), (900, 700), (1080, 900), (1200, 1000), (1280, 800), (1600, 1200))
STYLE_SHARES = {"mixed": 0.4, "plain": 0.25, "office": 0.1, "slanted": 0.15, "round": 0.1}
LOOK_SHARES = {"flat": 0.4, "near": 0.15, "few": 0.3, "dark": 0.15}


def rng_for(family: str, seed: int) -> Generator:
    """A generator that depends on family and seed alone, on every machine."""
    digest = hashlib.sha256(f"{family}/{seed}".encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:16], "little"))


def _choice(rng: Generator, shares: Mapping[str, float]) -> str:
    return str(rng.choice(list(shares), p=list(shares.values())))


def a_floor(plan: Plan, rng: Generator) -> Floor:
    """A floor as planned that is not nearly the same when mirrored or turned."""
    for _ in range(60):
        count = int(np.exp(rng.uniform(np.log(plan.rooms[0]), np.log(plan.rooms[1] + 0.99))))
        area = None if plan.room_m2 is None else count * float(rng.uniform(*plan.room_m2))
        floor = make_floor(
            rng,
            rooms=count,
            style=plan.style or _choice(rng, STYLE_SHARES),
            shape=plan.shape,
            area_m2=area,
            courtyard=plan.courtyard or (count >= 8 and rng.random() < 0.06),
        )
        sound = len(floor.cells) >= plan.rooms[0] and not any(
            r.is_empty for r in floor.rooms.values()
        )
        if plan.courtyard and not floor.shell.interiors:
            continue
        if sound and lopsided(floor) and not (plan.model == "affine" and skew_twin(floor)):
            return floor
    raise RuntimeError("no lopsided floor found in 60 floors: the plan admits only symmetric ones")


def borders(floor: Floor, plan: Plan, rng: Generator) -> tuple[Rooms, Rooms]:
    """Rooms as drawn, and as the device has them.

    Where the plan says nothing: two in three have the same borders, faces of the walls or their
    middle lines; the others are drawn to the middle lines and known to the faces.
    """
    if plan.drawn is not None and plan.known is not None:
        return floor.at(**plan.drawn), floor.at(**plan.known)
    drawn = floor.at("faces" if rng.random() < 0.45 else "middle")
    return (drawn, drawn) if rng.random() < 0.65 else (drawn, floor.rooms)


def drawing_options(plan: Plan, rng: Generator) -> dict[str, Any]:
    """Options of pictures.draw, the plan's own laid over random ones."""
    size = SIZES[int(rng.integers(len(SIZES)))]
    if rng.random() < 0.3:
        size = (size[1], size[0])
    turn = 90.0 * float(rng.integers(0, 4))
    if plan.turned or rng.random() < 0.12:
        turn = float(rng.uniform(0, 360))
    options: dict[str, Any] = {
        "look": _choice(rng, LOOK_SHARES),
        "size": size,
        "turn_deg": turn,
        "fill": float(rng.uniform(0.6, 0.95)),
        "antialias": bool(rng.random() < 0.7),
        "mess": float(rng.choice([0.0, 0.0, 0.2, 0.4])),
    }
    return options | plan.draw


def some_points(shown: BaseGeometry, rng: Generator, count: int = 120) -> Array:
    """Points spread over a shape, (K, 2)."""
    left, top, right, bottom = shown.bounds
    found: list[Array] = []
    for _ in range(50):
        points = rng.uniform((left, top), (right, bottom), (count * 20, 2))
        found.append(points[shapely.contains_xy(shown, points)])
        if sum(map(len, found)) >= count:
            break
    return np.concatenate(found)[:count]


def assemble(
    floor: Floor,
    plan: Plan,
    rng: Generator,
    *,
    family: str,
    seed: int,
    known_floor: Floor | None = None,
    names: tuple[str, ...] | None = None,
    answer: str = "fits",
    moves: tuple[Array, ...] = (),
) -> Sample:
    """Draw `floor`; let the device know `known_floor` (default: the same), or the rooms `names` of
    it.

    `moves`: (2, 3) in floor mm; each lays the known rooms on walls of the floor once more.
    """
    drawn, known = borders(floor, plan, rng)
    if known_floor is not None:
        known = borders(known_floor, plan, rng)[1]
    if names is not None:
        known = {n: known[n] for n in names}
    device = _device(known_floor or floor, known, plan, rng)
    options = drawing_options(plan, rng)
    if plan.same_cells:  # the picture shows the very cells that the device goes by
        drawn = _in_floor(device)
        options["turn_deg"] = _device_turn(device) + 90.0 * float(rng.integers(0, 4))
    straight, seen, quality = np.eye(2, 3), floor, 0.0
    if plan.bow > 0:
        seen = bent(floor, rng, amount=plan.bow)
        drawn = seen.rooms
        straight, quality = _straightened(floor, seen)
    picture = _drawn(seen, drawn, options, rng)
    to_floor = compose(straight, picture.image_to_floor)
    truth = compose(device.floor_to_device, to_floor)
    return Sample(
        family=family,
        name=f"{family}-{seed}",
        image=picture.image,
        outlines=device.rings,
        image_to_device=truth,
        visible_px=_check_points(seen, known, picture, rng, stranger=answer == "stranger"),
        model=plan.model,
        answer=answer,
        mirrored=is_mirrored(truth),
        alternatives=tuple(
            compose(device.floor_to_device, compose(invert(move), to_floor)) for move in moves
        ),
        truth_quality_mm=quality,
        wall_offset_mm=_wall_offset(drawn, known) if answer != "stranger" else float("nan"),
    )


def _wall_offset(drawn: Rooms, known: Rooms) -> float:
    """The offset of all walls, if they have one in common."""
    gaps = []
    for name in drawn.keys() & known.keys():
        a, b = drawn[name], known[name]
        sign = 1.0 if a.area >= b.area else -1.0
        corners = shapely.get_coordinates(shapely.segmentize(b.exterior, 500.0))
        middles = shapely.points((corners[1:] + corners[:-1]) / 2)
        gaps.append(sign * shapely.distance(a.exterior, middles))
    every = np.concatenate(gaps) if gaps else np.array([np.nan])
    middle = float(np.median(every))
    return middle if float((np.abs(every - middle) < 2.0).mean()) > 0.85 else float("nan")


def _drawn(floor: Floor, rooms: Rooms, options: dict[str, Any], rng: Generator) -> Picture:
    """The picture; one that is cut off shows a part of the floor that has no twin in it."""
    for _ in range(12):
        picture = draw(floor, rng, shapes=rooms, **options)
        if options.get("lost", 0.0) == 0.0:
            break
        if lopsided(floor, part=through(picture.window, picture.image_to_floor)):
            break
    return picture


def _device(floor: Floor, known: Rooms, plan: Plan, rng: Generator) -> DeviceOutlines:
    """The device's outlines; a third of the devices simplify them by 20 mm."""
    options: dict[str, Any] = {
        "simplify_mm": float(rng.choice([0.0, 0.0, 20.0])),
        "frame": device_frame(rng),
    }
    return robot_outlines(floor, rng, shapes=known, **(options | plan.device))


def _in_floor(device: DeviceOutlines) -> Rooms:
    """The device's outlines, floor mm."""
    back = invert(device.floor_to_device)
    return {n: through(Polygon(r[0], r[1:]), back) for n, r in device.rings.items()}


def _device_turn(device: DeviceOutlines) -> float:
    """Degrees by which the floor is turned in the device's frame."""
    return float(np.degrees(np.arctan2(*device.floor_to_device[::-1, 0])))


def _straightened(floor: Floor, seen: Floor) -> tuple[Array, float]:
    """The similarity from a bent floor back to the true one, and the RMS that it leaves, mm."""
    # Bending keeps the order of points, so the cells of both floors give the pairs.
    a = [shapely.get_coordinates(shapely.segmentize(c, 400.0)) for c in floor.cells.values()]
    b = [shapely.get_coordinates(c) for c in seen.cells.values()]
    true, moved = np.concatenate(a), np.concatenate(b)
    # "mirrored" names a positive determinant: both frames have y up.
    back = fit_similarity(moved, true, mirrored=True)
    return back, float(np.sqrt(((apply(back, moved) - true) ** 2).sum(axis=1).mean()))


def _check_points(
    floor: Floor, known: Rooms, picture: Picture, rng: Generator, *, stranger: bool
) -> Array:
    """Points in rooms that picture and device know, as far as the picture shows them."""
    rooms = [r for n, r in floor.rooms.items() if stranger or n in known]
    whole = shapely.union_all(rooms or list(floor.rooms.values()))
    shown = through(whole, picture.floor_to_image).intersection(picture.window)
    return some_points(shown, rng)
