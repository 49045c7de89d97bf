"""Reads what people stated of an alarm besides its answer, and what else shows since when it was known.

What was said of an alarm that was merged into it is said of it.
"""

from datetime import datetime

from django.db.models import Min, Q, QuerySet

from alarms.lifecycle import ANSWERS
from alarms.models import Alarm, AlarmKnowledge, AlarmStep, Notice


def statements_at(alarm: Alarm) -> QuerySet[AlarmKnowledge]:
    """Every statement, withdrawn ones too."""
    return AlarmKnowledge.objects.filter(_about(alarm.pk)).select_related("submitted_by")


def discovery_of(alarm_id: int) -> datetime | None:
    """When the operator discovered it, as stated; of two parts with a discovery each, the earlier one."""
    rows = AlarmKnowledge.objects.filter(_about(alarm_id), withdrawn_at=None)
    return _first(rows.aggregate(at=Min("discovered_at")))


def first_answered(alarm: Alarm) -> datetime | None:
    """When somebody first answered it, whether or not that answer still holds."""
    rows = AlarmStep.objects.filter(_about(alarm.pk), kind__in=sorted(ANSWERS))
    return _first(rows.aggregate(at=Min("at")))


def first_mailed(alarm: Alarm, *, to: int) -> datetime | None:
    """When a mail server first took a mail about it to people of this organisation.

    Mails that called it an exercise told nobody that it was real.
    """
    rows = Notice.objects.filter(_about(alarm.pk), organisation=to)
    if alarm.stood_on_at is not None:
        rows = rows.filter(sent_at__gte=alarm.stood_on_at)
    return _first(rows.aggregate(at=Min("sent_at")))


def _about(alarm_id: int) -> Q:
    return Q(alarm=alarm_id) | Q(alarm__merged_into=alarm_id)


def _first(found: dict[str, datetime | None]) -> datetime | None:
    return found["at"]
