"""Cut a floor into rooms: straight, slanted, elbowed and round walls, corridors, merging."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.random import Generator
from shapely import LineString, Polygon
from shapely.ops import split

from .shapes import grown, largest, tidy

__all__ = ["Style", "borders", "merge_some", "neighbours", "partition"]

TOUCH_MM = 2.0  # cuts are good to far less; this is how near a common wall must run


@dataclass(frozen=True, kw_only=True)
class Style:
    """How walls are placed. Shares are probabilities per cut."""

    slanted: float = 0.05
    elbow: float = 0.15
    round: float = 0.02
    closet: float = 0.08
    merge: float = 0.15  # share of rooms that are merged with a neighbour in the end
    corridor: float = 0.35  # probability that a corridor is laid first
    min_width_mm: float = 1500.0
    evenness: float = 1.0  # small: rooms of one size; 1: some rooms several times the others


def _directions(room: Polygon) -> tuple[np.ndarray, np.ndarray]:
    """Unit vectors (long, short) of the smallest box around the room."""
    frame = shapely.get_coordinates(shapely.minimum_rotated_rectangle(room))
    a, b = frame[1] - frame[0], frame[2] - frame[1]
    if np.hypot(*a) < np.hypot(*b):
        a, b = b, a
    return a / np.hypot(*a), b / np.hypot(*b)


def _main_directions(room: Polygon) -> tuple[np.ndarray, np.ndarray]:
    """Unit vectors along and across the room's longest wall, the longer extent first."""
    ring = shapely.get_coordinates(room.exterior)
    edges = np.diff(ring, axis=0)
    lengths = np.hypot(*edges.T)
    along = edges[lengths.argmax()] / lengths.max()
    across = np.array([-along[1], along[0]])
    extent = [np.ptp(ring @ along), np.ptp(ring @ across)]
    return (along, across) if extent[0] >= extent[1] else (across, along)


def _cut_line(room: Polygon, rng: Generator, style: Style, share: float) -> LineString:
    """A wall through the room that leaves about `share` of its length on one side."""
    long, short = _main_directions(room) if rng.random() < 0.93 else _directions(room)
    ring = shapely.get_coordinates(room.exterior)
    span_long, span_short = ring @ long, ring @ short
    if rng.random() < 0.12 and np.ptp(span_short) > 0.7 * np.ptp(span_long):
        long, short, span_long, span_short = short, long, span_short, span_long
    at = span_long.min() + share * np.ptp(span_long)
    middle = (span_short.min() + span_short.max()) / 2
    reach = float(np.ptp(ring, axis=0).max()) * 2
    kind = rng.choice(
        ["slanted", "elbow", "round", "straight"],
        p=[
            style.slanted,
            style.elbow,
            style.round,
            1 - style.slanted - style.elbow - style.round,
        ],
    )
    centre = at * long + middle * short
    if kind == "elbow":
        corner = at * long + (middle + rng.uniform(-0.25, 0.25) * np.ptp(span_short)) * short
        sides = rng.choice([-1.0, 1.0], 2)
        points = [corner + sides[0] * reach * short, corner, corner + sides[1] * reach * long]
    elif kind == "round":
        radius = rng.uniform(0.5, 1.1) * np.ptp(span_short)
        side = rng.choice([-1.0, 1.0])
        angles = np.linspace(-np.pi / 2, np.pi / 2, 41)[:, None]
        hub = centre - side * radius * 0.8 * long
        points = list(hub + radius * (side * np.cos(angles) * long + np.sin(angles) * short))
    else:
        if kind == "slanted":
            turn = np.radians(rng.choice([-1, 1]) * rng.uniform(6, 35))
            short = np.cos(turn) * short + np.sin(turn) * long
        points = [centre - reach * short, centre + reach * short]
    return LineString(points)


def _roomy(room: Polygon, width: float) -> bool:
    """True if the room stays in one piece, with nearly all of its area, where `width` must fit."""
    core = room.buffer(-width / 2, join_style="mitre")
    if not isinstance(core, Polygon) or core.is_empty:
        return False
    return float(core.buffer(width / 2, join_style="mitre").area) > 0.93 * float(room.area)


def _cut(room: Polygon, rng: Generator, style: Style, width: float) -> list[Polygon] | None:
    """Two or more good rooms out of one, or None."""
    for _ in range(6):
        share = rng.uniform(0.3, 0.7) if style.evenness > 0.3 else rng.uniform(0.45, 0.55)
        if rng.random() < style.closet:
            share = rng.choice([0.2, 0.8])
        line = _cut_line(room, rng, style, share)
        parts = list(shapely.get_parts(split(room, line)))
        if len(parts) >= 2 and all(_roomy(p, width) for p in parts):
            return [tidy(p) for p in parts]
    return None


