"""States what happened at a facility or is going to: deliveries, spills, releases, events, plans."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from equipment.activities.catalogue import catalogue
from equipment.fact_vocabulary import PLAN_TYPES
from equipment.faults import Fault, refuse
from equipment.models import (
    Delivery,
    Facility,
    Organisation,
    Plan,
    Record,
    Release,
    SiteEvent,
    Spill,
    SpillKnowledge,
)
from equipment.moments import CLOCK_SKEW, Moment
from equipment.services.stating import refuse_slip, state_fact
from equipment.vocabulary import Kind

# The activity whose record a delivery may name as the check made before it.
DELIVERY_CHECK = "pre-delivery-check"
# What only a transfer that has taken place can say.
RESULTS = ("ended_at", "delivered_gal", "watched_throughout")


@dataclass(frozen=True)
class Knowledge:
    """A party that knew of a spill, and from which instant."""

    party: str
    at: datetime


@transaction.atomic
def state_delivery(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    subjects: Sequence[str],
    started_at: Moment,
    ended_at: Moment | None,
    fields: Mapping[str, Any],
    check: int | None = None,
) -> Delivery:
    """A transfer into tanks or compartments, by tag. One that is expected on a coming day states no result yet.

    `check` is the number of the record of the check made before it: room and order are taken from there unless stated.
    """
    if check is not None:
        record = _check_before(facility, check, subjects, started_at)
        told = {"ullage_gal": "room_gal", "ordered_gal": "order_gal"}
        known = {name: record.measurements.get(source) for name, source in told.items()}
        fields = known | {name: value for name, value in fields.items() if value is not None}
        fields["check_record"] = record
    results = {**fields, "ended_at": ended_at}
    return state_fact(
        Delivery,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields=fields,
        moments={"started_at": started_at, "ended_at": ended_at},
        past=("started_at",) if any(results.get(name) is not None for name in RESULTS) else (),
        subjects=subjects,
        kinds=(Kind.TANK, Kind.COMPARTMENT),
    )


def _check_before(facility: Facility, number: int, subjects: Sequence[str], started_at: Moment) -> Record:
    """The check of this number; refused where it cannot be about this delivery."""
    record = Record.objects.filter(
        pk=number, facility=facility, activity=DELIVERY_CHECK, withdrawn_at=None, superseded_by=None
    ).first()
    if record is None:
        refuse([Fault("/check", f"no check before a delivery {number} stands at this facility", "unknown")])
    assert record is not None
    zone = ZoneInfo(facility.time_zone)
    late = record.performed_on > started_at.local_day(zone)
    if started_at.instant is not None and record.performed_at is not None:
        late = record.performed_at > started_at.instant
    if late:
        refuse([Fault("/check", "was made after the delivery started; it has to come before", "order")])
    checked = {row["component"] for row in record.measurements.get("tanks", ())}
    others = [tag for tag in subjects if tag not in checked]
    if others:
        detail = f"is about {', '.join(sorted(checked))}; the delivery went into {', '.join(others)} as well"
        refuse([Fault("/check", detail, "wrong-kind")])
    return record


@transaction.atomic
def state_spill(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    discovered_at: Moment,
    known_by: Sequence[Knowledge],
    fields: Mapping[str, Any],
) -> Spill:
    """A spill or overfill with who knew of it when; each party stands once."""
    refuse(
        Fault(f"/known_by/{index}/at", "lies in the future", "future")
        for index, one in enumerate(known_by)
        if one.at > now + CLOCK_SKEW
    )
    parties = [one.party for one in known_by]
    refuse(
        Fault(f"/known_by/{index}/party", "stands twice; name each party once", "repeated")
        for index, party in enumerate(parties)
        if party in parties[:index]
    )
    spill = state_fact(
        Spill,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields=fields,
        moments={"discovered_at": discovered_at},
        past=("discovered_at",),
    )
    SpillKnowledge.objects.bulk_create(
        [SpillKnowledge(spill=spill, party=one.party, at=one.at) for one in known_by]
    )
    return spill


def state_release(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    identified_at: Moment | None,
    confirmed_at: Moment,
    alarm: int | None,
    fields: Mapping[str, Any],
) -> Release:
    """A confirmed release; its clocks count from the confirmation (40 CFR 280.61 to 280.64)."""
    return state_fact(
        Release,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields={**fields, "alarm": alarm},
        moments={"identified_at": identified_at, "confirmed_at": confirmed_at},
        past=("identified_at", "confirmed_at"),
    )


def state_site_event(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    happened_at: Moment,
    fields: Mapping[str, Any],
) -> SiteEvent:
    """Something that happened and starts a duty."""
    return state_fact(
        SiteEvent,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields=fields,
        moments={"happened_at": happened_at},
        past=("happened_at", "notice_received_on"),
    )


def state_plan(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    subjects: Sequence[str],
    planned_at: Moment,
    fields: Mapping[str, Any],
) -> Plan:
    """What is meant to happen: a type that rules know, the slug of an activity, or clearly other words."""
    refuse_slip("/type", fields["type"], (*PLAN_TYPES, *catalogue()))
    return state_fact(
        Plan,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields=fields,
        moments={"planned_at": planned_at},
        subjects=subjects,
    )
