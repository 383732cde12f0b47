"""Refinement: from near the truth to the truth, with the wall offsets as unknowns."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from regmap import frames, register, synthetic
from regmap.engine import moves, refine, wall_offset
from regmap.engine.edges import find_edges
from regmap.engine.measure import Fit, look, make_probe, paint_rooms, read, robust_weights
from regmap.engine.pyramid import pyramid
from regmap.engine.refine_coarse import refine_coarse
from regmap.engine.walls import Walls, build_walls, sample_walls
from regmap.errors import DoubtfulFitWarning
from regmap.register import quietly
from tests.engine import boxes, scenes

Floats = NDArray[np.float64]

SIZE = (420, 310)
REACHES = (8.0, 6.0, 5.0, 4.0, 3.0, 3.0, 2.0, 2.0, 2.0)
HALVES = (4.0, 4.0, 3.0, 3.0)

CHANGES: dict[str, dict[str, float]] = {
    "shifted": {"shift_x": 3.0, "shift_y": -2.0},
    "turned": {"turn_deg": 0.9},
    "grown": {"grow": 0.015},
    "shrunk and turned": {"grow": -0.012, "turn_deg": -0.6, "shift_y": 1.5},
}
SKEWED: dict[str, dict[str, float]] = {
    "stretched": {"stretch": 0.012},
    "sheared": {"shear": -0.012, "shift_x": 1.0},
}


@lru_cache
def stage(**options: float) -> tuple[scenes.Scene, Walls, Floats]:
    scene = scenes.scene(size=SIZE, turn_deg=27.0, **options)
    walls = scene.walls
    return scene, walls, scene.pose(walls)


def refined(scene: scenes.Scene, walls: Walls, pose: Floats, *, affine: bool = False) -> Fit:
    probe = make_probe(walls, scenes.inside(walls), samples=1200, chunk=6)
    levels = [(1.0, scene.image)]
    return refine.refine_fine(
        levels, pose, np.zeros(2), probe, affine=affine, halves=HALVES, exact=True
    )


@pytest.mark.parametrize("change", list(CHANGES))
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_perturbed_pose_comes_back_to_the_truth(change: str, mirrored: bool) -> None:
    scene, walls, truth = stage(mirrored=mirrored)
    start = scenes.moved(truth, SIZE, **CHANGES[change])
    assert scenes.gap_px(walls, start, truth) > 1.0
    fit = refined(scene, walls, start)
    assert scenes.gap_px(walls, fit.pose, truth) < 0.02
    assert np.abs(fit.offset).max() < 0.05
    assert np.median(np.abs(fit.residual)) < 0.05
    # A similarity stays one.
    axes = fit.pose[:, :2]
    assert abs(axes[:, 0] @ axes[:, 1]) < 1e-9 * (axes[:, 0] @ axes[:, 0])
    assert np.sign(np.linalg.det(axes)) == np.sign(np.linalg.det(truth[:, :2]))


def test_poses_that_lead_to_one_fit_are_followed_once() -> None:
    """Two starts that end in the truth and one that cannot: a fit each for the truth and for it."""
    scene, walls, truth = stage()
    starts = [scenes.moved(truth, SIZE, **change) for change in list(CHANGES.values())[:2]]
    apart = scenes.moved(truth, SIZE, shift_x=60.0)
    probe = make_probe(walls, scenes.inside(walls), samples=1200, chunk=6)
    poses = np.stack([*starts, apart])
    alone = [refined(scene, walls, start) for start in starts]
    assert max(scenes.gap_px(walls, fit.pose, truth) for fit in alone) < 0.02
    fits = refine.refine_apart((1.0, scene.image), poses, np.zeros((3, 2)), probe, affine=False)
    assert len(fits) == 2
    assert scenes.gap_px(walls, fits[0].pose, truth) < 0.1
    assert scenes.gap_px(walls, fits[1].pose, truth) > 30.0


@pytest.mark.parametrize("change", [*CHANGES, *SKEWED])
def test_an_affine_pose_comes_back_from_stretch_and_shear_too(change: str) -> None:
    scene, walls, truth = stage(stretch=1.2)
    start = scenes.moved(truth, SIZE, **(CHANGES | SKEWED)[change])
    fit = refined(scene, walls, start, affine=True)
    assert scenes.gap_px(walls, fit.pose, truth) < 0.04


def test_coarse_refinement_draws_many_poses_in_at_once() -> None:
    scene, walls, truth = stage()
    samples = sample_walls(walls, 320)
    starts = [
        scenes.moved(truth, SIZE, shift_x=7.0, shift_y=-5.0),
        scenes.moved(truth, SIZE, turn_deg=2.5),
        scenes.moved(truth, SIZE, grow=-0.04),
        scenes.moved(truth, SIZE, shift_x=5000.0),
    ]
    edges = find_edges(scene.image, 1.0)
    poses, offset = refine_coarse(
        np.stack(starts), edges, samples, walls.outer, affine=False, reaches=REACHES
    )
    assert poses.shape == (4, 2, 3)
    assert offset.shape == (4, 2)
    for pose in poses[:3]:
        # Edges are whole pixels here, and count from the first side of a step.
        assert scenes.gap_px(walls, pose, truth) < 0.7
    assert np.isfinite(poses).all()
    assert np.isfinite(offset).all()
    # Each pose goes its own way: alone it ends in the same place.
    alone, _ = refine_coarse(
        starts[1][None], edges, samples, walls.outer, affine=False, reaches=REACHES
    )
    np.testing.assert_allclose(alone[0], poses[1], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("inner_mm", "outer_mm"), [(0.0, 0.0), (60.0, 60.0), (0.0, 90.0), (80.0, 0.0), (-50.0, 30.0)]
)
def test_wall_offsets_of_inner_and_outer_walls_are_told_apart(
    inner_mm: float, outer_mm: float
) -> None:
    """Outlines moved inward by so many mm: the borders lie that far outside them."""
    scene, drawn, _ = stage()
    px_per_mm = frames.scale_of(scene.to_image)
    walls = build_walls([(inset(drawn, room, inner_mm, outer_mm),) for room in range(drawn.rooms)])
    pose = scene.pose(walls)
    assert walls.outer.sum() == drawn.outer.sum()
    for start in (pose, scenes.moved(pose, SIZE, shift_x=1.0, grow=0.005)):
        fit = refined(scene, walls, start)
        found = fit.offset / px_per_mm
        assert found == pytest.approx(np.array([inner_mm, outer_mm]), abs=4.0)
        assert scenes.gap_px(walls, fit.pose, pose) < 0.1


@pytest.mark.parametrize("lacking", ["kitchen", "living"])
def test_a_wall_to_a_room_that_the_outlines_lack_is_an_inner_one(lacking: str) -> None:
    """Outer walls stand 90 mm outside the outlines, inner ones on them; one room is locked, so that
    its neighbours' walls seem to be outer ones."""
    scene, drawn, _ = stage()
    rings = [inset(drawn, room, 0.0, 90.0) for room in range(drawn.rooms)]
    locked = list(scene.rings).index(lacking)
    walls = build_walls([(ring,) for room, ring in enumerate(rings) if room != locked])
    pose = scene.pose(walls)
    behind = walls.outer & (np.abs(distance_to(scene, walls, lacking)) < 1.0)
    assert behind.sum() >= 2
    for start in (pose, scenes.moved(pose, SIZE, shift_x=1.0, grow=0.005)):
        fit = refined(scene, walls, start)
        assert scenes.gap_px(walls, fit.pose, pose) < 0.1
        assert fit.outer.any()
        assert not fit.outer[behind[fit.chunks.piece]].any()


