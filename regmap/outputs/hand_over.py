"""All open formats of one fit at once, as the files of one folder.

control-points.json, .yaml, .csv    pairs of places: picture px and device units
control-points.gcp.txt              the same as options of GDAL's tools
rooms.geojson                       the outlines, device frame
borders.geojson                     where the fit expects the drawn borders, picture px
PICTURE.pgw                         world file: put it beside the picture (the ending varies)
PICTURE.tif                         GeoTIFF
PICTURE.yaml, PICTURE.pgm           map for map servers of robots
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from types import MappingProxyType
from typing import TypeAlias

from regmap.errors import RegmapError
from regmap.given import as_path, chosen, instance, listed
from regmap.outputs import control_points, geojson
from regmap.outputs.whole_files import json_text
from regmap.registration import Registration

__all__ = ["FORMATS", "HandOver", "hand_over"]

Files: TypeAlias = dict[str, bytes | str]

FORMATS = ("pairs", "rooms", "borders", "world-file", "geotiff", "robot-map")
"""What can be handed over; the last two hold the picture itself."""


@dataclass(frozen=True)
class HandOver:
    """What is to be written.

    Attributes:
        files: name -> content.
        left_out: format -> why it was left out: only formats that were not asked for by name.
    """

    files: Mapping[str, bytes | str]
    left_out: Mapping[str, str]


def hand_over(
    fit: Registration,
    image: object | None = None,
    *,
    picture_name: str = "picture.png",
    formats: Iterable[str] = (),
    points: int | None = None,
    accept_doubt: bool = False,
) -> HandOver:
    """Return the files that hand a fit on.

    Args:
        fit: of the picture.
        image: the picture, in any shape that `regmap.register` takes; only "geotiff" and
            "robot-map" need it. Where it is given it must be that of the fit.
        picture_name: file name of the picture; the files that belong to it are named after it.
        formats: names of FORMATS. Without any, all that can be made are, and `left_out` says why
            others were not.
        points: how many control points; 4, unless given.
        accept_doubt: hand a doubtful fit on as it is.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
        PictureError: if the picture cannot be read.
        RegmapError: if a format is unknown, or one that was asked for cannot be made, or if the
            picture is not of the size that the fit was made with.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    each = [formats] if isinstance(formats, str) else listed(formats, "formats")
    wanted = tuple(dict.fromkeys(chosen(name, FORMATS, "one of formats") for name in each))
    name = as_path(picture_name, "picture_name")
    if image is not None:
        from regmap.outputs.own_picture import own_picture  # OpenCV

        image = own_picture(fit, image)  # before any file is named after it
    files: Files = {}
    left_out: dict[str, str] = {}
    for kind in wanted or FORMATS:
        try:
            files |= _MAKERS[kind](fit, image, name, 4 if points is None else points)
        except ModuleNotFoundError as error:
            if wanted:
                raise
            left_out[kind] = f"{error.name} is not installed here"
        except RegmapError as error:
            if wanted or (kind == "pairs" and points is not None):
                raise
            left_out[kind] = str(error)
    return HandOver(MappingProxyType(files), MappingProxyType(left_out))


def _pairs(fit: Registration, _image: object, _name: PurePath, points: int) -> Files:
    pairs = fit.control_points(points)
    made = {
        "control-points.json": control_points.to_json,
        "control-points.yaml": control_points.to_yaml,
        "control-points.csv": control_points.to_csv,
        "control-points.gcp.txt": control_points.to_gdal,
    }
    return {name: spell(fit, pairs, accept_doubt=True) for name, spell in made.items()}


def _rooms(fit: Registration, _image: object, _name: PurePath, _points: int) -> Files:
    return {"rooms.geojson": json_text(geojson.rooms(fit, accept_doubt=True))}


def _borders(fit: Registration, _image: object, _name: PurePath, _points: int) -> Files:
    return {"borders.geojson": json_text(geojson.drawn_borders(fit, accept_doubt=True))}


# Georeferences need rasterio, pairs and GeoJSON do not.


def _world_file(fit: Registration, _image: object, name: PurePath, _points: int) -> Files:
    from regmap.outputs import georeference

    return {
        georeference.world_file_name(name.name): georeference.world_file(fit, accept_doubt=True)
    }


def _geotiff(fit: Registration, image: object, name: PurePath, _points: int) -> Files:
    from regmap.outputs import georeference

    pixels = _needed(image, "geotiff")
    return {f"{name.stem}.tif": georeference.geotiff(fit, pixels, accept_doubt=True)}


def _robot_map(fit: Registration, image: object, name: PurePath, _points: int) -> Files:
    from regmap.outputs import georeference

    pixels, pgm = _needed(image, "robot-map"), f"{name.stem}.pgm"
    text, grey = georeference.robot_map(fit, pixels, pgm, accept_doubt=True)
    return {pgm: grey, f"{name.stem}.yaml": text}


def _needed(image: object | None, kind: str) -> object:
    if image is None:
        raise RegmapError(f"{kind} holds the picture itself: give the picture")
    return image


_MAKERS: Mapping[str, Callable[[Registration, object, PurePath, int], Files]] = {
    "pairs": _pairs,
    "rooms": _rooms,
    "borders": _borders,
    "world-file": _world_file,
    "geotiff": _geotiff,
    "robot-map": _robot_map,
}
