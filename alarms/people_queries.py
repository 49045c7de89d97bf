"""Reads whom people are told by: fallback people, stand-ins, and where nobody would be told. The number of queries does
not depend on how many facilities are asked for."""

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime

from django.db.models import QuerySet

from alarms.conditions import Priority
from alarms.models import CallStep, Contact, FallbackPerson, Substitution
from alarms.tenancy import open_to_all
from equipment.models import Facility
from equipment.tenancy import Right


def fallback_contacts(operators: Collection[int]) -> dict[int, list[Contact]]:
    """The fallback people of these organisations, in their order; none are named: no entry."""
    rows = FallbackPerson.objects.filter(fallback_list__organisation__in=operators)
    found: dict[int, list[Contact]] = defaultdict(list)
    for row in rows.select_related("contact").order_by("fallback_list", "position"):
        found[row.contact.organisation_id].append(row.contact)
    return found


def substitutions_since(
    since: datetime, *, organisations: Collection[int] | None = None
) -> QuerySet[Substitution]:
    """Stand-ins that were not taken back and had not ended by then, in the order in which they were stated; `None`: of
    every organisation."""
    rows = Substitution.objects.filter(withdrawn_at=None, ends_at__gt=since)
    if organisations is not None:
        rows = rows.filter(organisation__in=organisations)
    return rows.select_related("away", "stand_in").order_by("pk")


def told_to_nobody(facility_ids: Collection[int], *, now: datetime) -> set[int]:
    """Those of the facilities at which an alarm of some priority would be told to nobody now.

    Its operator has named no fallback people, and the list by which such alarms are called is missing, or names only
    people whose organisations may not see the facility.
    """
    named = FallbackPerson.objects.values("fallback_list__organisation")
    bare = Facility.objects.filter(pk__in=facility_ids).exclude(operator__in=named)
    ids = set(bare.values_list("pk", flat=True))
    if not ids:
        return set()
    steps = CallStep.objects.filter(call_list__facility__in=ids)
    lists = ("call_list__facility_id", "call_list__priority")
    stated = set(steps.values_list(*lists))
    people = {
        *steps.values_list(*lists, "recipients__organisation"),
        *steps.values_list(*lists, "rotas__turns__contact__organisation"),
    }
    may_see = open_to_all(Right.READ, now=now, facility_ids=ids)
    reaching = {(facility, priority) for facility, priority, one in people if (facility, one) in may_see}
    return {
        pk
        for pk in ids
        for priority in Priority
        if (pk, priority if (pk, priority) in stated else "") not in reaching
    }
