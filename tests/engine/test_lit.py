"""Walls lit from a side: told where one way of facing has lines that the other lacks."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from regmap import register
from regmap.engine.lit import lit_sides
from regmap.errors import DoubtfulFitWarning
from tests.engine import scenes

STEPS = np.arange(-7.0, 7.01, 0.5)
# Two pieces each.
WALLS = np.arange(40) // 2
FACES = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])


def profiles(
    second: dict[int, float], residual: float = 0.0, share: float = 1.0
) -> NDArray[np.float32]:
    """(40, K): ten chunks that face each way, with a border, and a second line where it is told, of
    so much of the border's strength."""
    lines = np.exp(-0.5 * ((STEPS - residual) / 0.8) ** 2)
    rows = np.repeat(lines[None], 40, axis=0)
    for side, place in second.items():
        line = np.exp(-0.5 * ((STEPS - residual - place) / 0.8) ** 2)
        rows[10 * side : 10 * side + 10] += share * line
    return rows.astype(np.float32)


def quiet(noise: float) -> NDArray[np.float32]:
    return np.full((40, len(STEPS)), noise, dtype=np.float32)


def asked(
    second: dict[int, float],
    residual: float = 0.0,
    *,
    share: float = 1.0,
    noise: float = 0.5,
    lines: NDArray[np.int64] = WALLS,
) -> tuple[float, float]:
    normal = np.repeat(FACES, 10, axis=0)
    rest = np.full(40, residual)
    rows = profiles(second, residual, share)
    return lit_sides(rows, quiet(noise), STEPS, rest, normal, np.ones(40), WALLS, lines)


def test_lines_beside_walls_on_both_sides_are_no_light() -> None:
    assert asked({}) == (0.0, 0.0)
    # Two faces of every wall, wherever it stands.
    px, chance = asked(dict.fromkeys(range(4), 3.0), residual=0.7)
    assert chance == 0.0
    assert px == 0.0


@pytest.mark.parametrize("residual", [0.0, -1.2, 0.8])
def test_a_line_beside_walls_that_face_one_way_leaves_half_its_distance_open(
    residual: float,
) -> None:
    px, chance = asked({0: 3.0}, residual)
    assert px == pytest.approx(1.5, abs=0.3)
    assert chance == pytest.approx(0.5)
    px, chance = asked({0: 3.0, 3: -4.0}, residual)
    assert px == pytest.approx(2.5, abs=0.4)
    assert chance == pytest.approx(0.5)


def test_a_shadow_nearly_as_dark_as_its_wall_leaves_a_faint_line() -> None:
    """Faint against the border, and clear against the noise."""
    px, chance = asked({0: 4.0}, share=0.08, noise=0.02)
    assert px == pytest.approx(2.0, abs=0.3)
    assert chance == pytest.approx(0.5)
    assert asked({0: 4.0}, share=0.08, noise=0.2) == (0.0, 0.0)
    assert asked(dict.fromkeys(range(4), 4.0), share=0.08, noise=0.02)[1] == 0.0
    # All walls in one row may have the same line of a grid beside them.
    assert asked({0: 4.0}, share=0.08, noise=0.02, lines=WALLS // 5)[1] == 0.0


def test_too_few_walls_say_nothing() -> None:
    normal = np.repeat(FACES, 10, axis=0)
    few = np.where(np.arange(40) % 10 < 4, 1.0, 0.0)
    for weight in (few, np.zeros(40)):
        rows = profiles({0: 3.0})
        found = lit_sides(rows, quiet(0.5), STEPS, np.zeros(40), normal, weight, WALLS, WALLS)
        assert found == (0.0, 0.0)


def test_a_picture_with_shadows_on_one_side_of_its_walls_is_doubted() -> None:
    """Dark walls throw a shadow of 5 px to the right and down, on the rooms."""
    rings = {name: (scenes.inset(ring[0], 90.0),) for name, ring in scenes.FLOOR.items()}
    plain = scenes.scene(size=(900, 620), line_mm=180.0)
    dark = (plain.image.max(axis=2) < 75).astype(np.uint8)
    thrown = dark.copy()
    for step in range(1, 6):
        thrown |= np.roll(dark, (step, step), axis=(0, 1))
    shade = ((thrown > 0) & (dark == 0))[..., None]
    shaded = np.where(shade, plain.image * 0.7, plain.image).astype(np.uint8)
    flat = register(plain.image, rings)
    assert flat.confidence > 0.9
    with pytest.warns(DoubtfulFitWarning, match="shadow or a side"):
        lit = register(shaded, rings)
    assert lit.confidence < 0.9
    # However the walls are taken, the predicted error covers the way from one to the other.
    corners = np.vstack([ring[0] for ring in rings.values()])
    px = corners @ plain.to_image[:, :2].T + plain.to_image[:, 2]
    gap = np.hypot(*(lit.to_device(px) - corners).T)
    assert (gap <= lit.expected_error(px)).all()
