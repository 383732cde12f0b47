"""Raster and exchange conventions against their published words and examples."""

from __future__ import annotations

import json
import math
from pathlib import Path

import cv2
import numpy as np
import pytest
import rasterio.features
import shapely
import yaml
from affine import Affine
from rasterio.control import GroundControlPoint
from rasterio.io import MemoryFile

from regmap import areas, frames
from regmap.outputs import control_points, geojson, georeference
from regmap.units import NAMES
from tests.fit_examples import TURNED, make_fit


def test_gdal_geotransform_counts_from_the_outer_corner() -> None:
    # GDAL, Raster Data Model / Geotransform Tutorial: X = GT0 + P GT1 + L GT2,
    # Y = GT3 + P GT4 + L GT5, with (P, L) = (0, 0) at the outer corner of the first pixel.
    gt = TURNED.to_gdal()
    p, line = 12.5, 40.25
    expected = (gt[0] + p * gt[1] + line * gt[2], gt[3] + p * gt[4] + line * gt[5])
    assert make_fit(transform=TURNED).to_device((p, line))[0] == pytest.approx(expected)
    with MemoryFile(georeference.geotiff(make_fit(), _PICTURE)) as memory, memory.open() as raster:
        x, y = raster.xy(0, 0)  # rasterio: the centre of the first pixel
        centre = (frames.PIXEL_CENTRE, frames.PIXEL_CENTRE)
        assert make_fit().to_device(centre)[0] == pytest.approx((x, y))


_PICTURE = np.zeros((480, 640), np.uint8)


@pytest.mark.parametrize(
    ("lines", "corner"),
    [
        # Worked out by hand from the definition of the six lines.
        ((1, 0, 0, -1, 100.5, 199.5), Affine(1, 0, 100, 0, -1, 200)),
        # A turned picture's world file; its corner worked out from the definition.
        (
            (
                39.9317755024,
                30.0907511581,
                30.0907511576,
                -39.9317755019,
                2658137.2266720217,
                5990821.7039887439,
            ),
            Affine(
                39.9317755024,
                30.0907511576,
                2658102.2154086917,
                30.0907511581,
                -39.9317755019,
                5990826.624500916,
            ),
        ),
    ],
)
def test_world_file_names_the_centre_of_the_first_pixel(
    lines: tuple[float, ...], corner: Affine
) -> None:
    # ESRI's world file, lines A D B E C F: C, F is the centre of the upper left pixel.
    text = georeference.world_file(make_fit(transform=corner))
    assert text.endswith("\n")
    assert [float(line) for line in text.split()] == pytest.approx(list(lines), rel=1e-15, abs=1e-8)
    assert len(text.splitlines()) == 6


def test_world_file_is_understood_by_gdal(tmp_path: Path) -> None:
    assert cv2.imwrite(str(tmp_path / "floor.png"), _PICTURE)
    fit = make_fit(transform=TURNED)
    georeference.write_world_file(fit, tmp_path / "floor.pgw")
    with rasterio.open(tmp_path / "floor.png") as raster:
        assert raster.transform.almost_equals(TURNED, precision=1e-9)


def test_ground_control_points_of_gdal() -> None:
    # GDAL, Raster Data Model: a GCP is id, info, pixel, line, x, y, z.
    fit = make_fit(transform=TURNED)
    points = georeference.gcps(fit, 4)
    assert all(isinstance(point, GroundControlPoint) for point in points)
    found = rasterio.transform.from_gcps(points)
    assert found.almost_equals(TURNED, precision=1e-6)
    tokens = control_points.to_gdal(fit, 4).split()
    assert len(tokens) == 4 * 5
    for i, point in enumerate(points):
        flag, *numbers = tokens[5 * i : 5 * i + 5]
        assert flag == "-gcp"
        assert [float(n) for n in numbers] == [point.col, point.row, point.x, point.y]


def test_outline_of_a_square_of_ten_pixels() -> None:
    # OpenCV's findContours joins pixel centres: 9 x 9. Polygonising cells gives 10 x 10. Common
    # practice, no source; both lie about the same centre once OpenCV's half pixel is added.
    mask = np.zeros((20, 20), np.uint8)
    mask[5:15, 3:13] = 1
    (contour,), _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    joined = shapely.Polygon(contour[:, 0].astype(float) + frames.PIXEL_CENTRE)
    cells = next(
        shapely.geometry.shape(shape)
        for shape, value in rasterio.features.shapes(mask)
        if value == 1
    )
    assert joined.area == 81
    assert cells.area == 100
    assert joined.centroid.equals_exact(cells.centroid, 1e-9)
    # A room drawn by its corners (columns 3 to 13, rows 5 to 15) is the polygon of the cells.
    assert cells.equals(shapely.box(3, 5, 13, 15))


