"""Evidence -> in words, what keeps a confidence down, and what would raise it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from . import confidence, judge
from .strain import Strain

Floats = NDArray[np.float64]

# Share of a room's outline that is no short piece of wall, and share of the rooms that are few.
_A_WALL, _FEW = 0.12, 0.35

CONTRADICTED = "the tie points contradict every position that fits the picture"
STARTED_IN_DOUBT = (
    "the fit that it started from (near) was doubtful, and nothing was looked at elsewhere; one "
    "tie point, or a fit without a start, settles it"
)


def doubts(
    best: judge.Evidence, rival: float, rooms: int, alternatives: int, most: float
) -> list[str]:
    """In words, what keeps the confidence down, and what would raise it; `most`: see
    `confidence.at_most`."""
    said: list[str] = []
    if alternatives:
        said.append(
            f"{alternatives} other position(s) fit as well: the floor looks the same mirrored, "
            "turned or shifted, or is drawn more than once; one tie point, known to a few pixels, "
            "settles it"
        )
    elif rival > 0.65:
        said.append(
            f"another position explains the picture {100 * rival:.0f} % as well; one tie point, "
            "known to a few pixels, settles it"
        )
    seen = best.room_support[np.isfinite(best.room_support)]
    weak = int((~judge.agreeing(seen)).sum())
    if best.forward < 0.6 or weak > 0.25 * max(len(seen), 1):
        said.append(
            f"only {100 * best.forward:.0f} % of the outlines lie on a border of the picture"
            + (f", and {weak} of {len(seen)} rooms are not confirmed" if weak else "")
            + "; a picture without path and labels, or outlines of the same day, would help"
        )
    otherwise = round(best.denied * len(seen))
    if best.denied > confidence.DENIED and otherwise > confidence.FEW_DENIED:
        said.append(
            f"{otherwise} of {len(seen)} rooms are drawn otherwise than outlined, while others are "
            "clear: it may be another storey of the same building, or have been rebuilt"
        )
    lacking = max(best.missing, best.gone)
    if lacking > 0.2:
        said.append(
            f"the picture lacks {100 * lacking:.0f} % of the walls between rooms: "
            "rooms have been joined or share a colour, or it is another floor"
        )
    if best.backward < 0.4:
        said.append(
            f"the outlines explain only {100 * best.backward:.0f} % of what the picture shows "
            "inside the floor: it may be another floor, or full of other marks"
        )
    if best.shown < 0.6:
        said.append(
            f"only {100 * best.shown:.0f} % of the outlines lie inside the picture; a picture of "
            "the whole floor would help"
        )
    if best.room_px < confidence.NARROW:
        said.append(
            f"a usual room would be {best.room_px:.0f} px wide in this picture: too few to tell it "
            "from other marks; a larger picture would help"
        )
    if rooms <= 2 and most < confidence.LONE:
        lost = ", and some of their walls are not there" if best.unmet > 0.1 else ""
        said.append(f"{rooms} room(s) alone can be laid on most pictures somewhere{lost}")
    return said


def unclear(*, tied: bool) -> str:
    """In words, that nothing in particular is wrong and too little speaks for the fit; a tie point
    would help where none is given."""
    wish = "a larger or cleaner picture" + ("" if tied else ", or one tie point,")
    return f"few rooms, or weak borders, leave other positions possible; {wish} would help"


def near_misses(
    blur_px: float, off: float, elsewhere: float, tolerance: float, lit: tuple[float, float]
) -> list[str]:
    """In words, why a right fit may be a few pixels off: another position `blur_px` away explains
    the picture alike; chances `off`, by the predicted error, of more than `tolerance` px, and
    `elsewhere`, that the borders are other lines; `lit`: the chance that it is so since walls are
    drawn lit from a side, and by how many px."""
    said: list[str] = []
    if blur_px > 0.0:
        said.append(
            f"a position {blur_px:.1f} px away explains the picture nearly as well, so the "
            "predicted error is wide; a larger or cleaner picture would help"
        )
    if off > 0.05:
        said.append(
            f"the predicted error leaves a chance of {100 * off:.0f} % of being more than "
            f"{tolerance:.0f} px off: the outlines are rough or show few walls"
        )
    if lit[0] > 0.05:
        said.append(
            "walls that face one way are drawn with a shadow or a side, those that face the other "
            f"way without: the position may be {lit[1]:.1f} px off; a flat picture would help"
        )
    elif elsewhere > 0.05:
        said.append(
            f"a chance of {100 * elsewhere:.0f} % remains that the walls' borders are other lines "
            "beside them, and the position is a few pixels off"
        )
    return said


def one_line(alone: float) -> list[str]:
    """In words, that the position across one direction hangs on a single line, where it does."""
    if alone <= 0.05:
        return []
    return [
        "across one direction most walls are not where they should be, and one line of the "
        "picture alone says where the floor lies: a part of it may have moved, or the map is "
        "bent; outlines and picture of the same day would help"
    ]


def stretched_or_bent(sure: float, share: float) -> list[str]:
    """In words, that walls across one direction are missed, a `share` of them, and stand where a
    stretch or a bend has them."""
    if sure <= 0.05:
        return []
    return [
        f"across one direction {100 * share:.0f} % of the walls are not where they should be: the "
        'picture may be stretched or bent along it; model="affine" allows for a stretch'
    ]


def strained(strain: Strain) -> list[str]:
    """In words, that no one move lays the whole floor, where it is likely."""
    if strain.sure <= 0.05:
        return []
    if strain.stretched:
        return [
            f"a stretch of the picture, by some {strain.by_px:.0f} px, would fit the walls better; "
            'model="affine" allows for it'
        ]
    return [_beside(strain.by_px)]


def _beside(by_px: float) -> str:
    return (
        f"one part of the floor lies some {by_px:.0f} px beside where the rest of it says: it has "
        "moved, the map is bent, or the picture was taken at an angle; outlines and picture of the "
        "same day would help"
    )


def other_storey(rooms: Iterable[str], cut: NDArray[np.bool_], sure: float) -> list[str]:
    """In words, that walls stand across rooms, those that are `cut` (R,), and others nowhere, where
    that is `sure` enough to be another storey."""
    if sure <= 0.05:
        return []
    across = (
        f"the picture shows walls across {_some(rooms, cut)}, and lacks others that are outlined"
    )
    lacking = "many of the walls between rooms stand on no border of the picture"
    return [
        f"{across if cut.any() else lacking}: it may be another storey of the same building, or "
        "have been rebuilt"
    ]


def lost_walls(rooms: Iterable[str], unmet: Floats, beside: NDArray[np.bool_]) -> list[str]:
    """In words, which rooms have a wall that the picture shows nowhere, a share `unmet` (R,) of
    their outlines, where these are few; those that are seen `beside` are told as such."""
    lost = (unmet >= _A_WALL) & ~beside
    if not lost.any() or lost.sum() > max(2.0, _FEW * len(lost)):
        return []
    return [
        f"walls of {_some(rooms, lost)} are not where they were outlined: rebuilt or taken down "
        "since, or hidden"
    ]


def _some(rooms: Iterable[str], chosen: NDArray[np.bool_]) -> str:
    """The first names of those that are chosen (R,), and how many more they are."""
    names = [name for name, there in zip(rooms, chosen, strict=True) if there]
    return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")


def moved_walls(
    rooms: Iterable[str], beside: NDArray[np.bool_], farthest_px: float, bent: float
) -> list[str]:
    """In words, which rooms have walls up to `farthest_px` px `beside` (R,) their outlines, and
    that a part of the floor has moved where that is likely (`bent`)."""
    if not beside.any():
        return [_beside(farthest_px)] if bent > 0.05 else []
    said = (
        f"walls of {_some(rooms, beside)} stand up to {farthest_px:.0f} px beside their outlines: "
    )
    if bent > 0.05:
        return [
            f"{said}a part of the floor has moved, or the map is bent, and positions there are off "
            "by as much; outlines and picture of the same day would help"
        ]
    return [f"{said}they have been moved since"]
