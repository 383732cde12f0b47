"""Spellings in JSON and in logs."""

from __future__ import annotations

import json

import numpy as np

from tests.corpus.base import NO_GO, WAY, Rings, entered, ints, num, numbered, pairs

# --- JSON --------------------------------------------------------------------------------------


@entered()
def keyed_rooms_with_an_outline_each(rings: Rings) -> str:
    rooms = {
        name: {
            "outline": ints(ring),
            "colour": "#3fa9c2",
            "label_at": ints(ring)[0],
            "tidy": True,
        }
        for name, ring in rings.items()
    }
    return json.dumps({"map": {"rooms": rooms, "doors": [[[0, 1], [0, 2]]], "trail": WAY}})


@entered()
def keyed_rooms_at_the_top(rings: Rings) -> str:
    return json.dumps({name: ints(ring) for name, ring in rings.items()} | {"path": WAY})


@entered()
def keyed_texts(rings: Rings) -> str:
    return json.dumps({name: pairs(ring) for name, ring in rings.items()}, ensure_ascii=False)


@entered()
def texts_of_numbers_alone(rings: Rings) -> str:
    rooms = [{"name": n, "outline": pairs(r, " ", " "), "wifi": "-61"} for n, r in rings.items()]
    return json.dumps({"rooms": rooms, "path": pairs(NO_GO, " ", " ")})


@entered(numbered(16))
def ids_only(rings: Rings) -> str:
    rooms = [{"id": i, "polygon": ints(ring)} for i, ring in enumerate(rings.values(), 16)]
    return json.dumps(
        {"time": 1933145000123, "rooms": rooms, "zones": [{"id": 1, "polygon": NO_GO}]}
    )


@entered()
def ids_here_and_names_there(rings: Rings) -> str:
    names = [{"id": i, "name": name} for i, name in enumerate(rings, 5)]
    shapes = [{"room_id": i, "polygon": ints(ring)} for i, ring in enumerate(rings.values(), 5)]
    first = json.dumps({"event": "names", "rooms": names})
    return first + "\n" + json.dumps({"event": "shapes", "list": shapes}) + "\n"


@entered()
def ids_as_keys_and_names_there(rings: Rings) -> str:
    names = {str(i): name for i, name in enumerate(rings, 1)}
    shapes = {str(i): ints(ring) for i, ring in enumerate(rings.values(), 1)}
    return json.dumps({"room_names": names, "room_outlines": shapes, "path": WAY}, indent=2)


@entered()
def in_german(rings: Rings) -> str:
    rooms = [{"umriss": ints(r), "bezeichnung": n, "fläche": 12.5} for n, r in rings.items()]
    text = {"räume": rooms, "sperrzonen": [{"umriss": NO_GO}], "fahrweg": WAY}
    return json.dumps(text, ensure_ascii=False, indent=4)


@entered()
def lists_of_name_and_ring(rings: Rings) -> str:
    return json.dumps([[name, ints(ring)] for name, ring in rings.items()])


@entered()
def lists_of_number_name_and_ring(rings: Rings) -> str:
    rows = [[i, name, "floor", ints(ring)] for i, (name, ring) in enumerate(rings.items())]
    return json.dumps({"columns": ["id", "name", "kind", "shape"], "rows": rows})


@entered()
def closed_rings(rings: Rings) -> str:
    rooms = [{"title": n, "ring": [*ints(r), ints(r)[0]]} for n, r in rings.items()]
    return json.dumps({"spaces": rooms}, separators=(",", ":"))


@entered()
def coordinates_as_texts(rings: Rings) -> str:
    rooms = [
        {"name": n, "points": [{"x": num(x), "y": num(y)} for x, y in r]} for n, r in rings.items()
    ]
    return json.dumps({"result": {"rooms": rooms}, "code": 0})


@entered()
def points_with_numbers_of_their_own(rings: Rings) -> str:
    rooms = [
        {"room": n, "points": [{"id": i, "x": x, "y": y, "z": 0} for i, (x, y) in enumerate(r)]}
        for n, r in rings.items()
    ]
    return json.dumps(rooms)


@entered()
def points_with_heights(rings: Rings) -> str:
    rooms = [{"name": n, "outline": [[x, y, 0.0] for x, y in r]} for n, r in rings.items()]
    return json.dumps({"rooms": rooms}, indent=1)


@entered()
def points_undernumbered_keys(rings: Rings) -> str:
    rooms = {n: {f"p{i}": p for i, p in enumerate(ints(r))} for n, r in rings.items()}
    return json.dumps({"rooms": rooms})


@entered()
def numbered_coordinates(rings: Rings) -> str:
    rooms = []
    for name, ring in rings.items():
        room: dict[str, object] = {"name": name}
        for i, (x, y) in enumerate(ring):
            room |= {f"x{i}": x, f"y{i}": y}
        rooms.append(room)
    return json.dumps({"rooms": rooms})


@entered()
def rows_of_an_interface(rings: Rings) -> str:
    rows = [{"room": n, "x": x, "y": y} for n, r in rings.items() for x, y in r]
    return "\n".join(json.dumps(row) for row in rows)


