"""How near to the best possible error: a made picture of known contrast, blur and noise.

Rooms of one grey on another, so that every edge has the same contrast and the Cramer-Rao bound of
the whole transform can be written down. An edge gives each pixel of its length one independent
reading of its position along the normal, of standard error (noise / contrast) sqrt(2 sqrt(pi) s).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

import cv2
import numpy as np
import shapely
from matplotlib.figure import Figure
from numpy.typing import NDArray

from benchmarks.report import Report, Table
from benchmarks.samples import attempt, misplacement_px, one_thread
from benchmarks.scores import edge_bound_px, rms
from benchmarks.settings import Settings
from regmap import frames
from regmap.synthetic.raster import coverage

__all__ = ["draw", "fit_bound_px", "run", "scene", "total_blur_px"]

Floats: TypeAlias = NDArray[np.float64]
Rings: TypeAlias = Mapping[str, tuple[Floats, ...]]

DARK, CONTRAST = 70.0, 100.0
BLUR_PX = 0.7
NOISES = (1.0, 2.0, 5.0, 10.0, 20.0)
SUPERSAMPLE = 4
UNIT_PER_PX = 12.0
SIZE = (900, 720)  # columns, rows


def run(settings: Settings, _runs: object) -> Report:
    """Sweep the noise; at each level a few floors at odd angles."""
    one_thread()
    repeat = 2 if settings.quick else min(settings.pictures, 12)
    floors = [scene(settings.seed + i) for i in range(repeat)]
    rows: list[list[str | float | int | None]] = []
    for noise in NOISES:
        errors, bounds, missing = [], [], 0
        for i, (rings, truth, points) in enumerate(floors):
            image = draw(rings, truth, noise, np.random.default_rng([settings.seed, i]))
            found = attempt(image, rings).fit
            bounds.append(fit_bound_px(rings, truth, points, noise))
            if found is None:
                missing += 1
            else:
                errors.append(rms(misplacement_px(found.transform, truth, points)))
        line = edge_bound_px(CONTRAST, noise, total_blur_px())
        error = float(np.sqrt(np.mean(np.square(errors)))) if errors else float("nan")
        least = float(np.sqrt(np.mean(np.square(bounds))))
        rows.append([noise, line, least, error, error / least, missing])
    return Report("bound", [_table(rows)], lambda figure: _plot(figure, rows))


def scene(seed: int) -> tuple[Rings, Floats, Floats]:
    """Return six rooms, the map picture -> device, and the rooms' corners in px."""
    rng = np.random.default_rng(seed)
    columns = np.cumsum([0.0, *rng.uniform(1800, 3200, 3)])
    rows = np.cumsum([0.0, *rng.uniform(1600, 2800, 2)])
    rings: dict[str, tuple[Floats, ...]] = {}
    for i in range(3):
        for j in range(2):
            left, right = columns[i], columns[i + 1] - 120
            low, high = rows[j], rows[j + 1] - 120
            notch = min(right - left, high - low) * rng.uniform(0.2, 0.45)
            ring = [[left, low], [right, low], [right, high - notch], [right - notch, high - notch]]
            rings[f"room {i}{j}"] = (np.array([*ring, [right - notch, high], [left, high]]),)
    corners = np.vstack([r for rs in rings.values() for r in rs])
    turn = np.deg2rad(rng.uniform(-180, 180))
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    linear = rotation @ np.diag([1.0, -1.0]) / UNIT_PER_PX
    middle = np.array(SIZE) / 2 + rng.uniform(-5, 5, 2)
    centre = (corners.min(axis=0) + corners.max(axis=0)) / 2
    spread = linear @ (corners - centre).T
    linear *= min(1.0, 0.45 * min(SIZE) / float(np.abs(spread).max()))
    device_to_image = np.column_stack([linear, middle - linear @ centre])
    return rings, frames.invert(device_to_image), frames.apply(device_to_image, corners)


