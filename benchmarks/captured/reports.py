"""Telemetry, reports and tables in pairs, and lists beside which much else stands."""

from __future__ import annotations

import html
import json

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, stamp

__all__: list[str] = []


@captured("D")
def gateway_telemetry(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"{1990000000 + i}|tele/bot7/ROOM_{i:02d}|"
            + json.dumps(
                {"RoomName": n, "Hull": [{"px": x, "py": y} for x, y in r], "Sum": 81723 + i},
                ensure_ascii=False,
            )
        )
        out.append(
            f"{1990000000 + i}|tele/bot7/SENSOR|"
            + json.dumps({"Temp": 31.2, "Hum": 44, "Rssi": -61})
        )
    return "\n".join(out)


@captured("D")
def csv_of_walls_with_ids(rooms: Rooms, rng: Generator) -> Written:
    out = ["wall_id,room,x1,y1,x2,y2,thickness"]
    k = 0
    for n, r in rooms.items():
        for a, b in zip(r, [*r[1:], r[0]], strict=False):
            k += 1
            out.append(f"{k},{n},{num(a[0])},{num(a[1])},{num(b[0])},{num(b[1])},115")
    return "\n".join(out)


@captured("D")
def room_table_then_points_table_de(rooms: Rooms, rng: Generator) -> Written:
    out = ["Nr;Bezeichnung;Fläche m²"] + [
        f"{i + 1};{n};" + f"{rng.uniform(5, 30):.2f}".replace(".", ",") for i, n in enumerate(rooms)
    ]
    out += ["", "RaumNr;PunktNr;X;Y"]
    for i, r in enumerate(rooms.values()):
        out += [
            f"{i + 1};{k + 1};" + f"{x:.1f};{y:.1f}".replace(".", ",") for k, (x, y) in enumerate(r)
        ]
    return "\r\n".join(out).encode("cp1252")


@captured("D")
def xml_attributes_flat(rooms: Rooms, rng: Generator) -> Written:
    rows = "".join(
        f'<Raum Nr="{i}" Text="{html.escape(n)}" Anzahl="{len(r)}" '
        + " ".join(f'P{k}="{num(x)};{num(y)}"' for k, (x, y) in enumerate(r))
        + "/>"
        for i, (n, r) in enumerate(rooms.items())
    )
    return f"<Plan>{rows}</Plan>"


@captured("D")
def xml_x_y_lists(rooms: Rooms, rng: Generator) -> Written:
    return (
        "<plan>"
        + "".join(
            f"<room><title>{html.escape(n)}</title><x>{','.join(num(x) for x, _ in r)}</x><y"
            f">{','.join(num(y) for _, y in r)}</y></room>"
            for n, r in rooms.items()
        )
        + "</plan>"
    )


@captured("D")
def deep_nesting(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "resp": {
            "body": {
                "house": {
                    "levels": [
                        {
                            "level": 0,
                            "units": [
                                {
                                    "unit": {
                                        "rooms": [
                                            {
                                                "room": {
                                                    "attrs": {"name": n},
                                                    "geom": {
                                                        "outer": {
                                                            "pts": [
                                                                {"pt": {"x": x, "y": y}}
                                                                for x, y in r
                                                            ]
                                                        }
                                                    },
                                                }
                                            }
                                            for n, r in rooms.items()
                                        ]
                                    }
                                }
                            ],
                        }
                    ]
                }
            }
        }
    }
    return json.dumps(d, ensure_ascii=False)


@captured("D")
def compact_arrays(rooms: Rooms, rng: Generator) -> Written:
    return json.dumps(
        [
            3,
            [
                ["R", i, n, [v for p in plain(r) for v in p]]
                for i, (n, r) in enumerate(rooms.items())
            ],
            [
                ["N", 0, [v for p in box(rooms, rng) for v in p]],
                ["N", 1, [v for p in box(rooms, rng) for v in p]],
            ],
            [10, 20, 90],
        ],
        ensure_ascii=False,
    )


@captured("D")
def area_given_and_bbox(rooms: Rooms, rng: Generator) -> Written:
    d: dict[str, list[object]] = {"rooms": []}
    for i, (n, r) in enumerate(rooms.items()):
        a = np.array(r)
        d["rooms"].append(
            {
                "id": i,
                "bbox": [*map(float, a.min(axis=0)), *map(float, a.max(axis=0))],
                "area": 12.1,
                "center": {"x": float(a[:, 0].mean()), "y": float(a[:, 1].mean())},
                "poly": plain(r),
                "name": n,
                "neighbors": [1, 2, 3],
            }
        )
    return json.dumps(d, ensure_ascii=False)


@captured("D")
def schedule_and_map(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "schedule": [
            {"at": "08:30", "rooms": [1, 2, 3, 4, 5, 6]},
            {"at": "17:00", "rooms": [1, 2, 3]},
        ],
        "stats": {"runs": [12, 31, 22, 18, 31, 41], "area": [[1, 20.5], [2, 31.2], [3, 18.8]]},
        "map": {
            "rooms": {n: {"border": plain(r), "order": i} for i, (n, r) in enumerate(rooms.items())}
        },
    }
    return json.dumps(d, ensure_ascii=False)


@captured("D")
def log_with_areas_between(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"{stamp(i)} I map: room '{n}' {plain(r)}")
        out.append(f"{stamp(i)} I map: hazard 'h{i}' {box(rooms, rng, 300)}")
    return "\n".join(out)


@captured("D")
def log_with_types(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f'{stamp(i)} obj kind=1 label="{n}" geo={";".join(f"{num(x)},{num(y)}" for x, y in r)}'
        )
    rings = [";".join(f"{x},{y}" for x, y in box(rooms, rng)) for _ in range(3)]
    out += [f'{stamp(50 + i)} obj kind=5 label="k{i}" geo={ring}' for i, ring in enumerate(rings)]
    return "\n".join(out)


@captured("D")
def three_versions_fewer_rooms(rooms: Rooms, rng: Generator) -> Written:
    a = np.concatenate([np.array(r) for r in rooms.values()])
    x1, y0 = a[:, 0].max() + 100, a[:, 1].min()
    shed = [(x1, y0), (x1 + 2500, y0), (x1 + 2500, y0 + 2000), (x1, y0 + 2000)]

    def yam(rs: Rooms, v: int) -> str:
        return f"rev: {v}\nrooms:\n" + "".join(
            f"  - name: {n}\n    outline: {json.dumps([[float(a), float(b)] for a, b in r])}\n"
            for n, r in rs.items()
        )

    return "---\n" + yam({**rooms, "Carport": shed}, 1) + "---\n" + yam(rooms, 2)


@captured("D")
def yaml_documents_a_room(rooms: Rooms, rng: Generator) -> Written:
    return "".join(
        f"---\nroom: {n}\nvertices:\n" + "".join(f"- x: {num(x)}\n  y: {num(y)}\n" for x, y in r)
        for n, r in rooms.items()
    )


@captured("D")
def sections_x_then_y(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"[{n}]\nX = {', '.join(num(x) for x, _ in r)}\nY = {', '.join(num(y) for _, y in r)}\n"
        for n, r in rooms.items()
    )


@captured("D")
def assignment_script(rooms: Rooms, rng: Generator) -> Written:
    return (
        "\n".join(
            f"rooms['{n}'] = ["
            + ", ".join(f"({num(x)}, {num(y)})" for x, y in r)
            + f"]  # {len(r)} corners"
            for n, r in rooms.items()
        )
        + "\nstart = (0, 0)\n"
    )
