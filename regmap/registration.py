"""The result of a registration: frozen, with the arithmetic that belongs to it.

Needs numpy and affine alone, so that a program that only uses stored fits stays light.
"""

from __future__ import annotations

import dataclasses
import math
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike, NDArray

from regmap import accuracy, frames, given, pairs
from regmap.errors import DoubtfulFitError, RegmapError
from regmap.frames import LARGEST
from regmap.pairs import ControlPoint

__all__ = [
    "MODELS",
    "NOTHING_FITS",
    "ROOM_STATES",
    "SURE",
    "ControlPoint",
    "Registration",
    "RoomFit",
    "fits_nowhere",
]

Floats: TypeAlias = NDArray[np.float64]

MODELS = ("similarity", "affine")
ROOM_STATES = ("agrees", "disagrees", "not shown")
SURE = 0.9
"""A fit of lower confidence is doubtful."""

NOTHING_FITS = 0.05
"""What would be of lower confidence, with all that fits as well, is refused: it is no fit."""


def fits_nowhere(confidence: float, alternatives: Iterable[float]) -> bool:
    """True if an answer of this confidence, and those `alternatives` among which it is shared, are
    none even together. A floor that fits in many ways is no floor that fits nowhere."""
    return confidence + sum(alternatives) < NOTHING_FITS


_MOST_RESIDUALS = 100_000


@dataclass(frozen=True, eq=False)
class RoomFit:
    """How one outline lies on the picture.

    Attributes:
        name: of the outline.
        state: "agrees", "disagrees", or "not shown": outside the picture, or hidden in it.
        overlap: 0..1, area that the outline and the matched region of the picture share, over the
            area that either covers; nan where there is no such region.
        rmse_px: root of the mean squared edge residual along this outline, px; nan where no edge
            supports it.
        support: 0..1, share of the outline's shown length that lies on an edge of the picture.
        shown: 0..1, share of the outline's length that lies inside the picture.
        label_px: (column, row) of a place well inside the room.
    """

    name: str
    state: str
    overlap: float
    rmse_px: float
    support: float
    shown: float
    label_px: tuple[float, float]

    def __post_init__(self) -> None:
        what = f"room {given.short(self.name)}"
        given.chosen(self.state, ROOM_STATES, f"{what}: state")
        for name in ("overlap", "support", "shown"):
            share = given.real(getattr(self, name), f"{what}: {name}")
            _check(0 <= share <= 1 or math.isnan(share), f"{what}: {name}", share, "0 to 1")
        rmse = given.real(self.rmse_px, f"{what}: rmse_px")
        _check(not rmse < 0, f"{what}: rmse_px", rmse, "not negative")
        object.__setattr__(self, "label_px", _point(self.label_px, f"{what}: label_px"))


