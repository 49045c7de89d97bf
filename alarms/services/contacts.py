"""People who can be told: when and where they can be reached. Names and addresses stand as they were listed."""

from dataclasses import dataclass
from datetime import time

from django.db.models import F

from alarms.hours import Hours, hours_to_json
from alarms.models import Contact
from equipment.faults import Stale
from equipment.models import Organisation


@dataclass(frozen=True, kw_only=True)
class StatedContact:
    """A person as stated; `organisation` None: that of whoever states it."""

    name: str
    email: str
    organisation: int | None


def contact_of(stated: StatedContact, stated_by: Organisation) -> Contact:
    """The person as on file; put there if need be."""
    organisation = stated.organisation or stated_by.pk
    contact, _ = Contact.objects.get_or_create(
        organisation_id=organisation, name=stated.name, email=stated.email
    )
    return contact


def set_reach(
    contact: Contact, *, version: int, time_zone: str | None, morning: time, hours: Hours | None
) -> Contact:
    """State when the person can be reached, from the next call on; `Stale` if somebody was faster."""
    changed = Contact.objects.filter(pk=contact.pk, version=version).update(
        time_zone=time_zone, morning=morning, hours=hours_to_json(hours), version=F("version") + 1
    )
    if not changed:
        raise Stale("Read the person again, look at what changed, and send yours with the new ETag.")
    contact.refresh_from_db()
    return contact
