"""Arithmetic of days and instants.

Oracles: `dateutil.relativedelta` (a general library) for months and years; the US clock changes of 2026
(8 March and 1 November at 02:00, 15 U.S.C. 260a) for hours; for the readings 40 CFR 280.36(a) "at least every 30 days",
280.31(b)(1) "every three years", 280.33(e) "within six months" and 280.50 "within 24 hours".
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from compliance.rules.moments import LocalCalendar, parse_quantity

NEW_YORK = LocalCalendar(ZoneInfo("America/New_York"))


def shifted(moment, quantity, *, back=False, calendar=NEW_YORK):
    return calendar.shift(moment, parse_quantity(quantity), back=back)


def test_thirty_days_are_days_and_never_a_month():
    """40 CFR 280.36(a)(1)(i): after 31 January the 30th day is 2 March, not the end of February."""
    assert shifted(date(2026, 1, 31), "30 days") == date(2026, 3, 2)


def test_three_years_after_a_leap_day_fall_on_28_february():
    """40 CFR 280.31(b)(1), counted from 29 February 2024."""
    assert shifted(date(2024, 2, 29), "3 years") == date(2027, 2, 28)


def test_six_months_after_31_august_fall_on_the_last_of_february():
    """40 CFR 280.33(e): six months after a repair, in calendar months and not in 180 days."""
    assert shifted(date(2025, 8, 31), "6 months") == date(2026, 2, 28)


def test_twenty_four_hours_over_the_spring_clock_change_stay_elapsed_hours():
    """40 CFR 280.50 (24 hours): discovered Saturday 14:00, the clock ends Sunday 15:00 by the wall clock."""
    start = NEW_YORK.read("2026-03-07T14:00")

    assert shifted(start, "24 hours") == NEW_YORK.read("2026-03-08T15:00")


def test_twenty_four_hours_over_the_autumn_clock_change_stay_elapsed_hours():
    start = NEW_YORK.read("2026-10-31T14:00")

    assert shifted(start, "24 hours") == NEW_YORK.read("2026-11-01T13:00")


def test_an_hour_clock_on_a_bare_day_starts_at_its_first_minute():
    assert shifted(date(2026, 3, 8), "2 hours") == NEW_YORK.read("2026-03-08T03:00")


def test_a_local_time_that_occurs_twice_is_the_first_one():
    """2026-11-01 01:30 is 05:30 UTC in daylight time and 06:30 UTC after it; the earlier start is the safe side."""
    assert NEW_YORK.read("2026-11-01T01:30") == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def test_days_after_an_instant_are_whole_local_days():
    late_evening = datetime(2026, 3, 2, 3, 30, tzinfo=UTC)  # 22:30 on 1 March in New York

    assert shifted(late_evening, "7 days") == date(2026, 3, 8)


def test_business_days_leave_out_weekends_and_holidays():
    """Day 0 is Friday 2 July 2026; 3 July is the observed Independence Day (5 U.S.C. 6103(b))."""
    calendar = LocalCalendar(ZoneInfo("America/Chicago"), frozenset({date(2026, 7, 3)}))

    assert shifted(date(2026, 7, 2), "7 business days", calendar=calendar) == date(2026, 7, 14)


def test_business_days_count_backwards_as_well():
    assert shifted(date(2026, 3, 9), "1 business day", back=True) == date(2026, 3, 6)


def test_a_day_and_an_instant_compare_as_days():
    afternoon = NEW_YORK.read("2026-03-08T14:00")

    assert NEW_YORK.compare(afternoon, date(2026, 3, 8)) == 0


def test_two_instants_compare_exactly():
    assert NEW_YORK.compare(NEW_YORK.read("2026-03-08T14:00"), NEW_YORK.read("2026-03-08T14:01")) == -1


def test_a_day_ends_where_the_next_begins():
    """8 March 2026 has 23 hours in New York."""
    day = date(2026, 3, 8)

    assert NEW_YORK.after(day) - NEW_YORK.start(day) == timedelta(hours=23)


@pytest.mark.parametrize("text", ["30", "thirty days", "30 fortnights", "-1 days", "1.5 days", ""])
def test_what_is_no_quantity_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match="such as"):
        parse_quantity(text)


@pytest.mark.parametrize("text", ["2026-2-3", "2026-02-30", "03/08/2026", "2026-03-08 14:00", "0026-03-08"])
def test_what_is_no_moment_is_refused(text):
    with pytest.raises(ValueError):  # noqa: PT011 - the message is Python's own for impossible days
        NEW_YORK.read(text)


@given(st.dates(date(1990, 1, 1), date(2080, 1, 1)), st.integers(0, 400))
def test_months_agree_with_a_general_library(day, months):
    assert shifted(day, f"{months} months") == day + relativedelta(months=months)


@given(st.dates(date(1990, 1, 1), date(2080, 1, 1)), st.integers(0, 40), st.booleans())
def test_years_agree_with_a_general_library(day, years, back):
    expected = day + relativedelta(years=-years if back else years)

    assert shifted(day, f"{years} years", back=back) == expected


@given(
    st.dates(date(1990, 1, 1), date(2080, 1, 1)),
    st.dates(date(1990, 1, 1), date(2080, 1, 1)),
    st.integers(0, 99),
)
def test_shifting_never_changes_the_order_of_two_days(one, other, months):
    earlier, later = sorted([one, other])

    assert shifted(earlier, f"{months} months") <= shifted(later, f"{months} months")
