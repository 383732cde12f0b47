"""Fits -> what speaks for each, which is likely, what else fits as well."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .measure import Fit, usual_width
from .ramp import ramp
from .score import Scores, clear_rooms

Floats = NDArray[np.float64]

TWIN = 0.88
"""A different pose whose total evidence reaches this share of the best one's fits as well."""

TOLD = 0.72
"""A different pose of this share is told as well if the picture contradicts it no more than the
best one: print and paths lie on some walls and not on others."""

# By how much more of its walls may lack an edge.
_CONTRADICTED = 0.02
# The same share for a pose that is shifted by a room of a row, along which print, paths and shared
# colours come and go: no other shift explains so much by chance.
_IN_A_ROW = 0.65
# Shares of the best pose's evidence that a copy of the floor has as well: of edges and what is
# drawn there, of sharpness, and of all that the picture shows, of which an overview has less.
_COPIED, _AS_SHARP, _NO_OVERVIEW = 0.9, 0.6, 0.3
# Nats by which walls stand sharply, however large the floor.
_SHARP = 12.0
# Shares of the best pose's evidence from which on one that is shifted against it is told as well.
SEEN_AT_ALL, _SAME_EDGES, _SAME_ROOMS = 0.3, 0.90, 0.65

WORTH = 0.35
"""Poses of less than this share of the best score are not looked at again."""

# From this support on a room agrees, or from this share of what the clear rooms have; any line
# gives the last.
_SUPPORTED, _OF_CLEAR, _ANY_LINE = 0.45, 0.5, 0.15

# Shares of the best pose's evidence from which on another may turn out the better one at full size.
_LIKELY, _ALIKE = 0.65, 0.85
# Where a border may stand by chance, px to either side; by how much those of a right fit scatter,
# px; and the least chance of any other place.
_REACH_PX = 3.0
_WIDTHS_PX = (0.1, 0.2, 0.4, 0.8)
_STRAY = 0.05
# What a pose is worth whose inner walls stand no more sharply than on any line, against the root of
# its surprise; and nats that some of a hundred poses looked at have by chance: log(100).
_BLUNT, _BY_CHANCE = 10.0, 4.6
# Nats, and share of the best pose's surprise besides, by which that of a pose ruled out is less.
_OUTDONE, _OUTDONE_SHARE = 4.0, 0.25
# Share of the walls of another pose that are flat, beyond so many times what is flat under the best
# one: by chance, and surely no chance.
_AS_FLAT, _FLAT_UNDER_IT = 2.0, (0.05, 0.12)
# Shares of a wall from which on it is missing, if it is flat there, or stands on no border.
_FLAT, _UNMET = 0.5, 0.75
# What a clear border is worth that does not end its room, see `measure.look`.
_NO_END = (0.06, 0.2)
# And one that does; and the share of all borders that do where it may be told.
_ENDS, _MOSTLY = 0.6, 0.6
# Own units from which on a piece of wall is counted as one.
_A_WALL = 0.03


@dataclass(frozen=True, eq=False)
class Evidence:
    """What speaks for one fit, each 0..1 unless said otherwise.

    `forward`: share of the shown outlines' length on an edge that ends the room's own colour;
    `inner`: the same for walls between rooms alone; `missing`: share of those walls that the
    picture lacks, by length, `gone` by number; `absent`: of all walls the share where it is flat;
    `unmet`: share of all walls that stand on no border, be it that other marks lie there, by
    length, `unmet_inner` of those between rooms;
    `excess`: as `forward`, beyond what chance gives;
    `room_support`, `room_shown` (R,): room by room, support nan where too little is shown;
    `denied`: share of the rooms seen where the picture shows other things while others are clear;
    `room_px`: px, how wide a usual room is; `surprise`: nats by which walls between rooms stand
    on borders more sharply than chance would have it, `sharpness`: the same by wall;
    `backward`: share of the picture's structure inside the floor that walls explain; `captured`:
    of all structure in the picture; `shown`: share of the outlines inside the picture; `scatter`:
    px by which supporting edges scatter about the fit; `total`: all of it in one figure, by which
    poses are told as fitting as well; `standing`: the same beyond what chance gives, where rooms
    that are seen clearly and walls that stand sharply count for more: by this poses are ranked;
    `rough`: as `total`, of edges within some px: on which of two faces a wall is does not matter.
    """

    forward: float
    inner: float
    missing: float
    gone: float
    absent: float
    unmet: float
    unmet_inner: float
    excess: float
    room_support: Floats
    room_shown: Floats
    denied: float
    room_px: float
    surprise: float
    sharpness: float
    backward: float
    captured: float
    shown: float
    scatter: float
    total: float
    standing: float
    rough: float


