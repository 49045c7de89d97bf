"""Somebody answers an alarm: the first does, for good."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from alarms.lifecycle import STEPS, Step
from alarms.models import Alarm
from alarms.services.exercise_marks import refuse_while_exercised
from alarms.services.stepping import Stated, end_shelving, lock_alarm, take_step


@dataclass(frozen=True)
class Acknowledgement:
    """The alarm as it stands, with the acknowledgement that counts; `first` when this call made it."""

    alarm: Alarm
    first: bool


@transaction.atomic
def acknowledge(*, alarm: Alarm, by: str, note: str | None, now: datetime) -> Acknowledgement:
    """Answer for the alarm and stop its calls. The first wins; a later one changes nothing and is told who it was.

    Operational only: it answers no legal clock. Its mails that have not gone yet are withdrawn; those about a
    clock of the law go out all the same. An alarm that was merged into another answers for that one. Raises `Conflict`
    for an alarm of a function check that is under way.
    """
    standing = end_shelving(lock_alarm(alarm.pk), now=now)
    if (standing.state, Step.ACKNOWLEDGE) not in STEPS:
        return Acknowledgement(alarm=standing, first=False)
    refuse_while_exercised(standing)
    stated = Stated(step=Step.ACKNOWLEDGE, by=by, note=note)
    return Acknowledgement(alarm=take_step(standing, stated, now=now), first=True)
