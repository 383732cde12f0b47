"""Outlines that are odd, broken or meant to do harm: an answer or a clear error, and precision."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from functools import reduce
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import shapely
import yaml
from click.testing import CliRunner
from numpy.typing import NDArray

import regmap
from regmap.cli import main
from regmap.engine.walls import build_walls, sample_walls
from regmap.errors import NoFitError, OutlineError
from regmap.inputs.outline_shapes import read_shapes
from regmap.inputs.outlines import MAX_LENGTH, _free_name, as_rings
from regmap.outputs import control_points, geojson, notebook, proof
from regmap.registration import Registration
from tests.fit_examples import HALL, STUDY, make_fit

SQUARE = np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], float)
POLYGON = {"type": "Polygon", "coordinates": [SQUARE.tolist()]}


def circle(count: int) -> NDArray[np.float64]:
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return 1e4 * np.column_stack([np.cos(angle), np.sin(angle)])


def wrapped(depth: int, wrap: Callable[[Any], Any]) -> Any:
    return reduce(lambda inner, _: wrap(inner), range(depth), POLYGON)


def rows_of(count: int) -> dict[str, Any]:
    return {f"r{i}": SQUARE + np.array([i % 50 * 4000, i // 50 * 3000]) for i in range(count)}


class Failing:
    """Something of somebody else's that breaks when it is asked."""

    @property
    def __geo_interface__(self) -> dict[str, Any]:
        raise ZeroDivisionError("out of order")


LOOP: dict[str, Any] = {"type": "Feature"}
LOOP["geometry"] = LOOP

REFUSED: dict[str, tuple[Any, str]] = {
    "1e300": (SQUARE * 1e300, "has a coordinate of 4e.303"),
    "infinity": ([[0, 0], [math.inf, 0], [1, 1]], "not finite"),
    "no area": (SQUARE * [1, 0] + SQUARE[:, ::-1] * [1, 0], "has no area"),
    "nearly no area": (SQUARE * [1, 1e-16], "has no area"),
    "denormal": (SQUARE * 1e-320, "has no area"),
    "bow-tie": (SQUARE[[0, 2, 1, 3]], "crosses itself"),
    "two by a point": ([[0, 0], [4, 0], [2, 2], [4, 4], [0, 4], [2, 2]], "into 2 pieces"),
    "a scribble": (circle(20_000)[np.arange(20_000) * 7919 % 20_000], "runs to and fro"),
    "a star": (circle(20_000) * np.tile([[1.0], [0.4]], (10_000, 1)), "6000 times as long"),
    "many crossings": (circle(200)[np.arange(200) * 77 % 200], "crosses itself all over"),
    "a million corners": (np.random.default_rng(0).random((10**6, 2)), "1000000 points"),
    "a hole elsewhere": ([SQUARE, SQUARE + 9000], "Hole lies outside shell"),
    "text": ([["0", "0"], ["1", "0"], ["1", "1"]], "not a list of"),
    "text array": (SQUARE.astype(str), "no numbers"),
    "dates": (np.zeros((4, 2), "M8[s]"), "no numbers"),
    "objects": (np.array([[print, 1], [1, 2], [3, 4]], object), "not a list of"),
    "fields": (np.zeros(4, [("x", float), ("y", float)]), "not a list of"),
    "a number of 400 digits": ([[10**400, 0], [1, 0], [1, 1]], "too large"),
    "a part without a ring": (
        {"type": "MultiPolygon", "coordinates": [[SQUARE.tolist()], []]}, "a part without a border"
    ),
    "deep lists": (json.loads("[" * 50 + "1" + "]" * 50), "not a list of"),
    "deep features": (wrapped(5000, lambda g: {"type": "Feature", "geometry": g}), "Recursion"),
    "deep collections": (
        wrapped(5000, lambda g: {"type": "FeatureCollection", "features": [g]}), "Recursion|no out"
    ),
    "a loop": (LOOP, "Recursion"),
    "out of order": (Failing(), "out of order"),
    **{
        f"GeoJSON {number}": (geometry, "GeoJSON|give an|without an area|list of")
        for number, geometry in enumerate(
            [
                {"type": "Polygon", "coordinates": 5},
                {"type": "Polygon", "coordinates": [5]},
                {"type": "Polygon", "coordinates": [[5]]},
                {"type": "Polygon", "coordinates": {"a": 1}},
                {"type": "MultiPolygon", "coordinates": [5]},
                {"type": "LineString", "coordinates": [5, 5, 5, 5]},
                {"type": "GeometryCollection", "geometries": [5]},
                {"type": "GeometryCollection", "geometries": [{"type": 5}]},
                {"type": "FeatureCollection", "features": 5},
                {"type": "FeatureCollection", "features": [5]},
                {"type": "FeatureCollection", "features": [{"geometry": 5}]},
                {"type": "FeatureCollection", "features": [{"properties": 5, "geometry": POLYGON}]},
            ]
        )
    },
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSED)
def test_what_is_refused(kind: str) -> None:
    outline, message = REFUSED[kind]
    with pytest.raises(OutlineError, match=message) as caught:
        as_rings(outline if isinstance(outline, dict) else {"a": outline})
    assert len(str(caught.value)) < 500


