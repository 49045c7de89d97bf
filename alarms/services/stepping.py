"""Steps that people take with an alarm: looked up in the table, kept for good, and counted with its messages."""

from dataclasses import dataclass
from datetime import datetime

from django.db import connection

from alarms.conditions import condition_or_unlisted
from alarms.lifecycle import ASKED_BY, STEPS, State, Step, allowed_from
from alarms.models import Alarm, AlarmStep
from alarms.services.episode_rows import write_changes
from alarms.timeline import Fold
from alarms.timeline_rows import Row
from alarms.turns import act_of
from equipment.faults import Conflict
from equipment.models import Record
from equipment.services.facts import lock_facility


class StepNotAllowed(Conflict):
    """The alarm's state does not have this step."""

    slug = "step-not-allowed"
    title = "The alarm cannot take this step now"


@dataclass(frozen=True, kw_only=True)
class Stated:
    """What somebody says with a step."""

    step: Step
    by: str
    note: str | None = None
    until: datetime | None = None
    record: Record | None = None


def lock_alarm(alarm_id: int) -> Alarm:
    """The alarm that stands (the one that this was merged into, if it was), with facility and component at hand.

    Locked, facility first, so that messages wait.
    """
    lock_facility(Alarm.objects.values_list("facility_id", flat=True).get(pk=alarm_id))
    merged_into = Alarm.objects.values_list("merged_into_id", flat=True).get(pk=alarm_id)
    rows = Alarm.objects.select_related("facility", "component", "exercise")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(of=("self",))
    return rows.get(pk=merged_into or alarm_id)


def take_step(alarm: Alarm, stated: Stated, *, now: datetime) -> Alarm:
    """Take the step with an alarm that the caller has locked; raises `StepNotAllowed`. Answers it as it then stands.

    What was shelved until now has come back before.
    """
    row, fold = _begun(alarm, now=now)
    if (row.episode.state, stated.step) not in STEPS:
        raise StepNotAllowed(refusal(row.episode.state, stated.step))
    # Whoever acts has seen all that was shown, also what a fast clock of a device put a little ahead.
    step = _keep(alarm, stated, at=now, through=max(now, row.episode.last_turn_at))
    fold.take([act_of(step)])
    write_changes([row], now=now)
    return _read(alarm.pk)


def _keep(alarm: Alarm, stated: Stated, *, at: datetime, through: datetime) -> AlarmStep:
    return AlarmStep.objects.create(
        facility_id=alarm.facility_id,
        alarm=alarm,
        kind=stated.step,
        at=at,
        through=through,
        by=stated.by,
        note=stated.note,
        until=stated.until,
        record=stated.record,
    )


def end_shelving(alarm: Alarm, *, now: datetime) -> Alarm:
    """What its time brings: shelving that is over by now ends, and so does an answer that it outlasted. The caller has
    locked the alarm."""
    row, _ = _begun(alarm, now=now)
    write_changes([row], now=now)
    return _read(alarm.pk)


def _begun(alarm: Alarm, *, now: datetime) -> tuple[Row, Fold]:
    row = Row.on_file(alarm.pk, alarm.episode())
    standing = row.episode if row.episode.state != State.NORMAL else None
    fold = Fold(condition_or_unlisted(alarm.condition).nature, episode=standing)
    fold.run_out(now)
    return row, fold


def _read(alarm_id: int) -> Alarm:
    return Alarm.objects.select_related("facility", "component", "exercise").get(pk=alarm_id)


def refusal(state: str, step: Step) -> str:
    """Why the step is not possible, and what is."""
    allowed = [one for one in allowed_from(State(state)) if ASKED_BY[one] == "person"]
    words = ", ".join(allowed) if allowed else "none: it is over"
    return f"It is {state}, and so {step} is not possible. What you can do with it now: {words}."
