"""Georeferences for general tools: ground control points, world file, GeoTIFF, robot map pair.

GDAL counts pixels and lines from the outer corner of the first pixel, as the picture frame does; a
world file names the centre of that pixel instead. The device frame is no place on Earth, so that
its coordinate reference system is an engineering one (ISO 19162).
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Any

import numpy as np
from rasterio.control import GroundControlPoint
from rasterio.crs import CRS
from rasterio.io import MemoryFile

from regmap import frames
from regmap.errors import RegmapError
from regmap.given import as_path, instance, short
from regmap.outputs.control_points import pairs_of, scalar
from regmap.outputs.own_picture import own_picture
from regmap.outputs.whole_files import write_together, write_whole
from regmap.pairs import ControlPoint
from regmap.registration import Registration
from regmap.units import NAMES, UNITS_MM

__all__ = [
    "crs_wkt",
    "gcps",
    "geotiff",
    "robot_map",
    "world_file",
    "world_file_name",
    "write_geotiff",
    "write_robot_map",
    "write_world_file",
]


def gcps(
    fit: Registration,
    points: int | Iterable[ControlPoint] = 4,
    *,
    accept_doubt: bool = False,
) -> list[GroundControlPoint]:
    """Return pairs as rasterio's ground control points.

    Args:
        fit: whose pairs to return.
        points: how many well-spread room corners, or the pairs themselves.
        accept_doubt: use a doubtful fit as it is.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
        RegmapError: if the picture shows too few corners.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    pairs = pairs_of(fit, points)
    return [
        GroundControlPoint(
            row=row,
            col=column,
            x=pair.device[0],
            y=pair.device[1],
            z=0.0,
            id=str(i),
            info=pair.name,
        )
        for i, pair in enumerate(pairs, start=1)
        for column, row in [pair.image]
    ]


def world_file(fit: Registration, *, accept_doubt: bool = False) -> str:
    """Return the six lines A D B E C F of a world file.

    x = A column + B row + C, y = D column + E row + F, where (0, 0) is the CENTRE of the first
    pixel: half a pixel of the fit's transform goes into C and F.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    (a, b, _), (d, e, _) = fit.image_to_device.tolist()
    ((c, f),) = fit.to_device([[frames.PIXEL_CENTRE, frames.PIXEL_CENTRE]]).tolist()
    return "".join(f"{value!r}\n" for value in (a, d, b, e, c, f))


def world_file_name(picture_name: str) -> str:
    """Return the name under which programs look for the world file of a picture.

    The picture's own, with the first and last letter of its ending and a w: floor.png, floor.pgw.
    """
    name = as_path(picture_name, "picture_name")
    letters = name.suffix.lstrip(".").lower()
    return f"{name.stem}.{letters[0]}{letters[-1]}w" if letters else f"{name.name}.wld"


def write_world_file(
    fit: Registration,
    path: str | os.PathLike[str],
    *,
    overwrite: bool = False,
    accept_doubt: bool = False,
) -> None:
    """Write a world file, such as floor.pgw beside floor.png; see `world_file`."""
    write_whole(path, world_file(fit, accept_doubt=accept_doubt), overwrite=overwrite)


def crs_wkt(unit: str = "mm") -> str:
    """Return the device frame as an engineering CRS in WKT2 (ISO 19162).

    Raises:
        RegmapError: if the unit has no known length.
    """
    name, metres = _length(unit)
    length = f'LENGTHUNIT["{name}",{metres!r}]'
    return (
        'ENGCRS["Device frame of a floor map",EDATUM["Origin of the device\'s map"],'
        'CS[Cartesian,2],AXIS["x",unspecified,ORDER[1]],AXIS["y",unspecified,ORDER[2]],'
        f"{length}]"
    )


def geotiff(fit: Registration, image: object, *, accept_doubt: bool = False) -> bytes:
    """Return the picture as the bytes of a GeoTIFF that lies where the fit says.

    The picture is not resampled: the transform may turn and mirror it. TIFF has no room for the
    names in an engineering CRS; the whole of `crs_wkt` stands in the tag DEVICE_FRAME_WKT.

    Args:
        fit: of this picture.
        image: in any shape that `regmap.register` takes.
        accept_doubt: use a doubtful fit as it is.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
        PictureError: if the picture cannot be read.
        RegmapError: if the picture is not of the fit's size, or the unit has no known length.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    wkt = crs_wkt(fit.unit)
    pixels = own_picture(fit, image)
    bands = pixels[None] if pixels.ndim == 2 else np.moveaxis(pixels, -1, 0)
    profile: dict[str, Any] = {
        "driver": "GTiff",
        "width": fit.image_size[0],
        "height": fit.image_size[1],
        "count": len(bands),
        "dtype": "uint8",
        "crs": CRS.from_wkt(wkt),
        "transform": fit.transform,
        "photometric": "MINISBLACK" if len(bands) == 1 else "RGB",
        "compress": "DEFLATE",
        "BIGTIFF": "IF_SAFER",
    }
    with MemoryFile() as memory:
        with memory.open(**profile) as dataset:
            dataset.write(bands)
            dataset.update_tags(DEVICE_FRAME_WKT=wkt, UNIT=fit.unit)
        return bytes(memory.read())


