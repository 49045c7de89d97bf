"""Who may see and do what. The only module that knows; everything else asks here.

Grants are read as instants: from `starts_at` inclusive to `ends_at` exclusive.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db.models import Q, QuerySet

from equipment.models import Facility, FacilityAccess, Organisation
from equipment.vocabulary import AccessRole, MemberRole


class Right(StrEnum):
    """What can be done at a facility."""

    READ = "read"
    REGISTER = "register"  # state what is there
    RECORD = "record"  # state what was done
    SIGNAL = "signal"  # deliver events of sensors and consoles
    ANSWER = "answer"  # acknowledge alarms, keep call lists
    SHARE = "share"  # let other organisations in


RIGHTS_OF_ROLE: dict[str, frozenset[Right]] = {
    AccessRole.OPERATOR: frozenset(Right),
    AccessRole.CONTRACTOR: frozenset({Right.READ, Right.RECORD, Right.SIGNAL, Right.ANSWER}),
    AccessRole.GATEWAY: frozenset({Right.READ, Right.SIGNAL}),
    AccessRole.AGENCY: frozenset({Right.READ}),
}
RIGHTS_OF_MEMBER: dict[str, frozenset[Right]] = {
    MemberRole.MANAGER: frozenset(Right),
    MemberRole.STAFF: frozenset(Right) - {Right.SHARE},
    MemberRole.READER: frozenset({Right.READ}),
}


def roles_with(right: Right) -> list[str]:
    """Roles of a grant that include the right."""
    return [role for role, rights in RIGHTS_OF_ROLE.items() if right in rights]


@dataclass(frozen=True)
class Actor:
    """Whoever is asking: a person or a program, with the role held in each of its organisations."""

    name: str
    roles: tuple[tuple[int, str], ...]  # (organisation id, member role)

    @property
    def organisations(self) -> tuple[int, ...]:
        """Ids of the organisations acted for."""
        return tuple(organisation for organisation, _ in self.roles)

    def organisations_with(self, right: Right) -> list[int]:
        """Organisations in which the actor's own role includes the right."""
        return [organisation for organisation, role in self.roles if right in RIGHTS_OF_MEMBER[role]]


def grants_in_force(*, now: datetime) -> QuerySet[FacilityAccess]:
    """Grants that hold at this instant."""
    return FacilityAccess.objects.filter(Q(ends_at=None) | Q(ends_at__gt=now), starts_at__lte=now)


def facilities_visible_to(actor: Actor, *, now: datetime, right: Right = Right.READ) -> QuerySet[Facility]:
    """Facilities at which the actor holds the right now: operator, contractor and agency alike, by dated grants."""
    grants = grants_in_force(now=now).filter(
        organisation__in=actor.organisations_with(right), role__in=roles_with(right)
    )
    return Facility.objects.filter(pk__in=grants.values("facility"))


def contractors_of(facility_ids: Collection[int]) -> set[tuple[int, int]]:
    """Facility and organisation of every contractor that was ever let in, whether or not it still is."""
    grants = FacilityAccess.objects.filter(facility__in=facility_ids, role=AccessRole.CONTRACTOR)
    return set(grants.values_list("facility_id", "organisation_id"))


def acting_organisation(
    actor: Actor, facility: Facility, *, right: Right, now: datetime
) -> Organisation | None:
    """The organisation in whose name the actor uses the right at this facility; the operator's own comes first."""
    grants = grants_in_force(now=now).filter(
        facility=facility, organisation__in=actor.organisations_with(right), role__in=roles_with(right)
    )
    candidates = list(Organisation.objects.filter(pk__in=grants.values("organisation")).order_by("pk"))
    return min(candidates, key=lambda one: one.pk != facility.operator_id, default=None)


def organisations_visible_to(actor: Actor, *, now: datetime) -> QuerySet[Organisation]:
    """The actor's own organisations, and those with a grant in force at a facility that the actor may see now."""
    shared = grants_in_force(now=now).filter(facility__in=facilities_visible_to(actor, now=now))
    return Organisation.objects.filter(
        Q(pk__in=actor.organisations) | Q(pk__in=shared.values("organisation"))
    )