@entered()
def written_by_hand(rings: Rings) -> str:
    lines = ["// measured on site", "{", "  rooms: [", ""]
    for name, ring in rings.items():
        points = ", ".join(f"[{num(x)}, {num(y)}]" for x, y in ring)
        lines.append(f'    {{name: "{name}", outline: [{points},]}}, /* checked */')
    return "\n".join([*lines, "  ],", "}"])


@entered()
def marked_as_forbidden(rings: Rings) -> str:
    areas = [{"name": n, "forbidden": False, "shape": ints(r)} for n, r in rings.items()]
    areas.insert(1, {"name": "pond", "forbidden": True, "shape": NO_GO})
    return json.dumps({"areas": areas})


@entered()
def rings_of_features(rings: Rings) -> str:
    features = [
        {"attributes": {"OBJECTID": i, "NAME": n}, "geometry": {"rings": [ints(r)]}}
        for i, (n, r) in enumerate(rings.items())
    ]
    return json.dumps({"geometryType": "polygon", "wkid": 4326, "features": features})


# --- logs --------------------------------------------------------------------------------------


@entered()
def a_log_with_history(rings: Rings) -> str:
    lines = []
    for day, grow in enumerate((0.8, 0.9, 1.0)):
        for i, (name, ring) in enumerate(rings.items()):
            middle = np.mean(ring, axis=0)
            now = (
                ring if grow == 1 else np.round(middle + grow * (np.array(ring) - middle)).tolist()
            )
            body = json.dumps({"n": name, "o": pairs(now), "seq": 10 * day + i})
            lines.append(f"0{day + 1}.04.2031 10:00:{i:02d},120 room {body}")
            lines.append(
                f"0{day + 1}.04.2031 10:00:{i:02d},480 pose {{'x': {i}, 'y': 7, 'a': 0.1}}"
            )
    return "\n".join(lines)


@entered()
def syslog_with_escaped_quotes(rings: Rings) -> str:
    body = json.dumps({"rooms": [{"name": n, "pts": ints(r)} for n, r in rings.items()]})
    escaped = body.replace("\\", "\\\\").replace('"', '\\"')
    lines = [f"Apr  2 10:00:0{i} host agent[412]: alive, 192.168.4.{i}:1883" for i in range(4)]
    return "\n".join([*lines, f"Apr  2 10:00:05 host agent[412]: rx {escaped}", *lines])


@entered()
def cut_lines_in_between(rings: Rings) -> str:
    good = [json.dumps({"room": {"name": n, "outline": ints(r)}}) for n, r in rings.items()]
    lines = []
    for line in good:
        lines += [line[: len(line) * 2 // 3], line]
    return "\n".join([*lines, good[0][:60]])


@entered()
def a_pretty_message_in_a_log(rings: Rings) -> str:
    body = json.dumps({"rooms": [{"name": n, "edge": ints(r)} for n, r in rings.items()]}, indent=2)
    return (
        f"2031-04-02T10:00:00Z INFO start\n2031-04-02T10:00:01Z INFO state:\n{body}\n"
        "2031-04-02T10:00:02Z INFO done (took 5 s)\n"
    )


@entered()
def arrows_in_a_log(rings: Rings) -> str:
    lines = ["10:00:00 mapper: don't wait :("]
    for name, ring in rings.items():
        lines.append(f'10:00:01 mapper: "{name}" -> [{pairs(ring, " ", ", ")}]')
    return "\n".join([*lines, "10:00:02 mapper: way -> [1 2, 3 4]"])


@entered()
def braces_and_equals(rings: Rings) -> str:
    return "\n".join(
        f"[10:00:{i:02d}] Room{{id={i}, name={name}, outline=[{pairs(ring, ', ', ', ')}]}}"
        for i, (name, ring) in enumerate(rings.items())
    )


@entered()
def a_room_merged_with_another(rings: Rings) -> str:
    first = next(iter(rings))
    west = [(x - 1, y) for x, y in rings[first]]
    old = {n: ints(r) for n, r in rings.items()} | {"Old corner": ints(west)}
    del old[first]
    lines = [{"op": "rooms", "rooms": [{"name": n, "edge": r} for n, r in old.items()]}]
    lines.append({"op": "rooms", "rooms": [{"name": n, "edge": ints(r)} for n, r in rings.items()]})
    return "\n".join(f"10:0{i}:00 {json.dumps(line)}" for i, line in enumerate(lines))


@entered()
def a_room_renamed(rings: Rings) -> str:
    lines = [
        json.dumps({"id": i, "name": f"Room {90 + i}", "edge": ints(r)})
        for i, r in enumerate(rings.values())
    ]
    lines += [
        json.dumps({"id": i, "name": n, "edge": ints(r)}) for i, (n, r) in enumerate(rings.items())
    ]
    return "\n".join(lines)


@entered()
def kinds_of_messages(rings: Rings) -> str:
    lines = [{"topic": "room", "label": n, "polygon": pairs(r)} for n, r in rings.items()]
    lines.insert(1, {"topic": "no-go", "label": "stairs", "polygon": "9,9;700,9;700,800"})
    lines.append({"topic": "track", "label": "run 3", "polygon": "0,0;9,9;9,0;0,9;40,3"})
    return "\n".join(f"10:00 {json.dumps(line)}" for line in lines)
