"""Spans of time as people ask for them: from a day or an instant up to, and without, another one.

A day begins at its local midnight at each facility, so over several zones one span has several pairs of instants.
"""

from collections.abc import Collection, Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import msgspec

from alarms.local_times import instant_of
from equipment.faults import Fault
from equipment.moments import Moment

USUAL_DAYS = 30
LONGEST = timedelta(days=3 * 366)
MIDNIGHT = time(0)


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for. Without `until` it ends now, without `first` it begins 30 local days before its end."""

    first: Moment | None
    until: Moment | None
    now: datetime

    def bounds(self, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """Its first instant in a zone, and the first one after it; what lies ahead of `now` is cut off."""
        end = min(self.now, _begins(self.until, zone)) if self.until else self.now
        if self.first is not None:
            return _begins(self.first, zone), end
        return instant_of(end.astimezone(zone).date() - timedelta(days=USUAL_DAYS), MIDNIGHT, zone), end


class Windows(msgspec.Struct, frozen=True, kw_only=True):
    """Sliding windows of so many local days, each ending with a local midnight."""

    days: int
    ends: tuple[date, ...]

    def bounds(self, end: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """The window before the midnight with which the day begins; it is as long as its days are in that zone."""
        first = end - timedelta(days=self.days)
        return instant_of(first, MIDNIGHT, zone), instant_of(end, MIDNIGHT, zone)

    def first_instant(self, zone: ZoneInfo) -> datetime | None:
        """From when on something counts in any window; None without windows."""
        return self.bounds(self.ends[0], zone)[0] if self.ends else None


def windows_in(span: Span, zones: Collection[ZoneInfo], *, days: int, step: int) -> Windows:
    """Windows that end within the span, the last at its last midnight, `step` days between them; oldest first."""
    bounds = [(zone, *span.bounds(zone)) for zone in zones]
    first = max((start.astimezone(zone).date() for zone, start, _ in bounds), default=None)
    last = min((end.astimezone(zone).date() for zone, _, end in bounds), default=None)
    if first is None or last is None:
        return Windows(days=days, ends=())
    count = (last - first).days // step + 1 if last >= first else 0
    return Windows(
        days=days, ends=tuple(last - timedelta(days=step * back) for back in reversed(range(count)))
    )


def faults_of(span: Span, zones: Collection[ZoneInfo]) -> Iterator[Fault]:
    """What keeps it from being a span in one of the zones."""
    for zone in zones:
        start, end = span.bounds(zone)
        if start >= end:
            detail = "lies in the future" if start >= span.now else "does not lie before until"
            yield Fault("/from", f"{detail}; the span runs from it up to, and without, until", "order")
            return
        if end - start > LONGEST:
            yield Fault("/from", f"lies more than {LONGEST.days} days before until; ask for less", "too-long")
            return


def _begins(moment: Moment, zone: ZoneInfo) -> datetime:
    if moment.instant is not None:
        return moment.instant
    return instant_of(moment.local_day(zone), MIDNIGHT, zone)
