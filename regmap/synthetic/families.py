"""The families of samples: what each one asks for, and what its answer is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from numpy.random import Generator

from regmap.frames import fit_similarity, is_mirrored

from . import variants
from .outlines import robot_outlines
from .photos import photo
from .samples import Plan, Sample, a_floor, assemble, rng_for, some_points

__all__ = ["FAMILIES", "sample"]

SCREENS = ((720, 1280), (1080, 1920), (1080, 2160), (1280, 720), (1920, 1080), (1440, 1080))


def _stretch(rng: Generator) -> float:
    """An axis stretch that shows: 0.7..1.4, not 0.97..1.03."""
    return float(rng.choice([rng.uniform(0.7, 0.95), rng.uniform(1.05, 1.4)]))


def _one_colour(rng: Generator) -> Plan:
    """Rooms of one colour between lines, or free space between walls."""
    if rng.random() < 0.4:
        return Plan(draw={"look": "one"})
    known = {"border": str(rng.choice(["faces", "faces", "middle"]))}
    return Plan(drawn={"border": "faces"}, known=known, draw={"look": "occupancy"})


def _drawing(rng: Generator) -> Plan:
    known = {"border": str(rng.choice(["faces", "faces", "middle"]))}
    return Plan(
        drawn={"border": "faces"},
        known=known,
        draw={"look": "drawing", "mess": 0.0, "fill": float(rng.uniform(0.6, 0.8))},
    )


def _cut_off(rng: Generator) -> Plan:
    lost, fill = float(rng.uniform(0.1, 0.45)), float(rng.uniform(0.8, 1.3))
    return Plan(rooms=(5, 20), draw={"lost": lost, "fill": fill})


def _jpeg(rng: Generator) -> Plan:
    shrink = float(rng.choice([1.0, rng.uniform(0.5, 0.95), rng.uniform(1.05, 1.4)]))
    return Plan(draw={"jpeg": int(rng.integers(20, 91)), "shrink": shrink})


def _faded(rng: Generator) -> Plan:
    """A photo of a screen, or an old print: little contrast, uneven light, grain, compression."""
    worn: dict[str, Any] = {
        "faded": float(rng.uniform(0.4, 0.8)),
        "noise": float(rng.uniform(0.5, 5.0)),
    }
    if rng.random() < 0.6:
        worn["jpeg"] = int(rng.integers(35, 91))
    kind = rng.random()
    if kind < 0.3:
        device = {"noise_mm": float(rng.uniform(5, 40)), "simplify_mm": 20.0}
        return Plan(draw=worn, device=device)
    if kind < 0.5:
        return replace(drawing := _drawing(rng), draw=drawing.draw | worn)
    return Plan(draw=worn)


def _tiny(rng: Generator) -> Plan:
    width, height = (int(v) for v in rng.integers(200, 401, 2))
    return Plan(
        rooms=(3, 12), draw={"size": (width, height), "fill": float(rng.uniform(0.8, 0.95))}
    )


def _big(rng: Generator) -> Plan:
    size = (3872, 2592) if rng.random() < 0.7 else (2592, 3872)
    return Plan(rooms=(4, 30), draw={"size": size, "fill": float(rng.uniform(0.75, 0.95))})


def _offset(rng: Generator) -> Plan:
    """Outlines up to 150 mm inside (+) or outside (-) the drawn borders, on all walls alike."""
    offset, border = float(rng.uniform(-150, 150)), str(rng.choice(["faces", "middle"]))
    base = float(rng.uniform(0, 40)) + max(0.0, -offset)
    return Plan(
        drawn={"border": border, "shrink_mm": base},
        known={"border": border, "shrink_mm": base + offset},
    )


def _offset_two(rng: Generator) -> Plan:
    """Outer walls have an offset of their own."""
    inner, outer = float(rng.uniform(0, 80)), float(rng.uniform(90, 230))
    plain, two = {"shrink_mm": inner}, {"shrink_mm": inner, "outer_shrink_mm": outer}
    if rng.random() < 0.5:
        plain, two = two, {"shrink_mm": float(rng.uniform(0, 80))}
    return Plan(drawn={"border": "middle"} | plain, known={"border": "middle"} | two)


def _staircase(rng: Generator) -> Plan:
    """Outlines along the sides of 50 mm cells; the picture smooth, or of cells itself."""
    device = {"cell_mm": 50.0, "simplify_mm": 0.0}
    return Plan(same_cells=bool(rng.random() < 0.5), device=device)


def _outdated(rng: Generator) -> Plan:
    changes = ["joined", "split_up", "missing", "new"]
    picked = rng.choice(changes, int(rng.integers(1, 4)))
    device: dict[str, Any] = {}
    for change in picked:
        device[str(change)] = device.get(str(change), 0) + 1
    return Plan(rooms=(6, 20), device=device)


def _noisy(rng: Generator) -> Plan:
    device = {"noise_mm": float(rng.uniform(10, 60)), "simplify_mm": 20.0}
    return Plan(draw={"noise": float(rng.uniform(2, 15))}, device=device)


def _corridor(rng: Generator) -> Plan:
    return Plan(rooms=(8, 30), style="office", room_m2=(10, 26))


def _many(rng: Generator) -> Plan:
    size = [(1600, 1200), (2000, 1500), (2600, 1800)][int(rng.integers(3))]
    picture = {"size": size, "fill": float(rng.uniform(0.85, 0.96)), "screen": False}
    return Plan(rooms=(60, 400), style=str(rng.choice(["office", "mixed"])), draw=picture)


def _recorded(rng: Generator) -> Plan:
    """A map as a robot records it: cells, scan rays, ragged walls, slightly bowed."""
    cell = float(rng.choice([50.0, 50.0, 50.0, 25.0]))
    picture = {
        "look": "scanned",
        "cell_mm": cell,
        "size": (400, 300),
        "turn_deg": float(rng.choice([0.0, 90.0, 180.0]) + rng.normal(0, 6)),
        "fill": float(rng.uniform(0.35, 0.75)),
        "mess": 0.0,
    }
    device = {"noise_mm": float(rng.choice([0.0, 15.0])), "simplify_mm": 30.0}
    faces = {"border": "faces"}
    bow = float(rng.choice([0.0, rng.uniform(0.002, 0.02)]))
    return Plan(rooms=(4, 14), drawn=faces, known=faces, bow=bow, draw=picture, device=device)


def _explored(rng: Generator) -> Plan:
    """A robot's map, bent and partial, against the layout that an architect drew of the floor."""
    recorded = _recorded(rng)
    known = {"border": str(rng.choice(["faces", "middle"]))}
    bow = float(rng.choice([0.0, rng.uniform(0.002, 0.03)]))
    picture = recorded.draw | {"look": "explored"}
    device = {"noise_mm": 0.0, "simplify_mm": 0.0}
    return Plan(
        rooms=(5, 16), drawn=recorded.drawn, known=known, bow=bow, draw=picture, device=device
    )


