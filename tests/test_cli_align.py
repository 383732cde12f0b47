"""`regmap align` as a user meets it: captures in, moved fits and areas out."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from regmap.cli import main
from regmap.registration import Registration
from tests.fit_examples import make_fit


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture
def captures(tmp_path: Path) -> Callable[[str], Path]:
    rooms = {
        "loom": [[0, 0], [5200, 0], [5200, 2600], [3100, 2600], [3100, 4100], [0, 4100]],
        "dyeing": [[3200, 2700], [7900, 2700], [7900, 6900], [3200, 6900]],
        "stairs": [[5300, 0], [9600, 0], [9600, 2600], [5300, 2600]],
        "wool": [[0, 4200], [3100, 4200], [3100, 6900], [0, 6900]],
    }
    # Turned by 90 degrees and shifted: (x, y) -> (20000 - y, 1000 + x).
    later = {n: [[20000 - y, 1000 + x] for x, y in r] for n, r in rooms.items() if n != "wool"}
    (tmp_path / "may.json").write_text(json.dumps({"rooms": rooms}))
    (tmp_path / "june.json").write_text(json.dumps({"rooms": later}))
    box = [[[200, 4400], [2000, 4400], [2000, 6000], [200, 6000], [200, 4400]]]
    bench = [[[300, 300], [900, 300], [900, 900], [300, 900], [300, 300]]]
    features = [
        {"type": "Feature", "properties": {"name": name},
         "geometry": {"type": "Polygon", "coordinates": ring}}
        for name, ring in (("bales", box), ("bench", bench))
    ]  # fmt: skip
    collection = {"type": "FeatureCollection", "features": features}
    (tmp_path / "zones.geojson").write_text(json.dumps(collection))
    rings = {name: (np.array(ring, float),) for name, ring in rooms.items()}
    make_fit(outlines=rings, rooms=()).save(tmp_path / "fit.json")
    return lambda name: tmp_path / name


def test_everything_moves_along(captures: Callable[[str], Path]) -> None:
    arguments = (
        "align", captures("may.json"), captures("june.json"),
        "--registration", captures("fit.json"), "--out", captures("fit-june.json"),
        "--areas", captures("zones.geojson"), "--areas-out", captures("zones-june.geojson"),
    )  # fmt: skip
    ran = run(*arguments)
    assert ran.exit_code == 0, ran.output
    for part in ("rooms gone         wool", "NO LONGER ON THE FLOOR: bales", "safety barrier"):
        assert part in ran.output
    fit, old = (Registration.load(captures(f"fit{s}.json")) for s in ("-june", ""))
    (x, y), (a, b) = old.to_device([10.0, 20.0])[0], fit.to_device([10.0, 20.0])[0]
    assert (a, b) == pytest.approx((20000 - y, 1000 + x), abs=0.5)
    moved = json.loads(captures("zones-june.geojson").read_text())
    corners = np.array(moved["features"][1]["geometry"]["coordinates"][0])
    assert np.abs(corners - [19400, 1600]).max() == pytest.approx(300.0, abs=0.5)
    assert [f["properties"]["lost"] for f in moved["features"]] == [True, False]
    assert "no safety barrier" in moved["caution"]
    again = run(*arguments)
    assert again.exit_code == 1
    assert "there already" in again.output
    told = json.loads(run(*arguments, "--force", "--json").stdout)
    assert told["rooms"]["wool"]["state"] == "gone"
    assert [area["lost"] for area in told["areas"]] == [True, False]
    assert len(told["files"]) == 2


def test_a_doubtful_change_writes_nothing(captures: Callable[[str], Path]) -> None:
    room = {"rooms": {"a": [[0, 0], [5000, 0], [5000, 3000], [0, 3000]],
                      "b": [[5100, 0], [10100, 0], [10100, 3000], [5100, 3000]]}}  # fmt: skip
    for name in ("may.json", "june.json"):
        captures(name).write_text(json.dumps(room))
    arguments = ["align", captures("may.json"), captures("june.json"), "--areas"]
    arguments += [captures("zones.geojson"), "--areas-out", captures("out.geojson")]
    ran = run(*arguments)
    assert ran.exit_code == 3, ran.output
    assert "DOUBTFUL" in ran.output
    assert not captures("out.geojson").exists()
    assert run(*arguments, "--accept-doubt").exit_code == 3
    assert captures("out.geojson").exists()
    tied = run(*arguments[:3], "--tie", 0, 0, 100, 50)
    assert tied.exit_code == 0, tied.output


def test_another_floor(captures: Callable[[str], Path]) -> None:
    other = {"rooms": {"a": [[0, 0], [900, 0], [900, 700], [0, 700]],
                       "b": [[950, 0], [1600, 0], [1600, 700]]}}  # fmt: skip
    captures("june.json").write_text(json.dumps(other))
    ran = run("align", captures("may.json"), captures("june.json"))
    assert ran.exit_code == 4, ran.output
    ran = run("align", captures("may.json"), captures("june.json"), "--json")
    assert json.loads(ran.stdout)["verdict"] == "nothing fits"


def test_wrong_usage(captures: Callable[[str], Path]) -> None:
    both = [captures("may.json"), captures("june.json")]
    assert run("align", *both, "--out", "x.json").exit_code == 2
    assert run("align", *both, "--areas-out", "x.json").exit_code == 2
    captures("zones.geojson").write_text("{}")
    ran = run("align", *both, "--areas", captures("zones.geojson"))
    assert ran.exit_code == 1
    assert "FeatureCollection" in ran.output


def test_the_error_of_an_area_goes_on_with_it(captures: Callable[[str], Path]) -> None:
    """Two independent errors of 30 mm and of the move add up by their squares; an area that says
    none is told by its move alone."""
    zones = captures("zones.geojson")
    stored = json.loads(zones.read_text("utf-8"))
    stored["features"][1]["properties"]["expected_error"] = 30.0
    arguments = ("align", captures("may.json"), captures("june.json"), "--areas", zones)
    alone = json.loads(run(*arguments, "--json").stdout)["areas"][1]["expected_error_95"]
    zones.write_text(json.dumps(stored))
    ran = run(*arguments, "--json")
    found = {area["name"]: area["expected_error_95"] for area in json.loads(ran.stdout)["areas"]}
    assert found["bench"] == pytest.approx(np.hypot(30.0, alone))
    said = run(*arguments).output
    assert "bench: in loom (100 %); right within" in said
    assert "bales: in no room (100 %); moved within" in said


def test_runs_that_were_taken_for_each_other_are_refused(captures: Callable[[str], Path]) -> None:
    """Areas of May in the frame of June would lie in other rooms, or beside the floor, with no
    figure to show it."""
    stored = json.loads(captures("zones.geojson").read_text("utf-8"))
    for feature, room in zip(stored["features"], ("wool", "loom"), strict=True):
        feature["properties"]["rooms"] = {room: 1.0}
    captures("zones.geojson").write_text(json.dumps(stored))
    areas = ("--areas", captures("zones.geojson"))
    assert run("align", captures("may.json"), captures("june.json"), *areas).exit_code == 0
    swapped = ("align", captures("june.json"), captures("may.json"), *areas)
    ran = run(*swapped, "--areas-out", captures("lost.geojson"))
    assert ran.exit_code == 1
    assert "'bench' was stored as lying in 'loom', but in the old outlines it lies in" in ran.stderr
    assert "pass --accept-doubt" in ran.stderr
    assert not captures("lost.geojson").exists()
    told = run(*swapped, "--accept-doubt")
    assert told.exit_code == 0
    assert "of it lay off the OLD floor, too" in told.output
