"""Colours of made pictures."""

from __future__ import annotations

import colorsys
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from shapely import Polygon

from .partition import neighbours

__all__ = ["Palette", "contrast", "palette", "text_colour"]

Colours = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Palette:
    """Ground (3,), rooms (N, 3), walls (3,) or None for none, pen (3,); all 0..255."""

    ground: Colours
    rooms: Colours
    walls: Colours | None
    pen: Colours
    dark: bool


def hls(hue: float, light: float, saturation: float) -> Colours:
    """RGB 0..255."""
    return 255 * np.array(colorsys.hls_to_rgb(hue % 1, light, saturation))


def contrast(a: Colours, b: Colours) -> float:
    """Euclidean RGB distance."""
    return float(np.linalg.norm(np.asarray(a, float) - np.asarray(b, float)))


def text_colour(ground: Colours) -> Colours:
    """Black or white, whichever reads better."""
    return np.full(3, 25.0) if float(np.mean(ground)) > 120 else np.full(3, 240.0)


def _colouring(cells: list[Polygon], count: int, rng: Generator) -> list[int]:
    """Which of `count` colours each cell gets: neighbours differ where that is possible."""
    near: dict[int, set[int]] = {i: set() for i in range(len(cells))}
    for i, j in neighbours(cells, shared_mm=10):
        near[i].add(j)
        near[j].add(i)
    chosen: dict[int, int] = {}
    for i in sorted(near, key=lambda k: -len(near[k])):
        used = [chosen[j] for j in near[i] if j in chosen]
        free = [c for c in range(count) if c not in used] or list(range(count))
        chosen[i] = int(rng.choice(free))
    return [chosen[i] for i in range(len(cells))]


def palette(kind: str, cells: list[Polygon], rng: Generator) -> Palette:
    """Colours for a floor of `cells` (polygons that touch).

    `kind`: "flat" (all rooms distinct), "near" (rooms differ by little), "few" (2 to 4 colours),
    "one" (all rooms alike), "dark" (any of these on a dark ground).
    """
    count = len(cells)
    dark = kind == "dark" or rng.random() < 0.2
    if kind == "dark":
        kind = str(rng.choice(["flat", "near", "few"]))
    light = rng.uniform(0.3, 0.5) if dark else rng.uniform(0.55, 0.85)
    soft = rng.uniform(0.25, 0.8)
    start = rng.random()
    if kind == "flat":
        hues = start + np.arange(count) * 0.618034
        rooms = np.array([hls(h, light + rng.normal(0, 0.04), soft) for h in hues])
    elif kind == "near":
        base = hls(start, light, soft * 0.6)
        rooms = np.clip(base + rng.uniform(-1, 1, (count, 3)) * rng.uniform(6, 20), 0, 255)
    elif kind == "few":
        number = int(rng.integers(2, 5))
        hues = start + np.linspace(0, rng.uniform(0.3, 1.0), number, endpoint=False)
        shades = np.array([hls(h, light + rng.normal(0, 0.05), soft) for h in hues])
        picks = (
            _colouring(cells, number, rng) if rng.random() < 0.7 else rng.integers(0, number, count)
        )
        rooms = shades[picks]
    else:
        rooms = np.repeat(hls(start, light, rng.uniform(0, soft))[None], count, axis=0)
    return Palette(_ground(rooms, dark, rng), rooms, *_lines(rooms, dark, rng), dark)


def _ground(rooms: Colours, dark: bool, rng: Generator) -> Colours:
    """A background that differs from every room."""
    for _ in range(50):
        level = rng.uniform(8, 60) if dark else rng.uniform(225, 255)
        ground = np.clip(level + rng.uniform(-8, 8, 3), 0, 255)
        if min(contrast(ground, r) for r in rooms) > 25:
            return ground
    return np.full(3, 0.0 if dark else 255.0)


def _lines(rooms: Colours, dark: bool, rng: Generator) -> tuple[Colours | None, Colours]:
    """Wall fill (or none) and line colour."""
    mean = rooms.mean(axis=0)
    pen = (
        mean * rng.uniform(0.2, 0.7)
        if rng.random() < 0.6
        else mean + (255 - mean) * rng.uniform(0.6, 1)
    )
    walls = None
    if rng.random() < 0.35:
        level = rng.uniform(60, 120) if not dark else rng.uniform(140, 220)
        walls = np.clip(level + rng.uniform(-15, 15, 3), 0, 255)
    return walls, pen
