"""What people assemble from general libraries for this job, as well as a page each allows.

1. `sift`: outlines drawn as a picture, SIFT features, ratio test, RANSAC (all from OpenCV).
2. `ecc`: eight starts from bounding boxes, then maximisation of the enhanced correlation
   coefficient of blurred edges (OpenCV), coarse first, the best of the eight fine.
3. `icp`: eight starts from bounding boxes, then trimmed closest-point ICP of the outlines on Canny
   edges (OpenCV, SciPy's k-d tree).

Each takes a picture, outlines and a model, and returns the (2, 3) map from device to image, or None
where it comes to nothing. Neither says how sure it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from regmap import frames
from regmap.errors import RegmapError

__all__ = ["PIPELINES", "Outlines", "bounding_box_starts", "draw_outlines", "foreground_box"]

Floats: TypeAlias = NDArray[np.float64]
Pixels: TypeAlias = NDArray[np.uint8]
Outlines: TypeAlias = Mapping[str, tuple[Floats, ...]]

SHIFT = 4  # OpenCV draws in units of 1/16 px
COARSE_PX = 320  # longer side of the pictures that the eight starts are tried on
TRIM = 0.8  # share of the closest pairs that ICP keeps


def sift(image: Pixels, outlines: Outlines, model: str) -> Floats | None:
    """Match SIFT features of the picture with those of the drawn outlines, plain and mirrored."""
    grey = _grey(image)
    detector = cv2.SIFT.create()
    found, described = detector.detectAndCompute(grey, None)
    if described is None or len(found) < 4:
        return None
    best: Floats | None = None
    most = 0
    # A SIFT descriptor changes under a mirror, so both handednesses are drawn; turns it bears.
    for start in bounding_box_starts(image, outlines, model)[::4]:
        drawn_points, drawn_described = detector.detectAndCompute(
            draw_outlines(outlines, start, grey.shape), None
        )
        if drawn_described is None or len(drawn_points) < 2:
            continue
        pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(described, drawn_described, k=2)
        good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < 0.8 * p[1].distance]
        if len(good) < 4:
            continue
        source = np.array([drawn_points[m.trainIdx].pt for m in good]) + frames.PIXEL_CENTRE
        target = np.array([found[m.queryIdx].pt for m in good]) + frames.PIXEL_CENTRE
        estimate = cv2.estimateAffine2D if model == "affine" else cv2.estimateAffinePartial2D
        matrix, inliers = estimate(source, target, method=cv2.RANSAC, ransacReprojThreshold=3.0)
        if matrix is not None and np.isfinite(matrix).all() and int(inliers.sum()) > most:
            most = int(inliers.sum())
            best = frames.compose(matrix, start)
    return best


def ecc(image: Pixels, outlines: Outlines, model: str) -> Floats | None:
    """Maximise the correlation of blurred edges from eight starts, the winner again on more px."""
    scale = min(1.0, COARSE_PX / max(image.shape[:2]))
    best: Floats | None = None
    highest = -1.0
    for start in bounding_box_starts(image, outlines, model):
        score, found = _ecc_step(image, outlines, start, scale, model)
        if found is not None and score > highest:
            highest, best = score, found
    if best is None:
        return None
    _, fine = _ecc_step(image, outlines, best, min(1.0, 4 * scale), model)
    return best if fine is None else fine


def icp(image: Pixels, outlines: Outlines, model: str) -> Floats | None:
    """Closest-point ICP of points along the outlines on the picture's edges, from eight starts."""
    rows, columns = np.nonzero(_canny(_grey(image)))
    if len(rows) < 10:
        return None
    edges: Floats = np.column_stack([columns, rows]).astype(np.float64) + frames.PIXEL_CENTRE
    tree = cKDTree(edges)
    best: Floats | None = None
    lowest = np.inf
    for start in bounding_box_starts(image, outlines, model):
        rest, found = _icp_from(tree, edges, _along(outlines, start, 1200), start, model, 40)
        if rest < lowest:
            lowest, best = rest, found
    if best is None:
        return None
    return _icp_from(tree, edges, _along(outlines, best, 8000), best, model, 20)[1]


PIPELINES: dict[str, Callable[[Pixels, Outlines, str], Floats | None]] = {
    "sift + ransac": sift,
    "8 starts + ecc": ecc,
    "8 starts + icp": icp,
}


def bounding_box_starts(image: Pixels, outlines: Outlines, model: str) -> list[Floats]:
    """Return eight maps device -> image that lay the outlines' box on the floor's.

    Four turns plain, then four mirrored; the first is upright (device y up). With
    `model="affine"` width and height are fitted apart.
    """
    left, top, right, bottom = foreground_box(image)
    points = np.vstack([ring for rings in outlines.values() for ring in rings])
    starts = []
    for handed in (np.diag([1.0, -1.0]), np.diag([1.0, 1.0])):
        for quarter in range(4):
            turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarter) @ handed
            placed = points @ turn.T
            low, high = placed.min(axis=0), placed.max(axis=0)
            factors = np.array([right - left, bottom - top]) / (high - low)
            if model != "affine":
                factors = np.full(2, factors.min())
            linear = np.diag(factors) @ turn
            middle = np.array([left + right, top + bottom]) / 2
            starts.append(np.column_stack([linear, middle - factors * (low + high) / 2]))
    return starts


