"""Figures over many alarms: how long people took, what waits, and how much came at once. Pure.

Percentiles are by nearest rank: of n values in order the one at place p/100 * n, rounded up; so each is a time that
somebody really took. They are over the answered alone; those that still wait are counted beside, with the longest of
them, since no percentile can tell how long they will take.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from operator import attrgetter

import msgspec

from alarms.marks import Flood

MEDIAN, HIGH = 50, 90


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """What figures need of one alarm. `disposed_at`: from when its first disposition in force holds."""

    alarm: int
    facility: int
    condition_class: str | None
    raised_at: datetime
    opened_at: datetime
    acknowledged_at: datetime | None
    disposed_at: datetime | None
    chattering: bool = False
    fleeting: bool = False
    exercise: bool = False


class Waits(msgspec.Struct, frozen=True, kw_only=True):
    """How long alarms took from one moment to another, in seconds; None where there is no such alarm."""

    answered: int
    waiting: int
    median_s: float | None
    p90_s: float | None
    longest_answered_s: float | None
    longest_answered_alarm: int | None
    longest_waiting_s: float | None
    longest_waiting_alarm: int | None


class Peak(msgspec.Struct, frozen=True, kw_only=True):
    """The most raises at one facility within a sliding window, and when they came."""

    raises: int
    facility: int
    first_at: datetime
    last_at: datetime
    flood: bool


def nearest_rank(ordered: Sequence[float], percent: int) -> float | None:
    """The percentile of values in ascending order; None of none."""
    if not ordered:
        return None
    # Whole numbers: 0.9 * 10 is not 9 in binary.
    return ordered[max(1, math.ceil(percent * len(ordered) / 100)) - 1]


def to_acknowledgement(lines: Iterable[Line], *, since: str, now: datetime) -> Waits:
    """From `raised_at` or `opened_at` to the first acknowledgement."""
    return _waits(lines, attrgetter(since), attrgetter("acknowledged_at"), now)


def to_disposition(lines: Iterable[Line], *, since: str, now: datetime) -> Waits:
    """From `raised_at` or `opened_at` to the first disposition in force."""
    return _waits(lines, attrgetter(since), attrgetter("disposed_at"), now)


def _waits(
    lines: Iterable[Line],
    since: Callable[[Line], datetime],
    until: Callable[[Line], datetime | None],
    now: datetime,
) -> Waits:
    answered: list[tuple[float, int]] = []
    waiting: list[tuple[float, int]] = []
    for line in lines:
        end = until(line)
        # What was stated may hold from before the alarm reached us: then nobody waited.
        took = max(0.0, ((end or now) - since(line)).total_seconds())
        (waiting if end is None else answered).append((took, line.alarm))
    ordered = sorted(took for took, _ in answered)
    answered_s, answered_alarm = _longest(answered)
    waiting_s, waiting_alarm = _longest(waiting)
    return Waits(
        answered=len(answered),
        waiting=len(waiting),
        median_s=nearest_rank(ordered, MEDIAN),
        p90_s=nearest_rank(ordered, HIGH),
        longest_answered_s=answered_s,
        longest_answered_alarm=answered_alarm,
        longest_waiting_s=waiting_s,
        longest_waiting_alarm=waiting_alarm,
    )


def _longest(waits: list[tuple[float, int]]) -> tuple[float | None, int | None]:
    """Of two that are equally long the older alarm."""
    return max(waits, key=lambda one: (one[0], -one[1]), default=(None, None))


def peak_of(facility: int, moments: Sequence[datetime], limit: Flood) -> Peak | None:
    """The fullest window of a facility's raises (in order), both its ends included; the first of equals."""
    best, best_first, first, within = 0, 0, 0, limit.within
    for last, moment in enumerate(moments):
        while moment - moments[first] > within:
            first += 1
        if last - first + 1 > best:
            best, best_first = last - first + 1, first
    if not best:
        return None
    return Peak(
        raises=best,
        facility=facility,
        first_at=moments[best_first],
        last_at=moments[best_first + best - 1],
        flood=best >= limit.raises,
    )


