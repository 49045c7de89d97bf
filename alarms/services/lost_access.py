"""Takes back mails to people whose organisation lost its access while they waited to go out."""

from datetime import datetime

from django.db.models import F

from alarms.services.mailboxes import Person, notices_owed
from alarms.services.settling import settle_unseen
from alarms.tenancy import facilities_open_to
from equipment.tenancy import Right


def withdraw_unseen(person: Person, *, now: datetime) -> int:
    """What is owed to this person about facilities that their organisation may not see now; others are called. How
    many mails that were.

    The facility's operator is told of its own facility whatever its grants say, as in a plan.
    """
    owed = notices_owed(person, now=now).exclude(facility__operator=F("organisation"))
    sites = set(owed.order_by().values_list("facility_id", flat=True).distinct())
    closed = sites - facilities_open_to(person.organisation, Right.READ, sites, now=now)
    unseen = list(owed.filter(facility__in=closed).order_by("due_at", "pk")) if closed else []
    for notice in unseen:
        settle_unseen(notice, now=now)
    return len(unseen)
