"""Over and short of a ledger through time, beside what each month may be off."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from compliance.protocols.inventory_periods import month_span
from compliance.protocols.readings import exact
from compliance.protocols.regression import CannotFit, fit
from compliance.services.inventory import RuleOutcome, links_between, outcomes
from equipment.models import Component, Facility
from equipment.physics.ledger_month import daily_over_short

# Fewer days say nothing about a rate of gallons a day: a stick reading is off by several gallons.
FIT_DAYS = 30


@dataclass(frozen=True, kw_only=True)
class TrendDay:
    """A day's over (positive) or short, the month's sum so far, and the sum since the first day shown."""

    on: date
    over_short_gal: float
    month_gal: float
    running_gal: float


@dataclass(frozen=True, kw_only=True)
class Trend:
    """`gal_per_day` is the slope of the running sum over the days shown, a loss negative; None for too few days."""

    first: date
    last: date
    days: tuple[TrendDay, ...]
    periods: tuple[RuleOutcome, ...]
    gal_per_day: float | None

    @property
    def gal_per_hour(self) -> float | None:
        return None if self.gal_per_day is None else self.gal_per_day / 24


def trend_of(facility: Facility, component: Component, first: date, last: date) -> Trend:
    """The days from `first` to `last`, both shown, with each jurisdiction's periods that end in these months."""
    links = links_between(component, first, month_span(last)[1])
    days = _running([each for each in daily_over_short(links) if first <= each[0] <= last])
    periods, month = list[RuleOutcome](), first.replace(day=1)
    while month <= last:
        periods.extend(outcomes(facility, links, month))
        month = month_span(month)[1] + timedelta(days=1)
    return Trend(first=first, last=last, days=tuple(days), periods=tuple(periods), gal_per_day=_slope(days))


def _running(found: Sequence[tuple[date, float]]) -> list[TrendDay]:
    days, running, month_sum, month = list[TrendDay](), exact(0.0), exact(0.0), None
    for on, over in found:
        if (on.year, on.month) != month:
            month, month_sum = (on.year, on.month), exact(0.0)
        running, month_sum = running + exact(over), month_sum + exact(over)
        days.append(
            TrendDay(on=on, over_short_gal=over, month_gal=float(month_sum), running_gal=float(running))
        )
    return days


def _slope(days: Sequence[TrendDay]) -> float | None:
    if len(days) < FIT_DAYS:
        return None
    try:
        line = fit([day.running_gal for day in days], [[float(day.on.toordinal()) for day in days]])
    except CannotFit:
        return None
    return line.slopes[0]
