"""What goes into a person's next mail: one notice alone, or all that came due together."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Case, DateTimeField, F, IntegerField, Q, QuerySet, Value, When

from alarms.conditions import STARTS_NO_CLOCK, Priority
from alarms.models import Digest, Notice
from alarms.services.mailboxes import Claim, notices_owed
from alarms.services.message_ids import mail_domain

# A mail of so many alarms has about half a megabyte, far below what mail servers take (RFC 5321 section 4.5.3.1.7
# promises 64 kB only, common limits begin at 10 MB: common practice, no source). More go a minute later.
MAX_ALARMS = 1000
_ORDER = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)
_URGENCY = Case(
    *(When(alarm__priority=one, then=Value(place)) for place, one in enumerate(_ORDER)),
    default=Value(0),
    output_field=IntegerField(),
)
_HARMLESS = Case(
    When(Q(alarm__condition_class__in=sorted(STARTS_NO_CLOCK)), then=Value(1)),
    default=Value(0),
    output_field=IntegerField(),
)
# Fresh notices go before those that failed already, but not for ever: while new alarms keep coming, a mail that was put
# off once would else never be tried again. A failure moves `try_at` on, so one that never goes takes few turns.
AFTER_FRESH = timedelta(minutes=2)
_TURN = Case(
    When(tries=0, then=F("try_at")),
    default=F("try_at") + Value(AFTER_FRESH),
    output_field=DateTimeField(),
)


@dataclass(frozen=True)
class Parcel:
    """Notices that travel in one mail, the most urgent first. `digest` None: all are about one alarm, and the mail is
    that of the last notice."""

    notices: Sequence[Notice]
    digest: Digest | None


@transaction.atomic
def take(claimed: Claim, *, now: datetime) -> Parcel | None:
    """The notices of the next mail, claimed like the mailbox; None when nothing is due any more.

    A mail that was tried before stays as it was put together, less what was withdrawn; else a crash between sending and
    marking would leave a mail in the world whose link names nothing.
    """
    waiting = notices_owed(claimed.person, now=now)
    lead = waiting.order_by(_TURN, "due_at", "pk").first()
    if lead is None:
        return None
    chosen = [one.pk for one in most_urgent_first(waiting.filter(digest=lead.digest_id))[:MAX_ALARMS]]
    # Whoever acknowledges at this moment withdraws rows that we have not claimed; what is left is ours.
    waiting.filter(pk__in=chosen).update(claimed_until=claimed.until)
    notices = list(most_urgent_first(Notice.objects.filter(pk__in=chosen, claimed_until=claimed.until)))
    if lead.digest_id is None and len({one.alarm_id for one in notices}) > 1:
        digest = _put_together(claimed, notices, now=now)
        return Parcel(notices, digest)
    return Parcel(notices, lead.digest) if notices else None


def most_urgent_first(notices: QuerySet[Notice]) -> QuerySet[Notice]:
    """High priority first, of those what may be a release, of those the one raised first; the same at every reading."""
    return notices.order_by(_URGENCY, _HARMLESS, "alarm__raised_at", "due_at", "pk")


def _put_together(claimed: Claim, notices: Sequence[Notice], *, now: datetime) -> Digest:
    digest = Digest.objects.create(
        organisation_id=claimed.person.organisation,
        message_id=_message_id(claimed, notices, now),
        created_at=now,
    )
    Notice.objects.filter(pk__in=[one.pk for one in notices]).update(digest=digest)
    for one in notices:
        one.digest = digest
    return digest


def _message_id(claimed: Claim, notices: Sequence[Notice], now: datetime) -> str:
    content = ",".join([claimed.person.address, *(str(one.pk) for one in notices)])
    name = hashlib.sha256(content.encode()).hexdigest()[:16]
    return f"<digest.{claimed.person.organisation}.{now:%Y%m%d%H%M%S}.{name}@{mail_domain()}>"
