"""Contours of picture regions and of rooms -> descriptors -> matches -> first poses.

A pose is sought for each way the floor may lie: `Heading` says by which angle the outlines are
turned, and whether they are mirrored, so that their walls run as the picture's edges do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from .edges import Edges
from .segment import Region, box_overlap
from .walls import Walls

Floats = NDArray[np.float64]

_BINS = 360
# Share of the best peak of directions from which on another gives headings.
_LEAST_PEAK = {"glance": 0.8, "usual": 0.55, "wide": 0.12}
MOST_ROOMS = 48
"""So many rooms of a floor, the largest, are paired with regions."""
_MOST_PAIRS = 300
# Working px within which edges lie on one line, px of it that are none yet, and by how many bins
# of directions the edges of a line may lean.
_ONE_LINE_PX, _SHORT_PX, _LEAN_BINS = 1.5, 10.0, 5
_SETTLE_ROOMS = 24
# Largest difference of two headings' matrices that is none.
_SAME_HEADING = 0.012
_SETTLE_REGIONS = 120
# By what share of the longer side a floor must be longer one way for the other to say how thick its
# outer walls are; and no wall is thicker than that share of the picture of a floor.
_LONGER = 0.15
_THICKEST = 0.1


@dataclass(frozen=True, eq=False)
class Heading:
    """How the outlines lie in the picture: `matrix` (2, 2) has the picture's directions of their
    own x and y axis as columns, of unit length; scales along the axes are still open."""

    matrix: Floats

    @cached_property
    def inverse(self) -> Floats:
        """(2, 2) from picture px to measures along the two directions."""
        return np.asarray(np.linalg.inv(self.matrix))

    def among(self, others: list[Heading]) -> bool:
        """True if one of others is this one."""
        return any(np.abs(self.matrix - o.matrix).max() <= _SAME_HEADING for o in others)


def find_headings(
    edges: Edges,
    regions: list[Region],
    walls: Walls,
    flips: tuple[float, ...],
    *,
    similarity: bool,
    look: str = "usual",
) -> list[Heading]:
    """Headings at which the walls' directions agree with the edges' directions, best first.

    The two histograms of directions (modulo half a turn) are correlated around the circle; every
    peak gives two headings, half a turn apart. `flips`: -1 for the flip that y-up and y-down cause,
    +1 for a mirrored picture. A stretched picture may show right angles as others: then pairs of
    the picture's main directions stand for the two axes as well.

    `look`: at a "glance" strong peaks alone; "wide": weaker ones too (a small floor on a screen
    full of upright boxes), those of the long sides of regions (a slanted wall of large square
    cells has no edge of its own direction), and those of long lines (upright print, which may be
    most of the edges of a turned floor, has none).
    """
    picture = _histogram(edges.angle, edges.weight)
    found = _turns(picture, walls, flips, _LEAST_PEAK[look])
    wide = look == "wide"
    if wide:
        # Long frames of the screen must not drown a floor that is nearly parallel to them, nor a
        # hatching of a thousand lines one that is not.
        finely = _histogram(edges.angle, np.ones(len(edges.angle)), width=1.2)
        finely = np.sqrt(np.maximum(finely, 0.0))
        found += _turns(finely, walls, flips, 0.2)
        found += _turns(_histogram(*_sides(regions)), walls, flips, 0.3)
        found += _turns(_long_lines(edges), walls, flips, 0.3)
    found.sort(key=lambda pair: -pair[0])
    headings: list[Heading] = []
    for _, matrix in found:
        if not Heading(matrix).among(headings):
            headings.append(Heading(matrix))
    headings = headings[: 40 if wide else 24]
    return headings if similarity else headings[:16] + _sheared(picture, flips)


def _turns(
    picture: Floats, walls: Walls, flips: tuple[float, ...], least: float
) -> list[tuple[float, Floats]]:
    """(value, matrix) of the turns at which a histogram of directions agrees with the walls', of at
    least that share of the best value, which counts as 1."""
    found: list[tuple[float, Floats]] = []
    for flip in flips:
        normal = np.arctan2(walls.normal[:, 1] * flip, walls.normal[:, 0])
        own = _histogram(normal, walls.length)
        spectrum = np.fft.rfft(picture) * np.conj(np.fft.rfft(own))
        for value, place in _circular_peaks(np.fft.irfft(spectrum, _BINS)):
            for angle in (place * np.pi / _BINS, place * np.pi / _BINS + np.pi):
                cos, sin = np.cos(angle), np.sin(angle)
                found.append((value, np.array([[cos, -sin * flip], [sin, cos * flip]])))
    best = max((value for value, _ in found), default=1.0)
    return [(value / best, matrix) for value, matrix in found if value >= least * best]


def _sides(regions: list[Region]) -> tuple[Floats, Floats]:
    """Normals' angles and lengths (N,) of the long sides of regions, small steps passed over."""
    angles, lengths = [np.zeros(0)], [np.zeros(0)]
    for region in regions:
        tolerance = 0.03 * float(np.sqrt(region.area))
        line = region.contour.astype(np.float32).reshape(-1, 1, 2)
        ring = cv2.approxPolyDP(line, tolerance, True).reshape(-1, 2).astype(np.float64)
        along = np.roll(ring, -1, axis=0) - ring
        length = np.hypot(along[:, 0], along[:, 1])
        long = length > 5.0 * tolerance
        angles.append(np.arctan2(along[long, 1], along[long, 0]) + 0.5 * np.pi)
        lengths.append(length[long])
    return np.concatenate(angles), np.concatenate(lengths)


