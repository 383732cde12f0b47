"""Tables: what spreadsheets make of them."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from regmap.outputs import control_points
from regmap.outputs.batch_folder import BatchFolder, Record
from regmap.outputs.tables import csv_text
from tests.fit_examples import UPRIGHT, make_fit


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@A1", "\t=1", "\r=1", "\n=1", "  =1"])
def test_no_text_is_a_formula(text: str) -> None:
    table = csv_text([("name", "value"), (text, -1.5), ("a=1", "b-2")])
    assert list(csv.reader(io.StringIO(table, newline=""))) == [
        ["name", "value"],
        [f"'{text}", "-1.5"],
        ["a=1", "b-2"],
    ]


def test_negative_coordinates_stay_numbers() -> None:
    table = control_points.to_csv(make_fit(transform=UPRIGHT), 4)
    for row in csv.DictReader(io.StringIO(table)):
        assert all(not row[key].startswith("'") for key in control_points.KEYS)
        float(row["device_x"]), float(row["device_y"])


def test_a_summary_holds_no_formula(tmp_path: Path) -> None:
    record = Record("=HYPERLINK(1)", "", "error", None, None, "+x\nmore")
    path = BatchFolder(tmp_path).write_summary([record])
    row = next(csv.DictReader(io.StringIO(path.read_text())))
    assert (row["name"], row["text"]) == ("'=HYPERLINK(1)", "'+x")
