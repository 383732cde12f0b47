"""Outlines of a line a corner, between lines of all kinds: blocks that open and close."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import pytest

from regmap.inputs.captures import list_candidates, parse_outlines
from tests.corpus import FLOORS
from tests.test_captures import same

Ring = Sequence[tuple[float, float]]

OPEN: dict[str, Callable[[int, str, Ring], str]] = {
    "counted": lambda i, name, ring: f'surface {i} "{name}" corners={len(ring)}',
    "opened and closed": lambda i, name, _: f"opening <{name}>" if i < 0 else f"opening: {name}",
    "named alone": lambda i, name, _: f"hull of {name}",
}
CLOSE = {"opened and closed": "that is all"}
CHATTER = (
    "wlan rssi=-61 dBm",
    "at x=12 y=-77 deg=90.5",
    "motor left 0.31 right 0.32",
    "tank 71 %",
    "at x=15 y=-79 deg=91.0",
)


def lines_of(rings: Mapping[str, Ring], form: str, *, every: int) -> list[str]:
    """The lines of a log; behind each so many corners something else is said."""
    lines = ["firmware 3.1.8 of board 7"]
    said = 0
    for number, (name, ring) in enumerate(rings.items(), 40):
        lines.append(OPEN[form](number, name, ring))
        for at, (x, y) in enumerate(ring):
            lines.append(f"edge x={x} y={y}")
            if at % every == every - 1:
                lines.append(CHATTER[said % len(CHATTER)])
                said += 1
        lines += [CLOSE[form]] if form in CLOSE else []
    return lines


@pytest.mark.parametrize("every", [1, 2, 3])
@pytest.mark.parametrize("form", OPEN)
@pytest.mark.parametrize("floor", FLOORS)
def test_corners_between_other_lines(floor: str, form: str, every: int) -> None:
    rings = FLOORS[floor]
    lines = lines_of(rings, form, every=every)
    assert same(parse_outlines("\n".join(lines)), rings), lines
    logged = [f"10:00:{at % 60:02d}.{at:03d} {line}" for at, line in enumerate(lines)]
    assert same(parse_outlines("\n".join(logged)), rings), logged


def test_a_block_with_fewer_corners_than_it_tells_is_left_out() -> None:
    rings = FLOORS["three"]
    lines = lines_of(rings, "counted", every=2)
    lines = lines[: max(at for at, line in enumerate(lines) if line.startswith("edge"))]
    found = parse_outlines("\n".join(lines))
    assert same(found, dict(list(rings.items())[:-1]))
    assert sum(not one.chosen for one in list_candidates("\n".join(lines))) == 1


def test_what_follows_the_last_corner_that_is_told_is_of_something_else() -> None:
    rings = FLOORS["three"]
    lines = lines_of(rings, "counted", every=2)
    lines += ["way so far", *(f"edge x={i * 37 % 200} y={i * 91 % 300}" for i in range(30))]
    assert same(parse_outlines("\n".join(lines)), rings)


@pytest.mark.parametrize(
    "more",
    [
        "",
        " - tiles 4.9 m2",
        ", tiled",
        " area 4.9",
        " (4.9 m2)",
        " | 4.9 | 2",
        " m wet",
    ],
)
@pytest.mark.parametrize("between", [" ", " ; ", ", "])
def test_the_last_corner_stays_whatever_stands_behind_it(between: str, more: str) -> None:
    rings = FLOORS["three"]
    lines = [
        f"{name}: " + between.join(f"x={x} y={y}" for x, y in ring) + more
        for name, ring in rings.items()
    ]
    assert same(parse_outlines("\n".join(lines)), rings), lines


@pytest.mark.parametrize("numbered", ["edge {at}: x={x} y={y}", "  edge {at}: x={x} y={y} sure"])
def test_corners_with_a_number_and_a_colon(numbered: str) -> None:
    rings = FLOORS["three"]
    lines = []
    for number, (name, ring) in enumerate(rings.items(), 40):
        lines.append(f"begin of surface {number} '{name}' ({len(ring)} edges)")
        for at, (x, y) in enumerate(ring):
            lines.append(numbered.format(at=at, x=x, y=y))
        lines += [f"end of surface {number}", CHATTER[number % len(CHATTER)]]
    assert same(parse_outlines("\n".join(lines)), rings), lines
