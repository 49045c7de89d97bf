"""Days and instants as people state them."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from equipment.moments import Moment, read_moment

NEW_YORK = ZoneInfo("America/New_York")


def test_a_day_stays_a_day():
    assert read_moment("2026-02-27") == Moment(day=date(2026, 2, 27))


def test_an_instant_is_kept_in_utc():
    assert read_moment("2026-02-27T23:30:00-05:00").instant == datetime(2026, 2, 28, 4, 30, tzinfo=UTC)


def test_an_instant_late_at_night_belongs_to_the_local_day():
    assert read_moment("2026-02-28T04:30:00Z").local_day(NEW_YORK) == date(2026, 2, 27)


@pytest.mark.parametrize(
    "text", ["2026-02-27T14:05:00", "2026-02-30", "27.02.2026", "yesterday", "", "2026-02-27T25:00Z"]
)
def test_anything_else_is_refused(text):
    with pytest.raises(ValueError):  # noqa: PT011 - datetime's own words differ between Python versions
        read_moment(text)


def test_today_at_the_facility_is_not_the_future():
    just_after_midnight_utc = datetime(2026, 3, 1, 0, 30, tzinfo=UTC)

    assert not Moment(day=date(2026, 2, 28)).is_after(just_after_midnight_utc, NEW_YORK)
    assert Moment(day=date(2026, 3, 1)).is_after(just_after_midnight_utc, NEW_YORK)


def test_a_senders_clock_may_be_five_minutes_ahead():
    now = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)

    assert not Moment(instant=now + timedelta(minutes=5)).is_after(now, NEW_YORK)
    assert Moment(instant=now + timedelta(minutes=5, seconds=1)).is_after(now, NEW_YORK)
