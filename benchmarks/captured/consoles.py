"""Outlines as programs print them: values shown for debugging, tables, shells, drawings in text."""

from __future__ import annotations

import json
import pprint

import numpy as np
from numpy.random import Generator

from benchmarks.captured.parts import Rooms, Written, box, captured, num, plain, stamp, walk

__all__: list[str] = []


def _pairs(ring: list[tuple[float, float]], form: str, between: str) -> str:
    return between.join(form.format(num(x), num(y)) for x, y in ring)


@captured("J")
def structs_with_field_names(rooms: Rooms, rng: Generator) -> Written:
    """As a compiled language prints records."""
    cells = " ".join(
        f"{{ID:{i} Label:{n} Fan:2 Edge:[{_pairs(r, '{{X:{} Y:{}}}', ' ')}]}}"
        for i, (n, r) in enumerate(rooms.items(), 7)
    )
    return (
        f"2031/04/05 11:12:13 floor: &{{Rev:12 Built:1932844112 Cells:[{cells}] Dock:{{X:4 Y:9}}}}"
    )


@captured("J")
def debug_of_nested_structs(rooms: Rooms, rng: Generator) -> Written:
    out = ["[2031-04-05T11:12:13Z DEBUG rover::plan] Plan {", "    revision: 12,", "    spaces: ["]
    for i, (n, r) in enumerate(rooms.items()):
        out += ["        Space {", f"            id: SpaceId({i}),"]
        out += [f"            title: Some({json.dumps(n, ensure_ascii=False)}),"]
        out += ["            rim: ["]
        for x, y in r:
            out += ["                Point {", f"                    x: {num(x)},"]
            out += [f"                    y: {num(y)},", "                },"]
        out += ["            ],", "        },"]
    return "\n".join([*out, "    ],", "    dock: None,", "}"])


@captured("J")
def data_classes(rooms: Rooms, rng: Generator) -> Written:
    cells = ", ".join(
        f"Cell(no={i}, caption={n}, rim=[{_pairs(r, 'Vec2(a={}, b={})', ', ')}])"
        for i, (n, r) in enumerate(rooms.items())
    )
    return f"I/Plan    ( 4211): got Floor(rev=12, cells=[{cells}], at=Vec2(a=12.5, b=-3.0))"


@captured("J")
def matrices_printed(rooms: Rooms, rng: Generator) -> Written:
    out = []
    with np.printoptions(suppress=True, precision=1, threshold=10**6):
        for n, r in rooms.items():
            out += [f">>> cells[{n!r}]", repr(np.array(r))]
    return "\n".join(out)


