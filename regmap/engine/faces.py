"""Which of the lines that the picture draws about each wall are its border: all walls at once.

A drawn wall has two faces, often with print or a path beside them, so that each outline finds
several lines to lie on, and growth of the whole pose is nearly the same as another wall offset: ICP
to the nearest line ends where it began, some walls on the one face and some on the other. Here one
wide look lists the lines across every wall, ICP runs on that list from many sizes of the floor, and
the pose under which the walls stand on their lines most sharply is taken.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .measure import Probe, View, look, place_chunks, spread, vertex
from .moves import apply_step, design_matrix
from .profiles import Chunks, Paint

Floats = NDArray[np.float64]

# How far to either side lines are listed, px of the level at hand, and how many at most.
_REACH = 9.0
_LISTED = 6
# From where ICP starts, px of the level: for each growth of the floor at its outer walls, the
# likeliest shift and ways of inner walls, and of outer ones from where they stood before.
_GROWTHS = np.linspace(-4.5, 4.5, 7)
_SHIFTS = np.linspace(-3.0, 3.0, 5)
_INNER_WAYS = np.array([-1.5, 0.0, 1.5])
_OUTER_WAYS = np.linspace(-7.5, 7.5, 11)
# Of more chunks of wall so many are asked, spread over all: that is enough to tell. Of either kind
# so many tell the likeliest starts.
_CHUNKS, _START_CHUNKS = 1200, 300
_GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)
# The scatter, px, with which it is asked which is likely: as wide as the grid.
_GRID_SCATTER = 0.8
# Of ends that are alike to so many nats the first is taken.
_ALIKE = 0.1
# px: ends nearer to each other are one; those farther off than this are clearly other ones.
_APART, _CLEARLY = 1.0, 2.0
# What a nat by which an end is behind is worth: walls have two faces, and what the one says is in
# part said by the other. On made floors an end that was said to be wrong by 20 to 35 % without this
# was so in one of 20.
_TELLING = 1.5
# How far a line may be off in each round, px.
_NEAR = (3.0, 3.0, 2.5, 2.0, 1.5, 1.0, 1.0)
# Rounds before which outer walls may turn out to be inner ones, the scatter in px with which that
# is asked, and how many nats speak against it beforehand: outlines seldom lack a room.
_KINDS_AGAIN = (3, 5)
_KINDS_SCATTER = 0.4
_SELDOM = 3.0
# By how much walls may scatter about their lines, px, and the share of lines that are others.
_SCATTERS = (0.1, 0.2, 0.4, 0.8, 1.6)
_STRAY = 0.1
# A value that is none.
_NOTHING = 1e-30
# The steps in which it is tabulated how likely a chunk is to stand there when starts are weighed,
# px: far finer than the grid's scatter, and all ways are so many of them.
_STEP = 0.25
# px from a chunk beyond which it is no matter how far off it is: of lines listed within reach,
# nothing is left then that a double could add to what is likely of a stray one.
_FARTHEST = _REACH + 10.0 * _GRID_SCATTER


@dataclass(frozen=True, eq=False)
class Lines:
    """Lines across each of Q chunks of wall: `place` (Q, K) px of the level, outward from where the
    outline lies; `value` (Q, K) 0..1 how well each is a border that ends the room, 0: no line."""

    place: Floats
    value: Floats

    @cached_property
    def log_value(self) -> Floats:
        """(K, Q) logarithms of the values, far below any stray line where there is none."""
        return np.log(np.maximum(self.value.T, _NOTHING), order="C")

    def only(self, few: NDArray[np.int64]) -> Lines:
        """Those of the chunks of numbers `few`."""
        return Lines(self.place[few], self.value[few])


@dataclass(frozen=True, eq=False)
class Settled:
    """A pose (2, 3), own -> full px, and the offsets (2,) of inner and outer walls, full px, under
    which walls and lines agree best; the probe with those outer walls taken for inner ones that
    stand as these do; `elsewhere`: chance that another such pose, clearly apart, is the right one.
    """

    pose: Floats
    offset: Floats
    probe: Probe
    elsewhere: float


def list_lines(view: View, shown: NDArray[np.bool_]) -> Lines:
    """The most valuable lines in profiles across walls, with sub-step precision; none for chunks
    that are not `shown` (Q,)."""
    low, middle, high = view.strength[:, :-2], view.strength[:, 1:-1], view.strength[:, 2:]
    peak = (middle >= low) & (middle > high) & shown[:, None]
    value = np.where(peak, view.value[:, 1:-1] * view.lasting[:, 1:-1], 0.0)
    best = np.argsort(-value, axis=1, kind="stable")[:, :_LISTED]
    before, at, after = (
        np.take_along_axis(part, best, axis=1).astype(np.float64) for part in (low, middle, high)
    )
    step = float(view.steps[1] - view.steps[0])
    place = view.steps[1:-1][best] + vertex(before, at, after) * step
    return Lines(place, np.take_along_axis(value, best, axis=1).astype(np.float64))


def settle(
    level: tuple[float, NDArray[np.uint8]],
    pose: Floats,
    offset: Floats,
    probe: Probe,
    paint: Paint,
    *,
    affine: bool,
) -> Settled:
    """The pose (2, 3), own -> full px, under which walls and lines agree best.

    Nothing is known to lie behind an outer wall, but the picture may show a room there that the
    outlines lack: the robot could not get in, or it is newer.
    """
    factor, image = level
    wide = probe.wide
    chunks, outer = wide.chunks, wide.walls.outer[wide.chunks.piece]
    view = look(image, factor, pose, offset, wide, paint, half=_REACH, exact=False)
    lines = list_lines(view, np.add.reduceat(view.inside, chunks.first) > 0.5 * chunks.count)
    place, normal = place_chunks(view.start, view.normal, chunks)
    if len(place) > _CHUNKS:
        # By the golden section: in step with the four walls of every room, all would be parallel.
        few = np.unique((np.arange(_CHUNKS) * _GOLDEN % 1.0 * len(place)).astype(np.int64))
        chunks, outer, place, normal = chunks.only(few), outer[few], place[few], normal[few]
        lines = lines.only(few)
    middle = 0.5 * np.array([image.shape[1], image.shape[0]])
    size = 0.5 * float(np.hypot(*image.shape[:2]))
    unit = (place - middle) / size
    design = design_matrix(unit, normal, affine=affine)
    # A wall is one piece of evidence, however many samples lie on it.
    share = chunks.weight / _a_wall(np.bincount(chunks.wall, chunks.weight).astype(np.float64))
    starts = _starts(lines, design, outer, share, _extent(unit, normal, chunks.weight * outer))
    # The lines of an outer wall are listed from where outer ones stand: if it is none, from there.
    back = np.where(outer, (offset[0] - offset[1]) * factor, 0.0)
    steps, kinds = _icp(lines, design, outer, chunks, starts, offset * factor, share, back)
    gap = _gaps(lines, _moved(design, kinds, steps, back))
    # What few walls fit sharply by chance counts less by the sharpness (Laplace's approximation:
    # Kass & Raftery, Journal of the American Statistical Association 90(430), 1995).
    likely = [
        _likelihood(lines, gap, wide) @ share + steps.shape[1] * np.log(wide) for wide in _SCATTERS
    ]
    turned = (outer & ~kinds) @ share
    score = np.max(likely, axis=0) - _SELDOM * turned
    best = int(np.argmax(score >= score.max() - _ALIKE))
    ends = apply_step(
        np.repeat(pose[None], len(steps), axis=0),
        steps / factor,
        middle / factor,
        size / factor,
        affine=affine,
    )
    inner = np.zeros(int(probe.walls.bend.max()) + 1, dtype=bool)
    inner[chunks.wall[outer & ~kinds[best]]] = True
    walls = replace(probe.walls, outer=probe.walls.outer & ~inner[probe.walls.bend])
    return Settled(
        ends[best],
        offset + steps[best, -2:] / factor,
        replace(probe, walls=walls),
        chance_elsewhere(ends, score, best, probe.walls.corners),
    )


def chance_elsewhere(ends: Floats, score: Floats, best: int, corners: Floats) -> float:
    """Chance that the best of `ends` (S, 2, 3), of log-likelihoods `score` (S,), is not the right
    one: what the others weigh that put the corners of the floor clearly elsewhere."""
    placed = corners @ ends[:, :, :2].transpose(0, 2, 1) + ends[:, None, :, 2]
    gap = np.sqrt(((placed[:, None] - placed[None]) ** 2).sum(axis=3).mean(axis=2))
    weight = np.exp(_TELLING * np.minimum(score - score[best], 0.0))
    # Of those that ended at one place, one counts.
    kept = [best]
    for n in np.argsort(-score, kind="stable"):
        if (gap[n, kept] > _APART).all():
            kept.append(int(n))
    other = weight[[n for n in kept if gap[n, best] > _CLEARLY]].sum()
    return float(other / (weight[best] + other))


def _a_wall(weight: Floats) -> float:
    """What each of as many equal walls would weigh as walls of `weight` (W,) are worth."""
    return float((weight**2).sum() / weight.sum())


def _extent(unit: Floats, normal: Floats, outer: Floats) -> tuple[Floats, float]:
    """Centre (2,) of places `unit` (Q, 2), and how far from it walls of weight `outer` (Q,) stand
    along their normals (Q, 2)."""
    centre = unit.mean(axis=0)
    away = outer @ ((unit - centre) * normal).sum(axis=1) / max(float(outer.sum()), 1e-12)
    return centre, max(float(away), 1e-3)


def _starts(
    lines: Lines,
    design: Floats,
    outer: NDArray[np.bool_],
    share: Floats,
    extent: tuple[Floats, float],
) -> Floats:
    """(S, P + 2) no move at all, and for each growth of the floor the likeliest one of a grid over
    shift and offsets; `extent` as `_extent` gives it."""
    centre, reach = extent
    grid = np.stack(np.meshgrid(_GROWTHS, _SHIFTS, _SHIFTS, indexing="ij"), axis=-1)
    growth, right, down = grid.reshape(-1, 3).T
    steps = np.zeros((len(growth), design.shape[1] + 2))
    steps[:, 2] = growth / reach
    steps[:, :2] = np.column_stack([right, down]) - steps[:, 2:3] * centre
    likely = np.zeros(len(steps))
    # The two kinds of wall choose their offsets apart. Some of the chunks are enough to tell.
    for kind, ways, with_it in ((-2, _INNER_WAYS, ~outer), (-1, _OUTER_WAYS, outer)):
        few = np.flatnonzero(with_it)
        few = few[:: max(2, -(-len(few) // _START_CHUNKS))]
        carried = -growth if kind == -1 else np.zeros(len(growth))
        moved = steps[:, :-2] @ design[few].T + carried[:, None]
        found = _weighed(lines.only(few), share[few], moved, ways)
        likely += np.max(found, axis=0)
        steps[:, kind] = carried + ways[np.argmax(found, axis=0)]
    best = np.argmax(likely.reshape(len(_GROWTHS), -1), axis=1)
    chosen = steps.reshape(len(_GROWTHS), -1, steps.shape[1])[np.arange(len(_GROWTHS)), best]
    return np.concatenate([np.zeros((1, steps.shape[1])), chosen])


def _weighed(lines: Lines, share: Floats, moved: Floats, ways: Floats) -> list[Floats]:
    """For each of some ways outward (S,) log-likelihoods of chunks `moved` (S, Q) px and that way
    on, weighted by `share` (Q,): looked up, since there are half a million gaps."""
    lowest = float(moved.min(initial=0.0)) + ways[0]
    count = int((float(moved.max(initial=0.0)) + ways[-1] - lowest) / _STEP) + 2
    # Where no line is near, all places are alike: a start that takes walls far off needs no more.
    first = min(max(int((-_FARTHEST - lowest) / _STEP), 0), count - 1)
    last = min(max(int((_FARTHEST - lowest) / _STEP) + 1, first), count - 1)
    away = lowest + _STEP * np.arange(first, last + 1)
    gap = _gaps(lines, np.repeat(away[:, None], len(share), axis=1))
    table = _likelihood(lines, gap, _GRID_SCATTER) * share
    cell = np.rint((moved + ways[0] - lowest) / _STEP).astype(np.int64) - first
    steps = np.rint((ways - ways[0]) / _STEP).astype(np.int64)
    own = np.arange(len(share))
    return [
        table.take(np.clip(cell + step, 0, last - first) * len(share) + own).sum(axis=1)
        for step in steps
    ]


def _icp(
    lines: Lines,
    design: Floats,
    outer: NDArray[np.bool_],
    chunks: Chunks,
    steps: Floats,
    offset: Floats,
    share: Floats,
    back: Floats,
) -> tuple[Floats, NDArray[np.bool_]]:
    """ICP from each of `steps` (S, P + 2), moves and growths of the offsets in px of the level.

    Returns the steps at the end, and (S, Q) which chunks count as outer.
    """
    weight = chunks.weight
    kinds = np.repeat(outer[None], len(steps), axis=0)
    squares = (design[:, :, None] * design[:, None]).reshape(len(design), -1)
    for number, near in enumerate(_NEAR):
        if number in _KINDS_AGAIN:
            inner = _inner_after_all(lines, design, chunks, steps, share, back)
            kinds = outer & ~inner[:, chunks.wall]
        gap = _gaps(lines, _moved(design, kinds, steps, back))
        # What is worth most: its value, less the farther off it is, by the square twice over.
        close = (gap / near) ** 2
        close *= close
        close *= -2.0
        close += lines.log_value[:, None]
        chosen = np.argmax(close, axis=0)
        residual = np.take_along_axis(gap, chosen[None], axis=0)[0]
        value = lines.value[np.arange(len(design)), chosen]
        heavy = weight * value * (np.abs(residual) < 1.5 * near)
        rough = spread(residual, heavy)
        scale = np.maximum(0.5, 3.0 * rough)[:, None]
        robust = heavy / (1.0 + (residual / scale) ** 2) ** 2
        steps = steps + _solve(design, squares, kinds, residual, robust, offset + steps[:, -2:])
    return steps, kinds


def _solve(
    design: Floats,
    squares: Floats,
    kinds: NDArray[np.bool_],
    residual: Floats,
    robust: Floats,
    offset: Floats,
) -> Floats:
    """(S, P + 2) weighted least squares of residuals (S, Q) by moves and the two offsets, which are
    at `offset` (S, 2) now; `squares` (Q, P * P): products of the columns of `design` (Q, P)."""
    count = design.shape[1]
    matrix = np.empty((len(kinds), count + 2, count + 2))
    right = np.empty((len(kinds), count + 2))
    matrix[:, :count, :count] = (robust @ squares).reshape(-1, count, count)
    matrix[:, -2:, -2:] = 0.0
    pull = robust * residual
    right[:, :count] = pull @ design
    for place, own in ((-2, ~kinds), (-1, kinds)):
        weight = robust * own
        matrix[:, place, :count] = matrix[:, :count, place] = weight @ design
        matrix[:, place, place] = weight.sum(axis=1)
        right[:, place] = (pull * own).sum(axis=1)
    total = np.maximum(robust.sum(axis=1), 1e-9)[:, None, None]
    prior = 1e-3 * total * np.array([[1.0, -1.0], [-1.0, 1.0]])
    matrix += 1e-6 * total * np.eye(count + 2)
    matrix[:, -2:, -2:] += prior
    right[:, -2:] -= (prior @ offset[..., None])[..., 0]
    return np.asarray(np.linalg.solve(matrix, right[..., None])[..., 0])


def _moved(design: Floats, kinds: NDArray[np.bool_], steps: Floats, back: Floats) -> Floats:
    """(S, Q) px by which each of `steps` moves each chunk outward; `kinds` (S, Q) outer or not,
    `back` (Q,) px how far outside of where its lines are listed from it stands if it is not."""
    return np.asarray(
        steps[:, :-2] @ design.T + np.where(kinds, steps[:, -1:], steps[:, -2:-1] + back)
    )


def _gaps(lines: Lines, moved: Floats) -> Floats:
    """(K, S, Q) px from chunks, `moved` (S, Q) px outward, to their lines; lines come first, since
    arithmetic along a short last axis is slow."""
    return np.subtract(lines.place.T[:, None], moved, order="C")


def _likelihood(lines: Lines, gap: Floats, wide: float) -> Floats:
    """(S, Q) log-likelihood of gaps (K, S, Q) px: a border scatters normally about its line, by
    `wide` px, or it is some other line within reach."""
    near = gap / wide
    near *= near
    near *= -0.5
    near += lines.log_value[:, None]
    nearest = np.exp(near.max(axis=0))
    nearest /= wide * float(np.sqrt(2.0 * np.pi))
    stray = (1.0 - (1.0 - _STRAY) * lines.value.max(axis=1)) / (2.0 * _REACH)
    return np.asarray(np.log(nearest + stray))


def _inner_after_all(
    lines: Lines, design: Floats, chunks: Chunks, steps: Floats, share: Floats, back: Floats
) -> NDArray[np.bool_]:
    """(S, W) those walls that the inner walls' offset suits clearly better than their own."""
    suits = []
    for kind in (False, True):
        kinds = np.full((len(steps), len(design)), kind)
        gap = _gaps(lines, _moved(design, kinds, steps, back))
        likely = _likelihood(lines, gap, _KINDS_SCATTER) * share
        suits.append([np.bincount(chunks.wall, row) for row in likely])
    inner, outer = np.array(suits)
    return np.asarray(inner - outer > _SELDOM * np.bincount(chunks.wall, share))
