"""Long rosters in bounded memory, traced. tests/benchmarks/roster.py measures 20,000 rows from end to end."""

import gc
import io
import tracemalloc
from collections.abc import Callable, Iterator

from equipment.models import Tank
from equipment.roster.reading import Roster
from equipment.roster.report import CsvReport, JsonReport, Outcome, RowReport
from equipment.roster.translating import Translator
from equipment.services import rosters
from equipment.services.roster_elements import register_elements
from equipment.services.rosters import Order, import_roster
from tests.equipment.roster.files import GOOD, HEADER, mapping
from tests.world import NOW, TODAY

ROWS = 20_000


class Made(io.RawIOBase):
    """Rows made while they are read; four tanks of each facility, none of which has been seen before."""

    def __init__(self, rows: int) -> None:
        self._lines = self._made(rows)
        self._rest = b""

    def _made(self, rows: int) -> Iterator[bytes]:
        yield f"{HEADER}\n".encode()
        for number in range(rows):
            site, tank = divmod(number, 4)
            yield (GOOD.replace("S9,1", f"S{site},{tank}").replace("12000", "0") + "\n").encode()

    def read(self, size: int = -1) -> bytes:
        while len(self._rest) < size and (line := next(self._lines, b"")):
            self._rest += line
        content, self._rest = self._rest[:size], self._rest[size:]
        return content


def peak_of(work: Callable[[], object]) -> int:
    """Bytes that were in use at most, beyond those in use before.

    What earlier tests left is frozen: the more there is of it, the later the collector looks for what is new.
    """
    gc.collect()
    gc.freeze()
    tracemalloc.start(1)
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
        gc.unfreeze()


def test_twenty_thousand_rows_are_read_translated_and_reported_in_two_megabytes(tmp_path):
    translator = Translator(mapping(), register_elements(), as_of=TODAY)
    needed = mapping().needed_columns()

    def work() -> None:
        with (tmp_path / "r.json").open("w") as json, (tmp_path / "r.csv").open("w") as csv:
            reports = JsonReport(json), CsvReport(csv)
            for raw in Roster(Made(ROWS), name="made", needed=needed, encoding="utf-8", delimiter=","):
                row = translator.translate(raw)
                report = RowReport(row.number, Outcome.REMARKS, row.facility, row.tank, tuple(row.remarks))
                for one in reports:
                    one.add(report)

    assert peak_of(work) < 2_000_000
    assert (tmp_path / "r.csv").read_text().count("must be above 0") == ROWS


def test_storing_more_batches_takes_no_more_memory(owner, monkeypatch):
    monkeypatch.setattr(rosters, "BATCH_ROWS", 100)
    order = Order(mapping=mapping(), operator=owner, by="test", now=NOW, as_of=TODAY)

    short = peak_of(lambda: import_roster(source=Made(200), name="made", order=order, tell=lambda _: None))
    long = peak_of(lambda: import_roster(source=Made(900), name="made", order=order, tell=lambda _: None))

    assert Tank.objects.count() == 900
    # Beside the batch, only the tanks already seen are remembered: 600 bytes each at most,
    # where a batch that stays in memory would cost 10,000 a row.
    assert long - short < 700 * 600
