"""Outlines in the notations of languages and of writers: values, calls, tables, quoted mail."""

from __future__ import annotations

import html
import json

from numpy.random import Generator

from benchmarks.captured.parts import Ring, Rooms, Written, captured, dump, num, plain, shrunk

__all__: list[str] = []


def _text(ring: Ring, apart: str, between: str) -> str:
    return between.join(f"{num(x)}{apart}{num(y)}" for x, y in ring)


def _form(ring: Ring, form: str, between: str) -> str:
    return between.join(form.format(num(x), num(y)) for x, y in ring)


@captured("M")
def calls_with_names(rooms: Rooms, rng: Generator) -> Written:
    out = ["const floor = new Floor({ rev: 12, unit: 'mm' });"]
    out += [f'floor.addCell("{n}", {dump(plain(r))}, {{ fan: 2 }});' for n, r in rooms.items()]
    return "\n".join([*out, "floor.setDock(120, 45);"])


@captured("M")
def points_constructed(rooms: Rooms, rng: Generator) -> Written:
    out = ["List<Cell> cells = new ArrayList<>();"]
    for n, r in rooms.items():
        points = _form(r, "new Vec({}, {})", ", ")
        out.append(f'cells.add(new Cell("{n}", Arrays.asList({points})));')
    return "\n".join(out)


@captured("M")
def records_with_minus_in_brackets(rooms: Rooms, rng: Generator) -> Written:
    def number(value: float) -> str:
        return f"({num(value)})" if value < 0 else num(value)

    cells = ",".join(
        f'Cell {{cellId = {i}, title = "{n}", rim = ['
        + ",".join(f"P {number(x)} {number(y)}" for x, y in r)
        + "]}"
        for i, (n, r) in enumerate(rooms.items())
    )
    return f'ghci> loadPlan "ground"\nRight [{cells}]'


@captured("M")
def lists_with_semicolons(rooms: Rooms, rng: Generator) -> Written:
    return (
        "let plan = [\n"
        + ";\n".join(f'  ("{n}", [{_form(r, "({}, {})", "; ")}])' for n, r in rooms.items())
        + "\n]"
    )


@captured("M")
def rules_to_braces(rooms: Rooms, rng: Generator) -> Written:
    cells = ",\n  ".join(f'"{n}" -> {{{_form(r, "{{{}, {}}}", ", ")}}}' for n, r in rooms.items())
    return f"plan = <|\n  {cells}\n|>;"


@captured("M")
def frames_of_columns(rooms: Rooms, rng: Generator) -> Written:
    cells = ",\n".join(
        f"  `{n}` = data.frame(x = c({', '.join(num(x) for x, _ in r)}), "
        f"y = c({', '.join(num(y) for _, y in r)}))"
        for n, r in rooms.items()
    )
    return f"plan <- list(\n{cells}\n)"


@captured("M")
def matrices_assigned(rooms: Rooms, rng: Generator) -> Written:
    out = ["% plan, mm"]
    for i, (n, r) in enumerate(rooms.items(), 1):
        out += [f"cell({i}).title = '{n}';", f"cell({i}).rim = [{_text(r, ' ', '; ')}];"]
    return "\n".join(out)


@captured("M")
def dumped_as_a_tree(rooms: Rooms, rng: Generator) -> Written:
    out = [f"▿ {len(rooms)} elements"]
    for n, r in rooms.items():
        out += ["  ▿ Plan.Cell", f'    - title: "{n}"', f"    ▿ rim: {len(r)} elements"]
        for x, y in r:
            out += ["      ▿ Plan.Vec", f"        - x: {num(x)}", f"        - y: {num(y)}"]
    return "\n".join(out)


@captured("M")
def printed_records(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"dbug: Plan[12] Cell {{ No = {i}, Title = {n}, Rim = [{_form(r, '<{}, {}>', ', ')}] }}"
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("M")
def bundles(rooms: Rooms, rng: Generator) -> Written:
    return "\n".join(
        f"Bundle[{{seq={i}, title={n}, rim=[{_form(r, '({},{})', ', ')}], battery=81}}]"
        for i, (n, r) in enumerate(rooms.items())
    )


@captured("M")
def rows_of_tabular(rooms: Rooms, rng: Generator) -> Written:
    out = [r"\begin{tabular}{llrr}", r"Cell & Corner & $x$ & $y$ \\ \hline"]
    for n, r in rooms.items():
        out += [rf"{n} & {i} & {num(x)} & {num(y)} \\" for i, (x, y) in enumerate(r, 1)]
    return "\n".join([*out, r"\end{tabular}"])


@captured("M")
def simple_table(rooms: Rooms, rng: Generator) -> Written:
    width = max(map(len, rooms)) + 1
    rule = f"{'=' * width}  ======  ==========  =========="
    out = ["Plan", "----", "", rule, f"{'cell':{width}}  corner  {'x':>10}  {'y':>10}", rule]
    for n, r in rooms.items():
        for i, (x, y) in enumerate(r, 1):
            out.append(f"{n:{width}}  {i:6d}  {num(x):>10}  {num(y):>10}")
    return "\n".join([*out, rule])


@captured("M")
def wiki_table(rooms: Rooms, rng: Generator) -> Written:
    out = ['{| class="wikitable"', "! Cell !! Fan !! Corners"]
    for n, r in rooms.items():
        out += ["|-", f"| {n} || 2 || {_form(r, '({}, {})', ' ')}"]
    return "\n".join([*out, "|}"])


@captured("M")
def quoted_mail(rooms: Rooms, rng: Generator) -> Written:
    body = json.dumps([{"title": n, "rim": plain(r)} for n, r in rooms.items()], indent=1)
    out = ["Hi, here is what it sent last night at 23:41:", ""]
    out += [f"> {line}" for line in body.split("\n")]
    return "\n".join([*out, "", "Does that help? Battery was at 41 %."])


@captured("M")
def changes_of_a_file(rooms: Rooms, rng: Generator) -> Written:
    out = ["--- a/plan.yaml", "+++ b/plan.yaml", f"@@ -1,{2 * len(rooms)} +1,{2 * len(rooms)} @@"]
    for n, r in rooms.items():
        out += [f" - title: {n}", f"-  rim: {_text(shrunk(r), ',', ' ')}"]
        out += [f"+  rim: {_text(r, ',', ' ')}"]
    return "\n".join(out)


@captured("M")
def attributes_of_a_page(rooms: Rooms, rng: Generator) -> Written:
    cells = html.escape(dump([{"title": n, "rim": plain(r)} for n, r in rooms.items()]))
    return (
        f'<html><body><div id="plan" data-rev="12" data-cells="{cells}"></div>'
        "<p>81 %, 192.168.7.31</p></body></html>"
    )


@captured("M")
def statements_about_things(rooms: Rooms, rng: Generator) -> Written:
    out = ["@prefix p: <urn:plan:> .", ""]
    for i, (n, r) in enumerate(rooms.items()):
        ring = _text([*r, r[0]], " ", ", ")
        out += [
            f"p:cell{i} a p:Cell ;",
            f'  p:title "{n}" ;',
            f'  p:rim "POLYGON (({ring}))" .',
            "",
        ]
    return "\n".join(out)


@captured("M")
def blocks_of_fields(rooms: Rooms, rng: Generator) -> Written:
    out = []
    for i, (n, r) in enumerate(rooms.items()):
        out += ["", f"Number   : {i}", f"Title    : {n}", "Suction  : Medium"]
        out += [f"Rim      : {{{_text(r, ';', ', ')}}}"]
    return "\r\n".join(out)
