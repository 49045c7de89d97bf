"""Tells people once a day, at their morning, what is overdue; says nothing on a day on which nothing changed.

A mail is a row first: written, claimed, sent outside any transaction, marked. A crash may repeat one, never lose it.
"""

import hashlib
import logging
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from alarms.delivery import LATER, NEVER, SENT, Answer, answer_of, is_servers
from alarms.local_times import instant_of
from alarms.services.first_people import FirstPerson, first_people
from alarms.services.message_ids import mail_domain
from compliance.models import OverdueDigest, OverdueReader
from compliance.models.overdue import IS_UNSENT
from compliance.services.overdue_list import Open, OverdueList, open_at, overdue_list
from compliance.services.overdue_mail import compose, message_id

# A mail that could not be written in the morning (the service stood still, the person was listed at noon) waits for the
# next one: it is no alarm, and nobody wants it at night (common practice, no source).
MORNING_LASTS = timedelta(hours=6)
LEASE = timedelta(minutes=3)
BACK_OFF = timedelta(minutes=15)
MAX_OWN_FAULTS = 5
People = Mapping[tuple[int, str], FirstPerson]
log = logging.getLogger(__name__)


def tell_overdue(*, clock: Callable[[], datetime], at_most: timedelta) -> int:
    """Decide for everybody whose morning has come, and send what is written; how many mails were tried."""
    now = clock()
    until = now + at_most
    people = first_people(now=now)
    write_due(people, now=now)
    tried = 0
    for pk in list(_waiting(now).order_by("tries", "pk").values_list("pk", flat=True)):
        if clock() >= until:
            break
        try:
            tried += _send_one(pk, people, clock)
        except Exception:
            log.exception("could not mark overdue digest %s; it is tried again when its claim ends", pk)
    return tried


def write_due(people: People, *, now: datetime) -> None:
    """A row for each person whose morning has come and whose list changed since the last mail sent to them."""
    days = {key: day for key, one in people.items() if (day := _due_for(one, now)) is not None}
    decided = {
        (row.organisation_id, row.address): row.decided_for
        for row in OverdueReader.objects.filter(organisation__in={key[0] for key in days})
    }
    undecided = [people[key] for key, day in days.items() if decided.get(key) != day]
    if not undecided:
        return
    found = open_at({pk for one in undecided for pk in one.facilities})
    last = _last_fingerprints(undecided)
    for person in undecided:
        listed = overdue_list(found, person.facilities)
        _decide(person, days[person.key], listed, changed=_changed(listed, last.get(person.key)), now=now)


def morning_of(person: FirstPerson, day: date) -> datetime:
    """When their morning of a local day begins. A time that is skipped comes an hour later, of one that comes twice the
    first counts."""
    return instant_of(day, person.morning, ZoneInfo(person.time_zone))


def _due_for(person: FirstPerson, now: datetime) -> date | None:
    """Their local day, while it is morning."""
    day = now.astimezone(ZoneInfo(person.time_zone)).date()
    morning = morning_of(person, day)
    return day if morning <= now < morning + MORNING_LASTS else None


def _changed(listed: OverdueList, last: str | None) -> bool:
    """Whether there is anything to tell: the first list that is not empty, and each that differs from the last told."""
    return bool(listed.sites) if last is None else listed.fingerprint != last


@transaction.atomic
def _decide(person: FirstPerson, day: date, listed: OverdueList, *, changed: bool, now: datetime) -> None:
    """Once a person and day, whichever worker comes first."""
    organisation, address = person.key
    OverdueReader.objects.bulk_create(
        [OverdueReader(organisation_id=organisation, address=address)], ignore_conflicts=True
    )
    undecided = Q(decided_for=None) | ~Q(decided_for=day)
    reader = OverdueReader.objects.filter(undecided, organisation=organisation, address=address)
    if not reader.update(decided_for=day) or not changed:
        return
    name = hashlib.sha256(address.encode()).hexdigest()[:16]
    digest = OverdueDigest(
        organisation_id=organisation,
        address=address,
        local_day=day,
        fingerprint=listed.fingerprint,
        count=listed.count,
        message_id=message_id(person, day, name=name, domain=mail_domain()),
        created_at=now,
        try_at=now,
    )
    # Whoever moves west within a day has had the mail of that day.
    OverdueDigest.objects.bulk_create([digest], ignore_conflicts=True)


