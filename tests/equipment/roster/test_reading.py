"""Reading rows against the csv module, and its bounds in memory."""

import csv
import io
import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.roster.reading import Roster

CELL = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"], exclude_characters="\ufffd"), max_size=8)


def read(content: bytes, needed=("a",)):
    return list(Roster(io.BytesIO(content), name="f", needed=needed, encoding="utf-8", delimiter=","))


@given(st.lists(st.tuples(CELL, CELL, CELL).filter(lambda row: any(map(str.strip, row))), max_size=8))
def test_whatever_the_csv_module_writes_is_read_back(rows):
    text = io.StringIO()
    csv.writer(text).writerows([("a", "b", "c"), *rows])

    assert [tuple(row.cells.values()) for row in read(text.getvalue().encode())] == rows


@given(st.binary(max_size=200))
def test_no_bytes_whatever_stop_the_reading(content):
    rows = read(b"a,b\r\n" + content)

    assert all(row.fault or len(row.cells) == 2 for row in rows)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_any_line_ending_will_do(ending):
    assert [row.cells for row in read(ending.join(["a", "1", "2"]).encode())] == [{"a": "1"}, {"a": "2"}]


class Endless(io.RawIOBase):
    """Megabytes of one byte after a header, made while they are read."""

    def __init__(self, byte: bytes, megabytes: int) -> None:
        self.head, self.byte, self.left = b"a,b\n", byte, megabytes * 1_000_000

    def read(self, size: int = -1) -> bytes:
        start, self.head = self.head[:size], self.head[size:]
        more = min(size - len(start), self.left)
        self.left -= more
        return start + self.byte * more


@pytest.mark.parametrize("byte", [b"x", b'"', b",", b"\xff"])
def test_a_line_without_an_end_takes_no_memory(byte):
    tracemalloc.start()
    rows = list(Roster(Endless(byte, 20), name="f", needed=("a",), encoding="utf-8", delimiter=","))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert len(rows) == 1
    assert "longer than" in rows[0].fault
    assert peak < 2_000_000
