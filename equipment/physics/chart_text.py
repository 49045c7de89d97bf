"""A chart as CSV text: columns `depth_in` and `gal`. Inches may be written as on a stick: `80 7/8`."""

import csv
import re
from collections.abc import Iterator
from decimal import Decimal
from io import StringIO

import msgspec

from equipment.faults import Fault
from equipment.physics.charts import STEPS, Chart, Row, chart_volume

COLUMNS = ("depth_in", "gal")
STICK = re.compile(r"(\d{1,4})[ -](\d{1,2})/(2|4|8|16)")
NUMBER = re.compile(r"-?\d{1,12}(\.\d{1,12})?")


class ReadChart(msgspec.Struct, frozen=True):
    """Rows in the order of the file, and what could not be read; pointers count rows as `/rows/0`, the first one."""

    rows: tuple[Row, ...]
    faults: tuple[Fault, ...]


def read_chart(content: bytes, *, most_rows: int) -> ReadChart:
    """The rows of a CSV file in UTF-8, with or without byte order mark, separated by commas, semicolons or tabs."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return ReadChart((), (Fault("", f"byte {error.start} is not UTF-8; save it as UTF-8", "encoding"),))
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    head = lines[0][1] if lines else ""
    separator = next((one for one in ",;\t" if one in head), ",")
    names = [name.lower() for name in _cells(head, separator)]
    if sorted(names) != sorted(COLUMNS):
        detail = f"the first line names the columns: depth_in{separator}gal; it reads {head[:60]!r}"
        return ReadChart((), (Fault("", detail, "header"),))
    if len(lines) - 1 > most_rows:
        detail = f"{len(lines) - 1} rows; {most_rows} are read at most"
        return ReadChart((), (Fault("", detail, "too-long"),))
    return _read(lines[1:], names, separator)


def _read(lines: list[tuple[int, str]], names: list[str], separator: str) -> ReadChart:
    rows: list[Row] = []
    faults: list[Fault] = []
    for row, (line, text) in enumerate(lines):
        cells = _cells(text, separator)
        if len(cells) != len(names):
            detail = (
                f"line {line} has {len(cells)} cells, not {len(names)}; numbers have no thousands separators"
            )
            faults.append(Fault(f"/rows/{row}", detail, "columns"))
            continue
        told = dict(zip(names, cells, strict=True))
        depth, gal = _number(told["depth_in"], sticks=True), _number(told["gal"], sticks=False)
        if depth is None:
            detail = f"{told['depth_in'][:30]!r} in line {line} is no depth; write 80.875 or 80 7/8"
            faults.append(Fault(f"/rows/{row}/depth_in", detail, "type"))
        if gal is None:
            detail = f"{told['gal'][:30]!r} in line {line} is no number of gallons; write 8123.5"
            faults.append(Fault(f"/rows/{row}/gal", detail, "type"))
        if depth is not None and gal is not None:
            rows.append(Row(depth, gal))
    return ReadChart(tuple(rows), tuple(faults))


def write_chart(chart: Chart, step_in: float | None = None) -> str:
    """The rows as on file, or one every `step_in` inches, interpolated, and the last one."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180, 2
    writer.writerow(COLUMNS)
    for row in chart.rows if step_in is None else stepped(chart, step_in):
        writer.writerow((_plain(row.depth_in), _plain(row.gal)))
    return out.getvalue()


def _plain(value: float) -> str:
    """As typed, to six decimals; never in powers of ten."""
    text = format(Decimal(repr(round(value, 6))), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def stepped(chart: Chart, step_in: float) -> Iterator[Row]:
    """A row every step from the chart's first depth on, and its last row. Volumes between rows are interpolated."""
    if step_in not in STEPS:
        raise ValueError(f"a chart steps by {', '.join(f'{each:g}' for each in STEPS)} in, not {step_in:g}")
    start = chart.rows[0].depth_in
    number = 0
    while (depth := start + number * step_in) < chart.full_in:
        yield Row(depth, chart_volume(chart, depth))
        number += 1
    yield chart.rows[-1]


def in_eighths(inches: float) -> str:
    """As on a stick: 80 7/8, for a depth that lies on an eighth."""
    whole, eighths = divmod(round(inches * 8), 8)
    if not eighths:
        return str(whole)
    down = eighths & -eighths
    part = f"{eighths // down}/{8 // down}"
    return f"{whole} {part}" if whole else part


def _cells(line: str, separator: str) -> list[str]:
    """Two numbers need no quotes; some programs write them all the same."""
    return [cell.strip().strip('"').strip() for cell in line.split(separator)]


def _number(text: str, *, sticks: bool) -> float | None:
    if NUMBER.fullmatch(text):
        return float(text)
    stick = STICK.fullmatch(text) if sticks else None
    if stick is None:
        return None
    whole, over, under = map(int, stick.groups())
    return whole + over / under if over < under else None
