"""A contractor's program posts a visit: the facts go on file and the answer says which obligations moved, in one
transaction, so that the answer is true when it arrives."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.db import transaction

from compliance.services.assess import moved_by
from compliance.services.obligations import Moves
from compliance.services.references import known_references
from equipment.faults import Fault, refuse
from equipment.models import Facility, Organisation, Record
from equipment.services import records
from equipment.services.facts import lock_facility
from equipment.services.happenings import DELIVERY_CHECK
from equipment.services.records import Deed, ExternalIdReused, Visit
from equipment.services.stating import refuse_others

T = TypeVar("T")


@dataclass(frozen=True)
class Submitted:
    """What a visit left on file and what it moved; `moves` None: on file, but the facility could not be judged."""

    visit: Visit
    moves: Moves | None


@transaction.atomic
def submit_visit(
    *, facility: Facility, submitted_by: Organisation, entered_by: str, deeds: Sequence[Deed], now: datetime
) -> Submitted:
    """Record every deed or none, then judge. What moved moved because of this visit alone."""
    facility = lock_facility(facility.pk)
    refuse([*_dangling(facility, deeds), *_worked_out_elsewhere(deeds)])
    visits: list[Visit] = []
    moves = moved_by(
        lambda: visits.append(
            records.record_visit(
                facility=facility, submitted_by=submitted_by, entered_by=entered_by, deeds=deeds, now=now
            )
        ),
        facility,
        now=now,
    )
    return Submitted(visit=visits[0], moves=moves)


@transaction.atomic
def withdraw(
    *, record: Record, organisation: Organisation, reason: str, by: str, now: datetime
) -> Moves | None:
    """Take a record out and judge again. Open to whoever sent it and to the facility's operator."""
    facility = lock_facility(record.facility_id)
    refuse_others(organisation, sender_id=record.submitted_by_id, facility=facility, did="sent this record")
    return moved_by(
        lambda: records.withdraw_record(record=record, reason=reason, by=by, now=now), facility, now=now
    )


def _dangling(facility: Facility, deeds: Sequence[Deed]) -> Iterator[Fault]:
    """A record that answers something answers something at this facility: a slip here leaves a clock running."""
    known = known_references(facility, {deed.regarding for deed in deeds if deed.regarding})
    for position, deed in enumerate(deeds):
        if deed.regarding and deed.regarding not in known:
            yield Fault(
                f"/records/{position}/regarding",
                f"nothing at this facility is called {deed.regarding!r}; write a word and number such as alarm:12",
                "unknown",
            )


def _worked_out_elsewhere(deeds: Sequence[Deed]) -> Iterator[Fault]:
    """Room for a load is not believed but worked out, from the tank's own chart."""
    for position, deed in enumerate(deeds):
        if deed.activity == DELIVERY_CHECK:
            detail = "post the readings to .../delivery-checks, where the room is worked out"
            yield Fault(f"/records/{position}/activity", detail, "elsewhere")


def keeping_conflicts(work: Callable[[], T], *, entered_by: str, now: datetime) -> T:
    """Run the work; a report that contradicts one on file is kept beside it, outside the refused transaction."""
    try:
        return work()
    except ExternalIdReused as refusal:
        records.keep_conflict(refusal, entered_by=entered_by, now=now)
        raise
