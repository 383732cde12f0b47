"""Marked areas as the robot's coordinates, held against arithmetic on paper and against shapely."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from regmap import areas
from regmap.errors import DoubtfulFitError, RegmapError
from tests.fit_examples import HALL, STUDY, TURNED, make_fit

# UPRIGHT, the transform of the example: x = 20 column - 1000, y = 6000 - 20 row. The study spans
# columns 50 to 250 and rows 75 to 300, the hall columns 260 to 400 and rows 200 to 300.


def _anticlockwise(geometry: shapely.Geometry) -> bool:
    return bool(shapely.is_ccw(shapely.get_exterior_ring(shapely.get_parts(geometry))).all())


def _same(one: BaseGeometry, other: BaseGeometry, tolerance: float) -> bool:
    """Corner by corner, wherever the rings start and however they turn."""
    return bool(one.normalize().hausdorff_distance(other.normalize()) < tolerance)


def test_rectangle_on_paper() -> None:
    zone = areas.to_device(make_fit(), (60, 260, 110, 290))
    assert zone.geometry.equals(shapely.box(200, 200, 1200, 800))
    assert _anticlockwise(zone.geometry)
    assert dict(zone.rooms) == pytest.approx({"study": 1.0})
    assert zone.off_floor == pytest.approx(0.0, abs=1e-12)
    assert zone.unit == "mm"
    assert "no safety barrier" in zone.caution


def test_shares_of_rooms_and_floor_on_paper() -> None:
    # Columns 240 to 270, rows 220 to 240: 10 columns in either room, 10 in the wall between.
    zone = areas.to_device(make_fit(), (240, 220, 270, 240))
    assert dict(zone.rooms) == pytest.approx({"study": 1 / 3, "hall": 1 / 3})
    assert zone.off_floor == pytest.approx(1 / 3)
    # The pillar's hole in the study is no floor: 400 by 400 of 1000 by 1000 mm.
    zone = areas.to_device(make_fit(), (90, 220, 140, 270))
    assert zone.rooms["study"] == pytest.approx(1 - 0.16)
    # A line, by its length; points, by their number.
    assert areas.to_device(make_fit(), [(240, 220), (270, 220)]).off_floor == pytest.approx(1 / 3)
    points = shapely.MultiPoint([(60, 290), (300, 250), (600, 20), (61, 290)])
    zone = areas.to_device(make_fit(), points)
    assert list(zone.rooms.items()) == [("study", 0.5), ("hall", 0.25)]
    assert zone.off_floor == 0.25


@pytest.mark.parametrize("mirror", [1, -1])
@given(data=st.data())
def test_any_polygon_is_mapped_as_shapely_maps_it(mirror: int, data: st.DataObject) -> None:
    angles = sorted(data.draw(st.sets(st.integers(0, 359), min_size=3, max_size=9)))
    polygon = shapely.Polygon(
        [
            (300 + 80 * math.cos(math.radians(a)), 200 + 90 * math.sin(math.radians(a)))
            for a in angles
        ]
    )
    if data.draw(st.booleans()):
        polygon = polygon.reverse()
    transform = Affine(TURNED.a, mirror * TURNED.b, 7.0, TURNED.d, mirror * TURNED.e, -9.0)
    fit = make_fit(transform=transform)
    zone = areas.to_device(fit, polygon)
    expected = affinity.affine_transform(polygon, transform.to_shapely())
    assert _same(zone.geometry, expected, 1e-6)
    assert _anticlockwise(zone.geometry)
    # Of arrays the same comes out as of shapely's polygons.
    again = areas.to_device(fit, np.array(polygon.exterior.coords))
    assert shapely.equals(again.geometry, zone.geometry)
    back = areas.to_image(fit, shapely.get_coordinates(zone.geometry))
    assert _same(shapely.Polygon(back), polygon, 1e-9)


class TestMargin:
    def test_grows_a_rectangle_into_a_rectangle(self) -> None:
        zone = areas.to_device(make_fit(), (60, 260, 110, 290), keep_off=50)
        assert zone.geometry.equals_exact(
            shapely.box(150, 150, 1250, 850), tolerance=1e-6, normalize=True
        )
        assert zone.keep_off == 50

    def test_shrinks_with_a_negative_number_until_nothing_is_left(self) -> None:
        zone = areas.to_device(make_fit(), (60, 260, 110, 290), keep_off=-50)
        assert zone.geometry.bounds == pytest.approx((250, 250, 1150, 750))
        with pytest.raises(RegmapError, match="nothing is left of the area 300 mm inside"):
            areas.to_device(make_fit(), (60, 260, 110, 290), keep_off=-300)

    @given(
        st.lists(st.tuples(st.floats(0, 640), st.floats(0, 480)), min_size=3, max_size=6),
        st.floats(1, 500),
    )
    def test_is_kept_everywhere(self, corners: list[tuple[float, float]], margin: float) -> None:
        hull = shapely.MultiPoint(corners).convex_hull
        if hull.geom_type != "Polygon" or hull.area < 1:
            return
        fit = make_fit(transform=TURNED)
        plain = areas.to_device(fit, hull).geometry
        grown = areas.to_device(fit, hull, keep_off=margin).geometry
        # The nearest place outside the grown area is as far as the margin.
        assert plain.distance(grown.boundary) == pytest.approx(margin, rel=1e-6)

    def test_expected_takes_the_error_at_the_worst_corner(self) -> None:
        fit = make_fit()
        corners = np.array([(60, 260), (600, 260), (600, 290), (60, 290)])
        worst = fit.expected_error(corners).max()
        zone = areas.to_device(fit, corners, keep_off="expected")
        assert zone.expected_error == worst == zone.keep_off
        plain = areas.to_device(fit, corners).geometry
        assert plain.distance(zone.geometry.boundary) == pytest.approx(worst)
        assert zone.marked.equals(shapely.box(60, 260, 600, 290))

    def test_of_points_and_lines_makes_polygons(self) -> None:
        assert areas.to_device(make_fit(), (100, 250)).geometry.geom_type == "Point"
        zone = areas.to_device(make_fit(), (100, 250), keep_off=10)
        assert zone.geometry.area == pytest.approx(math.pi * 100, rel=0.02)
        zone = areas.to_device(make_fit(), [(100, 250), (150, 250)], keep_off=10)
        assert zone.geometry.area == pytest.approx(1000 * 20 + math.pi * 100, rel=0.02)
        assert _anticlockwise(zone.geometry)

    @pytest.mark.parametrize("margin", ["much", math.nan, math.inf])
    def test_must_be_a_number_or_expected(self, margin: Any) -> None:
        with pytest.raises(RegmapError, match="keep_off is"):
            areas.to_device(make_fit(), (1, 1, 2, 2), keep_off=margin)


class TestRooms:
    def test_cut_to_one_room_on_paper(self) -> None:
        zone = areas.to_device(make_fit(), (240, 220, 270, 240), rooms="hall")
        assert zone.geometry.equals(shapely.box(4200, 1200, 4400, 1600))
        assert dict(zone.rooms) == pytest.approx({"hall": 1.0})
        assert zone.off_floor == pytest.approx(0.0, abs=1e-12)
        assert _anticlockwise(zone.geometry)

    def test_cut_to_several_gives_several_parts(self) -> None:
        zone = areas.to_device(make_fit(), (240, 220, 270, 240), rooms=["hall", "study"])
        assert zone.geometry.geom_type == "MultiPolygon"
        assert zone.geometry.area == pytest.approx(2 * 200 * 400)
        assert _anticlockwise(zone.geometry)

    def test_the_margin_does_not_leave_the_room(self) -> None:
        zone = areas.to_device(make_fit(), (60, 260, 110, 290), keep_off=500, rooms=["study"])
        assert zone.geometry.bounds == pytest.approx((0, 0, 1700, 1300))
        room = shapely.Polygon(STUDY[0], STUDY[1:])
        assert zone.geometry.difference(room).area == pytest.approx(0, abs=1e-6)

    def test_a_touching_border_leaves_no_line_behind(self) -> None:
        # The room is entered at one end, and its border is touched all along the other.
        area = [(260, 290), (300, 290), (300, 300), (400, 300), (400, 320), (260, 320)]
        zone = areas.to_device(make_fit(), area, rooms="hall")
        assert zone.geometry.equals(shapely.box(4200, 0, 5000, 200))

    def test_lines_and_points_are_cut_too(self) -> None:
        zone = areas.to_device(make_fit(), [(240, 220), (270, 220)], rooms="hall")
        assert zone.geometry.equals(shapely.LineString([(4200, 1600), (4400, 1600)]))
        with pytest.raises(RegmapError, match="nothing of the area lies in hall"):
            areas.to_device(make_fit(), (60, 260), rooms="hall")

    @pytest.mark.parametrize("rooms", ["attic", ["hall", "attic"], []])
    def test_unknown_rooms_are_refused(self, rooms: Any) -> None:
        with pytest.raises(RegmapError, match=r"must be among \['study', 'hall'\]"):
            areas.to_device(make_fit(), (60, 260, 110, 290), rooms=rooms)


def test_a_room_marked_by_its_own_outline_lies_in_it_altogether() -> None:
    """Equal up to rounding: where plain overlays of GEOS 3.14 fail one time in 140 (draw 77)."""
    rng = np.random.default_rng(4)
    for _ in range(100):
        turns = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 9))))
        ring = np.column_stack([np.cos(turns), np.sin(turns)]) * 3000 + [1000, 2000]
        if shapely.Polygon(ring).area < 1e5:
            continue
        fit = make_fit(transform=TURNED, outlines={"den": (ring,)})
        zone = areas.to_device(fit, shapely.Polygon(fit.to_image(ring)))
        assert zone.rooms["den"] == pytest.approx(1, abs=1e-9)
        assert zone.off_floor == pytest.approx(0, abs=1e-9)


def test_room_at() -> None:
    places = [(60, 290), (255, 290), (300, 250), (110, 240), (250, 250), (-5, 7)]
    assert areas.room_at(make_fit(), places) == ("study", None, "hall", None, "study", None)
    assert areas.room_at(make_fit(), (60, 290)) == ("study",)
    assert areas.room_at(make_fit(), np.empty((0, 2))) == ()


def test_room_at_takes_the_smallest_of_overlapping_rooms() -> None:
    small = (np.array([[100, 100], [300, 100], [300, 300], [100, 300]], float),)
    for outlines in ({"a": HALL, "all": STUDY, "nook": small}, {"nook": small, "all": STUDY}):
        assert areas.room_at(make_fit(outlines=outlines), [(60, 290)]) == ("nook",)


def test_an_outline_that_crosses_itself_still_counts() -> None:
    bow = (np.array([[0, 0], [1000, 1000], [1000, 0], [0, 1000]], float),)
    rooms = areas.room_polygons(make_fit(outlines={"bow": bow}))
    assert rooms["bow"].area == pytest.approx(500_000)


@pytest.mark.parametrize("doubt", [{"confidence": 0.6}, {"alternatives": (make_fit(),)}])
def test_doubtful_fits_are_refused_unless_accepted(doubt: dict[str, Any]) -> None:
    fit = make_fit(**doubt)
    area = (60, 260, 110, 290)
    for use in (areas.to_device, areas.to_image, areas.room_at):
        with pytest.raises(DoubtfulFitError) as caught:
            use(fit, area[:2])
        assert caught.value.fit is fit
    assert areas.to_device(fit, area, accept_doubt=True).rooms["study"] == pytest.approx(1)
    assert areas.to_image(fit, [(0, 0)], accept_doubt=True).shape == (1, 2)
    assert areas.room_at(fit, [(0, 0)], accept_doubt=True) == (None,)


@pytest.mark.parametrize(
    ("area", "text"),
    [
        ((10, 10, 10, 20), "has no size"),
        ([(0, 0), (10, 10), (10, 0), (0, 10)], "no clean polygon"),
        ([(0, 0), (1, 1), (0, 0)], "three different corners"),
        ([(0, 0), (1, 1), (2, 2)], "no clean polygon|no size"),
        ([(5, 5), (5, 5)], "no clean polygon|no size"),
        # So short that its length is none in double precision.
        (shapely.LineString([(0, 0), (1e-200, 0)]), "no size"),
        ((1, math.nan), "not finite"),
        (shapely.Point(math.inf, 1), "not finite"),
        (shapely.Polygon(), "empty"),
        (shapely.GeometryCollection([shapely.Point(1, 1)]), "mixture"),
        ([], "is \\[\\], but"),
        ((1, 2, 3), "is \\(1, 2, 3\\), but"),
        ("kitchen", "is 'kitchen', but"),
        (None, "is None, but"),
        ([[1, 2, 3], [4, 5, 6]], "an area is"),
    ],
)
def test_odd_areas_are_refused(area: Any, text: str) -> None:
    with pytest.raises(RegmapError, match=text):
        areas.to_device(make_fit(), area)


def test_heights_are_left_out() -> None:
    zone = areas.to_device(make_fit(), shapely.Point(100, 250, 3))
    assert not zone.geometry.has_z


class TestOffWalls:
    def test_a_rectangle_over_two_rooms_on_paper(self) -> None:
        # The wall between study and hall is 200 mm, so that 50 mm off it leaves a gap of 300 mm.
        zone = areas.to_device(make_fit(), (240, 220, 270, 240), off_walls=50)
        left, right = sorted(shapely.get_parts(zone.geometry), key=lambda part: part.bounds[0])
        assert left.bounds == pytest.approx((3800, 1200, 3950, 1600))
        assert right.bounds == pytest.approx((4250, 1200, 4400, 1600))
        assert zone.off_walls == 50
        assert not zone.leaves_floor

    def test_by_the_expected_error_within_one_room(self) -> None:
        zone = areas.to_device(make_fit(), (40, 220, 70, 310), rooms="study", off_walls="expected")
        error = zone.expected_error
        assert zone.geometry.bounds == pytest.approx((error, error, 400, 1600))
        assert zone.off_walls == error

    def test_what_is_too_narrow_is_told(self) -> None:
        with pytest.raises(RegmapError, match="nothing of the area lies in hall, 1001 mm off"):
            areas.to_device(make_fit(), (260, 200, 400, 300), rooms="hall", off_walls=1001)

    @pytest.mark.parametrize("margin", ["-expected", -1.0, math.nan])
    def test_must_be_a_length_or_expected(self, margin: Any) -> None:
        with pytest.raises(RegmapError, match="off_walls is"):
            areas.to_device(make_fit(), (1, 1, 2, 2), off_walls=margin)


def test_an_area_shrinks_by_its_expected_error() -> None:
    zone = areas.to_device(make_fit(), (60, 260, 110, 290), keep_off="-expected")
    error = zone.expected_error
    assert zone.keep_off == -error
    within = (200 + error, 200 + error, 1200 - error, 800 - error)
    assert zone.geometry.bounds == pytest.approx(within)


@pytest.mark.parametrize(
    ("area", "text"),
    [
        (np.random.default_rng(1).random((900, 2)) * 400, "cross more than 10000 times"),
        (shapely.MultiPoint(np.random.default_rng(1).random((5001, 2))), "has 5001 corners"),
    ],
)
def test_areas_that_take_too_long_are_refused(area: Any, text: str) -> None:
    """Two segments out of four points at random cross in about a quarter of all cases."""
    shape = area if isinstance(area, BaseGeometry) else shapely.LineString(area)
    with pytest.raises(RegmapError, match=text):
        areas.to_device(make_fit(), shape, keep_off=50)


def test_a_line_that_crosses_itself_now_and_then_is_grown() -> None:
    turns = np.linspace(0, 12 * np.pi, 400)
    loops = np.column_stack([200 + 80 * np.cos(turns) + 2 * turns, 200 + 80 * np.sin(turns)])
    line = shapely.LineString(loops)
    grown = areas.to_device(make_fit(), line, keep_off=100)
    # Round caps are drawn as polygons: a little of the margin is missing at most.
    reached = grown.geometry.buffer(2.0).covers(
        shapely.transform(line, make_fit().to_device).buffer(99.0)
    )
    assert reached


def test_a_border_that_runs_to_and_fro_is_given_no_margin() -> None:
    """A comb of 300 teeth, 300 px wide and so high: its border is some 600 times as long."""
    fit = make_fit()
    x = np.repeat(np.arange(600) * 0.5, 2)[1:]
    teeth = np.column_stack([x, np.resize([300.0, 300.0, 1.0, 1.0], len(x))])
    comb = shapely.Polygon(np.vstack([[[0.0, 0.0], [0.0, 300.0]], teeth[1:], [[x[-1], 0.0]]]))
    assert areas.to_device(fit, comb, accept_doubt=True).geometry.is_valid
    with pytest.raises(RegmapError, match="runs to and fro"):
        areas.to_device(fit, comb, keep_off=50.0, accept_doubt=True)
