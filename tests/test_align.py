"""Two mapping runs of one floor, whose frames are known: what is found against what is true."""

from __future__ import annotations

import math
import pickle
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from numpy.typing import NDArray

from benchmarks.remaps import Remap, remap
from regmap import areas, frames, synthetic
from regmap.areas.floor import polygons
from regmap.errors import (
    DoubtfulFitError,
    DoubtfulFitWarning,
    NoFitError,
    OutlineError,
    RegmapError,
)
from regmap.floors import FrameChange, NoChangeError, align_outlines, alignment
from regmap.floors.rooms_then_and_now import _meeting, room_changes
from tests.fit_examples import make_fit

Floats = NDArray[np.float64]

# An L, a U round it, and a bar across: nothing of it is symmetric. mm.
FLOOR: dict[str, Floats] = {
    "loom": np.array([[0, 0], [5200, 0], [5200, 2600], [3100, 2600], [3100, 4100], [0, 4100]]),
    "dyeing": np.array([[3200, 2700], [7900, 2700], [7900, 6900], [3200, 6900]]),
    "stairs": np.array([[5300, 0], [9600, 0], [9600, 2600], [5300, 2600]]),
    "wool": np.array([[0, 4200], [3100, 4200], [3100, 6900], [0, 6900]]),
}


def moved(
    floor: Mapping[str, Floats], turn_deg: float, shift: tuple[float, float] = (0.0, 0.0)
) -> tuple[dict[str, Floats], Affine]:
    change = frames.matrix_to_affine(
        frames.compose(Affine.translation(*shift), Affine.rotation(turn_deg))
    )
    return {name: frames.apply(change, ring) for name, ring in floor.items()}, change


def away(change: FrameChange, truth: frames.Map, points: Floats) -> Floats:
    gap = change.to_new(points) - frames.apply(truth, points)
    return np.asarray(np.hypot(gap[:, 0], gap[:, 1]))


def best_change(old: Any, new: Any) -> FrameChange:
    """The change, that of a refusal too."""
    try:
        return align_outlines(old, new)
    except NoChangeError as error:
        return error.change


def corners(floor: Mapping[str, Floats]) -> Floats:
    return np.concatenate(list(floor.values()))


@pytest.fixture(scope="module")
def turned() -> tuple[FrameChange, Affine]:
    new, truth = moved(FLOOR, 33.0, (25_000.0, -4_000.0))
    return align_outlines(FLOOR, new), truth


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 180.0, 33.0, -118.5])
def test_a_frame_that_was_only_turned_and_shifted_is_found_exactly(turn_deg: float) -> None:
    new, truth = moved(FLOOR, turn_deg, (25_000.0, -4_000.0))
    change = align_outlines(FLOOR, {f"new {name}": ring for name, ring in new.items()})
    assert away(change, truth, corners(FLOOR)).max() < 0.1
    assert change.scale == pytest.approx(1.0, abs=1e-9)
    assert (change.rotation_deg - turn_deg + 180) % 360 - 180 == pytest.approx(0.0, abs=1e-3)
    assert change.confidence > 0.95
    assert not change.doubtful
    assert {room.state for room in change.rooms} == {"kept"}
    assert [next(iter(room.now)) for room in change.rooms] == [f"new {name}" for name in FLOOR]


def test_there_and_back(turned: tuple[FrameChange, Affine]) -> None:
    change, _ = turned
    points = corners(FLOOR)
    np.testing.assert_allclose(change.to_old(change.to_new(points)), points, atol=1e-6)
    np.testing.assert_allclose(
        frames.apply(change.new_to_old, change.to_new(points)), points, atol=1e-6
    )


def test_aligning_the_other_way_round_is_the_inverse() -> None:
    case = remap("cells", 3)
    there, back = align_outlines(case.old, case.new), align_outlines(case.new, case.old)
    round_trip = back.to_new(there.to_new(case.corners))
    # Not to the last digit: each way takes its gaps across the walls of the other side.
    assert np.abs(round_trip - case.corners).max() < 10.0


