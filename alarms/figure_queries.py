"""Reads what figures are made of, in a fixed number of queries, as plain values.

Every function takes the bounds of the span by zone, since days begin at each facility's own midnight.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import msgspec
from django.db.models import Count, Max, Q, QuerySet, Subquery

from alarms.figure_groups import Bounds
from alarms.figures import Line, StandingAlarm, WaitingAlarm
from alarms.lifecycle import ANSWERS, State, Step
from alarms.mark_queries import is_marked, with_marks, with_merged
from alarms.marks import Mark
from alarms.matching import Signal
from alarms.models import Alarm, AlarmStep, Disposition, Event
from alarms.models.alarms import IS_ALARM, IS_EXERCISE, IS_WAITING, held_until
from alarms.models.events import COUNTS_AT
from equipment.models import Facility

_COLUMNS = (
    "pk",
    "facility_id",
    "condition_class",
    "raised_at",
    "opened_at",
    "answered_at",
    "exercise",
    "stood_on_at",
    "disposed_at",
    "is_chattering",
    "is_fleeting",
)
_QUIET = {"since": "at", "by": "by", "reason": "note"}


class Place(msgspec.Struct, frozen=True):
    """A facility as figures name it."""

    name: str
    time_zone: str


class Actor(msgspec.Struct, frozen=True, kw_only=True):
    """One condition at one place, however often it came: `episodes` alarms, raised `raises` times in the span."""

    facility: int
    facility_name: str
    component: str | None
    device: str | None
    condition: str
    condition_class: str | None
    raises: int
    episodes: int
    last_raised_at: datetime


def places_of(facilities: QuerySet[Facility]) -> dict[int, Place]:
    """Name and zone of every facility, in the order of names."""
    rows = facilities.order_by("name", "pk").values_list("pk", "name", "time_zone")
    return {pk: Place(name, zone) for pk, name, zone in rows}


def lines_of(facilities: QuerySet[Facility], bounds: Bounds, *, now: datetime) -> list[Line]:
    """The alarms that were raised in the span, exercises too, in the order of their raises."""
    answers = AlarmStep.objects.filter(alarm__in=with_merged(), kind__in=ANSWERS).order_by("at")
    dispositions = Disposition.objects.filter(alarm__in=with_merged(), withdrawn_at=None).order_by("at")
    rows = Alarm.objects.filter(IS_ALARM, _within("raised_at", bounds), facility__in=facilities)
    rows = with_marks(rows, at=now).annotate(
        answered_at=Subquery(answers.values("at")[:1]), disposed_at=Subquery(dispositions.values("at")[:1])
    )
    return [_line(row) for row in rows.order_by("raised_at", "pk").values(*_COLUMNS)]


def _line(row: dict[str, Any]) -> Line:
    return Line(
        alarm=row["pk"],
        facility=row["facility_id"],
        condition_class=row["condition_class"],
        raised_at=row["raised_at"],
        opened_at=row["opened_at"],
        acknowledged_at=row["answered_at"],
        disposed_at=row["disposed_at"],
        chattering=row["is_chattering"],
        fleeting=row["is_fleeting"],
        exercise=row["exercise"] is not None and row["stood_on_at"] is None,
    )


def raises_of(facilities: QuerySet[Facility], bounds: Bounds) -> Iterator[tuple[int, datetime]]:
    """Facility and moment of every raise in the span that moved an alarm and was no exercise; by facility, in order."""
    rows = _raises(facilities, bounds).order_by("facility", "moment")
    yield from rows.values_list("facility_id", "moment").iterator(chunk_size=5000)


def bad_actors_of(facilities: QuerySet[Facility], bounds: Bounds, *, listed: int) -> list[Actor]:
    """What was raised most in the span. An alarm that comes and goes is one of them, however many episodes it had."""
    by = ("facility_id", "alarm__component_id", "alarm__device", "alarm__condition", "alarm__condition_class")
    rows = _raises(facilities, bounds).values(*by, "facility__name", "alarm__component__tag")
    rows = rows.annotate(raises=Count("pk"), episodes=Count("alarm", distinct=True), last=Max("moment"))
    return [
        Actor(
            facility=row["facility_id"],
            facility_name=row["facility__name"],
            component=row["alarm__component__tag"],
            device=row["alarm__device"] or None,
            condition=row["alarm__condition"],
            condition_class=row["alarm__condition_class"],
            raises=row["raises"],
            episodes=row["episodes"],
            last_raised_at=row["last"],
        )
        for row in rows.order_by("-raises", "facility_id", *by[1:])[:listed]
    ]


def standing_at_end(facilities: QuerySet[Facility], bounds: Bounds) -> list[StandingAlarm]:
    """The alarms that stood when the span ended, oldest first."""
    stood, stale = Q(), Q()
    for zones, (_, end) in _alike(bounds):
        here = Q(facility__time_zone__in=zones)
        stood |= here & Q(raised_at__lt=end) & held_until(end)
        stale |= here & is_marked(Mark.STALE, end)
    rows = Alarm.objects.filter(IS_ALARM, ~IS_EXERCISE, facility__in=facilities)
    rows = rows.filter(stood) if bounds else rows.none()
    old = set(rows.filter(stale).values_list("pk", flat=True))
    found = rows.order_by("raised_at", "pk").values_list("facility_id", "condition_class", "pk", "raised_at")
    return [
        StandingAlarm(
            facility=facility, condition_class=word, alarm=alarm, raised_at=raised_at, stale=alarm in old
        )
        for facility, word, alarm, raised_at in found
    ]


def waiting_now(facilities: QuerySet[Facility]) -> list[WaitingAlarm]:
    """Every alarm that waits for an answer, whenever it was raised."""
    rows = Alarm.objects.filter(IS_WAITING, ~IS_EXERCISE, facility__in=facilities)
    return [
        WaitingAlarm(facility=facility, alarm=alarm, called_from=called_from)
        for facility, alarm, called_from in rows.values_list("facility_id", "pk", "called_from")
    ]


def quiet_now(facilities: QuerySet[Facility]) -> list[Alarm]:
    """The alarms that somebody keeps quiet now, oldest first, with `quiet_since`, `quiet_by` and `quiet_reason`."""
    rows = Alarm.objects.filter(state__in=[State.SHELVED, State.OUT_OF_SERVICE], facility__in=facilities)
    last = AlarmStep.objects.filter(alarm__in=with_merged(), kind__in=[Step.SHELVE, Step.TAKE_OUT])
    last = last.order_by("-through", "-pk")
    told = {f"quiet_{name}": Subquery(last.values(column)[:1]) for name, column in _QUIET.items()}
    rows = rows.annotate(**told).select_related("facility", "component")
    return list(rows.order_by("raised_at", "pk"))


def _raises(facilities: QuerySet[Facility], bounds: Bounds) -> Any:
    rows = Event.objects.annotate(moment=COUNTS_AT).filter(signal=Signal.RAISED, facility__in=facilities)
    rows = rows.filter(_within("moment", bounds)).exclude(alarm=None)
    return rows.filter(Q(alarm__exercise=None) | Q(alarm__stood_on_at__isnull=False))


def _within(column: str, bounds: Bounds) -> Q:
    """In the span of its facility's zone; nothing is, where there is no zone."""
    inside = Q(pk__in=[])
    for zones, (start, end) in _alike(bounds):
        moment = Q(**{f"{column}__gte": start, f"{column}__lt": end})
        inside |= moment if len(zones) == len(bounds) else moment & Q(facility__time_zone__in=zones)
    return inside


def _alike(bounds: Bounds) -> list[tuple[list[str], tuple[datetime, datetime]]]:
    """Zones in which the span is the same, together."""
    together: dict[tuple[datetime, datetime], list[str]] = {}
    for zone, both in bounds.items():
        together.setdefault(both, []).append(zone)
    return [(zones, both) for both, zones in together.items()]
