"""Who may see and do what. The only module that knows; everything else asks here.

Grants are read as instants: from `starts_at` inclusive to `ends_at` exclusive.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db.models import Q, QuerySet

from equipment.models import Facility, FacilityAccess, Organisation
from equipment.vocabulary import AccessRole, KeyRole


class Right(StrEnum):
    """What can be done at a facility; `IN_WORDS` says it to people."""

    READ = "read"
    REGISTER = "register"
    RECORD = "record"
    SIGNAL = "signal"
    ANSWER = "answer"
    SHARE = "share"


RIGHTS_OF_ROLE: dict[str, frozenset[Right]] = {
    AccessRole.OPERATOR: frozenset(Right),
    AccessRole.CONTRACTOR: frozenset({Right.READ, Right.RECORD, Right.SIGNAL, Right.ANSWER}),
    AccessRole.GATEWAY: frozenset({Right.READ, Right.SIGNAL}),
    AccessRole.AGENCY: frozenset({Right.READ}),
}
RIGHTS_OF_KEY: dict[str, frozenset[Right]] = {
    KeyRole.MANAGER: frozenset(Right),
    KeyRole.STAFF: frozenset(Right) - {Right.SHARE},
    KeyRole.GATEWAY: frozenset({Right.READ, Right.SIGNAL}),
    KeyRole.READER: frozenset({Right.READ}),
}
IN_WORDS: dict[Right, str] = {
    Right.READ: "see what is on file",
    Right.REGISTER: "state what is there",
    Right.RECORD: "state what was done",
    Right.SIGNAL: "deliver events of sensors and consoles",
    Right.ANSWER: "answer alarms, keep call lists",
    Right.SHARE: "make keys, let other organisations in",
}


def roles_with(right: Right) -> list[str]:
    """Roles of a grant that include the right."""
    return [role for role, rights in RIGHTS_OF_ROLE.items() if right in rights]


@dataclass(frozen=True)
class Actor:
    """Whoever is asking: a program, which its key lets act for one organisation (id) in one role."""

    name: str
    organisation: int
    role: str

    def may(self, right: Right) -> bool:
        """Whether the key's own role includes the right."""
        return right in RIGHTS_OF_KEY[self.role]


def grants_in_force(*, now: datetime) -> QuerySet[FacilityAccess]:
    """Grants that hold at this instant."""
    return FacilityAccess.objects.filter(Q(ends_at=None) | Q(ends_at__gt=now), starts_at__lte=now)


def facilities_visible_to(actor: Actor, *, now: datetime, right: Right = Right.READ) -> QuerySet[Facility]:
    """Facilities at which the actor holds the right now: operator, contractor and agency alike, by dated grants."""
    if not actor.may(right):
        return Facility.objects.none()
    grants = grants_in_force(now=now).filter(organisation=actor.organisation, role__in=roles_with(right))
    return Facility.objects.filter(pk__in=grants.values("facility"))


def contractors_of(facility_ids: Collection[int]) -> set[tuple[int, int]]:
    """Facility and organisation of every contractor that was ever let in, whether or not it still is."""
    grants = FacilityAccess.objects.filter(facility__in=facility_ids, role=AccessRole.CONTRACTOR)
    return set(grants.values_list("facility_id", "organisation_id"))


def acting_organisation(
    actor: Actor, facility: Facility, *, right: Right, now: datetime
) -> Organisation | None:
    """The actor's organisation, if the actor holds the right at this facility."""
    if not facilities_visible_to(actor, now=now, right=right).filter(pk=facility.pk).exists():
        return None
    return Organisation.objects.get(pk=actor.organisation)


def organisations_visible_to(actor: Actor, *, now: datetime) -> QuerySet[Organisation]:
    """The actor's own organisation, and those with a grant in force at a facility that the actor may see now."""
    shared = grants_in_force(now=now).filter(facility__in=facilities_visible_to(actor, now=now))
    return Organisation.objects.filter(Q(pk=actor.organisation) | Q(pk__in=shared.values("organisation")))


def refusal(actor: Actor, right: Right) -> str:
    """For people: which right the actor's key lacks, and which keys have it."""
    having = [role for role, rights in RIGHTS_OF_KEY.items() if right in rights]
    return (
        f"The role of your key ({actor.role}) does not include: {right} "
        f"({IN_WORDS[right]}). A key of role {_either(having)} has it; a manager makes one with POST /api/v1/keys."
    )


def refusal_at(actor: Actor, facility: Facility, *, right: Right, now: datetime) -> str:
    """The same for a facility that the actor may see: the key's role may lack the right, or its organisation's."""
    if not actor.may(right):
        return refusal(actor, right)
    grants = grants_in_force(now=now).filter(facility=facility, organisation=actor.organisation)
    here = grants.order_by("role").values_list("role", flat=True).distinct()
    having = roles_with(right)
    return (
        f"Your organisation is let in here as {_either(here)}, which does not include: {right} ({IN_WORDS[right]}). "
        f"Whoever is let in as {_either(having)} has it; the operator says who that is."
    )


def _either(words: Iterable[str]) -> str:
    return " or ".join(str(word) for word in words)
