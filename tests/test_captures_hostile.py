"""Texts that are long, broken or meant to do harm: bounded work, a clear error, nothing is run."""

from __future__ import annotations

import base64
import contextlib
import gzip
import json
import random
import subprocess
import sys
import tracemalloc
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import (
    find,
    list_candidates,
    parse_outlines,
    read_outlines,
    sift,
    unpack,
)
from tests.corpus import FLOORS
from tests.test_captures import ROOMS, SQUARE, same

HOSTILE: dict[str, Callable[[int], str]] = {
    "blocks of corners": lambda n: "open a\nx=1 y=2\nx=5 y=2\nhum\nx=5 y=7\nend\n" * (n // 40),
    "blocks in blocks": lambda n: "a b\nc d\ne f\n" + "x=1 y=2\n1 2\np 3 4\nq r\n" * (n // 24),
    "back in time": lambda n: "".join(f"[{i}.5] x=1\n" for i in range(n // 12, 0, -1)),
    "open brackets": lambda n: "[" * n,
    "open and closed": lambda n: "[]" * (n // 2),
    "closed brackets": lambda n: "}" * n,
    "open objects": lambda n: '{"a":' * (n // 5),
    "mixed brackets": lambda n: "(,)[;]{" * (n // 7),
    "open words": lambda n: "(a " * (n // 3),
    "quotes": lambda n: '"' * n,
    "one quote": lambda n: '"' + "a" * n,
    "escaped quotes": lambda n: '\\"' * (n // 2),
    "quotes that never close": lambda n: '" \\" \\" ' * (n // 8),
    "apostrophes": lambda n: "'a" * (n // 2),
    "backslashes": lambda n: "\\" * n + "1",
    "names with apostrophes": lambda n: "a' b' " * (n // 6),
    "digits": lambda n: "1" * n,
    "numbers": lambda n: "1 " * (n // 2),
    "dotted numbers": lambda n: "1.1." * (n // 4),
    "words": lambda n: "ab " * (n // 3),
    "empty lines": lambda n: "\n" * n,
    "spaces": lambda n: " " * n,
    "dashes": lambda n: "- " * (n // 2),
    "list of dashes": lambda n: "- a\n" * (n // 4),
    "stairs of keys": lambda n: "\n".join(" " * i + "a:" for i in range(int((2 * n) ** 0.5))),
    "less than": lambda n: "<" * n,
    "open elements": lambda n: "<a>" * (n // 3),
    "open comments": lambda n: "<!--" * (n // 4),
    "open declarations": lambda n: "<!A [" * (n // 5),
    "attributes": lambda n: '<a b="1" ' * (n // 9),
    "entities": lambda n: "&lt;a\n" * (n // 6),
    "keys": lambda n: "a:" * (n // 2),
    "assignments": lambda n: "a=1 " * (n // 4),
    "dotted keys": lambda n: "\n".join(f"a{i}.b.c=1" for i in range(n // 11)),
    "headings": lambda n: "== a ==\n" * (n // 8),
    "column names": lambda n: "x,y\n" * (n // 4),
    "two points": lambda n: "[1,2] [3,4] x " * (n // 14),
    "joined numbers": lambda n: "1:2 3:4 " * (n // 8),
    "cut lines": lambda n: '{"rooms":[{"a":"b","ring":[[0,0],[1,\n' * (n // 38),
    "percent": lambda n: "%5B" * (n // 3),
    "stars": lambda n: "*a &b " * (n // 6),
    "rows": lambda n: "\n".join(f"r{i // 50} {i} {i % 7}" for i in range(n // 12)),
    "rooms": lambda n: json.dumps([{"ring": [[i, 0], [i + 1, 0], [i, 1]]} for i in range(n // 44)]),
    "one name": lambda n: json.dumps([["r", [[i, 0], [i, 1], [0, 1]]] for i in range(n // 40)]),
    "way": lambda n: json.dumps([[i * i % 97, i * i * i % 89] for i in range(n // 8)]),
}  # fmt: skip


def read(text: str | bytes) -> int:
    try:
        return len(parse_outlines(text))
    except OutlineError:
        return 0


def calls_of(text: str) -> int:
    """How many functions are called, in Python and below it: the same on any machine."""
    count = 0

    def profile(_frame: object, event: str, _argument: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(profile)
    try:
        read(text)
    finally:
        sys.setprofile(None)
    return count


@pytest.mark.parametrize("kind", HOSTILE)
def test_work_grows_with_the_text_and_no_faster(kind: str) -> None:
    make = HOSTILE[kind]
    small, large = (calls_of(make(n)) for n in (1_000, 4_000))
    assert large <= 5.5 * small + 1_500, (small, large)


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_long_line_is_borne(kind: str) -> None:
    # Whatever takes quadratic time would take minutes here, and deep recursion would end it.
    text = HOSTILE[kind](15_000)
    tracemalloc.start()
    read(text)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 400 * len(text) + 20_000_000


SLOW: dict[str, Callable[[int], str]] = {
    "what looks like a form": lambda n: "[]" * (n // 2),
    "a form that ends badly": lambda n: "a=1&" * (n // 4) + "b=1!",
    "numbers without spaces": lambda n: "[1]," * (n // 4),
    "empty lines": lambda n: "1 2\n" + "\n" * (10 * n),
    "backslashes": lambda n: "\\" * n,
    "equals": lambda n: "a " + "=" * n,
    "a line of dashes": lambda n: "-" * n + "a" * n,
    "apostrophes side by side": lambda n: "''x" * (n // 3),
    "subscripts": lambda n: "a[1]" * (n // 4),
    "joined numbers that end badly": lambda n: "1:2 " * (n // 4) + "1:2a",
    "spaces in a quoted text": lambda n: '"' + " " * n + 'a\n b"',
    "quoted lines": lambda n: '["a"\n' + ' "aaaaaaaaaaaa"\n' * (n // 16),
    "keys that never end a line": lambda n: '{"a":' * (10 * n),
    "strings over lines": lambda n: "[\n" + '"a",\n' * (n // 5),
    "words and two numbers": lambda n: "ab 1 2 " * (n // 7),
    "lists under many keys": lambda n: json.dumps({f"k{i}": [i] for i in range(n // 12)}),
}


@pytest.mark.parametrize("kind", SLOW)
def test_no_text_takes_quadratic_time(kind: str) -> None:
    # Where a pattern goes over a text again and again, this does not end.
    assert read(SLOW[kind](40_000)) == 0


def test_a_ring_of_very_many_corners_is_refused_for_that() -> None:
    turns = np.linspace(0, 2 * np.pi, 20_001, endpoint=False)
    ring = np.column_stack([np.cos(turns), np.sin(turns)]).round(6).tolist()
    assert len(parse_outlines(json.dumps({"room": ring[:-1]}))) == 1
    with pytest.raises(OutlineError, match=r"20001 points, more than 20000$"):
        parse_outlines(json.dumps({"room": ring}))


def test_hexadecimal_digits_are_read_in_memory_for_them_alone() -> None:
    """A pattern that may go back one pair at a time remembers each: 60 times the text."""
    used = "resource.getrusage(resource.RUSAGE_SELF).ru_maxrss"
    code = (
        "import resource\n"
        "from regmap.inputs.captures.unpack import Budget, unpacked\n"
        f"text = '1e' * 1_500_000; before = {used}; unpacked(text, Budget())\n"
        f"print(({used} - before) * 1024 / len(text))"
    )
    assert float(subprocess.check_output([sys.executable, "-c", code])) < 20


def test_deep_keys_are_borne() -> None:
    assert read("a." * 20_000 + "b: 1") == 0
    assert read("a/" * 20_000 + "b: 1") == 0


def test_the_caller_may_allow_more_parts() -> None:
    text = json.dumps({"rooms": ROOMS})
    with pytest.raises(OutlineError, match=r"more than 10 parts; cut out .* most_parts="):
        parse_outlines(text, most_parts=10)
    assert same(parse_outlines(text, most_parts=1000), ROOMS)


@pytest.mark.parametrize("most", [0, -1, 2.5, "many", True])
def test_a_limit_of_parts_is_a_whole_number(most: Any) -> None:
    with pytest.raises(OutlineError, match=r"most_parts is .* whole number above zero"):
        parse_outlines("", most_parts=most)


def test_too_many_sequences_of_points(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(find, "MOST_STEPS", 100)
    with pytest.raises(OutlineError, match=r"sequences of points or more.*cut out the part"):
        parse_outlines(HOSTILE["rooms"](4_000))


def test_nested_quotes_end() -> None:
    text = json.dumps({"rooms": ROOMS})
    for _ in range(12):
        text = json.dumps({"a": text})
    assert read(text) == 0
    text = json.dumps({"rooms": ROOMS})
    for _ in range(4):
        text = json.dumps({"a": text})
    assert same(parse_outlines(text), ROOMS)


def test_entities_of_a_document_are_not_expanded() -> None:
    lines = ['<!DOCTYPE f [<!ENTITY a "ha">']
    lines += [
        f'<!ENTITY {chr(97 + i)} "{"&" + chr(96 + i) + ";"}{10 * "x"}">' for i in range(1, 12)
    ]
    points = " ".join(f"{x},{y}" for x, y in SQUARE)
    text = "".join(lines) + f']><f><r name="&l;"><p>{points}</p></r></f>'
    assert list(parse_outlines(text)) == ["&l;"]
    outside = '<!DOCTYPE f [<!ENTITY x SYSTEM "file:///etc/hostname">]><f><r><n>&x;</n>'
    assert list(parse_outlines(f"{outside}<p>{points}</p></r></f>")) in (["&x;"], ["room 1"])


def bomb(size: int) -> str:
    return base64.b64encode(zlib.compress(b"0 " * (size // 2), 9)).decode()


def test_packed_parts_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unpack, "MAX_UNPACKED", 200_000)
    rooms = json.dumps({"rooms": ROOMS})
    data = json.dumps({"data": bomb(20_000_000)})
    tracemalloc.start()
    with pytest.raises(OutlineError, match="a packed part was left out"):
        parse_outlines(data)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 5_000_000
    text = json.dumps({"a": bomb(20_000_000), "b": bomb(20_000_000)}) + "\n" + rooms
    assert same(parse_outlines(text), ROOMS)
    inner = base64.b64encode(zlib.compress(bomb(20_000_000).encode())).decode()
    assert read(json.dumps({"data": inner})) == 0
    small = [json.dumps({"rooms": ROOMS}), *(bomb(90_000) for _ in range(5))]
    assert read("\n".join(small)) == 2
    monkeypatch.setattr(unpack, "MAX_UNPACKED_FILE", 10_000)
    with pytest.raises(OutlineError, match="the file unpacks to more than"):
        parse_outlines(gzip.compress(b"0 " * 6_000))


def test_too_many_parts() -> None:
    with pytest.raises(OutlineError, match="more than 1000 parts; cut out"):
        parse_outlines(json.dumps({f"k{i}": i for i in range(2000)}), most_parts=1000)


@pytest.mark.parametrize("name", ["BB's", "B's", "Bo's", "u'r"])
def test_a_name_with_an_apostrophe_is_no_literal(name: str) -> None:
    rooms = {name: "0,0 9,0 9,7 0,7", "hall": "9,0 19,0 19,7 9,7"}
    text = "".join(f"- title: {name}\n  ring: {ring}\n" for name, ring in rooms.items())
    assert list(parse_outlines(text)) == list(rooms)


def test_text_is_never_run() -> None:
    points = repr([tuple(p) for p in SQUARE])
    for text in (
        f"{{'a': __import__('os').system('false'), 'kiln': {points}}}",
        f"!!python/object/apply:os.system ['false']\nkiln: {points}",
        f"{{'kiln': {points}, 'b': exec('raise SystemExit')}}",
        f"kiln: {points} # $(false) `false`",
    ):
        assert [room.area for room in parse_outlines(text).values()] == [12e6]


def test_random_bytes_and_pieces_of_the_corpus() -> None:
    rng = random.Random(7)
    pieces = [
        *map(chr, range(32, 127)),
        "\n",
        "\n  ",
        '"',
        '\\"',
        "[0, 0]",
        "x=1",
        "name",
        "<a>",
        "&lt;",
    ]
    for _ in range(300):
        text = "".join(rng.choices(pieces, k=rng.randrange(1, 120)))
        read(text)
        with contextlib.suppress(OutlineError):
            list_candidates(rng.randbytes(rng.randrange(200)))


# --- long logs ---------------------------------------------------------------------------------


def log_of(rng: random.Random, count: int) -> list[str]:
    lines = []
    for i in range(count):
        clock = f"2031-04-02 {i // 3600 % 24:02d}:{i // 60 % 60:02d}:{i % 60:02d}"
        lines.append(
            rng.choice(
                [
                    f'{clock} DEBUG pose {{"x": {rng.randrange(999)}, "y": {rng.randrange(999)}}}',
                    f"{clock} INFO link rssi=-61 peer=10.0.3.17:8883 load={rng.random():.2f}",
                    f"{clock} DEBUG frame hash={rng.randbytes(8).hex()} ok",
                    f"{clock} WARN battery at {i % 100} % after {rng.random():.1f} h",
                ]
            )
        )
    return lines


@pytest.mark.parametrize("floor", FLOORS)
def test_a_long_log_reads_as_a_short_one(
    floor: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sift, "SMALLEST", 2**17)
    rng = random.Random(3)
    rings = FLOORS[floor]
    lines = log_of(rng, 4_000)
    for name, ring in rings.items():
        message = json.dumps({"room": {"title": name, "ring": ring}})
        older = json.dumps({"room": {"title": name, "ring": [[x + 1, y] for x, y in ring]}})
        lines.insert(rng.randrange(1_900), f"2031-04-02 10:00:00 INFO state {older}")
        lines.insert(rng.randrange(2_500, len(lines)), f"2031-04-02 10:00:01 INFO state {message}")
    text = "\n".join(lines)
    assert len(text) > sift.SMALLEST
    path = tmp_path / "capture.log"
    path.write_text(text)
    found = read_outlines(path)
    assert same(found, rings)
    for one in list_candidates(text):
        if one.chosen:
            assert json.dumps(one.name) in lines[one.line - 1]


def test_what_a_long_log_says_apart_from_the_outlines_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sift, "SMALLEST", 2**17)
    rng = random.Random(5)
    lines = log_of(rng, 4_000)
    for i, (name, ring) in enumerate(ROOMS.items()):
        table = json.dumps({"rooms": [{"id": i, "name": name}]})
        lines.insert(rng.randrange(len(lines)), f"2031-04-02 10:00:00 INFO names {table}")
        shape = json.dumps({"room_id": i, "ring": ring})
        lines.insert(rng.randrange(len(lines)), f"2031-04-02 10:00:00 INFO shape {shape}")
    lines.append("2031-04-02 10:00:00 INFO done")
    assert same(parse_outlines("\n".join(lines)), ROOMS)


def test_a_long_document_is_not_sifted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sift, "SMALLEST", 1)
    rings = FLOORS["six"]
    rooms = [{"name": n, "outline": r, "note": "x" * 60} for n, r in rings.items()]
    for text in (
        json.dumps({"rooms": rooms}, indent=1),
        json.dumps({"rooms": rooms}),
        "room,x,y\n" + "\n".join(f"{n},{x},{y}" for n, r in rings.items() for x, y in r),
        "".join(f"# {n}\n" + "".join(f"{x} {y}\n" for x, y in r) + "\n" for n, r in rings.items()),
    ):
        assert same(parse_outlines(text), rings)


def test_of_records_that_are_alike_the_newest_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sift, "SMALLEST", 1)
    monkeypatch.setattr(sift, "KEPT_BYTES", 1)
    lines = [f"2031-04-02 10:00:00 ring 0,0;{i},0;{i},{i};0,{i}\n".encode() for i in range(1, 500)]
    kept = sift.sift(b"".join(lines))
    assert kept.lines == list(range(500 - sift.FEWEST, 500))
    assert kept.data == b"".join(lines[-sift.FEWEST :])


def test_of_empty_lines_in_a_row_one_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sift, "SMALLEST", 1)
    kept = sift.sift(b"hall\n" + b"\n" * 5000 + b"0,0 9,0 9,9\n \n\nend\n")
    assert kept.data == b"hall\n\n0,0 9,0 9,9\n \nend\n"
    assert kept.lines == [1, 2, 5002, 5003, 5005]


@pytest.mark.parametrize("text", ['{"a":' * 200_000, "\\" * 1_000_000, "[" * 1_000_000])
def test_a_text_without_a_number_falls_into_no_parts(text: str) -> None:
    with pytest.raises(OutlineError, match="no room outlines"):
        parse_outlines(text, most_parts=10)


def test_rows_that_begin_with_hexadecimal_digits_are_no_chunks() -> None:
    """0xADD bytes, as 121 rows of 23 bytes are, lie between rows of a room called "Add"."""
    steps = np.arange(150)
    up = np.column_stack([100 * ((steps + 1) // 2), 100 * (steps // 2)])
    back = up[::-1] + np.array([4000, -4000])
    ring = np.concatenate([up, back]) - 10000
    rows = [f"Add;{n:03d};{x:+06d};{y:+06d}\r\n" for n, (x, y) in enumerate(ring.tolist())]
    assert {len(row) for row in rows} == {23}
    found = parse_outlines("room;nr;x;y\r\n" + "".join(rows))
    assert list(found) == ["Add"]
    assert len(found["Add"].exterior.coords) == len(ring) + 1