def _long_lines(edges: Edges) -> Floats:
    """(_BINS,) by how much more edges of each direction lie on one line than on the usual one: the
    Radon transform, of edges that run along each line alone."""
    place = np.round(edges.angle * (_BINS / np.pi)).astype(np.int64)
    lines = int(np.hypot(*edges.size) / _ONE_LINE_PX) + 2
    count, middle = np.zeros(_BINS * lines), 0.5 * np.array(edges.size)
    for off in range(-_LEAN_BINS, _LEAN_BINS + 1):
        turn = np.mod(place + off, _BINS)
        angle = turn * (np.pi / _BINS)
        across = ((edges.point - middle) * np.column_stack([np.cos(angle), np.sin(angle)])).sum(1)
        number = (across / _ONE_LINE_PX + 0.5 * lines).astype(np.int64)
        count += np.bincount(turn * lines + number, minlength=len(count))
    long = count.reshape(_BINS, lines)
    long = np.maximum(long - long.mean(axis=1, keepdims=True) - _SHORT_PX, 0.0)
    return np.asarray(np.sqrt((long**2).sum(axis=1)))


def _sheared(picture: Floats, flips: tuple[float, ...]) -> list[Heading]:
    """Headings from pairs of main directions of the picture that are not at right angles."""
    peaks = [
        (value, place * np.pi / _BINS + np.pi / 2) for value, place in _circular_peaks(picture)
    ]
    found: list[tuple[float, Floats]] = []
    for first_value, first in peaks[:4]:
        for second_value, second in peaks[:4]:
            square = abs(abs(np.mod(second - first, np.pi) - np.pi / 2))
            if not np.deg2rad(1.5) < square < np.deg2rad(40.0):
                continue
            for sign in (1.0, -1.0):
                matrix = np.array(
                    [
                        [np.cos(first), sign * np.cos(second)],
                        [np.sin(first), sign * np.sin(second)],
                    ]
                )
                if np.sign(np.linalg.det(matrix)) in flips:
                    found += [(first_value * second_value, m) for m in (matrix, -matrix)]
    found.sort(key=lambda pair: -pair[0])
    return [Heading(matrix) for _, matrix in found][:16]


