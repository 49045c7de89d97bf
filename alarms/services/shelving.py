"""Shelving: an alarm is kept quiet for a limited time and comes back by itself.

What ends shelving is safe to run anywhere, any number of times, by several workers.
"""

import logging
from collections.abc import Iterator
from datetime import datetime

from django.db import transaction

from alarms.conditions import ConditionClass, Priority, longest_shelving
from alarms.lifecycle import Step
from alarms.models import Alarm
from alarms.services.exercise_marks import refuse_while_exercised
from alarms.services.stepping import Stated, StepNotAllowed, end_shelving, lock_alarm, take_step
from equipment.faults import Fault, refuse

log = logging.getLogger(__name__)


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


def end_shelving_due(*, now: datetime, limit: int) -> int:
    """Let up to `limit` alarms come back whose shelving is over, the longest over first; how many did.

    One that cannot come back is logged and tried again with the next pass; the rest go on.
    """
    due = Alarm.objects.filter(shelved_until__lte=now).order_by("shelved_until", "pk")
    back = 0
    for pk in due.values_list("pk", flat=True)[:limit]:
        try:
            with transaction.atomic():
                end_shelving(lock_alarm(pk), now=now)
            back += 1
        except Exception:
            log.exception("could not end the shelving of alarm %s", pk)
    return back


def _end_faults(alarm: Alarm, until: datetime, now: datetime) -> Iterator[Fault]:
    if until <= now:
        yield Fault("/until", "is over already; state when the alarm is to come back", "order")
    latest = now + longest_shelving()[Priority(alarm.priority)]
    if until > latest:
        detail = f"is too far off: an alarm of {alarm.priority} priority is shelved until {latest.isoformat()} at most"
        yield Fault("/until", detail, "too-long")
