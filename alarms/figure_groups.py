"""One reading of alarms, counted as a whole, by class, by facility and by sliding windows. Pure."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import msgspec

from alarms.conditions import ConditionClass
from alarms.figures import (
    Figures,
    Gathered,
    Line,
    StandingAlarm,
    WaitingAlarm,
    Waits,
    figures_of,
    to_acknowledgement,
    to_disposition,
)
from alarms.marks import Flood
from alarms.spans import Windows

Bounds = Mapping[str, tuple[datetime, datetime]]
"""The first instant of the span and the first after it, by the name of the zone."""
T = TypeVar("T")


class ClassFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What was raised of one class; waits from when the alarm reached us. Faults of equipment are never counted with
    what may be a release."""

    condition_class: str | None
    alarms: int
    acknowledgement: Waits
    disposition: Waits
    without_disposition: int
    standing: int


class WindowFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What was raised in the window before the midnight with which the day `until` begins; waits as by class."""

    until: date
    alarms: int
    raises: int
    acknowledgement: Waits
    disposition: Waits
    without_disposition: int
    chattering: int
    fleeting: int


class Groups:
    """`lines` and `raises` (by facility, in order) may reach further back than the span, as far as the windows do.

    Among the lines may be exercises; `raises`, `standing` and `waiting` are without them.
    """

    def __init__(
        self,
        *,
        zones: Mapping[int, str],
        bounds: Bounds,
        lines: Sequence[Line],
        raises: Mapping[int, Sequence[datetime]],
        standing: Sequence[StandingAlarm],
        waiting: Sequence[WaitingAlarm],
        flood: Flood,
        now: datetime,
    ) -> None:
        self._zones, self._bounds, self._flood, self._now = zones, bounds, flood, now
        self._lines = [line for line in lines if not line.exercise]
        self._exercises = [line for line in lines if line.exercise and self._inside(line)]
        self._raises = raises
        self._standing, self._waiting = standing, waiting

    def whole(self) -> Figures:
        """Over everything. Raises a day are by the longest of the spans, which differ by hours at most."""
        return self._figures(self._all, list(self._bounds.values()))

    def facilities(self) -> dict[int, Figures]:
        """By facility, where there is anything to count."""
        lines, standing = _by("facility", self._all.lines), _by("facility", self._standing)
        waiting, raises = _by("facility", self._waiting), self._all.raises
        exercises = _by("facility", self._exercises)
        found = {}
        for facility in sorted({*lines, *exercises, *standing, *waiting, *raises}):
            group = Gathered(
                lines=lines[facility],
                exercises=len(exercises[facility]),
                standing=standing[facility],
                waiting=waiting[facility],
                raises={facility: raises[facility]} if facility in raises else {},
            )
            found[facility] = self._figures(group, [self._bounds[self._zones[facility]]])
        return found

    def classes(self) -> Iterator[ClassFigures]:
        """Every class, whether or not anything was raised; None: words that the catalogue does not list."""
        lines, standing = _by("condition_class", self._all.lines), _by("condition_class", self._standing)
        for word in (*map(str, ConditionClass), None):
            yield ClassFigures(
                condition_class=word,
                standing=len(standing[word]),
                **_counted(lines[word], self._now),
            )

    def windows(self, windows: Windows) -> Iterator[WindowFigures]:
        """Each window, in the midnights of each facility's own zone."""
        by_zone: dict[str, list[Line]] = defaultdict(list)
        for line in self._lines:
            by_zone[self._zones[line.facility]].append(line)
        for end in windows.ends:
            bounds = {name: windows.bounds(end, ZoneInfo(name)) for name in self._bounds}
            lines: list[Line] = []
            for name, here in by_zone.items():
                lines += _between(here, *bounds[name], by=_raised_at)
            raises = (
                len(_between(moments, *bounds[self._zones[facility]], by=_itself))
                for facility, moments in self._raises.items()
            )
            yield WindowFigures(
                until=end,
                raises=sum(raises),
                chattering=sum(line.chattering for line in lines),
                fleeting=sum(line.fleeting for line in lines),
                **_counted(lines, self._now),
            )

    @cached_property
    def _all(self) -> Gathered:
        raises = {
            facility: _between(moments, *self._bounds[self._zones[facility]], by=_itself)
            for facility, moments in self._raises.items()
        }
        return Gathered(
            lines=[line for line in self._lines if self._inside(line)],
            exercises=len(self._exercises),
            standing=self._standing,
            waiting=self._waiting,
            raises={facility: moments for facility, moments in raises.items() if moments},
        )

    def _inside(self, line: Line) -> bool:
        start, end = self._bounds[self._zones[line.facility]]
        return start <= line.raised_at < end

    def _figures(self, group: Gathered, bounds: Sequence[tuple[datetime, datetime]]) -> Figures:
        longest = max((end - start for start, end in bounds), default=timedelta(days=1))
        return figures_of(group, span=longest, limit=self._flood, now=self._now)


def _counted(lines: Sequence[Line], now: datetime) -> dict[str, Any]:
    return {
        "alarms": len(lines),
        "acknowledgement": to_acknowledgement(lines, since="opened_at", now=now),
        "disposition": to_disposition(lines, since="opened_at", now=now),
        "without_disposition": sum(line.disposed_at is None for line in lines),
    }


def _by(name: str, rows: Iterable[T]) -> dict[Any, list[T]]:
    sorted_out: dict[Any, list[T]] = defaultdict(list)
    for row in rows:
        sorted_out[getattr(row, name)].append(row)
    return sorted_out


def _between(
    rows: Sequence[T], start: datetime, end: datetime, *, by: Callable[[T], datetime]
) -> Sequence[T]:
    """Those from `start` up to, and without, `end`, of rows in order."""
    return rows[bisect_left(rows, start, key=by) : bisect_left(rows, end, key=by)]


def _raised_at(line: Line) -> datetime:
    return line.raised_at


def _itself(moment: datetime) -> datetime:
    return moment
