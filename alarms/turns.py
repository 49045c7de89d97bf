"""Reads the turns on file: what devices said, and the steps that people took."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import datetime

from django.db.models import Q

from alarms.conditions import condition_or_unlisted
from alarms.lifecycle import Step
from alarms.matching import Key, Signal
from alarms.models import Alarm, AlarmStep, Event
from alarms.models.alarms import IS_ALARM, IS_OPEN
from alarms.models.events import COUNTS_AT, counts_since
from alarms.timeline import REJOINS_WITHIN, Act, Answer, Heard, Turn
from alarms.timeline_rows import Spans
from equipment.models import Facility

# A clear that contradicts an earlier message of the same id clears nothing.
MOVES = Q(conflicts_with=None) | Q(signal=Signal.RAISED)


def starts_of(facility: Facility, late: Mapping[Key, datetime]) -> dict[Key, datetime]:
    """For each key the moment from which on it is counted again: nothing of it was open before.

    Alarms that touch reach further back; then twice as much as before is looked up.
    """
    starts, reach = dict(late), REJOINS_WITHIN
    while True:
        bound = min(starts.values()) - reach
        spans = _spans(facility, starts, bound)
        starts = {
            key: spans[key].start_of(at, condition_or_unlisted(key.condition).nature)
            for key, at in starts.items()
        }
        if min(starts.values()) - REJOINS_WITHIN >= bound:
            return starts
        reach *= 2


def turns_since(facility: Facility, starts: Mapping[Key, datetime]) -> dict[Key, list[Turn]]:
    """Everything on file of each key from its start on; `ref` of a message is its id."""
    found: dict[Key, list[Turn]] = defaultdict(list)
    bound = min(starts.values())
    words = {key.condition for key in starts}
    events = Event.objects.annotate(moment=COUNTS_AT).filter(
        MOVES,
        counts_since(bound),
        facility=facility,
        condition__in=words,
    )
    columns = ("component_id", "device", "condition", "moment", "signal", "clock_doubtful", "pk")
    for component, device, condition, at, signal, doubt, pk in events.values_list(*columns):
        key = Key.of(component, device, condition)
        if key in starts and at >= starts[key]:
            found[key].append(Heard(at, Signal(signal), doubt, pk))
    steps = AlarmStep.objects.filter(facility=facility, alarm__condition__in=words, through__gte=bound)
    for step in steps.select_related("alarm"):
        key = step.alarm.key
        if key in starts and step.through >= starts[key]:
            found[key].append(act_of(step))
    return found


def turns_known(facility_ids: Collection[int], known_at: datetime) -> dict[tuple[int, Key], list[Turn]]:
    """Everything that had reached us by then, by facility and key; `ref` of a message is the alarm it belongs to now,
    0 where it belongs to none."""
    found: dict[tuple[int, Key], list[Turn]] = defaultdict(list)
    events = Event.objects.annotate(moment=COUNTS_AT).filter(
        MOVES, facility__in=facility_ids, received_at__lte=known_at
    )
    columns = ("facility_id", "component_id", "device", "condition", "moment", "signal", "clock_doubtful")
    for facility, component, device, condition, at, signal, doubt, alarm in events.values_list(
        *columns, "alarm_id"
    ):
        heard = Heard(at, Signal(signal), doubt, alarm or 0)
        found[facility, Key.of(component, device, condition)].append(heard)
    steps = AlarmStep.objects.filter(facility__in=facility_ids, at__lte=known_at)
    for step in steps.select_related("alarm"):
        found[step.facility_id, step.alarm.key].append(act_of(step))
    return found


def act_of(step: AlarmStep) -> Act:
    """A step as it counts."""
    return Act(
        at=step.through,
        step=Step(step.kind),
        number=step.pk,
        answer=Answer(step.at, step.by, step.note),
        until=step.until,
    )


def _spans(facility: Facility, keys: Mapping[Key, datetime], bound: datetime) -> dict[Key, Spans]:
    rows = Alarm.objects.filter(
        IS_OPEN | Q(ended_at__gte=bound),
        IS_ALARM,
        facility=facility,
        condition__in={key.condition for key in keys},
    )
    found = {key: Spans([]) for key in keys}
    columns = ("component_id", "device", "condition", "raised_at", "ended_at")
    for component, device, condition, raised, ended in rows.values_list(*columns):
        key = Key(component, device, condition)
        if key in found:
            found[key].spans.append((raised, ended))
    return found