@pytest.mark.parametrize(
    ("polygons", "rooms", "points"),
    [
        ({"a": circle(10**6)}, 1, 20_000),
        (rows_of(2000), 2000, 8000),
        ({str(i): SQUARE for i in range(2000)}, 1, 4),
        ({str(i): SQUARE * (1 - i / 300) for i in range(200)}, 200, 800),  # nested
        ({str(i): SQUARE + i for i in range(50)}, 50, 200),  # overlapping
        ({"a": [SQUARE, SQUARE / 2]}, 1, 6),  # a hole at the border is none
        ({"a": np.array(POLYGON["coordinates"])}, 1, 4),
        ({"type": "Polygon", "coordinates": np.array(POLYGON["coordinates"])}, 1, 4),
        (shapely.GeometryCollection([shapely.box(0, 0, 9, 9), shapely.Point(0, 0)]), 1, 4),
        ({None: SQUARE, (1, 2): SQUARE + 1, math.nan: SQUARE + 2, "\ud800<\0": SQUARE + 3}, 4, 16),
    ],
)
def test_what_is_taken(polygons: Any, rooms: int, points: int) -> None:
    found = as_rings(polygons)
    assert len(found) == rooms
    assert all(isinstance(name, str) for name in found)
    assert sum(len(ring) for rings in found.values() for ring in rings) <= points


def test_three_points_that_differ_are_counted_as_numpy_counts_them() -> None:
    rng = np.random.default_rng(6)
    too_few = []
    for _ in range(300):
        ring = rng.integers(0, 2, (rng.integers(3, 7), 2)).astype(float)
        said = ""
        try:
            as_rings({"a": ring})
        except OutlineError as error:
            said = str(error)
        too_few.append("fewer than 3 different points" in said)
        assert too_few[-1] == (len(np.unique(ring, axis=0)) < 3)
    assert {*too_few} == {True, False}


def test_all_rings_together_are_bounded() -> None:
    with pytest.raises(OutlineError, match="800 points together; at most 500"):
        as_rings(rows_of(200), max_points=100)


def test_outlines_and_holes_are_counted_before_they_are_looked_at() -> None:
    with pytest.raises(OutlineError, match="2001 outlines came, and at most 2000"):
        as_rings([SQUARE * np.nan] * 2001)
    with pytest.raises(OutlineError, match="11 holes came, and at most 10"):
        as_rings({"a": [SQUARE] * 12}, max_rooms=10)
    with pytest.raises(OutlineError, match="2001 points came, and at most 2000"):
        as_rings({"a": np.full((2001, 2), np.nan)}, max_points=20)
    with pytest.raises(OutlineError, match="max_rooms is 0"):
        as_rings({"a": SQUARE}, max_rooms=0)


def test_a_border_may_be_long_but_not_run_to_and_fro() -> None:
    """A comb of 200 teeth, each 1 wide and some high: that many times as long as it is wide."""
    for high, fine in ((100.0, True), (300.0, False)):
        x = np.repeat(np.arange(400.0), 2)[1:]
        teeth = np.column_stack([x, np.resize([high, high, 1.0, 1.0], len(x))])
        ring = np.vstack([[[0.0, 0.0]], [[0.0, high]], teeth[1:], [[x[-1], 0.0]]])
        along = np.abs(ring - np.roll(ring, -1, axis=0)).sum() / np.ptp(ring, axis=0).max()
        assert (along <= MAX_LENGTH) == fine
        if fine:
            assert len(as_rings({"a": ring})) == 1
        else:
            with pytest.raises(OutlineError, match="runs to and fro"):
                as_rings({"a": ring})