def distance_to(scene: scenes.Scene, walls: Walls, room: str) -> Floats:
    """(E,) mm from the middles of walls to the outline of a room."""
    middle = 0.5 * (walls.start + walls.end) @ walls.linear.T + walls.origin
    outline = shapely.LinearRing(scene.rings[room][0])
    return np.asarray(shapely.distance(shapely.points(middle), outline))


def inset(walls: Walls, room: int, inner_mm: float, outer_mm: float) -> Floats:
    """The ring of a room with its inner and outer walls moved inward, each by its own, mm."""
    chosen = walls.room == room
    scale = float(np.sqrt(abs(np.linalg.det(walls.linear))))
    by = np.where(walls.outer[chosen], outer_mm, inner_mm) / scale
    normal, start = walls.normal[chosen], walls.start[chosen]
    level = (normal * start).sum(axis=1) - by
    corners = []
    for number in range(len(level)):
        pair = [number - 1, number]
        if abs(np.linalg.det(normal[pair])) < 1e-6:
            # One wall that changes from inner to outer where another room begins: a step.
            corners += [start[number] - normal[n] * by[n] for n in pair]
        else:
            corners.append(np.linalg.solve(normal[pair], level[pair]))
    return np.asarray(np.array(corners) @ walls.linear.T + walls.origin)


