"""Reads files of events line by line: newline-delimited JSON, or CSV with a header."""

import csv
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial

from rest_framework.exceptions import ParseError, ValidationError

from alarms.api.event_shapes import read_event
from alarms.services.event_files import Line
from equipment.api.parsers import strict_json
from equipment.api.problems import faults_of
from equipment.faults import Fault, Invalid

MAX_LINE = 32_768
COLUMNS = ("source", "id", "device", "condition", "signal", "occurred_at", "payload")
NEEDED = frozenset(COLUMNS) - {"device", "payload"}
_BOM = b"\xef\xbb\xbf"


class LineError(Exception):
    """A line that does not even decode."""


def json_lines(raw: Iterable[bytes]) -> Iterator[Line]:
    """An event a line; empty lines say nothing."""
    for number, line in _numbered(raw):
        yield _line(number, line, partial(strict_json, what="line"))


def csv_lines(raw: Iterable[bytes]) -> Iterator[Line]:
    """An event a line after the header, which names some of `COLUMNS` in any order; `Invalid` when it does not.

    An empty cell says nothing. A cell cannot hold a line break: one event is one line.
    """
    numbered = _numbered(raw)
    for _, line in numbered:
        header = _header(line)
        break
    for number, line in numbered:
        yield _line(number, line, lambda text: _of_cells(header, text))


def _numbered(raw: Iterable[bytes]) -> Iterator[tuple[int, bytes]]:
    for number, line in enumerate(raw, start=1):
        kept = line.removeprefix(_BOM) if number == 1 else line
        if kept := kept.rstrip(b"\r\n"):
            yield number, kept


def _line(number: int, raw: bytes, decode: Callable[[str], object]) -> Line:
    """The line with its event, or with every fault of it."""
    try:
        return Line(number, raw, read_event(decode(_text(raw))))
    except ValidationError as error:
        return Line(number, raw, None, faults_of(error))
    except (LineError, ParseError) as error:
        return Line(number, raw, None, [Fault("", str(error), "unreadable")])


def _text(raw: bytes) -> str:
    if len(raw) > MAX_LINE:
        raise LineError(f"A line holds {MAX_LINE} bytes at most; this has {len(raw)}.")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise LineError(f"The line is not UTF-8: byte {error.start} of it cannot be read.") from error


def _header(line: bytes) -> Sequence[str]:
    try:
        names = _cells(_text(line))
    except LineError as error:
        raise Invalid("The file cannot be read as CSV.", [Fault("/1", str(error), "unreadable")]) from error
    wrong = [f"{name!r:.60} is no column" for name in names if name not in COLUMNS]
    wrong += [f"{name} is missing" for name in sorted(NEEDED - set(names))]
    if len(set(names)) < len(names):
        wrong.append("a name stands twice")
    if wrong:
        detail = f"{'; '.join(wrong[:10])}. Known columns: {', '.join(COLUMNS)}."
        raise Invalid("The first line names the columns.", [Fault("/1", detail, "header")])
    return names


def _of_cells(header: Sequence[str], text: str) -> dict[str, object]:
    cells = _cells(text)
    if len(cells) != len(header):
        raise LineError(f"The line has {len(cells)} cells and the header {len(header)}.")
    sent: dict[str, object] = {name: cell for name, cell in zip(header, cells, strict=True) if cell}
    if "payload" in sent:
        sent["payload"] = strict_json(str(sent["payload"]), what="payload")
    return sent


def _cells(text: str) -> list[str]:
    try:
        return next(csv.reader([text], strict=True))
    except (csv.Error, StopIteration) as error:
        raise LineError(f"The line is not CSV: {error}.") from error
