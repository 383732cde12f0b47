"""Whatever is given to a public function, it answers or raises a RegmapError: no other error."""

from __future__ import annotations

import contextlib
import math
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

import regmap
from regmap.errors import DoubtfulFitWarning, RegmapError
from regmap.outputs import georeference
from tests.fit_examples import TURNED, make_fit

numbers = st.one_of(
    st.integers(-(10**4), 10**4), st.floats(), st.sampled_from([10**400, -(2**63), 1e300, 5e-324])
)
scalars = st.one_of(st.none(), st.booleans(), numbers, st.text(max_size=8), st.binary(max_size=8))
arrays = hnp.arrays(
    st.sampled_from([np.float64, np.float32, np.uint8, np.int64, np.bool_, np.complex128]),
    hnp.array_shapes(min_dims=0, max_dims=4, min_side=0, max_side=5),
)
points = st.lists(st.lists(numbers, min_size=0, max_size=3), max_size=5)
geometries = st.one_of(
    st.builds(shapely.Point, st.floats(), st.floats()),
    st.builds(shapely.box, *[st.floats(-1e6, 1e6)] * 4),
    st.just(shapely.Polygon()),
    st.just(shapely.Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])),
    st.just(shapely.GeometryCollection([shapely.Point(0, 0), shapely.box(0, 0, 1, 1)])),
)
affines = st.one_of(
    st.builds(Affine, *[st.floats(-1e3, 1e3)] * 6), st.builds(Affine, *[st.floats()] * 6)
)
anything = st.recursive(
    st.one_of(scalars, arrays, points, geometries, affines, st.just(object())),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.tuples(inner, inner),
        st.dictionaries(st.text(max_size=4), inner, max_size=3),
        st.fixed_dictionaries(
            {"type": st.sampled_from(["Polygon", "Feature", "FeatureCollection", "LineString"])},
            optional={"coordinates": inner, "features": inner, "geometry": inner},
        ),
    ),
    max_leaves=6,
)

BLANK = np.full((8, 8), 255, np.uint8)
SQUARE = {"a": [[0, 0], [9, 0], [9, 7], [0, 7]]}
MARK = (60, 230, 110, 260)
BOX = shapely.box(0, 0, 9, 9)
FIT = make_fit()
CHANGE = regmap.align_outlines(FIT.outlines, FIT.outlines)

CALLS: dict[str, Callable[[Any], object]] = {
    "register, picture": lambda x: regmap.register(x, SQUARE),
    "register, outlines": lambda x: regmap.register(BLANK, x),
    "register, model": lambda x: regmap.register(BLANK, SQUARE, model=x),
    "register, mirrored": lambda x: regmap.register(BLANK, SQUARE, mirrored=x),
    "register, tie_points": lambda x: regmap.register(BLANK, SQUARE, tie_points=x),
    "register, near": lambda x: regmap.register(BLANK, SQUARE, near=x),
    "unit": lambda x: make_fit(unit=x),
    "identify, picture": lambda x: regmap.identify(x, {"a": SQUARE}),
    "identify, floors": lambda x: regmap.identify(BLANK, x),
    "verify, picture": lambda x: regmap.verify(FIT, x),
    "align_outlines, old": lambda x: regmap.align_outlines(x, FIT.outlines),
    "align_outlines, new": lambda x: regmap.align_outlines(FIT.outlines, x),
    "align_outlines, tie_points": lambda x: regmap.align_outlines(SQUARE, SQUARE, tie_points=x),
    "from_dict": lambda x: regmap.Registration.from_dict(x),
    "from_dict, entries": lambda x: regmap.Registration.from_dict({**FIT.to_dict(), "rooms": x}),
    "to_device": lambda x: FIT.to_device(x),
    "to_image": lambda x: FIT.to_image(x),
    "expected_error": lambda x: FIT.expected_error(x),
    "error_ellipses": lambda x: FIT.error_ellipses(x),
    "control_points": lambda x: FIT.control_points(x),
    "areas.to_device": lambda x: regmap.areas.to_device(FIT, x),
    "areas.to_device, keep_off": lambda x: regmap.areas.to_device(FIT, MARK, keep_off=x),
    "areas.to_device, off_walls": lambda x: regmap.areas.to_device(FIT, MARK, off_walls=x),
    "areas.to_device, rooms": lambda x: regmap.areas.to_device(FIT, MARK, rooms=x),
    "areas.to_image": lambda x: regmap.areas.to_image(FIT, x),
    "areas.room_at": lambda x: regmap.areas.room_at(FIT, x),
    "areas.rectangles": lambda x: regmap.areas.rectangles(x),
    "areas.rectangles, count": lambda x: regmap.areas.rectangles(BOX, max_count=x),
    "change, to_new": lambda x: CHANGE.to_new(x),
    "change, expected_error": lambda x: CHANGE.expected_error(x),
    "change, area": lambda x: CHANGE.area(x),
    "geotiff": lambda x: georeference.geotiff(FIT, x),
    "robot map": lambda x: georeference.robot_map(FIT, x, "a.pgm"),
}  # fmt: skip


@pytest.mark.parametrize("name", CALLS)
@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@example("x" * 5000)
@example([math.nan])
@example(b"\x89PNG\r\n\x1a\n")
@given(anything)
def test_an_answer_or_an_error_of_our_own(name: str, value: Any) -> None:
    with contextlib.suppress(RegmapError), warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulFitWarning)
        CALLS[name](value)


def called(call: Callable[[Any], object], value: Any) -> None:
    with contextlib.suppress(RegmapError):
        call(value)


@settings(max_examples=60, deadline=None, derandomize=True)
@example("x" * 5000)
@given(st.one_of(st.text(max_size=30), st.binary(max_size=30)))
def test_texts_and_paths(value: str | bytes) -> None:
    called(regmap.parse_outlines, value)
    if isinstance(value, str):
        called(regmap.read_outlines, value)
        called(regmap.Registration.load, value)
        called(lambda path: regmap.identify(BLANK, path), value)
        called(lambda path: regmap.register(path, SQUARE), value)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)), min_size=1, max_size=9))
def test_points_come_back(places: list[tuple[float, float]]) -> None:
    """A sure fit, a turned one and a moved one all lead there and back."""
    for fit in (FIT, make_fit(transform=TURNED), CHANGE.registration(FIT, accept_doubt=True)):
        there = fit.to_device(places)
        np.testing.assert_allclose(fit.to_image(there), places, atol=1e-6)
        assert (fit.expected_error(places) > 0).all()
