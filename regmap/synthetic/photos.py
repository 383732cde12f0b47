"""Pictures that show no floor at all: hills, fruit, a written page, tiles, clouds, a chart."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from .palettes import hls
from .screens import words

__all__ = ["photo"]

Image = NDArray[np.uint8]
Levels = NDArray[np.float32]


def smooth_noise(size: tuple[int, int], grain: int, rng: Generator) -> Levels:
    """Noise 0..1 with spots of about `grain` px, shape (height, width)."""
    width, height = size
    small = rng.random((max(2, height // grain), max(2, width // grain))).astype(np.float32)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC), np.float32)


def _hills(size: tuple[int, int], rng: Generator) -> Levels:
    """Ridges one behind the other under a sky."""
    width, height = size
    rows = np.linspace(0, 1, height, dtype=np.float32)[:, None, None]
    image = (rows * 60 + hls(0.58, 0.65, 0.6)).astype(np.float32).repeat(width, axis=1)
    x = np.linspace(0, 1, width)
    for level in np.sort(rng.uniform(0.35, 0.95, 5)):
        ridge = level + sum(
            rng.uniform(0.01, 0.08) * np.sin(2 * np.pi * (f * x + rng.random()))
            for f in (1, 2, 5, 11)
        )
        below = np.arange(height)[:, None] > ridge[None, :] * height
        image[below] = hls(rng.uniform(0.2, 0.4), 0.6 - 0.45 * level, 0.4)
    return image


def _fruit(size: tuple[int, int], rng: Generator) -> Levels:
    """Shaded round things on a table."""
    width, height = size
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    image = np.empty((height, width, 3), np.float32)
    image[:] = hls(0.08, rng.uniform(0.3, 0.6), 0.4)
    for _ in range(int(rng.integers(4, 12))):
        r = rng.uniform(0.06, 0.2) * height
        cx, cy = rng.uniform(0, width), rng.uniform(0.2, 0.9) * height
        depth = 1 - ((x - cx) / r) ** 2 - ((y - cy) / (r * 0.9)) ** 2
        light = np.sqrt(np.clip(depth, 0, 1))[..., None]
        ball = hls(rng.random(), 0.5, 0.8) * (0.4 + 0.7 * light)
        image = np.where(depth[..., None] > 0, ball, image).astype(np.float32)
    return image


def _page(size: tuple[int, int], rng: Generator) -> Levels:
    """A page of writing with a box or two."""
    width, height = size
    image = np.full((height, width, 3), 250, np.uint8)
    ink = np.full(3, 40.0)
    letters = np.array(list("abcdefghijklmnoprstuvw    "))
    step = max(height // 32, 14)
    for row in range(2 * step, height - step, step):
        text = "".join(rng.choice(letters, int(width / (0.4 * step)) - 6))
        words(image, text, (step, row), 0.45 * step, ink)
    for _ in range(int(rng.integers(0, 3))):
        a, b = rng.uniform(0.1, 0.5, 2), rng.uniform(0.2, 0.4, 2)
        p, q = (a * (width, height)).astype(int), ((a + b) * (width, height)).astype(int)
        cv2.rectangle(image, p.tolist(), q.tolist(), hls(rng.random(), 0.8, 0.5).tolist(), -1)
    return image.astype(np.float32)


def _tiles(size: tuple[int, int], rng: Generator) -> Levels:
    """A wall of bricks or a chequered cloth, seen at a slant."""
    width, height = size
    across, down = int(rng.integers(5, 14)), int(rng.integers(5, 14))
    flat = np.empty((height, width, 3), np.float32)
    flat[:] = 200
    w, h = width / across, height / down
    base = hls(rng.uniform(0, 0.15), 0.45, 0.5)
    for j in range(down + 1):
        for i in range(-1, across + 1):
            left = int((i + 0.5 * (j % 2)) * w) + 3
            shade = base * rng.uniform(0.8, 1.15)
            box = (
                slice(int(j * h) + 3, int((j + 1) * h)),
                slice(max(left, 0), int(max(left + w - 3, 0))),
            )
            flat[box] = shade
    source = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    goal = source + rng.uniform(-0.25, 0.1, (4, 2)).astype(np.float32) * (width, height)
    view = cv2.getPerspectiveTransform(source, goal.astype(np.float32))
    return np.asarray(
        cv2.warpPerspective(flat, view, size, borderMode=cv2.BORDER_REFLECT), np.float32
    )


def _clouds(size: tuple[int, int], rng: Generator) -> Levels:
    """Patches of noise in two colours."""
    level = sum(smooth_noise(size, g, rng) * g for g in (8, 32, 128)) / 168
    share = np.clip((level - 0.5) * rng.uniform(2, 8) + 0.5, 0, 1)[..., None]
    mixed = hls(rng.random(), 0.3, 0.5) * (1 - share) + hls(rng.random(), 0.8, 0.5) * share
    return np.asarray(mixed, np.float32)


def _chart(size: tuple[int, int], rng: Generator) -> Levels:
    """A bar chart: straight edges, right angles, flat colours, and yet no floor."""
    width, height = size
    image = np.full((height, width, 3), 252, np.float32)
    count = int(rng.integers(5, 14))
    step = 0.8 * width / count
    for k in range(count):
        top = int(height * rng.uniform(0.15, 0.8))
        left = int(0.1 * width + k * step)
        image[top : int(0.88 * height), left : int(left + 0.75 * step)] = hls(k * 0.618, 0.6, 0.6)
    image[int(0.88 * height) : int(0.88 * height) + 2, int(0.08 * width) :] = 30
    for share in np.arange(0.16, 0.88, 0.12):
        image[int(share * height), int(0.08 * width) :] -= 40
    return image


def photo(rng: Generator) -> Image:
    """A picture of something else, (H, W, 3) uint8 RGB, with a camera's grain."""
    size = [(900, 700), (1200, 900), (800, 1000)][int(rng.integers(3))]
    kinds = (_hills, _fruit, _page, _tiles, _clouds, _chart)
    image = kinds[int(rng.integers(len(kinds)))](size, rng).astype(np.float64)
    image += rng.normal(0, rng.uniform(0, 5), image.shape)
    return np.clip(np.rint(image), 0, 255).astype(np.uint8)