@pytest.mark.parametrize("kind", ["shift_x", "shift_y", "turn_deg", "grow"])
def test_every_parameter_has_its_least_cost_at_the_answer(kind: str) -> None:
    """Perturb a parameter, and the weighted square of the residuals rises, on either side."""
    scene, walls, truth = stage()
    fit = refined(scene, walls, scenes.moved(truth, SIZE, shift_x=1.0))
    probe = make_probe(walls, scenes.inside(walls), samples=1200, chunk=6)
    weight, _ = robust_weights(fit, smallest=0.35)
    step = {"shift_x": 0.1, "shift_y": 0.1, "turn_deg": 0.03, "grow": 5e-4}[kind]

    def cost(amount: float) -> float:
        pose = scenes.moved(fit.pose, SIZE, **{kind: amount})
        paint = paint_rooms((1.0, scene.image), pose, probe)
        view = look(scene.image, 1.0, pose, fit.offset, probe, paint, half=5.0, exact=True)
        seen = read(view, 1.0, pose, fit.offset, probe, half=2.0)
        return float((weight * seen.residual**2).sum() / weight.sum())

    costs = [cost(step * n) for n in (-4, -2, 0, 2, 4)]
    assert int(np.argmin(costs)) == 2
    assert costs[0] > costs[1] > costs[2] < costs[3] < costs[4]


def test_outliers_do_not_move_the_answer() -> None:
    """A sixth of the picture's floor is painted over with something else."""
    scene, walls, truth = stage()
    image = scene.image.copy()
    image[100:170, 150:230] = (90, 40, 60)
    spoilt = scenes.Scene(image, scene.rings, scene.to_image)
    fit = refined(spoilt, walls, scenes.moved(truth, SIZE, shift_x=1.5, turn_deg=0.3))
    assert scenes.gap_px(walls, fit.pose, truth) < 0.1


@pytest.mark.parametrize("affine", [False, True])
def test_the_design_is_the_derivative_of_the_distance(affine: bool) -> None:
    """Against finite differences: move the points by each parameter, measure along the normal."""
    rng = np.random.default_rng(4)
    place, angle = rng.uniform(-1, 1, (30, 2)), rng.uniform(0, 2 * np.pi, 30)
    normal = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    design = moves.design_matrix(place, normal, affine=affine)
    step = 1e-6
    moved = [
        place + np.array([step, 0]),
        place + np.array([0, step]),
        place * (1 + step),
        place @ np.array([[np.cos(step), np.sin(step)], [-np.sin(step), np.cos(step)]]),
        place * [1 + step, 1 - step],
        place + step * place[:, ::-1],
    ]
    assert design.shape == (30, 6 if affine else 4)
    for number in range(design.shape[1]):
        expected = ((moved[number] - place) * normal).sum(axis=1) / step
        np.testing.assert_allclose(design[:, number], expected, atol=1e-5)


