"""Many floors, other days, other mapping runs.

`verify`: is a stored fit still true of today's picture? `identify`: which floor is this?
`align_outlines`: the robot has mapped again; what becomes of stored areas and fits?
"""

from regmap.floors.alignment import align_outlines
from regmap.floors.frame_change import (
    DoubtfulChangeError,
    FrameChange,
    MovedArea,
    NoChangeError,
)
from regmap.floors.house import load_house
from regmap.floors.identification import Identification, identify
from regmap.floors.rooms_then_and_now import RoomChange
from regmap.floors.verification import Verification, verify

__all__ = [
    "DoubtfulChangeError",
    "FrameChange",
    "Identification",
    "MovedArea",
    "NoChangeError",
    "RoomChange",
    "Verification",
    "align_outlines",
    "identify",
    "load_house",
    "verify",
]
