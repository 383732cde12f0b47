"""`python -m benchmarks SUITE...`"""

from __future__ import annotations

import importlib
from pathlib import Path

import click

from benchmarks.settings import FIRST_SEED, FULL, QUICK, Settings

SUITES = {
    "success": "right answers, sure answers, strangers and twins, family by family",
    "accuracy": "error and bias against noise, size and turn",
    "speed": "time against decoding the picture, stage by stage, against other pipelines",
    "growth": "time against pixels and rooms",
    "memory": "peak memory against pixels",
    "peers": "general pipelines on the same pictures",
    "calibration": "is the confidence a probability?",
    "coverage": "does the predicted error keep its word?",
    "bound": "error against the least possible one",
    "captures": "outlines out of texts, spelling by spelling",
    "align": "second mapping runs: old coordinates in the new frame",
    "identify": "which of five floors is this?",
    "real": "recorded maps from a folder of your own (--maps)",
}


@click.command(epilog="Suites: " + "; ".join(f"{n}: {t}" for n, t in SUITES.items()) + ".")
@click.argument("suites", nargs=-1, required=True, type=click.Choice([*SUITES, "all"]))
@click.option("--pictures", type=click.IntRange(1), help=f"A family; {FULL}, or {QUICK} if quick.")
@click.option("--seed", default=FIRST_SEED, show_default=True, help="The first seed.")
@click.option("--jobs", default=1, show_default=True, type=click.IntRange(1), help="Processes.")
@click.option("--families", default="", help="Names with commas between; default: all.")
@click.option("--out", default="benchmarks/out", show_default=True, type=click.Path(path_type=Path))
@click.option("--quick", is_flag=True, help="Few pictures, none large.")
@click.option("--maps", type=click.Path(path_type=Path, exists=True, file_okay=False))
def main(
    suites: tuple[str, ...],
    pictures: int | None,
    seed: int,
    jobs: int,
    families: str,
    out: Path,
    quick: bool,
    maps: Path | None,
) -> None:
    """Measure regmap on made floors: print tables, write SUITE.json and SUITE.png into OUT."""
    from benchmarks.report import as_text, write
    from benchmarks.samples import Runs

    settings = Settings(
        pictures=pictures or (QUICK if quick else FULL),
        seed=seed,
        jobs=jobs,
        families=tuple(name.strip() for name in families.split(",") if name.strip()),
        out=out,
        quick=quick,
        maps=maps,
    )
    if "all" in suites:
        suites = tuple(name for name in SUITES if name != "real" or maps is not None)
    runs = Runs(settings)
    for suite in dict.fromkeys(suites):
        report = importlib.import_module(f"benchmarks.{suite}").run(settings, runs)
        for table in report.tables:
            click.echo(as_text(table) + "\n")
        for path in write(report, out):
            click.echo(f"wrote {path}")


if __name__ == "__main__":
    main()
