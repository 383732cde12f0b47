"""Outer shapes of floors: rectangles are rare enough in real life that half of these are none."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.random import Generator
from shapely import Polygon, affinity, box

from .shapes import largest, tidy

__all__ = ["SHAPES", "footprint"]

NARROWEST_MM = 1600.0  # a wing or a notch between outer walls is at least this wide, or rare


def arc(
    centre: tuple[float, float], radius: float, start: float, end: float, steps: int = 24
) -> list[tuple[float, float]]:
    """Points on an arc, angles in radians."""
    angles = np.linspace(start, end, steps)
    return [(centre[0] + radius * np.cos(a), centre[1] + radius * np.sin(a)) for a in angles]


def _rectangle(rng: Generator) -> Polygon:
    return box(0, 0, rng.uniform(1.05, 2.2), 1)


def _ell(rng: Generator) -> Polygon:
    width, arm, foot = rng.uniform(1.0, 1.8), rng.uniform(0.35, 0.7), rng.uniform(0.35, 0.7)
    return largest(box(0, 0, width, foot).union(box(0, 0, arm * width, 1)))


def _tee(rng: Generator) -> Polygon:
    width, bar, stem = rng.uniform(1.2, 2.0), rng.uniform(0.4, 0.6), rng.uniform(0.4, 0.8)
    left = rng.uniform(0.1, 0.9) * (width - stem)
    return largest(box(0, 1 - bar, width, 1).union(box(left, 0, left + stem, 1)))


def _you(rng: Generator) -> Polygon:
    width, left, right = rng.uniform(1.5, 2.2), rng.uniform(0.4, 0.6), rng.uniform(0.4, 0.6)
    shape = box(0, 0, width, 1).difference(box(left, rng.uniform(0.4, 0.6), width - right, 2))
    return largest(shape.difference(box(width - right, rng.uniform(0.8, 1.1), width, 2)))


def _zed(rng: Generator) -> Polygon:
    width, step = rng.uniform(1.2, 1.9), rng.uniform(0.15, 0.4)
    shape = box(0, 0, width, 1).difference(box(-1, -1, rng.uniform(0.3, 0.5) * width, step))
    return largest(shape.difference(box(rng.uniform(0.55, 0.8) * width, 1 - step, 3, 2)))


def _notched(rng: Generator) -> Polygon:
    width = rng.uniform(1.1, 1.9)
    shape = box(0, 0, width, 1)
    for _ in range(int(rng.integers(1, 4))):
        x, w, h = rng.uniform(0, 0.8) * width, rng.uniform(0.2, 0.4), rng.uniform(0.08, 0.25)
        y = -h / 2 if rng.random() < 0.5 else 1 - h / 2
        step = box(x, y, x + w, y + h)
        shape = largest(shape.difference(step) if rng.random() < 0.5 else shape.union(step))
    return shape


def _slanted(rng: Generator) -> Polygon:
    width, lean = rng.uniform(1.2, 2.0), rng.uniform(0.15, 0.5)
    return Polygon([(0, 0), (width, 0), (width - lean, 1), (rng.choice([0.0, lean / 2]), 1)])


def _trapezium(rng: Generator) -> Polygon:
    width = rng.uniform(1.1, 1.9)
    return Polygon([(0, 0), (width, 0), (width, rng.uniform(0.6, 0.9)), (0, 1)])


def _quadrangle(rng: Generator) -> Polygon:
    j = rng.uniform(-0.15, 0.15, 8)
    return Polygon([(j[0], j[1]), (1.5 + j[2], j[3]), (1.5 + j[4], 1 + j[5]), (j[6], 1 + j[7])])


def _chamfered(rng: Generator) -> Polygon:
    width, cut = rng.uniform(1.1, 1.8), rng.uniform(0.2, 0.45)
    return Polygon([(0, 0), (width, 0), (width, 1 - cut), (width - cut, 1), (0, 1)])


def _bay(rng: Generator) -> Polygon:
    """A round or three-sided bay on one long side."""
    width, radius = rng.uniform(1.2, 2.0), rng.uniform(0.18, 0.35)
    centre = (rng.uniform(radius, width - radius), 1.0)
    steps = 24 if rng.random() < 0.6 else 4
    bay = Polygon(arc(centre, radius, -0.01, np.pi + 0.01, steps))
    return largest(box(0, 0, width, 1).union(bay))


def _apse(rng: Generator) -> Polygon:
    width = rng.uniform(0.8, 1.4)
    return Polygon([(0, 0), *arc((width, 0.5), 0.5, -np.pi / 2, np.pi / 2, 32), (0, 1)])


def _tower(rng: Generator) -> Polygon:
    """A round tower at one corner."""
    width, radius = rng.uniform(1.1, 1.8), rng.uniform(0.2, 0.35)
    disk = Polygon(arc((0.7 * radius, 1 - 0.7 * radius), radius, 0, 2 * np.pi, 49)[:-1])
    return largest(box(0, 0, width, 1).union(disk))


def _octagon(rng: Generator) -> Polygon:
    turn = np.pi / 8
    ring = arc((0, 0), 0.6, turn, turn + 2 * np.pi, 9)[:-1]
    shape = Polygon([(x * rng.uniform(1.0, 1.02), y) for x, y in ring])
    if rng.random() < 0.7:
        wing = rng.uniform(0.3, 0.5)
        shape = largest(shape.union(box(0, -wing, rng.uniform(1.0, 1.6), rng.uniform(0.0, wing))))
    return shape


SHAPES: dict[str, Callable[[Generator], Polygon]] = {
    "rectangle": _rectangle,
    "ell": _ell,
    "tee": _tee,
    "you": _you,
    "zed": _zed,
    "notched": _notched,
    "slanted": _slanted,
    "trapezium": _trapezium,
    "quadrangle": _quadrangle,
    "chamfered": _chamfered,
    "bay": _bay,
    "apse": _apse,
    "tower": _tower,
    "octagon": _octagon,
}
ROUND = ("bay", "apse", "tower", "octagon")
SQUARE = ("rectangle", "ell", "tee", "you", "zed", "notched")


def footprint(
    rng: Generator, *, kind: str = "mixed", area_mm2: float, courtyard: bool = False
) -> Polygon:
    """An outer shape of the given area, lower left corner of its box at (0, 0), floor mm, y up.

    `kind` is a name of SHAPES, or "mixed", "square" (right angles alone) or "round".
    """
    pools = {"mixed": tuple(SHAPES), "square": SQUARE, "round": ROUND}
    for _ in range(20):
        name = str(rng.choice(pools[kind])) if kind in pools else kind
        shape = _placed(SHAPES[name](rng), rng, area_mm2, courtyard)
        core = shape.buffer(-NARROWEST_MM / 2, join_style="mitre")
        wide = core.buffer(NARROWEST_MM / 2, join_style="mitre")
        if isinstance(core, Polygon) and wide.area > 0.985 * shape.area:
            break
    return shape


def _placed(shape: Polygon, rng: Generator, area_mm2: float, courtyard: bool) -> Polygon:
    """Flipped or not, turned by quarters, of the right size, and at the origin."""
    if courtyard:
        shape = _with_courtyard(shape, rng)
    if rng.random() < 0.5:
        shape = affinity.scale(shape, -1, 1, origin=(0, 0))
    shape = affinity.rotate(shape, 90.0 * int(rng.integers(0, 4)), origin=(0, 0))
    grow = np.sqrt(area_mm2 / shape.area)
    shape = affinity.scale(shape, grow, grow, origin=(0, 0))
    left, bottom, _, _ = shape.bounds
    return tidy(affinity.translate(shape, -left, -bottom))


def _with_courtyard(shape: Polygon, rng: Generator) -> Polygon:
    """Cut a court out of the middle, round now and then."""
    core = shape.buffer(-0.27)
    if core.is_empty:
        return shape
    core = max(shapely.get_parts(core), key=lambda p: p.area)
    left, bottom, right, top = core.bounds
    if rng.random() < 0.25:
        radius = 0.45 * min(right - left, top - bottom)
        court = largest(shapely.Point(core.representative_point()).buffer(radius, 16))
    else:
        w, h = rng.uniform(0.5, 0.95, 2) * (right - left, top - bottom)
        x, y = left + rng.random() * (right - left - w), bottom + rng.random() * (top - bottom - h)
        court = box(x, y, x + w, y + h)
    court = largest(court.intersection(shape.buffer(-0.25)))
    if court.buffer(-0.09).is_empty:  # a slit
        return shape
    cut = shape.difference(court)
    return cut if isinstance(cut, Polygon) and cut.interiors else shape
