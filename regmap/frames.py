"""Arithmetic of the maps between picture frame and device frame. Needs numpy and affine alone.

Picture frame: (column, row) in px, row downwards, (0, 0) at the outer corner of the first pixel.
Device frame: (x, y), mostly in mm and mostly with y upwards. A map is an `affine.Affine` or its
upper two rows as a (2, 3) array; every function here takes either. Points are (N, 2) arrays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike, NDArray

from regmap.errors import RegmapError
from regmap.given import short

__all__ = [
    "LARGEST",
    "PIXEL_CENTRE",
    "Residuals",
    "affine_to_matrix",
    "apply",
    "as_floats",
    "as_points",
    "compose",
    "fit_affine",
    "fit_similarity",
    "invert",
    "is_mirrored",
    "matrix_to_affine",
    "residuals",
    "rotation_of",
    "scale_of",
]

Floats: TypeAlias = NDArray[np.float64]
Map: TypeAlias = "Affine | ArrayLike"

PIXEL_CENTRE = 0.5
"""Column and row of the first pixel's centre. Libraries that count from centres call it 0."""

# Below this share of the spread in the other direction, points count as lying on one line.
_FLAT = 1e-9

LARGEST = 1e30
"""Numbers above it are refused: their squares and products would leave what doubles hold."""


def as_points(points: ArrayLike, what: str = "points") -> Floats:
    """Return `points` as a finite (N, 2) float64 array; one bare pair counts as N = 1.

    Raises:
        RegmapError: if the shape is another, or a number is not finite or above 1e30.
    """
    array = as_floats(points, what, "(N, 2)")
    if array.shape == (2,):
        array = array[None, :]
    if array.size == 0:
        return np.empty((0, 2))
    if array.ndim != 2 or array.shape[1] != 2:
        raise RegmapError(f"{what}: the shape is {array.shape}, but (N, 2) is needed")
    if not np.isfinite(array).all():
        raise RegmapError(
            f"{what}: {int((~np.isfinite(array)).sum())} of the numbers are not finite"
        )
    if np.abs(array).max() > LARGEST:
        raise RegmapError(f"{what}: a number is above {LARGEST:g}, where squares overflow")
    return array


def as_floats(values: object, what: str, shape: str = "") -> Floats:
    """Return a new float64 array of what holds numbers; `shape` is named where it holds none.

    Raises:
        RegmapError: if something in it is no number, or none that a double holds.
    """
    try:
        given = np.asarray(values)
        if given.dtype.kind not in "biufO":
            raise TypeError(f"{given.dtype} came")
        return np.array(given, dtype=np.float64)
    except Exception as error:  # an array of somebody else's may fail in ways of its own
        in_shape = f" in the shape {shape}" if shape else ""
        raise RegmapError(f"{what}: numbers{in_shape} are needed ({error})") from None


def affine_to_matrix(transform: Map) -> Floats:
    """Return the (2, 3) array of a map given as Affine, (2, 3) or (3, 3) array.

    Raises:
        RegmapError: if it is none of these, or a number in it is not finite.
    """
    if isinstance(transform, Affine):
        t = transform
        matrix = np.array([[t.a, t.b, t.c], [t.d, t.e, t.f]], dtype=np.float64)
    else:
        matrix = as_floats(transform, "a map", "(2, 3)")
    if matrix.shape == (3, 3) and np.array_equal(matrix[2], (0.0, 0.0, 1.0)):
        matrix = matrix[:2]
    if matrix.shape != (2, 3) or not np.isfinite(matrix).all():
        raise RegmapError(f"a map must be a finite Affine or (2, 3) array, not {short(transform)}")
    if np.abs(matrix).max() > LARGEST:
        raise RegmapError(
            f"a map is {short(transform)}, but numbers up to {LARGEST:g} are taken: squares of "
            "more overflow"
        )
    return matrix


def matrix_to_affine(matrix: Map) -> Affine:
    """Return the Affine of a (2, 3) array."""
    return Affine(*(float(value) for value in affine_to_matrix(matrix).ravel()))


def apply(transform: Map, points: ArrayLike) -> Floats:
    """Map (N, 2) points; the result is a new (N, 2) array."""
    matrix = affine_to_matrix(transform)
    mapped: Floats = as_points(points) @ matrix[:, :2].T + matrix[:, 2]
    return mapped


