"""The benchmarks measure what they say: statistics against published values, suites end to end."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from scipy import stats

from benchmarks import bound, growth, memory, pipelines, report, samples, scenes, scores
from benchmarks.__main__ import SUITES, main
from benchmarks.settings import Settings
from regmap import frames

TWO_ROOMS = {
    "left": (np.array([[0.0, 0], [4000, 0], [4000, 3000], [2500, 3000], [2500, 5000], [0, 5000]]),),
    "right": (np.array([[4150.0, 0], [7000, 0], [7000, 3600], [4150, 3000]]),),
}


def test_auroc_is_the_mann_whitney_statistic_with_ties() -> None:
    # Hanley & McNeil, Radiology 143(1):29-36, 1982; scipy counts it independently.
    said = np.array([0.9, 0.9, 0.8, 0.8, 0.3, 0.2, 0.95, 0.3])
    right = np.array([1, 1, 0, 1, 0, 0, 1, 1])
    statistic = stats.mannwhitneyu(said[right == 1], said[right == 0]).statistic
    assert scores.auroc(said, right) == pytest.approx(statistic / (5 * 3))
    false, true = scores.roc(said, right)
    area = (np.diff(false) * (true[1:] + true[:-1]) / 2).sum()  # by the trapezoidal rule
    assert area == pytest.approx(scores.auroc(said, right))
    assert np.isnan(scores.auroc([0.5, 0.6], [1, 1]))


def test_expected_calibration_error_by_hand() -> None:
    # Two bins: 0.9 said three times and right twice; 0.3 said once and wrong.
    said, right = [0.9, 0.9, 0.9, 0.3], [1, 1, 0, 0]
    by_hand = 3 / 4 * abs(0.9 - 2 / 3) + 1 / 4 * 0.3
    assert scores.expected_calibration_error(said, right) == pytest.approx(by_hand)
    rng = np.random.default_rng(3)
    honest = rng.uniform(0, 1, 20_000)
    assert scores.expected_calibration_error(honest, rng.uniform(0, 1, 20_000) < honest) < 0.02


def test_rule_of_three() -> None:
    # Hanley & Lippman-Hand, JAMA 249(13):1743-1745, 1983: no failure in n, at most 3 / n at 95 %.
    assert scores.false_rate_bound(0, 3000) == pytest.approx(3 / 3000, rel=0.01)
    # Clopper & Pearson's bound is where the binomial puts 5 % at or below what was seen.
    assert stats.binom.cdf(2, 50, scores.false_rate_bound(2, 50)) == pytest.approx(0.05)


@pytest.mark.parametrize(("count", "trials"), [(0, 20), (7, 30), (30, 30)])
def test_interval_of_a_share(count: int, trials: int) -> None:
    # Wilson, JASA 22(158):209-212, 1927, as scipy works it out.
    interval = stats.binomtest(count, trials).proportion_ci(method="wilson")
    found = scores.share_interval(count, trials)
    assert found == pytest.approx((interval.low, interval.high), abs=1e-6)


def test_bound_of_one_scan_line() -> None:
    # Cramer-Rao: noise / sqrt(sum of squared slopes) of a Gaussian edge; 0.0315 px for these.
    # The sum ripples by half a per cent with the place of the edge between two pixels.
    x = np.arange(-10, 11) + np.linspace(0, 1, 20, endpoint=False)[:, None]
    slope = 100 * stats.norm.pdf(x, scale=0.7)
    least = 2 / np.sqrt((slope**2).sum(axis=1).mean())
    assert scores.edge_bound_px(100, 2, 0.7) == pytest.approx(least, rel=1e-6)
    assert scores.edge_bound_px(100, 2, 0.7) == pytest.approx(0.0315, abs=5e-5)


def test_bound_of_a_fit_is_what_least_squares_reaches() -> None:
    rings, image_to_device, points = bound.scene(5)
    middle = points.mean(axis=0)
    edges, normals = _readings(rings, frames.invert(image_to_device))
    columns = []
    for step in (*np.eye(4), None):  # move the outlines by a little, and see what each edge reads
        if step is None:
            columns.append(np.ones(len(edges)))
            continue
        dx, dy, grow, turn = 1e-4 * step
        matrix = np.array([[1 + grow, -turn], [turn, 1 + grow]])
        moved = (edges - middle) @ matrix.T + middle + [dx, dy]
        columns.append(((moved - edges) * normals).sum(axis=1) / 1e-4)
    design = np.column_stack(columns)
    one = scores.edge_bound_px(bound.CONTRAST, np.hypot(5, 1 / np.sqrt(12)), bound.total_blur_px())
    noise = np.random.default_rng(0).normal(0, one, (len(edges), 4000))
    found = np.linalg.lstsq(design, noise, rcond=None)[0]
    u, v = (points - middle).T
    errors = np.stack(
        [
            found[0][:, None] + np.outer(found[2], u) - np.outer(found[3], v),
            found[1][:, None] + np.outer(found[3], u) + np.outer(found[2], v),
        ]
    )
    reached = np.sqrt((errors**2).sum(axis=0).mean())
    assert bound.fit_bound_px(rings, image_to_device, points, 5) == pytest.approx(reached, rel=0.03)


def _readings(rings: bound.Rings, device_to_image: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """One reading a pixel of every edge: places and normals, (N, 2) each."""
    places, normals = [], []
    for parts in rings.values():
        ring = frames.apply(device_to_image, parts[0])
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            length = np.hypot(*(b - a))
            at = (np.arange(round(length)) + 0.5) / round(length)
            places.append(a + (b - a) * at[:, None])
            normals.append(np.tile([b[1] - a[1], a[0] - b[0]] / length, (len(at), 1)))
    return np.vstack(places), np.vstack(normals)


def test_the_picture_of_the_bound_has_the_blur_and_the_noise_it_says() -> None:
    rings = {"room": (np.array([[300.3, 200], [600, 200], [600, 500], [300.3, 500]]),)}
    plain = bound.draw(rings, np.eye(2, 3), 0.0, np.random.default_rng(0)).astype(float)
    across = plain[350, 280:330]
    slope = np.diff(across) / bound.CONTRAST
    place = np.arange(281, 330)
    middle = (slope * place).sum()
    assert middle == pytest.approx(300.3, abs=0.05)
    spread = np.sqrt((slope * (place - middle) ** 2).sum())
    # A difference of neighbours is the slope seen through one more pixel's width.
    assert spread == pytest.approx(np.hypot(bound.total_blur_px(), 1 / np.sqrt(12)), abs=0.02)
    noisy = bound.draw(rings, np.eye(2, 3), 5.0, np.random.default_rng(0))
    assert (noisy - plain)[:150].std() == pytest.approx(np.hypot(5, 1 / np.sqrt(12)), rel=0.02)


def test_misplacement_counts_in_picture_pixels() -> None:
    truth = np.array([[50.0, 0, -1000], [0, -50.0, 9000]])
    found = frames.compose(truth, np.array([[1.0, 0, 3], [0, 1.0, -4]]))
    moved = samples.misplacement_px(found, truth, np.array([[10.0, 20], [300, 40]]))
    np.testing.assert_allclose(moved, [[-3, 4], [-3, 4]])
    assert scores.rms(moved) == pytest.approx(5.0)


def test_eight_starts_lay_box_on_box() -> None:
    picture = np.full((400, 600, 3), 250, np.uint8)
    picture[60:340, 100:520] = (30, 120, 200)
    starts = pipelines.bounding_box_starts(picture, TWO_ROOMS, "affine")
    corners = np.vstack([r for rings in TWO_ROOMS.values() for r in rings])
    for start in starts:
        placed = frames.apply(start, corners)
        np.testing.assert_allclose(placed.min(axis=0), [100, 60], atol=1e-6)
        np.testing.assert_allclose(placed.max(axis=0), [520, 340], atol=1e-6)
    assert len({tuple(np.sign(np.round(s[:, :2], 9)).ravel()) for s in starts}) == 8
    handed = [np.linalg.det(s[:, :2]) > 0 for s in starts]
    assert handed == [False] * 4 + [True] * 4


@pytest.mark.parametrize("name", list(pipelines.PIPELINES))
def test_the_other_pipelines_solve_what_they_can(name: str) -> None:
    # Upright, plain, and drawn much as the outlines are: each of them is at home here.
    truth = np.array([[0.061, 0.002, 93.4], [0.002, -0.061, 371.8]])
    drawn = pipelines.draw_outlines(TWO_ROOMS, truth, (440, 620))
    picture = np.repeat(drawn[..., None], 3, axis=2)
    found = pipelines.PIPELINES[name](picture, TWO_ROOMS, "similarity")
    assert found is not None
    corners = np.vstack([r for rings in TWO_ROOMS.values() for r in rings])
    off = frames.apply(found, corners) - frames.apply(truth, corners)
    assert scores.rms(off) < (1.0 if name != "8 starts + icp" else 3.0)


def test_a_scene_is_drawn_where_its_truth_says() -> None:
    sample = scenes.make(4, rooms=5, size=(500, 400))
    back = frames.invert(sample.image_to_device)
    seen = np.zeros(sample.image.shape[:2], np.uint8)
    for rings in sample.outlines.values():
        ring = frames.apply(back, rings[0]) - frames.PIXEL_CENTRE
        cv2.fillPoly(seen, [np.round(ring).astype(np.int32)], 1)
    inner = cv2.erode(seen, np.ones((5, 5), np.uint8)) > 0
    outer = cv2.dilate(seen, np.ones((15, 15), np.uint8)) == 0
    ground = np.median(sample.image[outer], axis=0)
    assert (np.abs(sample.image[inner] - ground).max(axis=1) > 3).mean() > 0.95


def test_tables_and_files(tmp_path: Path) -> None:
    table = report.Table("T", {"name": "", "px": ".2f"}, [["a", 1.234], ["bb", float("nan")]])
    assert report.as_text(table).splitlines()[1:] == [
        "name    px",
        "----  ----",
        "a     1.23",
        "bb       -",
    ]
    made = report.Report("trial", [table], lambda f: None, {"more": np.arange(2)})
    stored, plot = report.write(made, tmp_path)
    content = json.loads(stored.read_text())
    assert content["tables"][0]["rows"] == [{"name": "a", "px": 1.234}, {"name": "bb", "px": None}]
    assert content["more"] == [0, 1]
    assert plot.read_bytes().startswith(b"\x89PNG")


def test_suites_end_to_end(tmp_path: Path) -> None:
    suites = ["success", "calibration", "coverage"]
    options = ["--pictures", "1", "--families", "flat", "--out", str(tmp_path), "--quick"]
    result = CliRunner().invoke(main, [*suites, *options], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    stored = json.loads((tmp_path / "success.json").read_text())
    (picture,) = stored["pictures"]
    assert picture["family"] == "flat"
    assert not picture["crash"]
    assert picture["error_px"] < samples.TOLERANCE_PX
    rows = {row["method"]: row for row in stored["tables"][-1]["rows"]}
    assert set(rows) == {samples.REGMAP, *pipelines.PIPELINES}
    assert rows[samples.REGMAP]["time / regmap's"] == 1.0
    for suite in suites:
        assert (tmp_path / f"{suite}.png").stat().st_size > 1000


def test_growth_and_memory_on_small_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(growth, "MEGAPIXELS", (0.1, 0.2, 0.3))
    monkeypatch.setattr(growth, "ROOMS", (4,))
    monkeypatch.setattr(growth, "REPEAT", 1)
    tables = growth.run(Settings(quick=True), None).tables
    assert [row[0] for row in tables[0].rows] == [0.1]
    assert float(str(tables[0].rows[0][2])) > 0
    image = np.zeros((1000, 1000, 3), np.uint8)
    added = memory.peak_bytes(image, TWO_ROOMS)
    assert 0 <= added < 500 * image.shape[0] * image.shape[1]


def test_recorded_maps_from_a_folder(tmp_path: Path) -> None:
    pairs = []
    for i, name in enumerate(("one", "other")):
        sample = scenes.make(20 + i, rooms=6, size=(500, 400))
        cv2.imwrite(str(tmp_path / f"{name}.png"), sample.image[..., ::-1])
        rooms = {n: rings[0].tolist() for n, rings in sample.outlines.items()}
        (tmp_path / f"{name}.json").write_text(json.dumps({"rooms": rooms}))
        truth = dict(zip("abcdef", sample.image_to_device.ravel().tolist(), strict=True))
        pair = {"map": f"{name}.png", "outlines": f"{name}.json", "truth": truth}
        pairs.append(pair | {"truth_quality_mm": 0, "same_recording": True})
    (tmp_path / "pairs.json").write_text(json.dumps(pairs))
    out = tmp_path / "out"
    result = CliRunner().invoke(main, ["real", "--maps", str(tmp_path), "--out", str(out)])
    assert result.exit_code == 0, result.output
    own, crossed = json.loads((out / "real.json").read_text())["tables"]
    assert [row["right"] for row in own["rows"]] == ["yes", "yes"]
    assert [row["doubted"] for row in crossed["rows"]] == ["yes", "yes"]


def test_what_the_command_refuses() -> None:
    runner = CliRunner()
    assert "no such family" in runner.invoke(main, ["success", "--families", "nonesuch"]).output
    assert "--maps" in runner.invoke(main, ["real"]).output
    assert set(SUITES) >= {"success", "accuracy", "speed"}
