"""Writes down who is to be told now. Safe to run anywhere, any number of times, by several workers at once."""

import hashlib
import logging
from collections.abc import Iterable
from datetime import datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.db import transaction
from django.db.models import DateTimeField
from django.db.models.functions import Coalesce

from alarms.conditions import condition_or_unlisted
from alarms.escalation import Call, advance, first_call_at
from alarms.models import Alarm, Notice
from alarms.models.alarms import IS_WAITING, Untold
from alarms.services.call_lists import plan_for
from equipment.services.facts import lock_facility

# How soon an alarm is looked at again that could not be escalated, or that nobody could be told of.
LOOK_AGAIN = timedelta(minutes=5)
log = logging.getLogger(__name__)


def escalate_due(*, now: datetime, limit: int) -> int:
    """Write the notices of every call that is due, oldest first, for up to `limit` alarms; how many were looked at.

    An alarm that cannot be escalated is put back by a few minutes and logged; the rest go on.
    """
    due = Alarm.objects.filter(IS_WAITING, next_step_at__lte=now).order_by("next_step_at", "pk")
    chosen = list(due.values_list("pk", "next_step_at")[:limit])
    for pk, at in chosen:
        try:
            _escalate(pk, now=now)
        except Exception:
            log.exception("could not escalate alarm %s", pk)
            _put_back(pk, at, Untold.OUR_FAULT, now=now)
    return len(chosen)


def cause_of(alarm_id: int) -> str:
    """What a notice about an alarm is filed under."""
    return f"alarm:{alarm_id}"


def write_notices(alarm: Alarm, calls: Iterable[Call], *, now: datetime) -> None:
    """One row a call and person; a row that is there already stays as it is."""
    Notice.objects.bulk_create(
        [
            Notice(
                cause=cause_of(alarm.pk),
                facility=alarm.facility,
                alarm=alarm,
                step=call.number,
                organisation_id=person.organisation,
                name=person.name,
                email=person.email,
                subject=subject_of(alarm),
                message_id=_message_id(alarm, call.number, person.email),
                due_at=call.due_at,
                created_at=now,
                try_at=now,
            )
            for call in calls
            for person in call.recipients
        ],
        ignore_conflicts=True,
    )


def subject_of(alarm: Alarm) -> str:
    """What, where: one line, the same for every mail about the alarm."""
    condition = condition_or_unlisted(alarm.condition)
    line = f"{condition.title}: {alarm.place}, {alarm.facility.name}"
    return " ".join(line.split())[:200]


def say_untold(alarm_id: int, reason: Untold, *, now: datetime) -> None:
    """Note on the alarm that nobody can be told, since the first time that was found."""
    Alarm.objects.filter(pk=alarm_id).update(
        untold_since=Coalesce("untold_since", now, output_field=DateTimeField()), untold_reason=reason
    )


def _escalate(pk: int, *, now: datetime) -> None:
    alarm = Alarm.objects.select_related("facility", "component").get(pk=pk)
    plan = plan_for(alarm, now=now)
    first = first_call_at(plan, raised_at=alarm.opened_at)
    if first is None:
        log.error("alarm %s: there is nobody to tell", alarm.pk)
        _put_back(pk, alarm.next_step_at, Untold.NOBODY, now=now)
        return
    at = first if alarm.next_step == 1 else alarm.next_step_at
    progress = advance(plan, number=alarm.next_step, at=at or first, now=now)
    with transaction.atomic():
        # A new notice needs its facility's row, so the facility is locked before the alarm.
        lock_facility(alarm.facility_id)
        # Whoever moves the row writes its notices; a worker that read it before finds it moved, and does nothing.
        moved = Alarm.objects.filter(
            IS_WAITING, pk=pk, next_step=alarm.next_step, next_step_at=alarm.next_step_at
        ).update(next_step=progress.next_number, next_step_at=progress.next_at)
        if moved:
            write_notices(alarm, progress.due, now=now)


def _put_back(pk: int, at: datetime | None, reason: Untold, *, now: datetime) -> None:
    """Look at it again a little later, so that it does not stand in the way of the others."""
    with transaction.atomic():
        row = Alarm.objects.filter(IS_WAITING, pk=pk, next_step_at=at)
        if row.update(next_step_at=now + LOOK_AGAIN):
            say_untold(pk, reason, now=now)


def _message_id(alarm: Alarm, step: int, email: str) -> str:
    """The same for every try of a notice, so that a repeated mail is recognised as the same (RFC 5322, 3.6.4)."""
    domain = parseaddr(settings.MAIL_FROM)[1].rpartition("@")[2] or "localhost"
    person = hashlib.sha256(email.encode()).hexdigest()[:16]
    return f"<alarm.{alarm.pk}.{alarm.opened_at:%Y%m%d%H%M%S}.{step}.{person}@{domain}>"
