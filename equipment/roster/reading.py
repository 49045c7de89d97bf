"""Reads a CSV file row by row, however broken: every fault stays in its own row, and memory stays bounded."""

import codecs
import csv
import io
from collections.abc import Iterator, Sequence
from typing import IO

import msgspec

# A quotation mark that never closes would swallow the rest of the file; no real cell spans more lines than this.
MAX_LINES_A_ROW = 10
MAX_CHARACTERS_A_LINE = 65_536
# What an undecodable byte becomes (Python's surrogateescape), so that the rest of the file can still be read.
_LOST_BYTES = range(0xDC80, 0xDD00)
_OTHER_MARKS = {
    codecs.BOM_UTF16_LE: "UTF-16",
    codecs.BOM_UTF16_BE: "UTF-16",
}


class RosterError(ValueError):
    """The file as a whole cannot be used. The message says where and what to do.

    It may quote the file: what could not be decoded there is spelt out, since no answer could carry it.
    """

    def __init__(self, message: str) -> None:
        super().__init__(message.encode("utf-8", "backslashreplace").decode("utf-8"))


class RawRow(msgspec.Struct, frozen=True):
    """One row of cells by column, or the reason why it cannot be used. The header is row 1, as in a spreadsheet."""

    number: int
    cells: dict[str, str]
    column: str = ""
    value: str = ""
    fault: str | None = None


class Roster:
    """An open roster: its header is read and checked, its rows come one by one.

    `source` is read once, forwards. `RosterError` when there is no usable header or a needed column is missing.
    """

    def __init__(
        self, source: IO[bytes], *, name: str, needed: Sequence[str], encoding: str, delimiter: str
    ) -> None:
        self.name = name
        self.encoding = encoding
        self._delimiter = delimiter
        self._lines = _lines(source, name=name, encoding=encoding)
        self._pushed: list[str] = []
        self._number = 0
        self.columns = self._header(needed)

    def __iter__(self) -> Iterator[RawRow]:
        """Every row that is not blank."""
        while (line := self._next_line()) is not None:
            self._number += 1
            if line.strip():
                yield self._row(line)

    def _header(self, needed: Sequence[str]) -> tuple[str, ...]:
        line = self._next_line()
        if line is None or not line.strip():
            raise RosterError(f"{self.name}:1: the first line names the columns; it is empty")
        self._number = 1
        cells, fault = self._cells(line)
        columns = tuple(cell.strip() for cell in cells)
        if fault is not None:
            raise RosterError(f"{self.name}:1: the header cannot be read: {fault}")
        if repeated := sorted({column for column in columns if columns.count(column) > 1}):
            raise RosterError(
                f"{self.name}:1: the column {repeated[0]!r} stands twice; give each its own name"
            )
        if missing := [column for column in dict.fromkeys(needed) if column not in columns]:
            raise RosterError(
                f"{self.name}:1: the mapping needs the column {missing[0]!r}, which is not in the header; "
                f"the header has: {', '.join(columns)}"
            )
        return columns

    def _row(self, line: str) -> RawRow:
        cells, fault = self._cells(line)
        if fault is not None:
            return RawRow(self._number, {}, fault=fault)
        if len(cells) != len(self.columns):
            return RawRow(
                self._number,
                {},
                fault=f"has {len(cells)} cells where the header has {len(self.columns)}; a comma in a text needs "
                "quotation marks around the text",
            )
        row = dict(zip(self.columns, cells, strict=True))
        if '"' not in line and line.isascii() and line.rstrip("\r\n").isprintable():
            return RawRow(self._number, row)
        for column, cell in row.items():
            if reason := self._unusable(cell):
                return RawRow(self._number, row, column, cell, reason)
        return RawRow(self._number, {column: _one_line(cell) for column, cell in row.items()})

    def _cells(self, line: str) -> tuple[list[str], str | None]:
        """The cells of the record that begins with this line, or why they cannot be told apart."""
        if len(line) > MAX_CHARACTERS_A_LINE:
            return [], f"is longer than {MAX_CHARACTERS_A_LINE} characters; it is no row of a roster"
        if '"' not in line:
            return line.rstrip("\r\n").split(self._delimiter), None
        taken = [line]
        while True:
            try:
                return next(csv.reader(taken, delimiter=self._delimiter, strict=True)), None
            except csv.Error as error:
                if "unexpected end of data" not in str(error):
                    return (
                        [],
                        f'its quotation marks are not those of a CSV file ({error}); write "" for one inside',
                    )
            following = self._next_line() if len(taken) < MAX_LINES_A_ROW else None
            if following is None:
                self._pushed = taken[1:] + self._pushed
                return [], f"a quotation mark opens and does not close within {MAX_LINES_A_ROW} lines"
            taken.append(following)

    def _next_line(self) -> str | None:
        return self._pushed.pop(0) if self._pushed else next(self._lines, None)

    def _unusable(self, cell: str) -> str | None:
        for one in cell:
            if ord(one) in _LOST_BYTES:
                return (
                    f"holds the byte 0x{ord(one) - 0xDC00:02x}, which is not {self.encoding}; save the file as UTF-8, "
                    "or name its encoding in the mapping"
                )
            if (ord(one) < 32 and one not in "\t\r\n") or 127 <= ord(one) < 160 or one == "�":
                return f"holds the character U+{ord(one):04X}, which no text has; type the cell anew"
        return None


def _one_line(cell: str) -> str:
    return " ".join(cell.split()) if any(one in cell for one in "\t\r\n") else cell


def _lines(source: IO[bytes], *, name: str, encoding: str) -> Iterator[str]:
    """Lines of bounded length. What is beyond is dropped; the row is refused, since its line is too long."""
    start = source.read(3)
    for mark, spoken in _OTHER_MARKS.items():
        if start.startswith(mark):
            raise RosterError(f"{name}:1: the file is {spoken}; save it as CSV in UTF-8")
    if start == codecs.BOM_UTF8:
        start, encoding = b"", "utf-8"
    text = io.TextIOWrapper(
        io.BufferedReader(_Joined(start, source)), encoding=encoding, errors="surrogateescape", newline=""
    )
    try:
        while line := text.readline(MAX_CHARACTERS_A_LINE + 1):
            rest = line
            while len(rest) > MAX_CHARACTERS_A_LINE and not rest.endswith(("\n", "\r")):
                rest = text.readline(MAX_CHARACTERS_A_LINE + 1)
            yield line
    except UnicodeError as error:
        raise RosterError(f"{name}: cannot be read as {encoding}: {error}; save it as UTF-8") from error


class _Joined(io.RawIOBase):
    """Bytes already read, then the rest of the file."""

    def __init__(self, start: bytes, rest: IO[bytes]) -> None:
        self._start = start
        self._rest = rest

    def readable(self) -> bool:
        """Yes."""
        return True

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        """Fill the buffer; 0 at the end."""
        if self._start:
            count = min(len(buffer), len(self._start))
            buffer[:count], self._start = self._start[:count], self._start[count:]
            return count
        content = self._rest.read(len(buffer))
        buffer[: len(content)] = content
        return len(content)
