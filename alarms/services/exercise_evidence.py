"""What the messages on file show of one sensor in a function check, and the record that says so."""

from collections import defaultdict
from datetime import datetime
from typing import Any

from alarms.conditions import condition_or_unlisted
from alarms.exercises import CheckOutcome, Course, Shown, Turn, Window, drives, shown_by
from alarms.matching import Signal
from alarms.models import Event, Exercise, ExerciseSensor
from alarms.models.events import COUNTS_AT
from alarms.services.exercise_marks import standing_at
from equipment.models import Record
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit, withdraw_record
from equipment.vocabulary import Outcome

ACTIVITY = "sensor-function-check"
# What stands at the end, or stood before, says neither that the sensor works nor that it does not.
SAYS = {CheckOutcome.RESPONDED: Outcome.PASS, CheckOutcome.NO_RESPONSE: Outcome.FAIL}


def shown_of(sensor: ExerciseSensor) -> Shown:
    """What its messages show, by the moments at which they count. A contradicting clear counts for nothing."""
    window = sensor.exercise.window
    turns: dict[str, list[Turn]] = defaultdict(list)
    events = Event.objects.annotate(moment=COUNTS_AT).filter(
        component=sensor.component_id, moment__gte=window.starts_at, moment__lt=window.ends_at
    )
    for event in events.exclude(conflicts_with__isnull=False, signal=Signal.CLEARED):
        if _drives(event.condition):
            turns[event.condition].append(Turn(event.counts_at, event.signal == Signal.RAISED))
    before = {
        alarm.condition
        for alarm in standing_at(sensor.component_id, window.starts_at)
        if drives(alarm.condition_class)
    }
    return shown_by(window, [Course(one, one in before, turns[one]) for one in sorted(before | turns.keys())])


def file_record(sensor: ExerciseSensor, shown: Shown, *, now: datetime) -> Record | None:
    """Bring the sensor's record in line with what is shown now; answers the record that stands for it, if any.

    A later message may correct an earlier verdict: then the new record supersedes the old one, or the old one is
    withdrawn where nothing is shown any more. What somebody else has corrected since is left to them.
    """
    held, says = sensor.record, SAYS.get(shown.outcome)
    if held is not None and (held.withdrawn_at is not None or hasattr(held, "superseded_by")):
        return held
    if held is not None and held.outcome == says:
        return held
    if says is None:
        if held is not None:
            reason = "Messages that came later show that the check says nothing of this sensor."
            withdraw_record(record=held, reason=reason, by=name_of(sensor.exercise), now=now)
        return None
    exercise = sensor.exercise
    deed = _deed(sensor, shown, says, supersedes=None if held is None else held.pk)
    visit = record_visit(
        facility=exercise.facility,
        submitted_by=exercise.submitted_by,
        entered_by=name_of(exercise),
        deeds=[deed],
        now=now,
    )
    return visit.records[0]


def name_of(exercise: Exercise) -> str:
    """In whose name it states what it shows: nobody types that in."""
    return f"function check {exercise.pk}, planned by {exercise.recorded_by}"[:200]


def _drives(word: str) -> bool:
    condition = condition_or_unlisted(word)
    return drives(condition.condition_class)


def _deed(sensor: ExerciseSensor, shown: Shown, says: str, *, supersedes: int | None) -> Deed:
    exercise = sensor.exercise
    return Deed(
        activity=ACTIVITY,
        performed=Moment(instant=_performed_at(shown, exercise.window)),
        subjects=(sensor.component.tag,),
        outcome=says,
        measurements=_measured(shown),
        performer=exercise.submitted_by.name,
        technician=exercise.led_by,
        note=f"Function check {exercise.pk}, worked out from the messages in its window.",
        supersedes=supersedes,
    )


def _performed_at(shown: Shown, window: Window) -> datetime:
    return window.ends_at if shown.response is None else shown.response.cleared_at


def _measured(shown: Shown) -> dict[str, Any]:
    if shown.response is None:
        return {"responded": False, "action_needed": True}
    return {
        "responded": True,
        "returned": True,
        "condition": shown.response.condition,
        "raised_at": shown.response.raised_at.isoformat(),
        "cleared_at": shown.response.cleared_at.isoformat(),
    }
