"""The daily ledger, its faults, and what stands beside it (40 CFR 280.43(a); Maine DEP UST-08)."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.protocols import Setting
from compliance.protocols.inventory import action_after, over_short
from compliance.protocols.readings import Readings
from equipment.physics.ledger import (
    LedgerDay,
    basis_faults,
    delivered_by_gauge,
    line_refill,
    pumped_by_meter,
    reconcile,
)
from tests.compliance.protocols.worked import FEDERAL, NUMBERS, judged

FIRST = date(2026, 4, 1)
gallons = st.integers(0, 9_999)


def day(number, pumped=100.0, closing=900.0, **more):
    return LedgerDay(on=FIRST + timedelta(days=number), pumped_gal=pumped, closing_gal=closing, **more)


@given(st.lists(st.tuples(gallons, gallons, gallons), min_size=1, max_size=31), gallons)
def test_both_bases_end_the_month_on_the_same_number(rows, opening):
    days = [day(at, out, end, delivered_gal=came) for at, (out, came, end) in enumerate(rows)]

    stick, book = reconcile(opening, days, "stick"), reconcile(opening, days, "book")

    assert stick[-1].cumulative_gal == book[-1].cumulative_gal
    assert sum(each.over_short_gal for each in stick) == stick[-1].cumulative_gal


def faults(days, basis="stick"):
    return [(each.pointer, each.code) for each in basis_faults(1_000.0, days, basis)]


def test_a_ledger_that_mixes_its_bases_is_refused():
    """Day 0 closes with 905 by stick and 900 by book; day 1 opens with the book."""
    mixed = [day(0, closing=905.0), day(1, closing=800.0, opening_gal=900.0)]

    assert faults(mixed, basis="book") == []
    assert faults(mixed) == [("/days/1/opening_gal", "mixed-basis")]


def test_a_meter_that_rolled_over_needs_to_be_told_where():
    assert pumped_by_meter(999_950, 30, rolls_over_at=1_000_000) == 80
    with pytest.raises(ValueError, match="starts again from zero"):
        pumped_by_meter(999_950, 30)


def test_a_delivery_by_gauge_counts_what_was_pumped_meanwhile():
    """State inventory-control instruction sheet, column 4."""
    assert delivered_by_gauge(2_000, 6_950, 50) == 5_000


def test_a_line_that_was_drained_takes_its_own_volume():
    """Wisconsin course: 2 in by 75 ft, more than 12.2 gal."""
    assert line_refill(2, 75) == pytest.approx(12.24, abs=0.005)


def test_the_months_figure_is_reckoned_from_volumes_where_it_was_not_stated():
    numbers = {"opening_gal": 6_120, "delivered_gal": 12_250, "throughput_gal": 14_171, "closing_gal": 4_132}

    assert over_short(Readings(numbers)) == Decimal(-67)
    assert judged("inventory-month", **numbers).outcome == "pass"


@pytest.mark.parametrize(
    ("months", "action"),
    [
        ([], "none"),
        ([True], "recheck"),
        ([True, True], "report"),
        ([True, False], "none"),
        ([False, True], "recheck"),
    ],
)
def test_federal_law_reports_the_second_month_in_a_row(months, action):
    """40 CFR 280.50(c): one month is suspected, a second confirms."""
    assert action_after(NUMBERS.inventory()[0], months) == action


def test_maine_reports_the_first_month():
    maine = Setting(on=FEDERAL.on, jurisdictions=("us-me",)).numbers.inventory()[0]

    assert action_after(maine, [True]) == "report"
