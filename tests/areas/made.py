"""Boxes and cells that are made up."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from regmap.areas import grid
from regmap.areas.cells import cut_into_cells

Floats = NDArray[np.float64]


def random_boxes(rng: np.random.Generator, count: int, step: float = 0.0) -> Floats:
    """(N, 4) boxes within (0, 0, 10, 10), their sides on multiples of a step."""
    low = rng.uniform(0, 8, (count, 2))
    boxes = np.hstack([low, low + rng.uniform(0.3, 5, (count, 2))])
    if step:
        boxes = np.rint(boxes / step) * step
        boxes[:, 2:] = np.maximum(boxes[:, 2:], boxes[:, :2] + step)
    return np.asarray(np.minimum(boxes, 10.0))


def random_cells(seed: int) -> tuple[grid.CellGrid, NDArray[np.bool_]]:
    """The grid of a polygon that is made of 5 by 6 unequal cells, and which cells those are."""
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.integers(1, 9, 7)).astype(np.float64)
    y = np.cumsum(rng.integers(1, 9, 6)).astype(np.float64)
    true = rng.random((5, 6)) < 0.75
    true[2] = True
    boxes = [shapely.box(x[c], y[r], x[c + 1], y[r + 1]) for r, c in np.argwhere(true)]
    edges = grid.edges_of(shapely.orient_polygons(shapely.union_all(boxes)))
    return grid.CellGrid(x, y, *cut_into_cells(edges, x, y, 1e-9)), true


def covers(boxes: Floats, pieces: Floats) -> bool:
    """True if each of (M, 4) pieces lies within one of (N, 4) boxes altogether."""
    low = (boxes[:, None, :2] <= pieces[:, :2]).all(axis=-1)
    return bool((low & (pieces[:, 2:] <= boxes[:, None, 2:]).all(axis=-1)).any(axis=0).all())
