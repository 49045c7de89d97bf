"""Begins and ends the calls about alarms: when one comes back, and when somebody has answered."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import F

from alarms.causes import CLOCK
from alarms.models import Alarm, Notice
from alarms.models.alarms import IS_EXERCISE, IS_WAITING
from alarms.models.notices import IS_UNSENT
from alarms.services.mailboxes import free


def call_anew(alarm_ids: Collection[int], *, now: datetime) -> None:
    """Begin the call list again, from its first step and from now on, for those that wait for an answer."""
    withdraw_calls(alarm_ids, now=now)
    Alarm.objects.filter(IS_WAITING, pk__in=alarm_ids).update(
        call_round=F("call_round") + 1, called_from=now, next_step=1, next_step_at=now
    )


def end_calls(alarm_ids: Collection[int], *, now: datetime) -> None:
    """Nobody else is called for them."""
    Alarm.objects.filter(pk__in=alarm_ids).update(next_step_at=None)
    withdraw_calls(alarm_ids, now=now)


def withdraw_calls(alarm_ids: Collection[int], *, now: datetime) -> None:
    """Take back mails that have not gone yet; those about a clock of the law, or an exercise, go out all the same."""
    called = Alarm.objects.filter(pk__in=alarm_ids).exclude(IS_EXERCISE)
    unsent = Notice.objects.filter(IS_UNSENT, free(now), alarm__in=called)
    unsent.exclude(cause__contains=CLOCK).update(withdrawn_at=now)
