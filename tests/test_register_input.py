"""What `register` takes, and what it says of input that it cannot use."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine

from regmap.errors import (
    NoFitError,
    OutlineError,
    PictureError,
    RegmapError,
)
from regmap.register import register
from tests.drawn_fits import answer, drawn, error_px, flat, solve
from tests.engine import scenes


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_pictures_come_in_many_shapes(tmp_path: Path) -> None:
    scene, fit = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    path = tmp_path / "floor.png"
    assert cv2.imwrite(str(path), np.asarray(scene.image)[..., ::-1])
    opaque = np.dstack([scene.image, np.full(scene.image.shape[:2], 255, np.uint8)])
    for image in (path, path.read_bytes(), opaque):
        other = solve(image, scene.rings)
        assert other.image_to_device.tobytes() == fit.image_to_device.tobytes()
    grey = solve(np.asarray(scene.image).mean(axis=2).astype(np.uint8), scene.rings)
    assert error_px(grey, fit.image_to_device).max() < 0.05
    with rasterio.open(io.BytesIO(path.read_bytes())) as dataset:
        other = solve(dataset, scene.rings, near=fit)
    assert error_px(other, fit.image_to_device).max() < 0.02


def test_outlines_come_in_many_shapes() -> None:
    scene, fit = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    for outlines in (
        [rings[0].tolist() for rings in scene.rings.values()],
        {name: shapely.Polygon(rings[0]) for name, rings in scene.rings.items()},
    ):
        other = solve(scene.image, outlines, near=fit)
        assert error_px(other, fit.image_to_device).max() < 0.02


def test_rooms_in_rooms_and_rooms_with_holes() -> None:
    scene, fit = drawn(turn_deg=33.0), answer(turn_deg=33.0)
    pillar = np.array([[900, 2400], [1300, 2400], [1300, 2800], [900, 2800]], dtype=np.float64)
    rings = dict(scene.rings)
    rings["kitchen"] = (rings["kitchen"][0], pillar)
    rings["middle"] = scenes.ring((2600, 1500), (4400, 1500), (4400, 4800), (2600, 4800))
    other = solve(scene.image, rings)
    assert error_px(other, fit.image_to_device).max() < 0.1


@pytest.mark.parametrize(
    ("image", "text"),
    [
        ("no/such/picture.png", "no/such/picture.png"),
        (np.zeros((1, 1, 3), np.uint8), "1 x 1 px"),
        (np.zeros((0, 5), np.uint8), "5"),
        (None, "NoneType"),
        (b"neither PNG nor JPEG", "picture"),
    ],
)
def test_pictures_that_are_none(image: Any, text: str) -> None:
    with pytest.raises(PictureError, match=text):
        register(image, scenes.FLOOR)


@pytest.mark.parametrize(
    ("outlines", "text"),
    [
        ({}, "no outlines"),
        ([], "no outlines"),
        (None, "NoneType"),
        ({"den": [(0, 0), (1, 1)]}, "den.*fewer than 3"),
        ({"den": [(0, 0), (np.nan, 0), (1, 1)]}, "den.*not finite"),
        ({"den": [(0, 0), (1000, 1000), (1000, 0), (0, 1000)]}, "den.*crosses itself"),
        ({"den": [(0, 0), (1000, 0), (500, 0)]}, "den"),
    ],
)
def test_outlines_that_are_none(outlines: Any, text: str) -> None:
    with pytest.raises(OutlineError, match=text):
        register(flat(), outlines)


@pytest.mark.parametrize(
    ("options", "text"),
    [
        ({"model": "projective"}, "'projective'.*similarity, affine"),
        ({"model": None}, "None.*similarity, affine"),
        ({"mirrored": "yes"}, "'yes'.*True, False or None"),
        ({"mirrored": 2}, "2.*True, False or None"),
        ({"tie_points": 5}, r"\(\(column, row\), \(x, y\)\)"),
        ({"tie_points": None}, r"\(\(column, row\), \(x, y\)\)"),
        ({"tie_points": "ab"}, r"\(\(column, row\), \(x, y\)\)"),
        ({"tie_points": ((10, 10), (0, 0))}, r"\(\(column, row\), \(x, y\)\)"),
        ({"tie_points": [((1.0, np.inf), (0.0, 0.0))]}, "finite"),
        ({"near": 3}, "near is 3.*Registration, an Affine or None"),
        ({"near": Affine(1, 1, 0, 1, 1, 0)}, "line or a point"),
        ({"near": Affine(np.nan, 1, 0, 1, 1, 0)}, "finite"),
    ],
)
def test_options_that_are_none(options: dict[str, Any], text: str) -> None:
    with pytest.raises(RegmapError, match=text):
        register(flat(), scenes.FLOOR, **options)


@pytest.mark.parametrize(
    "options",
    [
        {"mirrored": np.array([True, False])},
        {"near": "somewhere"},
        {"tie_points": [((1, 2, 3), (4,))]},
        {"tie_points": [((1, 2, 3), (4, 5))] * 4},
    ],
)
def test_options_of_odd_shapes_are_refused_as_such(options: dict[str, Any]) -> None:
    with pytest.raises(RegmapError) as caught:
        register(flat(), scenes.FLOOR, **options)
    assert not isinstance(caught.value, NoFitError)
