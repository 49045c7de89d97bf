"""Shelving: an alarm is kept quiet for a limited time and comes back by itself (`running_out`)."""

from collections.abc import Iterator
from datetime import datetime

from django.db import transaction

from alarms.conditions import ConditionClass, Priority, longest_shelving
from alarms.lifecycle import Step
from alarms.models import Alarm
from alarms.services.exercise_marks import refuse_while_exercised
from alarms.services.stepping import Stated, StepNotAllowed, lock_alarm, take_step
from equipment.faults import Fault, refuse


@transaction.atomic
def shelve(*, alarm: Alarm, by: str, reason: str, until: datetime, now: datetime) -> Alarm:
    """Keep the alarm quiet until then. It counts as an answer; a running clock of the law calls all the same.

    Raises `StepNotAllowed` where its state or class has no shelving, `Invalid` where `until` is past or too far off.
    """
    standing = lock_alarm(alarm.pk)
    refuse_while_exercised(standing)
    if standing.condition_class == ConditionClass.RELEASED_PRODUCT:
        raise StepNotAllowed(
            "Released product is never shelved. Acknowledge it, and take it out of service while it is worked on."
        )
    refuse(_end_faults(standing, until, now))
    return take_step(standing, Stated(step=Step.SHELVE, by=by, note=reason, until=until), now=now)


@transaction.atomic
def unshelve(*, alarm: Alarm, by: str, note: str | None, now: datetime) -> Alarm:
    """End the shelving early: the alarm comes back as it then is. Raises `StepNotAllowed`."""
    return take_step(lock_alarm(alarm.pk), Stated(step=Step.END_SHELVING, by=by, note=note), now=now)


def _end_faults(alarm: Alarm, until: datetime, now: datetime) -> Iterator[Fault]:
    if until <= now:
        yield Fault("/until", "is over already; state when the alarm is to come back", "order")
    latest = now + longest_shelving()[Priority(alarm.priority)]
    if until > latest:
        detail = f"is too far off: an alarm of {alarm.priority} priority is shelved until {latest.isoformat()} at most"
        yield Fault("/until", detail, "too-long")
