"""Lets organisations in to a facility and ends that again. Grants are dated to the instant and never edited."""

from datetime import datetime

from django.db import transaction
from django.db.models import Q

from equipment.faults import Conflict, Fault, refuse
from equipment.models import Facility, FacilityAccess, Organisation
from equipment.services.facts import lock_facility
from equipment.vocabulary import AccessRole


class LastGrant(Conflict):
    """The operator would lock itself out."""

    slug = "last-grant"
    title = "An operator cannot end its own last grant"


@transaction.atomic
def grant_access(
    *,
    facility: Facility,
    organisation: Organisation,
    role: str,
    starts_at: datetime,
    ends_at: datetime | None,
    by: str,
    now: datetime,
) -> FacilityAccess:
    """Let the organisation in from `starts_at` inclusive to `ends_at` exclusive (None: until ended).

    Access cannot be given for the past: who could see what is part of history.
    """
    lock_facility(facility.pk)
    refuse(_period_faults(starts_at, ends_at, now=now))
    overlapping = (
        FacilityAccess.objects.filter(facility=facility, organisation=organisation, role=role)
        .filter(Q(ends_at=None) | Q(ends_at__gt=starts_at))
        .filter(Q() if ends_at is None else Q(starts_at__lt=ends_at))
        .first()
    )
    if overlapping is not None:
        raise Conflict(
            f"Grant {overlapping.pk} gives this organisation the same role in that time; end it first.",
            grant=overlapping.pk,
        )
    return FacilityAccess.objects.create(
        facility=facility,
        organisation=organisation,
        role=role,
        starts_at=starts_at,
        ends_at=ends_at,
        granted_by=by,
    )


@transaction.atomic
def end_grant(*, grant: FacilityAccess, at: datetime, now: datetime) -> FacilityAccess | None:
    """End a grant at an instant from now on. One that has not begun by then is taken back: None.

    The same end again changes nothing. Raises `Conflict` when it has ended already, `LastGrant` when the facility's
    operator would be left without access of its own.
    """
    facility = lock_facility(grant.facility_id)
    grant.refresh_from_db()
    if grant.ends_at == at:
        return grant
    if grant.ends_at is not None and grant.ends_at <= now:
        raise Conflict(f"The grant ended already, at {grant.ends_at.isoformat()}.")
    if at < now:
        refuse([Fault("/ends_at", "lies in the past; who could see what is part of history", "past")])
    _keep_operator_in(facility, grant, at)
    if at <= grant.starts_at:
        grant.delete()
        return None
    grant.ends_at = at
    grant.save(update_fields=["ends_at"])
    return grant


def _keep_operator_in(facility: Facility, grant: FacilityAccess, at: datetime) -> None:
    if grant.organisation_id != facility.operator_id or grant.role != AccessRole.OPERATOR:
        return
    others = FacilityAccess.objects.filter(
        facility=facility, organisation=facility.operator_id, role=AccessRole.OPERATOR, ends_at=None
    )
    if not others.exclude(pk=grant.pk).filter(starts_at__lte=at).exists():
        raise LastGrant("Without it nobody could let the operator in again.")


def _period_faults(starts_at: datetime, ends_at: datetime | None, *, now: datetime) -> list[Fault]:
    faults = []
    if starts_at < now:
        faults.append(Fault("/starts_at", "lies in the past; leave it out to begin now", "past"))
    if ends_at is not None and ends_at <= starts_at:
        faults.append(Fault("/ends_at", "must lie after starts_at", "constraint"))
    return faults
