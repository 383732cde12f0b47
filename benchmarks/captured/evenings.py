"""What a house says all day: chatter of many sources, odd names, older and newer shapes.

Names come apart from outlines, later or by number; other things on the floor look like rooms.
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
    px,
    shrunk,
    stamp,
    two,
    walk,
)

__all__: list[str] = []

_ODD = (
    "Nook & Bar", "Essen (offen)", "K-07", "L'entrée", "Погреб", "書斎", "Gast WC 2", "Dock 9",
    "Änne", "Long Corridor", "Pet's corner", "A", "Öl-Lager", "Hobby/Sport",
)  # fmt: skip
_CHATTER = (
    "wifi: rssi -58 dBm, channel 11, 192.168.7.31",
    "motor: left 811 rpm, right 809 rpm, brush 1402 rpm",
    "imu: 0.02 -0.01 9.81 temp 41.5",
    "battery: 15230 mV, -812 mA, 81 %",
    "lidar: 360 rays, 12 ms, min 182 max 5120",
)


def _text(ring: Ring, apart: str, between: str) -> str:
    return between.join(f"{num(x)}{apart}{num(y)}" for x, y in ring)


def _mixed(lines: list[str], every: int = 3) -> str:
    """Lines of a log with chatter in between."""
    out: list[str] = []
    for i, line in enumerate(lines):
        out.append(line)
        if i % every == every - 1:
            out.append(_CHATTER[i // every % len(_CHATTER)])
    return "\n".join(f"[{stamp(i)}] {line}" for i, line in enumerate(out))


@captured("K")
def odd_names_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, _ODD)
    return _mixed([f'area "{n}" -> {_text(r, ",", " ")}' for n, r in odd.items()], 1), odd


@captured("K")
def odd_names_without_quotes(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, _ODD)
    return "\n".join(f"{n}: {_text(r, '/', ' ')}" for n, r in odd.items()), odd


@captured("K")
def odd_names_as_keys(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, _ODD)
    return dump({"plan": {n: {"rim": plain(r), "fan": 2} for n, r in odd.items()}}), odd


@captured("K")
def odd_names_in_a_table(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, _ODD)
    rows = [f"{n}|{i}|{num(x)}|{num(y)}" for n, r in odd.items() for i, (x, y) in enumerate(r)]
    return "\n".join(["cell|k|x|y", *rows]), odd


@captured("K")
def odd_names_as_elements(rooms: Rooms, rng: Generator) -> Written:
    odd = named(rooms, _ODD)
    rows = [
        f"<cell><called>{n.replace('&', '&amp;')}</called><rim>{_text(r, ' ', ', ')}</rim></cell>"
        for n, r in odd.items()
    ]
    return f"<plan rev='12'>{''.join(rows)}</plan>", odd


@captured("K")
def names_told_later_by_number(rooms: Rooms, rng: Generator) -> Written:
    lines = [f"plan cell={i} rim={_text(r, ',', ';')}" for i, r in enumerate(rooms.values(), 11)]
    lines += [f'label cell={i} text="{n}"' for i, n in enumerate(rooms, 11)]
    return _mixed(lines)


@captured("K")
def names_told_before_by_number(rooms: Rooms, rng: Generator) -> Written:
    out = [dump({"topic": "labels", "labels": {str(i): n for i, n in enumerate(rooms, 11)}})]
    out += [
        dump({"topic": "cell", "no": i, "rim": plain(r)}) for i, r in enumerate(rooms.values(), 11)
    ]
    return "\n".join(out)


@captured("K")
def names_in_a_list_beside(rooms: Rooms, rng: Generator) -> Written:
    return dump({"titles": [*rooms], "rims": [plain(r) for r in rooms.values()], "rev": 12})


@captured("K")
def one_room_renamed(rooms: Rooms, rng: Generator) -> Written:
    first, *others = rooms
    before = {"old den": rooms[first], **{n: rooms[n] for n in others}}
    out = [
        dump(
            {
                "rooms": [
                    {"id": i, "name": n, "rim": plain(r)} for i, (n, r) in enumerate(before.items())
                ]
            }
        )
    ]
    out.append(dump({"event": "room", "room": {"id": 0, "name": first}}))
    return "\n".join(f"{stamp(i)} {line}" for i, line in enumerate(out))


@captured("K")
def one_room_shaped_anew(rooms: Rooms, rng: Generator) -> Written:
    first = next(iter(rooms))
    out = [
        f"{stamp(0)} full "
        + dump(
            [{"called": n, "rim": plain(shrunk(r) if n == first else r)} for n, r in rooms.items()]
        )
    ]
    out += [f"{stamp(k)} beat {dump({'pct': 90 - k, 'mv': 15000 - k})}" for k in range(1, 5)]
    out.append(f"{stamp(9)} delta " + dump({"called": first, "rim": plain(rooms[first])}))
    return "\n".join(out)


@captured("K")
def screen_and_floor(rooms: Rooms, rng: Generator) -> Written:
    cells = [{"t": n, "screen": px(r), "floor": plain(r)} for n, r in rooms.items()]
    return dump({"cells": cells, "zoom": 1.25, "offset": [400, 300]})


@captured("K")
def bounds_beside_outlines(rooms: Rooms, rng: Generator) -> Written:
    cells = []
    for n, r in rooms.items():
        xs, ys = [p[0] for p in r], [p[1] for p in r]
        low, high = [min(xs), min(ys)], [max(xs), max(ys)]
        frame = [low, [high[0], low[1]], high, [low[0], high[1]]]
        cells.append(
            {
                "called": n,
                "frame": frame,
                "centre": [sum(xs) / len(xs), sum(ys) / len(ys)],
                "rim": plain(r),
            }
        )
    return dump({"cells": cells})


@captured("K")
def furniture_within_rooms(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {
            "called": n,
            "rim": plain(r),
            "stuff": [{"called": "sofa", "rim": box({n: r}, rng, 400.0)}],
        }
        for n, r in rooms.items()
    ]
    return dump({"level": {"no": 0, "cells": cells, "gates": [two(rooms, rng), two(rooms, rng)]}})


@captured("K")
def scans_and_paths_around(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for k, (n, r) in enumerate(rooms.items()):
        out.append(f"scan {k}: " + " ".join(str(v) for v in rng.integers(200, 4000, 24)))
        out.append(f"trail {k}: " + " ".join(f"{x},{y}" for x, y in walk(rooms, rng, 12)))
        out.append(f"cell {n}: {_text(r, ',', ' ')}")
    return "\n".join(out)


@captured("K")
def grouped_by_level(rooms: Rooms, rng: Generator) -> Written:
    out = ["house:", "  levels:", "    - label: ground", "      cells:"]
    for n, r in rooms.items():
        out += [f"        - label: {json.dumps(n, ensure_ascii=False)}", "          rim:"]
        out += [f"            - [{num(x)}, {num(y)}]" for x, y in r]
    return "\n".join([*out, "      dock: [12, 40]", "  rev: 12"])


@captured("K")
def metres_with_units(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n}: " + ", ".join(f"({x / 1000:.4f} m, {y / 1000:.4f} m)" for x, y in r)
        for n, r in rooms.items()
    )


@captured("K")
def exponents(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        {
            "cells": [
                {"called": n, "rim": "; ".join(f"{x:.5e} {y:.5e}" for x, y in r)}
                for n, r in rooms.items()
            ]
        }
    )


@captured("K")
def grouped_digits(rooms: Rooms, rng: Generator) -> Written:
    out = ["cell;corner;east (mm);north (mm)"]
    for n, r in rooms.items():
        out += [f"{n};{i};{x:,.1f};{y:,.1f}" for i, (x, y) in enumerate(r, 1)]
    return "\n".join(out)


@captured("K")
def sentences_in_german(rooms: Rooms, rng: Generator) -> Written:
    out = ["Bericht vom 5. April 2031, 11:12 Uhr. Akku 81 %, Laufzeit 47 min."]
    out += [f"Der Raum „{n}“ hat die Ecken {_text(r, ' / ', ', ')}." for n, r in rooms.items()]
    return "\n".join([*out, "Sperrlinie von 100 / 200 bis 900 / 200."])


@captured("K")
def sentences_in_french(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        corners = " puis ".join(f"({num(x)} ; {num(y)})" for x, y in r)
        out.append(f"- Pièce « {n} » : {len(r)} coins, soit {corners}.")
    return "\n".join(out)


@captured("K")
def wrapped_at_eighty(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        line = f"cell {n} rim"
        for x, y in r:
            if len(line) > 64:
                out.append(line)
                line = "   "
            line += f" {num(x)},{num(y)}"
        out.append(line)
    return "\n".join(out)


@captured("K")
def corners_counted_in_a_log(rooms: Rooms, rng: Generator) -> Written:
    lines = []
    for i, (n, r) in enumerate(rooms.items(), 1):
        lines.append(f"survey: cell {i} begins, called {n}, {len(r)} corners")
        lines += [
            f"survey:   corner {k} of {len(r)} at {num(x)} {num(y)}"
            for k, (x, y) in enumerate(r, 1)
        ]
        lines.append(f"survey: cell {i} ends")
    return _mixed(lines, 4)


@captured("K")
def rows_with_all_in_one(rooms: Rooms, rng: Generator) -> Written:
    out = ["time,source,key,value"]
    for k, (n, r) in enumerate(rooms.items()):
        out.append(f"{stamp(k)},power,pct,{90 - k}")
        out.append(f'{stamp(k)},plan,"{n}","{_text(r, " ", ",")}"')
        out.append(f"{stamp(k)},pose,xy,{k * 12} {k * 40}")
    return "\n".join(out)


@captured("K")
def cut_in_the_middle(rooms: Rooms, rng: Generator) -> Written:
    whole = "\n".join(
        f'<cell called="{n}"><rim>{_text(r, ",", " ")}</rim></cell>' for n, r in rooms.items()
    )
    *kept, last = rooms
    end = whole.rindex("<rim>") + 5 + len(_text(rooms[last], ",", " ")) // 2
    return "<plan>\n" + whole[:end], {n: rooms[n] for n in kept}


@captured("K")
def begins_in_the_middle(rooms: Rooms, rng: Generator) -> Written:
    whole = "\n".join(dump({"called": n, "rim": plain(r)}) for n, r in rooms.items())
    _, *kept = rooms
    start = whole.index("[[") + 9
    return whole[start:], {n: rooms[n] for n in kept}


@captured("K")
def closed_twice_over(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        {"cells": [{"called": n, "rim": plain([*r, r[0], r[0]])} for n, r in rooms.items()]}
    )


@captured("K")
def holes_beside_rims(rooms: Rooms, rng: Generator) -> Written:
    cells = [{"called": n, "rim": plain(r), "pillars": []} for n, r in rooms.items()]
    cells[0]["pillars"] = [box({n: rooms[n] for n in [*rooms][:1]}, rng, 300.0)]
    return dump(cells)


@captured("K")
def plan_for_each_run(rooms: Rooms, rng: Generator) -> Written:
    runs = []
    for k in range(3):
        shift = 90.0 * (2 - k)
        cells = {n: _text([(x + shift, y) for x, y in r], ",", " ") for n, r in rooms.items()}
        runs.append(
            {"run": 300 + k, "ended": stamp(k * 3600), "cells": cells, "way": walk(rooms, rng, 15)}
        )
    return dump({"runs": runs})


@captured("K")
def settings_file_with_much_else(rooms: Rooms, rng: Generator) -> Written:
    out = ["# rover settings", "[net]", "ssid = house", "address = 192.168.7.31", "port = 8883", ""]
    out += ["[schedule]", "mon = 09:30", "fri = 17:00", "area = 3, 4, 7", ""]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"[cell {i}]", f"called = {n}", "suction = 3", f"rim = {_text(r, ' ', ' | ')}", ""]
    return "\n".join(
        [*out, "[keepaway 0]", f"rim = {_text([(x, y) for x, y in box(rooms, rng)], ' ', ' | ')}"]
    )


@captured("K")
def levels_of_lists_alone(rooms: Rooms, rng: Generator) -> Written:
    return dump(
        [12, "plan", [[n, i, plain(r)] for i, (n, r) in enumerate(rooms.items())], [120, 400, 90]]
    )


@captured("K")
def numbers_as_texts(rooms: Rooms, rng: Generator) -> Written:
    cells = [
        {
            "called": n,
            "rim": [{"e": num(x), "n": num(y), "i": str(i)} for i, (x, y) in enumerate(r)],
        }
        for n, r in rooms.items()
    ]
    return dump({"cells": cells, "battery": "81", "version": "3.14.2"})


@captured("K")
def y_before_x(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"{n}: " + " ".join(f"(y={num(y)}, x={num(x)})" for x, y in r) for n, r in rooms.items()
    )


@captured("K")
def walls_with_lengths(rooms: Rooms, rng: Generator) -> Written:
    out = ["cell;wall;x1;y1;x2;y2;length"]
    for n, r in rooms.items():
        for i, ((a, b), (c, d)) in enumerate(zip(r, r[1:] + r[:1], strict=True), 1):
            length = ((c - a) ** 2 + (d - b) ** 2) ** 0.5
            out.append(f"{n};{i};{num(a)};{num(b)};{num(c)};{num(d)};{length:.0f}")
    return "\n".join(out)


@captured("K")
def comments_between_corners(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(f"cell: {n}")
        for i, (x, y) in enumerate(r):
            out.append(f"  {num(x)} {num(y)}" + ("   # door side" if i == 1 else ""))
        out.append("")
    return "\n".join(out)


@captured("K")
def lone_numbers_a_line(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out += [f"cell {n}", str(len(r)), *(num(v) for p in r for v in p)]
    return "\n".join(out)


@captured("K")
def answers_of_a_shell(rooms: Rooms, rng: Generator) -> Written:
    out = ["rover> battery", "81 % (15230 mV)", "rover> cells"]
    out += [f"{i:2d}  {n}" for i, n in enumerate(rooms)]
    for i, r in enumerate(rooms.values()):
        out += [f"rover> rim {i}", _text(r, ",", " ")]
    return "\n".join([*out, "rover> exit"])