def draw(
    rings: Rings, image_to_device: Floats, noise: float, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Draw the rooms with exact coverage, blurred, noisy, rounded to grey levels."""
    columns, rows = SIZE[0] * SUPERSAMPLE, SIZE[1] * SUPERSAMPLE
    fine = np.full((rows, columns), DARK, np.float32)
    device_to_fine = SUPERSAMPLE * frames.invert(image_to_device)
    for parts in rings.values():
        room = shapely.Polygon(frames.apply(device_to_fine, parts[0]))
        down, across, share = coverage(room, columns, rows)
        fine[down, across] += CONTRAST * share
    blurred = cv2.GaussianBlur(fine, (0, 0), BLUR_PX * SUPERSAMPLE)
    coarse = cv2.resize(blurred, SIZE, interpolation=cv2.INTER_AREA)
    noisy = coarse + rng.normal(0.0, noise, coarse.shape)
    return np.round(noisy).clip(0, 255).astype(np.uint8)


def fit_bound_px(rings: Rings, image_to_device: Floats, points: Floats, noise: float) -> float:
    """Return the least possible RMS error at `points`, px.

    A similarity and one wall offset are solved together.
    Fisher information adds up over the pixels of all edges: each reading of an edge at p with
    normal n has the derivatives n . (1, 0), n . (0, 1), n . p, n . Jp (J a quarter turn) and 1.
    """
    back = frames.invert(image_to_device)
    middle = points.mean(axis=0)
    information = np.zeros((5, 5))
    for parts in rings.values():
        for ring in parts:
            information += _ring_information(frames.apply(back, ring) - middle)
    variance = (
        edge_bound_px(CONTRAST, float(np.hypot(noise, 1 / np.sqrt(12))), total_blur_px()) ** 2
    )
    covariance = np.linalg.inv(information) * variance
    x, y = (points - middle).T
    zero, one = np.zeros_like(x), np.ones_like(x)
    across = np.stack([one, zero, x, -y, zero], axis=1)
    down = np.stack([zero, one, y, x, zero], axis=1)
    total = [np.einsum("ni,ij,nj->n", j, covariance, j) for j in (across, down)]
    return float(np.sqrt(np.mean(total[0] + total[1])))


def _ring_information(ring: Floats) -> Floats:
    start, end = ring, np.roll(ring, -1, axis=0)
    information = np.zeros((5, 5))
    for a, b in zip(start, end, strict=True):
        length = float(np.hypot(*(b - a)))
        count = max(1, round(length))
        p = a + (b - a) * ((np.arange(count) + 0.5) / count)[:, None]
        n = np.array([b[1] - a[1], a[0] - b[0]]) / length
        rows = np.column_stack(
            [
                np.full(count, n[0]),
                np.full(count, n[1]),
                p @ n,
                p @ np.array([n[1], -n[0]]),
                np.ones(count),
            ]
        )
        information += rows.T @ rows * (length / count)
    return information


def total_blur_px() -> float:
    """The Gaussian and the pixel's own width, a box of variance 1/12."""
    return float(np.hypot(BLUR_PX, 1 / np.sqrt(12)))


def _table(rows: list[list[str | float | int | None]]) -> Table:
    return Table(
        f"Error against the bound (contrast {CONTRAST:g}, blur {total_blur_px():.2f} px)",
        {
            "noise": "g",
            "one scan line px": ".4f",
            "bound of the fit px": ".5f",
            "error px": ".5f",
            "error / bound": ".2f",
            "no answer": "d",
        },
        rows,
        "Rounding to whole grey levels is counted as noise. "
        "Similarity and wall offset are solved together in both.",
    )


def _plot(figure: Figure, rows: list[list[Any]]) -> None:
    axes = figure.add_subplot()
    noise = [row[0] for row in rows]
    axes.loglog(noise, [row[3] for row in rows], "o-", color="#0072b2", label="regmap")
    axes.loglog(noise, [row[2] for row in rows], "k--", lw=0.8, label="Cramer-Rao bound")
    axes.set_xlabel(f"noise, grey levels (contrast {CONTRAST:g})")
    axes.set_ylabel("RMS error over the floor, px")
    axes.legend()