def _last_fingerprints(people: Iterable[FirstPerson]) -> dict[tuple[int, str], str]:
    """What the last mail to each person listed; nothing of whoever never had one. Reads one mail a person."""
    sent = OverdueDigest.objects.filter(
        organisation=OuterRef("organisation"), address=OuterRef("address"), sent_at__isnull=False
    )
    newest = sent.order_by("-local_day", "-pk").values("fingerprint")[:1]
    readers = OverdueReader.objects.filter(
        organisation__in={one.organisation for one in people}, address__in={one.key[1] for one in people}
    )
    rows = readers.annotate(fingerprint=Subquery(newest)).exclude(fingerprint=None)
    return {
        (org, address): mark
        for org, address, mark in rows.values_list("organisation", "address", "fingerprint")
    }


def _waiting(now: datetime) -> QuerySet[OverdueDigest]:
    free = Q(claimed_until=None) | Q(claimed_until__lte=now)
    return OverdueDigest.objects.filter(IS_UNSENT, free, try_at__lte=now)


def _send_one(pk: int, people: People, clock: Callable[[], datetime]) -> int:
    """1 when this worker tried the mail."""
    now = clock()
    if not _waiting(now).filter(pk=pk).update(claimed_until=now + LEASE):
        return 0
    digest = OverdueDigest.objects.get(pk=pk)
    person = people.get((digest.organisation_id, digest.address))
    before = _sent_before(digest)
    listed = _listed_now(person)
    if person is None or not _changed(listed, before.fingerprint if before else None):
        OverdueDigest.objects.filter(pk=pk).update(withdrawn_at=now, claimed_until=None)
        return 0
    answer = _try(digest, person, listed, before)
    _settle(digest, listed, answer, now=clock())
    return 1


def _listed_now(person: FirstPerson | None) -> OverdueList:
    facilities = person.facilities if person is not None else frozenset()
    return overdue_list(open_at(facilities) if facilities else Open({}, {}, {}), facilities)


def _sent_before(digest: OverdueDigest) -> OverdueDigest | None:
    rows = OverdueDigest.objects.filter(organisation=digest.organisation_id, address=digest.address)
    return rows.exclude(sent_at=None).order_by("local_day", "pk").last()


def _try(
    digest: OverdueDigest, person: FirstPerson, listed: OverdueList, before: OverdueDigest | None
) -> Answer:
    try:
        mail = compose(digest, person, listed, before=before.message_id if before else None)
        return SENT if mail.send() else Answer(LATER, "", "the mail system took no recipient")
    except Exception as error:
        answer = answer_of(error)
        log.warning(
            "overdue digest %s was not sent: %s", digest.pk, answer.text, exc_info=not is_servers(error)
        )
        hopeless = not is_servers(error) and digest.tries + 1 >= MAX_OWN_FAULTS
        return answer._replace(outcome=NEVER) if hopeless else answer


def _settle(digest: OverdueDigest, listed: OverdueList, answer: Answer, *, now: datetime) -> None:
    row = OverdueDigest.objects.filter(pk=digest.pk)
    said = f"{answer.code} {answer.text}".strip()[:500]
    tried = {"claimed_until": None, "tries": F("tries") + 1, "answer": said}
    if answer == SENT:
        row.update(**tried, sent_at=now, fingerprint=listed.fingerprint, count=listed.count)
    elif answer.outcome == LATER:
        row.update(**tried, try_at=now + BACK_OFF)
    else:
        row.update(**tried, failed_at=now)
