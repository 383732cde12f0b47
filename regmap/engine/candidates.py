"""The search put together: edges, regions and walls -> a few poses worth refining."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from . import contours, judge, segment, starts
from . import score as scoring
from .edges import Edges, steady_edges
from .refine_coarse import refine_coarse
from .starts import Scene
from .walls import Samples, Walls, sample_walls

Floats = NDArray[np.float64]

# Poses of one answer that are looked at more closely: two kinds of wall with two faces, and more.
_VARIANTS = 3
# What each is worth against the one before, when others are as well worth a look.
_VARIANT = 0.8
# Share of the others' wall offset below which that of a variant is less.
_PLAINER = 0.5
# Working px from which on a wall is thick enough to be mistaken for a room's border twice.
_THICK = 2.0
# How far a row of equal rooms is followed from the best pose, in rooms.
_ROW = 4
_AS_GOOD = 0.75
SAME_POSE = 0.012
"""As a share of the picture's diagonal: poses closer than this are one answer."""
# So good a score, so far ahead of any other pose, is not searched further for.
_CLEAR = 0.35
_CLEARLY_LESS = 0.6
# Share of the picture's structure that is most of it.
_MOST = 0.55
_REACHES = (8.0, 6.0, 4.0, 3.0, 2.0, 2.0, 2.0)
# How many of these steps show which poses have no hope: those worth less than this share of the
# best, which is half of what they must be worth at last.
_FIRST_STEPS, _HOPELESS = 3, 0.5 * judge.WORTH


def find_candidates(
    scene: Scene, most: int, allowed: Callable[[Floats], NDArray[np.bool_]] | None = None
) -> tuple[Floats, Floats, Floats]:
    """The best distinct poses (C, 2, 3) at working size, their wall offsets (C, 2) and coarse
    scores (C,), best first.

    `allowed` tells which poses what is known beforehand admits; if it admits none, all stay, so
    that the caller can see what the picture itself says.

    A glance comes first: most pictures are clear, and tell by the likest pairs of region and room
    alone, or by the walls' profiles where rooms are many. Unless that was clear, the search runs on
    the borders of areas alone, where the picture has such, then, unless that was clear, on all
    edges, over more headings and with the regions of the prevailing colours too: thin lines are
    clutter on one picture and the walls on another.
    """
    steady = steady_edges(scene.edges) or scene.edges
    every = best = np.zeros((0, 2, 3)), np.zeros((0, 2)), np.zeros(0)
    tried: list[contours.Heading] = []
    for seen, look in ((steady, "glance"), (steady, "usual"), (scene.edges, "wide")):
        wide = look == "wide"
        regions = [] if look == "glance" else scene.regions
        if wide:
            regions = segment.colour_regions(scene.edges) + regions
        headings = contours.find_headings(
            seen, regions, scene.walls, scene.flips, similarity=not scene.affine, look=look
        )
        if look == "glance":
            first = starts.at_a_glance(scene, seen, headings)
        else:
            first = starts.thorough(scene, seen, regions, headings, tried, wide=wide)
            # The same edges would say the same again.
            tried = headings if seen is scene.edges else []
        if not len(first):
            continue
        moved, offset = _drawn(scene, seen, first, allowed)
        # What is known leaves room for poses that many better ones would crowd out.
        best = _best(scene, _both(best, (moved, offset)), most, allowed)
        if allowed is not None:
            every = _best(scene, _both(every, (moved, offset)), most, None)
        # What else there is may be the same floor again, to which a glance has no eye.
        if _is_clear(scene, best[0], best[2]) and (look != "glance" or _is_most(scene, *best[:2])):
            break
    alike = _with_look_alikes(scene, *best)
    if allowed is not None:
        # The right pose may be found as a look-alike of one that is ruled out alone.
        alike = _both(alike, _with_look_alikes(scene, *every))
    return best if len(alike[0]) == len(best[0]) else _best(scene, alike, most, allowed)


def _both(
    first: tuple[Floats, Floats, *tuple[Floats, ...]],
    second: tuple[Floats, Floats],
) -> tuple[Floats, Floats]:
    """Poses and offsets of both."""
    return np.concatenate([first[0], second[0]]), np.concatenate([first[1], second[1]])


def _best(
    scene: Scene,
    found: tuple[Floats, Floats],
    most: int,
    allowed: Callable[[Floats], NDArray[np.bool_]] | None,
) -> tuple[Floats, Floats, Floats]:
    """Of poses and offsets those that `rank_poses` keeps of what is admitted."""
    poses, offsets = found
    good = _admitted(scene, poses, allowed)
    return rank_poses(scene, poses[good], offsets[good], most)


