"""Outlines that are drawn, pointed at or announced: what programs write rather than store."""

from __future__ import annotations

import json

from tests.corpus.base import Rings, entered, ints, num, pairs


def _by_nodes(rings: Rings) -> tuple[list[list[float]], dict[str, list[int]]]:
    """All corners in one list, and of each room their places in it."""
    nodes: list[list[float]] = []
    places: dict[str, list[int]] = {}
    for name, ring in rings.items():
        places[name] = [*range(len(nodes), len(nodes) + len(ring))]
        nodes += ints(ring)
    return nodes, places


@entered()
def a_canvas_and_its_pen(rings: Rings) -> str:
    lines = ["const pen = sheet.getContext('2d');"]
    for name, ring in rings.items():
        (x, y), *rest = ring
        lines += [f"// {name}", "pen.beginPath();", f"pen.moveTo({num(x)}, {num(y)});"]
        lines += [f"pen.lineTo({num(x)}, {num(y)});" for x, y in rest]
        lines += ["pen.closePath();", "pen.stroke();"]
    return "\n".join(lines)


@entered()
def a_pen_behind_its_numbers(rings: Rings) -> str:
    lines = ["%!PS-Adobe-3.0", "0.5 setlinewidth"]
    for name, ring in rings.items():
        (x, y), *rest = ring
        lines += [f"% room: {name}", "newpath", f"{num(x)} {num(y)} moveto"]
        lines += [f"{num(x)} {num(y)} lineto" for x, y in rest] + ["closepath stroke"]
    return "\n".join([*lines, "showpage"])


@entered()
def a_pen_that_is_lifted(rings: Rings) -> str:
    lines = ["import turtle as t"]
    for name, ring in rings.items():
        (x, y), *rest = ring
        lines += [f"# {name}", "t.penup()", f"t.goto({num(x)}, {num(y)})", "t.pendown()"]
        lines += [f"t.goto({num(x)}, {num(y)})" for x, y in [*rest, ring[0]]]
    return "\n".join(lines)


@entered()
def moves_and_draws(rings: Rings) -> str:
    lines = []
    for name, ring in rings.items():
        (x, y), *rest = ring
        lines += [f"REM {name}", f"MOVE {num(x)}, {num(y)}"]
        lines += [f"DRAW {num(x)}, {num(y)}" for x, y in [*rest, ring[0]]]
    return "\n".join(lines)


@entered()
def nodes_and_ways(rings: Rings) -> str:
    nodes, places = _by_nodes(rings)
    lines = [f'<node id="{i}" x="{num(x)}" y="{num(y)}"/>' for i, (x, y) in enumerate(nodes, 70)]
    for number, (name, own) in enumerate(places.items(), 900):
        refs = "".join(f'<nd ref="{i + 70}"/>' for i in [*own, own[0]])
        lines.append(f'<way id="{number}">{refs}<tag k="name" v="{name}"/></way>')
    return "\n".join(["<plan>", *lines, "</plan>"])


@entered()
def places_in_a_list_of_vertices(rings: Rings) -> str:
    nodes, places = _by_nodes(rings)
    rooms = [{"name": name, "loop": own} for name, own in places.items()]
    return json.dumps({"vertices": nodes, "rooms": rooms})


@entered()
def named_nodes_and_neighbours(rings: Rings) -> str:
    nodes, places = _by_nodes(rings)
    rooms = [
        {"id": i, "name": name, "nodes": [f"n{j}" for j in own], "adjacent": [i - 1, i + 1, i + 2]}
        for i, (name, own) in enumerate(places.items())
    ]
    return json.dumps({"nodes": {f"n{i}": point for i, point in enumerate(nodes)}, "rooms": rooms})


@entered()
def a_mesh_of_faces(rings: Rings) -> str:
    nodes, places = _by_nodes(rings)
    lines = [f"v {num(x)} {num(y)} 0" for x, y in nodes]
    for name, own in places.items():
        lines += [f"g {name}", "f " + " ".join(str(i + 1) for i in own)]
    return "\n".join(["# plan", *lines])


@entered()
def arrays_that_a_table_points_to(rings: Rings) -> str:
    lines = [
        f"static const double ring{i}_xy[] = {{ {pairs(ring, ', ', ', ')} }};"
        for i, ring in enumerate(rings.values())
    ]
    rows = [
        f'  {{ .name = "{name}", .xy = ring{i}_xy, .n = {len(ring)} }},'
        for i, (name, ring) in enumerate(rings.items())
    ]
    return "\n".join([*lines, "const room_t rooms[] = {", *rows, "};"])


@entered()
def constructors_without_brackets(rings: Rings) -> str:
    def shown(value: float) -> str:
        return num(value) if value >= 0 else f"({num(value)})"

    rooms = []
    for name, ring in rings.items():
        points = ",".join(f"V2 {shown(x)} {shown(y)}" for x, y in ring)
        rooms.append(f"Room {{roomName = {json.dumps(name)}, roomOutline = [{points}]}}")
    return f"Plan {{rooms = [{','.join(rooms)}], dock = V2 1 2}}"


@entered()
def lengths_before_messages(rings: Rings) -> str:
    lines = []
    for i, (name, ring) in enumerate(rings.items()):
        body = pairs(ring, " ", ",")
        lines += [f"PUB rooms.{i}.shape {len(body)}", body]
        lines += [f"PUB rooms.{i}.name {len(name.encode())}", name]
    return "\r\n".join(lines) + "\r\n"


@entered()
def lines_with_counts_above_corners(rings: Rings) -> str:
    lines = []
    for i, (name, ring) in enumerate(rings.items()):
        head = f"Apr  2 10:{i:02d}:00 hall mapd[311]:"
        lines.append(f'{head} room "{name}": {len(ring)} corners')
        lines += [f"{head}   #{k}: ({num(x)}, {num(y)})" for k, (x, y) in enumerate(ring)]
        lines.append(f"Apr  2 10:{i:02d}:30 hall navd[312]: pose ({i}, {2 * i}) heading 90")
    return "\n".join(lines)


@entered()
def all_x_before_all_y(rings: Rings) -> str:
    lines = []
    for name, ring in rings.items():
        lines += ["room {", f"  name: {json.dumps(name, ensure_ascii=False)}"]
        lines += [f"  xs: {num(x)}" for x, _ in ring] + [f"  ys: {num(y)}" for _, y in ring] + ["}"]
    return "\n".join(lines)


@entered()
def angle_brackets_and_arrows(rings: Rings) -> str:
    return "\n".join(
        f"{name} \u2014 " + " \u2192 ".join(f"\u27e8{num(x)}, {num(y)}\u27e9" for x, y in ring)
        for name, ring in rings.items()
    )


@entered()
def two_odd_signs(rings: Rings) -> str:
    return "\n".join(
        f"t={i} evt=room name={json.dumps(name, ensure_ascii=False)} n={len(ring)} "
        f"pts={pairs(ring, ':', '|')}"
        for i, (name, ring) in enumerate(rings.items())
    )


@entered(lambda rings: {n: [(round(x), round(y)) for x, y in r] for n, r in rings.items()})
def grouped_digits_with_units(rings: Rings) -> str:
    blocks = []
    for name, ring in rings.items():
        rows = [f"    {round(x):,} mm / {round(y):,} mm" for x, y in ring]
        blocks.append("\n".join([f"Room: {name}", *rows]))
    return "\n".join(blocks)
