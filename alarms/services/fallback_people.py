"""Fallback people of an operator: stated as a whole, in the order in which they are named."""

from collections.abc import Iterator, Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from alarms.models import Alarm, CallStep, FallbackList, FallbackPerson
from alarms.models.alarms import IS_WAITING, Untold
from alarms.people_queries import told_to_nobody
from alarms.services.contacts import StatedContact, contact_of
from equipment.faults import Conflict, Fault, Stale, refuse
from equipment.models import Facility, Organisation
from equipment.services.facts import lock_facility
from equipment.vocabulary import OrganisationKind

MAX_PEOPLE = 50
SHOWN = 20


class NobodyLeft(Conflict):
    """Alarms somewhere would be told to nobody."""

    slug = "nobody-left-to-tell"
    title = "Somebody has to be told"


def fallback_list_of(organisation: Organisation) -> FallbackList | None:
    """The list with its people at hand; None before the first."""
    rows = FallbackList.objects.filter(organisation=organisation)
    return rows.prefetch_related("people__contact").first()


@transaction.atomic
def replace_fallback_people(
    *, organisation: Organisation, version: int, people: Sequence[StatedContact], by: str, now: datetime
) -> FallbackList:
    """Put these people of the organisation in the place of version `version` (0: there was none).

    Alarms that wait where no call list stands, and those that nobody could be told of, are called by it at once. Raises
    `Stale` when somebody was faster, `Invalid` with a pointer to each fault, `NobodyLeft` when an empty list would
    leave a facility with nobody to tell.
    """
    refuse(_faults(organisation, people))
    row, _ = FallbackList.objects.get_or_create(
        organisation=organisation, defaults={"version": 0, "changed_at": now, "changed_by": by}
    )
    stated = FallbackList.objects.filter(pk=row.pk, version=version)
    if not stated.update(version=version + 1, changed_at=now, changed_by=by):
        raise Stale("Read the list again, look at what changed, and send yours with the new ETag.")
    row.people.all().delete()
    FallbackPerson.objects.bulk_create(
        FallbackPerson(fallback_list=row, position=position, contact=contact_of(one, organisation))
        for position, one in enumerate(people, start=1)
    )
    if not people:
        _refuse_silence(organisation, now=now)
    _call_anew(organisation, now=now)
    row.refresh_from_db()
    return row


def _faults(organisation: Organisation, people: Sequence[StatedContact]) -> Iterator[Fault]:
    if people and organisation.kind != OrganisationKind.OPERATOR:
        yield Fault(
            "/people", "only an operator has fallback people; a call list names those of others", "wrong-kind"
        )
    met: set[str] = set()
    for index, one in enumerate(people):
        if one.email.lower() in met:
            yield Fault(f"/people/{index}/email", "is named already; an address is told once", "repeated")
        met.add(one.email.lower())


def _refuse_silence(organisation: Organisation, *, now: datetime) -> None:
    sites = dict(Facility.objects.filter(operator=organisation).values_list("pk", "name"))
    silent = sorted(told_to_nobody(sites, now=now))
    if silent:
        shown = ", ".join(f"{sites[pk]} ({pk})" for pk in silent[:SHOWN])
        more = f" and {len(silent) - SHOWN} more" if len(silent) > SHOWN else ""
        raise NobodyLeft(
            "Without fallback people alarms would be told to nobody here: "
            f"{shown}{more}. Keep one person, or first give each of them a call list.",
            facilities=silent[:SHOWN],
        )


def _call_anew(organisation: Organisation, *, now: datetime) -> None:
    """From the top: nobody is told the same call twice, and whoever is new on the list is told now."""
    listed = CallStep.objects.filter(position=1).values("call_list__facility")
    waiting = Alarm.objects.filter(IS_WAITING, facility__operator=organisation)
    waiting = waiting.filter(Q(untold_reason=Untold.NOBODY) | ~Q(facility__in=listed))
    for facility in sorted(set(waiting.values_list("facility_id", flat=True))):
        lock_facility(facility)
        waiting.filter(facility=facility).update(next_step=1, next_step_at=now)
