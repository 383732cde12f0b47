"""The frame of a screen around a map: bars, cards, buttons, all of no particular maker."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from .palettes import hls, text_colour

__all__ = ["Layout", "bare", "frame", "layout", "rounded", "words"]

Image = NDArray[np.uint8]
FONT = cv2.FONT_HERSHEY_SIMPLEX
WORDS = (
    "Morning round",
    "Ground level",
    "House",
    "Areas",
    "Today 32 m2",
    "Ready",
    "Resting",
    "Upstairs",
)


@dataclass(frozen=True)
class Layout:
    """Picture (width, height) and the window (left, top, right, bottom) that shows the map, px."""

    size: tuple[int, int]
    window: tuple[int, int, int, int]


def bare(size: tuple[int, int]) -> Layout:
    """No frame: the map has the whole picture."""
    return Layout(size, (0, 0, *size))


def layout(size: tuple[int, int], rng: Generator) -> Layout:
    """Bars above and below, now and then at the sides."""
    width, height = size
    top, bottom = int(rng.uniform(0.06, 0.2) * height), int(rng.uniform(0.7, 0.92) * height)
    side = int(rng.choice([0.0, 0.0, rng.uniform(0.02, 0.06)]) * width)
    return Layout(size, (side, top, width - side, bottom))


def rounded(
    image: Image,
    box: tuple[int, int, int, int],
    radius: int,
    colour: NDArray[np.float64],
    opacity: float = 1.0,
) -> None:
    """A filled box with round corners, in place."""
    left, top, right, bottom = box
    mask = np.zeros(image.shape[:2], np.uint8)
    r = max(min(radius, (right - left) // 2 - 1, (bottom - top) // 2 - 1), 1)
    cv2.rectangle(mask, (left + r, top), (right - r, bottom), 255, -1)
    cv2.rectangle(mask, (left, top + r), (right, bottom - r), 255, -1)
    for x in (left + r, right - r):
        for y in (top + r, bottom - r):
            cv2.circle(mask, (x, y), r, 255, -1, cv2.LINE_AA)
    t, b = max(top - 1, 0), bottom + 2
    share = (mask[t:b].astype(np.float32) * (opacity / 255))[..., None]
    image[t:b] = np.rint(image[t:b] * (1 - share) + colour.astype(np.float32) * share).astype(
        np.uint8
    )


def words(
    image: Image, text: str, at: tuple[int, int], height_px: float, colour: NDArray[np.float64]
) -> None:
    """Text with its lower left corner at `at`, letters about `height_px` high."""
    scale = max(height_px / 22.0, 0.25)
    shade = tuple(float(c) for c in colour)
    cv2.putText(image, text, at, FONT, scale, shade, max(round(scale * 1.5), 1), cv2.LINE_AA)


def frame(image: Image, place: Layout, ground: NDArray[np.float64], rng: Generator) -> Image:
    """The map picture inside its screen."""
    width, height = place.size
    left, top, right, bottom = place.window
    dark = ground.mean() < 110
    shade = np.clip(ground + (12 if dark else -rng.choice([0, 4, 12])), 0, 255)
    screen = np.empty((height, width, 3), np.uint8)
    screen[:] = np.rint(shade).astype(np.uint8)
    screen[top:bottom, left:right] = image
    unit = height / 40
    ink = text_colour(shade)
    faint = (ink + 2 * shade) / 3
    accent = hls(rng.random(), 0.5, 0.7)
    if rng.random() < 0.8:  # clock and battery
        words(
            screen,
            f"{rng.integers(0, 24)}:{rng.integers(10, 60)}",
            (int(unit), int(0.9 * unit)),
            0.5 * unit,
            ink,
        )
        x = width - int(2.4 * unit)
        cv2.rectangle(
            screen, (x, int(0.4 * unit)), (x + int(unit), int(0.9 * unit)), ink.tolist(), 1
        )
    words(
        screen,
        str(rng.choice(WORDS)),
        (int(rng.uniform(0.1, 0.3) * width), max(int(top - 0.8 * unit), 12)),
        0.8 * unit,
        ink,
    )
    cv2.circle(
        screen,
        (int(1.3 * unit), max(int(top - unit), 6)),
        max(int(0.4 * unit), 2),
        ink.tolist(),
        2,
        cv2.LINE_AA,
    )
    _bottom(screen, place, unit, (ink, faint, accent, shade), rng)
    _floating(screen, place, unit, (ink, accent, shade), rng)
    return screen


def _bottom(
    screen: Image,
    place: Layout,
    unit: float,
    colours: tuple[NDArray[np.float64], ...],
    rng: Generator,
) -> None:
    """A card, a row of buttons and a toolbar under the map; the card may reach over it a little."""
    ink, faint, accent, shade = colours
    width, height = place.size
    bottom = place.window[3]
    top = bottom - int(rng.choice([0.0, 0.0, 1.2]) * unit)
    card = np.clip(shade + rng.choice([-10.0, 10.0, 20.0]), 0, 255)
    pad = int(rng.choice([0.0, 0.8]) * unit)
    rounded(screen, (pad, top, width - pad - 1, height - 1), int(1.2 * unit), card)
    room = height - bottom
    words(
        screen,
        str(rng.choice(WORDS)),
        (int(1.5 * unit), bottom + int(0.3 * room)),
        0.6 * unit,
        faint,
    )
    count = int(rng.integers(2, 6))
    step = width / count
    for k in range(count):
        x, y, r = int((k + 0.5) * step), bottom + int(0.62 * room), int(min(0.2 * room, 0.3 * step))
        shade_k = accent if k == 0 else faint
        if rng.random() < 0.5:
            cv2.circle(screen, (x, y), max(r, 3), shade_k.tolist(), -1, cv2.LINE_AA)
        else:
            rounded(screen, (x - 2 * r, y - r, x + 2 * r, y + r), r, shade_k)
    if rng.random() < 0.5:
        cv2.line(screen, (0, height - 3), (width, height - 3), ink.tolist(), 2)


def _floating(
    screen: Image,
    place: Layout,
    unit: float,
    colours: tuple[NDArray[np.float64], ...],
    rng: Generator,
) -> None:
    """Round buttons and small cards that hover over the map."""
    ink, accent, shade = colours
    left, top, right, bottom = place.window
    for k in range(int(rng.integers(0, 4))):
        x = int(right - 1.6 * unit) if rng.random() < 0.7 else int(left + 1.6 * unit)
        y = int(top + (1.6 + 2.6 * k) * unit)
        if y < bottom - 2 * unit:
            cv2.circle(screen, (x, y), max(int(unit), 3), shade.tolist(), -1, cv2.LINE_AA)
            cv2.circle(screen, (x, y), max(int(0.4 * unit), 2), ink.tolist(), 2, cv2.LINE_AA)
    if rng.random() < 0.4:
        x, y = int(left + unit), int(bottom - 3.5 * unit)
        box = (x, y, x + int(rng.uniform(5, 9) * unit), y + int(1.8 * unit))
        if box[2] < right:
            rounded(screen, box, int(0.9 * unit), accent, 0.9)
            words(
                screen,
                str(rng.choice(WORDS)),
                (x + int(unit), y + int(1.2 * unit)),
                0.5 * unit,
                text_colour(accent),
            )
