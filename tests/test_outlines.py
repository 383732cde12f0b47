"""Outlines in any Python shape -> clean rings."""

from __future__ import annotations

import logging
from array import array
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import mapping

from regmap.errors import OutlineError
from regmap.inputs.outlines import MAX_COORDINATE, as_rings

SQUARE = [[0, 0], [4, 0], [4, 3], [0, 3]]
HOLE = [[1, 1], [2, 1], [2, 2], [1, 2]]
FAR = [[10, 0], [14, 0], [14, 3]]
PAIR = shapely.MultiPolygon([shapely.Polygon(SQUARE), shapely.Polygon(FAR)])
POLYGON = shapely.Polygon(SQUARE, [HOLE])


class Shaped:
    """Anything that speaks the geo interface."""

    def __init__(self, content: dict[str, Any]) -> None:
        self.__geo_interface__ = content


def lists(rings: dict[str, tuple[np.ndarray, ...]]) -> dict[str, list[list[list[float]]]]:
    return {name: [ring.tolist() for ring in parts] for name, parts in rings.items()}


@pytest.mark.parametrize(
    "outline",
    [
        SQUARE,
        tuple(map(tuple, SQUARE)),
        np.array(SQUARE),
        np.array(SQUARE, dtype=np.int16),
        np.array(SQUARE, dtype=np.float32),
        np.array(SQUARE, order="F"),
        [array("d", point) for point in SQUARE],
        [[Fraction(x), Fraction(y)] for x, y in SQUARE],
        iter(SQUARE),
        [*SQUARE, SQUARE[0]],
        [SQUARE[0], *SQUARE, SQUARE[0], SQUARE[0]],
        [p for p in SQUARE for _ in range(3)],
        shapely.Polygon(SQUARE),
        shapely.LinearRing(SQUARE),
        shapely.LineString([*SQUARE, SQUARE[0]]),
        Shaped({"type": "Polygon", "coordinates": [[*SQUARE, SQUARE[0]]]}),
        {"type": "Polygon", "coordinates": [[[x, y, 7.5] for x, y in SQUARE]]},
        {"type": "Feature", "properties": None, "geometry": mapping(shapely.Polygon(SQUARE))},
        [SQUARE],
        [[SQUARE]],
        np.array([SQUARE]),
    ],
)
def test_one_ring_in_many_shapes(outline: Any) -> None:
    rings = as_rings({"hall": outline})
    assert lists(rings) == {"hall": [SQUARE]}
    (ring,) = rings["hall"]
    assert ring.dtype == np.float64
    assert ring.flags.c_contiguous
    assert ring.flags.writeable


@pytest.mark.parametrize(
    "outline",
    [
        POLYGON,
        [SQUARE, HOLE],
        (np.array(SQUARE), HOLE),
        mapping(POLYGON),
        Shaped({"type": "Feature", "geometry": mapping(POLYGON)}),
    ],
)
def test_holes_follow_the_outer_ring(outline: Any) -> None:
    assert lists(as_rings({"hall": outline}))["hall"] == [SQUARE, HOLE]


def test_what_was_given_is_not_changed_and_not_shared() -> None:
    given_ring = np.array(SQUARE, float)
    (ring,) = as_rings({"a": given_ring})["a"]
    ring[0] = 99
    np.testing.assert_array_equal(given_ring, SQUARE)


@pytest.mark.parametrize(
    ("polygons", "names"),
    [
        ([SQUARE, FAR], ["room 1", "room 2"]),
        ((shapely.Polygon(SQUARE), np.array(FAR)), ["room 1", "room 2"]),
        (iter([SQUARE, FAR]), ["room 1", "room 2"]),
        (SQUARE, ["room 1"]),
        (np.array(SQUARE), ["room 1"]),
        (np.array([SQUARE, [[x + 9, y] for x, y in SQUARE]]), ["room 1", "room 2"]),
        ({3: SQUARE, "b": FAR}, ["3", "b"]),
        (shapely.Polygon(SQUARE), ["room 1"]),
        (PAIR, ["room 1", "room 2"]),
        ({"a": PAIR}, ["a 1", "a 2"]),
        ({"a 1": HOLE, "a": [[SQUARE], [FAR]]}, ["a 1", "a 1 2", "a 2"]),
    ],
)
def test_names(polygons: Any, names: list[str]) -> None:
    assert list(as_rings(polygons)) == names


def test_geojson() -> None:
    def feature(geometry: Any, **more: Any) -> dict[str, Any]:
        return {"type": "Feature", "geometry": geometry} | more

    square, far = (mapping(shapely.Polygon(ring)) for ring in (SQUARE, FAR))
    collection = {
        "type": "FeatureCollection",
        "features": [
            feature(square, id=7, properties={"Name": " hall ", "id": 3}),
            feature(far, id=8, properties={"name": "", "label": None}),
            feature(mapping(shapely.Point(1, 2)), properties={"name": "dock"}),
            feature(None, properties={"name": "nothing"}),
            feature(mapping(shapely.LineString([*SQUARE, [9, 9]])), properties={"name": "way"}),
            feature(mapping(shapely.Polygon(HOLE))),
        ],
    }
    assert lists(as_rings(collection)) == {"hall": [SQUARE], "8": [FAR], "room 6": [HOLE]}
    assert lists(as_rings(Shaped(collection))) == lists(as_rings(collection))
    geometries = {"type": "GeometryCollection", "geometries": [square, far]}
    assert list(as_rings({"x": geometries})) == ["x 1", "x 2"]


