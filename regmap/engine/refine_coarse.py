"""Point-to-line ICP of all candidates at once, on the working picture's edges.

As in `refine`, the distance between outlines and borders is an unknown of every step.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .edges import Edges, normal_channel
from .moves import apply_step, columns
from .score import lay
from .walls import Samples

Floats = NDArray[np.float64]
Single = NDArray[np.float32]

# Working px: beyond this a wall would be thicker than half a small room.
_FARTHEST_OFFSET = 14.0


def refine_coarse(
    poses: Floats,
    edges: Edges,
    samples: Samples,
    outer: NDArray[np.bool_],
    *,
    affine: bool,
    reaches: tuple[float, ...],
    offset: Floats | None = None,
) -> tuple[Floats, Floats]:
    """Refined poses (C, 2, 3) and their wall offsets (C, 2), inner and outer, in working px, which
    start at `offset`, or at nothing.

    `outer` (E,) tells for each wall whether it is an outer one; `reaches`: for each iteration the
    distance in working px at which an edge stops to count.
    """
    offset = np.zeros((len(poses), 2)) if offset is None else offset
    kind = outer[samples.wall].astype(np.int64)
    kinds = np.stack([kind == 0, kind == 1]).astype(np.float32)
    weights = samples.weight.astype(np.float32)
    width, height = edges.size
    middle, half = 0.5 * np.array([width, height]), 0.5 * float(np.hypot(width, height))
    for reach in reaches:
        x, y, nx, ny = _place(poses, samples)
        shift = offset[:, kind]
        out_x, out_y = x + nx * shift, y + ny * shift
        channel = normal_channel(nx, ny)
        inside = (out_x >= 1) & (out_x < width - 1) & (out_y >= 1) & (out_y < height - 1)
        if not len(edges.point):
            break
        right, down = edges.near.ways(channel, out_x, out_y, nx, ny)
        away = (right * right + down * down).astype(np.float32)
        weight = weights * inside * np.exp(np.float32(-0.5 / reach**2) * away)
        residual = (right * nx + down * ny).astype(np.float32)
        u, v = (x - middle[0]) / half, (y - middle[1]) / half
        parts = (part.astype(np.float32) for part in (u, v, nx, ny))
        design = np.stack(columns(*parts, affine=affine), axis=1)
        every = np.broadcast_to(kinds, (len(poses), *kinds.shape))
        step = _solve(np.concatenate([design, every], axis=1), residual, weight, offset, reach)
        poses = apply_step(poses, step, middle, half, affine=affine)
        offset = np.clip(offset + step[:, -2:], -_FARTHEST_OFFSET, _FARTHEST_OFFSET)
    return poses, offset


def _solve(
    design: Single, residual: Single, weight: Single, offset: Floats, reach: float
) -> Floats:
    """Weighted least squares for every pose at once, designs (C, P, M); mild priors hold the two
    wall offsets small and alike."""
    weighted = design * weight[:, None]
    matrix = (weighted @ design.transpose(0, 2, 1)).astype(np.float64)
    right = (weighted @ residual[..., None])[..., 0].astype(np.float64)
    total = np.maximum(weight.sum(axis=1, dtype=np.float64), 1e-9)[:, None, None]
    matrix += np.eye(design.shape[1])[None] * 1e-4 * total
    prior = total * (0.01 / max(reach, 1.0) * np.eye(2) + 0.01 * np.array([[1, -1], [-1, 1]]))
    matrix[:, -2:, -2:] += prior
    right[:, -2:] -= (prior @ offset[..., None])[..., 0]
    return np.asarray(np.linalg.solve(matrix, right[..., None])[..., 0])


def _place(poses: Floats, samples: Samples) -> tuple[Floats, Floats, Floats, Floats]:
    """Places x, y and outward unit normals x, y of samples under poses, (C, M) each, in px.

    In double precision: where a wall stands in the middle between two edges, rounding alone would
    decide which of them draws it.
    """
    point, along, linear = samples.point, samples.along, poses[:, :, :2]
    x, y = lay(linear, poses[:, :, 2], point[:, 0], point[:, 1])
    run_x, run_y = lay(linear, np.zeros((len(poses), 2)), along[:, 0], along[:, 1])
    # In the own frame (y up) this turn of `along` is the outward normal; a flip turns it round.
    side = np.sign(np.linalg.det(linear))[:, None]
    side = side / np.sqrt(np.maximum(run_x * run_x + run_y * run_y, 1e-24))
    return x, y, run_y * side, -run_x * side
