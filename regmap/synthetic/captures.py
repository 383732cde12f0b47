"""Invented traffic of an invented robot, with room outlines somewhere in it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.random import Generator
from numpy.typing import ArrayLike, NDArray

__all__ = ["STYLES", "write_capture"]

Array = NDArray[np.float64]
Outlines = Mapping[str, Sequence[Array]]
Version = tuple[str, list[Array]]


def write_capture(
    outlines: Mapping[str, Sequence[ArrayLike]],
    rng: Generator,
    *,
    style: str = "log",
    decimals: int = 0,
    older: int = 2,
) -> str:
    """Text that holds the outlines among other things, as a user may have recorded it.

    `outlines`: name -> rings, the outer one first, each (N, 2) mm. `style`: a name of STYLES:
    "log" (outlines as pairs with semicolons, in JSON, in log lines), "escaped" (JSON within a JSON
    text), "lines" (a JSON object a line, pairs as arrays), "document" (one JSON document, points as
    objects). `decimals` of the numbers. `older`: how often an outline of earlier shape comes first;
    of several outlines of one name the last is the true one. A "document" holds the last
    alone.
    """
    if style not in STYLES:
        raise ValueError(
            f"no style of captures is called {style!r}; there are: {', '.join(STYLES)}"
        )
    latest = {n: [np.asarray(r, float) for r in rings] for n, rings in outlines.items()}
    return STYLES[style](_history(latest, rng, older), decimals, rng)


def _history(latest: Mapping[str, list[Array]], rng: Generator, older: int) -> list[Version]:
    """Outlines in the order in which they were sent; the last of each name is the true one."""
    names = list(latest)
    early = [str(n) for n in rng.choice(names, older)] if names else []
    versions: list[Version] = [(n, _earlier(latest[n], rng)) for n in early]
    order = [names[i] for i in rng.permutation(len(names))]
    return versions + [(n, latest[n]) for n in order]


def _earlier(rings: list[Array], rng: Generator) -> list[Array]:
    """The outline before the robot knew the room well: smaller, and off by some 100 mm."""
    outer = rings[0]
    middle = outer.mean(axis=0)
    return [middle + rng.uniform(0.6, 0.95) * (outer - middle) + rng.normal(0, 100, 2)]


def _number(value: float, decimals: int) -> int | float:
    return round(float(value), decimals) if decimals else round(float(value))


def _pairs(ring: Array, decimals: int) -> list[list[int | float]]:
    return [[_number(x, decimals), _number(y, decimals)] for x, y in ring]


def _text(ring: Array, decimals: int) -> str:
    """x,y;x,y;..."""
    return ";".join(f"{x},{y}" for x, y in _pairs(ring, decimals))


class _Clock:
    """Rising times of day."""

    def __init__(self, rng: Generator) -> None:
        self.rng = rng
        self.now = float(rng.uniform(6, 20)) * 3600

    def tick(self) -> str:
        self.now += float(self.rng.exponential(2.0))
        hours, rest = divmod(self.now, 3600)
        minutes, seconds = divmod(rest, 60)
        return f"2025-03-{4:02d} {int(hours) % 24:02d}:{int(minutes):02d}:{seconds:06.3f}"


def _small_talk(rng: Generator) -> dict[str, object]:
    """What a robot says most of the time."""
    kind = int(rng.integers(0, 5))
    x, y = (int(v) for v in rng.integers(18000, 34000, 2))
    if kind == 0:
        return {"kind": "power", "charge": int(rng.integers(5, 101)), "docked": bool(kind)}
    if kind == 1:
        return {"kind": "pose", "at": [x, y], "heading": round(float(rng.uniform(-180, 180)), 1)}
    if kind == 2:
        steps = rng.normal(0, 60, (int(rng.integers(2, 30)), 2)).cumsum(axis=0) + np.array([x, y])
        return {"kind": "trace", "track": ";".join(f"{int(a)},{int(b)}" for a, b in steps)}
    if kind == 3:
        return {"kind": "note", "text": str(rng.choice(["bin full", "brush ok", "wheel slip"]))}
    return {"kind": "tick", "sequence": int(rng.integers(0, 1 << 20))}


def _area(version: Version, number: int, decimals: int) -> dict[str, object]:
    name, rings = version
    area: dict[str, object] = {"kind": "area", "id": number, "label": name}
    area["outline"] = _text(rings[0], decimals)
    if len(rings) > 1:
        area["cutouts"] = [_text(r, decimals) for r in rings[1:]]
    return area


def _chatter(rng: Generator) -> list[dict[str, object]]:
    return [_small_talk(rng) for _ in range(int(rng.integers(0, 5)))]


def _log(history: list[Version], decimals: int, rng: Generator) -> str:
    clock, lines = _Clock(rng), []
    ids = {name: k for k, name in enumerate(dict(history))}
    for version in history:
        for talk in [*_chatter(rng), _area(version, ids[version[0]], decimals)]:
            level = str(rng.choice(["INFO", "DEBUG"]))
            body = json.dumps(talk, separators=(",", ":"), ensure_ascii=False)
            lines.append(f"{clock.tick()} {level:5s} link: got {len(body)} bytes {body}")
        if rng.random() < 0.2:
            lines.append(f"{clock.tick()} WARN  link: no answer in 1.5 s, asking again")
    return "\n".join(lines) + "\n"


def _escaped(history: list[Version], decimals: int, rng: Generator) -> str:
    clock, lines = _Clock(rng), []
    ids = {name: k for k, name in enumerate(dict(history))}
    for version in history:
        for talk in [*_chatter(rng), _area(version, ids[version[0]], decimals)]:
            body = json.dumps(talk, ensure_ascii=False)
            lines.append(json.dumps({"when": clock.tick(), "channel": "home/floor", "body": body}))
    return "\n".join(lines) + "\n"


def _lines(history: list[Version], decimals: int, rng: Generator) -> str:
    lines = []
    for name, rings in history:
        area = {"area": name, "outline": [_pairs(r, decimals) for r in rings]}
        lines += [json.dumps(talk, ensure_ascii=False) for talk in (*_chatter(rng), area)]
    return "\n".join(lines) + "\n"


def _document(history: list[Version], decimals: int, rng: Generator) -> str:
    areas = []
    for name, rings in dict(history).items():
        points = [{"x": x, "y": y} for x, y in _pairs(rings[0], decimals)]
        area: dict[str, object] = {"label": name, "outline": points}
        if len(rings) > 1:
            area["cutouts"] = [
                [{"x": x, "y": y} for x, y in _pairs(r, decimals)] for r in rings[1:]
            ]
        areas.append(area)
    state = {"charge": int(rng.integers(5, 101)), "pose": {"x": 25000, "y": 25000, "heading": 90}}
    return json.dumps({"unit": "mm", "state": state, "areas": areas}, indent=1, ensure_ascii=False)


STYLES: dict[str, Callable[[list[Version], int, Generator], str]] = {
    "log": _log,
    "escaped": _escaped,
    "lines": _lines,
    "document": _document,
}
