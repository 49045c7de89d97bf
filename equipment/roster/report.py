"""What became of each row, written while it happens: nothing grows with the length of the roster."""

import csv
from collections.abc import Sequence
from enum import StrEnum
from typing import IO, Any

import msgspec

CSV_HEADER = ("row", "outcome", "facility", "tank", "column", "value", "reason")
# A spreadsheet program takes a cell that begins like this for a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
SHOWN_VALUE = 200


class Outcome(StrEnum):
    """What became of a row."""

    IMPORTED = "imported"
    REMARKS = "imported with remarks"
    UNCHANGED = "unchanged"
    REFUSED = "refused"


class Remark(msgspec.Struct, frozen=True):
    """One thing to know about a row: the column, what stood there, and what was made of it. Empty column: the row."""

    column: str
    value: str
    reason: str


class RowReport(msgspec.Struct, frozen=True):
    """One row's outcome. `row` counts as a spreadsheet does: the header is row 1."""

    row: int
    outcome: Outcome
    facility: str
    tank: str
    remarks: tuple[Remark, ...] = ()
    differs: bool = False


class Summary(msgspec.Struct):
    """Counts of a whole run; `differing` counts rows that contradict the register, whatever their outcome."""

    rows: int = 0
    imported: int = 0
    imported_with_remarks: int = 0
    unchanged: int = 0
    refused: int = 0
    differing: int = 0
    facilities_opened: int = 0
    components_added: int = 0
    facts_updated: int = 0
    dry_run: bool = False
    notes: list[str] = msgspec.field(default_factory=list)

    def count(self, report: RowReport) -> None:
        """Add one row."""
        self.rows += 1
        self.differing += report.differs
        match report.outcome:
            case Outcome.IMPORTED:
                self.imported += 1
            case Outcome.REMARKS:
                self.imported_with_remarks += 1
            case Outcome.UNCHANGED:
                self.unchanged += 1
            case Outcome.REFUSED:
                self.refused += 1


def shown(value: object) -> str:
    """A value as a remark shows it: control characters spelled out, cut to a readable length, nothing is unknown."""
    if value is None:
        return "unknown"
    if isinstance(value, list | tuple):
        value = "; ".join(map(str, value)) or "none"
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    text = "".join(one if one.isprintable() else f"\\x{ord(one):02x}" for one in str(value)[:SHOWN_VALUE])
    return text + ("…" if len(str(value)) > SHOWN_VALUE else "")


class CsvReport:
    """One line a remark; a row without remarks has one line."""

    def __init__(self, file: IO[str]) -> None:
        self._writer = csv.writer(file)
        self._writer.writerow(CSV_HEADER)

    def add(self, report: RowReport) -> None:
        """Write one row's lines."""
        for remark in report.remarks or (Remark("", "", ""),):
            self._writer.writerow(
                _harmless(
                    [
                        str(report.row),
                        report.outcome,
                        report.facility,
                        report.tank,
                        remark.column,
                        remark.value,
                        remark.reason,
                    ]
                )
            )

    def close(self, summary: Summary) -> None:
        """Nothing more: the summary has no place in a table of rows."""


class JsonReport:
    """`{"rows": [...], "summary": {...}}`, one row a line."""

    def __init__(self, file: IO[str]) -> None:
        self._file = file
        self._file.write('{"rows": [')
        self._between = "\n"

    def add(self, report: RowReport) -> None:
        """Write one row."""
        self._file.write(self._between + msgspec.json.encode(report).decode())
        self._between = ",\n"

    def close(self, summary: Summary) -> None:
        """Write the summary and end the document."""
        self._file.write(f'\n], "summary": {msgspec.json.encode(summary).decode()}}}\n')


def as_plain(rows: Sequence[RowReport], summary: Summary) -> dict[str, Any]:
    """The same document as plain values, for answers that are not written to a file."""
    return {"summary": msgspec.to_builtins(summary), "rows": msgspec.to_builtins(rows)}


def _harmless(cells: Sequence[str]) -> list[str]:
    return [f"'{cell}" if cell.startswith(FORMULA_STARTS) and not _number(cell) else cell for cell in cells]


def _number(cell: str) -> bool:
    return cell.lstrip("+-").replace(".", "", 1).isdigit()