def invert(transform: Map) -> Floats:
    """Return the (2, 3) array of the map back.

    Raises:
        RegmapError: if the map squeezes the plane onto a line or a point.
    """
    matrix = affine_to_matrix(transform)
    linear = matrix[:, :2]
    determinant = linear[0, 0] * linear[1, 1] - linear[0, 1] * linear[1, 0]
    power = float((linear**2).sum())
    if abs(determinant) <= 1e-12 * power or power <= LARGEST**-2:
        raise RegmapError(
            "this map cannot be inverted: it squeezes the plane onto a line or a point"
        )
    back = np.array([[linear[1, 1], -linear[0, 1]], [-linear[1, 0], linear[0, 0]]]) / determinant
    return np.column_stack([back, -back @ matrix[:, 2]])


def compose(outer: Map, inner: Map) -> Floats:
    """Return the (2, 3) array of the map that applies `inner` first and `outer` to its result."""
    second, first = affine_to_matrix(outer), affine_to_matrix(inner)
    linear = second[:, :2] @ first[:, :2]
    return np.column_stack([linear, second[:, :2] @ first[:, 2] + second[:, 2]])


def _determinant(matrix: Floats) -> float:
    return float(matrix[0, 0] * matrix[1, 1] - matrix[0, 1] * matrix[1, 0])


def scale_of(transform: Map) -> float:
    """Return the geometric mean scale, target units per source unit: areas grow by its square."""
    return math.sqrt(abs(_determinant(affine_to_matrix(transform))))


def is_mirrored(transform: Map) -> bool:
    """Tell whether a map picture -> device belongs to a picture that shows the floor mirrored.

    Rows count downwards and device y upwards, so that an ordinary picture has a map of negative
    determinant: the flip that the two frames cause. A positive determinant is a truly mirrored
    picture.
    """
    return _determinant(affine_to_matrix(transform)) > 0


def rotation_of(transform: Map) -> float:
    """Return the direction of the source's first axis (a picture's columns) in the target frame.

    Degrees counter-clockwise from the target's first axis, within [-180, 180]. For a map with
    shear or unequal scales it is the direction under the nearest similarity of the same handedness
    (least squares on the four coefficients).
    """
    (a, b, _), (d, e, _) = affine_to_matrix(transform)
    if a * e - b * d > 0:
        return math.degrees(math.atan2(d - b, a + e))
    return math.degrees(math.atan2(d + b, a - e))


@dataclass(frozen=True, eq=False)
class Residuals:
    """What a map leaves over between two sets of points.

    Attributes:
        vectors: (N, 2), target minus mapped source, in target units.
        rmse: root of the mean over the N points of dx^2 + dy^2 (per point, not per coordinate;
            divided by N, whatever the number of unknowns solved for).
        largest: the largest length of a vector.
    """

    vectors: Floats
    rmse: float
    largest: float

    @property
    def rmse_per_coordinate(self) -> float:
        """Root of the mean over the 2N coordinates of their squared residuals: `rmse` / sqrt(2)."""
        return self.rmse / math.sqrt(2.0)


def residuals(transform: Map, source: ArrayLike, target: ArrayLike) -> Residuals:
    """Map `source` (N, 2) and compare it with `target` (N, 2)."""
    source, target, _ = _pairs(source, target, None, at_least=1)
    vectors = target - apply(transform, source)
    squared = (vectors**2).sum(axis=1)
    vectors.flags.writeable = False
    return Residuals(vectors, math.sqrt(float(squared.mean())), math.sqrt(float(squared.max())))


