"""Outlines out of any text: the corpus of spellings, versions, floors, names, and refusals."""

from __future__ import annotations

import base64
import gzip
import json
import pickle
import zlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from regmap.errors import OutlineError
from regmap.inputs import captures
from regmap.inputs.captures import list_candidates, parse_outlines, read_outlines
from tests.corpus import CORPUS, FLOORS, Case

SQUARE = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
LONG = [[4100, 0], [9000, 0], [9000, 3000], [4100, 3000]]
ROOMS = {"kiln": SQUARE, "glazing": LONG}


def rings_of(found: dict[str, shapely.Polygon]) -> dict[str, list[list[float]]]:
    return {name: [list(p) for p in room.exterior.coords[:-1]] for name, room in found.items()}


def same(found: dict[str, shapely.Polygon], truth: Mapping[str, Sequence[Sequence[float]]]) -> bool:
    return set(found) == set(truth) and all(
        room.exterior.coords[:-1] == [tuple(map(float, p)) for p in truth[name]]
        for name, room in found.items()
    )


@pytest.mark.parametrize("floor", FLOORS)
@pytest.mark.parametrize("case", CORPUS, ids=lambda case: case.name)
def test_every_spelling_is_read_and_nothing_beyond(case: Case, floor: str) -> None:
    rings = FLOORS[floor]
    found = parse_outlines(case.write(rings))
    assert same(found, case.expected(rings)), rings_of(found)


def test_the_corpus_is_as_large_as_it_says() -> None:
    assert len({case.name for case in CORPUS}) == len(CORPUS) >= 100


# --- which sequences are rooms -----------------------------------------------------------------


@pytest.mark.parametrize(
    "other",
    [
        {"path": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]},
        {"poses": [{"x": i, "y": i * i, "theta": 0.1} for i in range(9)]},
        {"walls": {"virtual": [[[0, 0], [500, 0]], [[0, 0], [0, 500]], [[9, 9], [5, 0]]]}},
        {"restricted": [{"name": "stairs", "outline": [[1, 1], [900, 1], [900, 900]]}]},
        {"no_go_zones": [[[1, 1], [900, 1], [900, 900]]] * 5},
        {"carpets": {"a": [[1, 1], [900, 1], [900, 900]], "b": [[1, 1], [900, 1], [900, 900]]}},
        {"battery": [100, 99, 98, 97, 96, 95, 94, 93], "version": "1.2.3", "ip": "10.0.0.1:80"},
        {"signal": [[1712052000, 61], [1712052060, 64], [1712052120, 55]]},
        {"colours": [[255, 0, 0], [0, 255, 0], [0, 0, 255]]},
        {"labels": {"kiln": [9, 9], "glazing": [20, 9], "store": [5, 1]}},
        {"docks": [{"name": "a", "x": 1, "y": 2}, {"name": "b", "x": 9, "y": 2}]},
    ],
    ids=lambda other: next(iter(other)),
)
def test_what_is_no_room(other: dict[str, Any]) -> None:
    for content in ({"rooms": ROOMS} | other, other | {"rooms": ROOMS}):
        assert same(parse_outlines(json.dumps(content)), ROOMS)


def test_a_path_alone_is_no_room() -> None:
    for text in (
        json.dumps({"path": SQUARE}),
        "\n".join(f"10:00:0{i} pose x={x} y={y}" for i, (x, y) in enumerate(SQUARE)),
        json.dumps({"barrier": SQUARE[:2], "dock": SQUARE[0], "rooms": []}),
    ):
        with pytest.raises(OutlineError, match="no room outlines"):
            parse_outlines(text)


def test_areas_are_rooms_where_there_are_no_others() -> None:
    text = json.dumps({"zones": [{"name": "kiln", "points": SQUARE}], "path": LONG})
    assert same(parse_outlines(text), {"kiln": SQUARE})


def test_a_key_chooses() -> None:
    content = {"rooms": ROOMS, "zones": {"wet": [[0, 0], [5, 0], [5, 5]]}, "trail": SQUARE}
    text = json.dumps(content)
    assert set(parse_outlines(text)) == {"kiln", "glazing"}
    assert set(parse_outlines(text, key="ZONES")) == {"wet"}
    assert rings_of(parse_outlines(text, key="trail"))["room 1"] == SQUARE
    with pytest.raises(OutlineError, match="no outlines belong to key='attic'") as caught:
        parse_outlines(text, key="attic")
    assert "line 1: 'kiln', key 'rooms.kiln', 4 points, area 1.2e+07" in str(caught.value)


