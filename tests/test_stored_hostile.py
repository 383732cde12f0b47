"""Stored files that were cut, edited or made up: the fit as it was, or a StoredFileError."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from regmap.batch import BatchResult
from regmap.errors import RegmapError, StoredFileError
from regmap.inputs.stored_areas import parse_areas
from regmap.outputs import geojson, storage, whole_files
from regmap.outputs.batch_folder import BatchFolder
from regmap.registration import Registration
from tests.fit_examples import make_fit

STORED = make_fit(alternatives=(make_fit(),)).to_dict()

ODD: tuple[Any, ...] = (
    None, True, -1, 0, 1e300, -1e308, 5e-324, 10**400, 2**53 + 1, 1.5, math.nan, math.inf,
    "x", "1", "infinite", "\ud800", [], [[]], {}, {"a": 1}, [1, 2], [None], ["a"], [[[[1]]]],
)  # fmt: skip

Path_ = tuple[str | int, ...]


def places(value: Any, path: Path_ = ()) -> Iterator[Path_]:
    """Where values stand in a stored fit; of a list, the first two are enough."""
    if path:
        yield path
    entries: Any = value.items() if isinstance(value, dict) else ()
    if isinstance(value, list):
        entries = enumerate(value[:2])
    for key, inner in entries:
        yield from places(inner, (*path, key))


def changed(path: Path_, value: Any) -> dict[str, Any]:
    stored: Any = copy.deepcopy(STORED)
    inner = stored
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    return dict(stored)


def use(fit: Registration) -> None:
    """Ask a fit everything that is asked of one; nothing may warn, and no number may be lost."""
    again = Registration.from_dict(json.loads(whole_files.json_text(fit.to_dict())))
    assert again.same_as(fit)
    points = [[0, 0], [640, 480]]
    for numbers in (
        fit.to_device(points),
        fit.expected_error(points),
        fit.error_ellipses(points),
        fit.position_covariance(points),
    ):
        assert np.isfinite(numbers).all()
    assert repr(fit)
    assert len(geojson.rooms(fit, accept_doubt=True)["features"]) == len(fit.outlines)


def test_a_wrong_value_anywhere_is_refused_or_harmless() -> None:
    tried = refused = longest = 0
    for path in places(STORED):
        for value in ODD:
            tried += 1
            try:
                fit = Registration.from_dict(changed(path, value))
            except StoredFileError as error:
                refused += 1
                longest = max(longest, len(str(error)))
            else:
                use(fit)
    assert longest < 1500
    assert tried > 2000
    assert refused > 0.8 * tried


FILES: dict[str, tuple[bytes, str]] = {
    "twice": (b'{"format": "regmap registration", "version": 1, "version": 1}', "stands twice"),
    "deep": (b'{"a":' * 100_000, "damaged"),
    "deep and closed": (
        b'{"format": "regmap registration", "version": 1, "checksum": "", "a": '
        + b"[" * 900 + b"]" * 900 + b"}", "checksum|damaged|wrong"
    ),
    "many digits": (b'{"format": ' + b"9" * 10_000 + b"}", "damaged"),
    "from the future": (b'{"format": "regmap registration", "version": 99}', "update regmap"),
    "far future": (b'{"format": "regmap registration", "version": 1e99}', "whole number"),
    "UTF-16": (json.dumps(STORED).encode("utf-16"), "damaged"),
    "byte order mark alone": (b"\xef\xbb\xbf", "damaged"),
    "two byte order marks": (b"\xef\xbb\xbf" * 2 + json.dumps(STORED).encode(), "damaged"),
    "another kind": (b'{"format": "regmap batch record", "version_of_format": 1}', "no stored"),
}  # fmt: skip


@pytest.mark.parametrize("kind", FILES)
def test_files_that_are_refused(kind: str, tmp_path: Path) -> None:
    content, message = FILES[kind]
    path = tmp_path / "fit.json"
    path.write_bytes(content)
    with pytest.raises(StoredFileError, match=message):
        Registration.load(path)


def test_a_byte_order_mark_of_an_editor_is_no_damage(tmp_path: Path) -> None:
    path = tmp_path / "fit.json"
    make_fit().save(path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert Registration.load(path).same_as(make_fit())


def test_files_without_end_are_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(storage, "MAX_BYTES", 10_000)
    with pytest.raises(StoredFileError, match="longer than 10000 bytes"):
        Registration.load("/dev/zero")
    make_fit(residuals=np.ones((2000, 3))).save(tmp_path / "long.json")
    with pytest.raises(StoredFileError, match="longer than 10000 bytes"):
        Registration.load(tmp_path / "long.json")


def test_a_chain_of_alternatives_ends() -> None:
    stored = make_fit().to_dict()
    for _ in range(2000):
        stored = {**make_fit().to_dict(), "alternatives": [stored]}
    with pytest.raises(StoredFileError, match="recursion"):
        Registration.from_dict(stored)


@pytest.mark.parametrize(
    "spoil",
    [
        {"seconds": []},
        {"text": []},
        {"content": None},
        {"verdict": {}},
        {"confidence": "high"},
        {"more": 1},
        {"format": "other"},
        {"version_of_format": 2},
    ],
)
def test_a_record_of_a_batch_that_was_edited_counts_as_none(spoil: Any, tmp_path: Path) -> None:
    batch = BatchFolder(tmp_path)
    batch.write(BatchResult("floor", make_fit(), None, 1.0), "content")
    assert batch.finished("floor", "content") is not None
    (path,) = (tmp_path / "records").iterdir()
    path.write_text(json.dumps(json.loads(path.read_text()) | spoil))
    assert batch.finished("floor", "content") is None
    path.write_bytes(b"[" * 100_000)
    assert batch.finished("floor", "content") is None


def area(geometry: Any) -> str:
    feature = {"type": "Feature", "properties": {"name": "x"}, "geometry": geometry}
    return json.dumps({"type": "FeatureCollection", "features": [feature]})


SQUARE = [[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]]


@pytest.mark.parametrize(
    "text",
    [
        "", "[" * 100_000, "null", "[]", '{"features": 5}', '{"features": []}',
        '{"features": [5]}', '{"features": [{}]}', area(None), area(5), area([]),
        area({"type": "Polygon", "coordinates": 5}),
        area({"type": "Polygon", "coordinates": [SQUARE[:2]]}),
        area({"type": "Polygon", "coordinates": [[[x * 1e300, y] for x, y in SQUARE]]}),
        area({"type": "Polygon", "coordinates": [[[math.nan, y] for x, y in SQUARE]]}),
        area({"type": "Polygon", "coordinates": [[[x, "1"] for x, y in SQUARE]]}),
        area({"type": "Polygon", "coordinates": [[SQUARE[i] for i in (0, 2, 1, 3, 0)]]}),
        area({"type": "Somewhere", "coordinates": SQUARE}),
        '{"features": [' + ", ".join([json.dumps(json.loads(area(
            {"type": "Polygon", "coordinates": [SQUARE]}))["features"][0])] * 2) + "]}",
    ],
)  # fmt: skip
def test_stored_areas_that_are_refused(text: str) -> None:
    with pytest.raises(RegmapError):
        parse_areas(text)
