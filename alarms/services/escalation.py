"""Writes down who is to be told now. Safe to run anywhere, any number of times, by several workers at once."""

import hashlib
import logging
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta

from django.db import connection, transaction
from django.db.models import DateTimeField, QuerySet
from django.db.models.functions import Coalesce

from alarms.causes import alarm_cause, clock_cause
from alarms.clock_calls import Part, clock_call, clock_progress
from alarms.conditions import condition_or_unlisted
from alarms.escalation import Call, Plan, Progress, advance, first_call_at
from alarms.models import Alarm, Notice
from alarms.models.alarms import IS_WAITING, Untold
from alarms.reach import Recipient
from alarms.services.message_ids import mail_domain
from alarms.services.plans import plan_for
from equipment.services.facts import lock_facility

# How soon an alarm is looked at again that could not be escalated, or that nobody could be told of.
LOOK_AGAIN = timedelta(minutes=5)
# How the subject of a mail about a clock of the law begins.
OVER = {
    Part.HALF: "Half of the legal time is over",
    Part.THREE_QUARTERS: "Three quarters of the legal time are over",
    Part.ALL: "The legal time is over",
}
log = logging.getLogger(__name__)


def escalate_due(*, now: datetime, limit: int) -> int:
    """Write the notices of every call that is due, oldest first, for up to `limit` alarms; how many were looked at.

    First the alarms that nobody has acknowledged, site by site, then the clocks of the law, which call acknowledged or
    not. An alarm that cannot be escalated is put back by a few minutes and logged; the rest go on.
    """
    due = Alarm.objects.filter(IS_WAITING, next_step_at__lte=now).order_by("next_step_at", "pk")
    sites: dict[int, list[int]] = defaultdict(list)
    for pk, facility in due.values_list("pk", "facility_id")[:limit]:
        sites[facility].append(pk)
    for facility, pks in sites.items():
        _escalate_together(facility, pks, now=now)
    looked_at = sum(map(len, sites.values()))
    return looked_at + _call_about_clocks(now=now, limit=limit - looked_at)


def _escalate_together(facility: int, pks: Sequence[int], *, now: datetime) -> None:
    """In one transaction, since a storm brings many of one site at once; one by one where that fails."""
    try:
        _escalate(facility, pks, now=now)
    except Exception:
        if len(pks) > 1:
            for pk in pks:
                _escalate_together(facility, [pk], now=now)
            return
        log.exception("could not escalate alarm %s", pks[0])
        _put_back(pks[0], "next_step_at", Untold.OUR_FAULT, now=now)


def _call_about_clocks(*, now: datetime, limit: int) -> int:
    due = Alarm.objects.filter(clock_step_at__lte=now).order_by("clock_step_at", "pk")
    chosen = list(due.values_list("pk", flat=True)[:limit])
    for pk in chosen:
        try:
            _call_about_clock(pk, now=now)
        except Exception:
            log.exception("could not call about the clock of alarm %s", pk)
            _put_back(pk, "clock_step_at", Untold.OUR_FAULT, now=now)
    return len(chosen)


def write_notices(alarm: Alarm, calls: Iterable[Call], *, now: datetime) -> None:
    """One row a call and person; a row that is there already stays as it is."""
    _keep(_notices(alarm, calls, now=now))


def write_clock_notices(alarm: Alarm, calls: Iterable[Call], *, now: datetime) -> None:
    """The same about the clock of the law that is noted on the alarm; calls are numbered by `Part`.

    A mail that was taken back unsent, since that clock did not run for a while, is owed again.
    """
    if alarm.clock_until is not None:
        cause = clock_cause(alarm.pk, alarm.clock_until)
        for call in calls:
            subject = f"{OVER[Part(call.number)]}. {subject_of(alarm)}"[:200]
            notices = [_notice(alarm, cause, subject, call, person, now=now) for person in call.recipients]
            _keep(notices)
            _owe_again(notices)


def _notices(alarm: Alarm, calls: Iterable[Call], *, now: datetime) -> Iterator[Notice]:
    cause, subject = alarm_cause(alarm.pk, alarm.call_round), subject_of(alarm)
    for call in calls:
        for person in call.recipients:
            yield _notice(alarm, cause, subject, call, person, now=now)


def _notice(
    alarm: Alarm, cause: str, subject: str, call: Call, person: Recipient, *, now: datetime
) -> Notice:
    return Notice(
        cause=cause,
        facility=alarm.facility,
        alarm=alarm,
        step=call.number,
        organisation_id=person.organisation,
        name=person.name,
        email=person.email,
        subject=subject,
        message_id=_message_id(alarm, cause, call.number, person.email),
        due_at=call.due_at,
        created_at=now,
        try_at=now,
    )


def _keep(notices: Iterable[Notice]) -> None:
    Notice.objects.bulk_create(notices, ignore_conflicts=True)