def test_holes_and_parts() -> None:
    ring = [[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]]
    hole = [[3, 3], [6, 3], [6, 6], [3, 6], [3, 3]]
    geometry = {"type": "Polygon", "coordinates": [ring, hole]}
    room = parse_outlines(json.dumps({"type": "Feature", "id": "hall", "geometry": geometry}))
    assert room["hall"].equals(shapely.Polygon(ring, [hole]))
    text = "hall: POLYGON ((0 0, 9 0, 9 9, 0 9, 0 0), (3 3, 6 3, 6 6, 3 6, 3 3))"
    assert parse_outlines(text)["hall"].equals(shapely.Polygon(ring, [hole]))
    far = [[x + 20, y] for x, y in ring]
    geometry = {"type": "MultiPolygon", "coordinates": [[ring], [far]]}
    feature = {"type": "Feature", "properties": {"name": "hall"}, "geometry": geometry}
    parts = parse_outlines(json.dumps(feature))
    assert {name: part.bounds for name, part in parts.items()} == {
        "hall": (0, 0, 9, 9),
        "hall 2": (20, 0, 29, 9),
    }


# --- names -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("beside", "name"),
    [
        ({"id": 7, "name": "kiln"}, "kiln"),
        ({"id": 7, "name": ""}, "7"),
        ({"id": 7, "name": None}, "7"),
        ({"id": 7, "colour": "#a0b0c0", "clean": True}, "7"),
        ({"uuid": "0a1b2c3d-0000-1111-2222-333344445555", "label": "kiln"}, "kiln"),
        ({"type": "Polygon", "bezeichnung": "Töpferei"}, "Töpferei"),
        ({"name": "  Bad/WC (oben), groß "}, "Bad/WC (oben), groß"),
        ({"name": "Room 2", "id": 1}, "Room 2"),
        ({"name": "Zone 51", "seq": 4}, "Zone 51"),
        ({"meta": {"title": "kiln"}, "area": 12.5}, "kiln"),
        ({"name": 'the "big" one'}, 'the "big" one'),
        ({}, "room 1"),
    ],
)
def test_names(beside: dict[str, Any], name: str) -> None:
    for content in (
        {"rooms": [beside | {"outline": SQUARE}]},
        {"rooms": [{"outline": SQUARE} | beside]},
        {"msg": json.dumps([{"outline": SQUARE} | beside])},
    ):
        assert list(parse_outlines(json.dumps(content))) == [name]


def test_the_name_of_a_list_is_not_that_of_its_rooms() -> None:
    rooms = [{"outline": SQUARE}, {"outline": LONG}]
    assert list(parse_outlines(json.dumps({"name": "ground floor", "rooms": rooms}))) == [
        "room 1",
        "room 2",
    ]
    text = json.dumps({"floor": {"name": "ground", "id": 1, "rooms": rooms[:1]}})
    assert len(parse_outlines(text)) == 1


def test_two_bedrooms() -> None:
    rooms = [{"name": "bedroom", "ring": SQUARE}, {"name": "bedroom", "ring": LONG}]
    lines = "\n".join(json.dumps({"seq": i, "rooms": rooms}) for i in range(3))
    assert same(parse_outlines(lines), {"bedroom": SQUARE, "bedroom 2": LONG})


# --- newest shapes, several floors -------------------------------------------------------------


def test_the_last_of_many_counts() -> None:
    lines = []
    for i in range(40):
        ring = [[x + i, y] for x, y in SQUARE]
        lines.append(f"10:00:{i:02d} room={json.dumps('kiln')} ring={json.dumps(ring)}")
    found = parse_outlines("\n".join(lines))
    assert rings_of(found) == {"kiln": [[x + 39, y] for x, y in SQUARE]}
    assert len(list_candidates("\n".join(lines))) == 40


def test_states_in_one_document() -> None:
    states = [
        {"t": i, "rooms": {n: [[x + i, y] for x, y in r] for n, r in ROOMS.items()}}
        for i in range(3)
    ]
    found = parse_outlines(json.dumps({"history": states}, indent=1))
    assert rings_of(found) == {n: [[x + 2, y] for x, y in r] for n, r in ROOMS.items()}


def test_rooms_that_were_joined_vanish() -> None:
    both = [[0, 0], [9000, 0], [9000, 3000], [0, 3000]]
    store = [[0, 3100], [900, 3100], [900, 4000], [0, 4000]]
    first = {"rooms": ROOMS | {"store": store}}
    second = {"rooms": {"workshop": both, "store": store}}
    found = parse_outlines(f"{json.dumps(first)}\n{json.dumps(second)}\n")
    assert same(found, {"store": store, "workshop": both})


