"""Somebody answers an alarm: the first does, for good."""

from dataclasses import dataclass
from datetime import datetime

from django.db import connection, transaction

from alarms.lifecycle import WAITING, State, Step, after
from alarms.models import Alarm, AlarmStep
from alarms.services.calls import withdraw_calls
from alarms.services.exercise_marks import refuse_while_exercised

_ANSWERED = [
    "state",
    "last_turn_at",
    "ended_at",
    "acknowledged_at",
    "acknowledged_by",
    "acknowledged_note",
    "next_step_at",
]


@dataclass(frozen=True)
class Acknowledgement:
    """The alarm as it stands, with the acknowledgement that counts; `first` when this call made it."""

    alarm: Alarm
    first: bool


@transaction.atomic
def acknowledge(*, alarm: Alarm, by: str, note: str | None, now: datetime) -> Acknowledgement:
    """Answer for the alarm and stop its calls. The first wins; a later one changes nothing and is told who it was.

    Operational only: it answers no legal clock. Its mails that have not gone yet are withdrawn; those about a
    clock of the law go out all the same. Raises `Conflict` for an alarm of a function check that is under way.
    """
    standing = _locked(alarm.pk)
    first = standing.state in WAITING
    if first:
        refuse_while_exercised(standing)
        _answer(standing, by=by, note=note, now=now)
    return Acknowledgement(alarm=standing, first=first)


def _locked(alarm_id: int) -> Alarm:
    """The alarm that stands: the one that this was merged into, if it was; locked, so that messages wait."""
    rows = Alarm.objects.select_related("facility", "component").order_by("pk")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(of=("self",))
    row = rows.get(pk=alarm_id)
    return row if row.merged_into_id is None else _locked(row.merged_into_id)


def _answer(alarm: Alarm, *, by: str, note: str | None, now: datetime) -> None:
    # Whoever answers has seen all that was shown, also what a fast clock of a device put a little ahead.
    through = max(now, alarm.last_turn_at)
    alarm.state = after(State(alarm.state), Step.ACKNOWLEDGE)
    alarm.last_turn_at = through
    alarm.ended_at = through if alarm.state == State.NORMAL else None
    alarm.acknowledged_at, alarm.acknowledged_by, alarm.acknowledged_note = now, by, note
    alarm.next_step_at = None
    alarm.save(update_fields=_ANSWERED)
    AlarmStep.objects.create(
        facility=alarm.facility,
        alarm=alarm,
        kind=Step.ACKNOWLEDGE,
        at=now,
        through=through,
        by=by,
        note=note,
    )
    withdraw_calls([alarm.pk], now=now)
