"""Contours of picture regions and of rooms -> descriptors -> matches -> first poses.

A pose is sought for each way the floor may lie: `Heading` says by which angle the outlines are
turned, and whether they are mirrored, so that their walls run as the picture's edges do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .edges import Edges
from .segment import Region
from .walls import Walls, signed_area

Floats = NDArray[np.float64]

_BINS = 360
_MOST_ROOMS = 48
_SETTLE_ROOMS = 24
_SETTLE_REGIONS = 120


@dataclass(frozen=True)
class Heading:
    """How the outlines lie in the picture: first `flip` (y times -1 or +1), then turn by `angle`.

    `angle` in radians, from the picture's x axis towards its y axis (which points down).
    """

    angle: float
    flip: float

    @property
    def matrix(self) -> Floats:
        """(2, 2) from the outlines' own frame to the picture's directions, without scale."""
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        return np.array([[cos, -sin * self.flip], [sin, cos * self.flip]])


def find_headings(edges: Edges, walls: Walls, flips: tuple[float, ...]) -> list[Heading]:
    """Headings at which the walls' directions agree with the edges' directions, best first.

    The two histograms of directions (modulo half a turn) are correlated around the circle; every
    peak gives two headings, half a turn apart.
    """
    picture = _histogram(edges.angle, edges.weight)
    found: list[tuple[float, Heading]] = []
    for flip in flips:
        normal = np.arctan2(walls.normal[:, 1] * flip, walls.normal[:, 0])
        own = _histogram(normal, walls.length)
        spectrum = np.fft.rfft(picture) * np.conj(np.fft.rfft(own))
        match = np.fft.irfft(spectrum, _BINS)
        for score, place in _circular_peaks(match):
            angle = place * np.pi / _BINS
            found += [(score, Heading(angle, flip)), (score, Heading(angle + np.pi, flip))]
    best = max(score for score, _ in found)
    found.sort(key=lambda pair: -pair[0])
    return [heading for score, heading in found if score >= 0.55 * best][:24]


def match_regions(
    regions: list[Region], walls: Walls, heading: Heading, *, similarity: bool
) -> Floats:
    """First poses (C, 2, 3) from pairs of a region and a room with like descriptors.

    Descriptors are taken in the heading's frame: width and height of the box and the share of the
    box that is filled. For a similarity the two boxes must be alike in shape as well.
    """
    turn = heading.matrix
    room_box, room_fill, room_size = _room_boxes(walls)
    region_box, region_fill = _region_boxes(regions, turn)
    if not len(room_box) or not len(region_box):
        return np.zeros((0, 2, 3))
    chosen = np.argsort(-room_size, kind="stable")[:_MOST_ROOMS]
    room_box, room_fill = room_box[chosen], room_fill[chosen]
    scale = (region_box[:, None, 2:] - region_box[:, None, :2]) / (
        room_box[None, :, 2:] - room_box[None, :, :2]
    )
    stretch = np.abs(np.log(scale[..., 0] / scale[..., 1]))
    alike = (np.abs(region_fill[:, None] - room_fill[None, :]) < 0.18) & (
        stretch < (0.16 if similarity else 0.75)
    )
    first, second = np.nonzero(alike)
    scales = scale[first, second]
    if similarity:
        scales = np.sqrt(scales[:, :1] * scales[:, 1:]).repeat(2, axis=1)
    middle_region = 0.5 * (region_box[first, :2] + region_box[first, 2:])
    middle_room = 0.5 * (room_box[second, :2] + room_box[second, 2:])
    return poses_in_heading(turn, scales, middle_region - scales * middle_room)


def settle_on_regions(
    poses: Floats, regions: list[Region], walls: Walls, heading: Heading, *, similarity: bool
) -> tuple[Floats, Floats]:
    """Poses (C, 2, 3) of a heading moved so that all rooms lie on the regions they cover best.

    Boxes are matched by overlap, not by nearest edges, so that this reaches much farther than an
    ICP on edges. Returns the poses and the mean overlap of the rooms with their regions (C,).
    """
    turn = heading.matrix
    room_box, _, size = _room_boxes(walls)
    region_box, _ = _region_boxes(regions, turn)
    room_box = room_box[np.argsort(-size, kind="stable")[:_SETTLE_ROOMS]]
    region_box = region_box[:_SETTLE_REGIONS]
    scale = np.stack([poses[:, :, 0] @ turn[:, 0], poses[:, :, 1] @ turn[:, 1]], axis=1)
    shift = poses[:, :, 2] @ turn
    overlap = np.zeros(len(poses))
    for _ in range(3):
        placed = room_box[None] * np.tile(scale, 2)[:, None] + np.tile(shift, 2)[:, None]
        joint = _box_overlap(placed, region_box)
        best = np.argmax(joint, axis=2)
        weight = np.take_along_axis(joint, best[..., None], axis=2)[..., 0]
        overlap = weight.mean(axis=1)
        weight = np.where(weight > 0.45, weight, 0.0)
        # With one room matched the box itself decides; the mild prior keeps it solvable.
        new = [
            _fit_line(room_box[:, axis::2], region_box[best][:, :, axis::2], weight)
            for axis in (0, 1)
        ]
        fitted = np.stack([new[0][0], new[1][0]], axis=1)
        if similarity:
            both = np.sqrt(np.abs(fitted[:, :1] * fitted[:, 1:]))
            fitted = np.repeat(both, 2, axis=1)
        good = (weight > 0.0).any(axis=1) & (fitted > 0.0).all(axis=1)
        middle = [axis_fit[2] for axis_fit in new]
        target = [axis_fit[3] for axis_fit in new]
        moved = np.stack([target[n] - fitted[:, n] * middle[n] for n in (0, 1)], axis=1)
        scale = np.where(good[:, None], fitted, scale)
        shift = np.where(good[:, None], moved, shift)
    return poses_in_heading(turn, scale, shift), overlap


def _box_overlap(placed: Floats, boxes: Floats) -> Floats:
    """Intersection over union (C, R, G) of boxes (C, R, 4) with boxes (G, 4)."""
    low = np.maximum(placed[:, :, None, :2], boxes[None, None, :, :2])
    high = np.minimum(placed[:, :, None, 2:], boxes[None, None, :, 2:])
    joint = np.prod(np.maximum(high - low, 0.0), axis=3)
    first = np.prod(placed[:, :, 2:] - placed[:, :, :2], axis=2)[:, :, None]
    second = np.prod(boxes[:, 2:] - boxes[:, :2], axis=1)[None, None]
    return np.asarray(joint / np.maximum(first + second - joint, 1e-9))


def _fit_line(own: Floats, target: Floats, weight: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Weighted least squares target = scale * own + shift, edges (R, 2) and (C, R, 2).

    Returns scale, shift and the weighted means of `own` and `target`, each (C,).
    """
    total = np.maximum(2.0 * weight.sum(axis=1), 1e-9)
    own_mean = (weight @ own.sum(axis=1)) / total
    target_mean = np.einsum("cr,cre->c", weight, target) / total
    centred = own[None] - own_mean[:, None, None]
    spread = np.einsum("cr,cre->c", weight, centred**2)
    joint = np.einsum("cr,cre,cre->c", weight, centred, target - target_mean[:, None, None])
    scale = joint / np.maximum(spread, 1e-12)
    return scale, target_mean - scale * own_mean, own_mean, target_mean


