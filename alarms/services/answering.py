"""Somebody answers an alarm: the first does, for good."""

from dataclasses import dataclass
from datetime import datetime

from django.db import connection, transaction

from alarms.lifecycle import WAITING, State, Step, after
from alarms.models import Alarm, AlarmStep
from alarms.services.calls import withdraw_calls
from equipment.faults import Conflict

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
        # Whoever answers has seen all that was shown, also what a fast clock of a device put a little ahead.
        _answer(standing, by=by, note=note, at=now, through=max(now, standing.last_turn_at))
        withdraw_calls([standing.pk], now=now)
    return Acknowledgement(alarm=standing, first=first)


def acknowledge_exercise(*, alarm: Alarm, by: str, note: str) -> None:
    """Answer for an alarm that came and went in a function check. Its mails go out all the same, marked as they are.

    The answer counts at the return to normal: what is raised later, or turns out later to have been, is news.
    """
    standing = _locked(alarm.pk)
    if standing.state == State.RETURNED_UNACKNOWLEDGED and standing.cleared_at is not None:
        _answer(standing, by=by, note=note, at=standing.cleared_at, through=standing.cleared_at)


def is_exercised(alarm: Alarm) -> bool:
    """Whether a function check raised it that was not closed yet."""
    return alarm.is_exercise and alarm.exercise is not None and alarm.exercise.closed_at is None


def refuse_while_exercised(alarm: Alarm) -> None:
    """Nobody keeps an alarm quiet inside a check: what still stands at its end has to call people."""
    if is_exercised(alarm) and alarm.exercise is not None:
        raise Conflict(
            f"Function check {alarm.exercise_id} raised it, and nobody else is called until its end at "
            f"{alarm.exercise.window.ends_at.isoformat()}; then it is answered if it is over, else it is real. If it "
            "is real now, end the check first.",
            function_check=alarm.exercise_id,
        )


def _locked(alarm_id: int) -> Alarm:
    """The alarm that stands: the one that this was merged into, if it was; locked, so that messages wait."""
    rows = Alarm.objects.select_related("facility", "component", "exercise").order_by("pk")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(of=("self",))
    row = rows.get(pk=alarm_id)
    return row if row.merged_into_id is None else _locked(row.merged_into_id)


def _answer(alarm: Alarm, *, by: str, note: str | None, at: datetime, through: datetime) -> None:
    alarm.state = after(State(alarm.state), Step.ACKNOWLEDGE)
    alarm.last_turn_at = max(through, alarm.last_turn_at)
    alarm.ended_at = through if alarm.state == State.NORMAL else None
    alarm.acknowledged_at, alarm.acknowledged_by, alarm.acknowledged_note = at, by, note
    alarm.next_step_at = None
    alarm.save(update_fields=_ANSWERED)
    AlarmStep.objects.create(
        facility=alarm.facility,
        alarm=alarm,
        kind=Step.ACKNOWLEDGE,
        at=at,
        through=through,
        by=by,
        note=note,
    )
