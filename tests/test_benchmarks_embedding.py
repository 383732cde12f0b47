"""The benchmarks of embedding measure what they say; the page says what the suites found."""

from __future__ import annotations

import functools
import json
import operator
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from benchmarks import imports, own, report, samples, service, throughput
from benchmarks.__main__ import SUITES, main
from benchmarks.page import write_page
from benchmarks.settings import Settings
from regmap import frames, synthetic
from regmap.batch import Job

REPORT = Path(__file__).parent.parent / "benchmarks" / "REPORT.md"


def test_what_each_import_loads(monkeypatch: pytest.MonkeyPatch) -> None:
    names = ("Python alone", "import regmap", "load a stored fit and use it")
    monkeypatch.setattr(imports, "CASES", {name: imports.CASES[name] for name in names})
    monkeypatch.setattr(imports, "QUICK_REPEAT", 1)
    (table,) = imports.run(Settings(quick=True), None).tables
    rows = {str(row[0]): row for row in table.rows}
    assert rows["Python alone"][2] == 1.0
    assert rows["import regmap"][-1] == ""
    assert rows["load a stored fit and use it"][-1] == "numpy affine"


def test_a_call_that_keeps_the_interpreter_stalls_the_loop() -> None:
    kept: list[float] = []
    power = functools.partial(pow, 7, 1_000_000)
    steps: list[Callable[[], float]] = [time.perf_counter, power, time.perf_counter]
    call: Callable[[Callable[[], float]], float] = operator.call

    def keep() -> None:
        # All in C, so that nobody else runs from the first reading of the clock to the second.
        began, _, ended = map(call, steps)
        kept.append(1e3 * (ended - began))

    # The loop was asleep for a tick at most when the call began.
    longest = max(service.stalls(keep))
    assert longest.late_ms >= kept[0] - 1e3 * service.TICK_S
    asleep = service.stalls(lambda: time.sleep(0.05))
    assert len(asleep) > 5
    assert max(one.worked_ms for one in asleep) < longest.worked_ms


def test_a_batch_is_timed_floor_by_floor(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(throughput, "QUICK_FLOORS", 2)
    made = throughput.run(Settings(quick=True, families=("flat",)), None)
    times = made.data["seconds_until_done"]
    assert set(times) == {"1", "2"}
    assert all(0 < one[0] <= one[1] for one in times.values())
    assert made.tables[0].rows[0][4] == 1.0


def test_a_batch_that_goes_wrong_is_no_measurement() -> None:
    with pytest.raises(AssertionError, match=r"none.*cannot read"):
        throughput.when_done([Job("none.png", {"a": [[0, 0], [1, 0], [1, 1]]}, "none")], 1)


@pytest.fixture
def floors(tmp_path: Path) -> Path:
    rooms = synthetic.make_floor(np.random.default_rng(5), rooms=5).rooms
    features = [
        {
            "type": "Feature",
            "properties": {"name": name, "floor": "attic"},
            "geometry": shapely.geometry.mapping(room),
        }
        for name, room in rooms.items()
    ]
    path = tmp_path / "floors.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def test_floors_of_ones_own_are_drawn_where_their_truth_says(floors: Path) -> None:
    rooms = own.read_floors(floors)["attic"]
    sample = own.make("attic", rooms, 3)
    assert sorted(sample.outlines) == sorted(rooms)
    back = frames.invert(sample.image_to_device)
    for rings in sample.outlines.values():
        corners = frames.apply(back, rings[0])
        height, width = sample.image.shape[:2]
        assert ((corners > 0) & (corners < [width, height])).all()


def test_floors_of_ones_own_by_command(floors: Path, tmp_path: Path) -> None:
    options = ["--floors", str(floors), "--pictures", "1", "--out", str(tmp_path)]
    ran = CliRunner().invoke(main, options, catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    stored = json.loads((tmp_path / "own.json").read_text())
    (row,) = stored["tables"][0]["rows"]
    assert (row["floor"], row["rooms"], row["pictures"]) == ("attic", 5, 1)
    assert row["sure and wrong"] == 0
    assert stored["run"]["pictures"] == 1


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"features": []}', '{"features": [{"type": 1}]}']
)
def test_files_that_hold_no_floors_are_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "floors.geojson"
    path.write_text(text)
    ran = CliRunner().invoke(main, ["--floors", str(path)])
    assert ran.exit_code == 2
    assert "floors.geojson" in ran.output
    assert "--floors" in CliRunner().invoke(main, ["own"]).output


def test_the_page_says_what_the_suites_found(tmp_path: Path) -> None:
    table = report.Table("Bends", {"what": "", "px": ".2f"}, [["a|b", 1.234]], "Said so.")
    made = report.Report("trial", [table], lambda figure: None)
    about: dict[str, Any] = {"pictures": 3, "seed": 10_000, "jobs": 1, "quick": False}
    about |= {"seconds": 12.3, "load": 0.5, "date": "2026-01-01"}
    report.write(made, tmp_path / "out", about)
    page = write_page(tmp_path / "out", tmp_path / "R.md", {"trial": "how it bends", "other": "x"})
    text = page.read_text("utf-8")
    assert "| [trial](#trial) | 3 | 10000 to 10002 | full | 1 | 12 | 0.5 | 2026-01-01 | 1 |" in text
    assert "| what | px |\n|---|---:|\n| a\\|b | 1.23 |" in text
    assert "How it bends." in text
    assert "Said so." in text
    assert "other" not in text
    assert (tmp_path / "plots" / "trial.png").read_bytes().startswith(b"\x89PNG")


def test_the_report_in_the_repository_is_of_suites_that_there_are() -> None:
    text = REPORT.read_text("utf-8")
    suites = set(re.findall(r"^## (\w+)$", text, re.MULTILINE))
    assert {"success", "speed", "calibration"} <= suites <= set(SUITES) - {"real", "own"}
    for plot in re.findall(r"\]\((plots/[^)]+)\)", text):
        assert (REPORT.parent / plot).is_file(), plot
    assert samples.REGMAP in text
