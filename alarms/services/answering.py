"""Somebody answers an alarm: the first does, for good."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Case, Q, Value, When

from alarms.causes import alarm_cause
from alarms.lifecycle import WAITING, Step, after
from alarms.models import Alarm, Notice
from alarms.models.alarms import IS_WAITING
from alarms.models.notices import IS_UNSENT


@dataclass(frozen=True)
class Acknowledgement:
    """The alarm as it stands, with the acknowledgement that counts; `first` when this call made it."""

    alarm: Alarm
    first: bool


@transaction.atomic
def acknowledge(*, alarm: Alarm, by: str, note: str | None, now: datetime) -> Acknowledgement:
    """Answer for the alarm and stop its calls. The first wins; a later one changes nothing and is told who it was.

    Operational only: it answers no legal clock. Its mails that have not gone yet are withdrawn; those about a
    clock of the law go out all the same.
    """
    answered = [When(state=state, then=Value(after(state, Step.ACKNOWLEDGE))) for state in sorted(WAITING)]
    won = Alarm.objects.filter(IS_WAITING, pk=alarm.pk).update(
        state=Case(*answered),
        acknowledged_at=now,
        acknowledged_by=by,
        acknowledged_note=note,
        next_step_at=None,
    )
    if won:
        free = Q(claimed_until=None) | Q(claimed_until__lte=now)
        Notice.objects.filter(IS_UNSENT, free, cause=alarm_cause(alarm.pk)).update(withdrawn_at=now)
    standing = Alarm.objects.select_related("facility", "component").get(pk=alarm.pk)
    return Acknowledgement(alarm=standing, first=bool(won))
