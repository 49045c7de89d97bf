"""A day and a clock time of a place as an instant, also where the clocks change.

RFC 5545 section 3.3.5: a clock time that is skipped is read by the offset before the change (02:30 becomes 03:30), one
that comes twice means the first.
"""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo, available_timezones


def instant_of(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The instant (UTC) at which the clocks of this zone show this time on this day."""
    return datetime.combine(day, clock, zone).astimezone(UTC)


def end_of(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The same for the end of a span: of a time that comes twice the second, so that the span holds all of both."""
    first = datetime.combine(day, clock, zone)
    return max(first.astimezone(UTC), first.replace(fold=1).astimezone(UTC))


def is_zone(name: str) -> bool:
    """Whether the tz database has a zone of this name."""
    return name in available_timezones()
