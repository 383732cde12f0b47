"""Messages: topics, bodies of requests, keys in many languages, objects of several kinds."""

from __future__ import annotations

import json

from numpy.random import Generator

from benchmarks.captured.parts import (
    Rooms,
    Written,
    box,
    captured,
    named,
    num,
    plain,
    stamp,
    two,
    walk,
)

__all__: list[str] = []


@captured("A")
def topic_per_room(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            f"{stamp(i * 3)} house/sweeper/level0/rooms/{n.replace('/', '_')}/outline "
            f"{json.dumps({'pts': plain(r)})}"
        )
        out.append(f"{stamp(i * 3 + 1)} house/sweeper/level0/battery {80 - i}")
        p = walk(rooms, rng, 1)[0]
        out.append(
            f"{stamp(i * 3 + 2)} house/sweeper/level0/position "
            f"{json.dumps({'x': p[0], 'y': p[1], 'a': 17})}"
        )
    return "\n".join(out) + "\n"


@captured("A")
def topics_of_ids(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        t = f"dev/4f21a0/seg/{11 + i}"
        out.append(f"{t}/poly = " + ";".join(f"{num(x)},{num(y)}" for x, y in r))
        out.append(f"{t}/label = {n}")
        out.append(f"{t}/mode = 2")
    return "\n".join(out) + "\n"


@captured("A")
def chinese_keys(rooms: Rooms, rng: Generator) -> Written:
    rooms = named(
        rooms,
        [
            "厨房",
            "客厅",
            "主卧",
            "次卧",
            "卫生间",
            "书房",
            "阳台",
            "走廊",
            "餐厅",
            "储物间",
            "儿童房",
            "玄关",
            "衣帽间",
            "洗衣房",
        ],
    )
    d = {
        "地图": {
            "版本": 14,
            "房间": [
                {"编号": i, "名称": n, "轮廓": plain(r)} for i, (n, r) in enumerate(rooms.items())
            ],
            "禁区": [{"编号": 1, "轮廓": box(rooms, rng)}, {"编号": 2, "轮廓": box(rooms, rng)}],
            "充电座": walk(rooms, rng, 1)[0],
            "轨迹": walk(rooms, rng),
        }
    }
    return json.dumps(d, ensure_ascii=False), rooms


@captured("A")
def chinese_escaped(rooms: Rooms, rng: Generator) -> Written:
    rooms = named(
        rooms,
        [
            "厨房",
            "客厅",
            "主卧",
            "次卧",
            "卫生间",
            "书房",
            "阳台",
            "走廊",
            "餐厅",
            "储物间",
            "儿童房",
            "玄关",
            "衣帽间",
            "洗衣房",
        ],
    )
    d = {
        "房间列表": [
            {"id": i, "名字": n, "点": [{"x": x, "y": y} for x, y in r]}
            for i, (n, r) in enumerate(rooms.items())
        ],
        "虚拟墙": [two(rooms, rng)],
    }
    return stamp(4) + " recv " + json.dumps(d), rooms


@captured("A")
def dutch(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "plattegrond": {
            "ruimtes": [
                {"naam": n, "hoekpunten": [{"x": x, "y": y} for x, y in r]}
                for n, r in rooms.items()
            ],
            "verboden": [{"hoekpunten": [{"x": x, "y": y} for x, y in box(rooms, rng)]}],
            "laadpunt": {"x": 20, "y": -110},
            "accu": 77,
        }
    }
    return json.dumps(d, indent=2, ensure_ascii=False)


@captured("A")
def french(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "etage": "rez-de-chaussée",
        "pieces": [
            {"numero": i + 1, "nom": n, "surface": 12.5, "contour": plain(r)}
            for i, (n, r) in enumerate(rooms.items())
        ],
        "zones_interdites": [box(rooms, rng), box(rooms, rng)],
        "trajet": walk(rooms, rng),
        "obstacles": [box(rooms, rng, 200) for _ in range(5)],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def spanish_table(rooms: Rooms, rng: Generator) -> Written:
    out = ["habitación;vértice;este;norte"]
    for n, r in rooms.items():
        out += [f"{n};{i + 1};{num(x)};{num(y)}" for i, (x, y) in enumerate(r)]
    return "\r\n".join(out)


@captured("A")
def polish(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "pomieszczenia": {
            str(i + 1): {"nazwa": n, "obrys": plain(r), "kolor": "#aabb10"}
            for i, (n, r) in enumerate(rooms.items())
        },
        "strefy_zakazane": {"1": {"obrys": box(rooms, rng)}, "2": {"obrys": box(rooms, rng)}},
        "stacja": [0, 0],
    }
    return json.dumps(d, ensure_ascii=False, indent=1)


@captured("A")
def russian(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "комнаты": [
            {"имя": n, "контур": [v for p in plain(r) for v in p]} for n, r in rooms.items()
        ],
        "путь": [v for p in walk(rooms, rng) for v in p],
        "запрет": [[v for p in box(rooms, rng) for v in p]],
    }
    return json.dumps(d, ensure_ascii=False)


@captured("A")
def japanese_yaml(rooms: Rooms, rng: Generator) -> Written:
    out = ["間取り:"]
    for n, r in rooms.items():
        out += [f"  - 部屋: {n}", "    輪郭:"] + [f"      - [{num(x)}, {num(y)}]" for x, y in r]
    out += ["進入禁止:", "  - 輪郭: " + json.dumps(box(rooms, rng))]
    return "\n".join(out)


@captured("A")
def type_codes(rooms: Rooms, rng: Generator) -> Written:
    objs = [{"t": 1, "n": n, "g": plain(r)} for n, r in rooms.items()]
    objs += [
        {"t": 7, "n": "", "g": box(rooms, rng)},
        {"t": 7, "n": "", "g": box(rooms, rng)},
        {"t": 9, "n": "", "g": two(rooms, rng)},
    ]
    return json.dumps({"ver": 3, "objs": objs})


@captured("A")
def type_codes_named(rooms: Rooms, rng: Generator) -> Written:
    objs = [
        {"kind": 0, "title": n, "geo": [{"x": x, "y": y} for x, y in r]} for n, r in rooms.items()
    ]
    objs += [
        {"kind": 4, "title": "rug", "geo": [{"x": x, "y": y} for x, y in box(rooms, rng)]},
        {"kind": 5, "title": "cable", "geo": [{"x": x, "y": y} for x, y in box(rooms, rng)]},
    ]
    order = rng.permutation(len(objs))
    return "state=" + json.dumps({"objs": [objs[int(i)] for i in order]})


@captured("A")
def type_words_unknown(rooms: Rooms, rng: Generator) -> Written:
    objs = [
        {"class": "CHAMBER", "tag": n, "v": [v for p in plain(r) for v in p]}
        for n, r in rooms.items()
    ]
    objs += [
        {"class": "EXCL", "tag": f"e{i}", "v": [v for p in box(rooms, rng) for v in p]}
        for i in range(3)
    ]
    objs += [
        {"class": "FENCE", "tag": "f", "v": [v for p in two(rooms, rng) for v in p]},
        {"class": "TRACE", "tag": "t", "v": [v for p in walk(rooms, rng) for v in p]},
    ]
    return json.dumps(objs)


@captured("A")
def http_body(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps(
        {
            "result": [
                {"segment": i + 1, "label": n, "vertices": plain(r)}
                for i, (n, r) in enumerate(rooms.items())
            ],
            "took": 0.0123,
        }
    )
    return (
        "POST /api/v2/floor HTTP/1.1\r\nHost: 192.168.7.21:8080\r\nContent-Type: applic"
        f'ation/json\r\nContent-Length: {len(body)}\r\nETag: "9f8e,33,12"\r\nDate: Tue, '
        f"14 Sep 2032 10:11:12 GMT\r\n\r\n{body}\r\n"
    )


@captured("A")
def chunked_hex_prefix(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps({"areas": [{"caption": n, "loop": plain(r)} for n, r in rooms.items()]})
    rows = [
        f"[{0x1F00 + i:#06x}] 10.1.0.4:51000 > 10.1.0.9:443 ack {i * 1448} win 501"
        for i in range(4)
    ]
    rows.append(f"[0x1f09] <- {len(body):x} {body}")
    rows.append("[0x1f0a] <- 0")
    return "\n".join(rows)


@captured("A")
def json_thrice(rooms: Rooms, rng: Generator) -> Written:
    inner = json.dumps([{"roomName": n, "border": json.dumps(plain(r))} for n, r in rooms.items()])
    return "D/net(1234): " + json.dumps({"seq": 12, "body": json.dumps({"code": 0, "data": inner})})


@captured("A")
def xml_in_json(rooms: Rooms, rng: Generator) -> Written:
    xml = (
        "<plan rev='7'>"
        + "".join(
            f"<area label={json.dumps(n, ensure_ascii=False)}>"
            + "".join(f"<v px='{num(x)}' py='{num(y)}'/>" for x, y in r)
            + "</area>"
            for n, r in rooms.items()
        )
        + "</plan>"
    )
    return json.dumps({"ts": 1978000000123, "payload": xml}, ensure_ascii=False)


@captured("A")
def events(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out.append(
            json.dumps(
                {
                    "ts": 1978000000 + i,
                    "ev": "upsert",
                    "item": {
                        "id": f"r{i}",
                        "caption": n,
                        "shape": [{"x": x, "y": y} for x, y in r],
                    },
                }
            )
        )
        p = walk(rooms, rng, 1)[0]
        out.append(
            json.dumps(
                {
                    "ts": 1978000000 + i,
                    "ev": "moved",
                    "item": {"x": p[0], "y": p[1], "heading": 1.57},
                }
            )
        )
    out.append(
        json.dumps(
            {
                "ts": 1978000900,
                "ev": "blocked",
                "item": {"id": "k0", "shape": [{"x": x, "y": y} for x, y in box(rooms, rng)]},
            }
        )
    )
    return "\n".join(out)


@captured("A")
def json_in_csv(rooms: Rooms, rng: Generator) -> Written:
    out = ["time,topic,payload"]
    inner = json.dumps(
        {"rooms": [{"name": n, "outline": plain(r)} for n, r in rooms.items()], "dock": [10, 20]},
        ensure_ascii=False,
    ).replace('"', '""')
    out.append(f'{stamp(3)},battery,"{{""level"": 77}}"')
    out.append(f'{stamp(4)},map,"{inner}"')
    out.append(f'{stamp(5)},pose,"{{""x"": 77, ""y"": 12}}"')
    return "\n".join(out)
