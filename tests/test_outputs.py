"""What is written, read back by general libraries."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import rasterio
import shapely
import yaml
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from rasterio.io import MemoryFile

from regmap import areas, frames
from regmap.errors import DoubtfulFitError, PictureError, RegmapError, StoredFileError
from regmap.outputs import control_points, geojson, georeference
from regmap.pairs import ControlPoint
from regmap.registration import Registration
from tests.fit_examples import TURNED, UPRIGHT, make_fit

NAMES = ["Küche", '"yes"', "no", "12", "a: b # c", "", "\U0001f6cb\n\t\x07\x85", "=1+1,;'", "~"]
PAIRS = [
    ControlPoint(name, (10.0 + i, 1 / 3 + i * i), (-1e-7 * i, 1e20 / 3 + i))
    for i, name in enumerate(NAMES)
]


def _picture() -> np.ndarray:
    return np.random.default_rng(0).integers(0, 256, (480, 640, 3), np.uint8)


class TestControlPoints:
    @pytest.mark.parametrize(
        ("spell", "read"),
        [
            (control_points.to_json, json.loads),
            (control_points.to_yaml, yaml.safe_load),
        ],
    )
    def test_objects_come_back_bit_by_bit(
        self, spell: Callable[..., str], read: Callable[[str], Any]
    ) -> None:
        found = read(spell(make_fit(unit="mm"), PAIRS))
        assert (found["unit"], found["image_width"], found["image_height"]) == ("mm", 640, 480)
        for pair, row in zip(PAIRS, found["pairs"], strict=True):
            assert row == {
                "name": pair.name,
                "image_column": pair.image[0],
                "image_row": pair.image[1],
                "device_x": pair.device[0],
                "device_y": pair.device[1],
            }

    def test_csv_comes_back_bit_by_bit(self) -> None:
        rows = list(csv.reader(io.StringIO(control_points.to_csv(make_fit(), PAIRS), newline="")))
        assert rows[0] == list(control_points.KEYS)
        for pair, row in zip(PAIRS, rows[1:], strict=True):
            # What a spreadsheet would take for a formula has an apostrophe before it.
            assert row[0] == ("'=1+1,;'" if pair.name == "=1+1,;'" else pair.name)
            assert [float(value) for value in row[1:]] == [*pair.image, *pair.device]

    @given(st.text(st.characters(exclude_categories=["Cs"])), st.floats(allow_nan=False))
    def test_yaml_spells_any_text_and_number(self, text: str, number: float) -> None:
        if math.isinf(number):
            return
        pair = ControlPoint(text, (number, 0.0), (0.0, -number))
        (row,) = yaml.safe_load(control_points.to_yaml(make_fit(unit=text), [pair]))["pairs"]
        assert row["name"] == text
        assert (row["image_column"], row["device_y"]) == (number, -number)
        assert isinstance(row["image_column"], float)

    @pytest.mark.parametrize("transform", [UPRIGHT, TURNED])
    @pytest.mark.parametrize("n", [3, 5])
    def test_a_transform_made_of_the_pairs_is_the_fit(self, transform: Affine, n: int) -> None:
        """Within 0.01 px anywhere on the picture, by rasterio and by the package's own fit."""
        fit = make_fit(transform=transform)
        rows = json.loads(control_points.to_json(fit, n))["pairs"]
        image = [(row["image_column"], row["image_row"]) for row in rows]
        device = [(row["device_x"], row["device_y"]) for row in rows]
        ends = np.array([(0, 0), (640, 0), (640, 480), (0, 480)])
        own = frames.fit_affine(image, device)
        theirs = rasterio.transform.from_gcps(georeference.gcps(fit, n))
        for found in (own, theirs):
            gap = fit.to_image(frames.apply(found, ends)) - ends
            assert np.abs(gap).max() < 0.01

    def test_file_endings(self, tmp_path: Path) -> None:
        fit = make_fit()
        for ending in ("json", "yaml", "yml", "csv", "txt"):
            control_points.write(fit, tmp_path / f"pairs.{ending}")
        names = [pair.name for pair in fit.control_points(4)]
        for ending in ("json", "yaml"):
            found = yaml.safe_load((tmp_path / f"pairs.{ending}").read_text("utf-8"))
            assert [row["name"] for row in found["pairs"]] == names
        assert (tmp_path / "pairs.txt").read_text("utf-8").startswith("-gcp ")
        assert (tmp_path / "pairs.csv").read_bytes().count(b"\r\n") == 5
        with pytest.raises(StoredFileError, match="is there already"):
            control_points.write(fit, tmp_path / "pairs.csv")
        control_points.write(fit, tmp_path / "pairs.csv", 5, overwrite=True)
        with pytest.raises(RegmapError, match=r"'\.xls', but it must be among"):
            control_points.write(fit, tmp_path / "pairs.xls")

    def test_half_a_surrogate_pair_is_refused_by_name(self, tmp_path: Path) -> None:
        pair = ControlPoint("\ud800", (0, 0), (0, 0))
        with pytest.raises(StoredFileError, match="surrogates"):
            control_points.write(make_fit(), tmp_path / "pairs.csv", [pair])
        control_points.write(make_fit(), tmp_path / "pairs.json", [pair])
        found = json.loads((tmp_path / "pairs.json").read_text("utf-8"))
        assert found["pairs"][0]["name"] == "\ud800"


