"""The folder of a batch: a stored fit for each picture, and a record for each row that is done.

    NAME.json                 the Registration, if something fitted
    records/NAME.record.json  what became of the row, and of which content
    summary.csv               one line a row

A record is written whole, or not at all. A row counts as done if its record speaks of the same
content and the fit of which it speaks is there and whole; whatever else is found was left by a
crash.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from regmap import __version__
from regmap.errors import NoFitError, RegmapError, StoredFileError
from regmap.inputs.opened import opened
from regmap.outputs import folder, whole_files
from regmap.outputs.tables import csv_text
from regmap.registration import Registration

if TYPE_CHECKING:
    from regmap.batch import BatchResult

__all__ = ["BatchFolder", "Record"]

_FORMAT, _VERSION = "regmap batch record", 1
_SUMMARY = "summary.csv"
_LONGEST = 2**24


@dataclass(frozen=True)
class Record:
    """What became of one row.

    Attributes:
        name: of the row. content: key of what went in, as in `content_key`. verdict: "sure",
            "doubtful", "nothing fits" or "error". confidence: 0..1, or None. seconds: of the work.
        text: reasons of a doubt or refusal, or the error's text. version: of this package.
    """

    name: str
    content: str
    verdict: str
    confidence: float | None
    seconds: float | None
    text: str
    version: str = __version__

    @property
    def lasting(self) -> bool:
        """True if running it again would give the same: not so after a crash or lack of memory."""
        return self.verdict != "failed"

    @property
    def has_fit(self) -> bool:
        """True if a Registration belongs to it."""
        return self.verdict in ("sure", "doubtful")

    @property
    def headline(self) -> str:
        """The first line of the text."""
        return self.text.partition("\n")[0]

    @classmethod
    def of(cls, result: BatchResult, content: str) -> Record:
        """Put a result into words."""
        fit, error = result.fit, result.error
        verdict = result.verdict
        if isinstance(error, NoFitError):
            reasons = error.reasons
        elif error is not None:
            reasons = (str(error) or type(error).__name__,)
            # What the package itself refuses it will refuse again; anything else may pass.
            verdict = "error" if isinstance(error, RegmapError) else "failed"
        else:
            reasons = fit.reasons if fit is not None else ()
        return cls(
            result.name,
            content,
            verdict,
            None if fit is None else fit.confidence,
            None if math.isnan(result.seconds) else round(result.seconds, 3),
            "; ".join(reasons),
        )


def _text(path: Path) -> str:
    with opened(path) as file:
        return file.read(_LONGEST).decode("utf-8")


class BatchFolder:
    """Where the results of a batch lie."""

    def __init__(self, place: str | os.PathLike[str]) -> None:
        self.place = Path(place)

    def fit_path(self, name: str) -> Path:
        """Return where the Registration of a row lies."""
        return self.place / f"{name}.json"

    def _record_path(self, name: str) -> Path:
        return self.place / "records" / f"{name}.record.json"

    def files(self, names: Iterable[str]) -> list[Path]:
        """Return all files that a batch of rows of these names writes."""
        places = [(self.fit_path(name), self._record_path(name)) for name in names]
        return [self.place / _SUMMARY, *(path for pair in places for path in pair)]

    def finished(self, name: str, content: str) -> Record | None:
        """Return the record of a row that is done with this very content, or None."""
        record = self._record(name)
        if record is None or record.content != content:
            return None
        if record.has_fit:
            try:
                Registration.load(self.fit_path(name))
            except StoredFileError:
                return None
        return record

    def in_the_way(self, name: str, content: str) -> str | None:
        """Return the path of a file that a new result of this row would replace and that a broken
        run of the same content did not leave."""
        record = self._record(name)
        path = self._record_path(name)
        if path.exists() and (record is None or record.content != content):
            return str(path)
        if record is None and self.fit_path(name).exists():
            return str(self.fit_path(name))
        return None

    def foreign_summary(self) -> list[str]:
        """Return the path of a summary.csv that no batch wrote, if there is one."""
        path = self.place / _SUMMARY
        return [str(path)] if path.exists() and not (self.place / "records").is_dir() else []

    def _record(self, name: str) -> Record | None:
        try:
            stored = json.loads(_text(self._record_path(name)))
            if stored.pop("format") != _FORMAT or stored.pop("version_of_format") != _VERSION:
                return None
            record = Record(**stored)
        except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
            return None
        texts = (record.name, record.content, record.verdict, record.text, record.version)
        numbers = (record.confidence, record.seconds)
        good = all(isinstance(one, str) for one in texts) and all(
            one is None or isinstance(one, int | float) for one in numbers
        )
        return record if good else None

    def write(self, result: BatchResult, content: str) -> Record:
        """Write a result; what was there under its name is replaced.

        The old fit goes first and the new one comes last, so that no crash in between leaves a
        record and a fit that do not belong together.

        Raises:
            StoredFileError: if it cannot be written.
        """
        record = Record.of(result, content)
        if not record.lasting:
            return record
        folder.make(self.place / "records")
        fit_path = self.fit_path(result.name)
        try:
            fit_path.unlink(missing_ok=True)
        except OSError as error:
            raise StoredFileError(f"{fit_path}: {error.strerror or error}") from error
        stored = {"format": _FORMAT, "version_of_format": _VERSION, **asdict(record)}
        whole_files.write_whole(
            self._record_path(result.name), whole_files.json_text(stored), overwrite=True
        )
        if result.fit is not None:
            result.fit.save(fit_path)
        return record

    def write_summary(self, records: Iterable[Record]) -> Path:
        """Write summary.csv, one line a record, and return its path."""
        rows = [
            (
                one.name,
                one.verdict,
                "" if one.confidence is None else f"{one.confidence:.3f}",
                "" if one.seconds is None else f"{one.seconds:.3f}",
                one.headline,
            )
            for one in records
        ]
        heading = ("name", "verdict", "confidence", "seconds", "text")
        folder.make(self.place)
        path = self.place / _SUMMARY
        whole_files.write_whole(path, csv_text([heading, *rows]), overwrite=True)
        return path