def fit_similarity(
    source: ArrayLike,
    target: ArrayLike,
    *,
    weights: ArrayLike | None = None,
    mirrored: bool | None = None,
) -> Floats:
    """Return the (2, 3) map of shift, turn and one scale that brings `source` nearest to `target`.

    Nearest in the sense of least squares.

    Args:
        source: (N, 2) points, N >= 2.
        target: (N, 2) points, in the same order.
        weights: (N,) factors of the squared distances, not negative.
        mirrored: as in `is_mirrored`, it names the sign of the determinant: False, negative, an
            ordinary picture on a device frame with y upwards; True, positive, a mirrored picture,
            and likewise any map between two frames of the same handedness (device to device); None,
            whichever fits better.

    Raises:
        RegmapError: if the points do not determine the map. With `mirrored=None` points on one
            line do not.

    The closed form is that of Umeyama, IEEE TPAMI 13(4):376-380, 1991 (doi:10.1109/34.88573). In
    the plane it is one division of complex numbers.
    """
    source, target, weight = _pairs(source, target, weights, at_least=2)
    centre, middle = _mean(source, weight), _mean(target, weight)
    z, w = _complex(source - centre), _complex(target - middle)
    _refuse_heap(z, source, "source")
    _refuse_heap(w, target, "target")
    power = float((weight * np.abs(z) ** 2).sum())
    plain = complex((weight * w * z.conj()).sum()) / power
    flipped = complex((weight * w * z).sum()) / power
    if mirrored is None:
        # With a factor k the sum of squares falls by |k|^2 times the power, so that the larger
        # factor fits better.
        if math.isclose(abs(plain), abs(flipped), rel_tol=_FLAT):
            raise RegmapError(
                "these points fit a floor and its mirror image equally well: say mirrored=True or "
                "mirrored=False, or give a point off the line"
            )
        mirrored = abs(plain) > abs(flipped)
    k = plain if mirrored else flipped
    sign = 1.0 if mirrored else -1.0
    linear = np.array([[k.real, -sign * k.imag], [k.imag, sign * k.real]])
    return np.column_stack([linear, middle - linear @ centre])


def fit_affine(source: ArrayLike, target: ArrayLike, *, weights: ArrayLike | None = None) -> Floats:
    """Return the (2, 3) affine map that brings `source` nearest to `target` (least squares).

    Args:
        source: (N, 2) points, N >= 3, not on one line.
        target: (N, 2) points, in the same order.
        weights: (N,) factors of the squared distances, not negative.

    Raises:
        RegmapError: if the points do not determine the map.
    """
    source, target, weight = _pairs(source, target, weights, at_least=3)
    centre, middle = _mean(source, weight), _mean(target, weight)
    root = np.sqrt(weight)[:, None]
    spread = np.linalg.svd((source - centre) * root, compute_uv=False)
    if spread[1] <= _FLAT * spread[0] or spread[1] <= 1e-12 * np.abs(source).max():
        raise RegmapError("an affine map needs three points that do not lie on one line")
    linear = np.linalg.lstsq((source - centre) * root, (target - middle) * root, rcond=None)[0].T
    return np.column_stack([linear, middle - linear @ centre])


def _pairs(
    source: ArrayLike, target: ArrayLike, weights: ArrayLike | None, *, at_least: int
) -> tuple[Floats, Floats, Floats]:
    """Check pairs of points; return them without those of weight zero, and weights of mean one."""
    source, target = as_points(source, "source"), as_points(target, "target")
    if len(source) != len(target):
        raise RegmapError(
            f"{len(source)} source points but {len(target)} target points: pairs are needed"
        )
    weight = np.ones(len(source)) if weights is None else np.asarray(weights, dtype=np.float64)
    if weight.shape != (len(source),) or not np.isfinite(weight).all() or (weight < 0).any():
        raise RegmapError(f"weights must be {len(source)} finite numbers, none of them negative")
    used = weight > 0
    if int(used.sum()) < at_least:
        raise RegmapError(
            f"{int(used.sum())} pair(s) of points came, but at least {at_least} are needed"
        )
    weight = weight[used]
    return source[used], target[used], weight / weight.mean()


def _mean(points: Floats, weight: Floats) -> Floats:
    mean: Floats = (points * weight[:, None]).mean(axis=0)
    return mean


def _complex(points: Floats) -> NDArray[np.complex128]:
    return points[:, 0] + 1j * points[:, 1]


def _refuse_heap(centred: NDArray[np.complex128], points: Floats, what: str) -> None:
    # Against the size of the coordinates: subtracting the mean of equal large numbers leaves
    # rounding, not spread.
    if np.abs(centred).max() <= 1e-12 * max(float(np.abs(points).max()), 1e-300):
        raise RegmapError(f"all {what} points lie in one place: two different places are needed")
