"""Calls that nobody means: an answer, or a RegmapError that says what to do; no warnings of numpy.

What is refused here once took all memory, or ended in an error of some library.
"""

from __future__ import annotations

import itertools
import json
import os
from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, ClassVar

import cv2
import numpy as np
import pytest
from affine import Affine
from click.testing import CliRunner

import regmap
from regmap.cli import main
from regmap.errors import NoFitError, RegmapError, StoredFileError
from regmap.inputs import places, stored_areas
from regmap.outputs.whole_files import write_whole
from tests.fit_examples import make_fit
from tests.test_outlines_hostile import FLOOR, SQUARE, picture

PICTURE = picture()
TIES = [((50, 650), (0, 0))]


class Liar(Mapping[str, Any]):
    """Has two names, and nothing under them."""

    def __getitem__(self, name: str) -> Any:
        raise KeyError(name)

    def __iter__(self) -> Iterator[str]:
        return iter("ab")

    def __len__(self) -> int:
        return 2


class Nameless:
    def __str__(self) -> str:
        raise ZeroDivisionError

    __repr__ = __str__


class Large:
    """Says that it is a picture of thirty gigabytes."""

    __array_interface__: ClassVar = {
        "shape": (10**5, 10**5, 3),
        "typestr": "|u1",
        "data": b"",
        "version": 3,
    }


def near(scale: float, shift: float = 0.0) -> Callable[[], object]:
    start = Affine(scale, 0, shift, 0, -scale, shift)
    return lambda: regmap.register(PICTURE, FLOOR, near=start)


def outlines(given: Any) -> Callable[[], object]:
    return lambda: regmap.register(PICTURE, given)


def identified(floors: Any) -> Callable[[], object]:
    return lambda: regmap.identify(PICTURE, floors)


# No sequence, whatever the types say: what a caller's own type checker would not let through.
ENDLESS: Any = itertools.repeat(TIES[0])

REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "rooms without end": (outlines(SQUARE for _ in itertools.count()), "more than 2000000"),
    "a ring without end": (outlines({"a": ((i, 1) for i in itertools.count())}), "more than 2000"),
    "a mapping that lies": (outlines(Liar()), r"KeyError: 'a'"),
    "a room without a name": (outlines({Nameless(): SQUARE}), "ZeroDivisionError"),
    "floors that lie": (
        lambda: regmap.identify(PICTURE, Liar()),
        r"floors cannot be read .KeyError: .a",
    ),
    "a floor without a name": (
        identified({Nameless(): FLOOR}),
        "floors cannot be read .ZeroDivisionError",
    ),
    "two floors of one name": (
        identified({1: FLOOR, "1": FLOOR}),
        "have one name",
    ),
    "a tie point far off": (
        lambda: regmap.register(PICTURE, FLOOR, tie_points=[((1e300, 0), (0, 0))]),
        "tie_points: a number is above 1e.30",
    ),
    "tie points by the thousand": (
        lambda: regmap.register(PICTURE, FLOOR, tie_points=TIES * 1001),
        "more than 1000 tie_points came: a few suffice",
    ),
    "tie points without end": (
        lambda: regmap.register(PICTURE, FLOOR, tie_points=ENDLESS),
        "more than 1000 tie_points",
    ),
    "a tie point of two runs far off": (
        lambda: regmap.align_outlines(FLOOR, FLOOR, tie_points=[((0, 0), (1e300, 0))]),
        "tie_points: a number is above 1e.30",
    ),
    "tie points of two runs without end": (
        lambda: regmap.align_outlines(FLOOR, FLOOR, tie_points=ENDLESS),
        "more than 1000 tie_points",
    ),
    "a start that is the way back": (near(1e-29), "not back"),
    "a start beyond all pictures": (near(10, 1e20), "near lays the outlines 1e.19 px away"),
    "a picture of thirty gigabytes": (
        lambda: regmap.register(Large(), FLOOR),
        "100000 x 100000 px; at most 32766 along a side",
    ),
    "one pixel, very often": (
        lambda: regmap.register(np.broadcast_to(np.uint8(7), (10**6, 10**6, 3)), FLOOR),
        "1000000 x 1000000 px",
    ),
    "a picture of infinite light": (
        lambda: regmap.register(np.full((48, 64), np.inf, np.float16), FLOOR),
        "NaN or infinite pixels",
    ),
    "the least of all numbers": (
        lambda: regmap.register(np.full((48, 64), -(2**63)), FLOOR),
        "run from -9.22337e.18",
    ),
    "an outline that hides points": (
        outlines({"a": np.ma.masked_equal(SQUARE, 0)}),
        "'a' has masked points",
    ),
    "a stored fit without rooms": (
        lambda: regmap.verify(make_fit(outlines={}, rooms=()), PICTURE),
        "no outlines were given",
    ),
    "a stored fit of a bow-tie": (
        lambda: regmap.verify(make_fit(outlines={"a": (SQUARE[[0, 2, 1, 3]],)}, rooms=()), PICTURE),
        "'a' crosses itself",
    ),
    "places by the million": (lambda: places.parse_places("1,2\n" * 2**23), "longer than 16 MiB"),
    "areas without end": (lambda: stored_areas.parse_areas(bytes(2**24 + 1)), "longer than 16 MiB"),
}


@pytest.mark.parametrize("kind", REFUSED)
def test_it_is_refused_with_words(kind: str) -> None:
    call, text = REFUSED[kind]
    with pytest.raises(RegmapError, match=text) as caught:
        call()
    assert not isinstance(caught.value, NoFitError)
    assert len(str(caught.value)) < 2500