def _lay_corridor(shell: Polygon, rng: Generator) -> tuple[list[Polygon], list[Polygon]]:
    """A long narrow room, round the court where there is one: (corridors, rest)."""
    width = rng.uniform(1100, 2200)
    if shell.interiors:
        court = Polygon(shell.interiors[0])
        band = grown(court, width)
    else:
        long, short = _main_directions(shell)
        ring = shapely.get_coordinates(shell.exterior)
        span_long, span_short = ring @ long, ring @ short
        level = span_short.min() + rng.uniform(0.35, 0.65) * np.ptp(span_short)
        start = span_long.min() + rng.choice([-0.1, 0.15, 0.25]) * np.ptp(span_long)
        end = span_long.max() + rng.choice([0.1, -0.2]) * np.ptp(span_long)
        spine = LineString([start * long + level * short, end * long + level * short])
        band = largest(spine.buffer(width / 2, cap_style="flat"))
        if rng.random() < 0.4:  # a side arm
            at = start + rng.uniform(0.3, 0.7) * (end - start)
            tip = level + rng.choice([-1, 1]) * np.ptp(span_short)
            arm = LineString([at * long + level * short, at * long + tip * short])
            band = largest(band.union(arm.buffer(width / 2, cap_style="flat")))
    corridor = shell.intersection(band)
    rest = [p for p in shapely.get_parts(shell.difference(band)) if p.area > 0]
    if (
        isinstance(corridor, Polygon)
        and rest
        and _roomy(corridor, 1000)
        and all(_roomy(p, 1500) for p in rest)
    ):
        return [corridor], rest
    return [], [shell]


def partition(
    shell: Polygon, rng: Generator, *, rooms: int, style: Style
) -> tuple[list[Polygon], list[Polygon]]:
    """Tile `shell` with about `rooms` rooms. Returns (cells, zones).

    Cells meet at the middle lines of the walls. Zones are the pieces after the first cuts: walls
    between zones carry the house and are thicker.
    """
    corridors: list[Polygon] = []
    open_cells = [shell]
    if rooms >= 4 and rng.random() < style.corridor:
        corridors, open_cells = _lay_corridor(shell, rng)
    wanted = rooms + int(rng.binomial(rooms, style.merge)) if rooms > 2 else rooms
    zones = [*corridors, *open_cells] if corridors else []
    weights = [1.0] * len(open_cells)
    width, spread = style.min_width_mm, 0.6 * style.evenness
    while len(open_cells) + len(corridors) < wanted:
        ranks = np.argsort([-c.area * w for c, w in zip(open_cells, weights, strict=True)])
        for i in ranks:
            parts = _cut(open_cells[i], rng, style, width)
            if parts is not None:
                open_cells.pop(i)
                weights.pop(i)
                open_cells += parts
                weights += list(np.exp(rng.normal(0, spread, len(parts))))
                break
        else:
            if width < 1000:
                break
            width *= 0.85
        if len(zones) == 0 and len(open_cells) >= 2 and rng.random() < 0.5:
            zones = list(open_cells)
    cells = merge_some([*corridors, *open_cells], rng, rooms, keep=len(corridors))
    return cells, zones or [shell]


def borders(a: Polygon, b: Polygon) -> shapely.geometry.base.BaseGeometry:
    """The line along which two cells touch."""
    line = shapely.intersection(b.boundary, a.buffer(TOUCH_MM))
    return shapely.line_merge(line) if line.geom_type == "MultiLineString" else line


def neighbours(cells: list[Polygon], *, shared_mm: float = 900.0) -> list[tuple[int, int]]:
    """Pairs of cells with at least `shared_mm` of common wall."""
    tree = shapely.STRtree(cells)
    pairs = tree.query(cells, predicate="dwithin", distance=TOUCH_MM).T
    return [
        (int(i), int(j))
        for i, j in pairs
        if i < j and borders(cells[i], cells[j]).length >= shared_mm
    ]


def join(a: Polygon, b: Polygon) -> Polygon | None:
    """One room out of two neighbours; None where the union is no simple room."""
    union = a.buffer(TOUCH_MM, join_style="mitre").union(b.buffer(TOUCH_MM, join_style="mitre"))
    union = union.buffer(-TOUCH_MM, join_style="mitre").simplify(1.0)
    return union if isinstance(union, Polygon) and not union.interiors else None


def merge_some(cells: list[Polygon], rng: Generator, rooms: int, *, keep: int = 0) -> list[Polygon]:
    """Join random neighbours until `rooms` are left; the first `keep` cells stay as they are."""
    kept: dict[int, Polygon] = dict(enumerate(cells))
    pairs = [p for p in neighbours(cells) if p[0] >= keep] if len(cells) > rooms else []
    rng.shuffle(pairs)
    for i, j in pairs:
        if len(kept) <= rooms:
            break
        if i in kept and j in kept:
            union = join(kept[i], kept[j])
            if union is not None and _roomy(union, 900):
                del kept[i]
                kept[j] = union
    return list(kept.values())
