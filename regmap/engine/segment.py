"""Picture -> regions that may be rooms, seen through labels, icons and paths.

Several maps of regions are made, from fine to coarse: what is flat between edges, the same with
narrow passages (open doors, gaps in thin lines) closed, and again on a median-filtered picture, in
which thin paths and small print vanish. They disagree usefully: no single one has to be right.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

from .edges import Edges

Floats = NDArray[np.float64]
Single = NDArray[np.float32]
Contour = Any
Part = tuple[NDArray[np.uint8], int, int]
"""A mask, and where its left upper corner lies in the picture."""

_SMALLEST_SHARE = 0.0006
_MOST_PER_MAP = 60
# Of the histogram of colours: levels a channel, how many colours, and the least share of a picture.
_LEVELS = 32
_COLOURS = 12
_COMMON = 0.01
_MOST_SILHOUETTES = 8
# Numbers of the maps that a glance is content with.
_FEW_MAPS = (1, 5)
# From this overlap on no other map needs to be asked about a room.
_WELL = 0.6


@dataclass(frozen=True, eq=False)
class Region:
    """One region: its contour (N, 2) in working px (corner convention), the corners of its convex
    hull (M, 2), and its area in px^2."""

    contour: Floats
    hull: Floats
    area: float


class RegionMaps:
    """Candidates for rooms in the working picture, largest first within each of several maps, which
    are made when they are first asked for."""

    def __init__(self, edges: Edges) -> None:
        longest = max(edges.size)
        # Openings of a few pixels first, then about the width of a door on a small and a large
        # floor; calm: on the picture without thin lines.
        door, wide = max(4, longest // 90), max(7, longest // 50)
        self._maps = [(False, 0), (False, 2), (False, door), (False, wide), (True, 1), (True, door)]
        self._gradient = {False: edges.gradient, True: edges.calm_gradient}
        self._flat: dict[bool, NDArray[np.uint8]] = {}
        self._known: dict[int, list[Region]] = {}

    @cached_property
    def few(self) -> list[Region]:
        """What two maps show that differ most."""
        return self._distinct_of(_FEW_MAPS)

    @cached_property
    def every(self) -> list[Region]:
        """What all maps show."""
        return self._distinct_of(range(len(self._maps)))

    def _distinct_of(self, numbers: Iterable[int]) -> list[Region]:
        return _distinct([region for number in numbers for region in self._map(number)])

    def _map(self, number: int) -> list[Region]:
        if number not in self._known:
            calm, radius = self._maps[number]
            if calm not in self._flat:
                self._flat[calm] = _flat(self._gradient[calm])
            self._known[number] = _components(self._flat[calm], radius)
        return self._known[number]


def colour_regions(edges: Edges) -> list[Region]:
    """Candidates for rooms from the picture's few prevailing colours, seen through dense paths.

    Where a path leaves no flat place wider than a line, the room's colour still shows between its
    strokes: pixels of one colour are joined over gaps as wide as strokes.
    """
    radius = max(2, max(edges.size) // 100)
    square = np.ones((2 * radius + 1, 2 * radius + 1), np.uint8)
    regions: list[Region] = []
    for mask in _colour_masks(edges.image):
        joined = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, square), dtype=np.uint8)
        regions += _components(joined, 2)
    return _distinct(regions)


def _colour_masks(image: NDArray[np.uint8]) -> list[NDArray[np.uint8]]:
    """Masks (h, w) of the colours that most pixels of an image (h, w, C) have, the commonest
    first, each colour with those next to it in a coarse histogram."""
    height, width, channels = image.shape
    shape = (_LEVELS,) * channels
    bins = image // (256 // _LEVELS)
    key = np.ravel_multi_index([bins[..., n] for n in range(channels)], shape)
    count = np.bincount(key.reshape(-1), minlength=_LEVELS**channels).reshape(shape)
    owner = np.zeros(shape, dtype=np.uint8)
    for number in range(1, _COLOURS + 1):
        around = uniform_filter(count.astype(np.float64), 3, mode="constant") * 3**channels
        peak = np.unravel_index(int(np.argmax(around)), shape)
        if around[peak] < _COMMON * height * width:
            break
        block = tuple(slice(max(int(n) - 1, 0), int(n) + 2) for n in peak)
        owner[block] = np.where(count[block] > 0, number, owner[block])
        count[block] = 0
    label = owner.reshape(-1)[key]
    return [(label == number).astype(np.uint8) for number in range(1, int(owner.max()) + 1)]


def find_silhouettes(edges: Edges) -> list[Region]:
    """What may be a whole floor: wherever the working picture is not flat, joined and filled.

    Dense paths, tiles and furniture break rooms into many regions, and hide walls among lines like
    them; from outside, the floor is one thing all the same.
    """
    radius = max(4, max(edges.size) // 90)
    joined = 1 - _shrunk(_flat(edges.gradient), radius)
    contours, _ = cv2.findContours(joined, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(joined, contours, -1, 1, cv2.FILLED)
    return _components(_shrunk(joined, radius), 0)[:_MOST_SILHOUETTES]


def room_overlaps(maps: RegionMaps, rooms: tuple[tuple[Floats, ...], ...], pose: Floats) -> Floats:
    """(R,) best intersection over union of each room, laid by `pose` (2, 3), with any region; of
    few maps, unless they do not show all rooms well."""
    found = overlaps(maps.few, rooms, pose)
    return found if (found >= _WELL).all() else overlaps(maps.every, rooms, pose)


def overlaps(regions: list[Region], rooms: tuple[tuple[Floats, ...], ...], pose: Floats) -> Floats:
    """(R,) best intersection over union of each room, laid by `pose` (2, 3), with any region."""
    boxes = np.array([_box(region) for region in regions]).reshape(-1, 4)
    overlap = np.full(len(rooms), np.nan)
    placed = [rings[0] @ pose[:, :2].T + pose[:, 2] for rings in rooms]
    start = np.cumsum([0] + [len(ring) for ring in placed[:-1]])
    every = np.concatenate(placed)
    own = np.concatenate([f.reduceat(every, start) for f in (np.minimum, np.maximum)], axis=1)
    share = box_overlap(own[None], boxes)[0]
    for number, best in enumerate(np.argsort(-share, axis=1, kind="stable")[:, :2]):
        for index in best[share[number, best] > 0.3]:
            low = np.minimum(own[number, :2], boxes[index, :2])
            high = np.maximum(own[number, 2:], boxes[index, 2:])
            value = _overlap(placed[number], regions[int(index)].contour, low, high)
            overlap[number] = np.fmax(overlap[number], value)
    return overlap


def box_overlap(placed: Floats, boxes: Floats) -> Single:
    """Intersection over union (C, R, G) of boxes (C, R, 4) with boxes (G, 4)."""
    own, other = placed.astype(np.float32)[:, :, None], boxes.astype(np.float32)
    # Axis by axis: arithmetic along an axis of two is slow. In place: this is bound by memory.
    sides: list[Single] = []
    for low, high in ((0, 2), (1, 3)):
        side = np.minimum(own[..., high], other[:, high])
        side -= np.maximum(own[..., low], other[:, low])
        sides.append(np.maximum(side, np.float32(0.0), out=side))
    joint, either = sides[0], sides[1]
    joint *= either
    first, second = ((b[..., 2] - b[..., 0]) * (b[..., 3] - b[..., 1]) for b in (own, other))
    np.add(first, second, out=either)
    either -= joint
    joint /= np.maximum(either, np.float32(1e-9), out=either)
    return joint


def _box(region: Region) -> Floats:
    """(4,) px: left, top, right and bottom."""
    return np.concatenate([region.hull.min(axis=0), region.hull.max(axis=0)])


def _overlap(ring: Floats, contour: Floats, low: Floats, high: Floats) -> float:
    """Intersection over union of two closed lines, on a grid of at most 200 cells a side; both lie
    between `low` and `high` (2,)."""
    extent = high - low
    scale = min(1.0, 200.0 / max(float(extent.max()), 1e-9)) * 16.0
    width, height = (int(v) for v in np.ceil(extent * scale / 16.0) + 2)
    masks = []
    for line in (ring, contour):
        mask = np.zeros((height, width), dtype=np.uint8)
        cv2.fillPoly(mask, [np.rint((line - low) * scale).astype(np.int32)], 1, shift=4)
        masks.append(mask)
    joint, either = (cv2.countNonZero(m) for m in (masks[0] & masks[1], masks[0] | masks[1]))
    return joint / max(either, 1)


def _flat(magnitude: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Mask of pixels without a visible colour edge."""
    quiet = float(np.median(magnitude[::4, ::4]))
    limit = min(max(1.5, 4.0 * quiet), 12.0)
    return (magnitude < limit).astype(np.uint8)


