"""Evidence -> the probability that a fit is the right one.

Independent vetoes, never averages: each kind of evidence has its own say, and the weakest decides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import calibration
from .judge import WORTH, Evidence, agreeing
from .ramp import ramp

Floats = NDArray[np.float64]

# Share of the picture's structure inside the floor that may be furniture and print.
_CLUTTER = 0.2
DENIED, FEW_DENIED = 0.12, 2.0
"""Share and number of rooms drawn otherwise above which another storey is suspected."""

NARROW = 8.0
"""px of a usual room below which it is told from other marks with doubt only."""

# The same, below which it is not told at all.
_LOST = 3.0
# Nats that all walls together are worth as much as one by which each stands sharply.
_MANY_NATS = 50.0
# What the weakest of several signs says of floors of three rooms or more is too low where it says
# much: on made floors, strangers among them, 0.5 to 0.8 was right as often as it said, and 0.8 to
# 0.9 in 36 of 36. Said and meant.
_SURER = ((0.0, 0.7, 0.85, 1.0), (0.0, 0.7, 0.94, 1.0))
# What is said of a fit of which every wall has its border, whatever else speaks against it.
_COMPLETE = 0.98
# What a fit keeps of which no room agrees.
_UNCONFIRMED = 0.67

# Rooms, and share of them, with walls that the picture shows beside their outlines, from which on a
# part of the floor has moved. A wall that was moved has two.
_BESIDE_ROOMS, _BESIDE_SHARE = (2.0, 3.0), (0.15, 0.30)

LONE = 0.99
"""The most that is said of a fit below which its rooms may have their like elsewhere."""

# Lines that one room, or two, must rest on to be like no other: up to the first their like may be
# anywhere.
_ONE_OF_MANY_LINES, _TWO_OF_MANY_LINES = (7.0, 11.0), (8.0, 12.0)
# Share of the walls of two rooms that may stand on no border.
_TWO_UNMET = (-0.18, -0.10)
# Shares of the rooms that are cut by a wall, and of the walls between them that stand on no border:
# by chance, and of another storey.
_CUT, _UNMET_INNER = (0.20, 0.40), (0.20, 0.35)
# How surely it is one where many of those walls stand on no border, and none across rooms.
_LACKING = 0.4
# The same for a lawn of which every piece of the border is seen, whatever else is.
_BENDS, _VERY_MANY_BENDS = (15.0, 25.0), (50.0, 80.0)

SIGNS = (
    "forward",
    "inner",
    "missing",
    "contradicted",
    "excess",
    "captured",
    "backward",
    "rival",
    "weak_rooms",
    "agreeing",
    "rooms",
    "shown",
    "surprise",
)
"""What `signs` gives, in order."""

AGAINST = ("missing", "contradicted", "rival")
"""Those of them that speak against a fit; all others speak for it."""


def signs(best: Evidence, rival: float) -> Floats:
    """(S,) the evidence as `SIGNS`, the figures that confidence is made from.

    `rival`: the best other pose's total as a share of this one's; less than the search keeps
    counts as that. `contradicted` is large where walls are missing from the picture and others
    stand there instead: a wall hidden by print, or rooms since joined, are the one without the
    other. `weak_rooms` is the support that three quarters of the rooms exceed,
    `agreeing` the share of rooms that are confirmed, `rooms` the logarithm of how many are shown;
    `surprise` is the square root of its nats.
    """
    seen = best.room_support[np.isfinite(best.room_support)]
    return np.array(
        [
            best.forward,
            best.inner,
            best.missing,
            np.sqrt(best.missing * (1.0 - best.backward)),
            best.excess,
            np.sqrt(best.captured),
            best.backward,
            max(rival, WORTH),
            float(np.percentile(seen, 25)) if len(seen) else 0.0,
            float(agreeing(seen).mean()) if len(seen) else 0.0,
            float(np.log(max(len(seen), 1))),
            best.shown,
            np.sqrt(max(best.surprise, 0.0)),
        ]
    )


def veto(best: Evidence) -> float:
    """0..1: what the weakest sign of the fit itself still admits. A regression adds signs up, and
    many strong ones would outvote one that is missing; none of these may be, unless every wall has
    its border (`every_wall`)."""
    seen = best.room_support[np.isfinite(best.room_support)]
    # Rooms may have been joined, or share a colour; but where walls are missing the picture shows
    # no others in their stead.
    denied = min((1.0 - best.backward) / _CLUTTER, 1.0)
    # Unless those that are there cannot stand by chance where they do, or are most of all: a robot
    # has not been everywhere.
    there = max(
        ramp(1.0 - best.gone * denied, 0.70, 0.85),
        min(ramp(best.surprise, 60.0, 120.0), ramp(best.sharpness, 0.30, 0.60)),
        ramp(best.inner, 0.42, 0.55),
    )
    # Some rooms clear, and others drawn otherwise: the next storey, which shares its bearing walls.
    # But not hundreds of walls: print lies on some of so many rooms.
    otherwise = min(
        max(ramp(-best.surprise, -200.0, -100.0), ramp(-best.sharpness, -0.6, -0.3)),
        ramp(best.denied, DENIED, 0.25),
        ramp(best.denied * len(seen), FEW_DENIED, 4.0),
        ramp(1.0 - best.excess, 0.35, 0.45),
    )
    # Walls between rooms may be hidden; that they are not there at all says more.
    between = max(
        ramp(best.inner, 0.10, 0.30),
        min(ramp(best.inner, 0.05, 0.20), ramp(1.0 - best.missing, 0.70, 0.90)),
        # They may be drawn in no colour that ends a room's, as on a map of heat.
        min(
            ramp(best.inner, 0.03, 0.10),
            ramp(best.excess, 0.60, 0.70),
            ramp(1.0 - best.missing, 0.85, 0.93),
        ),
    )
    stands = ramp(max(best.sharpness, best.surprise / _MANY_NATS), 0.20, 0.40)
    one_to_one = min(
        ramp(1.0 - best.gone, 0.80, 0.92),
        ramp(1.0 - best.missing, 0.80, 0.92),
        ramp(best.backward, 0.50, 0.75),
        ramp(best.excess, 0.55, 0.70),
    )
    return min(
        1.0 - 0.5 * otherwise,
        between,
        ramp(best.forward, 0.05, 0.15),
        ramp(best.excess, 0.20, 0.36),
        ramp(best.backward, 0.06, 0.18),
        ramp(best.captured, 0.02, 0.12),
        # Never nothing: how sharply the walls stand that are there has been weighed.
        0.30 + 0.70 * there,
        # Walls that stand no more sharply than on any line may all be on the wrong one, unless
        # every wall has its border and every border its wall: then the outlines are rough.
        0.50 + 0.50 * max(stands, one_to_one),
        1.0 if agreeing(seen).any() else _UNCONFIRMED,
    )


def told_apart(best: Evidence, rival: float, storey: float = 0.0) -> float:
    """0..1: what can be told from the part of a floor that is shown, at the size at which it is,
    from its next storey (`other_storey`) and beside a `rival`, however well the fit itself is
    supported."""
    return min(
        1.0 - 0.6 * storey,
        0.80 + 0.20 * _same_storey(best),
        ramp(best.shown, 0.10, 0.35),
        # Rooms of a few pixels can be laid on any line.
        ramp(best.room_px, _LOST, NARROW),
        ramp(1.0 - rival, 0.0, 0.27),
    )


def _same_storey(best: Evidence) -> float:
    """0..1: how surely walls between rooms that are missing were taken down or share a colour: the
    next storey has some in common with this one, and walls of its own."""
    # Others are drawn in place of many that are missing.
    instead = float(np.sqrt(best.missing * (1.0 - best.backward)))
    others = min(ramp(instead, 0.14, 0.20), ramp(best.missing, 0.20, 0.30))
    # Where half of them are missing, those that are there must be many, or some and no other seen.
    alone = min(ramp(best.surprise, 8.0, 14.0), ramp(best.backward, 0.96, 0.99))
    enough = max(ramp(1.0 - best.missing, 0.50, 0.65), ramp(best.surprise, 14.0, 24.0), alone)
    return min(enough, 1.0 - others)


def other_storey(best: Evidence, cut: NDArray[np.bool_], lines: float) -> float:
    """0..1: how surely the picture shows another storey: walls across rooms where there are none
    (`cut` (R,), see `cuts`), and few of those that there are. Print and furniture do the like to
    floors of which much else is seen. That few are there says something by itself."""
    across = min(
        ramp(float(cut.mean()), *_CUT),
        ramp(best.unmet_inner, *_UNMET_INNER),
        1.0 - ramp(best.surprise, 14.0, 24.0),
    )
    lacking = min(ramp(best.unmet_inner, 0.35, 0.45), 1.0 - ramp(best.surprise, 28.0, 40.0))
    return max(across, _LACKING * lacking) * (1.0 - every_wall(best, lines))


def every_wall(best: Evidence, lines: float) -> float:
    """0..1: how surely every wall has its border: of three rooms or more, that stand sharply, or on
    many `lines` (see `precision.lines_held`), as the bends of a lawn are. No other floor's do,
    whatever else the picture shows.

    Of 400 answers on made floors that were none, 280 of them near strangers, none had more than 0;
    of 750, no answer on more than 15 lines had an `excess` above 0.53.
    """
    seen = best.room_support[np.isfinite(best.room_support)]
    # Something of each sign must be there; of stripes and leaves there may be much more.
    least = min(best.forward, best.inner, best.backward, best.captured)
    known = min(float(agreeing(seen).any()), ramp(1.0 - best.missing, 0.88, 0.95))
    # Flower beds, shadows and stains hide some of a lawn's border, of which the rest is enough.
    bends = max(
        min(ramp(1.0 - best.absent, 0.78, 0.86), ramp(lines, *_BENDS)),
        ramp(lines, *_VERY_MANY_BENDS),
    )
    of_a_lawn = min(known, ramp(least, 0.02, 0.06), ramp(best.excess, 0.62, 0.72), bends)
    if len(seen) < 3:
        return of_a_lawn
    of_rooms = min(
        known,
        ramp(least, 0.03, 0.10),
        ramp(best.excess, 0.60, 0.70),
        ramp(1.0 - best.absent, 0.90, 0.96),
        ramp(best.surprise, 6.0, 12.0),
        ramp(best.sharpness, 0.20, 0.50),
    )
    return max(of_rooms, of_a_lawn)


def confidence(
    best: Evidence, rival: float, most: float, lines: float, storey: float = 0.0
) -> float:
    """Probability that the best fit is the right one, found as well as its precision says.

    A logistic regression on `signs`, fitted to made floors, half of them strangers (see
    `calibration`), and never more than the weakest sign admits, unless every wall has its border
    (`every_wall`, of so many `lines`); nor than what can be told apart, also from another `storey`
    (`other_storey`), and `most`, see `at_most`.
    """
    standard = (signs(best, rival) - calibration.MEAN) / calibration.SPREAD
    score = float(standard @ calibration.WEIGHT) + calibration.BIAS
    sure = 1.0 / (1.0 + np.exp(-np.clip(score, -50.0, 50.0)))
    admitted = min(sure, veto(best))
    if np.isfinite(best.room_support).sum() > 2:
        admitted = float(np.interp(admitted, *_SURER))
    admitted = max(admitted, _COMPLETE * every_wall(best, lines))
    return float(min(most, admitted, told_apart(best, rival, storey)))


def at_most(best: Evidence, rooms: int, crossed: bool, lines: float) -> float:
    """What no evidence of this kind can exclude: one room, or parallel walls alone, fit anywhere;
    two rooms alike are not rare, unless these are all that the picture shows; and all their walls
    must be there. But lawns are of one piece or two, and no two are alike. `rooms`: how many
    outlines there are; `crossed`: whether walls of more than one direction support the fit;
    `lines`: on how many it rests, see `precision.lines_held`.
    """
    most = 0.995
    if not crossed:
        return 0.5
    if rooms == 1:
        return 0.5 + (most - 0.5) * ramp(lines, *_ONE_OF_MANY_LINES)
    if rooms == 2:
        alone = max(ramp(best.captured, 0.35, 0.60), ramp(lines, *_TWO_OF_MANY_LINES))
        # One of their walls in five is another floor's.
        there = ramp(-best.unmet, *_TWO_UNMET)
        return min(0.85 + (most - 0.85) * alone, 0.45 + (most - 0.45) * there)
    return most


def bent(beside: int, rooms: int) -> float:
    """0..1: how surely a part of the floor is not where the rest says, when `beside` of its `rooms`
    have walls that the picture shows beside their outlines."""
    return min(ramp(float(beside), *_BESIDE_ROOMS), ramp(beside / max(rooms, 1), *_BESIDE_SHARE))
