"""First poses: what the search draws onto the edges, from regions, profiles and silhouettes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from . import contours, search, segment, shapes
from . import score as scoring
from .edges import Edges
from .rasterise import Raster
from .segment import Region, RegionMaps
from .walls import Samples, Walls, sample_walls

Floats = NDArray[np.float64]

# Two more unknowns need more starts.
_PER_HEADING = {"similarity": 25, "affine": 120}
_REFINED = {"similarity": 40, "affine": 100}
# Of a glance: pairs of region and room a heading, and poses in all.
_LIKEST, _GLANCE = 60, 12
_SAMPLES = 320
_WHOLE = 16
_LONE = 12


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that poses are held against, at working size."""

    edges: Edges
    maps: RegionMaps
    walls: Walls
    raster: Raster
    affine: bool
    flips: tuple[float, ...]

    @property
    def regions(self) -> list[Region]:
        """Candidates for rooms, of all maps."""
        return self.maps.every

    @cached_property
    def field(self) -> scoring.Field:
        """What refined poses are scored against."""
        return scoring.make_field(self.edges, self.raster, reach=2.0, picked=400)

    @cached_property
    def samples(self) -> Samples:
        """Points along the walls by which poses are moved and ranked."""
        return sample_walls(self.walls, _SAMPLES)


def thorough(
    scene: Scene,
    seen: Edges,
    regions: list[Region],
    headings: list[contours.Heading],
    tried: list[contours.Heading],
    *,
    wide: bool,
) -> Floats:
    """First poses (C, 2, 3) from all that there is to go by, at headings that were not tried."""
    fresh = [heading for heading in headings if not heading.among(tried)]
    found = [first_poses(scene, seen, regions, fresh)] if fresh else []
    if wide:
        found.append(whole_floors(scene, seen, headings))
        found.append(lone_rooms(scene, seen, regions, headings))
        found.append(alike_shapes(scene, seen, regions))
    return np.concatenate([np.zeros((0, 2, 3)), *found])


def at_a_glance(scene: Scene, seen: Edges, headings: list[contours.Heading]) -> Floats:
    """The most promising poses (C, 2, 3) of a few that are quickly found: from the likest pairs of
    region and room, or, where there are more rooms than are paired, which all look alike, from the
    walls' profiles, in which so many walls stand out."""
    similarity = not scene.affine
    if scene.walls.rooms > contours.MOST_ROOMS:
        found = search.correlate_profiles(seen, scene.walls, headings, similarity=similarity)
    else:
        found = [
            contours.match_regions(
                scene.maps.few, scene.walls, heading, similarity=similarity, most=_LIKEST
            )
            for heading in headings
        ]
    return _best_apart(scene, seen, np.concatenate([np.zeros((0, 2, 3)), *found]), _GLANCE)


def first_poses(
    scene: Scene, seen: Edges, regions: list[Region], headings: list[contours.Heading]
) -> Floats:
    """The most promising poses (C, 2, 3) at some headings, each of which has its say."""
    few, more = sample_walls(scene.walls, 120), sample_walls(scene.walls, 250)
    similarity = not scene.affine
    kind = "affine" if scene.affine else "similarity"
    loose = scoring.make_field(seen, scene.raster, reach=5.0, picked=100)
    narrow = scoring.make_field(seen, scene.raster, reach=4.0, picked=200)
    parts = []
    lines = search.correlate_profiles(seen, scene.walls, headings, similarity=similarity)
    for heading, along in zip(headings, lines, strict=True):
        pairs = contours.match_regions(regions, scene.walls, heading, similarity=similarity)
        poses = np.concatenate([pairs, along])
        scores = scoring.score_poses(poses, few, loose, one_heading=similarity)
        best = poses[np.argsort(-scores.total, kind="stable")[: _PER_HEADING[kind]]]
        parts.append(best)
        if regions:
            settled, _ = contours.settle_on_regions(
                best, regions, scene.walls, heading, similarity=similarity
            )
            parts.append(settled)
    poses = np.concatenate(parts)
    scores = scoring.score_poses(poses, more, narrow)
    order = np.argsort(-scores.total, kind="stable")
    return poses[scoring.distinct_poses(poses, order, scene.walls.corners, 4.0, _REFINED[kind])]


def lone_rooms(
    scene: Scene, seen: Edges, regions: list[Region], headings: list[contours.Heading]
) -> Floats:
    """Poses (C, 2, 3) that lay one room on one region: where a robot has seen a part of its floor,
    the walls' profiles agree better elsewhere, and a room or two are all there is to go by."""
    pairs = [
        contours.match_regions(regions, scene.walls, heading, similarity=not scene.affine)
        for heading in headings
    ]
    poses = np.concatenate([np.zeros((0, 2, 3)), *pairs])
    return _best_apart(scene, seen, poses, _LONE, samples=250, picked=200)


def alike_shapes(scene: Scene, seen: Edges, regions: list[Region]) -> Floats:
    """Poses (C, 2, 3) that lay one room on one region of its shape, whatever the headings are: a
    lawn has none."""
    poses = shapes.match_shapes(regions, scene.walls, scene.flips)
    return _best_apart(scene, seen, poses, _LONE, samples=250, reach=8.0, picked=200)


def whole_floors(scene: Scene, seen: Edges, headings: list[contours.Heading]) -> Floats:
    """Poses (C, 2, 3) for floors whose rooms are hard to tell: the whole of one laid on what stands
    out as one thing in the picture, and floors that are small in it."""
    similarity = not scene.affine
    few = sample_walls(scene.walls, 120)
    loose = scoring.make_field(seen, scene.raster, reach=5.0, picked=100)
    silhouettes = segment.find_silhouettes(seen)
    small = search.correlate_profiles(
        seen, scene.walls, headings, similarity=similarity, span=search.SMALL
    )
    chosen = [np.zeros((0, 2, 3))]
    for heading, along in zip(headings, small, strict=True):
        whole = contours.match_silhouettes(silhouettes, scene.walls, heading, similarity=similarity)
        scores = scoring.score_poses(along, few, loose, one_heading=similarity)
        chosen += [whole, along[np.argsort(-scores.total, kind="stable")[:_WHOLE]]]
    return _best_apart(scene, seen, np.concatenate(chosen), _WHOLE)


def _best_apart(
    scene: Scene,
    seen: Edges,
    poses: Floats,
    most: int,
    *,
    samples: int = 120,
    reach: float = 5.0,
    picked: int = 100,
) -> Floats:
    """The `most` best of poses (C, 2, 3) that differ, by how near so many `samples` of the walls
    and so many `picked` edges lie to each other, within a `reach` of some working px."""
    if not len(poses):
        return poses
    few = sample_walls(scene.walls, samples)
    loose = scoring.make_field(seen, scene.raster, reach=reach, picked=picked)
    order = np.argsort(-scoring.score_poses(poses, few, loose).total, kind="stable")
    return poses[scoring.distinct_poses(poses, order, scene.walls.corners, 4.0, most)]
