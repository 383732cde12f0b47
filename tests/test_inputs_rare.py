"""Input that comes seldom: what is taken of it, and what is said of the rest."""

from __future__ import annotations

import io
import json
import struct
import threading
from typing import Any

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image

from regmap.errors import OutlineError, PictureError, RegmapError
from regmap.inputs import pictures
from regmap.inputs.options import as_pairs, check_options
from regmap.inputs.outlines import as_rings
from regmap.inputs.picture_headers import Header, read_header
from regmap.inputs.pictures import read_picture
from regmap.inputs.places import parse_places
from regmap.inputs.stored_areas import parse_marks
from tests.fit_examples import make_fit

NOISE = np.random.default_rng(3).integers(0, 256, (12, 16, 3), dtype=np.uint8)
SQUARE = [[0, 0], [4, 0], [4, 3], [0, 3]]

# --- pictures ------------------------------------------------------------------------------------


def test_a_bmp_with_the_oldest_header() -> None:
    """BITMAPCOREHEADER (12 bytes: size, width, height, planes, bits), rows upwards and padded to
    four bytes, as in the Windows documentation of BITMAPCOREINFO."""
    rows = b"".join(row[:, ::-1].tobytes() for row in NOISE[::-1])
    head = struct.pack("<IHHHH", 12, 16, 12, 1, 24)
    data = b"BM" + struct.pack("<IHHI", 26 + len(rows), 0, 0, 26) + head + rows
    assert read_header(data) == Header("BMP", 16, 12, 3)
    np.testing.assert_array_equal(Image.open(io.BytesIO(data)).convert("RGB"), NOISE)
    np.testing.assert_array_equal(read_picture(data), NOISE)
    with pytest.raises(PictureError, match="cut off"):
        read_header(data[:-1])


def _saved(kind: str) -> bytes:
    file = io.BytesIO()
    Image.fromarray(NOISE).save(file, kind)
    return file.getvalue()


def test_headers_that_do_not_say_what_they_must() -> None:
    tiff = struct.pack("<2sHI", b"II", 42, 8) + struct.pack("<H", 1)
    tiff += struct.pack("<HHII", 256, 3, 1, 16) + b"\0" * 64  # a width alone
    gif = _saved("GIF")
    start = 13 + 3 * 2 ** ((gif[10] & 7) + 1)  # behind the table of colours
    for data, message in (
        (b"\xff\xd8\xff\xd9", "no frame header"),
        (tiff, "does not state its size"),
        (gif[:start] + b"\x07" + gif[start + 1 :], "damaged, or has no picture"),
    ):
        with pytest.raises(PictureError, match=message):
            read_header(data)


@pytest.mark.parametrize("mode", ["P", "CMYK", "HSV", "LAB", "YCbCr"])
def test_image_objects_of_other_kinds_of_colour_are_asked_for_rgb(mode: str) -> None:
    image = Image.fromarray(np.full((12, 16, 3), (200, 90, 40), np.uint8))
    if mode == "LAB":
        image = Image.new("LAB", (16, 12), (128, 128, 128))
    given = image.quantize(16) if mode == "P" else image.convert(mode)
    expected = np.asarray(given.convert("RGB"))
    np.testing.assert_array_equal(read_picture(given), expected)


def test_a_transparent_colour_of_an_image_object_shows_white() -> None:
    image = Image.fromarray(np.full((12, 16, 3), (200, 90, 40), np.uint8)).quantize(16)
    image.info["transparency"] = 0
    index = np.asarray(image)
    read = read_picture(image)
    assert (read[index == 0] == 255).all()


class Dataset:
    """What a rasterio dataset offers, as far as it is asked for."""

    width, height, closed = 16, 12, False
    nodatavals: tuple[Any, ...] = ()

    def __init__(self, bands: NDArray[np.uint8], kinds: list[str], dtype: str = "uint8") -> None:
        self.bands, self.count = bands, len(bands)
        self.dtypes = [dtype] * len(bands)
        self.colorinterp = [type("Kind", (), {"name": kind}) for kind in kinds]

    def read(self, wanted: Any) -> NDArray[np.uint8]:
        return np.asarray(self.bands[np.asarray(wanted) - 1])


