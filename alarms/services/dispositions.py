"""States what an alarm turned out to be, with its proof, and what else people know about it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from alarms.dispositions import DispositionType, Standing, lacks_of
from alarms.models import Alarm, AlarmKnowledge, Disposition, DispositionAttachment
from alarms.queries import liquid_facts_of
from alarms.services.disposition_evidence import referenced, unfit
from equipment.faults import Conflict, Fault, refuse
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
    refuse(_not_yet({"at": at} | stated, now=now))
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


@transaction.atomic
def state_knowledge(
    *,
    alarm: Alarm,
    stated: Mapping[str, Any],
    by: str,
    organisation: Organisation,
    now: datetime,
) -> AlarmKnowledge:
    """State that a party knew (`party`, `at`), when the alarm was discovered, or facts about the liquid.

    The discovery is stated once; the same again is kept as a further statement. A party's moment may be stated anew
    only earlier: nobody can come to know later. Raises `Invalid` or `Conflict`.
    """
    facility = lock_facility(alarm.facility_id)
    alarm.refresh_from_db()
    said = {name: value for name, value in stated.items() if value is not None}
    refuse(_unsaid(said))
    refuse(_not_yet(said, now=now, inside=""))
    refuse(_before_the_alarm(alarm, said))
    _refuse_later(alarm, said)
    fact = state_fact(
        AlarmKnowledge,
        facility=facility,
        submitted_by=organisation,
        by=by,
        now=now,
        fields={"alarm": alarm} | said,
    )
    if fact.discovered_at is not None:
        whole = [alarm.pk, alarm.merged_into_id or alarm.pk]
        Alarm.objects.filter(pk__in=whole).update(discovered_at=fact.discovered_at)
    return fact


def _pointer(name: str, inside: str = "/evidence") -> str:
    return f"/{name}" if name in ("type", "at") else f"{inside}/{name}"


def _not_yet(stated: Mapping[str, Any], *, now: datetime, inside: str = "/evidence") -> Iterator[Fault]:
    for name, value in stated.items():
        if isinstance(value, datetime) and value > now + CLOCK_SKEW:
            yield Fault(_pointer(name, inside), "lies in the future; state it when it has happened", "future")


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


def _unsaid(said: Mapping[str, Any]) -> Iterator[Fault]:
    if not said:
        yield Fault(
            "", "says nothing; state a party and its moment, discovered_at, or a liquid fact", "missing"
        )
    for one, other in (("party", "at"), ("at", "party")):
        if one in said and other not in said:
            yield Fault(f"/{other}", f"is missing: {one} is stated", "missing")


def _before_the_alarm(alarm: Alarm, said: Mapping[str, Any]) -> Iterator[Fault]:
    for name in ("at", "discovered_at"):
        if name in said and said[name] < alarm.raised_at:
            yield Fault(
                f"/{name}", f"lies before the alarm was raised: {alarm.raised_at.isoformat()}", "order"
            )
    answered = alarm.acknowledged_at
    if answered is not None and "discovered_at" in said and said["discovered_at"] > answered:
        detail = f"lies after it was acknowledged: {answered.isoformat()}; whoever answers knows"
        yield Fault("/discovered_at", detail, "order")


def _refuse_later(alarm: Alarm, said: Mapping[str, Any]) -> None:
    discovered = alarm.discovered_at
    if discovered is not None and said.get("discovered_at", discovered) != discovered:
        raise Conflict(
            f"Its discovery is on file and is stated once: {discovered.isoformat()}.",
            [Fault("/discovered_at", "is on file with another moment", "conflict")],
        )
    if "party" not in said:
        return
    earlier = AlarmKnowledge.objects.filter(
        alarm=alarm, party=said["party"], at__lt=said["at"], withdrawn_at=None
    ).first()
    if earlier is not None:
        raise Conflict(
            f"{said['party']} knew at {earlier.at} already; nobody comes to know later.",
            [Fault("/at", "lies after a moment that is on file for this party", "conflict")],
        )
