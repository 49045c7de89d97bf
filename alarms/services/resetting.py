"""Resetting a latch: the device says that it is over, and a person says what was found."""

from datetime import datetime

from django.db import transaction

from alarms.lifecycle import Step
from alarms.models import Alarm
from alarms.services.stepping import Stated, lock_alarm, take_step


@transaction.atomic
def reset(*, alarm: Alarm, by: str, found: str, now: datetime) -> Alarm:
    """End an alarm that latched and was acknowledged; `found` says what was found.

    Raises `StepNotAllowed`, above all while the condition stands or nobody has acknowledged.
    """
    return take_step(lock_alarm(alarm.pk), Stated(step=Step.RESET, by=by, note=found), now=now)