@pytest.mark.parametrize("turn", [0.0, 30.0])
@pytest.mark.parametrize("mirrored", [False, True])
def test_robot_map_pair_follows_the_open_convention(turn: float, mirrored: bool) -> None:
    # ROS map_server, "Map format": resolution in m/px; origin is the pose (x, y, yaw) of the lower
    # left pixel, yaw anti-clockwise (REP 103: metres, radians, right-handed).
    flip = 1.0 if mirrored else -1.0
    linear = frames.compose(Affine.rotation(turn), Affine(20, 0, 0, 0, flip * 20, 0))
    linear[:, 2] = (-3000, 5200)
    fit = make_fit(transform=frames.matrix_to_affine(linear))
    picture = np.zeros((480, 640), np.uint8)
    picture[100, 200] = 255
    text, pgm = georeference.robot_map(fit, picture, "floor.pgm")
    entries = yaml.safe_load(text)
    drawn = cv2.imdecode(np.frombuffer(pgm, np.uint8), cv2.IMREAD_UNCHANGED)
    assert drawn is not None
    assert entries["image"] == "floor.pgm"
    assert entries["resolution"] == pytest.approx(0.02)
    assert {"occupied_thresh", "free_thresh", "negate", "mode"} < set(entries)
    # Walk as a map server does: cells count from the lower left, along the turned axes.
    ((row, column),) = np.argwhere(drawn == 255)
    right, up = (column + 0.5) * 0.02, (drawn.shape[0] - row - 0.5) * 0.02
    x, y, yaw = entries["origin"]
    found = (
        x + right * math.cos(yaw) - up * math.sin(yaw),
        y + right * math.sin(yaw) + up * math.cos(yaw),
    )
    assert found == pytest.approx(fit.to_device((200.5, 100.5))[0] / 1000)
    if turn == 0 and not mirrored:
        # At yaw 0 the geotransform is (ox, res, 0, oy + H res, 0, -res).
        assert fit.transform.to_gdal() == pytest.approx(
            np.array([x, 0.02, 0, y + 480 * 0.02, 0, -0.02]) * 1000
        )


def test_geojson_winds_rings_and_says_what_its_positions_are() -> None:
    # RFC 7946: section 3.1.6, outer rings anti-clockwise, holes clockwise; section 4, other
    # reference systems than WGS 84 by prior arrangement of the parties.
    zone = areas.to_device(make_fit(transform=TURNED), (60, 230, 110, 260))
    for collection in (geojson.rooms(make_fit()), geojson.areas([zone])):
        read = json.loads(json.dumps(collection))
        assert read["type"] == "FeatureCollection"
        assert "crs" not in read  # the member that RFC 7946 took out
        assert "not WGS 84" in read["coordinates_note"]
        assert read["unit"] == "mm"
        for feature in read["features"]:
            assert feature["type"] == "Feature"
            outer, *holes = feature["geometry"]["coordinates"]
            assert shapely.LinearRing(outer).is_ccw
            assert not any(shapely.LinearRing(hole).is_ccw for hole in holes)
            assert all(ring[0] == ring[-1] for ring in (outer, *holes))


@pytest.mark.parametrize(("unit", "metres"), [("mm", 0.001), ("m", 1.0), ("ft", 0.3048)])
def test_engineering_crs_is_read_by_gdal(unit: str, metres: float) -> None:
    # ISO 19162 (WKT2): ENGCRS needs EDATUM, CS[Cartesian,2], two AXIS and a LENGTHUNIT.
    text = georeference.crs_wkt(unit)
    read = rasterio.crs.CRS.from_wkt(text).to_wkt(version="WKT2_2019")
    assert read.startswith('ENGCRS["Device frame of a floor map",EDATUM[')
    assert "CS[Cartesian,2]" in read
    assert read.count("AXIS[") == 2
    name = NAMES[unit]
    assert f'LENGTHUNIT["{name}",{metres!r}' in read.replace("1]", "1.0]")
    assert not rasterio.crs.CRS.from_wkt(text).is_geographic
