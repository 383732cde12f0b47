"""Rectangles of polygons that nobody marks: combs, spirals, noise, and thousands of corners."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from regmap import areas
from regmap.areas import cover
from regmap.areas.content import Content, RoughContent
from regmap.areas.grid import CellGrid, edges_of
from regmap.errors import RegmapError

CORNERS = 2400


def _round(reach: NDArray[np.float64]) -> shapely.Polygon:
    turns = np.linspace(0, 2 * np.pi, len(reach), endpoint=False)
    ring = np.column_stack([np.cos(turns), np.sin(turns)]) * reach[:, None]
    return shapely.Polygon(1000 * ring)


def _comb(teeth: int) -> shapely.Polygon:
    tooth = np.array([(0, 1), (0.5, 1), (0.5, 0.1), (1, 0.1)])
    tops = [(tooth + np.array([i, 0])) * (2000 / teeth, 1500) for i in range(teeth)]
    return shapely.Polygon(np.vstack([[(0, 0)], *tops, [(2000, 0)]]))


def _spiral(corners: int) -> shapely.Polygon:
    reach = np.linspace(0.2, 1, corners // 2)
    turn = 40 * np.pi * reach
    ray = np.column_stack([np.cos(turn), np.sin(turn)])
    return shapely.Polygon(
        1000 * np.vstack([ray * reach[:, None], (ray * (reach - 0.025)[:, None])[::-1]])
    )


def _holed(wide: int) -> shapely.Polygon:
    at = (np.arange(wide) + 0.3) * 2000 / wide
    side = 800 / wide
    holes = [[(x, y), (x + side, y), (x + side, y + side), (x, y + side)] for x in at for y in at]
    return shapely.Polygon([(0, 0), (2000, 0), (2000, 2000), (0, 2000)], holes)


NOISE = np.random.default_rng(1).uniform(0.3, 1, CORNERS)
SHAPES: dict[str, BaseGeometry] = {
    "noise": _round(NOISE),
    "spikes": _round(np.where(np.arange(CORNERS) % 2, 1, 0.02)),
    "comb": _comb(CORNERS // 4),
    "slanted comb": affinity.rotate(_comb(CORNERS // 4), 30),
    "spiral": _spiral(CORNERS),
    "holes": _holed(24),
    "slanted holes": affinity.rotate(_holed(24), 30),
    "islands": shapely.MultiPolygon([shapely.Polygon(hole) for hole in _holed(24).interiors]),
    "long and thin": shapely.Polygon(
        np.vstack(
            [
                [(0, 0), (1e6, 0)],
                np.column_stack([np.linspace(1e6, 0, CORNERS), 1 + NOISE]),
            ]
        )
    ),
}


def _along(shape: BaseGeometry) -> NDArray[np.float64]:
    """Return places along all borders, (N, 2)."""
    edges = edges_of(shape)
    share = np.linspace(0, 1, 9)[:, None, None]
    return np.asarray(edges[:, :2] + share * (edges[:, 2:] - edges[:, :2])).reshape(-1, 2)


@pytest.mark.parametrize("name", SHAPES)
def test_cover_covers_and_inside_stays_inside(name: str) -> None:
    shape = SHAPES[name]
    assert shape.is_valid
    over = areas.rectangles(shape, fit="cover")
    places = _along(shape)
    # Overlays of such shapes take a minute: the border is looked at place by place.
    near = 1e-8 * np.ptp(places)
    held = (over.boxes[:, None, :2] - near <= places) & (places <= over.boxes[:, None, 2:] + near)
    assert held.all(axis=2).any(axis=0).all()
    joined = shapely.union_all([shapely.box(*box) for box in over.boxes])
    assert over.spill == pytest.approx(joined.area / shape.area - 1, abs=1e-9)
    within = areas.rectangles(shape, fit="inside")
    boxes = [shapely.box(*box) for box in within.boxes]
    assert sum(box.difference(shape).area for box in boxes) < 1e-9 * shape.area
    assert within.fill <= within.best_possible + 1e-12


@pytest.mark.parametrize(("fit", "measure"), [("inside", "fill"), ("cover", "spill")])
def test_of_more_corners_the_same_shape_takes_as_good_rectangles(fit: Any, measure: str) -> None:
    """A round shape of 120 corners is searched in full, of 12,000 by its cells first."""
    turns = np.linspace(0, 2 * np.pi, 12_000, endpoint=False)
    many = _round(1 + 0.3 * np.sin(5 * turns))
    few = _round((1 + 0.3 * np.sin(5 * turns))[::100])
    found, expected = (areas.rectangles(p, fit=fit, max_count=4) for p in (many, few))
    assert getattr(found, measure) == pytest.approx(getattr(expected, measure), abs=0.02)


@pytest.mark.parametrize("fit", ["inside", "cover"])
def test_many_rectangles_of_few_corners(fit: Any) -> None:
    """Under a slope, K steps fill K / (K + 1) at most, and spill 1 / K at least."""
    triangle = shapely.Polygon([(0, 0), (4000, 0), (0, 3000)])
    found = areas.rectangles(triangle, fit=fit, max_count=8)
    if fit == "inside":
        assert 0.97 * 8 / 9 < found.fill <= 8 / 9 + 1e-9
    else:
        assert 1 / 8 - 1e-9 <= found.spill < 1.3 / 8


@pytest.mark.parametrize("name", ["noise", "slanted comb", "islands", "slanted holes"])
def test_cells_hold_what_shapely_says(name: str) -> None:
    shape = SHAPES[name]
    cells = CellGrid.of(shape, lines=9, most=12)
    assert cells.area == pytest.approx(shape.area)
    extent = max(np.ptp(cells.x), np.ptp(cells.y))
    for row, column in np.argwhere(cells.touched & ~cells.full)[::11].tolist():
        (x0, x1), (y0, y1) = cells.x[column : column + 2], cells.y[row : row + 2]
        parts = shapely.get_parts(shape.intersection(shapely.box(x0, y0, x1, y1)))
        parts = parts[shapely.area(parts) > 0]  # not what only touches the cell
        assert cells.weight[row, column] == pytest.approx(shapely.area(parts).sum())
        expected = shapely.total_bounds(parts)
        assert cells.held[row, column] == pytest.approx(expected, abs=1e-8 * extent)
    for row, column in np.argwhere(~cells.touched).tolist():
        (x0, x1), (y0, y1) = cells.x[column : column + 2], cells.y[row : row + 2]
        assert shape.intersection(shapely.box(x0, y0, x1, y1)).area < 1e-9 * shape.area


@pytest.mark.parametrize("name", ["noise", "slanted comb", "spiral"])
def test_bounds_of_what_boxes_hold(name: str) -> None:
    shape = SHAPES[name]
    exact, cells = Content(shape), CellGrid.of(shape, lines=32, most=32)
    rough = RoughContent(cells)
    gap = max(np.diff(cells.x).max(), np.diff(cells.y).max())
    rng = np.random.default_rng(2)
    extent = float(np.ptp(edges_of(shape)))
    compared = 0
    for _ in range(12):
        low = rng.uniform(shape.bounds[:2], shape.bounds[2:], (2, 2))
        boxes = np.hstack([low, low + rng.uniform(0.02, 0.4, (2, 2)) * extent])
        held = shape.intersection(shapely.union_all([shapely.box(*box) for box in boxes]))
        found, wider = exact.bounds(boxes), rough.bounds(boxes)
        if held.area < 1e-6 * shape.area:
            continue
        assert found is not None
        assert wider is not None
        assert found == pytest.approx(np.array(held.bounds), abs=1e-6 * extent)
        outwards = (wider - found) * (-1, -1, 1, 1)
        assert outwards.min() > -1e-6 * extent
        assert outwards.max() < gap
        compared += 1
    assert compared > 5


def test_a_polygon_of_too_many_corners_is_refused() -> None:
    assert areas.rectangles(_round(np.ones(12_000)), max_count=1).fill == pytest.approx(
        2 / np.pi, abs=1e-3
    )
    with pytest.raises(RegmapError, match="12001 corners, and at most 12000 are taken"):
        areas.rectangles(_round(np.ones(12_001)))


@pytest.mark.parametrize("fit", ["inside", "cover"])
@pytest.mark.parametrize(
    ("shape", "match"),
    [
        (shapely.box(0, 0, 1e300, 1e300), "a number is above 1e.30, where squares overflow"),
        (shapely.box(0, 0, 1e-300, 1e-300), "empty, or too small to have an area"),
        (shapely.Polygon([(0, 0), (1e6, 1e-6), (1e6, 2e-6)]), "is a line, or parts of it are"),
        (shapely.Polygon([(0, 0), (1e6, 1e6), (1e6, 1e6 + 1e-6)]), "thinner than a billionth"),
        (
            shapely.Polygon([(0, 0), (1, 0), (1, 1 - 1e-5), (1e6, 1 - 1e-5), (1e6, 1), (0, 1)]),
            "leave them out",
        ),
        (shapely.Polygon([(0, 0), (np.inf, 0), (1, 1)]), "1 of the numbers are not finite"),
    ],
)
def test_what_is_no_area_is_refused(fit: Any, shape: shapely.Polygon, match: str) -> None:
    """What cells took for a line counted for nothing: it was divided by, or not told of."""
    with pytest.raises(RegmapError, match=match):
        areas.rectangles(shape, fit=fit)


@pytest.mark.parametrize("fit", ["inside", "cover"])
def test_what_is_nearly_a_line_is_an_area(fit: Any) -> None:
    found = areas.rectangles(shapely.Polygon([(0, 0), (1e6, 0), (1e6, 0.1)]), fit=fit)
    assert found.fill > 0.8
    assert found.spill < 0.2


@pytest.mark.parametrize("count", [5, 50])
def test_covers_of_spikes_take_bounded_steps(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each step covers anew what some boxes held: each cut of them is looked at once, 6 or 50."""
    steps = 0
    anew = cover._covered_anew

    def counted(*args: Any) -> Any:
        nonlocal steps
        steps += 1
        return anew(*args)

    monkeypatch.setattr(cover, "_covered_anew", counted)
    spikes = _round(np.where(np.arange(CORNERS) % 2, 1, 0.4))
    found = areas.rectangles(spikes, fit="cover", max_count=count)
    assert 0 < len(found.boxes) <= count
    assert 50 < steps < 1000
