"""Pictures of areas: what is drawn lies where arithmetic puts it."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap import areas
from regmap.floors import align_outlines
from regmap.outputs import sketch
from regmap.outputs.drawing import BLUE, ORANGE
from tests.fit_examples import make_fit

Image: TypeAlias = NDArray[np.uint8]

PICTURE = np.full((480, 640, 3), 200, np.uint8)
PICTURE[0, 0] = 0  # two tones
PICTURE[-1, -1] = 255
SCALE = 1152 / 640  # the picture is enlarged to 1200 px less two margins
LEFT, TOP = 24, 58


def _like(image: Image, colour: tuple[int, int, int]) -> NDArray[np.bool_]:
    off = np.abs(image.astype(int) - np.array(colour)).max(axis=-1)
    return np.asarray(off < 12, dtype=np.bool_)


def _box_of(mask: NDArray[np.bool_]) -> list[float]:
    rows, columns = np.nonzero(mask)
    ends = (columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)
    px = (np.array(ends) - [LEFT, TOP, LEFT, TOP]) / SCALE
    return [float(v) for v in px]


def _body(image: Image) -> Image:
    """The picture without the legend below it."""
    cut: Image = image.copy()
    cut[TOP + round(480 * SCALE) :] = 255
    return cut


def test_an_area_is_drawn_where_it_lies() -> None:
    zone = areas.to_device(make_fit(), (60, 260, 110, 290), keep_off=400)
    drawn = sketch.area_picture(make_fit(), PICTURE, {"rug": zone})
    # 400 mm are 20 px.
    assert _box_of(_like(_body(drawn), ORANGE)) == pytest.approx([40, 240, 130, 310], abs=1.5)
    inside = drawn[TOP + round(250 * SCALE), LEFT + round(50 * SCALE)].astype(int)
    assert inside[0] - inside[2] > 50  # tinted


def test_rectangles_and_a_path_are_drawn_where_they_lie() -> None:
    boxes = areas.rectangles(shapely.box(200, 200, 1200, 800), fit="cover")
    shape = {"rug": shapely.box(200, 200, 1200, 800)}
    drawn = sketch.area_picture(make_fit(), PICTURE, shape, {"rug": boxes})
    assert _box_of(_like(_body(drawn), BLUE)) == pytest.approx([60, 260, 110, 290], abs=1.5)
    way = np.array([[200.0, 200.0], [3000.0, 200.0]])
    drawn = sketch.area_picture(make_fit(), PICTURE, {}, path=way)
    found = _box_of(_like(_body(drawn), BLUE))
    assert found[:1] + found[2:3] == pytest.approx([60, 200], abs=4)


def test_grey_pictures_do_as_well() -> None:
    drawn = sketch.area_picture(make_fit(), PICTURE[..., 0], {})
    assert drawn.shape[2] == 3


def test_a_change_is_drawn_upright_and_names_what_is_lost() -> None:
    rooms = {
        "loom": [[0, 0], [5200, 0], [5200, 2600], [3100, 2600], [3100, 4100], [0, 4100]],
        "dyeing": [[3200, 2700], [7900, 2700], [7900, 6900], [3200, 6900]],
        "stairs": [[5300, 0], [9600, 0], [9600, 2600], [5300, 2600]],
        "wool": [[0, 4200], [3100, 4200], [3100, 6900], [0, 6900]],
    }
    later = {name: ring for name, ring in rooms.items() if name != "wool"}
    change = align_outlines(rooms, later)
    moved = change.areas({"bales": shapely.box(200, 4400, 2000, 6000)})
    assert [area.lost for area in moved] == [True]
    with_it, without = sketch.change_picture(change, moved), sketch.change_picture(change)
    # 9600 by 6900 mm on 1104 px of width.
    scale = 1104 / 9600
    row, column = 58 + 24 + (6900 - 5800) * scale, 24 + 24 + 400 * scale
    there = with_it[round(row), round(column)].astype(int)
    assert there[0] - there[2] > 20  # reddish
    assert (without[round(row), round(column)] > 230).all()
    assert with_it.shape[0] == without.shape[0] + 2 * 22  # two more lines of legend


def test_a_capture_is_drawn_to_scale_with_y_upwards() -> None:
    rooms = [("low", np.array([(0.0, 0), (4, 0), (4, 2), (0, 2)]))]
    other = [("way", np.array([(0.0, 2.0), (4, 4), (4, 8)]))]
    alone, both = sketch.capture_picture(rooms), sketch.capture_picture(rooms, other)
    assert both.shape[0] > alone.shape[0]  # the way reaches twice as high
    blue = (both == np.array(BLUE, np.uint8)).all(axis=2)
    assert blue.any()
    assert not (alone == np.array(BLUE, np.uint8)).all(axis=2).any()
    body = both[60:900]
    white = np.flatnonzero((body[:, 100:600] == 255).all(axis=2).mean(axis=1) > 0.5)
    assert white.mean() > 0.6 * len(body)  # the room lies at the bottom
    assert sketch.capture_picture([]).ndim == 3