def floods_in(moments: Sequence[datetime], limit: Flood) -> Iterator[datetime]:
    """When floods began among a facility's raises (in order). One lasts until too few come within a window."""
    inside, first, within = False, 0, limit.within
    for last, moment in enumerate(moments):
        while moment - moments[first] > within:
            first += 1
        inside = inside and last - first >= limit.ends_below
        if not inside and last - first + 1 >= limit.raises:
            inside = True
            yield moment


class Both(msgspec.Struct, frozen=True, kw_only=True):
    """A wait counted from the device's raise, and from when the alarm reached us: before, nobody could answer."""

    from_raised: Waits
    from_opened: Waits


class Unanswered(msgspec.Struct, frozen=True, kw_only=True):
    """What waits for an answer, whenever raised, and what has waited longest: since it reached us, or came back."""

    alarms: int
    longest_s: float | None
    alarm: int | None


class Stood(msgspec.Struct, frozen=True, kw_only=True):
    """What stood at the end of the span."""

    alarms: int
    stale: int
    oldest_raised_at: datetime | None
    oldest_alarm: int | None


class Figures(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of a group of alarms over a span.

    `unacknowledged` is as of now and `standing` as of the end, whenever they were raised; the rest is of what was
    raised in the span, with answers until now. Alarms of function checks tell how people drill: they are only counted,
    as `exercises`.
    """

    alarms: int
    exercises: int
    raises: int
    raises_per_day: float
    acknowledgement: Both
    disposition: Both
    without_disposition: int
    chattering: int
    fleeting: int
    unacknowledged: Unanswered
    standing: Stood
    peak: Peak | None
    floods: int


class StandingAlarm(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm that stood at the end of the span."""

    facility: int
    condition_class: str | None
    alarm: int
    raised_at: datetime
    stale: bool


class WaitingAlarm(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm that waits for an answer; `called_from`: since it reached us, or since it came back."""

    facility: int
    alarm: int
    called_from: datetime


class Gathered(msgspec.Struct, frozen=True, kw_only=True):
    """What was read about a group: its alarms, what stood, what waits, and its raises by facility, each in order."""

    lines: Sequence[Line]
    exercises: int
    standing: Sequence[StandingAlarm]
    waiting: Sequence[WaitingAlarm]
    raises: Mapping[int, Sequence[datetime]]


def figures_of(group: Gathered, *, span: timedelta, limit: Flood, now: datetime) -> Figures:
    """Every figure of a group over a span of this length."""
    lines = group.lines
    raises = sum(map(len, group.raises.values()))
    peaks = [peak_of(facility, moments, limit) for facility, moments in sorted(group.raises.items())]
    floods = (sum(1 for _ in floods_in(moments, limit)) for moments in group.raises.values())
    return Figures(
        alarms=len(lines),
        exercises=group.exercises,
        raises=raises,
        raises_per_day=raises / (span / timedelta(days=1)),
        acknowledgement=both(to_acknowledgement, lines, now),
        disposition=both(to_disposition, lines, now),
        without_disposition=sum(line.disposed_at is None for line in lines),
        chattering=sum(line.chattering for line in lines),
        fleeting=sum(line.fleeting for line in lines),
        unacknowledged=_unanswered(group.waiting, now),
        standing=_stood(group.standing),
        peak=max((one for one in peaks if one is not None), key=lambda one: one.raises, default=None),
        floods=sum(floods),
    )


def both(measure: Callable[..., Waits], lines: Sequence[Line], now: datetime) -> Both:
    """One of the two waits by both beginnings."""
    return Both(
        from_raised=measure(lines, since="raised_at", now=now),
        from_opened=measure(lines, since="opened_at", now=now),
    )


def _unanswered(waiting: Sequence[WaitingAlarm], now: datetime) -> Unanswered:
    oldest = min(waiting, key=lambda one: (one.called_from, one.alarm), default=None)
    return Unanswered(
        alarms=len(waiting),
        longest_s=None if oldest is None else (now - oldest.called_from).total_seconds(),
        alarm=None if oldest is None else oldest.alarm,
    )


def _stood(standing: Sequence[StandingAlarm]) -> Stood:
    oldest = min(standing, key=lambda one: (one.raised_at, one.alarm), default=None)
    return Stood(
        alarms=len(standing),
        stale=sum(one.stale for one in standing),
        oldest_raised_at=None if oldest is None else oldest.raised_at,
        oldest_alarm=None if oldest is None else oldest.alarm,
    )
