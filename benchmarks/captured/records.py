"""Records of fixed kinds, lists by number, packed YAML, texts of people, deltas."""

from __future__ import annotations

import base64
import gzip
import html
import json
import urllib.parse

from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, shrunk

__all__: list[str] = []


@captured("E")
def upper_case_record_types(rooms: Rooms, rng: Generator) -> Written:
    out = ["HDR 2.1 FLOOR 0 2032-09-01"]
    for i, (n, r) in enumerate(rooms.items()):
        out.append(f"ROM {i:03d} {n}")
        out += [f"PNT {k:03d} {x:10.1f} {y:10.1f}" for k, (x, y) in enumerate(r, 1)]
    return "\n".join([*out, "END"])


@captured("E")
def semicolon_lists_by_room_nr(rooms: Rooms, rng: Generator) -> Written:
    out = [f"R{i}={n}" for i, n in enumerate(rooms)]
    out += [
        f"R{i}_X=" + ";".join(num(x) for x, _ in r) + f"\nR{i}_Y=" + ";".join(num(y) for _, y in r)
        for i, r in enumerate(rooms.values())
    ]
    return "\n".join(out)


@captured("E")
def base64_gzip_in_yaml(rooms: Rooms, rng: Generator) -> Written:
    raw = "".join(
        f"{n}\n" + "".join(f"{num(x)};{num(y)}\n" for x, y in r) + "\n" for n, r in rooms.items()
    )
    return "kind: map\npayload: !!binary |\n" + "\n".join(
        "  " + line for line in base64.encodebytes(gzip.compress(raw.encode())).decode().split("\n")
    )


@captured("E")
def polar_noise_then_map(rooms: Rooms, rng: Generator) -> Written:
    out = [
        f"scan {k} " + " ".join(str(int(v)) for v in rng.integers(100, 4000, 40)) for k in range(6)
    ]
    out += [
        f"map room={urllib.parse.quote(n)} pts=" + ",".join(f"{num(x)},{num(y)}" for x, y in r)
        for n, r in rooms.items()
    ]
    return "\n".join(out)


@captured("E")
def list_of_dicts_python_objects(rooms: Rooms, rng: Generator) -> Written:
    return "rooms = " + repr(
        [{"name": n, "polygon": [complex(x, y) for x, y in r]} for n, r in rooms.items()]
    )


@captured("E")
def dutch_text(rooms: Rooms, rng: Generator) -> Written:
    return (
        "Opmeting begane grond\n\n"
        + "\n".join(
            f"- {n}: hoekpunten " + ", ".join(f"({num(x)} ; {num(y)})" for x, y in r)
            for n, r in rooms.items()
        )
        + "\n- niet dweilen: hoekpunten "
        + ", ".join(f"({x} ; {y})" for x, y in box(rooms, rng))
    )


@captured("E")
def japanese_log(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"10:0{i % 10}:00 情報 部屋「{n}」 座標 " + " ".join(f"({num(x)},{num(y)})" for x, y in r)
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("E")
def xml_points_with_index(rooms: Rooms, rng: Generator) -> Written:
    return (
        "<floor>"
        + "".join(
            f'<space><caption>{html.escape(n)}</caption><pts count="{len(r)}">'
            + "".join(f'<pt i="{k}">{num(x)} {num(y)}</pt>' for k, (x, y) in enumerate(r))
            + "</pts></space>"
            for n, r in rooms.items()
        )
        + "</floor>"
    )


@captured("E")
def crlf_ini_lists(rooms: Rooms, rng: Generator) -> Written:
    return (
        "\r\n".join(
            f"[room{i}]\r\nname={n}\r\nshape={' '.join(f'{num(x)},{num(y)}' for x, y in r)}\r"
            "\nfan=2\r\n"
            for i, (n, r) in enumerate(rooms.items())
        )
        + "\r\n[nogo0]\r\nshape="
        + " ".join(f"{x},{y}" for x, y in box(rooms, rng))
        + "\r\n"
    )


@captured("E")
def jsonl_snapshot_then_deltas(rooms: Rooms, rng: Generator) -> Written:
    items = list(rooms.items())
    out = [
        json.dumps(
            {
                "op": "snapshot",
                "rooms": [
                    {"id": i, "name": n, "pts": plain(shrunk(r))} for i, (n, r) in enumerate(items)
                ],
            },
            ensure_ascii=False,
        )
    ]
    out += [
        json.dumps({"op": "set", "room": {"id": i, "name": n, "pts": plain(r)}}, ensure_ascii=False)
        for i, (n, r) in enumerate(items)
    ]
    return "\n".join(out)
