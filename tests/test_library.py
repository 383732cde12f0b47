"""The scenario of the demo: its files say what its truth says, whatever the seed."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from regmap import frames
from regmap.inputs.captures import parse_outlines
from regmap.inputs.stored_areas import parse_marks
from regmap.outputs.whole_files import json_text
from regmap.synthetic.library import LOCKED, ROOMS, make_library


@pytest.mark.parametrize("seed", range(8))
def test_logs_tell_the_rooms_of_both_runs(seed: int) -> None:
    """The robot's lines come at several levels of its logger, and outlines come more than once."""
    library = make_library(seed)
    spring, autumn = parse_outlines(library.log), parse_outlines(library.later_log)
    assert set(spring) <= set(ROOMS)
    assert len(spring) >= 5
    assert set(autumn) == set(spring) - {LOCKED}
    for name, room in autumn.items():  # the same room, less some furniture, in the other frame
        there = shapely.transform(spring[name], lambda xy: frames.apply(library.old_to_new, xy))
        assert there.buffer(120).covers(room)
        assert room.area > 0.5 * there.area
    assert len(parse_outlines(library.gallery_log)) >= 5


@pytest.mark.parametrize("seed", [0, 3])
def test_marks_lie_in_their_rooms(seed: int) -> None:
    library = make_library(seed)
    rooms, marks = parse_outlines(library.log), parse_marks(json_text(library.marks))
    homes = {"Folio cabinets": "Reading room", "Open shelves": "Local history", "Map chest": LOCKED}
    assert set(marks) == set(homes)
    for name, mark in marks.items():
        there = shapely.transform(
            mark.geometry, lambda px: frames.apply(library.image_to_device, px)
        )
        inside = there.intersection(rooms[homes[name]]).area / there.area
        assert inside > 0.99 or name == "Open shelves"
        assert inside > 0.6
    cabinets = np.diff(shapely.get_coordinates(marks["Folio cabinets"].geometry), axis=0)
    assert (np.abs(cabinets).min(axis=1) > 10).all()  # slanted


def test_the_same_seed_gives_the_same_bits() -> None:
    one, other = make_library(2), make_library(2)
    assert np.array_equal(one.image, other.image)
    assert (one.log, one.later_log, one.marks) == (other.log, other.later_log, other.marks)
    assert one.log != make_library(3).log
