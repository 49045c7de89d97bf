"""Tables as CSV (RFC 4180), safe to open in a spreadsheet."""

import csv
from collections.abc import Iterable, Sequence
from datetime import datetime
from io import StringIO

# A cell that begins so is run as a formula by spreadsheets, and people name facilities and devices as they like.
FORMULA = ("=", "+", "-", "@", "\t", "\r")
Cell = str | int | float | datetime | None


def table(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A header and the rows. Nothing known is an empty cell; instants are in UTC, numbers to a tenth."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_plain(cell) for cell in row] for row in rows)
    return out.getvalue()


def attachment(what: str, at: datetime) -> str:
    """Content-Disposition of a table; `what` in plain letters."""
    return f'attachment; filename="{what}-{at:%Y-%m-%d}.csv"'


def _plain(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.isoformat().replace("+00:00", "Z")
    if isinstance(cell, float):
        return f"{cell:.1f}"
    # What marks a text as text comes before it: a spreadsheet shows it and runs nothing.
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else str(cell)