def _shrunk(flat: NDArray[np.uint8], radius: int) -> NDArray[np.uint8]:
    """Mask (h, w) of what lies farther than `radius` px from all that is not flat; the picture's
    own rim does not count."""
    return np.asarray(cv2.erode(flat, _ball(radius)), dtype=np.uint8)


def _components(flat: NDArray[np.uint8], radius: int) -> list[Region]:
    """Connected flat areas after shrinking by `radius`, each grown back and outlined, the largest
    first.

    What reaches to all four sides of the picture is the ground about the floor, and no room.
    """
    smallest = max(12.0, _SMALLEST_SHARE * flat.size)
    parts = _grown(flat, radius, smallest) if radius else _labelled(flat, smallest)
    found: list[Region] = []
    for part, left, top in parts:
        contours, _ = cv2.findContours(part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        contour = max(contours, key=len)
        corner = np.array([left + 0.5, top + 0.5])
        points = contour.reshape(-1, 2) + corner
        if len(points) >= 8:
            # Of whole numbers, in half the time.
            hull = cv2.convexHull(contour).reshape(-1, 2) + corner
            found.append(Region(points, hull, _area(contour)))
    return found


def _labelled(flat: NDArray[np.uint8], smallest: float) -> Iterator[Part]:
    """The connected parts of a mask (h, w)."""
    count, label, stats, _ = cv2.connectedComponentsWithStats(flat, connectivity=4)
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA], kind="stable")[:_MOST_PER_MAP] + 1
    for number in order if count > 1 else []:
        left, top, width, height, area = (int(v) for v in stats[number])
        if area >= smallest and (height, width) != flat.shape:
            part = label[top : top + height, left : left + width] == number
            yield part.astype(np.uint8), left, top