@dataclass(frozen=True, eq=False, repr=False)
class Registration:
    """Where a picture of a floor map lies in the device frame, and how sure that is.

    Attributes:
        transform: picture (column, row) -> device (x, y).
        model: "similarity" or "affine".
        confidence: 0..1, the probability that the fit is right: to within 2 px, RMS over the floor.
        reprojection_error: root of the mean squared distance, in px, between the picture's edges
            and the outlines laid on them, measured across the outline.
        wall_offset: device units by which the outlines lie inside (+) the drawn borders.
        covariance: (6, 6), device units squared, of the coefficients (a, b, c, d, e, f) of
            x = a u + b v + c, y = d u + e v + f, (u, v) = picture position minus `anchor_px`.
        anchor_px: (column, row) about which the covariance is given.
        floor_error: standard deviation per axis, device units, of an error that no number of edges
            removes, such as the cell size of the outlines.
        image_size: (width, height) of the picture, px.
        outlines: name -> rings, each (N, 2), not closed, device frame; the outer ring first.
        rooms: one entry for each outline.
        reasons: in words, why the confidence is not higher, and what would raise it.
        alternatives: other registrations that fit as well.
        residuals: (M, 3) column, row, and signed residual in px (edge minus outline, along the
            outline's outward normal) of samples on the outlines as they lie on the picture.
        unit: of the device frame.
        engine: version of what made this.
    """

    transform: Affine
    model: str
    confidence: float
    reprojection_error: float
    wall_offset: float
    covariance: Floats
    anchor_px: tuple[float, float]
    floor_error: float
    image_size: tuple[int, int]
    outlines: Mapping[str, tuple[Floats, ...]]
    rooms: tuple[RoomFit, ...]
    reasons: tuple[str, ...] = ()
    alternatives: tuple[Registration, ...] = ()
    residuals: Floats = field(default_factory=lambda: np.empty((0, 3)))
    unit: str = "mm"
    engine: str = ""

    def __post_init__(self) -> None:
        put = self._put
        given.chosen(self.model, MODELS, "model")
        for name in ("unit", "engine"):
            given.instance(getattr(self, name), str, name)
        for name in ("confidence", "reprojection_error", "wall_offset", "floor_error"):
            put(name, given.real(getattr(self, name), name))
        _check(0 <= self.confidence <= 1, "confidence", self.confidence, "0 to 1")
        error = self.reprojection_error
        _check(not error < 0, "reprojection_error", error, "not negative")
        _check(abs(self.wall_offset) <= LARGEST, "wall_offset", self.wall_offset, "finite")
        _check(0 <= self.floor_error <= LARGEST, "floor_error", self.floor_error, "0 or more")
        frames.invert(self.transform)  # a map that squeezes the plane is refused here
        width, height = _point(self.image_size, "image_size")
        whole = width == int(width) > 0 and height == int(height) > 0
        _check(whole, "image_size", self.image_size, "two whole numbers above zero")
        put("image_size", (int(width), int(height)))
        put("anchor_px", _point(self.anchor_px, "anchor_px"))
        put("covariance", _frozen(_covariance(self.covariance)))
        put("residuals", _frozen(_table(self.residuals)))
        outlines = {
            str(name): tuple(
                _frozen(frames.as_points(ring, f"outline {name!r}").copy())
                for ring in given.listed(rings, f"outline {name!r}")
            )
            for name, rings in given.mapping(self.outlines, "outlines").items()
        }
        for name, rings in outlines.items():
            fewest = min(map(len, rings), default=0)
            _check(fewest >= 3, f"outline {name!r}: fewest points of a ring", fewest, "3 or more")
        put("outlines", MappingProxyType(outlines))
        _check(not isinstance(self.reasons, str), "reasons", self.reasons, "several texts")
        for name in ("rooms", "reasons", "alternatives"):
            put(name, tuple(given.listed(getattr(self, name), name)))
        for name, kind in (("rooms", RoomFit), ("reasons", str), ("alternatives", Registration)):
            for one in getattr(self, name):
                given.instance(one, kind, f"one of {name}")

    def _put(self, name: str, value: object) -> None:
        object.__setattr__(self, name, value)

    def __reduce__(self) -> tuple[Any, ...]:
        # Built anew on the other side: pickled arrays come back writable, and the read-only view
        # of the outlines does not pickle.
        values = {f.name: getattr(self, f.name) for f in dataclasses.fields(self)}
        values["outlines"] = dict(self.outlines)
        return _rebuilt, (type(self), values)

    @property
    def image_to_device(self) -> Floats:
        """(2, 3) array of the map picture -> device."""
        return frames.affine_to_matrix(self.transform)

    @property
    def device_to_image(self) -> Floats:
        """(2, 3) array of the map device -> picture."""
        return frames.invert(self.transform)

    @property
    def mirrored(self) -> bool:
        """True if the picture shows the floor as in a looking-glass (determinant positive)."""
        return frames.is_mirrored(self.transform)

    @property
    def unit_per_px(self) -> float:
        """Geometric mean scale, device units per px."""
        return frames.scale_of(self.transform)

    @property
    def rotation_deg(self) -> float:
        """Direction of the picture's columns in the device frame, degrees ccw from +x."""
        return frames.rotation_of(self.transform)

    @property
    def doubtful(self) -> bool:
        """True if the confidence is below 0.9, or other positions fit as well."""
        return self.confidence < SURE or bool(self.alternatives)

    def refuse_doubt(self, accept_doubt: bool = False) -> None:
        """Raise DoubtfulFitError if this fit is doubtful and `accept_doubt` is False."""
        if self.doubtful and not accept_doubt:
            raise DoubtfulFitError(self)

    def to_device(self, px: ArrayLike) -> Floats:
        """Map picture points (N, 2), (column, row) in px, to device points (N, 2)."""
        return frames.apply(self.transform, px)

    def to_image(self, xy: ArrayLike) -> Floats:
        """Map device points (N, 2) to picture points (N, 2), (column, row) in px."""
        return frames.apply(self.device_to_image, xy)

    def position_covariance(self, px: ArrayLike) -> Floats:
        """Return (N, 2, 2), device units squared: J covariance J^T + floor_error^2 I at `px`."""
        offsets = frames.as_points(px, "px") - self.anchor_px
        return accuracy.point_covariances(self.covariance, offsets, self.floor_error)

    def expected_error(self, px: ArrayLike) -> Floats:
        """Return (N,) device units that the true error stays below at 95 % of such points (CE95).

        Args:
            px: (N, 2) picture points; they may lie outside the picture.
        """
        return accuracy.circular_error(self.position_covariance(px))

    def error_ellipses(self, px: ArrayLike) -> Floats:
        """Return (N, 3): the ellipse that holds 95 % of the errors at each picture point.

        Semi-axes major and minor in device units; the major axis' direction in degrees ccw from +x.
        """
        return accuracy.error_ellipses(self.position_covariance(px))

    def control_points(self, n: int = 4) -> tuple[ControlPoint, ...]:
        """Return `n` pairs on room corners inside the picture, spread as well as the floor allows.

        The picture side is where this fit puts the corner of the outline, so that the pairs agree
        with `transform` to the last digit and say nothing new about its accuracy.

        Raises:
            RegmapError: if the picture shows fewer than `n` different corners, or `n` is over 1000.
        """
        return pairs.corner_pairs(self.outlines, self.to_image, self.image_size, n)

    def same_as(self, other: Registration) -> bool:
        """True if every field holds the same values, bit by bit (nan equals nan)."""
        other = given.instance(other, Registration, "other")
        return bool(self.to_dict() == other.to_dict())

    def to_dict(self) -> dict[str, Any]:
        """Return plain lists, numbers and texts, as they stand in the stored file."""
        from regmap.outputs import storage

        return storage.encode(self)

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Registration:
        """Return the registration of what `to_dict` gave.

        Raises:
            StoredFileError: if something is missing or wrong, or the version is a newer one.
        """
        from regmap.outputs import storage

        return storage.decode(stored)

    def save(self, path: str | os.PathLike[str], *, overwrite: bool = False) -> None:
        """Write a JSON file, whole or not at all.

        Raises:
            StoredFileError: if the file is there already and `overwrite` is False, or cannot be
                written.
        """
        from regmap.outputs import storage

        storage.save(self, path, overwrite=overwrite)

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Registration:
        """Read what `save` wrote; every number comes back as it was, bit by bit.

        Raises:
            StoredFileError: if the file cannot be read, is damaged, or is of a newer version.
        """
        from regmap.outputs import storage

        return storage.load(path)

    def __repr__(self) -> str:
        return (
            f"<Registration: {self.model}, confidence {self.confidence:.2f}, "
            f"reprojection error {self.reprojection_error:.2f} px, "
            f"{self.unit_per_px:.4g} {self.unit}/px, {self.rotation_deg:.2f} deg"
            f"{', mirrored' if self.mirrored else ''}, {len(self.outlines)} outlines"
            f"{', doubtful' if self.doubtful else ''}>"
        )

    def _repr_html_(self) -> str:
        from regmap.outputs import notebook

        return notebook.html(self)