CASES = [
    ("noise", 1),
    ("cells", 2),
    ("rooms", 3),
    ("parts", 4),
    ("furniture", 5),
    ("scale", 6),
    ("everything", 7),
    ("everything", 8),
]


@pytest.fixture(scope="module")
def remapped() -> list[tuple[Remap, FrameChange]]:
    cases = [remap(family, seed) for family, seed in CASES]
    return [(case, align_outlines(case.old, case.new)) for case in cases]


def test_a_floor_mapped_again_is_found_within_a_cell(
    remapped: list[tuple[Remap, FrameChange]],
) -> None:
    """Cells of 50 mm, noise, furniture, rooms joined, split, missing, new; a scale 1 % off."""
    errors = [away(change, case.old_to_new, case.corners) for case, change in remapped]
    assert max(math.sqrt(float((e**2).mean())) for e in errors) < 50.0
    assert float(np.median(np.concatenate(errors))) < 15.0
    assert all(change.confidence >= 0.9 and not change.alternatives for _, change in remapped)


def test_the_predicted_error_holds(remapped: list[tuple[Remap, FrameChange]]) -> None:
    held = [
        float((away(c, case.old_to_new, case.corners) <= c.expected_error(case.corners)).mean())
        for case, c in remapped
    ]
    assert np.mean(held) >= 0.85  # 0.95 is meant; eight cases are few
    worst = [float(change.expected_error(case.corners).max()) for case, change in remapped]
    assert max(worst) < 120.0  # it says something


@pytest.mark.parametrize("seed", range(4))
def test_rough_outlines_are_trusted_no_more_than_their_predicted_error_allows(seed: int) -> None:
    rng = np.random.default_rng(seed)
    new, _ = moved(FLOOR, 33.0, (25_000.0, -4_000.0))
    change = best_change(
        FLOOR, {name: ring + rng.normal(0.0, 110.0, ring.shape) for name, ring in new.items()}
    )
    # Draws from the covariance, against the formula that is used.
    draws = rng.multivariate_normal(np.zeros(6), change.covariance, 4000).reshape(-1, 2, 3)
    at = np.column_stack([corners(FLOOR) - change.anchor, np.ones(len(corners(FLOOR)))])
    gaps = draws @ at.T
    gaps += rng.normal(0.0, change.floor_error, (4000, 2, 1))
    within = (gaps**2).sum(axis=1).mean(axis=1) <= 50.0**2
    assert change.confidence <= float(within.mean()) + 0.04
    assert change.confidence < 0.9
    assert "of being more than 50 mm off" in "; ".join(change.reasons)


def test_a_scale_that_clearly_is_not_one_is_found(
    remapped: list[tuple[Remap, FrameChange]],
) -> None:
    case, change = next(pair for pair in remapped if pair[0].family == "scale")
    true = frames.scale_of(case.old_to_new)
    assert abs(true - 1.0) > 0.003
    assert change.scale == pytest.approx(true, abs=0.002)
    others = [c for k, c in remapped if k.family != "scale"]
    assert all(c.scale == pytest.approx(1.0, abs=1e-9) for c in others)


def test_the_same_bits_every_time() -> None:
    case = remap("everything", 9)
    one, two = align_outlines(case.old, case.new), align_outlines(case.old, case.new)
    assert one.old_to_new == two.old_to_new
    assert one.covariance.tobytes() == two.covariance.tobytes()


@pytest.mark.filterwarnings("ignore::regmap.errors.DoubtfulFitWarning")
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_floor_that_looks_the_same_turned_has_a_twin_and_no_certainty(seed: int) -> None:
    case = remap("twins", seed)
    change = align_outlines(case.old, case.new)
    assert change.doubtful
    assert change.confidence <= 0.5
    every = [change, *change.alternatives]
    for truth in (case.old_to_new, *case.others):
        assert min(away(one, truth, case.corners).max() for one in every) < 50.0
    assert "fit as well" in change.reasons[0]