def _drawn(
    scene: Scene,
    seen: Edges,
    poses: Floats,
    allowed: Callable[[Floats], NDArray[np.bool_]] | None = None,
    known: float = 0.0,
) -> tuple[Floats, Floats]:
    """Poses (C, 2, 3) drawn onto the edges that are `seen`, and their wall offsets (C, 2), without
    those that have no hope after a few steps beside the best of them, or one of a `known` score."""
    poses, offsets = refine_coarse(
        poses,
        seen,
        scene.samples,
        scene.walls.outer,
        affine=scene.affine,
        reaches=_REACHES[:_FIRST_STEPS],
    )
    total = score(scene, poses, offsets, scene.samples).total
    hope = total >= _HOPELESS * max(known, total[_admitted(scene, poses, allowed)].max())
    if not hope.any():
        return poses[hope], offsets[hope]
    return refine_coarse(
        poses[hope],
        seen,
        scene.samples,
        scene.walls.outer,
        affine=scene.affine,
        reaches=_REACHES[_FIRST_STEPS:],
        offset=offsets[hope],
    )


def _admitted(
    scene: Scene, poses: Floats, allowed: Callable[[Floats], NDArray[np.bool_]] | None
) -> NDArray[np.bool_]:
    """Which of poses (C, 2, 3) what is known beforehand admits; all, where it admits none."""
    admitted = np.isin(np.sign(np.linalg.det(poses[:, :, :2])), scene.flips)
    if allowed is not None and (allowed(poses) & admitted).any():
        admitted &= allowed(poses)
    return admitted if admitted.any() else np.ones(len(poses), dtype=bool)


def _across_walls(pose: Floats, offset: Floats) -> Floats:
    """Poses (C, 2, 3) beside one whose walls stand off the borders: by so much along either axis,
    so that all of its rooms lie from one face of the walls to the other's in place of between."""
    most = float(np.abs(offset).max())
    if most < _THICK:
        return np.zeros((0, 2, 3))
    axes = pose[:, :2] / np.maximum(np.hypot(pose[0, :2], pose[1, :2]), 1e-12)
    steps = [(x, y) for x in (-1.0, 0.0, 1.0) for y in (-1.0, 0.0, 1.0) if x or y]
    beside = np.repeat(pose[None], len(steps), axis=0)
    beside[:, :, 2] += most * np.array(steps) @ axes.T
    return beside


def _with_look_alikes(
    scene: Scene, poses: Floats, offsets: Floats, total: Floats
) -> tuple[Floats, Floats]:
    """Poses and offsets, best first, of scores `total`, and behind them those at which the best one
    looks alike; of a look-alike that is as good, its own look-alikes too: a row of equal rooms may
    go on."""
    seeds, faces = poses[:1], [_across_walls(poses[0], offsets[0])]
    for _ in range(_ROW):
        alike = np.concatenate([look_alikes(scene.walls, pose) for pose in seeds] + faces)
        faces = []
        moved, offset = _drawn(scene, scene.edges, alike, known=float(total[0]))
        if not len(moved):
            break
        known = len(poses)
        poses, offsets = _both((poses, offsets), (moved, offset))
        total = np.concatenate([total, score(scene, moved, offset, scene.samples).total])
        order = np.argsort(-total, kind="stable")
        kept = distinct(scene, poses, order[total[order] >= _AS_GOOD * total[0]], 4.0)
        # A pose that was known already stands for those that came out beside it.
        old = placed_gaps(scene.walls, poses[kept], poses[:known])
        seeds = poses[[n for n, gap in zip(kept, old, strict=True) if n >= known and gap > 4.0]]
        if not len(seeds):
            break
        seeds = seeds[:_ROW]
    return poses, offsets


def settle_near(scene: Scene, poses: Floats, most: int) -> tuple[Floats, Floats, Floats]:
    """As `find_candidates`, from poses given from outside (C, 2, 3), drawn onto the edges from up
    to some 2 % away."""
    reaches = (16.0, 12.0, *_REACHES)
    moved, offset = refine_coarse(
        poses,
        scene.edges,
        scene.samples,
        scene.walls.outer,
        affine=scene.affine,
        reaches=reaches,
    )
    return rank_poses(scene, moved, offset, most)


def look_alikes(walls: Walls, pose: Floats) -> Floats:
    """Other poses (C, 2, 3) at which a symmetric floor, or one with equal rooms, lies alike.

    Quarter turns and mirror images about the middle of the floor, along its main direction, and
    shifts that carry one room onto another of the same size.
    """
    corners = walls.corners
    middle = 0.5 * (corners[0] + corners[2])
    quarter = np.array([[0.0, -1.0], [1.0, 0.0]])
    moves = []
    for flip in (1.0, -1.0):
        for turns in range(4):
            linear = np.linalg.matrix_power(quarter, turns) @ np.diag([1.0, flip])
            moves.append(np.column_stack([linear, middle - linear @ middle]))
    moves += [np.column_stack([np.eye(2), shift]) for shift in _room_shifts(walls)]
    poses = np.empty((len(moves) - 1, 2, 3))
    for number, move in enumerate(moves[1:]):
        poses[number, :, :2] = pose[:, :2] @ move[:, :2]
        poses[number, :, 2] = pose[:, :2] @ move[:, 2] + pose[:, 2]
    return poses


