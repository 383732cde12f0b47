"""Arguments of a wrong kind, for every function that takes them: told in words, never a traceback.

Type hints keep most of it away. Who goes without gets a RegmapError that says what came.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
import shapely
from affine import Affine

import regmap
from regmap import areas, given
from regmap.errors import OutlineError, RegmapError
from regmap.inputs.captures import list_candidates
from regmap.inputs.options import check_options
from regmap.inputs.outlines import as_rings
from regmap.inputs.pictures import read_picture
from regmap.outputs import (
    control_points,
    folder,
    geojson,
    georeference,
    notebook,
    proof,
    sketch,
    whole_files,
)
from regmap.outputs.hand_over import hand_over
from regmap.registration import Registration
from tests.fit_examples import make_fit


class Failing:
    """Something of somebody else's that breaks when it is asked anything."""

    def __getattr__(self, name: str) -> Any:
        raise ZeroDivisionError(name)

    def __iter__(self) -> Any:
        raise ZeroDivisionError("iter")

    def __repr__(self) -> str:
        raise ZeroDivisionError("repr")


LOOP: list[Any] = []
LOOP.append(LOOP)

WRONG: dict[str, Any] = {
    "nothing": None,
    "bytes": b"x",
    "a number": 3.5,
    "nan": math.nan,
    "a long number": 10**5000,
    "a list": [1, "a"],
    "a loop": LOOP,
    "a dict": {"a": 1},
    "a set": {1, 2},
    "a function": print,
    "a class": int,
    "an object": object(),
    "a text array": np.array(["a"]),
    "objects": np.array([None, print], object),
    "dates": np.zeros(3, "M8[s]"),
    "complex": 1j,
    "failing": Failing(),
    "half a letter": "\ud800",
    "a zero byte": "a\0b",
    "a long text": "x" * 100_000,
    "a squeezing map": Affine(0, 0, 0, 0, 0, 0),
    "no polygon": shapely.Polygon(),
}

FIT = make_fit()
PICTURE = np.zeros((480, 640), np.uint8)
FLOOR = {"a": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]}
MARK = (60, 100, 110, 150)
AREA = areas.to_device(FIT, MARK)
BOXES = areas.rectangles(AREA, max_count=1)


def fields(name: str) -> Callable[[Any], object]:
    return lambda value: make_fit(**{name: value}).to_dict()


def first_error(value: Any) -> None:
    for result in regmap.register_many([regmap.Job(PICTURE, value)]):
        assert result.error is not None
        raise result.error