def test_where_there_is_no_edge_nothing_moves_far() -> None:
    scene, walls, truth = stage()
    blank = scenes.Scene(np.full_like(scene.image, 120), scene.rings, scene.to_image)
    fit = refined(blank, walls, truth)
    assert scenes.gap_px(walls, fit.pose, truth) < 0.5
    assert fit.quality.max() < 1e-6
    edges, samples = find_edges(blank.image, 1.0), sample_walls(walls, 50)
    poses, offset = refine_coarse(
        truth[None], edges, samples, walls.outer, affine=False, reaches=REACHES
    )
    np.testing.assert_allclose(poses[0], truth, atol=1e-9)
    assert not offset.any()


@pytest.mark.parametrize(("rough_px", "seen"), [(0.2, [0.5, 1.0]), (2.0, [0.5]), (9.0, [0.25])])
def test_rough_outlines_are_not_held_against_too_fine_a_picture(
    rough_px: float, seen: list[float]
) -> None:
    """Outlines off by several pixels find some border or other within a narrow look everywhere,
    and would seem to fit to a fraction of a pixel."""
    count = 60
    place = np.stack([np.linspace(0, 100, count), np.zeros(count)], axis=1)
    fit = boxes.made_fit(
        place,
        np.tile([0.0, 1.0], (count, 1)),
        np.linspace(-2.0, 2.0, count) * rough_px,
        wall=np.zeros(count, dtype=np.int64),
    )
    levels = [(factor, np.zeros((8, 8, 1), dtype=np.uint8)) for factor in (0.25, 0.5, 1.0)]
    assert [factor for factor, _ in refine.worth_seeing(levels, fit)] == seen
    assert refine.worth_seeing(levels[:1], fit) == levels[:1]


def test_a_fit_that_only_seemed_rough_is_refined_on_the_finer_picture_too() -> None:
    scene, walls, truth = stage()
    fit = refined(scene, walls, truth)
    # As if the walls had lain on different faces when it was refined in passing.
    rough = replace(fit, residual=np.tile([-6.0, 6.0], len(fit.residual))[: len(fit.residual)])
    levels = pyramid(scene.image, 150)
    assert refine.worth_seeing(levels, rough) == levels[:1]
    probe = make_probe(walls, scenes.inside(walls), samples=1200, chunk=6)
    fully = refine.refine_fully(levels, rough, probe, affine=False, halves=(3.0, 2.5))
    finest = refine.refine_fine(
        levels[1:], fully.pose, fully.offset, probe, affine=False, halves=(3.0, 2.5), exact=True
    )
    assert scenes.gap_px(walls, fully.pose, finest.pose) < 0.02
    assert scenes.gap_px(walls, fully.pose, truth) < 0.1


def _prior(offset: tuple[float, float], walls: int, rough: float = 0.5) -> Floats:
    """What is known beforehand of the offsets of so many walls, each of one chunk."""
    chunks = SimpleNamespace(wall=np.arange(walls))
    fit = SimpleNamespace(
        offset=np.array(offset), chunks=chunks, pose=np.array([[200.0, 0, 0], [0, 200.0, 0]])
    )
    return np.asarray(wall_offset.offset_prior(cast(Fit, fit), np.full(walls, 2.0), rough)[0])


def test_offsets_are_held_by_what_is_usual_and_a_large_gap_is_let_go() -> None:
    prior = _prior((3.0, 3.0), walls=10)
    np.testing.assert_array_equal(prior, prior.T)
    # Both together may be large, apart they may not: the stiff direction is their difference.
    values, axes = np.linalg.eigh(prior)
    assert 0 < values[0] < values[1] / 5
    np.testing.assert_allclose(np.abs(axes[:, 1]), np.sqrt(0.5))
    np.testing.assert_allclose(axes[0, 1], -axes[1, 1])
    # Student's t: the pull of the gap, stiffness times gap, falls beyond its largest value.
    pull = [g * (_prior((g, 0.0), 10)[0, 0] - values[0]) for g in (0.2, 1.4, 8.0)]
    assert pull[0] < pull[1] > pull[2] > 0
    # It weighs as one piece of information does among them, however many walls there are.
    np.testing.assert_allclose(_prior((3.0, 3.0), 10), _prior((3.0, 3.0), 40), rtol=1e-9)
    # Rougher edges bear more of it.
    assert _prior((3.0, 3.0), 10, rough=2.0)[0, 0] > 10 * prior[0, 0]


