"""Moves the alarms of a facility by what its devices said: reads what a batch may touch, counts, and writes."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

from django.db import connection
from django.db.models import Max, Q, QuerySet

from alarms.conditions import condition_or_unlisted
from alarms.lifecycle import Nature
from alarms.matching import Key, Signal
from alarms.models import Alarm, Event
from alarms.models.alarms import IS_OPEN
from alarms.models.events import COUNTS_AT, counts_since
from alarms.timeline import REJOINS_WITHIN, Heard
from alarms.timeline_rows import Row, Work, count_again, count_on, is_late, newest_of
from alarms.turns import starts_of, turns_since
from equipment.models import Facility


def move(facility: Facility, heard: Mapping[Key, list[Heard]], *, now: datetime) -> dict[Key, Work]:
    """What these messages make of the facility's alarms, by what they are about; nothing is written yet.

    Locks what it reads; the caller holds the facility.
    """
    oldest = min(one.at for turns in heard.values() for one in turns)
    rows = _rows_since(facility, heard, oldest)
    loose = _loose_clears(facility, heard, oldest)
    late = {
        key: min(one.at for one in turns)
        for key, turns in heard.items()
        if is_late(turns, newest_of(rows[key], loose.get(key)))
    }
    works = {
        key: count_on(rows[key], turns, _nature(key), now=now)
        for key, turns in heard.items()
        if key not in late
    }
    return works | (_moved_again(facility, heard, late, now=now) if late else {})


def count_anew(facility: Facility, key: Key, *, since: datetime, now: datetime) -> dict[Key, Work]:
    """What all messages on file since then make of the alarms of this key; nothing is written yet."""
    return _moved_again(facility, {key: []}, {key: since}, now=now)


def _moved_again(
    facility: Facility, heard: Mapping[Key, list[Heard]], late: Mapping[Key, datetime], *, now: datetime
) -> dict[Key, Work]:
    starts = starts_of(facility, late)
    rows = _rows_from(facility, starts)
    known = turns_since(facility, starts)
    return {key: count_again(rows[key], [*known[key], *heard[key]], _nature(key), now=now) for key in late}


def _nature(key: Key) -> Nature:
    return condition_or_unlisted(key.condition).nature


def _rows_since(facility: Facility, keys: Collection[Key], oldest: datetime) -> dict[Key, list[Row]]:
    """Alarms that are open, had a turn since or may come back, merged ones too."""
    recurring = {key.condition for key in keys if _nature(key).comes_and_goes}
    back = Q(ended_at__gte=oldest - REJOINS_WITHIN, condition__in=recurring)
    return _rows(facility, keys, IS_OPEN | Q(last_turn_at__gte=oldest) | back)


def _rows_from(facility: Facility, starts: Mapping[Key, datetime]) -> dict[Key, list[Row]]:
    """Alarms that began at the start of their key or later, merged ones too."""
    found = _rows(facility, starts, Q(raised_at__gte=min(starts.values())))
    kept = {key: [row for row in rows if row.episode.raised_at >= starts[key]] for key, rows in found.items()}
    return defaultdict(list, kept)


def _rows(facility: Facility, keys: Collection[Key], which: Q) -> dict[Key, list[Row]]:
    alarms = Alarm.objects.filter(which, facility=facility, condition__in={key.condition for key in keys})
    found: dict[Key, list[Row]] = defaultdict(list)
    for alarm in _locked(alarms.order_by("pk")):
        if alarm.key in keys:
            found[alarm.key].append(Row.on_file(alarm.pk, alarm.episode(), alarm.merged_into_id))
    return found


def _locked(alarms: QuerySet[Alarm]) -> Iterable[Alarm]:
    return alarms.select_for_update() if connection.features.has_select_for_update else alarms


def _loose_clears(facility: Facility, keys: Collection[Key], oldest: datetime) -> dict[Key, datetime]:
    """The latest clear of each key that belongs to no alarm, as far as it counts since `oldest`."""
    rows = Event.objects.annotate(moment=COUNTS_AT).filter(
        counts_since(oldest),
        facility=facility,
        condition__in={key.condition for key in keys},
        alarm=None,
        signal=Signal.CLEARED,
        conflicts_with=None,
    )
    found: dict[Key, datetime] = {}
    latest = rows.values_list("component_id", "device", "condition").annotate(latest=Max("moment"))
    for component, device, condition, at in latest:
        key = Key.of(component, device, condition)
        found[key] = max(at, found.get(key, at))
    return found
