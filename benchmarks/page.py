"""REPORT.md: what the suites found, from the files that they left in a folder."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from benchmarks.report import cell

__all__ = ["write_page"]

Stored = Mapping[str, Any]


def write_page(folder: Path, page: Path, suites: Mapping[str, str]) -> Path:
    """Write a page of all suites whose files lie in `folder`, and copy their plots beside it.

    `suites`: name -> what it measures, in the order of the page.
    """
    found: dict[str, Stored] = {}
    for name in suites:
        path = folder / f"{name}.json"
        if path.exists():
            found[name] = json.loads(path.read_text(encoding="utf-8"))
    plots = page.parent / "plots"
    plots.mkdir(parents=True, exist_ok=True)
    for name in found:
        shutil.copyfile(folder / f"{name}.png", plots / f"{name}.png")
    parts = [_head(found), *(_section(name, suites[name], one) for name, one in found.items())]
    page.write_text("\n\n".join(parts) + "\n", encoding="utf-8")
    return page


def _head(found: Mapping[str, Stored]) -> str:
    machines = list(dict.fromkeys(_machine(one) for one in found.values()))
    rows = [
        [
            f"[{name}](#{name})",
            one["run"]["pictures"],
            f"{one['run']['seed']} to {one['run']['seed'] + one['run']['pictures'] - 1}",
            "quick" if one["run"]["quick"] else "full",
            one["run"]["jobs"],
            one["run"]["seconds"],
            one["run"]["load"],
            one["run"]["date"],
            str(1 + machines.index(_machine(one))),
        ]
        for name, one in found.items()
    ]
    columns = {
        "suite": "",
        "pictures a family": "d",
        "seeds": "",
        "run": "",
        "processes": "d",
        "s": ".0f",
        "load": ".1f",
        "date": "",
        "machine": "",
    }
    quick = ""
    if any(one["run"]["quick"] for one in found.values()):
        quick = (
            "**A suite marked quick ran on few and small pictures: its figures show that it works, "
            "and little more.**\n\n"
        )
    listed = "\n".join(f"{number}. {text}" for number, text in enumerate(machines, start=1))
    return (
        "# What regmap reaches\n\n"
        "Written by `python -m benchmarks --report benchmarks/REPORT.md`; do not edit. All floors "
        "and pictures are made, so that the truth is known exactly. Seeds below 1000 were used in "
        "development. Where times are compared they were taken in one run. "
        "`load` is how many processes wanted a processor when a suite began: with a load above the "
        "number of processors its times are those of a busy machine.\n\n"
        f"{quick}{_table(columns, rows)}\n\nMachines:\n\n{listed}"
    )


def _machine(one: Stored) -> str:
    made = dict(one["made_with"])
    where = f"{made.pop('machine')}, {made.pop('processors')} processors, {made.pop('system')}"
    model = made.pop("model", "")
    versions = ", ".join(f"{name} {version}" for name, version in made.items())
    return f"{model + ', ' if model else ''}{where}; {versions}"


def _section(name: str, what: str, one: Stored) -> str:
    end = "" if what.endswith("?") else "."
    parts = [f"## {name}", f"{what[0].upper()}{what[1:]}{end}"]
    for table in one["tables"]:
        rows = [list(row.values()) for row in table["rows"]]
        parts.append(f"**{table['title']}**\n\n{_table(table['columns'], rows)}")
        if table["note"]:
            parts.append(table["note"])
    parts.append(f"![{name}](plots/{name}.png)")
    return "\n\n".join(parts)


def _table(columns: Mapping[str, str], rows: Iterable[list[Any]]) -> str:
    """A Markdown table; figures stand to the right."""
    lines = ["| " + " | ".join(columns) + " |"]
    lines.append("|" + "|".join("---:" if spec else "---" for spec in columns.values()) + "|")
    for row in rows:
        texts = [cell(v, s).replace("|", "\\|") for v, s in zip(row, columns.values(), strict=True)]
        lines.append("| " + " | ".join(texts) + " |")
    return "\n".join(lines)