def foreground_box(image: Pixels) -> tuple[float, float, float, float]:
    """Return left, top, right, bottom of the largest thing whose colour is not the border's."""
    flat = image.reshape(image.shape[0], image.shape[1], -1)[..., :3].astype(np.float32)
    border = np.concatenate([flat[0], flat[-1], flat[:, 0], flat[:, -1]])
    distance = np.abs(flat - np.median(border, axis=0)).max(axis=2).astype(np.uint8)
    _, mask = cv2.threshold(distance, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(mask)
    if count < 2:
        return 0.0, 0.0, float(image.shape[1]), float(image.shape[0])
    column, row, width, height = stats[1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))][:4]
    return float(column), float(row), float(column + width), float(row + height)


def draw_outlines(outlines: Outlines, device_to_image: Floats, shape: tuple[int, ...]) -> Pixels:
    """Draw rooms as grey areas of several shades with dark borders on white."""
    canvas = np.full(shape[:2], 255, np.uint8)
    for index, rings in enumerate(outlines.values()):
        fixed = [_fixed_point(frames.apply(device_to_image, ring)) for ring in rings]
        shade = float(150 + 25 * (index % 4))
        cv2.fillPoly(canvas, fixed, shade, lineType=cv2.LINE_AA, shift=SHIFT)
    for rings in outlines.values():
        fixed = [_fixed_point(frames.apply(device_to_image, ring)) for ring in rings]
        cv2.polylines(canvas, fixed, True, 40.0, 2, cv2.LINE_AA, SHIFT)
    return canvas


def _ecc_step(
    image: Pixels, outlines: Outlines, start: Floats, scale: float, model: str
) -> tuple[float, Floats | None]:
    """One maximisation at a scale of the picture: the score, and the better map device -> image."""
    grey = _grey(image)
    size = (max(8, round(grey.shape[1] * scale)), max(8, round(grey.shape[0] * scale)))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    shrink = np.diag([size[0] / grey.shape[1], size[1] / grey.shape[0]])
    placed = shrink @ start
    lines = np.zeros(small.shape[:2], np.uint8)
    for rings in outlines.values():
        fixed = [_fixed_point(frames.apply(placed, ring)) for ring in rings]
        cv2.polylines(lines, fixed, True, 255.0, 1, cv2.LINE_AA, SHIFT)
    template = cv2.GaussianBlur(lines.astype(np.float32), (0, 0), 1.5)
    edges = cv2.morphologyEx(small, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    target = cv2.GaussianBlur(edges.astype(np.float32), (0, 0), 1.5)
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 60, 1e-5)
    try:
        score, warp = cv2.findTransformECC(
            template, target, np.eye(2, 3, dtype=np.float32), cv2.MOTION_AFFINE, stop
        )
    except cv2.error:  # it left the picture, or the two do not correlate at all
        return -1.0, None
    centre = np.array([[1, 0, -frames.PIXEL_CENTRE], [0, 1, -frames.PIXEL_CENTRE]])
    warp_corners = frames.compose(frames.invert(centre), frames.compose(warp, centre))
    moved = np.linalg.inv(shrink) @ frames.compose(warp_corners, placed)
    return float(score), _of_model(moved, outlines, model)


def _of_model(matrix: Floats, outlines: Outlines, model: str) -> Floats | None:
    if not np.isfinite(matrix).all() or abs(np.linalg.det(matrix[:, :2])) < 1e-12:
        return None
    if model == "affine":
        return matrix
    points = np.vstack([ring for rings in outlines.values() for ring in rings])
    return frames.fit_similarity(points, frames.apply(matrix, points), mirrored=None)


def _icp_from(
    tree: cKDTree, edges: Floats, points: Floats, start: Floats, model: str, rounds: int
) -> tuple[float, Floats]:
    """Return the root mean square distance of the kept pairs, px, and the map device -> image."""
    current, rest = start, np.inf
    for _ in range(rounds):
        nearest = tree.query(frames.apply(current, points))
        distance, index = np.asarray(nearest[0]), np.asarray(nearest[1])
        keep = distance <= np.quantile(distance, TRIM)
        previous, rest = rest, float(np.sqrt((distance[keep] ** 2).mean()))
        if previous - rest < 1e-4:
            break
        source, target = points[keep], edges[index[keep]]
        try:
            if model == "affine":
                current = frames.fit_affine(source, target)
            else:
                handed = bool(np.linalg.det(start[:, :2]) > 0)
                current = frames.fit_similarity(source, target, mirrored=handed)
        except RegmapError:  # every point fell on one edge
            break
    return rest, current


def _along(outlines: Outlines, device_to_image: Floats, count: int) -> Floats:
    """Return about `count` device points, evenly spaced along all rings."""
    rings = [np.vstack([r, r[:1]]) for rings in outlines.values() for r in rings]
    lengths = [np.hypot(*np.diff(r, axis=0).T) for r in rings]
    step = sum(float(length.sum()) for length in lengths) / count
    points = []
    for ring, length in zip(rings, lengths, strict=True):
        way = np.concatenate([[0.0], np.cumsum(length)])
        at = np.arange(0.0, way[-1], step)
        points.append(np.column_stack([np.interp(at, way, ring[:, k]) for k in (0, 1)]))
    return np.vstack(points)


def _canny(grey: Pixels) -> NDArray[np.uint8]:
    return np.asarray(cv2.Canny(cv2.GaussianBlur(grey, (0, 0), 1.0), 40, 100), dtype=np.uint8)


def _grey(image: Pixels) -> Pixels:
    if image.ndim == 2:
        return image
    return np.asarray(cv2.cvtColor(image[..., :3].copy(), cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def _fixed_point(points: Floats) -> NDArray[np.int32]:
    """Corner-counted px to OpenCV's fixed-point pixel centres."""
    fixed = np.round((points - frames.PIXEL_CENTRE) * 2**SHIFT)
    return np.asarray(fixed.clip(-(2**27), 2**27), dtype=np.int32)
