"""Floors, changes and houses where something is out of the ordinary."""

from __future__ import annotations

import dataclasses
import math
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from regmap import areas
from regmap.areas import overlay
from regmap.errors import DoubtfulFitWarning, NoFitError, RegmapError
from regmap.floors import FrameChange, NoChangeError, align_outlines, identify, load_house, verify
from regmap.floors.fitting import Attempt
from regmap.floors.frame_change import DoubtfulChangeError
from regmap.floors.rigid import Pose
from regmap.floors.rooms_then_and_now import RoomChange, room_changes
from regmap.floors.weigh_changes import Evidence, confidence, reasons
from regmap.inputs.stored_areas import StoredArea
from regmap.register import register
from tests.fit_examples import make_fit

ROOMS = {
    "loom": np.array([[0, 0], [5200, 0], [5200, 2600], [3100, 2600], [3100, 4100], [0, 4100.0]]),
    "dyeing": np.array([[3200, 2700], [7900, 2700], [7900, 6900], [3200, 6900.0]]),
}


@pytest.fixture(scope="module")
def change() -> FrameChange:
    """The frame moved by (1000, -500) mm."""
    moved = {name: ring + np.array([1000, -500]) for name, ring in ROOMS.items()}
    try:
        return align_outlines(ROOMS, moved, tie_points=[((0, 0), (1000, -500))])
    except NoChangeError as error:
        return error.change


def test_areas_of_every_kind_are_carried_over(change: FrameChange) -> None:
    """A point by its pair, a line by its two, a polygon by its corners; nothing else is taken."""
    given = {"dock": [(10, 20)], "tape": [(0, 0), (100, 50)], "rug": ROOMS["loom"][:3]}
    moved = {area.name: area.geometry for area in change.areas(given, accept_doubt=True)}
    assert [shape.geom_type for shape in moved.values()] == ["Point", "LineString", "Polygon"]
    corners = {name: shapely.get_coordinates(shape) for name, shape in moved.items()}
    assert corners["dock"] == pytest.approx(np.array([[1010, -480]]), abs=0.5)
    assert corners["tape"] == pytest.approx(np.array([[1000, -500], [1100, -450]]), abs=0.5)
    # What was marked in a picture goes straight in.
    zone = areas.to_device(make_fit(), (60, 260, 110, 290))
    (rug,) = change.areas({"rug": zone}, accept_doubt=True)
    there = shapely.transform(zone.geometry, lambda points: points + np.array([1000, -500]))
    assert rug.geometry.bounds == pytest.approx(there.bounds, abs=0.5)
    for nothing in (shapely.Polygon(), np.empty((0, 2))):
        with pytest.raises(RegmapError, match="an area is empty: leave it out"):
            change.areas({"rug": nothing}, accept_doubt=True)


def test_a_doubt_between_like_places_outlives_a_look_at_one_of_them() -> None:
    """Four equal rooms lie on themselves in four ways. Today's picture is the very same one: the
    stored fit holds as well as it did, and no fit comes back that is sure of itself."""
    corners = [(x, y) for x in (0, 4100) for y in (0, 3100)]
    rooms = {
        f"cell {n}": np.array([[x, y], [x + 4000, y], [x + 4000, y + 3000], [x, y + 3000.0]])
        for n, (x, y) in enumerate(corners, 1)
    }
    image = np.full((400, 500), 30, np.uint8)
    for x, y in corners:
        left, top = 47 + x // 20, 42 + y // 20
        image[top : top + 150, left : left + 200] = 200
    with pytest.warns(DoubtfulFitWarning, match="fit as well"):
        fit = register(image, rooms)
    assert len(fit.alternatives) == 3
    found = verify(fit, image)
    assert found.holds
    assert found.drift_px < 0.2
    assert found.registration is not None
    assert found.registration.doubtful
    assert found.confidence == pytest.approx(fit.confidence, abs=0.02)


def test_refusals_keep_their_change_in_other_processes(change: FrameChange) -> None:
    error = pickle.loads(pickle.dumps(DoubtfulChangeError(change)))
    assert isinstance(error, DoubtfulChangeError)
    assert str(error) == str(DoubtfulChangeError(change))
    assert error.change.old_to_new == change.old_to_new


def test_tie_points_must_be_finite() -> None:
    with pytest.raises(RegmapError, match=r"tie_points hold .*but all numbers must be finite"):
        align_outlines(ROOMS, ROOMS, tie_points=[((0, 0), (math.nan, 1))])


def test_states_of_rooms_are_those_that_are_documented() -> None:
    with pytest.raises(RegmapError, match="room 'hall': state is 'painted', but must be among"):
        RoomChange("hall", "painted", 0.5, {})


