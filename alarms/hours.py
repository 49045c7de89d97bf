"""When somebody can be reached: weekly hours by the clock of a place, and not on its holidays.

Holidays come from the `holidays` package, observed days included (4 July 2026 is a Saturday, so Friday the 3rd counts
too). A span belongs to the day on which it begins: the night shift of a holiday is off to its end next morning, and
that of the eve is on.
"""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from functools import cache
from typing import Self
from zoneinfo import ZoneInfo

import holidays
import msgspec

from alarms.local_times import end_of, instant_of

A_DAY = timedelta(days=1)


class Weekday(StrEnum):
    """Days of the week, in the order of `date.weekday`."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """On these days from a clock time (inclusive) to another (exclusive); one that is not later means the next day."""

    days: tuple[Weekday, ...]
    begins: time
    ends: time


class Calendar(msgspec.Struct, frozen=True, kw_only=True):
    """Public holidays of a country (ISO 3166-1 code) or of a part of it (its code there); ValueError if unknown."""

    country: str
    subdivision: str | None = None

    def __post_init__(self) -> None:
        if problem := problem_of(self.country, self.subdivision):
            raise ValueError(problem)

    def holiday(self, day: date) -> str | None:
        """Its name; None on other days."""
        return _holidays(self.country, self.subdivision, day.year).get(day)


class Closed(msgspec.Struct, frozen=True):
    """Nobody can be reached: outside the hours, or inside them on a holiday, which has a name."""

    holiday: str | None


class Hours(msgspec.Struct, frozen=True, kw_only=True):
    """Weekly hours. Without a zone they follow the clock of whoever uses them: see `in_zone`."""

    spans: tuple[Span, ...]
    closed_on: Calendar | None = None
    time_zone: str | None = None

    def in_zone(self, zone: str) -> Self:
        """These hours by the clock of `zone`, unless they name a zone themselves."""
        return self if self.time_zone else msgspec.structs.replace(self, time_zone=zone)

    def closed(self, at: datetime) -> Closed | None:
        """Whether and why nobody can be reached at this instant; None when somebody can. ValueError without a zone."""
        if self.time_zone is None:
            raise ValueError("hours need a zone before they can be read")
        spans = list(_spans_at(self.spans, at, ZoneInfo(self.time_zone)))
        if not spans:
            return Closed(None)
        names = [self.closed_on.holiday(day) if self.closed_on else None for day in spans]
        return None if None in names else Closed(names[0])


def problem_of(country: str, subdivision: str | None) -> str | None:
    """What is wrong with a calendar's codes; None when there is such a calendar."""
    known = _countries()
    if country not in known:
        return f"no calendar of holidays for {country!r}: write a country's two letters, such as US"
    if subdivision is not None and subdivision not in known[country]:
        return f"{country} has no part {subdivision!r}; known: {', '.join(known[country]) or 'none'}"
    return None


def hours_to_json(hours: Hours | None) -> object:
    """As a column keeps it."""
    return None if hours is None else msgspec.to_builtins(hours)


def hours_from_json(kept: object) -> Hours | None:
    """What `hours_to_json` wrote."""
    return None if kept is None else msgspec.convert(kept, Hours)


def _spans_at(spans: tuple[Span, ...], at: datetime, zone: ZoneInfo) -> Iterator[date]:
    """The first day of each span that holds this instant."""
    today = at.astimezone(zone).date()
    for span in spans:
        for day in (today - A_DAY, today):
            if tuple(Weekday)[day.weekday()] not in span.days:
                continue
            last = day if span.ends > span.begins else day + A_DAY
            if instant_of(day, span.begins, zone) <= at < end_of(last, span.ends, zone):
                yield day


@cache
def _countries() -> dict[str, list[str]]:
    return holidays.list_supported_countries(include_aliases=False)


@cache
def _holidays(country: str, subdivision: str | None, year: int) -> dict[date, str]:
    """Of one year; the day a holiday is observed on may lie in the year before it, so each year is asked by itself."""
    return dict(holidays.country_holidays(country, subdiv=subdivision, years=year, language="en_US"))
