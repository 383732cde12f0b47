"""`regmap batch`: a table of pictures, registered by several processes."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import click

from regmap.cli import options, safety

if TYPE_CHECKING:
    from regmap.inputs.batch_table import BatchRow
    from regmap.outputs.batch_folder import BatchFolder, Record

__all__ = ["batch"]


@click.command(short_help="Register a table of pictures.")
@click.argument("table", type=click.Path())
@options.out_folder_option(
    "Folder for a stored fit a picture, NAME.json, and summary.csv; made if need be.",
    required=True,
)
@click.option(
    "--workers",
    type=click.IntRange(1),
    default=lambda: os.cpu_count() or 1,
    show_default="number of processors",
    help="Processes that work side by side.",
)
@options.json_option
@options.force_option
def batch(table: str, out: str, workers: int, json_: bool, force: bool) -> None:
    """Register all pictures of TABLE, a CSV file with a picture a row.

    Its head line names the columns: picture and outlines (paths, relative to the table), and, if
    wanted, name, key, model, mirrored (yes or no) and unit. A run that was broken off goes on where
    it was when it is started again; rows that are done are not done twice. A row whose files have
    changed since is done again with --force. DIR can be given to `regmap identify`.

    The exit code is 1 if a row failed, 4 if nothing fits in one, 3 if one is doubtful.

    \b
    Example:
      regmap batch floors.csv --out fits --workers 4
    """
    from regmap.inputs.batch_table import read_table
    from regmap.outputs import folder
    from regmap.outputs.batch_folder import BatchFolder

    rows = read_table(table)
    place = BatchFolder(out)
    folder.check_free(out, ())
    done, keys = _look(rows, place)
    left = [row for row in rows if row.name in keys and row.name not in done]
    _refuse_overwriting(left, keys, place, force)
    read = (path for row in rows for path in (row.picture, row.outlines))
    safety.keep((table, *read), place.files(row.name for row in rows))
    before = sum(bool(record.content) for record in done.values())
    _work(left, keys, place, done, workers)
    records = [done[row.name] for row in rows]
    summary = place.write_summary(records)
    _report(records, before, str(summary), json_)
    code = _exit_code(records)
    if code != options.SURE:
        raise click.exceptions.Exit(code)


def _look(
    rows: tuple[BatchRow, ...], place: BatchFolder
) -> tuple[dict[str, Record], dict[str, str]]:
    """Return the records of rows that are done or cannot be read, and the others' content keys."""
    from regmap.errors import RegmapError
    from regmap.inputs.batch_table import content_key
    from regmap.outputs.batch_folder import Record

    done: dict[str, Record] = {}
    keys: dict[str, str] = {}
    for row in rows:
        try:
            keys[row.name] = content_key(row)
        except RegmapError as error:
            done[row.name] = Record(row.name, "", "failed", None, None, str(error))
            continue
        record = place.finished(row.name, keys[row.name])
        if record is not None:
            done[row.name] = record
    return done, keys


def _refuse_overwriting(
    rows: list[BatchRow], keys: dict[str, str], place: BatchFolder, force: bool
) -> None:
    from regmap.errors import StoredFileError

    there = [path for row in rows if (path := place.in_the_way(row.name, keys[row.name]))]
    there += place.foreign_summary()
    if there and not force:
        more = f" and {len(there) - 3} more" if len(there) > 3 else ""
        raise StoredFileError(
            f"{', '.join(there[:3])}{more} would be overwritten: they are of other content. Give "
            "another folder, or --force"
        )


def _work(
    rows: list[BatchRow],
    keys: dict[str, str],
    place: BatchFolder,
    done: dict[str, Record],
    workers: int,
) -> None:
    """Run what is left; each result is on the disk before the bar moves on."""
    from regmap.batch import Job, in_processes

    if not rows:
        return
    # BLAS reads these when a worker loads numpy. With more than one thread each, processes get in
    # each other's way.
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    jobs = [Job(str(r.picture), str(r.outlines), r.name, dict(r.options)) for r in rows]
    with options.progress(len(rows), "registering", least=1) as step:
        for number, result in in_processes(jobs, min(workers, len(rows))):
            name = rows[number].name
            done[name] = place.write(result, keys[name])
            step(1)


def _exit_code(records: list[Record]) -> int:
    verdicts = {record.verdict for record in records}
    for verdict, code in (
        ("failed", options.ERROR),
        ("error", options.ERROR),
        ("nothing fits", options.NO_FIT),
        ("doubtful", options.DOUBTFUL),
    ):
        if verdict in verdicts:
            return code
    return options.SURE


def _report(records: list[Record], before: int, summary: str, json_: bool) -> None:
    from regmap.caution import CAUTION

    if json_:
        rows: list[dict[str, Any]] = [
            {
                "name": r.name,
                "verdict": r.verdict,
                "confidence": r.confidence,
                "seconds": r.seconds,
                "text": r.text,
            }
            for r in records
        ]
        options.echo_json({"rows": rows, "files": [summary], "caution": CAUTION})
        return
    verdicts = [record.verdict for record in records]
    parts = [f"{verdicts.count(v)} {v}" for v in dict.fromkeys(verdicts)]
    known = f" ({before} of them were done before)" if before else ""
    options.say(f"{len(records)} pictures: {', '.join(parts)}{known}", bold=True)
    for record in records:
        if record.verdict != "sure":
            options.say(f"  {record.name}: {record.verdict}: {record.headline}")
    options.say(f"wrote {summary}")
    options.say(CAUTION)
