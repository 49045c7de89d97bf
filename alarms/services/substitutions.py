"""Stand-ins for people who are away: stated once, never edited, withdrawn with a reason."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import QuerySet

from alarms.local_times import instant_of
from alarms.models import Contact, Substitution
from alarms.services.contacts import StatedContact, contact_of
from equipment.faults import Conflict, Fault, refuse
from equipment.models import Organisation
from equipment.moments import Moment


@dataclass(frozen=True, kw_only=True)
class StatedSubstitution:
    """Who is away and who stands in. Days are whole local days of the person who is away, the last one included; an
    instant begins it inclusive, and ends it exclusive."""

    away: StatedContact
    stand_in: StatedContact
    begins: Moment
    ends: Moment
    reason: str


def substitutions_of(organisation: Organisation) -> QuerySet[Substitution]:
    """The organisation's, withdrawn ones too, with both people at hand."""
    return Substitution.objects.filter(organisation=organisation).select_related("away", "stand_in")


@transaction.atomic
def state_substitution(
    *, organisation: Organisation, stated: StatedSubstitution, by: str, now: datetime
) -> Substitution:
    """It counts from the next call on, wherever the person is listed or on duty. `Invalid` with a pointer otherwise."""
    away = Contact.objects.filter(
        organisation=organisation, name=stated.away.name, email=stated.away.email
    ).first()
    if away is None:
        refuse([Fault("/away", "nobody of this name and address is on a list or rota of yours", "unknown")])
    assert away is not None
    starts_at = _instant(stated.begins, away, "/begins", after_day=False)
    ends_at = _instant(stated.ends, away, "/ends", after_day=True)
    if ends_at <= starts_at:
        refuse([Fault("/ends", "must come after it begins", "order")])
    if ends_at <= now:
        refuse([Fault("/ends", "is past, so nobody would be told otherwise", "past")])
    stand_in = contact_of(stated.stand_in, organisation)
    if stand_in == away:
        refuse([Fault("/stand_in", "is the person who is away", "repeated")])
    return Substitution.objects.create(
        organisation=organisation,
        away=away,
        stand_in=stand_in,
        starts_at=starts_at,
        ends_at=ends_at,
        reason=stated.reason,
        recorded_at=now,
        recorded_by=by,
    )


def withdraw_substitution(row: Substitution, *, reason: str, by: str, now: datetime) -> Substitution:
    """Take it back: they are told themselves again from the next call on. The same reason again changes nothing."""
    done = Substitution.objects.filter(pk=row.pk, withdrawn_at=None).update(
        withdrawn_at=now, withdrawn_reason=reason, withdrawn_by=by
    )
    row.refresh_from_db()
    if not done and row.withdrawn_reason != reason:
        raise Conflict(f"It was withdrawn already, because: {row.withdrawn_reason}")
    return row


def _instant(moment: Moment, away: Contact, pointer: str, *, after_day: bool) -> datetime:
    if moment.instant is not None:
        return moment.instant
    if away.time_zone is None:
        detail = (
            f"state an instant with offset, or first the time zone of {away.name} (organisations/…/contacts)"
        )
        refuse([Fault(pointer, detail, "no-zone")])
    assert moment.day is not None
    assert away.time_zone is not None
    day = moment.day + timedelta(days=1) if after_day else moment.day
    return instant_of(day, time.min, ZoneInfo(away.time_zone))