FLOORS_OF_A_HOUSE = [
    {"floor": "ground", "rooms": [{"name": "kiln", "ring": SQUARE}]},
    {"floor": "upper", "rooms": [{"name": "study", "ring": [[x + 9, y] for x, y in SQUARE]}]},
]


@pytest.mark.parametrize(
    "text",
    [
        json.dumps({"floors": FLOORS_OF_A_HOUSE}),
        "\n".join(json.dumps(floor) for floor in FLOORS_OF_A_HOUSE),
        json.dumps({"ground": {"rooms": ROOMS}, "upper": {"rooms": {"study": SQUARE}}}),
    ],
    ids=["list", "lines", "keys"],
)
def test_floors_above_each_other(text: str) -> None:
    with pytest.raises(OutlineError, match="2 floors lie on each other") as caught:
        parse_outlines(text)
    assert "key='ground', key='upper'" in str(caught.value)
    assert "'study'" in str(caught.value)
    assert set(parse_outlines(text, key="upper")) == {"study"}
    assert "kiln" in parse_outlines(text, key="ground")
    assert not any(one.chosen for one in list_candidates(text))


# --- texts that end too soon -------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        json.dumps({"rooms": [{"name": n, "ring": r} for n, r in ROOMS.items()]}),
        json.dumps({"rooms": {n: [f"{x},{y}" for x, y in r] for n, r in ROOMS.items()}}),
        json.dumps(
            {"rooms": [{"ring": ";".join(f"{x},{y}" for x, y in r)} for r in ROOMS.values()]}
        ),
        json.dumps({"p": json.dumps({"rooms": ROOMS})}),
        json.dumps({"rooms": ROOMS}, indent=1),
        "<f><r n='kiln'><p>0,0 4000,0 4000,3000 0,3000</p></r>"
        "<r n='x'><p>4100,0 9000,0 9000,3000 4100,3000</p></r></f>",
        repr({"rooms": ROOMS}),
    ],
    ids=["json", "points as texts", "texts", "quoted", "pretty", "elements", "python"],
)  # fmt: skip
def test_what_was_cut_off_is_left_out(text: str) -> None:
    whole = [SQUARE, LONG]
    for end in range(1, len(text)):
        try:
            found = rings_of(parse_outlines(text[:end]))
        except OutlineError:
            continue
        assert all(ring in whole for ring in found.values()), (end, text[:end], found)


def test_an_older_outline_outlives_one_that_was_cut() -> None:
    line = json.dumps({"rooms": [{"name": "kiln", "ring": SQUARE}]})
    for end in range(20, len(line)):
        text = f"10:00:00 {line}\n10:00:01 {line.replace('4000', '5000')[:end]}"
        found = parse_outlines(text)
        assert set(found) == {"kiln"}
        assert found["kiln"].area in (12e6, 15e6)
    cut = list_candidates(text[: text.rindex("3000")])
    assert [one.chosen for one in cut] == [True, False]


# --- encodings and packing ---------------------------------------------------------------------

WORDS = json.dumps({"rooms": {"Küche": SQUARE, "Büro – groß": LONG}}, ensure_ascii=False)


@pytest.mark.parametrize(
    "data",
    [
        WORDS.encode(),
        WORDS.encode("utf-8-sig"),
        WORDS.encode("utf-16"),
        WORDS.encode("utf-16-le"),
        WORDS.encode("utf-16-be"),
        WORDS.encode("utf-32"),
        WORDS.encode("cp1252"),
        gzip.compress(WORDS.encode()),
        zlib.compress(WORDS.encode("utf-16")),
        base64.b64encode(WORDS.encode()),
        base64.encodebytes(zlib.compress(WORDS.encode())),
        zlib.compress(WORDS.encode()).hex().encode(),
        json.dumps(base64.b64encode(gzip.compress(WORDS.encode())).decode()).encode(),
        base64.b64encode(json.dumps(base64.b64encode(WORDS.encode()).decode()).encode()),
    ],
)
def test_bytes(data: bytes, tmp_path: Path) -> None:
    truth = {"Küche": SQUARE, "Büro – groß": LONG}
    assert same(parse_outlines(data), truth)
    path = tmp_path / "capture"
    path.write_bytes(data)
    assert same(read_outlines(path), truth)
    assert same(read_outlines(str(path)), truth)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(end: str) -> None:
    lines = [f"{n}: {' '.join(f'{x},{y}' for x, y in r)}" for n, r in ROOMS.items()]
    assert same(parse_outlines(end.join(lines).encode()), ROOMS)