def test_rooms_of_one_name_are_counted() -> None:
    """Each once, and no number twice: "a 3" was given as well."""
    feature = {"type": "Feature", "geometry": POLYGON, "properties": {"name": "a"}}
    other = {**feature, "properties": {"name": "a 3"}}
    many = {"type": "FeatureCollection", "features": [feature, other] + [feature] * 3}
    shapes = [(name, [[SQUARE + i]]) for i, (name, _) in enumerate(read_shapes(many))]
    taken: dict[str, int] = {}
    assert [_free_name(name, taken) for name, _ in shapes] == ["a", "a 3", "a 2", "a 4", "a 5"]


def test_rooms_that_cannot_be_on_one_floor() -> None:
    with pytest.raises(OutlineError, match="in one frame and one unit"):
        as_rings([SQUARE, SQUARE + 9e12])


def test_very_many_short_walls_are_sampled_and_not_all_taken() -> None:
    walls = build_walls([(ring,) for ring in rows_of(2000).values()])
    some = sample_walls(walls, 100)
    assert 90 <= len(some.point) <= 110
    # They spread over the whole floor: each quarter of it has its share.
    quarter = (some.point > 0) @ [1, 2]
    assert (np.bincount(quarter, minlength=4) > 10).all()


def test_corners_that_no_picture_shows_are_spared() -> None:
    centres = np.array([[i % 25 * 5e3, i // 25 * 5e3] for i in range(500)])
    rings: list[tuple[NDArray[np.float64], ...]] = [(circle(60) * 0.2 + c,) for c in centres]
    walls = build_walls(rings)
    assert 4000 < len(walls.start) < 20_000
    start, end = (
        own @ walls.linear.T + walls.origin - centres[walls.room]
        for own in (walls.start, walls.end)
    )
    half_diagonal = np.hypot(*walls.linear[0])
    # The corners that are left are corners of before, and no wall leaves the circle by more than
    # a quarter of a pixel of a picture of 4,000 px.
    assert np.hypot(*start.T) == pytest.approx(2000.0, abs=1e-6 * half_diagonal)
    middle = np.hypot(*(0.5 * (start + end)).T)
    assert 2000.0 - middle.min() < half_diagonal / 2**13 + 2000.0 * (1 - np.cos(np.pi / 60))
    # Of fewer rings all corners stay.
    assert len(build_walls(rings[:300]).start) == 18_000


# --- precision ------------------------------------------------------------------------------------

FLOOR = {
    "hall": SQUARE,
    "bay": np.array([[4, 0], [8, 0], [8, 5], [6, 5], [6, 3], [4, 3]], float) * 1000,
    "shed": np.array([[0, 3], [6, 3], [6, 6], [3, 6], [3, 5], [0, 5]], float) * 1000,
}


def picture() -> NDArray[np.uint8]:
    """The floor at 10 mm a pixel, (x, y) at column 50 + x / 10, row 650 - y / 10."""
    image = np.full((700, 900, 3), 255, np.uint8)
    for number, ring in enumerate(FLOOR.values()):
        corners = np.rint([50, 650] + ring * [0.1, -0.1]).astype(np.int32)
        cv2.fillPoly(image, [corners - [[0, 0]]], (90 + 60 * number, 180, 250 - 50 * number))
        cv2.polylines(image, [corners], True, (0, 0, 0), 2)
    return image


@pytest.mark.parametrize(
    ("scale", "offset"), [(1, (1e12, -1e12)), (1e-3, (0, 0)), (1e-3, (1e9, 3e8)), (1e5, (0, 1e12))]
)
@pytest.mark.filterwarnings("default::regmap.errors.DoubtfulFitWarning")
def test_precision_is_kept_far_from_the_origin(scale: float, offset: tuple[float, float]) -> None:
    image, places = picture(), np.array([[50.0, 650.0], [850, 150], [400, 300]])
    near = regmap.register(image, FLOOR).to_device(places) * scale
    moved = {name: ring * scale + offset for name, ring in FLOOR.items()}
    far = regmap.register(image, moved).to_device(places) - offset
    step = np.spacing(np.abs(offset).max())
    # A picture's pixel is 10 mm: a millionth of the floor, and what doubles can tell apart there.
    np.testing.assert_allclose(far, near, atol=1e-6 * 8000 * scale + 4 * step)


# --- names ----------------------------------------------------------------------------------------

NAMES = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>&amp;'",
    "../../etc/passwd",
    "C:\\con\\aux|nul",
    "=1+1",
    " @SUM(1)",
    "-2+3|\' /C calc\'!A0",
    "\t=1",
    "a,b;c\td",
    'say "no"',
    "one\ntwo\r\nthree: - # x",
    "\x1b[31mred\x1b[0m\x07",
    "\u202egnp.exe\u202c",
    "غرفة المعيشة",
    "חדר שינה",
    "e\u0301\u0302\u0303\u0304" * 9,
    "\ufeff\u200b\u2028\u2029\x00\x7f\x85",
    "{{7*7}} ${x} %s %(a)s {0}",
    "null",
    "1e9",
    "!!python/object:os.system",
    "x" * 5000,
]  # fmt: skip


class Tags(HTMLParser):
    """Collects the tags of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags.add(tag)


@pytest.mark.parametrize("name", NAMES)
def test_names_come_through_every_output_as_they_are(name: str, tmp_path: Path) -> None:
    fit = make_fit(outlines={name: STUDY, "hall": HALL}, reasons=(name,))
    fit = make_fit(
        outlines=fit.outlines,
        reasons=(name,),
        rooms=tuple(
            type(room)(own, "disagrees", 0.5, 1.0, 0.5, 1.0, room.label_px)
            for own, room in zip((name, "hall"), fit.rooms, strict=True)
        ),
    )
    fit.save(tmp_path / "fit.json")
    again = Registration.load(tmp_path / "fit.json")
    assert list(again.outlines) == [name, "hall"]
    assert again.reasons == (name,)
    named = {pair.name for pair in fit.control_points(6)}
    assert any(pair.startswith(name) for pair in named)
    table = control_points.to_csv(fit, 6).encode("utf-8")
    (tmp_path / "pairs.csv").write_bytes(table)
    with (tmp_path / "pairs.csv").open(newline="", encoding="utf-8") as file:
        cells = {row["name"] for row in csv.DictReader(file)}
    assert {cell.removeprefix("'") for cell in cells} == named
    # A spreadsheet takes these for a formula, even behind spaces.
    assert not [cell for cell in cells if cell.lstrip(" ")[:1] in tuple("=+-@\t\r\n")]
    pairs = yaml.safe_load(control_points.to_yaml(fit, 6))
    assert {row["name"] for row in pairs["pairs"]} == named
    features = json.loads(json.dumps(geojson.rooms(fit)))["features"]
    assert features[0]["properties"]["name"] == name
    for page in (notebook.html(fit), fit._repr_html_()):
        parser = Tags()
        parser.feed(page)
        assert not parser.tags & {"script"}
        assert page.count("<img") == 1
    assert cv2.imdecode(np.frombuffer(proof.png(fit), np.uint8), 1) is not None
    assert sorted(path.name for path in tmp_path.iterdir()) == ["fit.json", "pairs.csv"]


def test_names_do_not_reach_the_terminal_raw(tmp_path: Path) -> None:
    path = tmp_path / "capture.json"
    rooms = {name: ring.tolist() for name, ring in zip(NAMES, FLOOR.values(), strict=False)}
    rooms |= {"\x07owned\x08\x9b2J": (SQUARE + 9000).tolist()}
    rooms |= {"\x1b]0;a title\x07den\x1b[2J": (SQUARE + 19000).tolist()}
    path.write_text(json.dumps({"rooms": rooms}))
    shown = CliRunner().invoke(main, ["outlines", str(path)], color=True)
    assert shown.exit_code == 0
    assert "owned" in shown.output
    assert "den" in shown.output
    assert "\x1b]" not in shown.output
    assert not {"\x07", "\x08", "\x9b"} & set(shown.output)


@pytest.mark.filterwarnings("default::regmap.errors.DoubtfulFitWarning")
@pytest.mark.parametrize(
    "polygons",
    [
        {"a": [[0, 0], [1, 0], [0, 1]]},
        {"a": [[0, 0], [1e6, 0], [1e6, 1e-4], [0, 1e-4]]},
        {"a": SQUARE * 1e6, "b": SQUARE + 1e9, "c": SQUARE * 1e-3},
        {"a": SQUARE * 2e9, "b": SQUARE * 1e9},
        {"a": SQUARE * 1e-30},
        {str(i): SQUARE * (1 - i / 50) for i in range(40)},
    ],
)
def test_odd_floors_are_no_sure_fit(polygons: Any) -> None:
    try:
        fit: Registration | None = regmap.register(picture(), polygons)
    except NoFitError as error:
        fit = error.best
    assert fit is not None
    assert fit.doubtful
