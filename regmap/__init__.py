"""regmap: where is this pixel of the floor map, as the robot counts?

Takes a picture of a floor map and the room outlines that a robot reports, and finds the transform
between the two, with no clicks and no start value. It also says how sure it is, and how far off the
result may be anywhere on the floor.

    >>> import regmap
    >>> outlines = regmap.read_outlines("capture.txt")          # doctest: +SKIP
    >>> fit = regmap.register("ground-floor.png", outlines)     # doctest: +SKIP
    >>> fit.to_device([[412.5, 230.0]])                         # doctest: +SKIP

Names are loaded when they are first used (PEP 562), so that ``import regmap`` is quick, and so that
a program that only reads a stored fit never loads OpenCV.
"""

from __future__ import annotations

import importlib
import logging
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from regmap import areas, outputs
    from regmap.batch import BatchResult, Job, register_many
    from regmap.errors import (
        CutOffWarning,
        DoubtfulFitError,
        DoubtfulFitWarning,
        NoFitError,
        OutlineError,
        PictureError,
        RegmapError,
        StoredFileError,
    )
    from regmap.floors import (
        FrameChange,
        Identification,
        MovedArea,
        RoomChange,
        Verification,
        align_outlines,
        identify,
        load_house,
        verify,
    )
    from regmap.inputs.captures import parse_outlines, read_outlines
    from regmap.pairs import ControlPoint
    from regmap.register import register
    from regmap.registration import Registration, RoomFit

__version__ = "0.1.0"

__all__ = [
    "BatchResult",
    "ControlPoint",
    "CutOffWarning",
    "DoubtfulFitError",
    "DoubtfulFitWarning",
    "FrameChange",
    "Identification",
    "Job",
    "MovedArea",
    "NoFitError",
    "OutlineError",
    "PictureError",
    "Registration",
    "RegmapError",
    "RoomChange",
    "RoomFit",
    "StoredFileError",
    "Verification",
    "__version__",
    "align_outlines",
    "areas",
    "identify",
    "load_house",
    "outputs",
    "parse_outlines",
    "read_outlines",
    "register",
    "register_many",
    "verify",
]

_HOME = {
    "BatchResult": "regmap.batch",
    "ControlPoint": "regmap.pairs",
    "CutOffWarning": "regmap.errors",
    "DoubtfulFitError": "regmap.errors",
    "DoubtfulFitWarning": "regmap.errors",
    "FrameChange": "regmap.floors",
    "Identification": "regmap.floors",
    "Job": "regmap.batch",
    "MovedArea": "regmap.floors",
    "NoFitError": "regmap.errors",
    "OutlineError": "regmap.errors",
    "PictureError": "regmap.errors",
    "Registration": "regmap.registration",
    "RegmapError": "regmap.errors",
    "RoomChange": "regmap.floors",
    "RoomFit": "regmap.registration",
    "StoredFileError": "regmap.errors",
    "Verification": "regmap.floors",
    "align_outlines": "regmap.floors",
    "identify": "regmap.floors",
    "load_house": "regmap.floors",
    "parse_outlines": "regmap.inputs.captures",
    "read_outlines": "regmap.inputs.captures",
    "register": "regmap.register",
    "register_many": "regmap.batch",
    "verify": "regmap.floors",
}

_MISSING = (
    "needs {}, which is not installed here. On systems without a wheel of it, fits that were made "
    "elsewhere can be loaded and used: see 'Where it runs' in the README"
)

# A library keeps quiet until the program that uses it says where its log goes.
logging.getLogger(__name__).addHandler(logging.NullHandler())


class _Package(ModuleType):
    """Keeps ``regmap.register`` the function, although a module of that name holds it.

    Whoever imports a submodule, Python binds it as an attribute of its package. Without this,
    ``regmap.register`` would be the function or the module, depending on what was imported first.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if name == "register" and isinstance(value, ModuleType):
            value = value.register
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    if name in ("areas", "outputs"):
        return importlib.import_module(f"regmap.{name}")
    try:
        home = _HOME[name]
    except KeyError:
        raise AttributeError(f"module 'regmap' has no attribute {name!r}") from None
    try:
        value = getattr(importlib.import_module(home), name)
    except ModuleNotFoundError as error:
        raise ModuleNotFoundError(
            f"regmap.{name} {_MISSING.format(error.name)}", name=error.name
        ) from error
    globals()[name] = value  # found at once the next time
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
