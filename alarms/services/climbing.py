"""What happens when a mail is refused for good, or its person lost access: the next people are told now."""

from datetime import datetime

from alarms.causes import alarm_cause, clock_cause, is_about_clock
from alarms.clock_calls import Part, clock_call
from alarms.escalation import Call
from alarms.models import Alarm, Notice
from alarms.models.alarms import IS_WAITING, Untold
from alarms.reach import by_address, fallback_people
from alarms.services.escalation import say_untold, write_clock_notices, write_notices
from alarms.services.plans import plan_for


def climb(alarm: Alarm, notice: Notice, *, now: datetime) -> None:
    """If nobody of this call can be told, call the next people now instead of waiting; the caller holds the locks.

    Past the end of the list there is no next call, so the operator's fallback people are told instead. Of a clock of
    the law everybody is told at once.
    """
    told = Notice.objects.filter(cause=notice.cause, step=notice.step, failed_at=None, withdrawn_at=None)
    if told.exists():
        return
    if is_about_clock(notice.cause):
        _climb_clock(alarm, notice, now=now)
        return
    if notice.cause != alarm_cause(alarm.pk, alarm.call_round):
        return  # the call list was begun anew since
    plan = plan_for(alarm, now=now)
    if not plan.is_last(notice.step):
        Alarm.objects.filter(IS_WAITING, pk=alarm.pk, next_step=notice.step + 1, next_step_at__gt=now).update(
            next_step_at=now
        )
    elif alarm.acknowledged_at is None:
        # All of them, asleep or not: whoever is refused next leaves nobody else to call.
        people = by_address([*fallback_people(plan.world, at=now), *plan.world.fallback])
        write_notices(alarm, [Call(number=notice.step, due_at=now, recipients=people)], now=now)
        _say_untold(alarm, notice, now=now)


def _climb_clock(alarm: Alarm, notice: Notice, *, now: datetime) -> None:
    if alarm.clock_until is None or notice.cause != clock_cause(alarm.pk, alarm.clock_until):
        return  # that clock does not run any more
    everybody = clock_call(plan_for(alarm, now=now), Part.ALL, due_at=now, now=now)
    people = everybody.recipients if everybody is not None else ()
    write_clock_notices(alarm, [Call(number=notice.step, due_at=now, recipients=people)], now=now)
    _say_untold(alarm, notice, now=now)


def _say_untold(alarm: Alarm, notice: Notice, *, now: datetime) -> None:
    """If no mail of this call list or clock went out or waits."""
    rows = Notice.objects.filter(cause=notice.cause)
    if not rows.filter(failed_at=None, withdrawn_at=None).exists():
        refused = rows.exclude(failed_at=None).exists()
        say_untold(alarm.pk, Untold.REFUSED if refused else Untold.NOBODY, now=now)