class TestGeoTiff:
    @pytest.mark.parametrize("transform", [UPRIGHT, TURNED, Affine(15, 2, 3, 1, 25, 9)])
    def test_colour_picture_lies_where_the_fit_says(
        self, tmp_path: Path, transform: Affine
    ) -> None:
        fit, picture = make_fit(transform=transform), _picture()
        georeference.write_geotiff(fit, picture, tmp_path / "floor.tif")
        with rasterio.open(tmp_path / "floor.tif") as raster:
            assert np.array_equal(np.moveaxis(raster.read(), 0, -1), picture)
            for px in ((0.5, 0.5), (639.5, 0.5), (320.5, 479.5)):
                xy = raster.xy(px[1] - 0.5, px[0] - 0.5)
                assert fit.to_image(xy)[0] == pytest.approx(px, abs=1e-6)
            assert raster.crs is not None
            assert not raster.crs.is_geographic
            assert raster.tags()["DEVICE_FRAME_WKT"] == georeference.crs_wkt("mm")
            assert raster.tags()["AREA_OR_POINT"] == "Area"
            assert re.search(r'UNIT\["[^"]*",0\.001\]', raster.crs.to_wkt())

    def test_grey_picture_stays_grey(self) -> None:
        picture = _picture()[..., 0]
        with MemoryFile(georeference.geotiff(make_fit(), picture)) as memory, memory.open() as r:
            assert r.count == 1
            assert np.array_equal(r.read(1), picture)

    def test_a_geotiff_is_a_picture_again(self, tmp_path: Path) -> None:
        from regmap.inputs.pictures import read_picture

        georeference.write_geotiff(make_fit(), _picture(), tmp_path / "floor.tif")
        assert np.array_equal(read_picture(tmp_path / "floor.tif"), _picture())

    def test_odd_input_is_refused(self, tmp_path: Path) -> None:
        with pytest.raises(
            RegmapError, match="640 x 481 px, but the fit was made with one of 640 x 480"
        ):
            georeference.geotiff(make_fit(), np.zeros((481, 640), np.uint8))
        with pytest.raises(RegmapError, match="'furlong', but its length in metres"):
            georeference.geotiff(make_fit(unit="furlong"), _picture())
        with pytest.raises(PictureError):
            georeference.geotiff(make_fit(), b"no picture")
        georeference.write_geotiff(make_fit(), _picture(), tmp_path / "floor.tif")
        with pytest.raises(StoredFileError, match="is there already"):
            georeference.write_geotiff(make_fit(), _picture(), tmp_path / "floor.tif")


class TestRobotMap:
    def test_pair_of_files(self, tmp_path: Path) -> None:
        georeference.write_robot_map(make_fit(), _picture(), tmp_path / "ground floor.yaml")
        entries = yaml.safe_load((tmp_path / "ground floor.yaml").read_text("utf-8"))
        grey = cv2.imread(str(tmp_path / entries["image"]), cv2.IMREAD_UNCHANGED)
        assert grey is not None
        # Rec. 601 luma, the common grey of colour pictures.
        luma = _picture() @ np.array([0.299, 0.587, 0.114])
        assert np.abs(grey.astype(float) - luma).max() <= 0.5 + 1e-9
        assert entries["origin"] == pytest.approx([-1.0, 6.0 - 480 * 0.02, 0.0])

    def test_neither_file_is_written_over(self, tmp_path: Path) -> None:
        (tmp_path / "a.yaml").write_text("mine")
        with pytest.raises(StoredFileError, match=r"a\.yaml is there already"):
            georeference.write_robot_map(make_fit(), _picture(), tmp_path / "a.yaml")
        assert [path.name for path in tmp_path.iterdir()] == ["a.yaml"]
        (tmp_path / "b.pgm").write_text("mine")
        with pytest.raises(StoredFileError, match=r"b\.pgm is there already"):
            georeference.write_robot_map(make_fit(), _picture(), tmp_path / "b.yml")
        assert not (tmp_path / "b.yml").exists()

    def test_stretched_pictures_and_other_endings_are_refused(self, tmp_path: Path) -> None:
        for stretched in (Affine(20, 0, 0, 0, -20.01, 0), Affine(20, 0.01, 0, 0, -20, 0)):
            with pytest.raises(RegmapError, match="stretched"):
                georeference.robot_map(make_fit(transform=stretched), _picture(), "a.pgm")
        with pytest.raises(RegmapError, match=r"must be \.yaml or \.yml"):
            georeference.write_robot_map(make_fit(), _picture(), tmp_path / "a.json")