TAKEN: dict[str, tuple[Any, Any]] = {
    "long doubles": ((PICTURE / 255).astype(np.longdouble), FLOOR),
    "backwards in memory": (np.ascontiguousarray(PICTURE[::-1, ::-1])[::-1, ::-1], FLOOR),
    "planes first": (np.moveaxis(np.ascontiguousarray(np.moveaxis(PICTURE, 2, 0)), 0, 2), FLOOR),
    "other byte order": (PICTURE.astype(">u2") * 257, FLOOR),
    "numbers of other kinds": (
        PICTURE,
        {
            name: [(Decimal(x), Fraction(int(y))) for x, y in ring.tolist()]
            for name, ring in FLOOR.items()
        },
    ),
    "rings that come one by one": (
        PICTURE,
        {name: (tuple(pair) for pair in ring.tolist()) for name, ring in FLOOR.items()},
    ),
    "rooms that come one by one": (PICTURE, iter(FLOOR.values())),
}


@pytest.mark.parametrize("kind", TAKEN)
def test_however_it_comes_it_is_the_same_floor(kind: str) -> None:
    """The floor is drawn at 10 mm a pixel, (x, y) at column 50 + x / 10, row 650 - y / 10."""
    start = Affine(10, 0, -500, 0, -10, 6500)
    fit = regmap.register(*TAKEN[kind], near=start, mirrored=False)
    corners = np.array([[50.0, 650.0], [850.0, 150.0]])
    assert fit.to_device(corners) == pytest.approx(np.array([[0, 0], [8000, 5000]]), abs=15)


@pytest.mark.filterwarnings("default::regmap.errors.DoubtfulFitWarning")
@pytest.mark.parametrize(
    "start",
    [
        Affine(1e7, 0, 0, 0, -1e7, 0),
        Affine(1e-6, 0, 0, 0, -1e-6, 0),
        Affine(1e29, 0, 0, 0, -1e29, 0),
        Affine(10, 10 - 1e-3, 0, 10, -10 + 1e-2, 0),
        Affine(10, 0, -500, 0, -1e6, 6500),
    ],
)
def test_a_start_that_is_no_help_gives_no_sure_fit(start: Affine) -> None:
    for model in ("similarity", "affine"):
        try:
            fit: regmap.Registration | None = regmap.register(
                PICTURE, FLOOR, near=start, model=model
            )
        except NoFitError as error:
            fit = error.best
        assert fit is not None
        assert fit.doubtful


@pytest.mark.parametrize("size", [(1, 1), (10**9, 10**9)])
@pytest.mark.filterwarnings("default::regmap.errors.DoubtfulFitWarning")
def test_a_fit_of_another_size_of_picture_does_not_hold(size: tuple[int, int]) -> None:
    found = regmap.verify(make_fit(image_size=size), PICTURE)
    assert not found.holds


# --- files ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("overwrite", [False, True])
def test_a_pipe_keeps_its_name(tmp_path: Path, overwrite: bool) -> None:
    """Nor may a device be replaced by a file: whoever is root would take it from all programs."""
    place = tmp_path / "out.json"
    os.mkfifo(place)
    before = place.stat()
    with pytest.raises(StoredFileError, match="device or a pipe: give the name of a file"):
        write_whole(place, "new", overwrite=overwrite)
    assert place.stat() == before
    make_fit().save(tmp_path / "fit.json")
    square = {"type": "Polygon", "coordinates": [[[60, 230], [90, 230], [90, 260], [60, 230]]]}
    mark = {"type": "Feature", "properties": {"name": "a"}, "geometry": square}
    marks = tmp_path / "marks.geojson"
    marks.write_text(json.dumps({"type": "FeatureCollection", "unit": "px", "features": [mark]}))
    ran = CliRunner().invoke(
        main,
        ["area", str(tmp_path / "fit.json"), "--marks", str(marks), "--out", str(place), "--force"],
    )
    assert ran.exit_code == 1
    assert "device or a pipe" in ran.stderr
    assert place.stat() == before


READERS = {
    "outlines": ("wrong",),
    "register": ("floor.png", "wrong", "--out", "out"),
    "area": ("fit.json", "--marks", "wrong", "--out", "out.geojson"),
    "rectangles": ("wrong", "--fit", "inside", "--out", "out.geojson"),
    "locate": ("fit.json", "--path", "wrong"),
    "verify": ("wrong", "floor.png"),
    "identify": ("floor.png", "wrong"),
    "hand-over": ("wrong", "--out", "out"),
    "batch": ("wrong", "--out", "out"),
}
CONTENTS = {
    "deep": b"[" * 200_000,
    "a long number": b'{"a": ' + b"1" * 100_000 + b"}",
    "half a letter": b'{"a": "\\ud800"}',
    "zeros": bytes(5000),
}


@pytest.mark.parametrize("command", READERS)
@pytest.mark.parametrize("content", [*CONTENTS, "a loop of links"])
def test_a_file_that_is_none_is_told(
    command: str, content: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    make_fit().save("fit.json")
    cv2.imwrite("floor.png", PICTURE)
    if content in CONTENTS:
        Path("wrong").write_bytes(CONTENTS[content])
    else:
        Path("wrong").symlink_to("wrong")
    ran = CliRunner().invoke(main, [command, *READERS[command]])
    assert ran.exit_code == 1, ran.output
    assert isinstance(ran.exception, SystemExit), ran.exception
    assert "wrong" in ran.stderr
    assert len(ran.stderr) < 3000
    assert not list(tmp_path.glob("out*"))