def poses_in_heading(turn: Floats, scales: Floats, shift: Floats) -> Floats:
    """Scales (C, 2) and shifts (C, 2) along the outlines' own axes -> poses (C, 2, 3)."""
    poses = np.empty((len(scales), 2, 3))
    poses[:, :, :2] = turn[None] * scales[:, None, :]
    poses[:, :, 2] = shift @ turn.T
    return poses


def _histogram(angle: Floats, weight: Floats) -> Floats:
    """Smooth histogram over half a turn of directions, weights summed."""
    place = np.mod(angle, np.pi) * (_BINS / np.pi)
    low = np.floor(place).astype(np.int64)
    part = place - low
    total = np.bincount(np.mod(low, _BINS), weight * (1.0 - part), minlength=_BINS)
    total += np.bincount(np.mod(low + 1, _BINS), weight * part, minlength=_BINS)
    offset = np.minimum(np.arange(_BINS), _BINS - np.arange(_BINS))
    kernel = np.exp(-0.5 * (offset / 3.0) ** 2)
    smooth = np.fft.irfft(np.fft.rfft(total) * np.fft.rfft(kernel), _BINS)
    return np.asarray(smooth / max(float(np.linalg.norm(smooth)), 1e-12))


def _circular_peaks(match: Floats) -> list[tuple[float, float]]:
    """Local maxima of a circular function: (value above the floor, sub-bin place), best first."""
    level = float(match.min())
    before, after = np.roll(match, 1), np.roll(match, -1)
    places = np.nonzero((match >= before) & (match > after))[0]
    peaks = []
    for place in places:
        curve = before[place] - 2.0 * match[place] + after[place]
        part = 0.5 * (before[place] - after[place]) / curve if curve < 0.0 else 0.0
        peaks.append((float(match[place]) - level, float(place) + float(part)))
    return sorted(peaks, reverse=True)[:6] or [(1e-9, 0.0)]


def _room_boxes(walls: Walls) -> tuple[Floats, Floats, Floats]:
    boxes = np.array(
        [np.concatenate([r[0].min(axis=0), r[0].max(axis=0)]) for r in walls.rings]
    ).reshape(-1, 4)
    area = np.array([abs(signed_area(r[0])) for r in walls.rings])
    sides = np.maximum(boxes[:, 2:] - boxes[:, :2], 1e-9)
    boxes[:, 2:] = boxes[:, :2] + sides
    return boxes, area / (sides[:, 0] * sides[:, 1]), area


def _region_boxes(regions: list[Region], turn: Floats) -> tuple[Floats, Floats]:
    boxes = np.empty((len(regions), 4))
    for number, region in enumerate(regions):
        own = region.contour @ turn
        boxes[number, :2], boxes[number, 2:] = own.min(axis=0) - 0.5, own.max(axis=0) + 0.5
    sides = boxes[:, 2:] - boxes[:, :2]
    area = np.array([region.area for region in regions])
    return boxes, np.minimum(area / (sides[:, 0] * sides[:, 1]), 1.0)
