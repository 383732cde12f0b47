"""What is written and drawn where something is out of the ordinary."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import shapely
from affine import Affine
from numpy.typing import NDArray

from regmap.areas.floor import floor_points
from regmap.batch import BatchResult
from regmap.errors import RegmapError, StoredFileError
from regmap.outputs import drawing, geojson, hand_over, proof_views, sketch, summary, whole_files
from regmap.outputs.batch_folder import BatchFolder
from regmap.outputs.borders import borders
from tests.fit_examples import STUDY, make_fit

Floats = NDArray[np.float64]
PICTURE = np.full((480, 640, 3), 200, np.uint8)


# --- borders -------------------------------------------------------------------------------------


def test_where_a_side_steps_back_both_ends_of_the_step_are_kept() -> None:
    """One straight wall of two thicknesses, 2 px and 6 px; all others are 3 px thick."""
    ring = np.array([[0.0, 0], [30, 0], [60, 0], [60, 40], [0, 40]])
    samples = np.array([[x, -2.0 if x < 30 else -6.0, 0.0] for x in range(3, 60, 3) if x != 30])
    fit = make_fit(
        transform=Affine(10, 0, 0, 0, -10, 0),
        outlines={"kiln": (ring * (10, -10),)},
        wall_offset=30.0,
        residuals=samples,
    )
    ((_, found),) = borders(fit)
    expected = [[-3, -2], [30, -2], [30, -6], [63, -6], [63, 43], [-3, 43]]
    assert found == pytest.approx(np.array(expected, dtype=float))


# --- drawing -------------------------------------------------------------------------------------


def test_dashes_pass_over_corners_that_stand_twice() -> None:
    ring = np.array([[0.0, 0], [0, 0], [40, 0], [40, 30], [40, 30]])
    pieces = list(drawing.dashes(ring, 10, 8))
    assert all(np.hypot(*(end - start)) > 1 for start, end in pieces)
    expected = list(drawing.dashes(ring[[0, 2, 3]], 10, 8))
    np.testing.assert_allclose(pieces, expected)


def test_a_picture_that_cannot_be_encoded_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cv2, "imencode", lambda *_: (False, None))
    with pytest.raises(RegmapError, match="cannot be encoded as PNG"):
        drawing.encoded(PICTURE)


def test_without_the_font_of_opencv_5_letters_are_those_of_ascii(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """OpenCV 4 has no more: a name is written as its nearest letters, and takes their room."""
    monkeypatch.setattr(drawing, "_FACE", None)
    assert drawing.plain("Küche – Œuvre ‘½’ 厨") == "Kuche - Oeuvre '1?2' ?"
    for bold in (False, True):
        one, other = (np.full((40, 200, 3), 255, np.uint8) for _ in range(2))
        drawing.write(one, "Küche", 5, 28, bold=bold)
        drawing.write(other, "Kuche", 5, 28, bold=bold)
        np.testing.assert_array_equal(one, other)
        inked = np.argwhere((one < 128).all(axis=2))
        wide = drawing.text_width("Küche", bold=bold)
        assert wide == drawing.text_width("Kuche", bold=bold)
        assert inked[:, 1].min() >= 5
        assert abs(np.ptp(inked[:, 1]) - wide) <= 6
    assert drawing.text_width("Kuche", size=30) == pytest.approx(2 * wide, abs=4)


# --- pictures of areas and rooms -----------------------------------------------------------------


def test_names_at_one_place_stand_one_below_the_other() -> None:
    box = shapely.box(1000, 1000, 1400, 1400)
    one = sketch.area_picture(make_fit(outlines={}, rooms=()), PICTURE, {"rug": box})
    two = sketch.area_picture(make_fit(outlines={}, rooms=()), PICTURE, {"rug": box, "mat": box})
    changed = np.argwhere((one != two).any(axis=2))
    body = changed[changed[:, 0] < 58 + 480 * 1152 / 640]
    # The second plate is as tall as the first, and below it.
    middle = 58 + (6000 - 1200) / 20 * 1152 / 640
    assert body[:, 0].max() > middle + 12


@pytest.mark.parametrize(
    "shape",
    [
        shapely.Point(1200, 1200),
        shapely.LineString([(1000, 1200), (1400, 1200)]),
        shapely.MultiPoint([(1200, 1200), (1200, 1220)]),
    ],
)
def test_points_and_lines_are_drawn_and_named_at_their_place(shape: Any) -> None:
    fit = make_fit(outlines={}, rooms=())
    drawn = sketch.area_picture(fit, PICTURE, {"dock": shape})
    blank = sketch.area_picture(fit, PICTURE, {"dock": shapely.Point(90_000, 0)})
    changed = np.argwhere((drawn != blank).any(axis=2))
    place = np.array([24 + (1200 + 1000) / 20 * 1.8, 58 + (6000 - 1200) / 20 * 1.8])
    assert np.abs(changed.mean(axis=0)[::-1] - place).max() < 25
    # What lies off the picture is named nowhere in it.
    assert (blank[58 : 58 + 480, 24 : 24 + 640] == blank[60, 30]).all()


def test_a_long_name_of_a_room_is_cut_to_its_tile() -> None:
    name = "the long passage behind the folio cabinets and the map chests"
    fit = make_fit(outlines={name: STUDY}, rooms=(), residuals=np.empty((0, 3)))
    width = 2 * proof_views.MAGNIFICATION * proof_views.TILE_PX + 20
    tiles = proof_views.corner_tiles(fit, PICTURE, width)
    size = proof_views.MAGNIFICATION * proof_views.TILE_PX
    assert tiles.shape[0] > size
    # Between the two tiles of a row nothing is written.
    assert (tiles[:20, size + 2 : width - size - 2] == 255).all()
    assert (tiles[:20, :size] < 128).any()


def test_without_rooms_there_are_no_corners_to_show() -> None:
    fit = make_fit(outlines={}, rooms=())
    assert proof_views.corners_far_apart(fit) == []
    assert len(proof_views.corner_tiles(fit, PICTURE, 400)) == 30


# --- words and figures ---------------------------------------------------------------------------


def test_rooms_too_narrow_for_a_grid_count_by_their_corners() -> None:
    """A slanted hose, between the points of the grid."""
    hose = np.array([[0, 0], [4000, 2600], [3999, 2602], [-1, 2]], dtype=float)
    fit = make_fit(outlines={"hose": (hose,)}, rooms=())
    found = floor_points(fit, count=3)
    np.testing.assert_allclose(fit.to_device(found), hose, atol=1e-9)


def test_another_position_is_told_with_its_size() -> None:
    larger = make_fit(transform=Affine(25.0, 0.0, -1000.0, 0.0, -25.0, 6000.0))
    fit = make_fit(alternatives=(larger, make_fit()))
    said = summary.Summary.of(fit).others
    assert "1.25 times the size" in said[0]
    assert "times the size" not in said[1]


# --- files ---------------------------------------------------------------------------------------


def test_a_format_that_was_asked_for_needs_its_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without being asked for, it is left out and told."""

    def missing(*_: object) -> None:
        raise ModuleNotFoundError("No module named 'rasterio'", name="rasterio")

    monkeypatch.setitem(hand_over._MAKERS, "geotiff", missing)
    with pytest.raises(ModuleNotFoundError):
        hand_over.hand_over(make_fit(), PICTURE, formats="geotiff")
    handed = hand_over.hand_over(make_fit(), PICTURE)
    assert handed.left_out["geotiff"] == "rasterio is not installed here"
    assert handed.files