def evidence(total: float) -> Evidence:
    return Evidence(
        pose=Pose(0.0),
        rmse_mm=0.0,
        weight=np.ones(4),
        support=np.full(4, total),
        own=np.arange(4),
        before=total,
        after=total,
        total=total,
    )


def test_a_rival_is_named_before_it_takes_the_confidence() -> None:
    for percent in range(101):
        said = reasons(evidence(0.9), 1.0, percent / 100, 0)
        if said:
            assert f"another position explains the walls {percent} % as well" in said[0]
        else:
            assert confidence(evidence(0.9), 1.0, percent / 100) > 0.9
    assert reasons(evidence(0.9), 1.0, 1.0, 0)
    (told,) = reasons(evidence(0.9), 1.0, 1.0, 2)
    assert told.startswith("2 other position(s) fit as well")


def test_of_many_likely_floors_none_is_shown_for_sure(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twenty floors at 0.06: odds of 0.0638 each, and 1 for none of them, make 0.028."""
    monkeypatch.setattr(
        "regmap.floors.identification.attempt",
        lambda *_, **__: Attempt(make_fit(confidence=0.06), False, ()),
    )
    house: dict[str, Any] = {f"floor {number}": {} for number in range(20)}
    with pytest.raises(NoFitError) as caught:
        identify(np.full((8, 8), 255, np.uint8), house)
    odds = 0.06 / 0.94
    assert caught.value.best is not None
    assert caught.value.best.confidence == pytest.approx(odds / (1 + 20 * odds))
    assert "the outlines of 'floor 1' fit this picture too" in str(caught.value)


def test_hidden_files_of_a_house_are_no_floors(tmp_path: Path) -> None:
    """As some systems leave them beside each file: they begin with a dot."""
    make_fit().save(tmp_path / "ground.json")
    (tmp_path / "._ground.json").write_bytes(b"\0\5\x16\7")
    (tmp_path / ".old").mkdir()
    make_fit().save(tmp_path / ".old" / "registration.json")
    assert list(load_house(tmp_path)) == ["ground"]


def test_what_is_known_of_a_stored_area_goes_on_with_it(change: FrameChange) -> None:
    zone = areas.to_device(make_fit(), (60, 260, 110, 290))
    shape = zone.geometry
    known = StoredArea(shape, {}, zone.expected_error)
    given = {"said": zone, "known": known, "bare": shape}
    moved = change.areas(given, accept_doubt=True)
    said, stored, bare = (area.expected_error for area in moved)
    assert said == stored == pytest.approx(math.hypot(bare, zone.expected_error))


@pytest.mark.parametrize("seed", range(12))
def test_a_room_shares_no_more_than_all_of_itself(seed: int) -> None:
    """Overlays put corners on a grid, so that a room's overlap with itself may be a trifle more
    than its area, which no share may tell."""
    rng = np.random.default_rng(seed)
    around = np.sort(rng.uniform(0.0, 2.0 * math.pi, 9))
    reach = rng.uniform(1000.0, 3000.0, 9)
    ring = np.column_stack([reach * np.cos(around), reach * np.sin(around)]) + 5000.3
    room = shapely.Polygon(ring)
    (alone,) = room_changes({"loom": room}, {"loom": room})
    assert 1.0 - 1e-9 < alone.overlap <= 1.0
    assert 1.0 - 1e-9 < alone.now["loom"] <= 1.0
    assert overlay.shares(room, {"loom": room})["loom"] <= 1.0


def test_an_area_of_another_run_is_refused_by_its_rooms(change: FrameChange) -> None:
    """A quarter of it may lie elsewhere by now, as marks at a wall do; most of it may not."""
    sure = dataclasses.replace(change, confidence=0.95, alternatives=())
    box = shapely.box(2000, 500, 4000, 1500)
    for rooms in ({"loom": 1.0}, {"loom": 0.6, "dyeing": 0.2}, {"attic": 1.0}, {}):
        (moved,) = sure.areas({"rug": StoredArea(box, rooms, None)})
        assert moved.rooms == {"loom": pytest.approx(1.0)}
    elsewhere = StoredArea(box, {"dyeing": 0.9}, None)
    with pytest.raises(RegmapError, match=r"'rug' was stored as lying in 'dyeing', but .* 'loom'"):
        sure.areas({"rug": elsewhere})
    (moved,) = sure.areas({"rug": elsewhere}, accept_doubt=True)
    assert moved.rooms == {"loom": pytest.approx(1.0)}
    beyond = areas.to_device(make_fit(), (60, 260, 110, 290))
    assert sure.area(beyond).off_floor == pytest.approx(0.0, abs=0.01)
    with pytest.raises(RegmapError, match=r"the area was stored .* in no room"):
        sure.area(
            dataclasses.replace(
                beyond, geometry=shapely.box(-900, -900, -500, -500), rooms={"loom": 1.0}
            )
        )
