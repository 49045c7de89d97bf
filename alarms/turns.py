"""Reads the turns on file: what devices said, and the steps that people took."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import datetime
from itertools import chain

from django.db.models import Min, Q

from alarms.conditions import LONGEST_DELAY, condition_or_unlisted
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
    return _sorted_out(_heard(facility.pk, starts, Q(), "pk"), _acts(facility.pk, starts, Q()))


def turns_known(
    facility_id: int, starts: Mapping[Key, datetime], known_at: datetime
) -> dict[Key, list[Turn]]:
    """The same as far as it had reached us by then; `ref` of a message is the alarm it belongs to now, 0: none."""
    heard = _heard(facility_id, starts, Q(received_at__lte=known_at), "alarm_id")
    return _sorted_out(heard, _acts(facility_id, starts, Q(at__lte=known_at)))


def told_late(facility_ids: Collection[int], known_at: datetime) -> dict[tuple[int, Key], datetime]:
    """By facility and key, the first moment up to then of which a message told only after it; none: not there.

    A device's clock is believed for so long only, so this looks at the last weeks before that instant.
    """
    late = Event.objects.filter(
        MOVES,
        facility__in=facility_ids,
        clock_doubtful=False,
        occurred_at__gte=known_at - LONGEST_DELAY,
        occurred_at__lte=known_at,
        received_at__gt=known_at,
    )
    found: dict[tuple[int, Key], datetime] = {}
    firsts = late.values_list("facility_id", "component_id", "device", "condition")
    for facility, component, device, condition, at in firsts.annotate(first=Min("occurred_at")):
        key = Key.of(component, device, condition)
        found[facility, key] = min(at, found.get((facility, key), at))
    return found


def _heard(
    facility_id: int, starts: Mapping[Key, datetime], which: Q, ref: str
) -> Iterator[tuple[Key, Heard]]:
    components = {key.component for key in starts}
    events = Event.objects.annotate(moment=COUNTS_AT).filter(
        MOVES,
        which,
        counts_since(min(starts.values())),
        Q(component__in=components - {None}) | (Q(component=None) if None in components else Q(pk__in=())),
        facility=facility_id,
        condition__in={key.condition for key in starts},
    )
    columns = ("component_id", "device", "condition", "moment", "signal", "clock_doubtful", ref)
    for component, device, condition, at, signal, doubt, number in events.values_list(*columns).iterator():
        key = Key.of(component, device, condition)
        if key in starts and at >= starts[key]:
            yield key, Heard(at, Signal(signal), doubt, number or 0)


def _acts(facility_id: int, starts: Mapping[Key, datetime], which: Q) -> Iterator[tuple[Key, Act]]:
    steps = AlarmStep.objects.filter(
        which,
        facility=facility_id,
        alarm__condition__in={key.condition for key in starts},
        through__gte=min(starts.values()),
    )
    for step in steps.select_related("alarm"):
        key = step.alarm.key
        if key in starts and step.through >= starts[key]:
            yield key, act_of(step)


def _sorted_out(*turns: Iterable[tuple[Key, Turn]]) -> dict[Key, list[Turn]]:
    found: dict[Key, list[Turn]] = defaultdict(list)
    for key, turn in chain(*turns):
        found[key].append(turn)
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
