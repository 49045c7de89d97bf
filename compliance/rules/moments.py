"""Days, instants and the quantities of time that shift one into another.

A *day* is a whole local day of the facility (`datetime.date`); an *instant* is an aware `datetime`. Readings:

- Minutes and hours are elapsed time, counted through UTC: 24 hours over a clock change stay 24 hours (40 CFR 280.50
  and 280.53 say "within 24 hours" and Part 280 knows no business hours). A bare day starts its hour clock at its
  first minute.
- Days are local calendar days. Months and years keep the day number; a day that does not exist becomes the last of
  its month (31 January + 1 month = 28 February).
- Business days are Monday to Friday without the calendar's holidays; the day of the event is day 0.
- Where one of two moments is a whole day, whole days are compared; two instants compare exactly.
"""

import calendar
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from typing import TypeGuard
from zoneinfo import ZoneInfo

Moment = date | datetime
"""A day or an instant. `datetime` is a `date` to Python: ask `is_instant`, never `isinstance(..., date)`."""

EARLIEST_YEAR, LATEST_YEAR = 1800, 2300
"""Moments outside these years are refused when they are read, so that shifting never leaves the calendar."""

TICK = timedelta.resolution
ONE_DAY = timedelta(days=1)


class Unit(StrEnum):
    """Units of a quantity of time, in the singular."""

    MINUTE = "minute"
    HOUR = "hour"
    DAY = "day"
    BUSINESS_DAY = "business day"
    MONTH = "month"
    YEAR = "year"


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount of one unit, such as 30 days."""

    amount: int
    unit: Unit

    @property
    def counts_instants(self) -> bool:
        """True for minutes and hours, whose result is an instant; every other unit gives a day."""
        return self.unit in (Unit.MINUTE, Unit.HOUR)

    @property
    def roughly_days(self) -> float:
        """Length in days for choosing a default notice; never for a due date."""
        lengths = {Unit.MINUTE: 1 / 1440, Unit.HOUR: 1 / 24, Unit.DAY: 1.0}
        return (
            self.amount * {**lengths, Unit.BUSINESS_DAY: 1.4, Unit.MONTH: 30.4, Unit.YEAR: 365.25}[self.unit]
        )

    def __str__(self) -> str:
        return f"{self.amount} {self.unit}" + ("" if self.amount == 1 else "s")


_QUANTITY = re.compile(r"(\d{1,4}) (minute|hour|business day|day|month|year)s?")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?)?")


def parse_quantity(text: object) -> Quantity:
    """Read "30 days". Raises ValueError with what was expected."""
    match = _QUANTITY.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise ValueError(f'expected a quantity of time such as "30 days" or "3 years", not {text!r}')
    return Quantity(int(match[1]), Unit(match[2]))


def is_instant(moment: Moment) -> TypeGuard[datetime]:
    return isinstance(moment, datetime)


def clamped(year: int, month: int, day: int) -> date:
    """That day, or the last of the month where the month is shorter."""
    return date(year, month, min(day, calendar.monthrange(year, month)[1]))


def end_of_month(day: date) -> date:
    return clamped(day.year, day.month, 31)


def plus_months(day: date, months: int) -> date:
    """Same day number, months later (or earlier); clamped to the end of a shorter month."""
    index = day.year * 12 + day.month - 1 + months
    return clamped(index // 12, index % 12 + 1, day.day)


@lru_cache(maxsize=100_000)
def midnight(day: date, zone: ZoneInfo) -> datetime:
    """The first instant of a local day, in UTC. Remembered: a judgement asks for the same few hundred days again."""
    return datetime.combine(day, time(0), zone).astimezone(UTC)


@dataclass(frozen=True)
class LocalCalendar:
    """The facility's time zone and the holidays of the pack whose rule is judged."""

    zone: ZoneInfo
    holidays: frozenset[date] = frozenset()

    def read(self, text: str) -> Moment:
        """Read a day or an instant; an instant without offset is local time. Raises ValueError.

        A local time that occurs twice is its first occurrence (the earlier start of a clock is the safe side); one
        that the clock change skips is read with the offset before the change.
        """
        if not _MOMENT.fullmatch(text):
            raise ValueError(f"expected a day (2026-03-08) or an instant (2026-03-08T06:30), not {text!r}")
        if not EARLIEST_YEAR <= int(text[:4]) <= LATEST_YEAR:
            raise ValueError(f"the year of {text} is outside {EARLIEST_YEAR} to {LATEST_YEAR}")
        if "T" not in text:
            return date.fromisoformat(text)
        instant = datetime.fromisoformat(text)
        return (instant if instant.tzinfo else instant.replace(tzinfo=self.zone)).astimezone(UTC)

    def day(self, moment: Moment) -> date:
        """The local day on which the moment lies."""
        return moment.astimezone(self.zone).date() if isinstance(moment, datetime) else moment

    def start(self, moment: Moment) -> datetime:
        """First instant of the moment, in UTC."""
        return moment.astimezone(UTC) if isinstance(moment, datetime) else midnight(moment, self.zone)

    def end(self, moment: Moment) -> datetime:
        """Last instant that still belongs to the moment, in UTC: that of the local day, or the instant itself."""
        return self.after(moment) - TICK

    def after(self, moment: Moment) -> datetime:
        """First instant that no longer belongs to the moment: from here on a due at it is overdue."""
        if isinstance(moment, datetime):
            return moment.astimezone(UTC) + TICK
        return midnight(moment + ONE_DAY, self.zone)

    def compare(self, left: Moment, right: Moment) -> int:
        """-1, 0 or 1. Whole local days if either side is a day, exact instants otherwise."""
        if not (isinstance(left, datetime) and isinstance(right, datetime)):
            left, right = self.day(left), self.day(right)
        return (left > right) - (left < right)

    def later(self, left: Moment, right: Moment) -> Moment:
        return left if self.compare(left, right) >= 0 else right

    def earlier(self, left: Moment, right: Moment) -> Moment:
        return left if self.compare(left, right) <= 0 else right

    def days_between(self, earlier: Moment, later: Moment) -> int:
        """Local days from one moment to another; negative if `later` lies before."""
        return (self.day(later) - self.day(earlier)).days

    def shift(self, moment: Moment, quantity: Quantity, *, back: bool = False) -> Moment:
        """The moment that lies a quantity after (or before) another; an instant for minutes and hours, else a day."""
        amount = -quantity.amount if back else quantity.amount
        match quantity.unit:
            case Unit.MINUTE:
                return self.start(moment) + timedelta(minutes=amount)
            case Unit.HOUR:
                return self.start(moment) + timedelta(hours=amount)
            case Unit.DAY:
                return self.day(moment) + timedelta(days=amount)
            case Unit.BUSINESS_DAY:
                return self._business_days(self.day(moment), amount)
            case Unit.MONTH:
                return plus_months(self.day(moment), amount)
            case Unit.YEAR:
                return plus_months(self.day(moment), 12 * amount)

    def _business_days(self, day: date, amount: int) -> date:
        step = timedelta(days=1 if amount > 0 else -1)
        for _ in range(abs(amount)):
            day += step
            while day.weekday() >= 5 or day in self.holidays:
                day += step
        return day
