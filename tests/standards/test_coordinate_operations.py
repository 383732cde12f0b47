"""Plane coordinate operations against the examples of IOGP (EPSG) Guidance Note 7-2.

"Coordinate Conversions and Transformations including Formulas", IOGP publication 373-7-2. Each
figure was worked out again from the formula beside it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from regmap import frames


def test_method_9621_similarity() -> None:
    q, m = math.radians(1.56504 / 3600), 1.00000155
    cos, sin = m * math.cos(q), m * math.sin(q)
    matrix = [[cos, sin, -129.549], [-sin, cos, -208.185]]
    there = frames.apply(matrix, [(300000, 4500000)])
    assert there == pytest.approx(np.array([(299905.060, 4499796.515)]), abs=2e-3)
    assert frames.apply(frames.invert(matrix), there) == pytest.approx(
        np.array([(300000, 4500000)]), abs=1e-6
    )
    assert frames.scale_of(matrix) == pytest.approx(m, abs=1e-12)
    assert frames.rotation_of(matrix) * 3600 == pytest.approx(-1.56504, abs=1e-6)


def test_method_9624_affine_and_its_inverse() -> None:
    matrix = [
        [0.304794369, 0.000015417425, 82357.457],
        [-0.000015417425, 0.304794369, 28091.324],
    ]
    there = frames.apply(matrix, [(553900, 482500)])
    assert there == pytest.approx(np.array([(251190.497, 175146.067)]), abs=1e-3)
    back = frames.invert(matrix)
    assert back[0] == pytest.approx([3.280900499, -0.000165958, -270201.960], abs=1e-3)
    assert back[1] == pytest.approx([0.000165958, 3.280900499, -92178.507], abs=1e-3)
    assert back[:, :2] == pytest.approx(
        np.array([[3.280900499, -0.000165958], [0.000165958, 3.280900499]]), abs=5e-10
    )


def _bin_grid(
    origin_bin: tuple[float, float],
    origin: tuple[float, float],
    widths: tuple[float, float],
    turn_deg: float,
    k: float,
    handed: int,
) -> np.ndarray:
    """Return the map (I, J) -> (easting, northing) as a product of simple maps.

    Right-handed (9666): X = X0 + dI cos(q) MI + dJ sin(q) MJ, Y = Y0 - dI sin(q) MI + dJ cos(q) MJ.
    Left-handed (1049): the sign of dI is turned.
    """
    q = math.radians(turn_deg)
    to_origin = [[1, 0, -origin_bin[0]], [0, 1, -origin_bin[1]]]
    widen = [[handed * k * widths[0], 0, 0], [0, k * widths[1], 0]]
    turn = [[math.cos(q), math.sin(q), origin[0]], [-math.sin(q), math.cos(q), origin[1]]]
    return frames.compose(turn, frames.compose(widen, to_origin))


def test_method_9666_bin_grid_of_positive_determinant() -> None:
    grid = _bin_grid((1, 1), (456781, 5836723), (25, 12.5), 20, 0.99984, handed=1)
    there = frames.apply(grid, [(300, 247)])
    assert there == pytest.approx(np.array([(464855.62, 5837055.90)]), abs=5e-3)
    assert frames.is_mirrored(grid)  # rows do not count against the map's y here
    assert frames.apply(frames.invert(grid), there) == pytest.approx(
        np.array([(300, 247)]), abs=1e-6
    )


def test_method_1049_bin_grid_of_negative_determinant() -> None:
    grid = _bin_grid((5000, 0), (871200, 10280160), (82.5, 41.25), 340, 1.0, handed=-1)
    there = frames.apply(grid, [(4700, 247)])
    assert there == pytest.approx(np.array([(890972.63, 10298199.29)]), abs=5e-3)
    assert not frames.is_mirrored(grid)
    assert frames.scale_of(grid) == pytest.approx(math.sqrt(82.5 * 41.25))


def test_fits_find_the_published_grids_again() -> None:
    grid = _bin_grid((5000, 0), (871200, 10280160), (82.5, 41.25), 340, 1.0, handed=-1)
    bins = [(4700, 247), (5000, 0), (4900, 30), (4750, 600)]
    found = frames.fit_affine(bins, frames.apply(grid, bins))
    assert frames.apply(found, [(4800, 100)]) == pytest.approx(
        frames.apply(grid, [(4800, 100)]), abs=1e-6
    )
