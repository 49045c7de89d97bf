"""The days over which a jurisdiction reconciles: a calendar month, or so many days on end ("10 days").

Windows of days are counted from the first day of the year, so that everybody counts the same ones; the last of a year
is short. The first and the last day both belong to a window.
"""

import re
from collections.abc import Iterator
from datetime import date, timedelta

CALENDAR_MONTH = "calendar month"
_DAYS = re.compile(r"([1-9][0-9]{0,2}) days")


class UnknownPeriod(ValueError):
    """The words of a period cannot be read. The message says what can."""


def month_span(month: date) -> tuple[date, date]:
    """First and last day of the month that holds this day."""
    first = month.replace(day=1)
    return first, (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)


def month_before(month: date) -> date:
    """The first day of the month before."""
    return (month.replace(day=1) - timedelta(days=1)).replace(day=1)


def spans_ending_in(period: str, month: date) -> list[tuple[date, date]]:
    """The windows of this period whose last day lies in the month, oldest first. UnknownPeriod for other words."""
    first, last = month_span(month)
    if period == CALENDAR_MONTH:
        return [(first, last)]
    found = _DAYS.fullmatch(period)
    if found is None:
        raise UnknownPeriod(
            f"period {period!r} is not read; write {CALENDAR_MONTH!r} or, for instance, '10 days'"
        )
    return [span for span in _windows(first.year, int(found[1])) if first <= span[1] <= last]


def _windows(year: int, days: int) -> Iterator[tuple[date, date]]:
    start, end = date(year, 1, 1), date(year, 12, 31)
    while start <= end:
        yield start, min(start + timedelta(days=days - 1), end)
        start += timedelta(days=days)
