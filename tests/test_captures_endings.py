"""Captures that end in the middle: what was cut off is left out, and told."""

from __future__ import annotations

import json
import warnings
from pathlib import Path

import pytest
from click.testing import CliRunner
from shapely import Polygon

from regmap.cli import main
from regmap.errors import CutOffWarning, OutlineError
from regmap.inputs.captures import list_candidates, parse_outlines

Ring = list[list[int]]

ROOMS: dict[str, Ring] = {
    "kiln": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
    "glazing": [[4100, 0], [9000, 0], [9000, 3000], [4100, 3000]],
    "drying": [[0, 3100], [4000, 3100], [4000, 5000], [0, 5000]],
    "office": [[4100, 3100], [9000, 3100], [9000, 6000], [7000, 6000], [7000, 5000], [4100, 5000]],
}


def spaced(ring: Ring) -> str:
    return " ".join(f"{x},{y}" for x, y in ring)


LISTED = [{"name": n, "rim": r} for n, r in ROOMS.items()]
TEXTS = {
    "document": json.dumps({"rooms": LISTED}),
    "lines of documents": "\n".join(map(json.dumps, LISTED)),
    "lines": "\n".join(f"{n}: {spaced(r)}" for n, r in ROOMS.items()),
    "closed lines": "\n".join(f"{n}: {spaced([*r, r[0]])}" for n, r in ROOMS.items()),
    "rows": "\n".join(["room,x,y", *(f"{n},{x},{y}" for n, r in ROOMS.items() for x, y in r)]),
    "elements": "<rooms>"
    + "".join(
        f'<room name="{n}">' + "".join(f'<p x="{x}" y="{y}"/>' for x, y in r) + "</room>"
        for n, r in ROOMS.items()
    )
    + "</rooms>",
    "indented": "rooms:\n"
    + "\n".join(
        f"  - name: {n}\n    rim:\n" + "\n".join(f"      - [{x}, {y}]" for x, y in r)
        for n, r in ROOMS.items()
    ),
}


def told(text: str) -> tuple[dict[str, Polygon], list[str]]:
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", CutOffWarning)
        found = parse_outlines(text)
    return found, [str(one.message) for one in caught]


@pytest.mark.parametrize("spelling", TEXTS)
def test_a_text_cut_anywhere_brings_no_room_that_is_not_there(spelling: str) -> None:
    text = TEXTS[spelling]
    for end in range(text.index("office") + len("office"), len(text)):
        try:
            found, warned = told(text[:end])
        except OutlineError:
            continue
        for name, polygon in found.items():
            assert polygon.equals(Polygon(ROOMS[name])), text[end - 30 : end]
        shown = [one.name for one in list_candidates(text[:end])]
        assert len(found) == len(ROOMS) or warned or "office" not in shown


@pytest.mark.parametrize("spelling", TEXTS)
def test_a_whole_text_brings_no_warning(spelling: str) -> None:
    found, warned = told(TEXTS[spelling] + "\n")
    assert list(found) == list(ROOMS)
    assert not warned


def test_a_last_room_with_an_oblique_wall_stays_where_the_text_goes_on() -> None:
    rooms = ROOMS | {"office": [[4100, 3100], [9000, 3100], [9000, 6000], [6000, 6000]]}
    for text in (
        json.dumps({"rooms": [{"name": n, "rim": r} for n, r in rooms.items()]}),
        "\n".join([*(f"{n}: {spaced(r)}" for n, r in rooms.items()), "battery: 81"]),
    ):
        found, warned = told(text)
        assert list(found) == list(rooms)
        assert not warned


def test_a_last_room_that_seems_cut_off_is_taken_if_asked_for() -> None:
    rooms = ROOMS | {"office": [[4100, 3100], [9000, 3100], [9000, 6000], [6000, 6000]]}
    text = "\n".join(f'room name="{n}" rim={spaced(r)}' for n, r in rooms.items())
    found, warned = told(text)
    assert list(found) == ["kiln", "glazing", "drying"]
    assert "'office' was cut off after 4 points" in warned[0]
    assert list(parse_outlines(text, key="rim")) == list(rooms)


def test_an_older_outline_stands_for_a_newer_one_that_was_cut_off() -> None:
    text = TEXTS["lines of documents"]
    newer = text + "\n" + text[: text.index("office") + 80]
    found, warned = told(newer)
    assert found["office"].equals(Polygon(ROOMS["office"]))
    assert "an older one of it is taken" in warned[0]


def test_the_command_tells_what_was_cut_off(tmp_path: Path) -> None:
    path = tmp_path / "capture.json"
    path.write_text(TEXTS["document"][:-12])
    said = CliRunner().invoke(main, ["outlines", str(path)])
    assert said.exit_code == 0
    assert "was cut off" in said.stderr