_PLANS: dict[str, Callable[[Generator], Plan]] = {
    "flat": lambda rng: Plan(draw={"look": "flat", "mess": 0.0}),
    "near-colours": lambda rng: Plan(draw={"look": "near"}),
    "few-colours": lambda rng: Plan(draw={"look": "few"}),
    "dark": lambda rng: Plan(draw={"look": "dark"}),
    "chrome": lambda rng: Plan(
        draw={"screen": True, "size": SCREENS[int(rng.integers(len(SCREENS)))]}
    ),
    "turned": lambda rng: Plan(turned=True),
    "stretched": lambda rng: Plan(model="affine", draw={"stretch": _stretch(rng)}),
    "mirrored": lambda rng: Plan(draw={"mirrored": True}),
    "cluttered": lambda rng: Plan(draw={"mess": float(rng.uniform(0.7, 1.0))}),
    "one-colour": _one_colour,
    "drawing": _drawing,
    "cut-off": _cut_off,
    "jpeg": _jpeg,
    "faded": _faded,
    "tiny": _tiny,
    "big": _big,
    "offset": _offset,
    "offset-two": _offset_two,
    "staircase": _staircase,
    "outdated": _outdated,
    "renovated": lambda rng: Plan(rooms=(5, 20)),
    "noisy": _noisy,
    "round": lambda rng: Plan(style="round"),
    "courtyard": lambda rng: Plan(rooms=(6, 20), courtyard=True),
    "corridor": _corridor,
    "many-rooms": _many,
    "two-rooms": lambda rng: Plan(rooms=(2, 2)),
    "robot-recorded": _recorded,
    "robot-explored": _explored,
}