def test_one_tie_point_settles_it() -> None:
    case = remap("twins", 1)
    dock = case.corners[0]
    there = frames.apply(case.old_to_new, dock)[0] + (300.0, -200.0)  # known to half a metre
    change = align_outlines(case.old, case.new, tie_points=[(tuple(dock), tuple(there))])
    assert not change.doubtful
    assert away(change, case.old_to_new, case.corners).max() < 50.0


@pytest.mark.filterwarnings("ignore::regmap.errors.DoubtfulFitWarning")
def test_one_rectangle_lies_on_itself_turned_by_half() -> None:
    room = {"cell": np.array([[0.0, 0], [5000, 0], [5000, 3000], [0, 3000]])}
    change = align_outlines(room, room)
    assert len(change.alternatives) == 1
    turns = sorted(abs(c.rotation_deg) for c in (change, *change.alternatives))
    assert turns == pytest.approx([0.0, 180.0], abs=0.01)


@pytest.mark.filterwarnings("ignore::regmap.errors.DoubtfulFitWarning")
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_another_floor_is_never_taken_for_sure(seed: int) -> None:
    case = remap("other-floor", seed)
    assert best_change(case.old, case.new).confidence < 0.5


def test_a_refusal_says_why_and_keeps_the_nearest_miss() -> None:
    case = remap("other-floor", 4)
    with pytest.raises(NoFitError, match="the new outlines fit the old ones nowhere") as caught:
        align_outlines(case.old, case.new)
    assert any("of the old walls" in why for why in caught.value.reasons)
    copy = pickle.loads(pickle.dumps(caught.value))
    assert str(copy) == str(caught.value)
    assert isinstance(copy, NoChangeError)
    assert copy.change.confidence < 0.05


@pytest.mark.filterwarnings("ignore::regmap.errors.DoubtfulFitWarning")
def test_nothing_is_ever_mirrored() -> None:
    mirror = {name: ring * (-1.0, 1.0) for name, ring in FLOOR.items()}
    change = best_change(FLOOR, mirror)
    assert change.confidence < 0.5
    for one in (change, *change.alternatives):
        assert np.linalg.det(frames.affine_to_matrix(one.old_to_new)[:, :2]) > 0


def test_tie_points_that_contradict_the_walls_are_refused() -> None:
    new, truth = moved(FLOOR, 10.0)
    wrong = tuple(frames.apply(truth, [0.0, 0.0])[0] + (4000.0, 0.0))
    with pytest.raises(NoFitError, match="tie points contradict"):
        align_outlines(FLOOR, new, tie_points=[((0.0, 0.0), wrong)])


def test_units() -> None:
    new, _ = moved(FLOOR, 33.0, (25_000.0, -4_000.0))
    in_m = [{name: ring / 1000 for name, ring in floor.items()} for floor in (FLOOR, new)]
    change = align_outlines(*in_m, unit="m")
    by_mm = align_outlines(FLOOR, new)
    np.testing.assert_allclose(
        change.to_new(corners(FLOOR) / 1000) * 1000, by_mm.to_new(corners(FLOOR)), atol=1e-3
    )
    np.testing.assert_allclose(
        change.expected_error(corners(FLOOR) / 1000) * 1000,
        by_mm.expected_error(corners(FLOOR)),
        rtol=1e-6,
    )
    with pytest.raises(OutlineError, match="same unit"):
        align_outlines(FLOOR, in_m[1])
    with pytest.raises(RegmapError, match="among mm, cm, dm, m"):
        align_outlines(FLOOR, new, unit="furlong")
    no_pairs: Any = [(1.0, 2.0)]
    with pytest.raises(RegmapError, match="pairs"):
        align_outlines(FLOOR, new, tie_points=no_pairs)