@pytest.mark.parametrize(
    ("polygons", "message"),
    [
        ({}, "at least one room outline is needed"),
        ([], "at least one"),
        (None, "came as NoneType; give a mapping"),
        (5, "came as int"),
        ("POLYGON ((0 0, 1 0, 1 1))", "came as str; text or a file .* is read by"),
        (b"...", "came as bytes"),
        ({"a": None}, "'a' came as NoneType"),
        ({"a": "0,0;1,0;1,1"}, "'a' came as str"),
        ({"a": 5}, "'a' came as int"),
        ({"a": {"x": [0, 1], "y": [0, 1]}}, "'a' came as dict"),
        ({"a": []}, "'a' is not a list of"),
        ({"a": [1, 2, 3]}, "'a' is not a list of"),
        ({"a": [[0, 0], [1, 0]]}, "fewer than 3 different points"),
        ({"a": [[0, 0], [1, 0], [0, 0], [1, 0]]}, "fewer than 3 different points"),
        ({"a": [[0, 0], [1, 0], [2, 0]]}, "has no area"),
        ({"a": [[0, 0], [1, 0], [1, "x"]]}, "is not a list of .x, y. pairs"),
        ({"a": [[0, 0], [1, 0], [1]]}, "is not a list of .x, y. pairs"),
        ({"a": [[0, 0, 1], [1, 0, 1], [1, 1, 1]]}, r"shape \(3, 3\), not \(N, 2\); give x and y"),
        ({"a": [[0, 1, 1, 0], [0, 0, 1, 1]]}, "transpose it"),
        ({"a": np.array(SQUARE) * 1j}, "complex numbers"),
        ({"a": [[0, 0], [1, float("nan")], [1, 1]]}, "1 points that are not finite.*point 1"),
        ({"a": [[0, 0], [float("inf"), 0], [1, 1]]}, "not finite"),
        ({"a": [[0, 0], [2 * MAX_COORDINATE, 0], [1, 1]]}, "at most 1e.13"),
        ({"a": np.ma.masked_equal(np.array(SQUARE), 3)}, "masked points"),
        ({"a": [[0, 0], [2, 2], [2, 0], [0, 2]]}, "crosses itself .* falls into 2 pieces"),
        # Triangles of 3 x 3 / 2 and 2 x 2 / 2, tip to tip.
        ({"a": [[0, 0], [5, 5], [5, 3], [0, 3]]}, "2 pieces, the largest 69 % of its area"),
        ({"a": shapely.Point(1, 2)}, "is a Point without an area"),
        ({"a": shapely.LineString(SQUARE)}, "is a LineString without an area"),
        ({"a": shapely.Polygon()}, "is an empty Polygon; leave it out"),
        ({"a": {"type": "Feature", "geometry": None}}, "is a Feature without an area"),
    ],
)
def test_what_is_refused(polygons: Any, message: str) -> None:
    with pytest.raises(OutlineError, match=message):
        as_rings(polygons)


def test_a_small_crossing_is_repaired_with_a_warning(caplog: pytest.LogCaptureFixture) -> None:
    # A notch of 0.01 by 0.01 turned inside out at a corner of a square of 4 by 3.
    ring = [[0, 0], [4, 0], [4, 3], [0.01, 3], [0, 2.99], [0, 3], [0.01, 2.99]]
    with caplog.at_level(logging.WARNING, "regmap"):
        (clean,) = as_rings({"a": ring})["a"]
    assert "'a' crosses itself (Self-intersection[0.005 2.995])" in caplog.text
    assert shapely.Polygon(clean).is_valid
    assert shapely.Polygon(clean).area == pytest.approx(12, rel=2e-3)


def test_an_outline_that_repeats_another_counts_once(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING, "regmap"):
        rings = as_rings({"a": SQUARE, "b": FAR, "c": [*SQUARE, SQUARE[0]]})
    assert list(rings) == ["a", "b"]
    assert "'c' repeats 'a'" in caplog.text


def test_long_rings_are_thinned_or_refused() -> None:
    along = np.linspace(0, 1, 2500, endpoint=False)[:, None]
    corners = np.array(SQUARE, float)
    sides = [a + (b - a) * along for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    (thin,) = as_rings({"a": np.vstack(sides)}, max_points=400)["a"]
    assert len(thin) <= 400
    assert shapely.Polygon(thin).symmetric_difference(shapely.Polygon(SQUARE)).area < 1e-3
    angles = np.linspace(0, 2 * np.pi, 3000, endpoint=False)
    circle = np.column_stack([np.cos(angles), np.sin(angles)])
    assert len(as_rings({"a": circle})["a"][0]) == 3000
    with pytest.raises(OutlineError, match="3000 points, 3000 of them off a straight line"):
        as_rings({"a": circle}, max_points=400)


def test_a_large_offset_does_not_matter() -> None:
    ring = np.array(SQUARE, float) * 1000 + [5.0e9, -7.0e9]
    np.testing.assert_array_equal(as_rings({"a": ring})["a"][0], ring)


@given(
    st.lists(
        st.tuples(st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6)),
        min_size=3,
        max_size=12,
        unique=True,
    )
)
def test_whatever_comes_is_a_valid_polygon_or_an_error(points: list[tuple[int, int]]) -> None:
    try:
        rings = as_rings({"a": points})["a"]
    except OutlineError:
        return
    polygon = shapely.Polygon(rings[0], rings[1:])
    assert polygon.is_valid
    assert polygon.area > 0
    for ring in rings:
        assert (ring != np.roll(ring, 1, axis=0)).any(axis=1).all()
    if shapely.Polygon(points).is_valid:
        np.testing.assert_array_equal(rings[0], points)
