"""Tables as text, fit to be opened in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

__all__ = ["csv_text"]

# What begins so is a formula to a spreadsheet, and runs when the table is opened. Names come from
# captures, which may hold anything. (OWASP, "CSV Injection"; from memory)
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def csv_text(rows: Iterable[Sequence[object]]) -> str:
    """Return a table as RFC 4180 describes it; the first row is the heading.

    A text that a spreadsheet would take for a formula gets an apostrophe before it. Numbers stay
    what they are.
    """
    table = io.StringIO()
    writer = csv.writer(table, lineterminator="\r\n")
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return table.getvalue()


def _cell(cell: object) -> object:
    formula = isinstance(cell, str) and cell.lstrip(" ").startswith(_FORMULA)
    return f"'{cell}" if formula else cell
