"""`python -m benchmarks`: all suites, or those that are named."""

from __future__ import annotations

import datetime
import importlib
import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchmarks.settings import FIRST_SEED, FULL, QUICK, Settings

if TYPE_CHECKING:
    from benchmarks.samples import Runs

SUITES = {
    "success": "right answers, sure answers, strangers and twins, family by family",
    "accuracy": "error and bias against noise, size and turn",
    "speed": "time against decoding the picture, stage by stage, against other pipelines",
    "growth": "time against pixels and rooms",
    "throughput": "a batch against floors and workers",
    "service": "how long an event loop stands still, and what threads gain",
    "imports": "time, memory and packages of loading",
    "memory": "peak memory against pixels",
    "soak": "2,000 registrations in one process: memory, time, answers",
    "peers": "general pipelines on the same pictures",
    "calibration": "is the confidence a probability?",
    "coverage": "does the predicted error keep its word?",
    "bound": "error against the least possible one",
    "captures": "outlines out of texts, spelling by spelling",
    "rectangles": "slanted areas in five upright rectangles, against a long search",
    "align": "second mapping runs: old coordinates in the new frame",
    "identify": "which of five floors is this?",
    "real": "recorded maps from a folder of your own (--maps)",
    "own": "made pictures of floors of your own (--floors)",
}


@click.command(epilog="Suites: " + "; ".join(f"{n}: {t}" for n, t in SUITES.items()) + ".")
@click.argument("suites", nargs=-1, type=click.Choice([*SUITES, "all"]))
@click.option("--pictures", type=click.IntRange(1), help=f"A family; {FULL}, or {QUICK} if quick.")
@click.option("--seed", default=FIRST_SEED, show_default=True, help="The first seed.")
@click.option("--jobs", default=1, show_default=True, type=click.IntRange(1), help="Processes.")
@click.option("--families", default="", help="Names with commas between; default: all.")
@click.option("--out", default="benchmarks/out", show_default=True, type=click.Path(path_type=Path))
@click.option("--quick", is_flag=True, help="Few pictures, none large: all suites in 3 minutes.")
@click.option(
    "--report",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.md",
    help="Afterwards write a page of all suites whose files lie in OUT, plots beside it.",
)
@click.option(
    "--maps",
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="A folder of recorded maps, for `real`.",
)
@click.option(
    "--floors",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    metavar="FILE.geojson",
    help="Rooms of your own floors in mm, properties name and floor, for `own`.",
)
def main(suites: tuple[str, ...], families: str, report: Path | None, **options: Any) -> None:
    """Measure regmap on made floors: print tables, write SUITE.json and SUITE.png into OUT.

    Without SUITES, all of them are run; with --floors or --maps alone, those on your own data.

    \b
    Examples:
      python -m benchmarks --quick
      python -m benchmarks success calibration --jobs 2
      python -m benchmarks --report benchmarks/REPORT.md
      python -m benchmarks --floors my-floors.geojson
    """
    from benchmarks.page import write_page
    from benchmarks.samples import Runs

    options["pictures"] = options["pictures"] or (QUICK if options["quick"] else FULL)
    names = tuple(name.strip() for name in families.split(",") if name.strip())
    settings = Settings(families=names, **options)
    runs = Runs(settings)
    for suite in _chosen(suites, settings):
        _run(suite, settings, runs)
    if report is not None:
        click.echo(f"wrote {write_page(settings.out, report, SUITES)}")


def _chosen(suites: tuple[str, ...], settings: Settings) -> tuple[str, ...]:
    """The suites to run: those on the user's own data need that data."""
    given = {"real": settings.maps is not None, "own": settings.floors is not None}
    if not suites and any(given.values()):
        return tuple(name for name, there in given.items() if there)
    if not suites or "all" in suites:
        return tuple(name for name in SUITES if given.get(name, True))
    return tuple(dict.fromkeys(suites))


def _run(suite: str, settings: Settings, runs: Runs) -> None:
    from benchmarks.report import as_text, write

    began = time.perf_counter()
    about = {
        "pictures": settings.pictures,
        "seed": settings.seed,
        "jobs": settings.jobs,
        "families": list(settings.families),
        "quick": settings.quick,
        "date": datetime.date.today().isoformat(),
        "load": os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
    }
    report = importlib.import_module(f"benchmarks.{suite}").run(settings, runs)
    about["seconds"] = time.perf_counter() - began
    for table in report.tables:
        click.echo(as_text(table) + "\n")
    for path in write(report, settings.out, about):
        click.echo(f"wrote {path}")


if __name__ == "__main__":
    main()
