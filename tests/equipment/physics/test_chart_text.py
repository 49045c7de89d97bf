"""Charts as CSV, depths as on a stick, and the eighth to which device heights are rounded down."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics.chart_text import in_eighths, read_chart, stepped, write_chart
from equipment.physics.charts import Chart, Row, chart_device_height, chart_volume


def _summed(steps: list[tuple[int, int]]) -> Chart:
    eighths, tenths, rows = 0, 0, [Row(0.0, 0.0)]
    for inches, gallons in steps:
        eighths, tenths = eighths + inches, tenths + gallons
        rows.append(Row(eighths / 8, tenths / 10))
    return Chart((*rows, Row(eighths / 8 + 1, tenths / 10 + 1)))


rising = st.lists(st.tuples(st.integers(1, 40), st.integers(0, 4_000)), min_size=2, max_size=40).map(_summed)


@given(rising)
def test_what_is_written_is_read_again(chart):
    assert read_chart(write_chart(chart).encode(), most_rows=100).rows == chart.rows


@given(rising, st.sampled_from([90, 95]))
def test_a_device_height_is_the_highest_eighth_within_the_limit(chart, percent):
    """Decided in fractions of what was typed, row by row: 40 CFR 280.20(c)(1)(ii) says no more than the share."""
    height = chart_device_height(chart, percent)

    limit = Fraction(repr(chart.capacity_gal)) * percent / 100
    assert height * 8 == int(height * 8)
    assert _exact_volume(chart, height) <= limit < _exact_volume(chart, height + 0.125)


def _exact_volume(chart: Chart, depth: float) -> Fraction:
    at = Fraction(depth)
    for low, high in pairwise(chart.rows):
        if low.depth_in <= at <= high.depth_in:
            rise = Fraction(repr(high.gal)) - Fraction(repr(low.gal))
            part = (at - Fraction(low.depth_in)) / (Fraction(high.depth_in) - Fraction(low.depth_in))
            return Fraction(repr(low.gal)) + rise * part
    raise AssertionError(depth)


def test_a_limit_that_falls_on_an_eighth_is_kept():
    """In binary 0.9 x 8,191 gal and the row of 7,371.9 gal part by a hair; on paper they are the same."""
    chart = Chart((Row(0, 0), Row(80.875, 7_371.9), Row(96, 8_191)))

    assert chart_device_height(chart, 90) == 80.875


@given(rising, st.sampled_from([1.0, 0.5, 0.25, 0.125]))
def test_a_stepped_table_agrees_with_the_chart_and_ends_full(chart, step):
    rows = list(stepped(chart, step))

    assert rows[-1] == chart.rows[-1]
    assert all(row.gal == chart_volume(chart, row.depth_in) for row in rows)
    assert all(high.depth_in - low.depth_in <= step for low, high in pairwise(rows))


@pytest.mark.parametrize(
    ("inches", "words"),
    [(0, "0"), (0.125, "1/8"), (0.5, "1/2"), (80.875, "80 7/8"), (86.25, "86 1/4"), (96, "96")],
)
def test_a_depth_is_written_as_on_a_stick(inches, words):
    assert in_eighths(inches) == words