# What nothing of WRONG is right for.
CALLS: dict[str, Callable[[Any], object]] = {
    "register, picture": lambda v: regmap.register(v, FLOOR),
    "register, polygons": lambda v: regmap.register(PICTURE, v),
    "register, tie_points": lambda v: regmap.register(PICTURE, FLOOR, tie_points=v),
    "model": lambda v: check_options(v, None, None, "mm", None),
    "mirrored": lambda v: check_options("affine", _but(v, type(None)), None, "mm", None),
    "identify, floors": lambda v: regmap.identify(PICTURE, v),
    "verify, fit": lambda v: regmap.verify(v, PICTURE),
    "verify, picture": lambda v: regmap.verify(FIT, v),
    "align, old": lambda v: regmap.align_outlines(v, FLOOR),
    "align, ties": lambda v: regmap.align_outlines(FLOOR, FLOOR, tie_points=v),
    "align, unit": lambda v: regmap.align_outlines(FLOOR, FLOOR, unit=v),
    "jobs": lambda v: regmap.register_many(v),
    "a job": lambda v: regmap.register_many([_but(v, list)]),
    "outlines of a job": first_error,
    "name of a job": lambda v: regmap.register_many([regmap.Job(1, 2, _but(v, str))]),
    "options of a job": lambda v: regmap.register_many([regmap.Job(1, 2, "a", _but(v, dict))]),
    "executor": lambda v: regmap.register_many((), cast(Executor, _but(v, type(None)))),
    "load_house": regmap.load_house,
    "load": Registration.load,
    "from_dict": Registration.from_dict,
    "save": lambda v: FIT.save(v),
    "read_outlines": regmap.read_outlines,
    "parse_outlines": regmap.parse_outlines,
    "key": lambda v: regmap.parse_outlines("", key=v),
    "list_candidates": lambda v: list_candidates(_but(v, bytes, str)),
    "to_device, fit": lambda v: areas.to_device(v, MARK),
    "to_device, area": lambda v: areas.to_device(FIT, v),
    "keep_off": lambda v: areas.to_device(FIT, MARK, keep_off=_but(v, float, int)),
    "rooms": lambda v: areas.to_device(FIT, MARK, rooms=_but(v, type(None))),
    "off_walls": lambda v: areas.to_device(FIT, MARK, off_walls=_but(v, float, int)),
    "to_image": lambda v: areas.to_image(v, [[1, 2]]),
    "room_at": lambda v: areas.room_at(v, [[1, 2]]),
    "room_polygons": areas.room_polygons,
    "rectangles": areas.rectangles,
    "rectangles, fit": lambda v: areas.rectangles(AREA, fit=v),
    "rectangles, count": lambda v: areas.rectangles(AREA, max_count=v),
    "points of a fit": FIT.to_device,
    "control points": FIT.control_points,
    "same_as": FIT.same_as,
    "geojson.rooms": geojson.rooms,
    "geojson.drawn_borders": geojson.drawn_borders,
    "geojson.areas": geojson.areas,
    "geojson.areas, one": lambda v: geojson.areas([v]),
    "geojson.rectangles": lambda v: geojson.rectangles(v, unit="mm"),
    "geojson.rectangles, unit": lambda v: geojson.rectangles({"a": BOXES}, unit=_but(v, str)),
    "geojson.moved_areas": geojson.moved_areas,
    "pairs, fit": control_points.to_csv,
    "pairs": lambda v: control_points.to_json(FIT, v),
    "gcps": lambda v: georeference.gcps(FIT, v),
    "world_file": georeference.world_file,
    "world_file_name": lambda v: georeference.world_file_name(_but(v, str)),
    "crs_wkt": georeference.crs_wkt,
    "geotiff": lambda v: georeference.geotiff(FIT, v),
    "robot_map": lambda v: georeference.write_robot_map(FIT, PICTURE, v),
    "hand_over": hand_over,
    "hand_over, formats": lambda v: hand_over(FIT, formats=v),
    "proof": proof.png,
    "proof, picture": lambda v: proof.png(FIT, _but(v, type(None))),
    "notebook": notebook.html,
    "area_picture": lambda v: sketch.area_picture(v, PICTURE, {}),
    "area_picture, areas": lambda v: sketch.area_picture(FIT, PICTURE, v),
    "write_fit": lambda v: folder.write_fit(v, None, "nowhere"),
    "write_files": lambda v: folder.write_files("nowhere", v),
    "write_whole": lambda v: whole_files.write_whole(v, b""),
    "read_picture": read_picture,
    "max_pixels": lambda v: read_picture(PICTURE, max_pixels=_but(v, float, int)),
    "as_rings": as_rings,
    "max_points": lambda v: as_rings(FLOOR, max_points=_but(v, float, int)),
    "transform": fields("transform"),
    "confidence": fields("confidence"),
    "covariance": fields("covariance"),
    "image_size": fields("image_size"),
    "outlines": fields("outlines"),
    "rooms of a fit": fields("rooms"),
    "alternatives": fields("alternatives"),
}


def _but(value: Any, *right: type) -> Any:
    """The value, or an object of no use where the value would be right."""
    return object() if isinstance(value, right) else value


@pytest.mark.parametrize("call", CALLS)
def test_it_is_told(call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for kind, value in WRONG.items():
        text = ""
        try:
            CALLS[call](value)
        except RegmapError as error:
            text = str(error)
        assert 15 < len(text) < 2500, kind
        assert " at 0x" not in text, kind
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_a_long_message_keeps_what_came_and_what_to_do() -> None:
    text = str(OutlineError("outline 'x" + "y" * 10**6 + "' has no area; leave it out"))
    assert text.startswith("outline 'xyyy")
    assert text.endswith("yyy' has no area; leave it out")
    assert len(text) < 2500


def test_what_is_given_comes_back() -> None:
    assert given.real(np.float32(2.5), "a") == 2.5
    assert math.isnan(given.real(math.nan, "a"))
    assert given.whole(np.int8(3), "a") == 3
    assert given.chosen("mm", {"mm": 1}, "a") == "mm"
    assert given.listed(iter("ab"), "a") == ["a", "b"]
    assert given.as_path("a/b", "a") == Path("a/b")
    for none in (True, 0, -1, 2.0):
        with pytest.raises(RegmapError, match="above zero"):
            given.whole(none, "a")
