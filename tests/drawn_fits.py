"""Hand-drawn scenes, and what the pipeline answers for them."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from regmap import frames
from regmap.errors import (
    DoubtfulFitWarning,
    NoFitError,
)
from regmap.register import register
from regmap.registration import Registration
from tests.engine import scenes

Floats: TypeAlias = NDArray[np.float64]
Rings: TypeAlias = Mapping[str, Sequence[Floats]]

SIZE = (300, 220)


def solve(image: Any, outlines: Any, **options: Any) -> Registration:
    """`register`, its doubts unsaid, and its best answer where it says that nothing fits."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulFitWarning)
        try:
            return register(image, outlines, **options)
        except NoFitError as error:
            if error.best is None:
                raise
            return error.best


@lru_cache
def drawn(**options: Any) -> scenes.Scene:
    scene = scenes.scene(size=SIZE, **options)
    for rings in scene.rings.values():
        for ring in rings:
            ring.flags.writeable = False
    return scene


@lru_cache
def answer(**options: Any) -> Registration:
    """The answer for a hand-made scene of these options."""
    scene = drawn(**options)
    return solve(scene.image, scene.rings, model="affine" if "stretch" in options else "similarity")


def error_px(fit: Registration, to_device: Floats, points: Floats | None = None) -> Floats:
    """(N,) px by which a fit is off at points of the picture, by default its rim and middle."""
    width, height = fit.image_size
    if points is None:
        points = np.array([[x * width / 4, y * height / 4] for x in range(5) for y in range(5)])
    return np.asarray(np.hypot(*(fit.to_image(frames.apply(to_device, points)) - points).T))


def rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))


def flat() -> NDArray[np.uint8]:
    return np.full((110, 150, 3), 128, dtype=np.uint8)
