"""Areas that polygons share, along lines: against overlays, closed forms and what must hold."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
import shapely.affinity
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from regmap.areas import overlay
from regmap.areas.grid import edges_of
from regmap.floors import shared_area
from regmap.floors.outline_walls import _corners
from regmap.floors.rooms_then_and_now import room_changes
from regmap.floors.shared_area import shared_areas
from tests.polygons import star

PAIR = np.array([[0, 0]])


def along_lines(one: BaseGeometry, other: BaseGeometry) -> float:
    first, second = edges_of(one), edges_of(other)
    return shared_area._along_lines(first, second, 1e5)


def teeth(count: int, high: float) -> shapely.Polygon:
    """A comb as wide as it has teeth, each half a unit wide, above a bar that is 1 high."""
    x = np.arange(count)[:, None] + [0.0, 0.0, 0.5, 0.5]
    y = np.broadcast_to([1.0, high, high, 1.0], x.shape)
    top = np.column_stack([x.ravel(), y.ravel()])
    return shapely.Polygon([(0.0, 0.0), *top.tolist(), (count - 0.5, 0.0)])


@pytest.mark.parametrize("seed", range(8))
def test_lines_tell_what_overlays_tell(seed: int) -> None:
    one: BaseGeometry = star(seed, 40)
    middle = one.centroid.coords[0]
    other = shapely.affinity.rotate(star(seed + 100, 60), 20.0 * seed)
    for hole in (False, True):
        if hole:
            one = shapely.difference(one, shapely.Point(middle).buffer(0.2 * math.sqrt(one.area)))
        exact = overlay.intersection(one, other).area
        assert exact > 0.0
        assert along_lines(one, other) == pytest.approx(exact, abs=0.004 * one.area)
        assert along_lines(other, one) == pytest.approx(exact, abs=0.004 * one.area)
        assert along_lines(one, one) == pytest.approx(one.area, rel=0.004)


@pytest.mark.parametrize("count", [100, 250, 500, 999, 1000, 2000])
def test_no_comb_keeps_step_with_the_lines(count: int) -> None:
    """Upright and lying: a bar and teeth that are half as wide as what they stand on."""
    comb = teeth(count, 30.0)
    assert comb.area == pytest.approx(count - 0.5 + 0.5 * 29.0 * count)
    half = shapely.box(0.0, 10.0, count, 20.0)
    for turn in (0.0, 90.0):
        one, other = (shapely.affinity.rotate(p, turn, origin=(0, 0)) for p in (comb, half))
        assert along_lines(one, one) == pytest.approx(comb.area, rel=0.02)
        assert along_lines(one, other) == pytest.approx(5.0 * count, rel=0.02)


def test_what_lies_apart_shares_nothing() -> None:
    box = shapely.box(0, 0, 4, 4)
    assert along_lines(box, shapely.box(5, 0, 9, 4)) == 0.0
    assert along_lines(box, shapely.box(4, 0, 8, 4)) == 0.0
    ring = shapely.box(-1, -1, 5, 5).difference(shapely.box(-0.5, -0.5, 4.5, 4.5))
    assert along_lines(box, ring) == 0.0


def round_room(corners: int, radius: float) -> shapely.Polygon:
    angle = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    return shapely.Polygon(radius * np.column_stack([np.cos(angle), np.sin(angle)]))


def test_overlays_are_made_of_no_more_corners_than_they_take_well(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Usual rooms are compared exactly; of rooms of thousands of corners, and where they meet many
    others, no overlay is made, and the areas are the same but for a part in some hundred."""
    made = 0
    exact = overlay.areas_in_common

    def counted(some: Any, others: Any, pairs: Any) -> Any:
        nonlocal made
        made += len(pairs)
        return exact(some, others, pairs)

    monkeypatch.setattr(overlay, "areas_in_common", counted)
    usual, round_one = round_room(60, 1.0), round_room(20_000, 1.0)
    few = shared_areas([usual], [usual], np.repeat(PAIR, 500, axis=0))
    assert made == 500
    np.testing.assert_allclose(few, usual.area, rtol=1e-6)
    (alone,) = shared_areas([round_one], [round_one], PAIR)
    assert alone == pytest.approx(round_one.area, rel=0.004)
    many = shared_areas([usual] * 64, [usual] * 64, np.argwhere(np.ones((64, 64))))
    np.testing.assert_allclose(many, usual.area, rtol=0.02)
    assert made == 500


def test_a_large_room_is_kept_where_it_was() -> None:
    room = round_room(20_000, 5000.0)
    away = shapely.affinity.translate(room, 20_000.0)
    kept, gone = room_changes({"hall": room, "attic": away}, {"round": room})
    assert (kept.state, gone.state) == ("kept", "gone")
    assert 0.99 < kept.overlap <= 1.0
    assert kept.now["round"] <= 1.0


def test_corners_are_found_again_though_points_come_twice() -> None:
    """A line that runs there and back: the corners that are kept come in its order."""
    there = np.column_stack([np.arange(9.0) * 1000, np.resize([0.0, 500.0], 9)])
    closed: NDArray[np.float64] = np.concatenate([there, there[::-1][1:]])
    found = _corners(closed)
    assert found.tolist() == list(range(17))


def test_many_pairs_share_what_they_share_one_by_one() -> None:
    """To the bit: near the origin and far off, where the grid of an overlay is another."""
    rng = np.random.default_rng(3)
    near = [
        shapely.affinity.rotate(shapely.box(0, 0, w, h), w) for w, h in rng.uniform(10, 90, (8, 2))
    ]
    far = [shapely.affinity.translate(shape, 3e6, 0) for shape in near]
    rooms, shapes = near + far, far[2:] + near
    pairs = np.argwhere(np.ones((len(rooms), len(shapes)), dtype=bool))
    found = overlay.areas_in_common(rooms, shapes, pairs)
    one_by_one = [overlay.intersection(rooms[i], shapes[j]).area for i, j in pairs.tolist()]
    assert found.tolist() == one_by_one
    assert 0 < (found == 0).sum() < len(found)
    assert len(overlay.areas_in_common(rooms, shapes, pairs[:0])) == 0