def test_no_areas_are_no_collection() -> None:
    with pytest.raises(RegmapError, match="no areas were carried over"):
        geojson.moved_areas([])


def test_an_old_result_of_a_batch_that_cannot_be_removed_is_told(tmp_path: Path) -> None:
    batch = BatchFolder(tmp_path)
    batch.fit_path("floor").mkdir()
    with pytest.raises(StoredFileError, match=r"floor\.json: "):
        batch.write(BatchResult("floor", make_fit(), None, 1.0), "content")


@pytest.mark.parametrize("there", [False, True])
def test_without_hard_links_a_file_is_written_and_none_replaced(
    there: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some network drives and memory cards know none. Another program may be quicker."""
    path = tmp_path / "fit.json"

    def refused(*_: object, **__: object) -> None:
        if there:
            path.write_bytes(b"mine")
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refused)
    if there:
        with pytest.raises(StoredFileError, match="there already"):
            whole_files.write_whole(path, b"new")
        assert path.read_bytes() == b"mine"
    else:
        whole_files.write_whole(path, b"new")
        assert path.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["fit.json"]


def test_another_program_that_is_quicker_keeps_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, real = tmp_path / "fit.json", os.link

    def late(draft: Any, target: Any) -> None:
        path.write_bytes(b"mine")
        real(draft, target)

    monkeypatch.setattr(os, "link", late)
    with pytest.raises(StoredFileError, match="there already"):
        whole_files.write_whole(path, b"new")
    assert path.read_bytes() == b"mine"
    assert os.listdir(tmp_path) == ["fit.json"]


@pytest.mark.parametrize("value", [{1, 2}, float("nan"), [[float("inf")]]])
def test_what_is_no_json_is_told(value: Any) -> None:
    with pytest.raises(StoredFileError, match="cannot be spelled as JSON"):
        whole_files.json_text(value)