def test_bands_of_grey_and_alpha_are_told_from_colours() -> None:
    """A third band, of whatever it is, makes no colour of the two."""
    grey, alpha = NOISE[..., 0], np.where(NOISE[..., 1] > 127, 255, 0).astype(np.uint8)
    expected = np.where(alpha == 255, grey, 255)
    for kinds in (["gray", "alpha"], ["gray", "alpha", "undefined"]):
        bands = np.stack([grey, alpha, NOISE[..., 2]][: len(kinds)])
        np.testing.assert_array_equal(read_picture(Dataset(bands, kinds)), expected)
    colours = Dataset(np.moveaxis(NOISE, -1, 0), ["red", "green", "blue"])
    np.testing.assert_array_equal(read_picture(colours), NOISE)


def test_numbers_that_numpy_has_not_are_refused() -> None:
    """GDAL has complex whole numbers (CInt16), which rasterio calls so."""
    with pytest.raises(PictureError, match=r"complex_int16.*give uint8 or uint16"):
        read_picture(Dataset(NOISE[None, ..., 0], ["gray"], "complex_int16"))


def test_what_the_decoder_throws_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise cv2.error("out of memory")

    monkeypatch.setattr(cv2, "imdecode", fail)
    with pytest.raises(PictureError, match="PNG"):
        read_picture(_saved("PNG"))


def test_of_several_threads_the_last_sets_opencvs_log_level_back() -> None:
    """Whichever of them ends first: in between, OpenCV stays quiet for the other."""
    logging: Any = getattr(cv2.utils, "logging", cv2)  # OpenCV 4.8 has the functions at the top
    before = logging.getLogLevel()
    first_is_in, first_may_go = threading.Event(), threading.Event()

    def first() -> None:
        with pictures._quiet_opencv():
            first_is_in.set()
            first_may_go.wait(10)

    thread = threading.Thread(target=first)
    thread.start()
    first_is_in.wait(10)
    with pictures._quiet_opencv():
        first_may_go.set()
        thread.join(10)
        assert logging.getLogLevel() == pictures._SILENT
    assert logging.getLogLevel() == before