def test_what_became_of_the_rooms() -> None:
    after = {name: FLOOR[name] for name in ("loom", "stairs")}
    after["both"] = np.array([[0, 4200], [3200, 4200], [3200, 2700], [7900, 2700], [7900, 6900],
                              [0, 6900]], float)  # fmt: skip
    after["left"], after["right"] = (
        np.array([[a, 0], [b, 0], [b, 2600], [a, 2600]], float)
        for a, b in ((5300, 7000), (7000, 9600))
    )
    del after["stairs"]
    change = align_outlines(FLOOR, after)
    states = {room.name: room.state for room in change.rooms}
    assert states == {"loom": "kept", "dyeing": "joined", "stairs": "split", "wool": "joined"}
    now = {room.name: room.now for room in change.rooms}
    assert list(now["stairs"]) == ["right", "left"]
    assert now["stairs"]["right"] == pytest.approx(2600 / 4300, abs=0.01)
    assert list(now["wool"]) == ["both"]
    without = align_outlines(FLOOR, {n: r for n, r in FLOOR.items() if n != "wool"})
    assert [room.state for room in without.rooms] == ["kept", "kept", "kept", "gone"]


class TestAreas:
    """What was stored moves along, as what it is."""

    def test_geometry_arrays_and_device_areas(self, turned: tuple[FrameChange, Affine]) -> None:
        change, truth = turned
        square = shapely.box(500, 500, 1500, 1800)
        there = change.area(square)
        expected = frames.apply(truth, shapely.get_coordinates(square))
        np.testing.assert_allclose(shapely.get_coordinates(there), expected, atol=0.1)
        points = np.array([[500.0, 700.0], [900.0, 800.0]])
        np.testing.assert_allclose(change.area(points), frames.apply(truth, points), atol=0.1)
        device = areas.DeviceArea(
            square, shapely.box(1, 1, 2, 2), 20.0, 30.0, {"loom": 1.0}, 0.0, "mm"
        )
        carried = change.area(device)
        assert carried.geometry.equals(there)
        assert carried.marked is device.marked
        assert carried.rooms == pytest.approx({"loom": 1.0})
        own = change.expected_error(shapely.get_coordinates(square)).max()
        assert carried.expected_error == pytest.approx(math.hypot(30.0, own))

    def test_areas_that_no_longer_lie_on_the_floor_are_named(self) -> None:
        new, truth = moved({n: r for n, r in FLOOR.items() if n != "wool"}, 90.0, (100.0, 50.0))
        change = align_outlines(FLOOR, new)
        stored: dict[str, Any] = {
            "under the bench": shapely.box(300, 300, 900, 900),
            "wool bales": [(200, 4400), (2000, 4400), (2000, 6000), (200, 6000)],
            "half": shapely.box(2100, 5000, 5000, 6000),
            "outside, always": shapely.box(-900, 100, -100, 900),
            "dock": shapely.Point(6000, 1000),
            "string": shapely.LineString([(6000, 500), (9000, 500)]),
        }
        found = {area.name: area for area in change.areas(stored)}
        assert [name for name, area in found.items() if area.lost] == ["wool bales", "half"]
        assert found["wool bales"].off_floor == pytest.approx(1.0)
        assert found["half"].off_floor == pytest.approx(1100 / 2900, abs=0.01)
        assert found["half"].was_off_floor == pytest.approx(100 / 2900, abs=0.01)
        assert found["outside, always"].was_off_floor == 1.0
        assert list(found["string"].rooms) == ["stairs"]
        assert "no safety barrier" in found["dock"].caution
        assert (
            found["dock"].geometry.distance(shapely.Point(frames.apply(truth, (6000, 1000))[0]))
            < 1.0
        )

    def test_a_doubtful_change_carries_nothing_by_accident(self) -> None:
        room = {"cell": np.array([[0.0, 0], [5000, 0], [5000, 3000], [0, 3000]])}
        with pytest.warns(DoubtfulFitWarning, match="doubtful change of frame"):
            change = align_outlines(room, room)
        for use in (
            lambda **o: change.area(shapely.Point(1, 1), **o),
            lambda **o: change.areas({"a": shapely.Point(1, 1)}, **o),
            lambda **o: change.registration(make_fit(outlines={"cell": (room["cell"],)}), **o),
        ):
            with pytest.raises(DoubtfulFitError, match="accept_doubt"):
                use()
            use(accept_doubt=True)


