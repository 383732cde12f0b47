"""The demo: the whole job on files, compared with the truth that only the demo knows."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import rasterio
import shapely
from click.testing import CliRunner, Result

from regmap import frames
from regmap.areas.floor import floor_points
from regmap.cli import main
from regmap.inputs.captures import read_outlines
from regmap.registration import Registration
from regmap.synthetic.library import LOCKED, ROOMS, make_library


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    place = tmp_path_factory.mktemp("the demo") / "out"
    return CliRunner().invoke(main, ["demo", "--out", str(place)]), place


def _areas(path: Path) -> dict[str, Any]:
    features = json.loads(path.read_text("utf-8"))["features"]
    return {f["properties"]["name"]: shapely.geometry.shape(f["geometry"]) for f in features}


def test_it_leaves_files_to_look_at(shown: tuple[Result, Path]) -> None:
    ran, place = shown
    assert ran.exit_code == 0, ran.output
    made = {str(path.relative_to(place)) for path in place.rglob("*") if path.is_file()}
    assert {"library.png", "spring.txt", "autumn.txt", "marks.geojson"} <= made
    assert {"spring/proof.png", "spring/registration.json", "autumn/proof.png"} <= made
    assert {"zones.geojson", "keep-out.geojson", "work-in.geojson", "autumn.json"} <= made
    assert len([name for name in made if name.startswith("hand-over/")]) == 10
    for name in ("library", "zones", "keep-out", "work-in", "autumn", "spring/proof"):
        picture = cv2.imread(str(place / f"{name}.png"))
        assert picture is not None, name
        assert picture.std() > 5, name
        assert f"{name}.png" in ran.stdout or name == "library"
    assert set(read_outlines(place / "spring.txt")) <= set(ROOMS)
    assert set(read_outlines(place / "autumn.txt")) <= set(ROOMS) - {LOCKED}


def test_what_it_says_of_the_truth_is_true(shown: tuple[Result, Path]) -> None:
    ran, place = shown
    library = make_library(4)
    truths = {
        "spring": library.image_to_device,
        "autumn": frames.compose(library.old_to_new, library.image_to_device),
    }
    for name, truth in truths.items():
        fit = Registration.load(place / name / "registration.json")
        px = floor_points(fit)
        errors = np.hypot(*(fit.to_device(px) - frames.apply(truth, px)).T)
        told = re.search(
            rf"fit of {name} .*less than ([\d.]+) mm, .*less than ([\d.]+) mm", ran.stdout
        )
        assert told is not None
        assert float(told[1]) == pytest.approx(np.median(errors), abs=0.06)
        assert float(told[2]) == pytest.approx(errors.max(), abs=0.06)
        assert errors.max() < 0.5 * fit.unit_per_px  # half a pixel
        held = (errors <= fit.expected_error(px)).mean()
        assert held >= 0.95
        assert f"held at {100 * held:.0f} % of the floor: it was truthful" in ran.stdout
    assert "no safety barrier" in ran.stdout


def test_areas_lie_where_the_truth_has_them(shown: tuple[Result, Path]) -> None:
    """A mark, mapped by the truth, and grown by the margin; then moved by the truth, too."""
    _, place = shown
    library = make_library(4)
    zones, later = _areas(place / "zones.geojson"), _areas(place / "zones-autumn.geojson")
    said = json.loads((place / "zones.geojson").read_text("utf-8"))["features"]
    margins = {f["properties"]["name"]: f["properties"]["keep_off"] for f in said}
    for feature in library.marks["features"]:
        name = feature["properties"]["name"]
        mark = shapely.geometry.shape(feature["geometry"])
        there = shapely.transform(mark, lambda px: frames.apply(library.image_to_device, px))
        if name == "Open shelves":
            assert there.buffer(15).covers(zones[name])
            room = read_outlines(place / "spring.txt")["Local history"]
            assert room.exterior.distance(zones[name]) > 5
        else:
            assert margins[name] > 5
            grown = there.buffer(margins[name], join_style="mitre")
            assert zones[name].hausdorff_distance(grown) < 8
        moved = shapely.transform(zones[name], lambda xy: frames.apply(library.old_to_new, xy))
        assert later[name].hausdorff_distance(moved) < 8
    lost = json.loads((place / "zones-autumn.geojson").read_text("utf-8"))["features"]
    assert [f["properties"]["name"] for f in lost if f["properties"]["lost"]] == ["Map chest"]


def test_rectangles_keep_out_and_stay_within(shown: tuple[Result, Path]) -> None:
    _, place = shown
    zones = _areas(place / "zones.geojson")
    out = shapely.union_all(list(_areas(place / "keep-out.geojson").values()))
    assert out.buffer(1e-6).covers(zones["Folio cabinets"])
    assert out.buffer(1e-6).covers(zones["Map chest"])
    work = shapely.union_all(list(_areas(place / "work-in.geojson").values()))
    assert zones["Open shelves"].buffer(1e-6).covers(work)
    assert work.area > 0.85 * zones["Open shelves"].area


def test_the_hand_over_is_that_of_the_fit(shown: tuple[Result, Path]) -> None:
    _, place = shown
    fit = Registration.load(place / "spring" / "registration.json")
    with rasterio.open(place / "hand-over" / "library.tif") as raster:
        assert raster.transform.almost_equals(fit.transform, precision=1e-9)


def test_it_shows_the_commands_that_it_runs(shown: tuple[Result, Path]) -> None:
    """Each can be copied into a shell, blanks in paths and names or not."""
    ran, _ = shown
    commands = [shlex.split(x)[1:] for x in ran.stdout.splitlines() if x.startswith("$ ")]
    assert [command[1] for command in commands] == [
        *("outlines", "register", "area", "rectangles", "rectangles"),
        *("hand-over", "align", "register"),
    ]
    again = CliRunner().invoke(main, [*commands[2][1:], "--force"])
    assert again.exit_code == 0
    assert again.stdout.strip() in ran.stdout


def test_it_replaces_nothing_unless_told(shown: tuple[Result, Path]) -> None:
    _, place = shown
    before = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    ran = CliRunner().invoke(main, ["demo", "--out", str(place)])
    assert ran.exit_code == 1
    assert "would be overwritten" in ran.stderr
    assert "--force" in ran.stderr
    assert {path: path.read_bytes() for path in place.rglob("*") if path.is_file()} == before


def test_with_force_a_program_gets_the_figures(shown: tuple[Result, Path]) -> None:
    """The same bits again: what is written the second time is what was written before."""
    _, place = shown
    before = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    ran = CliRunner().invoke(main, ["demo", "--out", str(place), "--force", "--json"])
    assert ran.exit_code == 0, ran.output
    told = json.loads(ran.stdout)
    assert told["no_longer_on_the_floor"] == {"told": ["Map chest"], "true": ["Map chest"]}
    assert told["spring"]["worst"] < 10
    assert max(told["areas_carried_over"].values()) < 10
    assert {path: path.read_bytes() for path in place.rglob("*") if path.is_file()} == before