def _grown(flat: NDArray[np.uint8], radius: int, smallest: float) -> Iterator[Part]:
    """The parts of a mask (h, w) shrunk by `radius` px, grown by that again.

    Their contours tell them apart many times quicker than labels do; single flat pixels of a noisy
    picture, of which there would be too many, are not among them.
    """
    contours, tree = cv2.findContours(_shrunk(flat, radius), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    # A contour that has a parent is a hole's.
    outer = (
        [c for c, node in zip(contours, tree[0], strict=True) if node[3] < 0] if contours else []
    )
    areas = np.array([_area(contour) for contour in outer])
    round_brush = _ball(radius)
    for number in np.argsort(-areas, kind="stable")[:_MOST_PER_MAP]:
        if areas[number] < smallest:
            break
        left, top, width, height = cv2.boundingRect(outer[number])
        if (height, width) == flat.shape:
            continue
        pad = radius + 2
        part = np.zeros((height + 2 * pad, width + 2 * pad), dtype=np.uint8)
        # Of a list, OpenCV would first take in all contours.
        one = [outer[number]]
        cv2.drawContours(part, one, 0, 1, cv2.FILLED, offset=(pad - left, pad - top))
        part = np.asarray(cv2.dilate(part, round_brush), dtype=np.uint8)
        # Nothing grows out of the picture.
        part[: max(pad - top, 0)] = part[pad - top + len(flat) :] = 0
        part[:, : max(pad - left, 0)] = part[:, pad - left + flat.shape[1] :] = 0
        yield part, left - pad, top - pad


def _ball(radius: int) -> NDArray[np.uint8]:
    """All pixels within `radius` px of the middle one."""
    away = np.ones((2 * radius + 1, 2 * radius + 1), dtype=np.uint8)
    away[radius, radius] = 0
    return (cv2.distanceTransform(away, cv2.DIST_L2, 3) <= radius).astype(np.uint8)


def _area(contour: Contour) -> float:
    """px^2 within a contour of pixels: findContours joins their centres, and half a pixel is
    missing all round."""
    return abs(cv2.contourArea(contour)) + 0.5 * len(contour) + 1.0


def _distinct(regions: list[Region]) -> list[Region]:
    """Drops regions that an earlier map found alike: same box within 2 px, area within 3 %."""
    kept: dict[tuple[int, ...], Region] = {}
    for region in regions:
        key = tuple(int(v) for v in np.rint(_box(region) / 3.0))
        known = kept.get(key)
        if known is None or abs(known.area - region.area) > 0.03 * region.area:
            kept[key] = region
    return list(kept.values())
