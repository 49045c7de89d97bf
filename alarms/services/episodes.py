"""Loads the episodes that a batch of events may touch, and writes back what became of them."""

from collections.abc import Collection, Iterable
from datetime import datetime

from django.db import connection
from django.db.models import Q

from alarms.conditions import Condition, ConditionClass, condition_or_unlisted
from alarms.lifecycle import OPEN, State
from alarms.matching import Book, Episode, Key, Signal
from alarms.models import Alarm, Event
from alarms.models.alarms import IS_ALARM, IS_OPEN
from alarms.models.events import COUNTS_AT
from alarms.queries import watch_for_releases
from alarms.services.exercise_marks import mark_exercises
from equipment.models import Facility

_MOVED = [
    "state",
    "raised_at",
    "cleared_at",
    "ended_at",
    "occurrences",
    "last_raised_at",
    "last_turn_at",
]


def load(facility: Facility, keys: Collection[Key], *, oldest: datetime) -> Book:
    """The facility's episodes of these conditions that are open or ended after `oldest`; locked, facility first."""
    words = {key.condition for key in keys}
    rows = Alarm.objects.filter(
        IS_OPEN | Q(cleared_at__gte=oldest), IS_ALARM, facility=facility, condition__in=words
    ).order_by("pk")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update()
    return Book([_episode(row) for row in rows], _clears(facility, words, oldest))


def write(facility: Facility, book: Book, *, now: datetime) -> dict[Episode, int]:
    """Store every episode that changed and every new one; answers the alarm id of each episode of the book."""
    # What ended goes first: the database allows one open alarm for a place and condition.
    Alarm.objects.bulk_update([_moved(one) for one in book.known if one.changed], _MOVED)
    methods = _methods(book.opened)
    alarms = [_alarm(facility, one, methods, now) for one in book.opened]
    mark_exercises(facility, alarms, now=now)
    Alarm.objects.bulk_create(alarms)
    ids = {one: one.alarm for one in book.known if one.alarm is not None}
    return ids | {one: alarm.pk for one, alarm in zip(book.opened, alarms, strict=True)}


def _episode(row: Alarm) -> Episode:
    return Episode(
        key=Key(row.component_id, row.device, row.condition),
        state=State(row.state),
        raised_at=row.raised_at,
        last_raised_at=row.last_raised_at,
        last_turn_at=row.last_turn_at,
        cleared_at=row.cleared_at,
        ended_at=row.ended_at,
        occurrences=row.occurrences,
        alarm=row.pk,
    )


def _clears(facility: Facility, words: Collection[str], oldest: datetime) -> dict[Key, list[datetime]]:
    """Clears on file that may end what is raised late: those of an open episode, and those that came before a raise."""
    rows = Event.objects.annotate(moment=COUNTS_AT).filter(
        Q(alarm=None) | Q(alarm__state__in=sorted(OPEN)),
        facility=facility,
        condition__in=words,
        signal=Signal.CLEARED,
        conflicts_with=None,
        moment__gte=oldest,
    )
    found: dict[Key, list[datetime]] = {}
    for component, device, condition, at in rows.values_list("component_id", "device", "condition", "moment"):
        found.setdefault(Key.of(component, device, condition), []).append(at)
    return found


def _moved(episode: Episode) -> Alarm:
    """The row as bulk_update needs it: its id and the columns that moved."""
    return Alarm(
        pk=episode.alarm,
        state=episode.state,
        raised_at=episode.raised_at,
        cleared_at=episode.cleared_at,
        ended_at=episode.ended_at,
        occurrences=episode.occurrences,
        last_raised_at=episode.last_raised_at,
        last_turn_at=episode.last_turn_at,
    )


def _alarm(facility: Facility, episode: Episode, methods: Collection[int], now: datetime) -> Alarm:
    condition = condition_or_unlisted(episode.key.condition)
    return Alarm(
        facility=facility,
        component_id=episode.key.component,
        device=episode.key.device,
        condition=episode.key.condition,
        condition_class=_class_of(condition, episode.key.component in methods),
        priority=condition.priority,
        state=episode.state,
        raised_at=episode.raised_at,
        opened_at=now,
        cleared_at=episode.cleared_at,
        ended_at=episode.ended_at,
        occurrences=episode.occurrences,
        last_raised_at=episode.last_raised_at,
        last_turn_at=episode.last_turn_at,
        called_from=now,
        next_step_at=now,
    )


def _methods(opened: Iterable[Episode]) -> set[int]:
    """Components among them that are the release-detection method, where that decides the class."""
    asked = [
        one.key.component
        for one in opened
        if one.key.component is not None and condition_or_unlisted(one.key.condition).class_where_method
    ]
    return watch_for_releases(asked) if asked else set()


def _class_of(condition: Condition, is_method: bool) -> ConditionClass | None:
    return (condition.class_where_method if is_method else None) or condition.condition_class
