"""Floors and recorded maps that others published: shapes that no generator of ours has made.

Sources, versions and licences: NOTICE.md. The truth is the transform with which a picture was
drawn, or the map's own cells.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest

import regmap
from regmap import frames
from tests.opendata.floors import Pixels, Rooms, Sample, draw, hospital, in_device_frame, recorded

TOLERANCE_PX = 2.0
SURE = 0.9


def _fit(picture: Pixels, outlines: Rooms) -> regmap.Registration:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", regmap.DoubtfulFitWarning)
        return regmap.register(picture, outlines)


def _rms_px(fit: regmap.Registration, sample: Sample) -> float:
    corners = np.vstack(list(sample.outlines.values()))
    gaps = fit.to_image(corners) - frames.apply(frames.invert(sample.truth), corners)
    return float(np.sqrt((gaps**2).sum(axis=1).mean()))


@pytest.mark.parametrize(("look", "turn"), [("plan", -118.0), ("gaps", 90.0)], ids=str)
def test_a_storey_of_an_energy_model_is_recovered(look: str, turn: float) -> None:
    """Operating theatres and wards of a prototype hospital (eppy 0.6.7, MIT)."""
    rooms = hospital("storey 2")
    picture, to_rooms = draw(rooms, look, turn=turn, size_px=400)
    sample = in_device_frame(picture, rooms, to_rooms)
    fit = _fit(sample.picture, sample.outlines)
    assert _rms_px(fit, sample) < TOLERANCE_PX
    assert fit.confidence >= SURE


def test_another_storey_of_the_building_is_not_believed() -> None:
    """Both storeys fill the same outer walls (eppy 0.6.7, MIT)."""
    picture, _ = draw(hospital("storey 5"), "filled", turn=0.0, size_px=400)
    try:
        confidence = _fit(picture, hospital("storey 2")).confidence
    except regmap.NoFitError as error:
        confidence = 0.0 if error.best is None else error.best.confidence
    assert confidence < SURE


def test_a_recorded_hall_is_recovered() -> None:
    """Occupancy grid of an exhibition hall, recorded by a robot (mrpt-common 2.5.8, BSD-3)."""
    sample = recorded("hall", cell_mm=40, door_mm=1400, turn=-100.0, scale=0.8)
    assert _rms_px(_fit(sample.picture, sample.outlines), sample) < TOLERANCE_PX


def test_a_recorded_corridor_is_recovered() -> None:
    """Laser scans of a corridor and a laboratory (mrpt-common 2.5.8, BSD-3)."""
    sample = recorded("corridor", cell_mm=50, door_mm=1400, turn=17.0, scale=0.8)
    assert _rms_px(_fit(sample.picture, sample.outlines), sample) < TOLERANCE_PX