def test_of_a_picture_without_a_row_that_is_seen_all_is_white(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Rows that are masked say nothing of the range of numbers, whatever they hold."""
    monkeypatch.setattr("regmap.inputs.picture_pixels._STRIP", 64)
    values = np.ma.array(np.full((12, 16), 40_000, np.uint16))
    values[:8] = np.ma.masked
    values.data[:8] = 65_535
    read = read_picture(values)
    assert (read[:8] == 255).all()
    assert (read[8:] == round(40_000 / 257)).all()
    values[:] = np.ma.masked
    assert (read_picture(values) == 255).all()


# --- outlines ------------------------------------------------------------------------------------


class Wrapped:
    """An array of somebody else's: no sequence, and numpy can make an array of it."""

    def __init__(self, values: Any) -> None:
        self.values = np.array(values, dtype=np.float64)

    def __array__(self, dtype: Any = None, copy: Any = None) -> NDArray[Any]:
        return self.values if dtype is None else self.values.astype(dtype)


def test_rings_within_arrays_of_somebody_elses() -> None:
    hole = [[1, 1], [2, 1], [2, 2]]
    (alone,) = as_rings([Wrapped(SQUARE)]).values()
    assert [ring.tolist() for ring in alone] == [SQUARE]
    (holed,) = as_rings({"a": [Wrapped(SQUARE), Wrapped(hole)]}).values()
    assert [ring.tolist() for ring in holed] == [SQUARE, hole]


def test_a_collection_as_one_outline_has_several_parts() -> None:
    other = [[x + 9, y] for x, y in SQUARE]
    features = [
        {"type": "Feature", "geometry": {"type": "Polygon", "coordinates": [[*r, r[0]]]}}
        for r in (SQUARE, other)
    ]
    rings = as_rings({"hall": {"type": "FeatureCollection", "features": features}})
    assert list(rings) == ["hall 1", "hall 2"]
    assert rings["hall 2"][0].tolist() == other


@pytest.mark.parametrize("few", [[[1, 2]], [[1, 2], [1, 2], [1, 2]]])
def test_one_point_is_no_outline(few: Any) -> None:
    with pytest.raises(OutlineError, match="fewer than 3 different points"):
        as_rings({"a": few})


def test_rooms_of_another_unit_among_them_are_told() -> None:
    """A thousand kilometres between rooms of three metres, or millimetres beside degrees."""
    for east, north in ((1e9, 0.0), (1e9, 1e9), (0.0, -1e9)):
        far = [[3000 * x + east, 3000 * y + north] for x, y in SQUARE]
        near = [[3000 * x, 3000 * y] for x, y in SQUARE]
        with pytest.raises(OutlineError, match=r"lie 1e\+09 apart, and the largest is 1.2e\+04"):
            as_rings({"a": near, "b": far})
    # A long row of cabins is a floor, and a corridor a room, however thin.
    row = [[[3 * i + x / 2, y] for x, y in SQUARE] for i in range(200)]
    assert len(as_rings(row)) == 200
    corridor = [[0, 0], [100, 0], [100, 1.2], [0, 1.2]]
    assert as_rings([corridor])["room 1"][0].tolist() == corridor


# --- places and areas ----------------------------------------------------------------------------


def test_a_head_line_and_one_place_are_one_place() -> None:
    assert parse_places("x,y\n1,2.5\n").tolist() == [[1.0, 2.5]]


@pytest.mark.parametrize("text", ['[[1, 2], [3, "north"]]', "[[1, 2], [3]]", '[{"x": 1}]'])
def test_lists_that_hold_no_pairs_are_refused(text: str) -> None:
    with pytest.raises(RegmapError, match="pairs of finite numbers"):
        parse_places(text)


@pytest.mark.parametrize(
    ("wish", "value", "allowed"),
    [
        ("rooms", 5, "a name or a list of names"),
        ("rooms", ["hall", 5], "a name or a list of names"),
        ("keep_off", True, 'a number or "expected"'),
        ("off_walls", [1], 'a number or "expected"'),
    ],
)
def test_wishes_of_a_mark_that_are_none(wish: str, value: Any, allowed: str) -> None:
    shape = shapely.geometry.mapping(shapely.Polygon(SQUARE))
    feature = {"type": "Feature", "geometry": shape, "properties": {"name": "rug", wish: value}}
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    with pytest.raises(RegmapError, match=f"{wish} of the area 'rug' is .*{allowed}"):
        parse_marks(text)


# --- options -------------------------------------------------------------------------------------


def test_tie_points_fall_into_places_of_the_picture_and_of_the_robot() -> None:
    image, device = as_pairs([((1, 2), (30, 40)), ((5, 6), (70, 80)), ((9, 10), (110, 120))])
    assert image.tolist() == [[1, 2], [5, 6], [9, 10]]
    assert device.tolist() == [[30, 40], [70, 80], [110, 120]]
    assert [part.shape for part in as_pairs(())] == [(0, 2), (0, 2)]


@pytest.mark.parametrize(
    "pairs",
    [[((1, 2, 3), (4, 5, 6))], [(1, 2, 3, 4)], [((1, 2), (3, "x"))], [((1, 2), (3, np.inf))], 5],
)
def test_tie_points_that_are_no_pairs_are_refused(pairs: Any) -> None:
    with pytest.raises(RegmapError, match="tie_points"):
        as_pairs(pairs)


@pytest.mark.parametrize("mirrored", [True, False, None, np.True_])
def test_a_picture_is_mirrored_or_not_or_nobody_knows(mirrored: Any) -> None:
    check_options("affine", mirrored, None, "mm", None)
    for near in (None, make_fit(), make_fit().transform):
        check_options("affine", mirrored, near, "mm", None)
    with pytest.raises(RegmapError, match="near is"):
        check_options("affine", mirrored, "fit.json", "mm", None)
    for wrong in (1, "yes", 0.0):
        with pytest.raises(RegmapError, match="mirrored is"):
            check_options("affine", wrong, None, "mm", None)