def test_a_twin_stands_on_the_same_faces_of_its_walls() -> None:
    """Its first pose has the outer walls on another line beside them: it fits as well once it is
    tried with the offsets of the best pose."""
    sample = synthetic.sample("twin-mirror", 82035)
    with pytest.warns(DoubtfulFitWarning):
        fit = register(sample.image, sample.outlines)
    assert len(fit.alternatives) == 1
    assert fit.confidence <= 0.5
    other = fit.alternatives[0]
    assert other.mirrored != fit.mirrored
    assert other.wall_offset == pytest.approx(fit.wall_offset, abs=1.0)


@pytest.mark.parametrize(("family", "seed"), [("offset", 349), ("renovated", 309)])
def test_walls_on_both_faces_of_lines_too_thin_for_the_working_picture_are_cleared_up(
    family: str, seed: int
) -> None:
    sample = synthetic.sample(family, seed)
    fit = register(sample.image, sample.outlines)
    found = frames.apply(frames.affine_to_matrix(fit.transform), sample.visible_px)
    truth = frames.apply(sample.image_to_device, sample.visible_px)
    pixel = np.sqrt(abs(np.linalg.det(sample.image_to_device[:, :2])))
    assert np.sqrt(((found - truth) ** 2).sum(axis=1).mean()) < 0.3 * pixel
    assert fit.confidence >= 0.9
    assert fit.reprojection_error < 0.3


def test_what_a_wider_look_shows_at_the_end_is_followed() -> None:
    """All walls stood on the outer faces of their lines, and only the last look saw the inner."""
    sample = synthetic.sample("chrome", 322)
    fit = register(sample.image, sample.outlines)
    off = np.average(fit.residuals[:, 2])
    assert abs(off) < 0.2
    assert fit.confidence >= 0.9


@pytest.mark.parametrize("outward_px", [20.0, -20.0])
@pytest.mark.parametrize("side_px", [760, 1000])
def test_walls_thick_in_pixels_are_seen_across_where_few_rooms_fill_the_picture(
    side_px: int, outward_px: float
) -> None:
    """Outlines run 20 px beside the borders that are drawn, which is a wall's own thickness."""
    share = side_px / 1000.0
    rooms = [(40, 40, 480, 420), (500, 40, 960, 600), (40, 440, 480, 900), (500, 620, 960, 900)]
    colours = [(190, 215, 240), (200, 230, 190), (245, 225, 205), (230, 200, 225)]
    image = np.full((side_px, side_px, 3), 255, dtype=np.uint8)
    drawn = [tuple(round(edge * share) for edge in room) for room in rooms]
    image[round(10 * share) : round(930 * share), round(10 * share) : round(990 * share)] = 60
    outlines = {}
    for number, (left, top, right, bottom) in enumerate(drawn):
        image[top:bottom, left:right] = colours[number]
        first, last = np.array([left, top]) - outward_px, np.array([right, bottom]) + outward_px
        ring = np.array([first, [last[0], first[1]], last, [first[0], last[1]]])
        outlines[str(number)] = ring * [7.0, -7.0]
    fit = quietly(image, outlines)
    corners = np.concatenate(list(outlines.values()))
    assert np.abs(fit.to_image(corners) - corners / [7.0, -7.0]).max() < 0.3
    assert fit.wall_offset == pytest.approx(-7.0 * outward_px, abs=3.0)