def match_regions(
    regions: list[Region],
    walls: Walls,
    heading: Heading,
    *,
    similarity: bool,
    most: int = _MOST_PAIRS,
) -> Floats:
    """First poses (C, 2, 3) from pairs of a region and a room with like descriptors.

    Descriptors are taken in the heading's frame: width and height of the box and the share of the
    box that is filled. For a similarity the two boxes must be alike in shape as well.
    """
    room_box, room_size = walls.boxes, walls.areas
    region_box, region_fill = _region_boxes(regions, heading)
    if not len(room_box) or not len(region_box):
        return np.zeros((0, 2, 3))
    chosen = np.argsort(-room_size, kind="stable")[:MOST_ROOMS]
    room_box = room_box[chosen]
    room_fill = room_size[chosen] / np.prod(room_box[:, 2:] - room_box[:, :2], axis=1)
    scale = (region_box[:, None, 2:] - region_box[:, None, :2]) / (
        room_box[None, :, 2:] - room_box[None, :, :2]
    )
    stretch = np.abs(np.log(scale[..., 0] / scale[..., 1]))
    alike = np.abs(region_fill[:, None] - room_fill[None, :]) < 0.18
    alike &= stretch < (0.16 if similarity else 0.75)
    # The likest pairs of each heading are enough: the right pose has many.
    unlike = np.abs(region_fill[:, None] - room_fill[None, :]) + stretch
    first, second = np.nonzero(alike & (unlike <= _nth_least(unlike[alike], most)))
    scales = scale[first, second]
    if similarity:
        scales = np.sqrt(scales[:, :1] * scales[:, 1:]).repeat(2, axis=1)
    middle_region = 0.5 * (region_box[first, :2] + region_box[first, 2:])
    middle_room = 0.5 * (room_box[second, :2] + room_box[second, 2:])
    return poses_in_heading(heading, scales, middle_region - scales * middle_room)


def match_silhouettes(
    silhouettes: list[Region], walls: Walls, heading: Heading, *, similarity: bool
) -> Floats:
    """First poses (C, 2, 3) that lay the box of all rooms on that of a silhouette, and, where that
    is longer one way, so that the outer walls, which the outlines lack, are as thick both ways."""
    box, _ = _region_boxes(silhouettes, heading)
    low, high = walls.corners[0], walls.corners[2]
    own, side = np.maximum(high - low, 1e-9), box[:, 2:] - box[:, :2]
    scales, middle = side / own, 0.5 * (box[:, :2] + box[:, 2:])
    if similarity:
        # side = scale * own + two walls, for both axes alike.
        longer = np.abs(own[0] - own[1]) > _LONGER * own.max()
        thin = (side[:, 0] - side[:, 1]) / (own[0] - own[1]) if longer else scales[:, 0] * 0.0
        wall = 0.5 * (side.mean(axis=1) - thin * own.mean())
        good = longer & (wall > 0.0) & (wall < _THICKEST * side.max(axis=1))
        alike = np.abs(np.log(scales[:, 0] / scales[:, 1])) < 0.16
        one = np.concatenate([np.sqrt(scales.prod(axis=1))[alike], thin[good]])
        scales, middle = (
            one[:, None].repeat(2, axis=1),
            np.concatenate([middle[alike], middle[good]]),
        )
    return poses_in_heading(heading, scales, middle - scales * 0.5 * (low + high))


