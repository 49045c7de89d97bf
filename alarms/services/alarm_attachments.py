"""Photos and papers about an alarm, attached as soon as somebody has them: nobody has to know the answer first."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from alarms.models import Alarm, AlarmAttachment
from equipment.faults import refuse
from equipment.models import Organisation
from equipment.services.attachments import attachments_named, unusable
from equipment.services.facts import lock_facility


@transaction.atomic
def attach(
    *, alarm: Alarm, attachments: Sequence[int], by: str, organisation: Organisation, now: datetime
) -> int:
    """How many of the files, by number, are new with the alarm; all or none. One that is there already stays as it is.

    Rules read none of them, so no judgement grows old. Raises `Invalid` with a pointer to each number that names no
    file at this facility, or one that was taken back.
    """
    facility = lock_facility(alarm.facility_id)
    files = attachments_named(facility, attachments)
    refuse(unusable(files, attachments, "/attachments"))
    there = set(AlarmAttachment.objects.filter(alarm=alarm).values_list("attachment", flat=True))
    fresh = [number for number in dict.fromkeys(attachments) if number not in there]
    AlarmAttachment.objects.bulk_create(
        AlarmAttachment(
            alarm=alarm,
            attachment=files[number],
            submitted_by=organisation,
            attached_at=now,
            attached_by=by,
        )
        for number in fresh
    )
    return len(fresh)
