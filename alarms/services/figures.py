"""The figures of a facility or of a portfolio over a span, and how they moved from window to window."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

import msgspec
from django.db.models import QuerySet

from alarms.figure_groups import Bounds, ClassFigures, Groups, WindowFigures
from alarms.figure_queries import (
    Actor,
    Place,
    bad_actors_of,
    lines_of,
    places_of,
    quiet_now,
    raises_of,
    standing_at_end,
    waiting_now,
)
from alarms.figures import Figures
from alarms.lifecycle import State
from alarms.marks import limits
from alarms.models import Alarm
from alarms.spans import Span, Windows, faults_of, windows_in
from equipment.faults import Fault, refuse
from equipment.models import Facility

MOST_WINDOWS = 370


class ZoneSpan(msgspec.Struct, frozen=True, kw_only=True):
    """What the span is at the facilities of one zone."""

    time_zone: str
    first_at: datetime
    until_at: datetime


class FacilityFigures(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of one facility, over the span in its own zone."""

    facility: int
    name: str
    span: ZoneSpan
    figures: Figures


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that was asked for. `facilities`: those with anything to count, most alarms first, then by name."""

    as_of: datetime
    spans: list[ZoneSpan]
    figures: Figures
    classes: list[ClassFigures]
    bad_actors: list[Actor]
    shelved: list[Alarm]
    out_of_service: list[Alarm]
    facilities: list[FacilityFigures]
    windows: list[WindowFigures]


def figures_at(
    facilities: QuerySet[Facility], span: Span, *, window_days: int | None = None, step_days: int = 1
) -> Report:
    """The figures over the span, by class and by facility, and over sliding windows where their length is given.

    Raises `Invalid` with a pointer where the span is none or makes too many windows. The number of queries is fixed.
    """
    places = places_of(facilities)
    zones = {place.time_zone: ZoneInfo(place.time_zone) for place in places.values()}
    refuse(faults_of(span, zones.values() or [ZoneInfo("UTC")]))
    windows = _windows(span, zones, window_days, step_days)
    spans = {
        name: ZoneSpan(time_zone=name, first_at=first, until_at=until)
        for name, (first, until) in ((name, span.bounds(zone)) for name, zone in sorted(zones.items()))
    }
    bounds = {name: (one.first_at, one.until_at) for name, one in spans.items()}
    groups = _read(facilities, places, bounds, _widened(bounds, windows), now=span.now)
    quiet = quiet_now(facilities)
    return Report(
        as_of=span.now,
        spans=list(spans.values()),
        figures=groups.whole(),
        classes=list(groups.classes()),
        bad_actors=bad_actors_of(facilities, bounds, listed=limits().bad_actors.listed),
        shelved=[alarm for alarm in quiet if alarm.state == State.SHELVED],
        out_of_service=[alarm for alarm in quiet if alarm.state == State.OUT_OF_SERVICE],
        facilities=_named(groups.facilities(), places, spans),
        windows=list(groups.windows(windows)),
    )


def _windows(span: Span, zones: Mapping[str, ZoneInfo], days: int | None, step: int) -> Windows:
    if days is None:
        return Windows(days=0, ends=())
    windows = windows_in(span, zones.values(), days=days, step=step)
    if len(windows.ends) > MOST_WINDOWS:
        detail = f"makes {len(windows.ends)} windows, and {MOST_WINDOWS} are worked out; take a longer step"
        refuse([Fault("/step", detail, "too-many")])
    return windows


def _widened(bounds: Bounds, windows: Windows) -> Bounds:
    """The span and all that lies in any window."""
    return {
        name: (min(first, windows.first_instant(ZoneInfo(name)) or first), until)
        for name, (first, until) in bounds.items()
    }


def _read(
    facilities: QuerySet[Facility],
    places: Mapping[int, Place],
    bounds: Bounds,
    wide: Bounds,
    *,
    now: datetime,
) -> Groups:
    raises: dict[int, list[datetime]] = defaultdict(list)
    for facility, moment in raises_of(facilities, wide):
        raises[facility].append(moment)
    return Groups(
        zones={facility: place.time_zone for facility, place in places.items()},
        bounds=bounds,
        lines=lines_of(facilities, wide, now=now),
        raises=raises,
        standing=standing_at_end(facilities, bounds),
        waiting=waiting_now(facilities),
        flood=limits().flood,
        now=now,
    )


def _named(
    figures: Mapping[int, Figures], places: Mapping[int, Place], spans: Mapping[str, ZoneSpan]
) -> list[FacilityFigures]:
    rows = [
        FacilityFigures(
            facility=facility,
            name=place.name,
            span=spans[place.time_zone],
            figures=figures[facility],
        )
        for facility, place in places.items()
        if facility in figures
    ]
    return sorted(rows, key=lambda row: -row.figures.alarms)
