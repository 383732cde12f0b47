"""How much work a floor is worth: of floors of thousands of walls, fewer poses are weighed.

Work is counted in walls, chunks of wall and rooms, never in seconds: the same input gives the same
bits on every machine. An ordinary floor, of up to a hundred rooms, comes nowhere near these bounds.
"""

from __future__ import annotations

from .measure import Probe
from .walls import Walls

# Poses that are refined, and the walls that they may have together; but at least so many.
_FINALISTS, _WALLS, _LEAST = 12, 40_000, 4
# Chunks of wall that poses which are refined at full size may have together; at least so many. Six
# rooms have some 300 chunks, and so have sixty; of rooms by the hundred each wall is one or more.
_CHUNKS, _FULLY = 8000, 3
# Rooms that alternatives may have together, and how many alternatives are told in any case.
_ROOMS, _TOLD = 5000, 1


def finalists(walls: Walls) -> int:
    """How many poses of a floor are refined."""
    return min(_FINALISTS, max(_WALLS // len(walls.start), _LEAST))


def affordable(chosen: list[bool], probe: Probe) -> list[bool]:
    """Those of the `chosen` poses, best first, that are refined at full size, by `probe`."""
    most = max(_CHUNKS // len(probe.chunks.first), _FULLY)
    return [good and sum(chosen[:number]) < most for number, good in enumerate(chosen)]


def alternatives(rooms: int) -> int:
    """How many alternatives of a fit are told, each with all of its rooms."""
    return max(_ROOMS // rooms, _TOLD)