def _room_shifts(walls: Walls, most: int = 12) -> Floats:
    """Shifts (S, 2) that carry rooms onto rooms of the same size, the commonest first."""
    boxes = walls.boxes[:120]
    size = boxes[:, 2:] - boxes[:, :2]
    alike = np.abs(size[:, None] - size[None]) < 0.04 * size[:, None]
    alike = np.asarray(alike.all(axis=2))
    np.fill_diagonal(alike, False)
    first, second = np.nonzero(alike)
    shift = boxes[second, :2] - boxes[first, :2]
    cell = np.rint(shift / 0.05).astype(np.int64)
    _, place, votes = np.unique(cell, axis=0, return_index=True, return_counts=True)
    order = np.argsort(-votes, kind="stable")[:most]
    return np.asarray(shift[place[order]]).reshape(-1, 2)


def placed_gaps(walls: Walls, poses: Floats, others: Floats) -> Floats:
    """(C,) px from each of poses (C, 2, 3) to the nearest of others (D, 2, 3), RMS of corners."""
    first, second = (
        walls.corners @ group[:, :, :2].transpose(0, 2, 1) + group[:, None, :, 2]
        for group in (poses, others)
    )
    gaps = ((first[:, None] - second[None]) ** 2).sum(axis=3).mean(axis=2)
    return np.asarray(np.sqrt(gaps.min(axis=1, initial=np.inf)))


def pose_gaps(walls: Walls, poses: Floats) -> Floats:
    """(C,) px by which poses (C, 2, 3) lay the floor's corners elsewhere than the first, RMS."""
    placed = walls.corners @ poses[:, :, :2].transpose(0, 2, 1) + poses[:, None, :, 2]
    return np.asarray(np.sqrt(((placed - placed[0]) ** 2).sum(axis=2).mean(axis=1)))


def distinct(scene: Scene, poses: Floats, order: NDArray[np.intp], gap: float) -> list[int]:
    """Indices of poses that differ from each better one by more than `gap` working px."""
    return scoring.distinct_poses(poses, order, scene.walls.corners, gap, len(poses))


def rank_poses(
    scene: Scene, poses: Floats, offset: Floats, most: int
) -> tuple[Floats, Floats, Floats]:
    """The `most` best poses that differ by more than 2 px, best first; offsets and scores alike."""
    scores = score(scene, poses, offset, scene.samples)
    order = np.argsort(-scores.total, kind="stable")
    order = order[scores.total[order] >= judge.WORTH * scores.total[order[0]]]
    kept = scoring.distinct_poses(poses, order, scene.walls.corners, 2.0, len(order))
    kept = _thinned(scene, poses, np.abs(offset).max(axis=1), scores.total, kept, most)
    return poses[kept], offset[kept], scores.total[kept]


def _is_clear(scene: Scene, poses: Floats, total: Floats) -> bool:
    """True if the best pose is good, and every other answer far less so."""
    far = pose_gaps(scene.walls, poses) > SAME_POSE * float(np.hypot(*scene.edges.size))
    return bool(total[0] >= _CLEAR and (total[far] <= _CLEARLY_LESS * total[0]).all())


def _is_most(scene: Scene, poses: Floats, offsets: Floats) -> bool:
    """True if the best pose explains most of what the picture shows."""
    samples = sample_walls(scene.walls, 300)
    return bool(score(scene, poses[:1], offsets[:1], samples).captured[0] >= _MOST)


def _thinned(
    scene: Scene, poses: Floats, off: Floats, total: Floats, kept: list[int], most: int
) -> list[int]:
    """The `most` of poses, best first, of which every answer has its say before another has one
    more variant; without variants too many, unless their walls are less `off` (C,) px: the scores
    may prefer that all rooms lie on one face of the walls.
    """
    corners = scene.walls.corners
    placed = corners @ poses[kept][:, :, :2].transpose(0, 2, 1) + poses[kept][:, None, :, 2]
    near = SAME_POSE * float(np.hypot(*scene.edges.size))
    chosen: list[int] = []
    worth: list[float] = []
    for number in range(len(kept)):
        gaps = np.sqrt(((placed[chosen] - placed[number]) ** 2).sum(axis=2).mean(axis=1))
        alike = [kept[chosen[place]] for place in np.flatnonzero(gaps < near)]
        plainer = off[kept[number]] < _PLAINER * off[alike].min(initial=np.inf)
        if len(alike) < _VARIANTS or plainer:
            chosen.append(number)
            worth.append(float(total[kept[number]]) * _VARIANT ** min(len(alike), _VARIANTS))
    first = np.argsort(-np.array(worth), kind="stable")[:most]
    return [kept[chosen[place]] for place in sorted(first.tolist())]


def score(scene: Scene, poses: Floats, offset: Floats, samples: Samples) -> scoring.Scores:
    """Coarse scores of refined poses on all edges of the picture."""
    kind = scene.walls.outer[samples.wall].astype(np.int64)
    return scoring.score_poses(poses, samples, scene.field, offset=offset[:, kind])
