"""Outlines out of texts: how many spellings are read right, and time against reading the file.

The spellings were seen while the reader was made, and so were the sets A to P of `captured`, after
each was read once; that package says what was read then. `drawn` is put together anew by the seed.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from shapely import Polygon

from benchmarks import spellings_more
from benchmarks.captured import CAPTURES, drawn
from benchmarks.report import Report, Table
from benchmarks.settings import Settings
from benchmarks.spellings import SPELLINGS, Rooms, clock
from regmap.errors import OutlineError
from regmap.inputs.captures import parse_outlines, read_outlines
from regmap.synthetic import floors, outlines

assert spellings_more  # its spellings enter the list when it is loaded

__all__ = ["judge", "made_rooms", "run", "write_log"]

NAMES = (
    "Küche", "Living room", "Bad", "Room 2", "Flur", "Séjour", "Büro 1.OG", "guest WC", "Room 10",
    "Kinderzimmer", "Diele", "office", "Abstellraum", "Zimmer 3", "Wintergarten", "hobby",
)  # fmt: skip
FLOORS = ((4, 0.0, 0.0), (8, 50.0, 0.0), (14, 0.0, 7.0))
"""Rooms, cell size in mm, and noise in mm of the three floors."""

DRAWN, DRAWN_QUICK = 300, 30
"""Captures put together at random."""

LOG_MIB = (5, 10, 20, 40)


def run(settings: Settings, _runs: object) -> Report:
    """Read every spelling of three floors, then time logs of growing size."""
    rows: list[list[str | float | int | None]] = []
    right = 0
    for name, write in SPELLINGS.items():
        verdicts = []
        for number in range(len(FLOORS)):
            rooms = made_rooms(settings.seed, number)
            text = write(rooms, np.random.default_rng([settings.seed, number]))
            verdicts.append(judge(rooms, text))
        right += verdicts.count("right")
        rows.append([name, *verdicts])
    total = len(SPELLINGS) * len(FLOORS)
    rows.append([f"read right: {right} of {total}", *([None] * len(FLOORS))])
    times = _times(settings)
    sets = _sets(settings)
    return Report(
        "captures",
        [
            Table(
                "Outlines out of texts, spelling by spelling",
                {"spelling": "", **{f"{n} rooms": "" for n, _, _ in FLOORS}},
                rows,
                "Right: every room with its name and its points in order, and nothing beyond.",
            ),
            Table(
                "Captures in sets",
                {"set": "", "captures": "d", "read right": "d", "of": "d", "not right": ""},
                sets,
                "Of a floor each of 4, 8 and 14 rooms; those of the set drawn of 4 or 14 rooms.",
            ),
            Table(
                "Time of reading a log",
                {"MiB": "d", "s": ".2f", "MiB / s": ".1f", "/ splitting it into lines": ".1f"},
                times,
                "Splitting: read the file, decode it, and look at each line.",
            ),
        ],
        lambda figure: _draw(figure, times),
        {"right": right, "total": total, **{str(row[0]): row[2] for row in sets}},
    )


def _sets(settings: Settings) -> list[list[str | float | int | None]]:
    """Read the sets of `captured`: set, captures, right, read, and which were not right."""
    rows: list[list[str | float | int | None]] = []
    for which, captures in sorted(CAPTURES.items()):
        wrong = []
        for name, write in captures.items():
            for number in range(len(FLOORS)):
                rooms = made_rooms(settings.seed, number)
                made = write(rooms, np.random.default_rng([settings.seed, number]))
                text, truth = made if isinstance(made, tuple) else (made, rooms)
                wrong += [name] * (judge(truth, text) != "right")
        total = len(captures) * len(FLOORS)
        rows.append(
            [which, len(captures), total - len(wrong), total, ", ".join(sorted(set(wrong)))]
        )
    count = DRAWN_QUICK if settings.quick else DRAWN
    failed = []
    for seed in range(settings.seed, settings.seed + count):
        floor = made_rooms(settings.seed + seed % 5, 2 * (seed % 2))
        # Noise makes some rings cross themselves; what is read of those is mended.
        sound = {
            n: ring
            for n, ring in floor.items()
            if Polygon(ring).is_valid and len({*ring}) == len(ring)
        }
        text, truth = drawn.draw(seed, sound)
        failed += [str(seed)] * (judge(truth, text) != "right")
    rows.append(["drawn", count, count - len(failed), count, ", ".join(failed)])
    return rows


def made_rooms(seed: int, number: int) -> Rooms:
    """Return the outlines of a made floor, in mm, with names as people give them."""
    count, cell_mm, noise_mm = FLOORS[number]
    rng = np.random.default_rng([seed, number])
    floor = floors.make_floor(rng, rooms=count)
    device = outlines.robot_outlines(floor, rng, cell_mm=cell_mm, noise_mm=noise_mm)
    rings = [rings[0] for rings in device.rings.values()]
    names = [*NAMES, *(f"Room {i}" for i in range(20, 60))]
    return {
        name: [(float(x), float(y)) for x, y in np.round(ring, 1)]
        for name, ring in zip(names, rings, strict=False)
    }


def judge(rooms: Rooms, text: str | bytes) -> str:
    """Return "right", or what is wrong with what is read from a text."""
    try:
        found = parse_outlines(text)
    except OutlineError:
        return "nothing read"
    if set(found) != set(rooms):
        return "rooms beyond" if len(found) > len(rooms) else "names"
    return "right" if all(_same(found[name], rooms[name]) for name in rooms) else "points"


def _same(polygon: Polygon, ring: list[tuple[float, float]]) -> bool:
    points = np.array(polygon.exterior.coords[:-1])
    truth = np.array(ring)
    if points.shape != truth.shape:
        return False
    # Some are written in centimetres or metres, with so many digits.
    return any(bool(np.abs(points * scale - truth).max() <= 0.11) for scale in (1.0, 10.0, 1000.0))


def write_log(path: Path, mib: int, rooms: Rooms, rng: np.random.Generator) -> None:
    """Write a log of about `mib` MiB: mostly chatter, the rooms now and then."""
    second, written = 0, 0
    whole = json.dumps({"rooms": [{"name": n, "ring": r} for n, r in rooms.items()]})
    with path.open("w", encoding="utf-8") as file:
        while written < mib * 2**20:
            lines = []
            for _ in range(2000):
                second += 1
                x, y, load = rng.integers(-9000, 9000), rng.integers(-9000, 9000), rng.uniform()
                stamp = clock(second)
                lines.append(
                    (
                        f'{stamp} DEBUG pose {{"x": {x}, "y": {y}, "theta": {load:.3f}}}',
                        f"{stamp} INFO link rssi=-61 peer=10.0.3.17:8883 load={load:.2f}",
                        f'{stamp} DEBUG frame id={second} hash={rng.bytes(8).hex()} "ok"',
                        f"{stamp} WARN battery at {second % 100} % after {load:.1f} h",
                    )[second % 4]
                )
            lines.append(f"{stamp} INFO floor {json.dumps({'v': 1, 'data': whole})}")
            text = "\n".join(lines) + "\n"
            written += len(text)
            file.write(text)


def _times(settings: Settings) -> list[list[str | float | int | None]]:
    rooms = made_rooms(settings.seed, 1)
    rows: list[list[str | float | int | None]] = []
    with tempfile.TemporaryDirectory() as folder:
        for mib in LOG_MIB[:2] if settings.quick else LOG_MIB:
            path = Path(folder) / "capture.log"
            write_log(path, mib, rooms, np.random.default_rng(mib))
            began = time.perf_counter()
            lengths = [len(line) for line in path.read_text("utf-8").split("\n")]
            reading = time.perf_counter() - began
            assert lengths
            began = time.perf_counter()
            found: Mapping[str, Polygon] = read_outlines(path)
            seconds = time.perf_counter() - began
            if set(found) != set(rooms):
                raise RuntimeError(f"read {sorted(found)} instead of {sorted(rooms)}")
            rows.append([mib, seconds, mib / seconds, seconds / reading])
    return rows


def _draw(figure: Figure, times: list[list[str | float | int | None]]) -> None:
    axes = figure.add_subplot()
    axes.plot([float(row[0] or 0) for row in times], [float(row[1] or 0) for row in times], "o-")
    axes.set_xlabel("MiB of log")
    axes.set_ylabel("s")
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