def write_geotiff(
    fit: Registration,
    image: object,
    path: str | os.PathLike[str],
    *,
    overwrite: bool = False,
    accept_doubt: bool = False,
) -> None:
    """Write the picture as a GeoTIFF that lies where the fit says; see `geotiff`."""
    write_whole(path, geotiff(fit, image, accept_doubt=accept_doubt), overwrite=overwrite)


def robot_map(
    fit: Registration, image: object, image_name: str, *, accept_doubt: bool = False
) -> tuple[str, bytes]:
    """Return the picture as the pair that map servers of robots read: YAML text, PGM picture.

    The convention: metres; `origin` is the pose (x, y, yaw) of the lower left pixel's corner, yaw
    anti-clockwise (ROS REP 103). Cells are square and never mirrored, so that a mirrored picture is
    turned over, and a stretched one refused. Grey values are those of the picture: they are drawn,
    and do not measure whether a cell is free.

    Args:
        fit: of this picture, `model="similarity"`.
        image: in any shape that `regmap.register` takes.
        image_name: under which the YAML names the picture.
        accept_doubt: use a doubtful fit as it is.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
        PictureError: if the picture cannot be read.
        RegmapError: if the picture is stretched, is not of the fit's size, or the unit has no known
            length.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    metres = _length(fit.unit)[1]
    along, across = np.linalg.norm(fit.image_to_device[:, :2], axis=0)
    skew = abs(float(fit.image_to_device[:, 0] @ fit.image_to_device[:, 1])) / (along * across)
    # A cell's drift across the picture stays below a tenth of a pixel.
    if max(abs(along / across - 1), skew) * max(fit.image_size) > 0.1:
        raise RegmapError(
            f"this picture is stretched ({along:.4g} by {across:.4g} {fit.unit} per px): a robot "
            'map has square cells. Register with model="similarity", or write a GeoTIFF'
        )
    pixels = own_picture(fit, image)
    if pixels.ndim == 3:
        pixels = np.rint(pixels @ np.array([0.299, 0.587, 0.114])).astype(np.uint8)
    height, width = pixels.shape
    corner = [0, 0] if fit.mirrored else [0, height]
    if fit.mirrored:
        pixels = pixels[::-1]
    x, y = (fit.to_device(corner)[0] * metres).tolist()
    yaw = float(np.radians(fit.rotation_deg))
    entries = {
        "image": image_name,
        "mode": "scale",
        "resolution": fit.unit_per_px * metres,
        "occupied_thresh": 0.65,
        "free_thresh": 0.25,
        "negate": 0,
    }
    lines = [f"{key}: {scalar(value)}" for key, value in entries.items()]
    lines.append(f"origin: [{', '.join(scalar(value) for value in (x, y, yaw))}]")
    return "\n".join(lines) + "\n", b"P5\n%d %d\n255\n" % (width, height) + pixels.tobytes()


def write_robot_map(
    fit: Registration,
    image: object,
    path: str | os.PathLike[str],
    *,
    overwrite: bool = False,
    accept_doubt: bool = False,
) -> None:
    """Write `path` (.yaml) and beside it the picture of the same name (.pgm); see `robot_map`.

    Raises:
        StoredFileError: if one of the two is there already, or cannot be written.
    """
    target = as_path(path, "path")
    if target.suffix.lower() not in {".yaml", ".yml"}:
        raise RegmapError(f"the file's ending is {target.suffix!r}, but it must be .yaml or .yml")
    picture = target.with_suffix(".pgm")
    text, pgm = robot_map(fit, image, picture.name, accept_doubt=accept_doubt)
    # The picture first: whoever finds the YAML finds its picture.
    write_together([(picture, pgm), (target, text)], overwrite=overwrite)


def _length(unit: str) -> tuple[str, float]:
    if not isinstance(unit, str) or unit not in UNITS_MM:
        raise RegmapError(
            f"the unit is {short(unit)}, but its length in metres must be known: "
            + ", ".join(UNITS_MM)
        )
    return NAMES[unit], UNITS_MM[unit] / 1000.0
