"""Writes what became of alarms: those on file, new ones, and the messages that belong to them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from alarms.conditions import Condition, ConditionClass, condition_or_unlisted
from alarms.lifecycle import OPEN, WAITING
from alarms.matching import Key
from alarms.models import Alarm, Event
from alarms.queries import watch_for_releases
from alarms.services.alarm_sources import count_sources
from alarms.services.calls import call_anew, end_calls
from alarms.services.exercise_marks import mark_exercises
from alarms.timeline import Episode
from alarms.timeline_rows import Row, Work
from equipment.models import Facility


def write(facility: Facility, works: Mapping[Key, Work], *, now: datetime) -> None:
    """Store every alarm that changed and every new one, move messages to the alarm they now belong to, and begin or
    end the calls. Rows learn their ids."""
    rows = [row for work in works.values() for row in work.rows]
    write_changes([row for row in rows if row.before is not None], now=now)
    _create(facility, works, now=now)
    again = [work for work in works.values() if work.again]
    _move_messages(again)
    for row in (row for work in again for row in work.rows if row.is_newly_merged):
        _keep_discovery(row)


def write_changes(rows: Iterable[Row], *, now: datetime) -> None:
    """Store what became of alarms on file; people are called, or called no more, as they now wait or not."""
    changed = [row for row in rows if row.changed]
    # What is over goes first: the database allows one open alarm for a place and condition.
    _update([row for row in changed if row.episode.state not in OPEN], now=now)
    _update([row for row in changed if row.episode.state in OPEN], now=now)
    if quiet := [row.number for row in changed if row.waits_no_more]:
        end_calls(quiet, now=now)
    if ringing := [row.number for row in changed if row.waits_anew]:
        call_anew(ringing, now=now)


def _update(rows: Sequence[Row], *, now: datetime) -> None:
    names: set[str] = set()
    alarms = []
    for row in rows:
        columns = Alarm.columns_of(row.episode)
        merged = row.merged_into.alarm if row.merged_into is not None else None
        if merged != row.was_merged_into:
            columns |= {"merged_into": merged, "merged_at": now if merged is not None else None}
            Alarm.objects.filter(pk=row.number).update(**columns)
            continue
        was = Alarm.columns_of(row.before) if row.before is not None else {}
        names |= {name for name, value in columns.items() if name not in was or value != was[name]}
        alarms.append(Alarm(pk=row.alarm, **columns))
    if alarms:
        Alarm.objects.bulk_update(alarms, sorted(names))


def _create(facility: Facility, works: Mapping[Key, Work], *, now: datetime) -> None:
    new = [(key, row) for key, work in works.items() for row in work.rows if row.before is None]
    classes = classes_of(key for key, _ in new)
    alarms = [_alarm(facility, key, row.episode, classes[key], now) for key, row in new]
    mark_exercises(facility, alarms, now=now)
    Alarm.objects.bulk_create(alarms)
    for (_, row), alarm in zip(new, alarms, strict=True):
        row.alarm = alarm.pk


def _alarm(
    facility: Facility, key: Key, episode: Episode, class_: ConditionClass | None, now: datetime
) -> Alarm:
    condition = condition_or_unlisted(key.condition)
    return Alarm(
        facility=facility,
        component_id=key.component,
        device=key.device,
        condition=key.condition,
        condition_class=class_,
        priority=condition.priority,
        opened_at=now,
        called_from=now,
        next_step_at=now if episode.state in WAITING else None,
        **Alarm.columns_of(episode),
    )


def classes_of(keys: Iterable[Key]) -> dict[Key, ConditionClass | None]:
    """The class of an alarm at each place, by whether the component there is the release-detection method."""
    asked = set(keys)
    methods = _methods(asked)
    return {one: _class_of(condition_or_unlisted(one.condition), one.component in methods) for one in asked}


def _methods(opened: Iterable[Key]) -> set[int]:
    """Components among them that are the release-detection method, where that decides the class."""
    asked = [
        key.component
        for key in opened
        if key.component is not None and condition_or_unlisted(key.condition).class_where_method
    ]
    return watch_for_releases(asked) if asked else set()


def _class_of(condition: Condition, is_method: bool) -> ConditionClass | None:
    return (condition.class_where_method if is_method else None) or condition.condition_class


def _move_messages(works: Iterable[Work]) -> None:
    """A message on file belongs to the alarm that it now counts in, or to one that was merged into that."""
    belongs: dict[int, int | None] = {}
    merged: dict[int | None, int] = {}
    for work in works:
        merged |= {row.alarm: row.merged_into.number for row in work.rows if row.merged_into is not None}
        for one in work.placed:
            if one.heard.ref > 0:
                belongs[one.heard.ref] = work.row_of(one.episode).number if one.episode is not None else None
    moved: dict[int | None, list[int]] = defaultdict(list)
    touched: set[int | None] = set()
    for event, alarm in Event.objects.filter(pk__in=belongs).values_list("pk", "alarm_id"):
        if merged.get(alarm, alarm) != belongs[event]:
            moved[belongs[event]].append(event)
            touched |= {alarm, belongs[event]}
    for target, events in moved.items():
        Event.objects.filter(pk__in=events).update(alarm=target)
    if touched:
        count_sources([pk for pk in touched if pk is not None])


def _keep_discovery(row: Row) -> None:
    """When the operator learned of it was perhaps stated of the part only."""
    if row.merged_into is not None:
        discovered = Alarm.objects.values_list("discovered_at", flat=True).get(pk=row.number)
        whole = Alarm.objects.filter(pk=row.merged_into.number, discovered_at=None)
        whole.update(discovered_at=discovered)
