"""Names people, and says who holds which operator class at a facility (40 CFR 280.240 to 280.245)."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from equipment.faults import Fault, refuse
from equipment.models import Designation, Facility, Organisation, Person
from equipment.queries import people_known_at
from equipment.services.checking import clean
from equipment.services.stating import state_fact


def add_person(*, organisation: Organisation, name: str, by: str, now: datetime) -> Person:
    """Somebody who works for the organisation. Two people may share a name; the number tells them apart."""
    person = Person(organisation=organisation, name=name, recorded_at=now, recorded_by=by)
    clean(person)
    person.save()
    return person


@transaction.atomic
def designate(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    person: int,
    fields: Mapping[str, Any],
) -> Designation:
    """Name a person, by number, for an operator class; one whose duties begin on a coming day may be named now."""
    found = people_known_at(facility, submitted_by).filter(pk=person).first()
    if found is None:
        detail = "no such person; name one of your own organisation, or one designated at this facility"
        refuse([Fault("/person", detail, "unknown")])
    return state_fact(
        Designation,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields={**fields, "person": found},
    )