def weigh(
    fit: Fit, scores: Scores, place: int, explained: tuple[float, float], rooms: int, factor: float
) -> Evidence:
    """Evidence of a fit from its chunks (residuals in full px), its coarse scores, and how much
    of the picture it explains (backward, captured)."""
    reach = 1.0 / factor
    chunk = fit.chunks.weight * fit.shown
    good = fit.quality * np.exp(-0.5 * (fit.residual / reach) ** 2)
    total, inner_weight = max(float(chunk.sum()), 1e-12), chunk * ~fit.outer
    forward = float((chunk * good).sum()) / total
    inner = float((inner_weight * good).sum() / max(float(inner_weight.sum()), 1e-12))
    wall = fit.chunks.wall
    missing, gone = _lost_walls(wall, inner_weight, fit.flat, _FLAT)
    away = 1.0 - fit.quality
    unmet, unmet_inner = (_lost_walls(wall, w, away, _UNMET)[0] for w in (chunk, inner_weight))
    if inner_weight.sum() < 0.05 * total:
        inner, missing, gone, unmet_inner = forward, 0.0, 0.0, 0.0
    absent = float((chunk * fit.flat).sum()) / total
    per_room = np.bincount(fit.chunks.room, chunk, minlength=rooms)
    supported = np.bincount(fit.chunks.room, chunk * good, minlength=rooms)
    whole = np.bincount(fit.chunks.room, fit.chunks.weight, minlength=rooms)
    shown = per_room / np.maximum(whole, 1e-12)
    support = np.where(shown > 0.3, supported / np.maximum(per_room, 1e-12), np.nan)
    scatter = _scatter(fit.residual[good > 0.3], chunk[good > 0.3])
    backward, captured = explained
    visible, excess = float(scores.shown[place]), float(scores.forward[place])
    lasting = np.bincount(fit.chunks.room, chunk * good * fit.lasting, minlength=rooms)
    clear = float(clear_rooms(lasting / np.maximum(per_room, 1e-12), per_room.astype(float)))
    surprise, walls = _surprise(fit)
    explains = (0.25 + 0.75 * backward) * float(np.sqrt(captured)) * visible
    return Evidence(
        forward,
        inner,
        missing,
        gone,
        absent,
        unmet,
        unmet_inner,
        excess,
        support,
        shown,
        _denied_rooms(
            support,
            np.bincount(fit.chunks.room, chunk * fit.flat, minlength=rooms)
            / np.maximum(per_room, 1e-12),
        ),
        usual_width(whole, fit.pose),
        surprise,
        # Where there are none to ask, nothing speaks against the fit.
        surprise / walls if walls > 1.0 else 1.0,
        backward,
        captured,
        visible,
        scatter,
        float(lasting.sum()) / total * explains,
        clear
        * max(excess, 0.0)
        * explains
        * (_BLUNT + float(np.sqrt(max(surprise - _BY_CHANCE, 0.0)))),
        max(excess, 0.0) * explains,
    )


def _scatter(residual: Floats, weight: Floats) -> float:
    """px by which edges lie off the fit, RMS, of residuals and weights (Q,); nan where none do."""
    if not len(residual):
        return float("nan")
    return float(np.sqrt(np.average(residual**2, weights=weight + 1e-12)))