class TestGeoJson:
    def test_rooms_come_back_as_the_same_polygons(self, tmp_path: Path) -> None:
        fit = make_fit(transform=TURNED)
        geojson.write(geojson.rooms(fit), tmp_path / "rooms.geojson")
        read = json.loads((tmp_path / "rooms.geojson").read_text("utf-8"))
        polygons = areas.room_polygons(fit)
        for feature, name in zip(read["features"], fit.outlines, strict=True):
            assert feature["properties"]["name"] == name
            assert shapely.geometry.shape(feature["geometry"]).equals(polygons[name])
        assert read["features"][1]["properties"]["state"] == "not shown"

    def test_areas_come_back_within_a_hundredth_of_a_pixel(self, tmp_path: Path) -> None:
        fit = make_fit(transform=TURNED)
        marked = [
            (60, 230, 110, 260),
            [(10.5, 20.25), (99, 30), (50, 200)],
            (5, 6),
            [(1, 2), (3, 4)],
        ]
        found = {f"zone {i}": areas.to_device(fit, area) for i, area in enumerate(marked)}
        geojson.write(geojson.areas(found), tmp_path / "areas.geojson")
        read = json.loads((tmp_path / "areas.geojson").read_text("utf-8"))
        assert "no safety barrier" in read["caution"]
        for (name, zone), feature in zip(found.items(), read["features"], strict=True):
            assert feature["properties"]["name"] == name
            assert feature["properties"]["off_floor"] == zone.off_floor
            geometry = shapely.geometry.shape(feature["geometry"])
            back = shapely.transform(geometry, lambda xy: areas.to_image(fit, xy))
            assert back.hausdorff_distance(zone.marked) < 0.01

    def test_lists_are_named_by_number_and_units_must_agree(self) -> None:
        one = areas.to_device(make_fit(), (60, 230, 110, 260))
        other = areas.to_device(make_fit(unit="m"), (60, 230, 110, 260))
        read = geojson.areas([one, one])
        assert [f["properties"]["name"] for f in read["features"]] == ["area 1", "area 2"]
        with pytest.raises(RegmapError, match=r"\['m', 'mm'\], but exactly one"):
            geojson.areas([one, other])
        with pytest.raises(RegmapError, match="exactly one"):
            geojson.areas([])

    def test_parts_of_an_area_are_one_feature(self) -> None:
        zone = areas.to_device(make_fit(), (240, 220, 270, 240), rooms=["hall", "study"])
        (feature,) = geojson.areas([zone])["features"]
        assert feature["geometry"]["type"] == "MultiPolygon"
        assert len(feature["geometry"]["coordinates"]) == 2


DOUBTFUL = make_fit(confidence=0.5)
USES: list[Callable[..., Any]] = [
    control_points.to_json,
    control_points.to_yaml,
    control_points.to_csv,
    control_points.to_gdal,
    georeference.gcps,
    georeference.world_file,
    geojson.rooms,
    lambda fit, **how: georeference.geotiff(fit, _picture(), **how),
    lambda fit, **how: georeference.robot_map(fit, _picture(), "a.pgm", **how),
]


@pytest.mark.parametrize("use", USES)
def test_doubtful_fits_are_not_handed_on(use: Callable[..., Any]) -> None:
    with pytest.raises(DoubtfulFitError, match="accept_doubt=True"):
        use(DOUBTFUL)
    assert use(DOUBTFUL, accept_doubt=True)
    assert isinstance(DOUBTFUL, Registration)
