"""However a document was carried, it is read as it was: a property of each way of carrying one."""

from __future__ import annotations

import base64
import json

import numpy as np
import pytest

from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines

HALL = [(1200.0, 300.0), (5200.0, 300.0), (5200.0, 4100.0), (1200.0, 4100.0)]
BATH = [(5300.0, 300.0), (7900.0, 300.0), (7900.0, 2500.0), (5300.0, 2500.0)]
PLAN = {"cells": [{"title": "hall", "rim": HALL}, {"title": "bath", "rim": BATH}]}


def _is_read(text: str | bytes) -> bool:
    found = parse_outlines(text)
    rings = {name: list(polygon.exterior.coords)[:-1] for name, polygon in found.items()}
    return rings == {"hall": HALL, "bath": BATH}


@pytest.mark.parametrize("seed", range(5))
def test_chunks_of_any_lengths(seed: int) -> None:
    """RFC 9112, section 7.1: a length in hexadecimal digits, a line end, the chunk, a line end."""
    rng = np.random.default_rng(seed)
    body = json.dumps(PLAN)
    text, at = "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n", 0
    while at < len(body):
        length = int(rng.integers(16, 90))
        part = body[at : at + length]
        text += f"{len(part):x}\r\n{part}\r\n"
        at += length
    assert _is_read(f"{text}0\r\n\r\n".encode())


@pytest.mark.parametrize("length", [30, 41, 64])
def test_pieces_of_any_length(length: int) -> None:
    body = json.dumps(PLAN)
    pieces = [body[at : at + length] for at in range(0, len(body), length)]
    count = len(pieces)
    lines = [json.dumps({"no": i, "of": count, "piece": piece}) for i, piece in enumerate(pieces)]
    assert _is_read("\n".join(lines))
    assert _is_read("\n".join(f"part {i}/{count} {p}" for i, p in enumerate(pieces, 1)))


def test_a_document_behind_times_with_other_lines_between() -> None:
    lines = json.dumps(PLAN, indent=2).split("\n")
    out = []
    for i, line in enumerate(lines):
        out.append(f"2031-04-05 11:12:{i % 60:02d} plan: {line}")
        if i % 4 == 2:
            out.append(f"2031-04-05 11:12:{i % 60:02d} power: 81 % at 15230 mV")
    assert _is_read("\n".join(out))


def test_rows_of_a_dump_in_a_log() -> None:
    raw = json.dumps(PLAN).encode()
    rows = [f"{at:06x}: {raw[at : at + 16].hex(' ')}" for at in range(0, len(raw), 16)]
    assert _is_read("\n".join(["11:12:13 received", *rows, "11:12:14 done"]))


def test_what_a_change_takes_away_is_gone() -> None:
    old = json.dumps({"title": "hall", "rim": [(x + 90, y) for x, y in HALL]})
    kept = [f"+{json.dumps(cell)}" for cell in PLAN["cells"]]
    assert _is_read("\n".join(["--- a", "+++ b", "@@ -1 +1,2 @@", f"-{old}", *kept]))


@pytest.mark.parametrize("answers", [[False, True, False, False], [False, False, False, True]])
def test_an_answer_beside_a_corner_takes_no_corner_away(answers: list[bool]) -> None:
    cells = [
        {
            "title": name,
            "rim": [{"x": x, "y": y, "door": d} for (x, y), d in zip(ring, answers, strict=True)],
        }
        for name, ring in (("hall", HALL), ("bath", BATH))
    ]
    assert _is_read(json.dumps(cells))


def test_poses_alone_are_no_room() -> None:
    lines = [f"odom x={x} y={y} th=0.{i}" for i, (x, y) in enumerate(HALL)]
    with pytest.raises(OutlineError):
        parse_outlines("\n".join(lines))


@pytest.mark.parametrize(
    "mark", ["\x1b[0m", "\x1b[38;5;208m", "\x1b[1;34m", "\x1b[K", "\x1b]0;log\x07"]
)
def test_what_a_terminal_is_told_is_no_text(mark: str) -> None:
    """ECMA-48, section 5.4: control sequences; in a quoted text they may be escaped."""
    lines = [f"{mark}area {mark}{c['title']}{mark}: {mark}{c['rim']}{mark}" for c in PLAN["cells"]]
    assert _is_read("\r\n".join(lines))
    assert _is_read("\n".join(json.dumps({"log": line}) for line in lines))
    assert _is_read(json.dumps(PLAN, indent=1).replace('"', f'{mark}"'))


PREFIXES = {
    "clock": "2031-02-03 10:00:{at:02d}.{more} got ",
    "arrow": "10:00:{at:02d}.{more} -> ",
    "number": "[{at:06d}] <- ",
    "count": "10:00:{at:02d} part {at}/{count} size={size}: ",
}


@pytest.mark.parametrize("quote", ["", "'"])
@pytest.mark.parametrize("length", [48, 61, 90])
@pytest.mark.parametrize("prefix", PREFIXES)
def test_pieces_of_one_length_behind_the_same_words(prefix: str, length: int, quote: str) -> None:
    body = json.dumps(PLAN)
    pieces = [body[at : at + length] for at in range(0, len(body), length)]
    lines = [
        PREFIXES[prefix].format(at=at, more=at * 37 % 900 + 100, count=len(pieces), size=len(piece))
        + f"{quote}{piece}{quote}"
        for at, piece in enumerate(pieces, 1)
    ]
    assert _is_read("\n".join(lines)), lines
    assert _is_read("\r\n".join(["10:00:00 begin", *lines, "10:00:59 end"])), lines


def test_records_that_were_cut_do_not_go_on_in_the_next() -> None:
    records = [json.dumps({"title": c["title"], "rim": c["rim"]}) for c in PLAN["cells"]]
    lines = [
        f"10:00:01 got {records[0][:60]}",
        *(f"10:00:0{i} got {r}" for i, r in enumerate(records, 2)),
    ]
    assert _is_read("\n".join(lines))


@pytest.mark.parametrize("width", [40, 64, 76])
def test_packed_text_whose_last_line_is_short(width: int) -> None:
    for more in range(12):
        body = base64.b64encode(json.dumps(PLAN | {"note": "n" * more}).encode()).decode()
        lines = [body[at : at + width] for at in range(0, len(body), width)]
        assert _is_read("\n".join(["-----PLAN-----", *lines, "-----END-----"])), lines