def _lost_walls(
    wall: NDArray[np.int64], weight: Floats, lost: Floats, most: float
) -> tuple[float, float]:
    """Share of walls along more than `most` of which all is `lost` (Q,), by `weight` (Q,) and by
    number; `wall` (Q,) says which wall.

    A passage is a gap in a wall that is there otherwise, wherever the wall belongs; a wall that is
    gone altogether is another floor's.
    """
    whole = np.bincount(wall, weight)
    gone = _mostly(wall, weight, lost, most)
    counted = whole > _A_WALL
    share = float(whole[gone].sum() / max(float(whole.sum()), 1e-12))
    return share, float((gone & counted).sum() / max(int(counted.sum()), 1))


def _mostly(
    wall: NDArray[np.int64], weight: Floats, lost: NDArray[Any], most: float
) -> NDArray[np.bool_]:
    """(W,) along which walls more than `most` is `lost` (Q,), by `weight` (Q,); `wall` (Q,) says
    which wall."""
    return np.asarray(np.bincount(wall, weight * lost) > most * np.bincount(wall, weight))


def on_far_faces(fit: Fit) -> NDArray[np.bool_]:
    """(W,) which walls, of those of `Walls.bend`, stand on a clear border all along that does not
    end their room: the far face of a thick wall. None where most borders do not, as on a drawing of
    lines or a pale picture."""
    chunk, wall = fit.chunks.weight * fit.shown, fit.chunks.wall
    there = (fit.quality > _NO_END[0]) & (fit.quality < _NO_END[1])
    told = float(chunk @ (fit.quality > _ENDS)) >= _MOSTLY * float(chunk.sum())
    return _mostly(wall, chunk, there, _UNMET) & told


def rooms_unmet(fit: Fit, rooms: int) -> Floats:
    """(R,) share of each room's outline that is the longest of its walls which stand on no border.
    Of the many short ones about furniture, round which a robot drives, none is a wall."""
    chunk, wall, room = fit.chunks.weight * fit.shown, fit.chunks.wall, fit.chunks.room
    lost = _mostly(wall, chunk, 1.0 - fit.quality, _UNMET)[wall]
    longest = np.zeros(rooms)
    np.maximum.at(longest, room, np.bincount(wall, chunk)[wall] * lost)
    return np.asarray(longest / np.maximum(np.bincount(room, chunk, minlength=rooms), 1e-12))


def _denied_rooms(support: Floats, flat: Floats) -> float:
    """Share of the rooms (R,) seen that have not half the support of the clear ones, though the
    picture is not `flat` there: it shows something else."""
    seen = np.isfinite(support)
    if not seen.any():
        return 0.0
    clear = float(np.percentile(support[seen], 90))
    return float((support[seen] < 0.5 * clear)[flat[seen] < 0.5].sum() / seen.sum())


def _surprise(fit: Fit) -> tuple[float, float]:
    """Log-likelihood ratio of where the borders of inner walls stand, wall by wall: normal about
    the fit, as wide as suits them best, against anywhere within reach (an a-contrario argument:
    Desolneux, Moisan & Morel, International Journal of Computer Vision 40(1), 2000); and how many
    walls of usual length these are."""
    wall, weight = fit.chunks.wall, fit.chunks.weight
    whole = np.bincount(wall, weight * fit.shown)
    lit = np.bincount(wall, weight * fit.quality)
    off = np.bincount(wall, weight * fit.quality * fit.residual) / np.maximum(lit, 1e-12)
    seen = np.clip(lit / np.maximum(whole, 1e-12), 0.0, 1.0)
    inner = np.bincount(wall, weight * fit.outer) <= 0.5 * np.bincount(wall, weight)
    # A wall is one piece of evidence, however many samples lie on it; short ones are less.
    share = whole * whole.sum() / max(float((whole**2).sum()), 1e-12)
    nats = [
        np.log(
            2.0
            * _REACH_PX
            * seen
            * np.exp(-0.5 * (off / wide) ** 2)
            / (wide * np.sqrt(2.0 * np.pi))
            + 1.0
            - seen
            + _STRAY
        )
        for wide in _WIDTHS_PX
    ]
    return max(float(share[inner] @ row[inner]) for row in nats), float(share[inner].sum())


def likely(evidence: list[Evidence]) -> list[bool]:
    """Which of some poses, best first, are worth refining at full size."""
    best = evidence[0]
    return [
        e.total >= _LIKELY * best.total
        or e.standing >= _LIKELY * best.standing
        or e.rough >= _ALIKE * best.rough
        for e in evidence
    ]