def _fits(family: str, seed: int, rng: Generator) -> Sample:
    plan = _PLANS[family](rng)
    floor = a_floor(plan, rng)
    old = variants.renovate(floor, rng) if family == "renovated" else None
    return assemble(floor, plan, rng, family=family, seed=seed, known_floor=old)


def _stranger(family: str, seed: int, rng: Generator) -> Sample:
    """The outlines are those of another floor."""
    plan = Plan(rooms=(4, 16))
    if family == "faded-storey":
        plan = replace(_faded(rng), rooms=(4, 16))
    floor = a_floor(plan, rng)
    if family == "same-shell":
        other = variants.same_shell(floor, rng)
    elif family in ("next-storey", "faded-storey"):
        other = variants.next_storey(floor, rng)
    elif family == "two-rooms-alike":
        floor, other = variants.two_alike(rng)
    else:
        other = a_floor(plan, rng)
    return assemble(
        floor, plan, rng, family=family, seed=seed, known_floor=other, answer="stranger"
    )


def _photo(family: str, seed: int, rng: Generator) -> Sample:
    """The picture shows something else altogether."""
    floor = a_floor(Plan(), rng)
    device = robot_outlines(floor, rng)
    image = photo(rng)
    height, width = image.shape[:2]
    corners = np.vstack([r for rings in device.rings.values() for r in rings])
    low, high = corners.min(axis=0), corners.max(axis=0)
    frame = np.array([[0.0, height], [width, height], [width, 0.0], [0.0, 0.0]])
    box = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    truth = fit_similarity(frame, box, mirrored=None)
    return Sample(
        family=family,
        name=f"{family}-{seed}",
        image=image,
        outlines=device.rings,
        image_to_device=truth,
        visible_px=some_points(shapely.box(0, 0, width, height), rng),
        model="similarity",
        answer="stranger",
        mirrored=is_mirrored(truth),
    )


def _twins(family: str, seed: int, rng: Generator) -> Sample:
    """The outlines fit in more than one place."""
    if family == "twin-shift":
        twins = variants.row_of_rooms(rng)
    else:
        kind = family.removeprefix("twin-")
        twins = variants.symmetric_floor(rng, kind=kind, rooms=int(rng.integers(4, 17)))
    border = {"border": "middle" if family == "twin-shift" or rng.random() < 0.5 else "faces"}
    plan = Plan(drawn=border, known=border, device={"simplify_mm": 0.0})
    return assemble(
        twins.floor,
        plan,
        rng,
        family=family,
        seed=seed,
        names=twins.known,
        answer="twins",
        moves=twins.moves,
    )


_MAKERS: dict[str, Callable[[str, int, Generator], Sample]] = {
    **dict.fromkeys(_PLANS, _fits),
    "stranger": _stranger,
    "same-shell": _stranger,
    "next-storey": _stranger,
    "faded-storey": _stranger,
    "two-rooms-alike": _stranger,
    "photo": _photo,
    "twin-mirror": _twins,
    "twin-turn": _twins,
    "twin-shift": _twins,
}
FAMILIES: tuple[str, ...] = tuple(_MAKERS)


def sample(family: str, seed: int) -> Sample:
    """The made problem number `seed` of a family (one of FAMILIES). The same bits every time."""
    if family not in _MAKERS:
        known = ", ".join(FAMILIES)
        raise ValueError(f"no family of samples is called {family!r}; there are: {known}")
    return _MAKERS[family](family, seed, rng_for(family, seed))
