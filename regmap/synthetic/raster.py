"""Paint polygons with exact coverage: each pixel gets the share of its area that a polygon covers.

Made pictures must be true to a few hundredths of a pixel. Supersampling is not: an axis-parallel
edge then jumps in steps, and OpenCV's polygon fill also paints the pixels of the edge itself. So
the area under every edge is summed in closed form, pixel by pixel (the signed-area accumulation
that font rasterisers use), and a running sum along the rows turns it into coverage.

Coordinates are (column, row) px with (0, 0) at the outer corner of the first pixel.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .shapes import through

__all__ = ["Canvas", "coverage"]

Array = NDArray[np.float64]
Colour = Sequence[float] | Array


def _pieces(rings: Sequence[Array]) -> tuple[Array, Array]:
    """Cut edges of closed rings where they cross pixel borders: starts, ends (N, 2)."""
    start = np.concatenate([r[:-1] for r in rings])
    end = np.concatenate([r[1:] for r in rings])
    edge_ids = [np.arange(len(start)), np.arange(len(start))]
    shares = [np.zeros(len(start)), np.ones(len(start))]
    for axis in (0, 1):
        low = np.minimum(start[:, axis], end[:, axis])
        high = np.maximum(start[:, axis], end[:, axis])
        first = np.floor(low) + 1
        count = np.maximum(np.ceil(high) - first, 0).astype(np.int64)
        ids = np.repeat(np.arange(len(start)), count)
        step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        line = first[ids] + step
        shares.append((line - start[ids, axis]) / (end[ids, axis] - start[ids, axis]))
        edge_ids.append(ids)
    ids = np.concatenate(edge_ids)
    share = np.clip(np.concatenate(shares), 0.0, 1.0)
    order = np.lexsort((share, ids))
    ids, share = ids[order], share[order]
    points = start[ids] + share[:, None] * (end[ids] - start[ids])
    same = ids[1:] == ids[:-1]
    return points[:-1][same], points[1:][same]


def _rings(shape: BaseGeometry) -> list[Array]:
    """Closed rings of all polygons in `shape`, outer rings and holes wound opposite ways."""
    polygons = shapely.get_parts(shapely.orient_polygons(shape))
    polygons = polygons[shapely.get_type_id(polygons) == 3]
    rings, _ = shapely.get_rings(polygons, return_index=True)
    return [shapely.get_coordinates(r) for r in rings]


def coverage(
    shape: BaseGeometry, width: int, height: int
) -> tuple[slice, slice, NDArray[np.float32]]:
    """Share of every pixel's area that `shape` covers.

    Parameters: `shape`, polygon or multipolygon of disjoint parts, in (column, row) px; `width` and
    `height` of the picture, px. Returns the rows and columns of the touched box, and the coverage
    in it, (rows, columns), 0..1. What lies outside the picture is dropped. The box may be empty.
    """
    rings = _rings(shape)
    if not rings:
        return slice(0, 0), slice(0, 0), np.zeros((0, 0), np.float32)
    points = np.concatenate(rings)
    low = np.clip(np.floor(points.min(axis=0)), 0, (width, height)).astype(int)
    high = np.clip(np.ceil(points.max(axis=0)), 0, (width, height)).astype(int)
    box_w, box_h = int(high[0] - low[0]), int(high[1] - low[1])
    rows, columns = slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))
    if box_w == 0 or box_h == 0:
        return rows, columns, np.zeros((box_h, box_w), np.float32)
    start, end = _pieces([r - low for r in rings])
    middle = (start + end) / 2
    row = np.floor(middle[:, 1]).astype(np.int64)
    # What lies left of the box counts for all its pixels, what lies right of it for none.
    x = np.clip(middle[:, 0], 0, box_w)
    column = np.floor(x).astype(np.int64)
    rise = end[:, 1] - start[:, 1]
    inside = (row >= 0) & (row < box_h) & (rise != 0)
    row, column, x, rise = row[inside], column[inside], x[inside], rise[inside]
    stride = box_w + 2
    index = row * stride + column
    right = rise * (x - column)
    area = np.bincount(index, rise - right, minlength=box_h * stride)
    area += np.bincount(index + 1, right, minlength=box_h * stride)
    signed = np.cumsum(area.reshape(box_h, stride)[:, :box_w], axis=1)
    return rows, columns, np.clip(np.abs(signed), 0, 1).astype(np.float32)


class Canvas:
    """A picture in the making: float32 (H, W, 3), 0..255, and the way from floor mm to its pixels.

    `to_px` is the (2, 3) matrix from floor (x, y) mm to picture (column, row) px. With
    `antialias=False` a pixel takes the colour that covers its larger part, as many devices paint.
    """

    def __init__(
        self, background: NDArray[np.float32], to_px: Array, *, antialias: bool = True
    ) -> None:
        self.image = background
        self.to_px = to_px
        self.antialias = antialias

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) px."""
        return self.image.shape[1], self.image.shape[0]

    @property
    def px_per_mm(self) -> float:
        """Geometric mean scale."""
        return float(np.sqrt(abs(np.linalg.det(self.to_px[:, :2]))))

    def project(self, shape: BaseGeometry) -> BaseGeometry:
        """Floor mm -> picture px."""
        return through(shape, self.to_px)

    def alpha(self, shape: BaseGeometry) -> tuple[slice, slice, NDArray[np.float32]]:
        """Coverage of a shape given in px."""
        rows, columns, share = coverage(shape, *self.size)
        return rows, columns, share if self.antialias else (share >= 0.5).astype(np.float32)

    def fill(self, shape: BaseGeometry, colour: Colour, opacity: float = 1.0) -> None:
        """Lay one colour over what is there. `shape` in floor mm."""
        self.fill_px(self.project(shape), colour, opacity)

    def fill_px(self, shape: BaseGeometry, colour: Colour, opacity: float = 1.0) -> None:
        """Lay one colour over what is there. `shape` in picture px."""
        rows, columns, share = self.alpha(shape)
        part = self.image[rows, columns]
        part += (np.asarray(colour, np.float32) - part) * (share * np.float32(opacity))[..., None]

    def tile(self, shapes: Iterable[BaseGeometry], colours: Iterable[Colour]) -> None:
        """Fill disjoint shapes, floor mm, side by side.

        Where two of them share a pixel it gets their exact mixture: laid one over the other, the
        ground would shine through along their common border.
        """
        ground = self.image.copy()
        for shape, colour in zip(shapes, colours, strict=True):
            rows, columns, share = self.alpha(self.project(shape))
            step = np.asarray(colour, np.float32) - ground[rows, columns]
            self.image[rows, columns] += step * share[..., None]

    def stroke(
        self, lines: BaseGeometry, colour: Colour, width_px: float, opacity: float = 1.0
    ) -> None:
        """Draw lines, floor mm, with a pen of `width_px`."""
        flat = self.project(lines)
        if width_px > 0 and not flat.is_empty:
            pen = flat.buffer(width_px / 2, cap_style="flat", join_style="mitre")
            self.fill_px(pen, colour, opacity)

    def enlarge(self, times: int, size: tuple[int, int]) -> None:
        """Make each pixel a block of `times` x `times`, cut to `size`; later strokes are smooth."""
        if times > 1:
            big = self.image.repeat(times, axis=0).repeat(times, axis=1)
            self.image = np.ascontiguousarray(big[: size[1], : size[0]])
            self.to_px = times * self.to_px

    def finish(self) -> NDArray[np.uint8]:
        """The picture, uint8 RGB."""
        return np.clip(np.rint(self.image), 0, 255).astype(np.uint8)
