"""Shelving: an alarm is kept quiet for a limited time and comes back by itself.

What ends shelving is safe to run anywhere, any number of times, by several workers.
"""

import logging
from collections.abc import Iterator
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from alarms.conditions import ConditionClass, Priority, longest_shelving
from alarms.lifecycle import Step
from alarms.models import Alarm
from alarms.services.escalation import LOOK_AGAIN
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
    """Let up to `limit` alarms come back whose shelving is over, the longest over first; how many were looked at.

    One that cannot come back is put back by a few minutes and logged; the rest go on.
    """
    tried = Q(shelving_try_at=None) | Q(shelving_try_at__lte=now)
    due = Alarm.objects.filter(tried, shelved_until__lte=now).order_by("shelved_until", "pk")
    chosen = list(due.values_list("pk", flat=True)[:limit])
    for pk in chosen:
        try:
            with transaction.atomic():
                end_shelving(lock_alarm(pk), now=now)
        except Exception:
            log.exception("could not end the shelving of alarm %s", pk)
            Alarm.objects.filter(pk=pk, shelved_until__lte=now).update(shelving_try_at=now + LOOK_AGAIN)
    return len(chosen)


def _end_faults(alarm: Alarm, until: datetime, now: datetime) -> Iterator[Fault]:
    if until <= now:
        yield Fault("/until", "is over already; state when the alarm is to come back", "order")
    latest = now + longest_shelving()[Priority(alarm.priority)]
    if until > latest:
        detail = f"is too far off: an alarm of {alarm.priority} priority is shelved until {latest.isoformat()} at most"
        yield Fault("/until", detail, "too-long")
