"""States what an alarm turned out to be, with its proof."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from alarms.dispositions import DispositionType, Standing, lacks_of
from alarms.models import Alarm, Disposition, DispositionAttachment
from alarms.queries import liquid_facts_of
from alarms.services.disposition_evidence import referenced, unfit
from alarms.services.knowledge import not_yet
from equipment.faults import Fault, refuse
from equipment.models import Organisation
from equipment.moments import CLOCK_SKEW
from equipment.services.attachments import attachments_named, unusable
from equipment.services.facts import lock_facility
from equipment.services.stating import state_fact


@transaction.atomic
def dispose(
    *,
    alarm: Alarm,
    type: DispositionType,
    at: datetime,
    evidence: Mapping[str, Any],
    attachments: Sequence[int] = (),
    by: str,
    organisation: Organisation,
    now: datetime,
) -> Disposition:
    """Answer an alarm from `at` on. `evidence`: instants, words, and numbers of facts at this facility; `attachments`:
    numbers of files there.

    Raises `Invalid` with a pointer to each fault: a moment that has not come, a type that answers other alarms, a part
    of the proof that is missing (with its paragraph), a fact that is not on file here or does not speak for it.
    """
    facility = lock_facility(alarm.facility_id)
    alarm.refresh_from_db()
    stated = {name: value for name, value in evidence.items() if value is not None}
    refuse(not_yet({_pointer(name): value for name, value in ({"at": at} | stated).items()}, now=now))
    found = referenced(facility, stated)
    files = attachments_named(facility, attachments)
    refuse(
        [
            *_lacks(alarm, type, at, stated),
            *unfit(alarm, type, stated, found, ZoneInfo(facility.time_zone), at=at),
            *unusable(files, attachments, "/attachments"),
        ]
    )
    answer = state_fact(
        Disposition,
        facility=facility,
        submitted_by=organisation,
        by=by,
        now=now,
        fields={"alarm": alarm, "type": type, "at": at} | stated | found,
    )
    DispositionAttachment.objects.bulk_create(
        DispositionAttachment(disposition=answer, attachment=files[number])
        for number in dict.fromkeys(attachments)
    )
    return answer


def _pointer(name: str) -> str:
    return f"/{name}" if name in ("type", "at") else f"/evidence/{name}"


def _lacks(
    alarm: Alarm, type: DispositionType, at: datetime, evidence: Mapping[str, object]
) -> Iterator[Fault]:
    liquid = liquid_facts_of(alarm)
    standing = Standing(
        condition=alarm.condition,
        condition_class=alarm.condition_class,
        raised_at=alarm.raised_at - CLOCK_SKEW,  # the device's clock and the watch of whoever checked differ
        liquid_is_method=liquid.get("liquid_is_method") is True,
        no_liquid=liquid.get("no_liquid") is True,
    )
    for lack in lacks_of(type, at, evidence, standing):
        yield Fault(_pointer(lack.field), lack.detail, lack.code)
