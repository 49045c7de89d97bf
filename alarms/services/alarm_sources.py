"""Keeps who raised an alarm, and since when, beside the messages that say so."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import Min

from alarms.matching import Signal
from alarms.models import AlarmSource, Event
from equipment.models import Organisation


def note_source(organisation: Organisation, alarm_ids: Collection[int], *, now: datetime) -> None:
    """Messages of the organisation that came now raised these alarms; where it was heard before, that stands."""
    rows = [AlarmSource(alarm_id=pk, organisation=organisation, first_received_at=now) for pk in alarm_ids]
    AlarmSource.objects.bulk_create(rows, ignore_conflicts=True)


def count_sources(alarm_ids: Collection[int]) -> None:
    """Read it anew from the messages on file, since some of these alarms' messages belong to others now."""
    AlarmSource.objects.filter(alarm__in=alarm_ids).delete()
    raises = Event.objects.filter(alarm__in=alarm_ids, signal=Signal.RAISED)
    firsts = raises.values_list("alarm_id", "received_from_id").annotate(first=Min("received_at")).order_by()
    AlarmSource.objects.bulk_create(
        AlarmSource(alarm_id=alarm, organisation_id=organisation, first_received_at=first)
        for alarm, organisation, first in firsts
    )
