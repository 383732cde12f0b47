"""Made cases of a floor that its robot mapped twice, with the true map from old frame to new."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from regmap import frames
from regmap.synthetic import Floor, robot_outlines
from regmap.synthetic.outlines import device_frame
from regmap.synthetic.samples import Plan, a_floor, rng_for
from regmap.synthetic.variants import furnished, next_storey, same_shell, symmetric_floor

__all__ = ["REMAPS", "Remap", "remap"]

Array = NDArray[np.float64]
Rings = Mapping[str, tuple[Array, ...]]


@dataclass(frozen=True, eq=False)
class Remap:
    """A floor as the robot had it before and has it now.

    `old_to_new` (2, 3) is the truth. `corners` (K, 2): the rooms' corners, old frame. `answer`:
    "fits", "twins" (`others`, each (2, 3), fit as well) or "stranger".
    """

    family: str
    old: Rings
    new: Rings
    old_to_new: Array
    corners: Array
    answer: str = "fits"
    others: tuple[Array, ...] = ()


@dataclass(frozen=True)
class _Change:
    """Options of robot_outlines before and after; `furniture`: pieces a room; `growth` of scale."""

    before: Mapping[str, Any]
    after: Mapping[str, Any]
    furniture: float = 0.0
    growth: float = 0.0


def _noise(rng: Generator) -> _Change:
    before, after = (
        {"noise_mm": float(rng.uniform(5, 40)), "simplify_mm": float(rng.choice([0.0, 20.0]))}
        for _ in range(2)
    )
    return _Change(before, after)


def _cells(rng: Generator) -> _Change:
    return _Change({"cell_mm": 50.0}, {"cell_mm": 50.0})


def _rooms(rng: Generator) -> _Change:
    before: dict[str, Any] = {"cell_mm": 50.0}
    after: dict[str, Any] = {"cell_mm": 50.0}
    for _ in range(int(rng.integers(1, 4))):
        side = before if rng.random() < 0.4 else after
        kind = str(rng.choice(["joined", "split_up"]))
        side[kind] = side.get(kind, 0) + 1
    return _Change(before, after)


def _parts(rng: Generator) -> _Change:
    """Doors shut at one of the times, or open that were not: rooms missing, rooms more."""
    after: dict[str, Any] = {"cell_mm": 50.0, "missing": int(rng.integers(1, 3))}
    return _Change({"cell_mm": 50.0, "missing": int(rng.integers(0, 2))}, after | {"new": 1})


def _furniture(rng: Generator) -> _Change:
    side: dict[str, Any] = {"cell_mm": 50.0}
    if rng.random() < 0.5:
        side = {"simplify_mm": 20.0, "noise_mm": float(rng.uniform(0, 15))}
    return _Change(side, side, furniture=float(rng.uniform(0.5, 1.5)))


def _scale(rng: Generator) -> _Change:
    growth = float(rng.choice([-1.0, 1.0]) * rng.uniform(0.003, 0.01))
    return _Change({"noise_mm": 15.0}, {"noise_mm": 15.0}, growth=growth)


def _everything(rng: Generator) -> _Change:
    after: dict[str, Any] = {"cell_mm": 50.0, "noise_mm": float(rng.uniform(0, 20))}
    for kind in rng.choice(["joined", "split_up", "missing", "new"], 2, replace=False):
        after[str(kind)] = 1
    return _Change({"cell_mm": 50.0, "noise_mm": 10.0}, after, furniture=0.7)


_CHANGES: dict[str, Callable[[Generator], _Change]] = {
    "noise": _noise,
    "cells": _cells,
    "rooms": _rooms,
    "parts": _parts,
    "furniture": _furniture,
    "scale": _scale,
    "everything": _everything,
}
_OTHERS = {
    "twins": "twins",
    "other-floor": "stranger",
    "next-storey": "stranger",
    "same-shell": "stranger",
}
REMAPS: dict[str, str] = {**dict.fromkeys(_CHANGES, "fits"), **_OTHERS}
"""Families and their answers."""


def remap(family: str, seed: int) -> Remap:
    """Return case number `seed` of a family. The same bits every time."""
    rng = rng_for(f"remap-{family}", seed)
    if family == "twins":
        twins = symmetric_floor(rng, kind="turn", rooms=int(rng.integers(4, 13)))
        return _case(family, twins.floor, twins.floor, _cells(rng), rng, twins.moves)
    plan = Plan(rooms=(4 if family in ("parts", "everything") else 3, 20))
    floor = a_floor(plan, rng)
    other = {
        "next-storey": lambda: next_storey(floor, rng),
        "same-shell": lambda: same_shell(floor, rng),
        "other-floor": lambda: a_floor(plan, rng),
    }.get(family, lambda: floor)()
    return _case(family, floor, other, _CHANGES.get(family, _cells)(rng), rng)


def _case(
    family: str,
    floor: Floor,
    later: Floor,
    change: _Change,
    rng: Generator,
    moves: tuple[Array, ...] = (),
) -> Remap:
    grown = np.diag([1.0 + change.growth] * 2)
    frame = device_frame(rng)
    old = robot_outlines(
        floor, rng, shapes=furnished(floor, rng, density=change.furniture), **change.before
    )
    new = robot_outlines(
        later,
        rng,
        shapes=furnished(later, rng, density=change.furniture),
        frame=np.column_stack([grown @ frame[:, :2], frame[:, 2]]),
        **change.after,
    )
    back = frames.invert(old.floor_to_device)
    return Remap(
        family,
        old.rings,
        new.rings,
        frames.compose(new.floor_to_device, back),
        np.concatenate([rings[0] for rings in old.rings.values()]),
        REMAPS[family],
        tuple(frames.compose(new.floor_to_device, frames.compose(m, back)) for m in moves),
    )
