"""Families of made problems: a picture, a device's outlines, and the exact truth about them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import Polygon

from regmap.frames import compose

from .floors import Floor, make_floor
from .outlines import robot_outlines
from .pictures import Picture, draw
from .shapes import through
from .symmetry import lopsided

__all__ = ["FAMILIES", "Sample", "sample"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Sample:
    """One made problem with its truth.

    `image` (H, W, 3) uint8 RGB. `outlines`: name -> rings, each (N, 2) mm, device frame, y up.
    `image_to_device` (2, 3): true way from (column, row) px to device mm; for a "stranger" it only
    says where the device's frame lies. `visible_px` (K, 2): check points spread over the floor that
    the picture shows. `model`: "similarity" or "affine". `answer`: "fits", "twins" (`alternatives`
    fit as well, each (2, 3)) or "stranger" (nothing fits). `mirrored`: the picture shows the floor
    as in a looking-glass. `truth_quality_mm`: 0 where the truth is exact, else about the RMS by
    which a bent map departs from it.
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


@dataclass
class Plan:
    """What a family asks for; whatever it leaves open is drawn at random."""

    rooms: tuple[int, int] = (3, 20)
    style: str | None = None
    shape: str | None = None
    courtyard: bool = False
    area_m2: tuple[float, float] | None = None
    draw: dict[str, Any] = field(default_factory=dict)
    device: dict[str, Any] = field(default_factory=dict)
    borders: str = "any"  # "same": the device's outlines are the drawn ones
    model: str = "similarity"
    turned: bool = False


SIZES = ((700, 560), (900, 700), (1080, 900), (1200, 1000), (1280, 800), (1600, 1200))


def _rng(family: str, seed: int) -> Generator:
    """A generator that depends on family and seed alone, on every machine."""
    digest = hashlib.sha256(f"{family}/{seed}".encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:16], "little"))


def sample(family: str, seed: int) -> Sample:
    """The made problem number `seed` of a family (one of FAMILIES). The same bits every time."""
    if family not in _PLANS:
        known = ", ".join(FAMILIES)
        raise ValueError(f"no family of samples is called {family!r}; there are: {known}")
    rng = _rng(family, seed)
    return _fits(family, seed, _PLANS[family](rng), rng)


def a_floor(plan: Plan, rng: Generator) -> Floor:
    """A floor as planned that is not nearly the same when mirrored or turned."""
    for _ in range(40):
        count = int(np.exp(rng.uniform(np.log(plan.rooms[0]), np.log(plan.rooms[1] + 0.99))))
        style = plan.style or str(
            rng.choice(
                ["mixed", "plain", "office", "slanted", "round"], p=[0.45, 0.2, 0.1, 0.15, 0.1]
            )
        )
        area = None if plan.area_m2 is None else float(rng.uniform(*plan.area_m2))
        floor = make_floor(
            rng,
            rooms=count,
            style=style,
            shape=plan.shape,
            area_m2=area,
            courtyard=plan.courtyard or (count >= 8 and rng.random() < 0.06),
        )
        if len(floor.cells) >= plan.rooms[0] and lopsided(floor):
            return floor
    raise RuntimeError("no lopsided floor found")  # pragma: no cover


def _borders(
    floor: Floor, plan: Plan, rng: Generator
) -> tuple[Mapping[str, Polygon], Mapping[str, Polygon]]:
    """Rooms as drawn, and as the device has them: the same, or other faces of the walls."""
    border = "faces" if rng.random() < 0.45 else "middle"
    drawn = floor.at(border)
    if plan.borders == "same" or rng.random() < 0.65:
        return drawn, drawn
    return drawn, floor.rooms


def _draw_options(plan: Plan, rng: Generator) -> dict[str, Any]:
    size = SIZES[int(rng.integers(len(SIZES)))]
    if rng.random() < 0.3:
        size = (size[1], size[0])
    turn = 90.0 * float(rng.integers(0, 4))
    if plan.turned or rng.random() < 0.12:
        turn = float(rng.uniform(0, 360))
    options: dict[str, Any] = {
        "look": str(rng.choice(["flat", "near", "few", "dark"], p=[0.4, 0.15, 0.3, 0.15])),
        "size": size,
        "turn_deg": turn,
        "fill": float(rng.uniform(0.6, 0.95)),
        "antialias": bool(rng.random() < 0.7),
        "mess": float(rng.choice([0.0, 0.0, 0.2, 0.4])),
    }
    return options | plan.draw


def check_points(floor: Floor, picture: Picture, rng: Generator, count: int = 120) -> Array:
    """Points spread over the rooms that the picture shows, (K, 2) px."""
    whole = shapely.union_all(list(floor.rooms.values()))
    matrix = picture.floor_to_image
    shown = through(whole, matrix).intersection(picture.window)
    left, top, right, bottom = shown.bounds
    points = rng.uniform((left, top), (right, bottom), (count * 30, 2))
    points = points[shapely.contains_xy(shown, points)]
    return points[:count]


def _fits(family: str, seed: int, plan: Plan, rng: Generator) -> Sample:
    """A picture of a floor and the outlines of the same floor."""
    floor = a_floor(plan, rng)
    drawn, known = _borders(floor, plan, rng)
    device_options: dict[str, Any] = {"simplify_mm": float(rng.choice([0.0, 0.0, 20.0]))}
    device = robot_outlines(floor, rng, shapes=known, **(device_options | plan.device))
    picture = draw(floor, rng, shapes=drawn, **_draw_options(plan, rng))
    truth = compose(device.floor_to_device, picture.image_to_floor)
    return Sample(
        family=family,
        name=f"{family}-{seed}",
        image=picture.image,
        outlines=device.rings,
        image_to_device=truth,
        visible_px=check_points(floor, picture, rng),
        model=plan.model,
        answer="fits",
        mirrored=bool(np.linalg.det(truth[:, :2]) > 0),
    )


def _stretch(rng: Generator) -> float:
    """An axis stretch that shows: 0.7..1.4, not 0.97..1.03."""
    return float(rng.choice([rng.uniform(0.7, 0.95), rng.uniform(1.05, 1.4)]))


_PLANS: dict[str, Callable[[Generator], Plan]] = {
    "flat": lambda rng: Plan(draw={"look": "flat", "mess": 0.0}),
    "near-colours": lambda rng: Plan(draw={"look": "near"}),
    "few-colours": lambda rng: Plan(draw={"look": "few"}),
    "dark": lambda rng: Plan(draw={"look": "dark"}),
    "chrome": lambda rng: Plan(
        draw={
            "screen": True,
            "size": [(720, 1280), (1080, 1920), (1280, 720)][int(rng.integers(3))],
        }
    ),
    "turned": lambda rng: Plan(turned=True),
    "stretched": lambda rng: Plan(model="affine", draw={"stretch": _stretch(rng)}),
    "mirrored": lambda rng: Plan(draw={"mirrored": True}),
    "one-colour": lambda rng: Plan(draw={"look": "one"}),
    "cluttered": lambda rng: Plan(draw={"mess": float(rng.uniform(0.7, 1.0))}),
    "cut-off": lambda rng: Plan(rooms=(5, 20), draw={"lost": float(rng.uniform(0.1, 0.45))}),
}
FAMILIES: tuple[str, ...] = tuple(_PLANS)
