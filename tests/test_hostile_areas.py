"""Areas and fits that nobody makes: an answer, or a RegmapError that says what to do; no warnings.

What is refused here once took minutes, gigabytes or an error of some library.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from numpy.typing import NDArray

import regmap
from regmap import areas
from regmap.errors import RegmapError
from regmap.floors import FrameChange
from regmap.outputs import control_points, geojson, georeference, notebook, proof, sketch
from regmap.registration import Registration
from tests.fit_examples import HALL, make_fit

FIT = make_fit()
BLANK = np.full((480, 640, 3), 230, np.uint8)
SQUARE = np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], float)
BOW = shapely.Polygon([(0, 0), (2000, 2000), (2000, 0), (0, 2000)])
PLACES = np.random.default_rng(0).uniform(0, 600, (5000, 2))
LINES = shapely.MultiLineString(list(PLACES[:4800].reshape(2400, 2, 2)))


def of_scale(scale: float, shift: float = 0.0) -> Registration:
    return make_fit(transform=Affine(scale, 0, shift, 0, -scale, shift))


def of_outline(ring: NDArray[np.float64]) -> Registration:
    return make_fit(outlines={"study": (ring,), "hall": HALL})


def of_many_rooms(count: int) -> Registration:
    """Small rooms in rows of fifty, beside each other."""
    first = FIT.rooms[0]
    return make_fit(
        outlines={f"r{i}": (SQUARE * 0.05 + [i % 50 * 220, i // 50 * 160],) for i in range(count)},
        rooms=tuple(dataclasses.replace(first, name=f"r{i}") for i in range(count)),
    )


def round_room(count: int) -> NDArray[np.float64]:
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.column_stack([5000 + 4000 * np.cos(angle), 3000 + 2500 * np.sin(angle)])


@pytest.fixture(scope="module")
def change() -> FrameChange:
    bay = np.array([[4, 0], [8, 0], [8, 5], [6, 5], [6, 3], [4, 3]], float) * 1000
    floor = {"hall": SQUARE, "bay": bay, "shed": SQUARE + np.array([0, 3000])}
    moved = {name: ring + np.array([1000, -500]) for name, ring in floor.items()}
    return regmap.align_outlines(floor, moved)


REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "lines all over, with a margin": (
        lambda: areas.to_device(FIT, LINES, keep_off=50),
        "lines cross more than 10000 times: mark a polygon",
    ),
    "lines all over": (lambda: areas.to_device(FIT, LINES), "lines cross more than 10000 times"),
    "lines all over, cut": (
        lambda: areas.to_device(FIT, LINES, rooms="study"),
        "lines cross more than 10000 times",
    ),
    "points with a margin": (
        lambda: areas.to_device(FIT, shapely.MultiPoint(PLACES), keep_off=500),
        "5000 points came, and at most 1000 get a margin",
    ),
    "a mixture": (
        lambda: areas.to_device(FIT, shapely.GeometryCollection([BOW, shapely.Point(0, 0)])),
        "a mixture of geometries",
    ),
    "smallest numbers": (lambda: areas.to_device(FIT, (0, 0, 5e-324, 5e-324)), "has no size"),
    "a room that is a scribble": (
        lambda: areas.to_device(of_outline(PLACES[:3000] * 9), (60, 100, 110, 150)),
        "outline 'study' crosses itself all over",
    ),
    "where, in a scribble": (
        lambda: areas.room_at(of_outline(PLACES[:1500] * 9), [[60, 100]]),
        "outline 'study' crosses itself all over",
    ),
    "a room that is a line": (
        lambda: areas.to_device(of_outline(SQUARE * [1, 0]), (60, 100, 110, 150), rooms="study"),
        "nothing of the area lies in study",
    ),
    "a million names of rooms": (
        lambda: areas.to_device(FIT, (1, 1, 2, 2), rooms=("x" for _ in range(10**6))),
        "they must be among .'study', 'hall'",
    ),
    "pairs by the thousand": (
        lambda: make_fit(outlines={"a": (round_room(5000),)}).control_points(2000),
        "2000 control points .* shows 5000 room corners: .* at most 1000",
    ),
    "pairs by the thousand, as text": (
        lambda: control_points.to_csv(make_fit(outlines={"a": (round_room(5000),)}), 10**9),
        "at most 1000",
    ),
    "a picture beside its floor": (
        lambda: georeference.gcps(of_scale(1e29, 1e30), 4),
        "shows 0 room corners",
    ),
    "a map of large numbers": (lambda: of_scale(1e154), "numbers up to 1e.30 are taken"),
    "a map of the largest numbers": (lambda: of_scale(1e308), "numbers up to 1e.30 are taken"),
    "a map of a large shift": (lambda: of_scale(1e-160, 1e300), "numbers up to 1e.30 are taken"),
    "a map of small numbers": (lambda: of_scale(1e-160), "squeezes the plane"),
    "a million residuals": (lambda: make_fit(residuals=np.zeros((10**6, 3))), "M at most 100000"),
    "an error far off": (lambda: FIT.expected_error([[1e300, 1e300]]), "where squares overflow"),
    "an ellipse far off": (lambda: FIT.error_ellipses([[1e150, 0]]), "where squares overflow"),
}


@pytest.mark.parametrize("kind", REFUSED)
def test_it_is_refused_with_words(kind: str) -> None:
    call, text = REFUSED[kind]
    with pytest.raises(RegmapError, match=text) as caught:
        call()
    assert len(str(caught.value)) < 2500


@pytest.mark.parametrize(
    ("area", "text"),
    [
        (BOW, "no clean polygon"),
        (shapely.Polygon(PLACES), "no clean polygon"),
        (shapely.box(0, 0, 1e300, 1e300), "where squares overflow"),
        (shapely.Polygon([(0, 0), (math.inf, 1), (1, 1)]), "not finite"),
        (shapely.GeometryCollection([BOW, shapely.Point(0, 0)]), "mixture of geometries"),
        (shapely.LineString([(1, 1), (1, 1)]), "no clean polygon"),
        ([(1, 1), (1, 1)], "no clean polygon"),
        ([(0, 0), (9, 9), (9, 0), (0, 9)], "no clean polygon"),
        (LINES, "lines cross more than 10000 times"),
    ],
)
def test_no_place_is_told_of_an_area_that_is_none(
    change: FrameChange, area: Any, text: str
) -> None:
    """An area that is not clean was once called off the floor, all of it."""
    with pytest.raises(RegmapError, match=text):
        change.areas({"zone": area})


def test_points_that_overlap_grow_to_one_area() -> None:
    """By numbers: a point twice is that point, and a thousand are what each of them is."""
    grown = areas.to_device(FIT, shapely.MultiPoint(np.full((5000, 2), 100.0)), keep_off=50)
    alone = areas.to_device(FIT, (100.0, 100.0), keep_off=50)
    assert grown.geometry.symmetric_difference(alone.geometry).area < 1e-6
    many = areas.to_device(FIT, shapely.MultiPoint(PLACES[:1000]), keep_off=400).geometry
    device = FIT.to_device(PLACES[:1000])
    rng = np.random.default_rng(1)
    tried = rng.uniform(device.min(axis=0) - 600, device.max(axis=0) + 600, (2000, 2))
    away = np.hypot(*(tried[:, None] - device).transpose(2, 0, 1)).min(axis=1)
    inside = np.asarray(shapely.intersects_xy(many, *tried.T))
    # A circle is drawn with 32 sides: 400 mm less 2 mm between corners.
    assert inside[away < 397.0].all()
    assert not inside[away > 400.1].any()


@pytest.mark.parametrize("count", [1, 3, 2000])
def test_a_point_lies_in_the_rooms_that_hold_it(count: int) -> None:
    """Of many rooms and many points as of each by itself."""
    fit = of_many_rooms(count)
    px = PLACES[:300]
    names = areas.room_at(fit, px)
    x, y = fit.to_device(px).T
    for name, ring in list(fit.outlines.items())[:: max(1, count // 40)]:
        held = shapely.intersects_xy(shapely.Polygon(ring[0]), x, y)
        assert [found == name for found in names] == held.tolist()
    zone = areas.to_device(fit, shapely.MultiPoint(px))
    counted = {name: names.count(name) / len(px) for name in set(names) - {None}}
    assert zone.rooms == pytest.approx(counted)


EXTREME: dict[str, Registration] = {
    "a picture of 1e9 px": make_fit(image_size=(10**9, 10**9)),
    "a picture of one row": make_fit(image_size=(10**9, 1)),
    "a pixel is a picometre": of_scale(1e-9),
    "a pixel is the sun's orbit": of_scale(1e12),
    "far from where the robot counts": of_scale(20.0, 1e25),
    "borders far from their outlines": make_fit(wall_offset=1e30),
    "a room of 1e24 mm": of_outline(SQUARE * 1e20),
    "labels beyond all canvas": make_fit(
        rooms=tuple(dataclasses.replace(room, label_px=(1e30, -1e30)) for room in FIT.rooms)
    ),
    "residuals beyond all canvas": make_fit(residuals=np.full((1, 3), 1e29)),
    "residuals by the thousand on one side": make_fit(
        residuals=np.column_stack([np.full(20_000, 60.0), np.full(20_000, 300.0), np.zeros(20_000)])
    ),
    "errors of any size": make_fit(reprojection_error=1e308, wall_offset=1e30, floor_error=1e30),
}


@pytest.mark.parametrize("kind", EXTREME)
def test_a_fit_that_cannot_be_is_drawn_all_the_same(kind: str) -> None:
    fit = EXTREME[kind]
    assert proof.png(fit).startswith(b"\x89PNG")
    assert "<img" in notebook.html(fit)
    drawn = geojson.drawn_borders(fit)["features"]
    assert {one["properties"]["name"] for one in drawn} == {"study", "hall"}
    assert repr(fit).startswith("<Registration")


def test_an_area_beyond_the_picture_is_drawn_all_the_same() -> None:
    far = areas.to_device(FIT, (1e9 - 100, 1e9 - 100, 1e9, 1e9))
    assert far.rooms == {}
    assert sketch.area_picture(FIT, BLANK, {"far": far}).ndim == 3
