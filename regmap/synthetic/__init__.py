"""Made floors and pictures of them with known truth, for the demo, the tests and the benchmarks."""

from .captures import write_capture
from .families import FAMILIES, sample
from .floors import Floor, make_floor
from .outlines import DeviceOutlines, robot_outlines
from .pictures import Picture, draw
from .samples import Sample

__all__ = [
    "FAMILIES",
    "DeviceOutlines",
    "Floor",
    "Picture",
    "Sample",
    "draw",
    "make_floor",
    "robot_outlines",
    "sample",
    "write_capture",
]
