"""When somebody can be reached. Changes of clocks: tz database (America/New_York forward 8 March 2026 02:00, back
1 November 2026 02:00); skipped and doubled clock times: RFC 5545 section 3.3.5; holidays: 5 U.S.C. 6103(a), and for a
Saturday the Friday before, 5 U.S.C. 6103(b)."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarms.hours import Calendar, Closed, Hours, Span, Weekday, hours_from_json, hours_to_json
from alarms.local_times import end_of, instant_of

NEW_YORK = ZoneInfo("America/New_York")
WORKDAYS = tuple(Weekday)[:5]
EVERY_DAY = tuple(Weekday)
FEDERAL = Calendar(country="US")


def hours(begins: str, ends: str, days=WORKDAYS, closed_on: Calendar | None = None) -> Hours:
    span = Span(days=days, begins=time.fromisoformat(begins), ends=time.fromisoformat(ends))
    return Hours(spans=(span,), closed_on=closed_on, time_zone="America/New_York")


def local(text: str, *, second: bool = False) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=NEW_YORK, fold=int(second)).astimezone(UTC)


OFFICE = hours("07:00", "17:00", closed_on=FEDERAL)
NIGHT = hours("19:00", "07:00", days=EVERY_DAY, closed_on=FEDERAL)


@pytest.mark.parametrize(
    ("moment", "open_"),
    [
        ("2026-03-04T06:59:59", False),
        ("2026-03-04T07:00", True),
        ("2026-03-04T16:59:59", True),
        ("2026-03-04T17:00", False),
        ("2026-03-07T12:00", False),  # a Saturday
        ("2028-02-29T12:00", True),  # a leap day, a Tuesday
        ("2026-12-31T16:59", True),
    ],
)
def test_hours_begin_inclusive_and_end_exclusive_on_their_days(moment, open_):
    assert (OFFICE.closed(local(moment)) is None) is open_


@pytest.mark.parametrize(
    ("day", "name"),
    [
        ("2026-07-03", "Independence Day (observed)"),
        ("2026-11-26", "Thanksgiving Day"),
        ("2026-12-25", "Christmas Day"),
        ("2026-01-01", "New Year's Day"),
        (
            "2021-12-31",
            "New Year's Day (observed)",
        ),  # 1 January 2022 was a Saturday: observed in the year before
    ],
)
def test_a_holiday_is_off_and_has_its_name(day, name):
    assert OFFICE.closed(local(f"{day}T12:00")) == Closed(name)


def test_outside_the_hours_no_holiday_is_named():
    assert OFFICE.closed(local("2026-11-26T18:00")) == Closed(None)


@pytest.mark.parametrize(
    ("moment", "open_"),
    [
        ("2026-07-02T23:00", True),
        ("2026-07-03T06:59", True),  # still the night of the 2nd
        ("2026-07-03T19:00", False),  # the observed day
        ("2026-07-05T06:59", False),  # still the night of the 4th
        ("2026-07-05T07:00", False),
        ("2026-07-05T19:00", True),
    ],
)
def test_a_night_belongs_to_the_day_on_which_it_begins(moment, open_):
    assert (NIGHT.closed(local(moment)) is None) is open_


@pytest.mark.parametrize(
    ("begins", "ends", "moment", "second", "open_"),
    [
        ("01:00", "02:30", "2026-03-08T03:15", False, True),  # 02:30 is skipped: the span ends at 03:30
        ("01:00", "02:30", "2026-03-08T03:30", False, False),
        ("02:30", "05:00", "2026-03-08T03:15", False, False),
        ("02:30", "05:00", "2026-03-08T03:30", False, True),
        ("00:30", "01:30", "2026-11-01T01:15", False, True),
        ("00:30", "01:30", "2026-11-01T01:15", True, True),  # both hours from one to half past one are in
        ("00:30", "01:30", "2026-11-01T01:45", False, True),  # and what lies between them
        ("00:30", "01:30", "2026-11-01T01:30", True, False),
        ("01:30", "03:00", "2026-11-01T01:15", True, True),  # after the first half past one
        ("01:30", "03:00", "2026-11-01T01:15", False, False),
    ],
)
def test_hours_over_a_change_of_clocks(begins, ends, moment, second, open_):
    span = hours(begins, ends, days=EVERY_DAY)

    assert (span.closed(local(moment, second=second)) is None) is open_


@given(
    st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    st.times().map(lambda at: at.replace(second=0, microsecond=0)),
    st.times().map(lambda at: at.replace(second=0, microsecond=0)),
)
def test_within_a_span_there_is_no_gap(day, begins, ends):
    """Whoever is reachable from one time to another is so at every minute between, clock change or not."""
    span = Hours(spans=(Span(days=EVERY_DAY, begins=begins, ends=ends),), time_zone="America/New_York")
    first = instant_of(day, begins, NEW_YORK)
    last = end_of(day if ends > begins else day + timedelta(days=1), ends, NEW_YORK)
    while first < last:
        assert span.closed(first) is None
        first += timedelta(minutes=29)


def test_another_zone_is_another_hour():
    """17:30 in New York is 14:30 in Los Angeles, three hours behind (tz database)."""
    there = Hours(spans=OFFICE.spans).in_zone("America/Los_Angeles")

    assert there.closed(local("2026-03-04T17:30")) is None
    assert OFFICE.in_zone("America/Los_Angeles").closed(local("2026-03-04T17:30")) == Closed(None)


def test_hours_without_a_zone_are_not_read():
    with pytest.raises(ValueError, match="zone"):
        Hours(spans=OFFICE.spans).closed(local("2026-03-04T12:00"))


@pytest.mark.parametrize(("country", "part"), [("XX", None), ("us", None), ("US", "ZZ"), ("", None)])
def test_a_calendar_that_nobody_keeps_is_refused(country, part):
    with pytest.raises(ValueError, match=r"no calendar|no part"):
        Calendar(country=country, subdivision=part)


def test_a_part_of_a_country_has_days_of_its_own():
    """Patriots' Day, third Monday in April: Massachusetts General Laws ch. 4 s. 7 cl. 18."""
    day = date(2026, 4, 20)

    assert Calendar(country="US", subdivision="MA").holiday(day) is not None
    assert FEDERAL.holiday(day) is None


def test_hours_are_kept_as_they_were_stated():
    assert hours_from_json(hours_to_json(NIGHT)) == NIGHT
