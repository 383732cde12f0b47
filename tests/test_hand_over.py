"""A fit handed over in all formats, each read back by a general library: within 0.01 px."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeAlias

import cv2
import numpy as np
import pytest
import rasterio
import rasterio.transform
import shapely
import yaml
from affine import Affine
from numpy.typing import NDArray
from rasterio.control import GroundControlPoint

from regmap.errors import DoubtfulFitError, RegmapError
from regmap.outputs import folder
from regmap.outputs.borders import borders
from regmap.outputs.georeference import world_file_name
from regmap.outputs.hand_over import FORMATS, hand_over
from regmap.registration import Registration
from tests.fit_examples import TURNED, UPRIGHT, make_fit

Floats: TypeAlias = NDArray[np.float64]
Way: TypeAlias = Callable[[Floats], Floats]

MIRRORED = Affine(9.0, 5.0, 40.0, -5.0, 9.0, 700.0)
STRETCHED = Affine(20, 0, -1000, 0, -21, 6300)
WITHIN_PX = 0.01
# Corners, the middle of the first pixel, and places between pixels.
PLACES = np.array([(0, 0), (640, 0), (640, 480), (0, 480), (0.5, 0.5), (123.25, 371.75)])


def _picture() -> NDArray[np.uint8]:
    return np.random.default_rng(0).integers(0, 256, (480, 640, 3), np.uint8)


def _written(fit: Registration, place: Path) -> Path:
    made = hand_over(fit, _picture(), picture_name="ground floor.png")
    folder.write_files(place, made.files)
    cv2.imwrite(str(place / "ground floor.png"), _picture())
    return place


def _affine(found: Affine) -> Way:
    def way(px: Floats) -> Floats:
        x = found.a * px[:, 0] + found.b * px[:, 1] + found.c
        y = found.d * px[:, 0] + found.e * px[:, 1] + found.f
        return np.column_stack([x, y])

    return way


def _from_pairs(rows: list[dict[str, Any]]) -> Way:
    points = [
        GroundControlPoint(
            row=float(row["image_row"]),
            col=float(row["image_column"]),
            x=float(row["device_x"]),
            y=float(row["device_y"]),
        )
        for row in rows
    ]
    return _affine(rasterio.transform.from_gcps(points))


def _json(place: Path) -> Way:
    return _from_pairs(json.loads((place / "control-points.json").read_text("utf-8"))["pairs"])


def _yaml(place: Path) -> Way:
    return _from_pairs(yaml.safe_load((place / "control-points.yaml").read_text("utf-8"))["pairs"])


def _csv(place: Path) -> Way:
    text = (place / "control-points.csv").read_bytes().decode("utf-8")
    return _from_pairs(list(csv.DictReader(io.StringIO(text, newline=""))))


def _gdal_options(place: Path) -> Way:
    words = (place / "control-points.gcp.txt").read_text("utf-8").split()
    rows = []
    for i in range(0, len(words), 5):
        assert words[i] == "-gcp"
        keys = ("image_column", "image_row", "device_x", "device_y")
        rows.append(dict(zip(keys, map(float, words[i + 1 : i + 5]), strict=True)))
    return _from_pairs(rows)


def _beside_the_picture(place: Path) -> Way:
    """GDAL looks for the world file by itself."""
    with rasterio.open(place / "ground floor.png") as raster:
        return _affine(raster.transform)


def _geotiff(place: Path) -> Way:
    with rasterio.open(place / "ground floor.tif") as raster:
        assert raster.tags()["UNIT"] == "mm"
        return _affine(raster.transform)


def _map_server(place: Path) -> Way:
    """Metres, cells counted from the lower left, along axes that are turned by the yaw."""
    entries = yaml.safe_load((place / "ground floor.yaml").read_text("utf-8"))
    grey = cv2.imread(str(place / entries["image"]), cv2.IMREAD_UNCHANGED)
    assert grey is not None
    x, y, yaw = entries["origin"]
    size, height = entries["resolution"], grey.shape[0]
    luma = cv2.cvtColor(_picture(), cv2.COLOR_RGB2GRAY).astype(float)
    over = float(np.abs(grey - luma).mean()) > 2  # a mirrored picture is turned over

    def way(px: Floats) -> Floats:
        right = px[:, 0] * size
        up = (px[:, 1] if over else height - px[:, 1]) * size
        east = x + right * math.cos(yaw) - up * math.sin(yaw)
        north = y + right * math.sin(yaw) + up * math.cos(yaw)
        return 1000.0 * np.column_stack([east, north])

    return way


READERS = [_json, _yaml, _csv, _gdal_options, _beside_the_picture, _geotiff, _map_server]


@pytest.mark.parametrize("transform", [UPRIGHT, TURNED, MIRRORED], ids=["up", "turned", "mirrored"])
@pytest.mark.parametrize("read", READERS, ids=lambda read: read.__name__.strip("_"))
def test_what_is_read_back_lies_within_a_hundredth_of_a_pixel(
    tmp_path: Path, transform: Affine, read: Callable[[Path], Way]
) -> None:
    fit = make_fit(transform=transform)
    device = read(_written(fit, tmp_path / "out"))(PLACES)
    off = np.hypot(*(fit.to_image(device) - PLACES).T)
    assert off.max() < WITHIN_PX


@pytest.mark.parametrize("transform", [UPRIGHT, TURNED, MIRRORED], ids=["up", "turned", "mirrored"])
def test_geojson_read_back_by_shapely(tmp_path: Path, transform: Affine) -> None:
    fit = make_fit(transform=transform)
    place = _written(fit, tmp_path / "out")
    rooms = json.loads((place / "rooms.geojson").read_text("utf-8"))
    for feature in rooms["features"]:
        shape = shapely.geometry.shape(feature["geometry"])
        rings = fit.outlines[feature["properties"]["name"]]
        own = shapely.Polygon(fit.to_image(rings[0]), [fit.to_image(r) for r in rings[1:]])
        there = shapely.transform(shape, fit.to_image)
        assert there.hausdorff_distance(own) < WITHIN_PX
    drawn = json.loads((place / "borders.geojson").read_text("utf-8"))
    assert (drawn["unit"], "rows downwards" in drawn["coordinates_note"]) == ("px", True)
    for feature, (name, ring) in zip(drawn["features"], borders(fit), strict=True):
        assert feature["properties"]["name"] == name
        shape = shapely.geometry.shape(feature["geometry"])
        assert shape.hausdorff_distance(shapely.Polygon(ring)) < WITHIN_PX


def test_what_cannot_be_made_is_told_or_refused() -> None:
    made = hand_over(make_fit())
    assert set(made.left_out) == {"geotiff", "robot-map"}
    assert "picture.pgw" in made.files
    made = hand_over(make_fit(transform=STRETCHED), _picture())
    assert list(made.left_out) == ["robot-map"]
    assert "stretched" in made.left_out["robot-map"]
    with pytest.raises(RegmapError, match="stretched"):
        hand_over(make_fit(transform=STRETCHED), _picture(), formats=["robot-map"])
    with pytest.raises(RegmapError, match="geotiff holds the picture itself"):
        hand_over(make_fit(), formats=["geotiff"])
    with pytest.raises(RegmapError, match="'dxf', but it must be among"):
        hand_over(make_fit(), formats=["dxf"])
    with pytest.raises(RegmapError, match="1000 control points"):
        hand_over(make_fit(), points=1000)
    with pytest.raises(DoubtfulFitError):
        hand_over(make_fit(confidence=0.5))
    assert hand_over(make_fit(confidence=0.5), accept_doubt=True).files


def test_each_format_alone() -> None:
    every = hand_over(make_fit(), _picture(), picture_name="a.png").files
    parts: dict[str, object] = {}
    for name in FORMATS:
        parts |= hand_over(make_fit(), _picture(), picture_name="a.png", formats=[name]).files
    assert parts == dict(every)


@pytest.mark.parametrize(
    ("picture", "name"),
    [
        # ESRI's rule: first and last letter of the ending, and a w; common practice.
        ("floor.png", "floor.pgw"),
        ("floor.JPEG", "floor.jgw"),
        ("a.b.tif", "a.b.tfw"),
        ("floor", "floor.wld"),
    ],
)
def test_names_of_world_files(picture: str, name: str) -> None:
    assert world_file_name(picture) == name
