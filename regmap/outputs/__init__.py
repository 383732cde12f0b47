"""The only place that writes: proof pictures, pairs, georeferences, GeoJSON, stored fits.

Its modules are loaded when they are first used, as the names of `regmap` are: some need OpenCV or
rasterio, and those that do not are used where neither is installed.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from regmap.outputs import (
        control_points,
        folder,
        geojson,
        georeference,
        hand_over,
        proof,
        sketch,
    )

__all__ = [
    "control_points",
    "folder",
    "geojson",
    "georeference",
    "hand_over",
    "proof",
    "sketch",
]


def __getattr__(name: str) -> Any:
    if name in __all__:
        return importlib.import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
