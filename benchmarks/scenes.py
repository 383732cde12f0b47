"""Pictures made to measure: one thing is varied, the rest stays as it is."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from regmap import frames, synthetic
from regmap.synthetic import floors, outlines, pictures

__all__ = ["make"]


def make(
    seed: int,
    *,
    rooms: int = 8,
    style: str = "mixed",
    size: tuple[int, int] = (1000, 800),
    turn_deg: float | None = None,
    **drawing: Any,
) -> synthetic.Sample:
    """Return a clean picture of a made floor and the device's outlines of the same borders.

    `turn_deg` None: any turn, drawn from the seed. `drawing` goes to `synthetic.pictures.draw`. The
    floor depends on the seed, `rooms` and `style` alone, so that sweeps over anything else see the
    same floors.
    """
    rng = np.random.default_rng([seed, rooms])
    floor = floors.make_floor(rng, rooms=rooms, style=style)
    odd = float(rng.uniform(0, 360))
    device = outlines.robot_outlines(floor, rng, shapes=floor.cells)
    picture = pictures.draw(
        floor, rng, size=size, turn_deg=odd if turn_deg is None else turn_deg, **drawing
    )
    corners = shapely.get_coordinates(list(floor.cells.values()))
    shown = frames.apply(picture.floor_to_image, corners)
    inside = shapely.contains_xy(picture.window, shown)
    return synthetic.Sample(
        image=picture.image,
        outlines=device.rings,
        image_to_device=frames.compose(device.floor_to_device, picture.image_to_floor),
        visible_px=shown[inside],
        model="similarity",
        family="made to measure",
        answer="fits",
        mirrored=bool(drawing.get("mirrored", False)),
        name=f"made to measure {seed}",
    )