# --- candidates --------------------------------------------------------------------------------


def test_candidates() -> None:
    text = (
        f"10:00 start\n10:01 {json.dumps({'rooms': ROOMS})}\n\n10:02 {json.dumps({'path': LONG})}"
    )
    kiln, glazing, path = list_candidates(text)
    assert (kiln.name, kiln.key, kiln.line, kiln.area) == ("kiln", "rooms.kiln", 2, 12e6)
    assert (glazing.name, glazing.chosen) == ("glazing", True)
    assert (path.key, path.line, path.chosen) == ("path", 4, False)
    np.testing.assert_array_equal(path.points, LONG)
    assert not path.points.flags.writeable
    frozen: Any = path
    with pytest.raises(AttributeError):
        frozen.name = "way"
    assert pickle.loads(pickle.dumps(kiln)).points.shape == (4, 2)
    assert list_candidates("nothing here") == ()
    assert [one.chosen for one in list_candidates(text, key="path")] == [False, False, True]


def test_the_order_and_turn_of_points_stay() -> None:
    for ring in (SQUARE, SQUARE[::-1], [SQUARE[i] for i in (2, 3, 0, 1)]):
        closed = [*ring, ring[0]]
        for points in (ring, closed, [p for p in closed for _ in range(2)]):
            assert rings_of(parse_outlines(json.dumps({"rooms": {"kiln": points}})))["kiln"] == ring


# --- what is refused ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "no room outlines were found in the text; give a text with"),
        ("hello, world", "at least three points a room"),
        ('{"rooms": []}', "no room outlines"),
        ('{"rooms": {"a": [[0, 0], [1, 0]]}}', "no room outlines"),
        ('{"rooms": {"a": [[0, 0], [1, 0], [2, 0]]}}', "encloses nothing or crosses itself"),
        ('{"rooms": {"a": [[0, 0], [9, 9], [9, 0], [0, 9]]}}', "line 1: "),
        ('{"rooms": {"a": [[0, 0], [1, 0], [1, 1]', "cut off"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x02\x00\x00\x00", "no text but a binary"),
        (b"\x00\x01\x02" * 99, "binary"),
    ],
)
def test_nothing_to_be_found(text: str | bytes, message: str) -> None:
    with pytest.raises(OutlineError, match=message):
        parse_outlines(text)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for path in (tmp_path / "none", tmp_path, "a\0b"):
        with pytest.raises(OutlineError, match="cannot read the outlines from"):
            read_outlines(path)
    (tmp_path / "notes.txt").write_text("nothing")
    with pytest.raises(OutlineError, match=r"notes\.txt: no room outlines"):
        read_outlines(tmp_path / "notes.txt")


def test_a_text_that_is_too_long(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(captures.reading, "MAX_BYTES", 2**20)
    path = tmp_path / "log"
    path.write_bytes(b"a" * (2**20 + 1))
    with pytest.raises(OutlineError, match="longer than 1 MiB; cut out"):
        read_outlines(path)


def test_neighbours_are_no_corners() -> None:
    rooms = [
        {
            "id": i,
            "x": 3000 * (i % 3),
            "y": 3000 * (i // 3),
            "next": [(i + k) % 9 for k in (1, 3, 4)],
        }
        for i in range(9)
    ]
    with pytest.raises(OutlineError, match="no room outlines were found"):
        parse_outlines(json.dumps({"rooms": rooms}))


def test_a_part_of_one_outline_is_not_the_outline() -> None:
    text = json.dumps({"outline": SQUARE, "doors": [0, 1, 2], "name": "kiln"})
    assert rings_of(parse_outlines(text)) == {"kiln": SQUARE}


def test_of_very_many_states_under_new_names_the_last_counts() -> None:
    lines = [json.dumps({"rooms": [{"name": f"take {i}", "outline": SQUARE}]}) for i in range(300)]
    assert list(parse_outlines("\n".join(lines))) == ["take 299"]
    shrinking = [[[i, 0], [4000, 0], [4000, 3000], [i, 3000]] for i in range(300)]
    lines = [json.dumps({"rooms": [{"name": f"take {x[0][0]}", "outline": x}]}) for x in shrinking]
    assert list(parse_outlines("\n".join(lines))) == ["take 299"]


def test_how_a_logger_ranks_a_line_is_no_part_of_a_key() -> None:
    text = f"10:00:00 DEBUG link.outline={json.dumps(SQUARE)}"
    assert list_candidates(text)[0].key == "link.outline"
