"""What the fuzzer calls, and what it begins with.

A target takes bytes, and lets nothing through but what breaks a promise. The library is imported
inside, so that the fuzzer can instrument it first.
"""

from __future__ import annotations

import contextlib
import json
import warnings
from collections.abc import Callable
from pathlib import Path

__all__ = ["SEEDS", "TARGETS", "first_inputs", "kept_inputs"]

SEEDS = Path(__file__).parent / "seeds"
"""Inputs that once broke something, or that reach far: TARGET/NAME."""


def captures(data: bytes) -> None:
    """Outlines in any text."""
    from regmap.errors import OutlineError
    from regmap.inputs.captures import parse_outlines
    from regmap.inputs.outlines import as_rings

    with contextlib.suppress(OutlineError):
        found = parse_outlines(data)
        assert found
        assert all(room.area > 0 for room in found.values())
        as_rings(found)


def pictures(data: bytes) -> None:
    """Picture files."""
    from regmap.errors import PictureError
    from regmap.inputs.pictures import read_picture

    with contextlib.suppress(PictureError):
        found = read_picture(data, max_pixels=2**16)
        assert found.dtype == "uint8"
        assert found.shape[0] * found.shape[1] <= 2**16
        assert found.flags.c_contiguous


def headers(data: bytes) -> None:
    """Headers of picture files alone, which is quicker."""
    from regmap.errors import PictureError
    from regmap.inputs.picture_headers import FORMATS, read_header

    with contextlib.suppress(PictureError):
        assert read_header(data).format in FORMATS


def stored(data: bytes) -> None:
    """Stored fits; what is read must be written and read again the same."""
    from regmap.errors import StoredFileError
    from regmap.outputs import whole_files
    from regmap.registration import Registration

    with contextlib.suppress(StoredFileError, ValueError, RecursionError):
        content = json.loads(data)
        if isinstance(content, dict):
            content.pop("checksum", None)
        try:
            fit = Registration.from_dict(content)
        except StoredFileError:
            return
        fit.to_device([[0, 0], fit.image_size])
        fit.expected_error([[0, 0], fit.image_size])
        again = json.loads(whole_files.json_text(fit.to_dict()))
        assert Registration.from_dict(again).same_as(fit), "stored and read, it is another fit"


def areas(data: bytes) -> None:
    """Areas stored as GeoJSON, and GeoJSON as outlines."""
    from regmap.errors import RegmapError
    from regmap.inputs.outlines import as_rings
    from regmap.inputs.stored_areas import parse_areas

    with contextlib.suppress(RegmapError):
        assert all(area.is_valid for area in parse_areas(data).values())
    with contextlib.suppress(RegmapError):
        try:
            content = json.loads(data)
        except (ValueError, RecursionError):
            return
        as_rings(content)


TARGETS: dict[str, Callable[[bytes], None]] = {
    one.__name__: one for one in (captures, pictures, headers, stored, areas)
}


def run(name: str, data: bytes) -> None:
    """One input through one target; a warning counts as a fault, as in the tests.

    That a capture was cut off is no fault of who reads it.
    """
    from regmap.errors import CutOffWarning

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", CutOffWarning)
        TARGETS[name](data)


def kept_inputs(name: str) -> list[Path]:
    """The files that are kept for a target."""
    return sorted((SEEDS / name).glob("*"))


def first_inputs(name: str) -> list[bytes]:
    """Good inputs, for the fuzzer to spoil."""
    if name == "captures":
        from tests.corpus import CORPUS, FLOORS

        texts = [case.write(FLOORS[min(FLOORS)]) for case in CORPUS]
        return [
            text.encode("utf-8", "replace") if isinstance(text, str) else text for text in texts
        ]
    if name in ("pictures", "headers"):
        return _pictures()
    if name == "stored":
        from tests.fit_examples import make_fit

        fits = [make_fit(), make_fit(alternatives=(make_fit(),), reprojection_error=float("inf"))]
        return [json.dumps(fit.to_dict()).encode() for fit in fits]
    square = [[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]]
    geometries = [
        {"type": "Polygon", "coordinates": [square, [[x / 3 + 1, y / 3 + 1] for x, y in square]]},
        {"type": "MultiPolygon", "coordinates": [[square]]},
        {"type": "LineString", "coordinates": square[:3]},
        {"type": "Point", "coordinates": [3, 4]},
    ]
    features = [
        {"type": "Feature", "id": i, "properties": {"name": f"n{i}"}, "geometry": geometry}
        for i, geometry in enumerate(geometries)
    ]
    return [json.dumps({"type": "FeatureCollection", "features": features}).encode()]


def _pictures() -> list[bytes]:
    import cv2
    import numpy as np

    from tests.test_pictures import geotiff

    image = (np.arange(40 * 32 * 3).reshape(40, 32, 3) * 7 % 256).astype(np.uint8)
    files = [geotiff(np.moveaxis(image, 2, 0)), geotiff(image[None, :, :, 0] / 255.0)]
    files.append(cv2.imencode(".pgm", image[:, :, 0])[1].tobytes())
    for ending in ("png", "jpg", "webp", "bmp", "tiff", "ppm", "jp2", "gif", "avif"):
        with contextlib.suppress(cv2.error):  # OpenCV 4.8 writes not all of them
            written, data = cv2.imencode(f".{ending}", image)
            if written:
                files.append(data.tobytes())
    return files