def settle_on_regions(
    poses: Floats, regions: list[Region], walls: Walls, heading: Heading, *, similarity: bool
) -> tuple[Floats, Floats]:
    """Poses (C, 2, 3) of a heading moved so that all rooms lie on the regions they cover best.

    Boxes are matched by overlap, not by nearest edges, so that this reaches much farther than an
    ICP on edges. Returns the poses and the mean overlap of the rooms with their regions (C,).
    """
    back = heading.inverse
    region_box, _ = _region_boxes(regions, heading)
    room_box = walls.boxes[np.argsort(-walls.areas, kind="stable")[:_SETTLE_ROOMS]]
    region_box = region_box[:_SETTLE_REGIONS]
    scale = np.stack([poses[:, :, 0] @ back[0], poses[:, :, 1] @ back[1]], axis=1)
    shift = poses[:, :, 2] @ back.T
    overlap = np.zeros(len(poses))
    for _ in range(3):
        placed = room_box[None] * np.tile(scale, 2)[:, None] + np.tile(shift, 2)[:, None]
        joint = box_overlap(placed, region_box)
        best = np.argmax(joint, axis=2)
        weight = np.take_along_axis(joint, best[..., None], axis=2)[..., 0].astype(np.float64)
        overlap = weight.mean(axis=1)
        weight = np.where(weight > 0.45, weight, 0.0)
        # With one room matched the box itself decides; the mild prior keeps it solvable.
        fitted, middle, target = _fit_lines(room_box, region_box[best], weight)
        if similarity:
            both = np.sqrt(np.abs(fitted[:, :1] * fitted[:, 1:]))
            fitted = np.repeat(both, 2, axis=1)
        good = np.asarray((weight > 0.0).any(axis=1) & (fitted > 0.0).all(axis=1))[:, None]
        scale = np.where(good, fitted, scale)
        shift = np.where(good, target - fitted * middle, shift)
    return poses_in_heading(heading, scale, shift), overlap


def _fit_lines(own: Floats, target: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Weighted least squares target = scale * own + shift along each axis, of boxes (R, 4) and
    (C, R, 4) with weights (C, R).

    Returns scale and the weighted means of `own` and `target`, each (C, 2).
    """
    own, target = own.reshape(-1, 2, 2), target.reshape(*weight.shape, 2, 2)
    total = np.maximum(2.0 * weight.sum(axis=1), 1e-9)[:, None]
    share = weight[:, :, None, None]
    own_mean = (weight @ own.sum(axis=1)) / total
    target_mean = (share * target).sum(axis=(1, 2)) / total
    centred = own - own_mean[:, None, None]
    weighted = share * centred
    spread = (weighted * centred).sum(axis=(1, 2))
    joint = (weighted * (target - target_mean[:, None, None])).sum(axis=(1, 2))
    return joint / np.maximum(spread, 1e-12), own_mean, target_mean


def poses_in_heading(heading: Heading, scales: Floats, shift: Floats) -> Floats:
    """Scales (C, 2) and shifts (C, 2) along the outlines' own axes -> poses (C, 2, 3)."""
    poses = np.empty((len(scales), 2, 3))
    poses[:, :, :2] = heading.matrix[None] * scales[:, None, :]
    poses[:, :, 2] = shift @ heading.matrix.T
    return poses


def _nth_least(values: Floats, count: int) -> float:
    """The `count`-th least of some values, or infinity where there are fewer."""
    return float(np.partition(values, count)[count]) if len(values) > count else float("inf")


def _histogram(angle: Floats, weight: Floats, width: float = 3.0) -> Floats:
    """Histogram over half a turn of directions, weights summed, smoothed by `width` bins."""
    place = np.mod(angle, np.pi) * (_BINS / np.pi)
    low = np.floor(place).astype(np.int64)
    part = place - low
    total = np.bincount(np.mod(low, _BINS), weight * (1.0 - part), minlength=_BINS)
    total += np.bincount(np.mod(low + 1, _BINS), weight * part, minlength=_BINS)
    offset = np.minimum(np.arange(_BINS), _BINS - np.arange(_BINS))
    kernel = np.exp(-0.5 * (offset / width) ** 2)
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


def _region_boxes(regions: list[Region], heading: Heading) -> tuple[Floats, Floats]:
    back = heading.inverse
    if not regions:
        return np.zeros((0, 4)), np.zeros(0)
    start = np.cumsum([0] + [len(region.hull) for region in regions[:-1]])
    own = np.concatenate([region.hull for region in regions]) @ back.T
    low = np.minimum.reduceat(own, start, axis=0) - 0.5
    high = np.maximum.reduceat(own, start, axis=0) + 0.5
    boxes = np.concatenate([low, high], axis=1)
    sides = boxes[:, 2:] - boxes[:, :2]
    area = np.array([region.area for region in regions]) * abs(float(np.linalg.det(back)))
    return boxes, np.minimum(area / (sides[:, 0] * sides[:, 1]), 1.0)
