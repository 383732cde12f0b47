"""Rooms and areas as GeoJSON (RFC 7946), in local device units by agreement."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import shapely
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from regmap.areas import CAUTION, DeviceArea, Rectangles, room_polygons
from regmap.errors import RegmapError
from regmap.given import instance, listed, mapping
from regmap.outputs.borders import borders
from regmap.outputs.whole_files import json_text, write_whole
from regmap.registration import Registration

if TYPE_CHECKING:
    from regmap.floors import MovedArea

__all__ = ["areas", "drawn_borders", "moved_areas", "rectangles", "rooms", "write"]

AGREEMENT = (
    "Positions are local device coordinates (x, y) in {unit}, and not WGS 84: by prior arrangement "
    "of the parties, as RFC 7946, section 4, allows."
)

IN_PICTURE = (
    "Positions are (column, row) in px of the picture, from the outer corner of its first pixel, "
    "rows downwards, and not WGS 84: by prior arrangement of the parties, as RFC 7946, section 4, "
    "allows."
)


def rooms(fit: Registration, *, accept_doubt: bool = False) -> dict[str, Any]:
    """Return the outlines as a FeatureCollection; each room says how it lies on the picture.

    Args:
        fit: whose outlines to return.
        accept_doubt: use a doubtful fit as it is.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    states = {room.name: room.state for room in fit.rooms}
    return _collection(
        fit.unit,
        (
            _feature(polygon, {"name": name, "state": states.get(name)})
            for name, polygon in room_polygons(fit).items()
        ),
    )


def drawn_borders(fit: Registration, *, accept_doubt: bool = False) -> dict[str, Any]:
    """Return where the fit expects the drawn borders of the rooms, in the PICTURE frame.

    A feature a ring, holes as rings of their own, for programs that draw on the picture: positions
    are (column, row) in px, rows downwards.

    Raises:
        DoubtfulFitError: if the fit is doubtful and `accept_doubt` is False.
    """
    instance(fit, Registration, "fit").refuse_doubt(accept_doubt)
    features = [
        _feature(orient(shapely.Polygon(ring)), {"name": name}) for name, ring in borders(fit)
    ]
    return {**_collection("px", features), "coordinates_note": IN_PICTURE}


def areas(found: Mapping[str, DeviceArea] | Iterable[DeviceArea]) -> dict[str, Any]:
    """Return areas as a FeatureCollection, with the caution that belongs to them.

    Args:
        found: what `regmap.areas.to_device` returned, by name or in a row.

    Raises:
        RegmapError: if there is none, or if they are of different units.
    """
    if isinstance(found, Mapping):
        named = list(found.items())
    else:
        named = [(f"area {i}", area) for i, area in enumerate(listed(found, "found"), start=1)]
    for _, area in named:
        instance(area, DeviceArea, "one of the areas")
    units = {area.unit for _, area in named}
    if len(units) != 1:
        raise RegmapError(f"the areas' units are {sorted(units)}, but exactly one is needed")
    collection = _collection(
        units.pop(),
        (
            _feature(
                area.geometry,
                {
                    "name": name,
                    "rooms": dict(area.rooms),
                    "off_floor": area.off_floor,
                    "keep_off": area.keep_off,
                    "off_walls": area.off_walls,
                    "expected_error": area.expected_error,
                },
            )
            for name, area in named
        ),
    )
    return {**collection, "caution": CAUTION}


def rectangles(found: Mapping[str, Rectangles], *, unit: str) -> dict[str, Any]:
    """Return rectangles as a FeatureCollection, a feature a rectangle, with the caution.

    Args:
        found: area -> what `regmap.areas.rectangles` returned for it.
        unit: of the device frame; "" if it is not known.
    """
    features = [
        _feature(
            shapely.box(*box),
            {
                "name": f"{name} {number}",
                "area": name,
                "fit": one.fit,
                "fill": one.fill,
                "spill": one.spill,
            },
        )
        for name, one in mapping(found, "found").items()
        for number, box in enumerate(
            instance(one, Rectangles, "one of them").boxes.tolist(), start=1
        )
    ]
    return {
        **_collection(instance(unit, str, "unit") or "units of its own", features),
        "caution": CAUTION,
    }


def moved_areas(found: Iterable[MovedArea]) -> dict[str, Any]:
    """Return areas that a change of frame carried over as a FeatureCollection, with the caution.

    Args:
        found: what `FrameChange.areas` returned.

    Raises:
        RegmapError: if there is none.
    """
    from regmap.floors.frame_change import MovedArea

    moved = [instance(area, MovedArea, "one of the areas") for area in listed(found, "found")]
    if not moved:
        raise RegmapError("no areas were carried over: give at least one")
    collection = _collection(
        moved[0].unit,
        (
            _feature(
                area.geometry,
                {
                    "name": area.name,
                    "rooms": dict(area.rooms),
                    "off_floor": area.off_floor,
                    "was_off_floor": area.was_off_floor,
                    "lost": area.lost,
                    "expected_error": area.expected_error,
                },
            )
            for area in moved
        ),
    )
    return {**collection, "caution": CAUTION}


def write(
    collection: Mapping[str, Any], path: str | os.PathLike[str], *, overwrite: bool = False
) -> None:
    """Write what another function of this module returned.

    Raises:
        StoredFileError: if the file is there already and `overwrite` is False, or cannot be
            written.
    """
    write_whole(path, json_text(collection), overwrite=overwrite)


def _collection(unit: str, features: Iterable[dict[str, Any]]) -> dict[str, Any]:
    return {
        "type": "FeatureCollection",
        "unit": unit,
        "coordinates_note": AGREEMENT.format(unit=unit),
        "features": list(features),
    }


def _feature(geometry: BaseGeometry, properties: dict[str, Any]) -> dict[str, Any]:
    # What `areas` makes is wound as RFC 7946 asks: outer rings anti-clockwise, holes clockwise.
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": _lists(shapely.geometry.mapping(geometry)),
    }


def _lists(value: Any) -> Any:
    """Turn shapely's tuples into the lists of JSON, so that what is read back is equal."""
    if isinstance(value, dict):
        return {key: _lists(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_lists(entry) for entry in value]
    return value
