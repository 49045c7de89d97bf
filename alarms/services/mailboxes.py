"""Whose turn it is to get a mail: a person has one worker at a time, and one mail a minute."""

from datetime import datetime, timedelta
from typing import NamedTuple

from django.db.models import Exists, Min, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Lower
from django.db.models.lookups import Exact

from alarms.models import Mailbox, Notice
from alarms.models.notices import IS_UNSENT

# From the end of one mail to the beginning of the next; what comes due meanwhile goes together.
MAIL_GAP = timedelta(seconds=60)
# Longer than any send takes, and than MAIL_GAP, so that a mail which was sent but not marked keeps its distance too.
# When it ends, another worker takes over.
LEASE = timedelta(minutes=3)


class Person(NamedTuple):
    """Somebody who is told in the name of an organisation; `address` as the database lower-cases it."""

    organisation: int
    address: str


class Claim(NamedTuple):
    """A mailbox that is this worker's alone until then."""

    person: Person
    until: datetime


def free(now: datetime) -> Q:
    """Claimed by nobody, or by somebody who did not come back."""
    return Q(claimed_until=None) | Q(claimed_until__lte=now)


def due_notices(now: datetime) -> QuerySet[Notice]:
    """Notices whose turn has come."""
    return Notice.objects.filter(IS_UNSENT, free(now), try_at__lte=now)


def notices_owed(person: Person, *, now: datetime) -> QuerySet[Notice]:
    """Those of them that go to this person."""
    mine = Exact(Lower("email"), Value(person.address))
    return due_notices(now).filter(mine, organisation=person.organisation)


def whose_turn(*, now: datetime, limit: int) -> list[Person]:
    """Up to `limit` people who are owed a mail and may get one now; fresh notices before those that failed already."""
    resting = Mailbox.objects.filter(
        Q(next_at__gt=now) | Q(claimed_until__gt=now),
        organisation=OuterRef("organisation"),
        address=OuterRef("address"),
    )
    owed = due_notices(now).annotate(address=Lower("email")).filter(~Exists(resting))
    people = owed.values("organisation", "address")
    turns = people.annotate(fewest=Min("tries"), due=Min("due_at"), oldest=Min("pk"))
    rows = turns.order_by("fewest", "due", "oldest").values_list("organisation", "address")
    return [Person(*row) for row in rows[:limit]]


def claim(person: Person, *, now: datetime) -> Claim | None:
    """The person's mailbox, unless another worker has it or its minute is not over.

    A conditional update, since row locks do nothing on SQLite.
    """
    mine = Claim(person, now + LEASE)
    box = _box(person)
    open_now = box.filter(free(now), next_at__lte=now)
    if open_now.update(claimed_until=mine.until):
        return mine
    if box.exists():
        return None
    Mailbox.objects.bulk_create(
        [Mailbox(organisation_id=person.organisation, address=person.address, next_at=now)],
        ignore_conflicts=True,
    )
    return mine if open_now.update(claimed_until=mine.until) else None


def give_back(claimed: Claim, *, next_at: datetime) -> None:
    """Let the next mail go from `next_at` on. A claim that ran out in the meantime is another worker's by now."""
    _box(claimed.person).filter(claimed_until=claimed.until).update(next_at=next_at, claimed_until=None)


def _box(person: Person) -> QuerySet[Mailbox]:
    return Mailbox.objects.filter(organisation=person.organisation, address=person.address)
