"""The work on floors of thousands of walls is bounded, and nothing else is changed by that."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from regmap.engine import budget, faces, refine
from regmap.engine.measure import make_probe
from regmap.engine.walls import Walls, build_walls
from regmap.errors import RegmapError
from regmap.inputs.outlines import as_rings
from regmap.pipeline import Pipeline
from tests.engine import boxes

ROOM = np.array([[0, 0], [3900, 0], [3900, 2900], [0, 2900]], float)


def rooms(count: int) -> dict[str, NDArray[np.float64]]:
    return {str(i): ROOM + np.array([i % 40 * 4000, i // 40 * 3000]) for i in range(count)}


def walls_of(count: int) -> Walls:
    return build_walls([(ring,) for ring in rooms(count).values()])


@pytest.mark.parametrize(
    ("count", "poses"), [(1, 12), (100, 12), (800, 12), (1000, 10), (2000, 5), (2500, 4)]
)
def test_poses_have_so_many_walls_together(count: int, poses: int) -> None:
    assert budget.finalists(walls_of(count)) == poses


@pytest.mark.parametrize(("count", "refined"), [(6, 16), (1200, 3)])
def test_the_best_of_the_chosen_are_refined_fully(count: int, refined: int) -> None:
    walls = walls_of(count)
    probe = make_probe(walls, boxes.inner_points(walls_of(1)), samples=2500, chunk=8)
    chosen = [False, *[True, True, False] * 8]
    found = budget.affordable(chosen, probe)
    assert sum(found) == refined
    last = max(number for number, good in enumerate(found) if good)
    assert found[: last + 1] == chosen[: last + 1]


@pytest.mark.parametrize(("count", "told"), [(1, 12), (400, 12), (2000, 2), (9000, 1)])
def test_alternatives_have_so_many_rooms_together(count: int, told: int) -> None:
    assert min(budget.alternatives(count), 12) == told


def test_two_thousand_rooms_take_bounded_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a picture of other boxes: no pose is any better than the others."""
    rng = np.random.default_rng(5)
    picture = np.full((500, 700, 3), 255, np.uint8)
    for left, top in rng.integers(0, 420, (60, 2)):
        picture[top : top + 40, left : left + 60] = rng.integers(120, 240, 3)
    asked: list[int] = []
    likelihood = faces._likelihood

    def counted(lines: faces.Lines, gap: Any, wide: float) -> Any:
        asked.append(gap.size)
        return likelihood(lines, gap, wide)

    full: list[int] = []
    refine_fully = refine.refine_fully

    def noted(*args: Any, **options: Any) -> Any:
        full.append(len(args[2].chunks.first))
        return refine_fully(*args, **options)

    monkeypatch.setattr(faces, "_likelihood", counted)
    monkeypatch.setattr(refine, "refine_fully", noted)
    run = Pipeline(picture, as_rings(rooms(2000)), "similarity").solve()
    # And the best one once more, free to stretch.
    assert 0 < len(full) <= 3 + 1
    # A table of some hundred places, for 300 chunks of six lines each, is the most that is asked.
    assert 30 * 300 * 6 < max(asked) <= 200 * 300 * 6
    fit = run.registration()
    assert fit.confidence < 0.05
    assert not fit.alternatives


def test_what_fits_nowhere_has_no_alternatives() -> None:
    picture = np.full((60, 80, 3), 255, np.uint8)
    picture[10:50, 20:60] = 120
    run = Pipeline(picture, as_rings(rooms(2)), "similarity").solve()
    run.twins = [0]
    run.contradicted = True
    assert run.registration().alternatives == ()
    run.contradicted = False
    sure = run.registration().confidence
    # Two positions share what there is to be sure of.
    assert (2 * sure >= 0.05) == bool(run.registration().alternatives)


def test_the_error_of_so_many_rooms_says_how_many_are_taken() -> None:
    with pytest.raises(RegmapError, match="3000 outlines came, and at most 2000"):
        as_rings(rooms(3000))
