"""The picture that a fit was made with: on another one, what is drawn or handed on is wrong."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from regmap.errors import RegmapError
from regmap.inputs.pictures import read_picture
from regmap.registration import Registration

__all__ = ["in_colour", "own_picture"]

Image = NDArray[np.uint8]


def own_picture(fit: Registration, image: object) -> Image:
    """Return the picture of a fit, (H, W) or (H, W, 3).

    Raises:
        PictureError: if the picture cannot be read.
        RegmapError: if it is not of the size that the fit was made with.
    """
    pixels = read_picture(image)
    height, width = pixels.shape[:2]
    if (width, height) != fit.image_size:
        raise RegmapError(
            f"the picture is {width} x {height} px, but the fit was made with one of "
            f"{fit.image_size[0]} x {fit.image_size[1]} px: give that picture, unscaled, or "
            "register this one"
        )
    return pixels


def in_colour(pixels: Image) -> Image:
    """Return (H, W, 3) of a grey picture or a coloured one."""
    return np.repeat(pixels[..., None], 3, axis=2) if pixels.ndim == 2 else pixels
