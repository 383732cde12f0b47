"""Single rooms that a message changes by number alone, and spellings beside which they were found.

Flags and numbers under one kind of key, names with commas, columns of all rooms, decimal commas.
"""

from __future__ import annotations

import json

from numpy.random import Generator

from benchmarks.captured.parts import (
    Ring,
    Rooms,
    Written,
    box,
    captured,
    dump,
    named,
    num,
    plain,
    shrunk,
    stamp,
)

__all__: list[str] = []

LISTED = (
    "Cuisine, côté cour", "Mum's Study", "Coin lecture 📚", "Bath & Loo", "Séjour d'été",
    "Schlafzimmer, Süd", "Gäste-WC", "Chambre à coucher", "Pantry", "Entrée, bas", "Cellier",
    "Véranda", "Hall & Bar", "Bureau",
)  # fmt: skip


def _before(rooms: Rooms) -> tuple[dict[str, Ring], str]:
    """The rooms with one of them as it was before, and that one's name."""
    name = list(rooms)[len(rooms) // 2]
    return {n: shrunk(r) if n == name else r for n, r in rooms.items()}, name


def _by_number(rooms: Rooms) -> list[dict[str, object]]:
    return [{"id": 11 + 3 * k, "name": n, "outline": r} for k, (n, r) in enumerate(rooms.items())]


def _number(rooms: Rooms, name: str) -> int:
    return 11 + 3 * list(rooms).index(name)


# --- changes by number ----------------------------------------------------------------------------


@captured("O")
def one_room_by_its_number(rooms: Rooms, rng: Generator) -> Written:
    before, name = _before(rooms)
    change = {"roomId": _number(rooms, name), "outline": rooms[name]}
    return f"{stamp(1)} all {dump(_by_number(before))}\n{stamp(2)} one {dump(change)}\n"


@captured("O")
def one_room_of_a_table(rooms: Rooms, rng: Generator) -> Written:
    before, name = _before(rooms)
    every = {str(own["id"]): own for own in _by_number(before)}
    change = {"rooms": {str(_number(rooms, name)): {"outline": rooms[name]}}}
    return f"{stamp(1)} SNAP {dump({'rooms': every})}\n{stamp(2)} UPD {dump(change)}\n"


@captured("O")
def a_patch_by_key(rooms: Rooms, rng: Generator) -> Written:
    before, name = _before(rooms)
    every = {str(own["id"]): own for own in _by_number(before)}
    way = f"/rooms/{_number(rooms, name)}/outline"
    patch = [
        {"op": "replace", "path": "/battery", "value": 81},
        {"op": "replace", "path": way, "value": rooms[name]},
    ]
    return f"{dump({'rooms': every, 'battery': 82})}\n{dump(patch)}\n"


@captured("O")
def a_patch_by_place(rooms: Rooms, rng: Generator) -> Written:
    before, name = _before(rooms)
    way = f"/rooms/{list(rooms).index(name)}/outline"
    patch = {"op": "replace", "path": way, "value": rooms[name]}
    return f"{dump({'rooms': _by_number(before)})}\n{dump(patch)}\n"


@captured("O")
def a_topic_a_room(rooms: Rooms, rng: Generator) -> Written:
    before, name = _before(rooms)
    way = f"bot/rooms/{_number(rooms, name)}/outline"
    return (
        f"{stamp(1)} bot/rooms {dump({'rooms': _by_number(before)})}\n"
        f"{stamp(2)} {way} {dump(rooms[name])}\n"
        f"{stamp(3)} bot/state {dump({'battery': 77})}\n"
    )


@captured("O")
def hulls_by_number(rooms: Rooms, rng: Generator) -> Written:
    """What is no outline under its key changes none."""
    hulls = [{"id": 11 + 3 * k, "hull": shrunk(r)} for k, r in enumerate(rooms.values())]
    return f"{dump({'rooms': _by_number(rooms)})}\n{dump({'hulls': hulls})}\n"


# --- flags and numbers ----------------------------------------------------------------------------


@captured("O")
def zones_from_one_on(rooms: Rooms, rng: Generator) -> Written:
    """A number under a word for other things is no answer, even if it is 1."""
    zones = [
        {"zoneId": k, "zoneName": n, "border": [{"x": x, "y": y} for x, y in [*r, r[0]]]}
        for k, (n, r) in enumerate(rooms.items(), 1)
    ]
    lines = ["> GET /v2/floor/current HTTP/1.1", "> Accept: */*", ">", "< HTTP/1.1 200 OK", "<"]
    body = dump({"result": {"zones": zones, "pose": {"x": 812.5, "y": -33.2, "theta": 1.57}}})
    return "\r\n".join([*lines, body, "* Connection #0 left intact", ""])


@captured("O")
def answers_under_numbers(rooms: Rooms, rng: Generator) -> Written:
    """Of things in one list some are said to be forbidden, by 1."""
    areas = [{"title": n, "forbidden": 0, "ring": r} for n, r in rooms.items()] + [
        {"title": "plants", "forbidden": 1, "ring": box(rooms, rng)}
    ]
    return json.dumps({"areas": areas}, indent=1)


# --- columns of all rooms -------------------------------------------------------------------------


@captured("O")
def columns_of_all_rooms(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, LISTED)
    return dump(
        {
            "names": list(truth),
            "xs": [[x for x, _ in r] for r in truth.values()],
            "ys": [[y for _, y in r] for r in truth.values()],
            "battery": [88, 87, 87],
        }
    ), truth


@captured("O")
def columns_with_numbers_and_areas(rooms: Rooms, rng: Generator) -> Written:
    columns = {
        "id": list(range(1, len(rooms) + 1)),
        "y": [[y for _, y in r] for r in rooms.values()],
        "x": [[x for x, _ in r] for r in rooms.values()],
        "area": [round(float(a), 2) for a in rng.uniform(3, 30, len(rooms))],
        "label": list(rooms),
    }
    lines = [f"{key}: {dump(value)}" for key, value in columns.items()]
    return "\n".join(["floor:", *(f"  {line}" for line in lines), "dock: [120, 340]"])


# --- names with commas ----------------------------------------------------------------------------


@captured("O")
def headings_with_commas(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, LISTED)
    lines = []
    for n, r in truth.items():
        rows = [f"[{x / 1000: .6e} {y / 1000: .6e}]" for x, y in r]
        lines += [f"{n}:", "[" + "\n ".join(rows) + "]"]
    return "\n".join(lines), truth


@captured("O")
def printed_arrays_with_commas(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, LISTED)

    def told(value: object, depth: int = 0) -> str:
        blank = " " * 8 * depth
        if not isinstance(value, dict):
            return str(value)
        rows = (f"{blank}    [{k}] => {told(v, depth + 1)}\n" for k, v in value.items())
        return f"Array\n{blank}(\n{''.join(rows)}{blank})\n"

    listed = {
        k: {"id": k + 4, "name": n, "points": dict(enumerate({"x": x, "y": y} for x, y in r))}
        for k, (n, r) in enumerate(truth.items())
    }
    return told({"status": "ok", "rooms": listed}), truth


# --- rows of sheets -------------------------------------------------------------------------------


def _commas(ring: Ring) -> str:
    return ";".join(f"{v / 10:.2f}".replace(".", ",") for p in ring for v in p)


@captured("O")
def a_row_a_room_with_decimal_commas(rooms: Rooms, rng: Generator) -> Written:
    truth = named(rooms, LISTED)
    most = max(map(len, truth.values()))
    rows = ["Nr;Name;" + ";".join(f"X{k};Y{k}" for k in range(1, most + 1))]
    for k, (n, r) in enumerate(truth.items(), 1):
        name = '"' + n.replace('"', '""') + '"' if '"' in n else n
        rows.append(f"{k};{name};{_commas(r)}" + ";;" * (most - len(r)))
    return ("\r\n".join(rows) + "\r\n").encode("utf-8-sig"), truth


@captured("O")
def rows_with_decimal_commas_alone(rooms: Rooms, rng: Generator) -> Written:
    rows = [f"{k};{n};{_commas(r)}" for k, (n, r) in enumerate(rooms.items(), 101)]
    return "\r\n".join(rows) + "\r\n"


@captured("O")
def corners_numbered_in_every_room(rooms: Rooms, rng: Generator) -> Written:
    lines = ["Report of 3 March 2034", "All lengths in metres.", ""]
    for k, (n, r) in enumerate(rooms.items(), 1):
        lines += [f"{k}. {n}", f"   area: {rng.uniform(3, 30):.1f} m2, floor type: wood"]
        lines += [
            f"   P{j}: x = {num(x / 1000)} m, y = {num(y / 1000)} m"
            for j, (x, y) in enumerate(plain(r), 1)
        ]
        lines.append("")
    return "\n".join(lines)
