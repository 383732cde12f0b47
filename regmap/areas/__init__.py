"""What was marked in the picture, in the robot's coordinates; the robot's places, in the picture.

A zone is no safety barrier. What comes from here must not be all that keeps a robot from stairs,
children, animals or wet floors. Watch its first run. Local codes and licensed practice come first.
"""

from regmap.areas.boxes import Rectangles, rectangles
from regmap.areas.marked import (
    CAUTION,
    DeviceArea,
    room_at,
    room_polygons,
    to_device,
    to_image,
)

__all__ = [
    "CAUTION",
    "DeviceArea",
    "Rectangles",
    "rectangles",
    "room_at",
    "room_polygons",
    "to_device",
    "to_image",
]