def room_scatter(fit: Fit, rooms: int) -> Floats:
    """(R,) px by which the edges along each room lie off the fit, RMS; nan where there are none."""
    seen = fit.quality > 0.3
    room = fit.chunks.room[seen]
    square = np.bincount(room, fit.residual[seen] ** 2, minlength=rooms)
    count = np.bincount(room, minlength=rooms)
    return np.where(count > 0, np.sqrt(square / np.maximum(count, 1)), np.nan)


def agreeing(support: Floats) -> NDArray[np.bool_]:
    """(R,) which rooms the picture shows as outlined, of their support; False where it is nan.

    On a pale or blurred picture no border is clear, and those of rooms that agree are as others.
    """
    seen = np.nan_to_num(support, nan=0.0)
    clear = _OF_CLEAR * float(np.percentile(seen, 90)) if len(seen) else 0.0
    return np.asarray(seen >= max(_ANY_LINE, min(_SUPPORTED, clear)))


def is_twin(other: Evidence, best: Evidence, shifted: bool) -> bool:
    """True if a different pose fits as well as the best one; `shifted`: it differs by a shift
    alone, as poses in a row of equal rooms do."""
    share = other.total / max(best.total, 1e-12)
    if _is_copy(other, best):
        return True
    if not shifted:
        return share >= TWIN or (share >= TOLD and other.absent <= best.absent + _CONTRADICTED)
    # Print and paths may hide one of the rooms in a row, and leave its edges: what lies on edges
    # beyond chance is the same.
    hidden = (
        share >= SEEN_AT_ALL
        and other.excess >= _SAME_EDGES * best.excess
        and other.backward >= _SAME_ROOMS * best.backward
    )
    return share >= _IN_A_ROW or hidden


def _is_copy(other: Evidence, best: Evidence) -> bool:
    """True if all that speaks for the best pose speaks for another, but that a smaller copy of the
    floor explains less of the picture. A small one in a corner is an overview of the other."""
    return (
        other.excess >= _COPIED * best.excess
        and other.backward >= _COPIED * best.backward
        and other.absent <= best.absent + _CONTRADICTED
        and other.surprise >= min(_AS_SHARP * best.surprise, _SHARP) > _BY_CHANCE
        and other.captured >= _NO_OVERVIEW * best.captured
    )


def is_ruled_out(other: Evidence, best: Evidence, shifted: bool) -> bool:
    """True if a different pose that lies on as many edges is none all the same: walls between rooms
    stand on borders much more sharply under the best one, which is a likelihood ratio.

    Where it is `shifted` alone, in a row of rooms, print lies on some of them and says nothing; and
    where all walls find as many edges near them, the floor looks the same but for some pixels.
    """
    fewer = other.excess < _SAME_EDGES * best.excess
    return not shifted and fewer and is_outdone(other, best)


def is_outdone(other: Evidence, best: Evidence) -> bool:
    """True if walls between rooms stand on borders much more sharply under the best pose."""
    least = _OUTDONE + _OUTDONE_SHARE * max(best.surprise, 0.0)
    return best.surprise - other.surprise > least


def rivalry(other: Evidence, best: Evidence, shifted: bool) -> float:
    """The evidence of a different pose, no twin, as a share of the best one's: what of it speaks
    against the best one.

    Where the picture is flat under walls of the other and shows all those of the best, a floor that
    is nearly symmetric is told from its image. Along a row of rooms, where poses are `shifted`,
    print lies on some of them and says nothing.
    """
    share = other.total / max(best.total, 1e-12)
    if shifted:
        return share
    return share * (1.0 - ramp(other.absent - _AS_FLAT * best.absent, *_FLAT_UNDER_IT))


def crossed(fit: Fit) -> bool:
    """True if walls of clearly different directions support a fit: parallel ones let it slide."""
    weight = fit.chunks.weight * fit.quality
    pull = (fit.normal * weight[:, None]).T @ fit.normal
    low, high = np.linalg.eigvalsh(pull)
    return bool(low > 0.03 * max(high, 1e-12))