@captured("J")
def matrices_in_prose(rooms: Rooms, rng: Generator) -> Written:
    out = ["octave:1> plan"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += [f"plan({i}).name = {n}", f"plan({i}).rim =", ""]
        out += [f"  {x:10.1f}  {y:10.1f}" for x, y in r]
        out += [""]
    return "\n".join(out)


@captured("J")
def frame_printed(rooms: Rooms, rng: Generator) -> Written:
    width = max(map(len, rooms)) + 2
    out = [f"{'':5}{'cell':>{width}}{'vertex':>8}{'x_mm':>12}{'y_mm':>12}"]
    at = 0
    for n, r in rooms.items():
        for i, (x, y) in enumerate(r):
            out.append(f"{at:<5}{n.replace(' ', '_'):>{width}}{i:>8}{x:>12.1f}{y:>12.1f}")
            at += 1
    return "\n".join(out), {n.replace(" ", "_"): r for n, r in rooms.items()}


@captured("J")
def pretty_printed(rooms: Rooms, rng: Generator) -> Written:
    cells = {
        i: {"called": n, "fan": "low", "ring": [(float(x), float(y)) for x, y in r]}
        for i, (n, r) in enumerate(rooms.items(), 20)
    }
    return "plan is now\n" + pprint.pformat({"cells": cells, "pose": (120, 455, 90)}, width=60)


@captured("J")
def dumped_hashes(rooms: Rooms, rng: Generator) -> Written:
    out = ["$VAR1 = {", "          'rev' => '12',", "          'cells' => ["]
    for n, r in rooms.items():
        points = ",\n".join(f"{' ' * 24}[ '{num(x)}', '{num(y)}' ]" for x, y in r)
        out += ["                     {", f"                       'title' => '{n}',"]
        out += [f"                       'rim' => [\n{points}\n                                ]"]
        out += ["                     },"]
    return "\n".join([*out, "                   ]", "        };"])


@captured("J")
def var_dumped(rooms: Rooms, rng: Generator) -> Written:
    out = [f"array({len(rooms)}) {{"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"  [{i}]=>", "  object(Cell)#4 (2) {", '    ["title"]=>']
        out += [f'    string({len(n.encode())}) "{n}"', '    ["rim"]=>', f"    array({len(r)}) {{"]
        for k, (x, y) in enumerate(r):
            out += [
                f"      [{k}]=>",
                "      array(2) {",
                "        [0]=>",
                f"        float({num(x)})",
            ]
            out += ["        [1]=>", f"        float({num(y)})", "      }"]
        out += ["    }", "  }"]
    return "\n".join([*out, "}"])


@captured("J")
def debugger_session(rooms: Rooms, rng: Generator) -> Written:
    out = ["Breakpoint 2, plan_store (p=0x55a0c2e0) at plan.c:118"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [
            f"(gdb) print p->cell[{i}]",
            f'${i + 1} = {{id = {i + 4}, name = "{n}", count = {len(r)},',
        ]
        out += ["  edge = {" + _pairs(r, "{{x = {}, y = {}}}", ", ") + "}}"]
    return "\n".join(out)


@captured("J")
def scad_polygons(rooms: Rooms, rng: Generator) -> Written:
    out = ["// ground floor, mm", "$fn = 32;", "h = 2400;"]
    for n, r in rooms.items():
        out += [f"// {n}", f"linear_extrude(h) polygon([{_pairs(r, '[{}, {}]', ', ')}]);"]
    return "\n".join(out)


@captured("J")
def tikz_paths(rooms: Rooms, rng: Generator) -> Written:
    out = [r"\begin{tikzpicture}[x=0.01mm,y=0.01mm]"]
    for n, r in rooms.items():
        out.append(rf"  \draw[thick] {_pairs(r, '({},{})', ' -- ')} -- cycle; % {n}")
    return "\n".join([*out, r"\end{tikzpicture}"])


@captured("J")
def clip_paths(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f'.cell[data-name="{n}"] {{\n  clip-path: polygon({_pairs(r, "{}px {}px", ", ")});\n'
        f"  opacity: 0.{i}5;\n}}"
        for i, (n, r) in enumerate(rooms.items(), 1)
    )


@captured("J")
def gnuplot_blocks(rooms: Rooms, rng: Generator) -> Written:
    out = ["# plan, in mm", ""]
    for n, r in rooms.items():
        out += [f'# "{n}"', *(f"{num(x)} {num(y)}" for x, y in [*r, r[0]]), "", ""]
    return "\n".join(out)


@captured("J")
def html_table_of_corners(rooms: Rooms, rng: Generator) -> Written:
    out = ["<html><body><h1>Plan</h1><table>", "<tr><th>Cell<th>Corner<th>X<th>Y"]
    for n, r in rooms.items():
        out += [f"<tr><td>{n}<td>{i}<td>{num(x)}<td>{num(y)}" for i, (x, y) in enumerate(r, 1)]
    return "\n".join([*out, "</table></body></html>"])


@captured("J")
def html_definition_list(rooms: Rooms, rng: Generator) -> Written:
    rows = "\n".join(f"<dt>{n}</dt><dd>{_pairs(r, '({}|{})', ' ')}</dd>" for n, r in rooms.items())
    return f"<!doctype html><title>Robot 31</title><dl>\n{rows}\n</dl><p>Battery: 81 %</p>"


@captured("J")
def registry_export(rooms: Rooms, rng: Generator) -> Written:
    out = ["Windows Registry Editor Version 5.00", ""]
    for i, (n, r) in enumerate(rooms.items()):
        out += [rf"[HKEY_CURRENT_USER\Software\Rover\Plan\{i}]", f'"Title"="{n}"']
        out += [f'"Rim"="{_pairs(r, "{},{}", ";")}"', '"Fan"=dword:00000002', ""]
    return ("\ufeff" + "\r\n".join(out)).encode("utf-16-le")


@captured("J")
def properties_by_number(rooms: Rooms, rng: Generator) -> Written:
    out = ["#Sat Apr 05 11:12:13 CEST 2031", "plan.rev=12"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out.append(f"plan.cell.{i}.title={n}")
        for k, (x, y) in enumerate(r, 1):
            out += [f"plan.cell.{i}.p{k}.x={num(x)}", f"plan.cell.{i}.p{k}.y={num(y)}"]
    return "\n".join(out)


@captured("J")
def pascal_records(rooms: Rooms, rng: Generator) -> Written:
    out = ["const"]
    for i, (n, r) in enumerate(rooms.items()):
        out += [f"  {{ {n} }}", f"  Rim{i}: array[0..{len(r) - 1}] of TPoint = ("]
        out.append("    " + _pairs(r, "(X: {}; Y: {})", ",\n    ") + ");")
    return "\n".join(out)


@captured("J")
def fortran_namelist(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += ["&CELL", f" ID = {i},", f" TITLE = '{n}',"]
        out += [" XS = " + ", ".join(num(x) for x, _ in r) + ","]
        out += [" YS = " + ", ".join(num(y) for _, y in r), "/"]
    return "\n".join(out)


@captured("J")
def edn_maps(rooms: Rooms, rng: Generator) -> Written:
    cells = "\n         ".join(
        f'{{:id {i} :title "{n}" :rim [{_pairs(r, "[{} {}]", " ")}]}}'
        for i, (n, r) in enumerate(rooms.items())
    )
    return f'{{:rev 12 :saved #inst "2031-04-05T11:12:13Z"\n :cells [{cells}]}}'


@captured("J")
def shell_arrays(rooms: Rooms, rng: Generator) -> Written:
    out = ["declare -A RIM"]
    out += [f'RIM["{n}"]="{_pairs(r, "{},{}", " ")}"' for n, r in rooms.items()]
    return "\n".join([*out, 'BATTERY="81"', 'declare -r VERSION="3.14.2"'])


@captured("J")
def spoken_report(rooms: Rooms, rng: Generator) -> Written:
    out = [f"{stamp(0)} Run 311 finished after 47 min, 38.2 m2 cleaned, 3 obstacles met."]
    for n, r in rooms.items():
        out.append(f"The outline of {n} has {len(r)} corners: {_pairs(r, '({}, {})', ', ')}.")
    way = ", ".join(f"({x}, {y})" for x, y in walk(rooms, rng, 30))
    return "\n".join([*out, f"The path driven was {way}.", "Battery left: 41 %."])


@captured("J")
def carpets_among_rooms(rooms: Rooms, rng: Generator) -> Written:
    items = [{"sort": "cell", "title": n, "rim": plain(r)} for n, r in rooms.items()]
    items += [{"sort": "carpet", "title": "", "rim": box(rooms, rng)} for _ in range(2)]
    items += [{"sort": "taboo", "title": "", "rim": box(rooms, rng, 400.0)}]
    return "state: " + json.dumps({"rev": 12, "shapes": items}, ensure_ascii=False)