def test_a_change_pickles_and_is_read_only(turned: tuple[FrameChange, Affine]) -> None:
    change, _ = turned
    copy = pickle.loads(pickle.dumps(change))
    assert copy.old_to_new == change.old_to_new
    assert list(copy.new_outlines) == list(change.new_outlines)
    with pytest.raises(ValueError, match="read-only"):
        change.covariance[0, 0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        change.new_outlines["loom"][0][0, 0] = 1.0
    assert "4 of 4 rooms kept" in repr(change)


def test_many_rooms_do_not_take_long_nor_much() -> None:
    """A hundred rooms: samples are bounded, whatever the length of the walls."""
    rng = np.random.default_rng(4)
    floor = synthetic.make_floor(rng, rooms=100, style="office")
    old, new = (synthetic.robot_outlines(floor, rng, cell_mm=50.0) for _ in range(2))
    change = align_outlines(old.rings, new.rings)
    truth = frames.compose(new.floor_to_device, frames.invert(old.floor_to_device))
    points = np.concatenate([rings[0] for rings in old.rings.values()])
    assert away(change, truth, points).max() < 25.0


def test_it_needs_neither_opencv_nor_rasterio() -> None:
    """Neither publishes wheels for musl systems, on which many a robot's server runs."""
    code = """
import sys
class Wall:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {"cv2", "rasterio"}:
            raise ImportError(name + " is blocked")
sys.meta_path.insert(0, Wall())
import numpy as np, regmap
floor = {"loom": np.array([[0, 0], [5200, 0], [5200, 2600], [3100, 2600], [3100, 4100], [0, 4100]]),
         "hall": np.array([[5300, 0], [9600, 0], [9600, 2600], [5300, 2600]])}
change = regmap.align_outlines(floor, {name: ring + 500 for name, ring in floor.items()})
print(np.round(change.to_new([[0, 0]])).tolist(), change.doubtful)
"""
    ran = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parent.parent,
    )
    assert ran.stdout.strip() == "[[500.0, 500.0]] False", ran.stderr


def test_rooms_upon_each_other_are_not_compared_by_the_thousand() -> None:
    """Of 60 rooms each meets all 60; of 19 no more than 19."""
    room = np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], float)
    for count in (19, 60):
        nested = {str(i): room * (1 - i / 100) for i in range(count)}
        shapes = polygons({name: [ring] for name, ring in nested.items()})
        if count > 20:
            with pytest.raises(OutlineError, match="3600 pairs of an old and a new room overlap"):
                room_changes(shapes, shapes)
        else:
            assert {change.state for change in room_changes(shapes, shapes)} == {"kept"}


def test_rooms_upon_each_other_are_refused_before_all_else(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sampling the walls of 2,000 such rooms, and finding where they lie, took seconds."""
    room = np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], float)
    floor = {str(i): room + np.array([i % 10, i // 10]) * (4000, 3000) for i in range(60)}
    heap = {str(i): room * (1 - i / 100) for i in range(60)}
    monkeypatch.setattr(alignment, "walls_of", None)
    for old, new, named in ((heap, floor, "old"), (floor, heap, "new")):
        with pytest.raises(OutlineError, match=f"1770 pairs of two {named} rooms overlap"):
            align_outlines(old, new)


def test_rooms_that_only_touch_are_no_pairs() -> None:
    """A row of 2,000 rooms, each beside two others."""
    room = np.array([[0, 0], [4000, 0], [4000, 3000], [0, 3000]], float)
    row = polygons({str(i): [room + np.array([4000.0 * i, 0.0])] for i in range(2000)})
    assert len(_meeting(list(row.values()), list(row.values()))) == 2000
