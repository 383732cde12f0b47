"""What programs record and print: streams, frames, exchanges, tables of numbers."""

from __future__ import annotations

import base64
import html
import json

from numpy.random import Generator

from benchmarks.captured.parts import ODD, Rooms, Written, box, captured, named, num, plain, stamp

__all__: list[str] = []


@captured("B")
def events_stream(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            f"id: {i}",
            "event: room",
            "data: " + json.dumps({"label": n, "points": plain(r)}, ensure_ascii=False),
            "",
        ]
    out += ["event: pose", 'data: {"x": 1, "y": 2}', ""]
    return "\n".join(out)


@captured("B")
def socket_frames(rooms: Rooms, rng: Generator) -> Written:
    rooms = named(rooms, ODD)
    body = {
        "plan": {
            "cells": [{"nm": n, "bd": [v for p in plain(r) for v in p]} for n, r in rooms.items()],
            "ng": [[v for p in box(rooms, rng) for v in p]],
        }
    }
    return (
        f'42["hello",{{"sid":"a8"}}]\n42["plan",{json.dumps(body, ensure_ascii=False)}]\n2\n3\n',
        rooms,
    )


@captured("B")
def json_rpc(rooms: Rooms, rng: Generator) -> Written:
    a = json.dumps({"jsonrpc": "2.0", "id": 7, "method": "floor.read", "params": [0]})
    b = json.dumps(
        {
            "jsonrpc": "2.0",
            "id": 7,
            "result": {
                "spaces": {str(i): [n, plain(r)] for i, (n, r) in enumerate(rooms.items())},
                "excluded": {"0": ["", box(rooms, rng)]},
            },
        },
        ensure_ascii=False,
    )
    return f"--> {a}\n<-- {b}\n"


@captured("B")
def graph_edges(rooms: Rooms, rng: Generator) -> Written:
    d = {
        "data": {
            "floor": {
                "rooms": {
                    "edges": [
                        {
                            "cursor": f"Y{i}",
                            "node": {
                                "id": f"R:{i}",
                                "displayName": n,
                                "outline": {"vertices": [{"x": x, "y": y} for x, y in r]},
                            },
                        }
                        for i, (n, r) in enumerate(rooms.items())
                    ],
                    "pageInfo": {"hasNextPage": False},
                }
            }
        }
    }
    return json.dumps(d, indent=2, ensure_ascii=False)


@captured("B")
def soap(rooms: Rooms, rng: Generator) -> Written:
    rows = "".join(
        f"<m:Room><m:Id>{i}</m:Id><m:Caption>{html.escape(n)}</m:Caption><m:Contour>"
        + "".join(f"<m:Pt><m:X>{num(x)}</m:X><m:Y>{num(y)}</m:Y></m:Pt>" for x, y in r)
        + "</m:Contour></m:Room>"
        for i, (n, r) in enumerate(rooms.items())
    )
    return (
        '<?xml version="1.0"?>\n<s:Envelope xmlns:s="http://example.org/soap"><s:Header'
        f'/><s:Body><m:GetFloorResponse xmlns:m="urn:floor:1">{rows}<m:Robot><m:X>5</m:X'
        "><m:Y>7</m:Y></m:Robot></m:GetFloorResponse></s:Body></s:Envelope>"
    )


@captured("B")
def container_logs(rooms: Rooms, rng: Generator) -> Written:
    texts: list[str] = []
    for n, r in rooms.items():
        texts += [f"room {n}", *(f"  corner {num(x)} {num(y)}" for x, y in r)]
    records = [{"log": f"{text}\n", "stream": "stdout", "time": stamp(9)} for text in texts]
    return "\n".join(json.dumps(record, ensure_ascii=False) for record in records)


@captured("B")
def container_log_whole(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for n, r in rooms.items():
        out.append(
            json.dumps(
                {
                    "log": f"INFO room={n!r} border={plain(r)}\n",
                    "stream": "stderr",
                    "time": stamp(3),
                },
                ensure_ascii=False,
            )
        )
        out.append(
            json.dumps(
                {"log": "DEBUG tick load=0.31 0.33 0.30\n", "stream": "stderr", "time": stamp(4)}
            )
        )
    return "\n".join(out)


@captured("B")
def recorded_exchange(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps(
        {"areas": [{"title": n, "contour": plain(r)} for n, r in rooms.items()]}, ensure_ascii=False
    )
    d = {
        "log": {
            "version": "1.2",
            "entries": [
                {
                    "startedDateTime": stamp(2),
                    "time": 31.2,
                    "request": {
                        "method": "GET",
                        "url": "http://10.0.0.4/floor?z=1",
                        "headers": [{"name": "Accept", "value": "*/*"}],
                    },
                    "response": {
                        "status": 200,
                        "content": {
                            "size": len(body),
                            "mimeType": "application/json",
                            "text": base64.b64encode(body.encode()).decode(),
                            "encoding": "base64",
                        },
                    },
                }
            ],
        }
    }
    return json.dumps(d, indent=1)


@captured("B")
def verbose_download(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps(
        {"rooms": [{"n": n, "c": plain(r)} for n, r in rooms.items()]}, indent=1, ensure_ascii=False
    )
    head = (
        "*   Trying 192.168.3.4:80...\n> GET /plan HTTP/1.1\n> Host: 192.168.3.4\n> Use"
        "r-Agent: t/8.1.2\n> \n< HTTP/1.1 200 OK\n< Content-Length: 4312\n< \n"
    )
    return head + body + "\n* Connection #0 to host left intact\n"


@captured("B")
def frame_print(rooms: Rooms, rng: Generator) -> Written:
    out = ["                      x          y"]
    for n, r in rooms.items():
        for i, (x, y) in enumerate(r):
            out.append(f"{n if i == 0 else '':<16}{i:<3} {x:10.1f} {y:10.1f}")
    return "\n".join(out)


@captured("B")
def frame_print_flat(rooms: Rooms, rng: Generator) -> Written:
    rooms = {n.replace(" ", "_"): r for n, r in rooms.items()}
    out = ["         room       east      north"]
    k = 0
    for n, r in rooms.items():
        for x, y in r:
            out.append(f"{k:<4} {n:>14} {x:10.1f} {y:10.1f}")
            k += 1
    return "\n".join(out), rooms


@captured("B")
def titled_sheet(rooms: Rooms, rng: Generator) -> Written:
    out = ["Measured floor;;;", "Date: 2032-09-01;;;", ";;;", "Room;Point;X (mm);Y (mm)"]
    for n, r in rooms.items():
        out += [f"{n};{i + 1};{num(x)};{num(y)}" for i, (x, y) in enumerate(r)]
    return "\r\n".join(out)