def _owe_again(notices: Iterable[Notice]) -> None:
    """In a mail of its own: the one that it was to share with others may have gone meanwhile."""
    for one in notices:
        rows = Notice.objects.filter(cause=one.cause, step=one.step, email=one.email)
        rows.filter(sent_at=None, failed_at=None).exclude(withdrawn_at=None).update(
            withdrawn_at=None, due_at=one.due_at, try_at=one.try_at, subject=one.subject, digest=None
        )


def subject_of(alarm: Alarm) -> str:
    """What, where: one line, the same for every mail about the alarm."""
    condition = condition_or_unlisted(alarm.condition)
    line = f"{mark_of(alarm)}{condition.title}: {alarm.place}, {alarm.facility.name}"
    return " ".join(line.split())[:200]


def mark_of(alarm: Alarm) -> str:
    """How everything that is said of an alarm begins once a function check has to do with it."""
    if alarm.is_exercise:
        return "EXERCISE. "
    return "NO EXERCISE. " if alarm.exercise_id is not None else ""


def say_untold(alarm_id: int, reason: Untold, *, now: datetime) -> None:
    """Note on the alarm that nobody can be told, since the first time that was found."""
    Alarm.objects.filter(pk=alarm_id).update(
        untold_since=Coalesce("untold_since", now, output_field=DateTimeField()), untold_reason=reason
    )


@transaction.atomic
def _escalate(facility: int, pks: Sequence[int], *, now: datetime) -> None:
    """Alarms of one facility. Whoever holds its lock moves them; a worker that chose them before finds them moved.

    A call list is replaced under the same lock, so the plans that are read here are those that the alarms wait for.
    """
    lock_facility(facility)
    plans: dict[str, Plan] = {}
    moved: dict[tuple[int, datetime | None], list[int]] = defaultdict(list)
    notices: list[Notice] = []
    for alarm in _still_due(pks, now=now):
        if alarm.priority not in plans:
            plans[alarm.priority] = plan_for(alarm, now=now)
        progress = _progress(alarm, plans[alarm.priority], now=now)
        if not progress.due and progress.next_at is not None and progress.next_at <= now:
            log.error("alarm %s: there is nobody to tell", alarm.pk)
            _put_back(alarm.pk, "next_step_at", Untold.NOBODY, now=now)
            continue
        moved[progress.next_number, progress.next_at].append(alarm.pk)
        notices += _notices(alarm, progress.due, now=now)
    for (number, at), those in moved.items():
        Alarm.objects.filter(pk__in=those).update(next_step=number, next_step_at=at)
    _keep(notices)


def _still_due(pks: Sequence[int], *, now: datetime) -> QuerySet[Alarm]:
    rows = Alarm.objects.filter(IS_WAITING, pk__in=pks, next_step_at__lte=now).order_by("pk")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(of=("self",))
    return rows.select_related("facility", "component")


def _progress(alarm: Alarm, plan: Plan, *, now: datetime) -> Progress:
    first = first_call_at(plan, raised_at=alarm.called_from) or alarm.called_from
    at = first if alarm.next_step == 1 else alarm.next_step_at
    return advance(plan, number=alarm.next_step, at=at or first, now=now)


def _call_about_clock(pk: int, *, now: datetime) -> None:
    alarm = Alarm.objects.select_related("facility", "component").get(pk=pk)
    since, until, part = alarm.clock_from, alarm.clock_until, alarm.clock_step
    if since is None or until is None or part is None:
        return
    progress = clock_progress(since=since, until=until, part=part, now=now)
    calls: list[Call] = []
    if progress.due is not None:
        call = clock_call(plan_for(alarm, now=now), progress.due, due_at=progress.due_at, now=now)
        if call is None:
            log.error("alarm %s: there is nobody to tell of its clock", alarm.pk)
            _put_back(pk, "clock_step_at", Untold.NOBODY, now=now)
            return
        calls.append(call)
    with transaction.atomic():
        lock_facility(alarm.facility_id)
        row = Alarm.objects.filter(
            pk=pk, clock_from=since, clock_until=until, clock_step=part, clock_step_at=alarm.clock_step_at
        )
        if row.update(clock_step=progress.next_part, clock_step_at=progress.next_at):
            write_clock_notices(alarm, calls, now=now)


def _put_back(pk: int, column: str, reason: Untold, *, now: datetime) -> None:
    """Look at it again a little later, so that it does not stand in the way of the others."""
    with transaction.atomic():
        # Still due: whoever was faster has moved it on.
        if Alarm.objects.filter(pk=pk, **{f"{column}__lte": now}).update(**{column: now + LOOK_AGAIN}):
            say_untold(pk, reason, now=now)


def _message_id(alarm: Alarm, cause: str, step: int, email: str) -> str:
    """The same for every try of a notice, so that a repeated mail is recognised as the same (RFC 5322, 3.6.4)."""
    person = hashlib.sha256(email.encode()).hexdigest()[:16]
    return f"<{cause.replace(':', '.')}.{alarm.opened_at:%Y%m%d%H%M%S}.{step}.{person}@{mail_domain()}>"
