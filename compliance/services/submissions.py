"""A contractor's program posts a visit: the facts go on file and the answer says which obligations moved, in one
transaction, so that the answer is true when it arrives."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.db import transaction

from compliance.services.assess import assess_locked, freshen_locked
from compliance.services.obligations import Moves
from equipment.models import Facility, Organisation, Record
from equipment.services import records
from equipment.services.facts import lock_facility
from equipment.services.records import Deed, ExternalIdReused, Visit
from equipment.services.stating import NotYours

T = TypeVar("T")


@dataclass(frozen=True)
class Submitted:
    """What a visit left on file and what it moved."""

    visit: Visit
    moves: Moves


@transaction.atomic
def submit_visit(
    *, facility: Facility, submitted_by: Organisation, entered_by: str, deeds: Sequence[Deed], now: datetime
) -> Submitted:
    """Record every deed or none, then judge. What moved moved because of this visit alone."""
    lock_facility(facility.pk)
    freshen_locked(facility, now=now)
    visit = records.record_visit(
        facility=facility, submitted_by=submitted_by, entered_by=entered_by, deeds=deeds, now=now
    )
    moves = assess_locked(facility, now=now) if visit.repeated < len(visit.records) else []
    return Submitted(visit=visit, moves=moves)


@transaction.atomic
def withdraw(*, record: Record, organisation: Organisation, reason: str, by: str, now: datetime) -> Moves:
    """Take a record out and judge again. Open to whoever sent it and to the facility's operator."""
    if organisation.pk not in (record.submitted_by_id, record.facility.operator_id):
        raise NotYours("Another organisation sent this record; ask it, or the operator, to withdraw it.")
    facility = lock_facility(record.facility_id)
    freshen_locked(facility, now=now)
    records.withdraw_record(record=record, reason=reason, by=by, now=now)
    return assess_locked(facility, now=now)


def keeping_conflicts(work: Callable[[], T], *, entered_by: str, now: datetime) -> T:
    """Run the work; a report that contradicts one on file is kept beside it, outside the refused transaction."""
    try:
        return work()
    except ExternalIdReused as refusal:
        records.keep_conflict(refusal, entered_by=entered_by, now=now)
        raise