def _rebuilt(cls: type[Registration], values: dict[str, Any]) -> Registration:
    return cls(**values)


def _check(good: bool, what: str, value: object, allowed: str) -> None:
    if not good:
        shown = value if isinstance(value, str | float | int | tuple) else given.short(value)
        raise RegmapError(f"{what} is {shown}, but it must be {allowed}")


def _point(values: ArrayLike, what: str) -> tuple[float, float]:
    points = frames.as_points(values, what)
    _check(len(points) == 1, what, given.short(values), "one pair of numbers")
    return pairs.pair(points[0])


def _frozen(array: Floats) -> Floats:
    array.flags.writeable = False
    return array


def _table(values: ArrayLike) -> Floats:
    table = frames.as_floats(values, "residuals", "(M, 3)")
    if table.size == 0:
        return np.empty((0, 3))
    good = table.ndim == 2 and table.shape[1] == 3 and len(table) <= _MOST_RESIDUALS
    _check(good, "residuals' shape", table.shape, f"(M, 3), M at most {_MOST_RESIDUALS}")
    return table


def _covariance(values: ArrayLike) -> Floats:
    """Return a copy, exactly symmetric; refuse what is no covariance."""
    matrix = frames.as_floats(values, "covariance")
    _check(matrix.shape == (6, 6), "covariance's shape", matrix.shape, "(6, 6)")
    _check(bool(np.isfinite(matrix).all()), "covariance", values, "finite")
    # The coefficients have different units, so that only their correlations can be compared.
    deviation = np.sqrt(np.maximum(matrix.diagonal(), 0.0))
    unit = np.where(deviation > 0, deviation, 1.0)
    with np.errstate(over="ignore"):
        correlation = matrix / np.outer(unit, unit)
    _check(bool(np.isfinite(correlation).all()), "covariance", values, "as small as its variances")
    symmetric = np.allclose(correlation, correlation.T, atol=1e-6)
    _check(symmetric, "covariance", values, "symmetric")
    lowest = float(np.linalg.eigvalsh((correlation + correlation.T) / 2).min())
    _check(lowest > -1e-6, "the least eigenvalue of the correlations", lowest, "0 or more")
    half: Floats = (matrix + matrix.T) / 2
    return half
