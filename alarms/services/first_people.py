"""Whom each facility's call list names first, for all facilities at once: those whose business its daily state is."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, time

from alarms.models import CallStep, Contact, Rota, Substitution
from alarms.models.call_lists import MORNING
from alarms.services.plans import turns_of
from alarms.tenancy import open_to_all
from equipment.models import Facility, Membership
from equipment.tenancy import Right
from equipment.vocabulary import KeyRole


@dataclass(frozen=True)
class FirstPerson:
    """Somebody at an address who acts for one organisation, and the facilities whose list names them first.

    `time_zone` and `morning` are theirs; where nobody stated a zone, it is that of most of their facilities.
    """

    organisation: int
    name: str
    email: str
    time_zone: str
    morning: time
    facilities: frozenset[int]

    @property
    def key(self) -> tuple[int, str]:
        """What tells one person from another: two spellings of an address are one."""
        return self.organisation, self.email.lower()


@dataclass(frozen=True)
class _Listed:
    """One name at one facility."""

    facility: int
    facility_zone: str
    organisation: int
    name: str
    email: str
    time_zone: str | None = None
    morning: time = MORNING


@dataclass
class _Found:
    first: _Listed
    zones: Counter[str] = field(default_factory=Counter)
    facilities: set[int] = field(default_factory=set)


def first_people(*, now: datetime) -> dict[tuple[int, str], FirstPerson]:
    """By organisation and address. Stand-ins are told instead of whoever is away, and of a rota whoever is on duty.

    A facility without a list is the business of the operator's managers, else of its staff, as with alarms. Whoever's
    organisation may not see a facility now is not told about it. The number of queries does not depend on how many
    facilities there are.
    """
    zones = dict(Facility.objects.values_list("pk", "time_zone"))
    open_now = open_to_all(Right.READ, now=now)
    found: dict[tuple[int, str], _Found] = {}
    for one in (*_on_lists(zones, now), *_without_list(zones)):
        if (one.facility, one.organisation) in open_now:
            person = found.setdefault((one.organisation, one.email.lower()), _Found(one))
            if one.facility not in person.facilities:
                person.facilities.add(one.facility)
                person.zones[one.facility_zone] += 1
    return {key: _person(one) for key, one in found.items()}


def _person(found: _Found) -> FirstPerson:
    first = found.first
    return FirstPerson(
        organisation=first.organisation,
        name=first.name,
        email=first.email,
        time_zone=first.time_zone or found.zones.most_common(1)[0][0],
        morning=first.morning,
        facilities=frozenset(found.facilities),
    )


def _on_lists(zones: dict[int, str], now: datetime) -> Iterator[_Listed]:
    first_steps = CallStep.objects.filter(position=1)
    named = list(first_steps.exclude(recipients=None).values_list("call_list__facility_id", "recipients"))
    duties = first_steps.exclude(rotas=None).values_list("call_list__facility_id", "rotas")
    on_duty = _on_duty(now)
    named += [(facility, on_duty[rota]) for facility, rota in duties if rota in on_duty]
    stand_ins = _stand_ins(now)
    contacts = Contact.objects.in_bulk({*(pk for _, pk in named), *stand_ins.values()})
    for facility, pk in sorted(named):
        contact = contacts.get(_present(pk, stand_ins) or 0)
        if contact is not None:
            yield _Listed(
                facility=facility,
                facility_zone=zones[facility],
                organisation=contact.organisation_id,
                name=contact.name,
                email=contact.email,
                time_zone=contact.time_zone,
                morning=contact.morning,
            )


def _on_duty(now: datetime) -> dict[int, int]:
    """By rota the contact who is on duty."""
    found = {}
    for rota in Rota.objects.prefetch_related("turns"):
        turns = sorted(rota.turns.all(), key=lambda turn: turn.position)
        if turns:
            found[rota.pk] = turns[turns_of(rota, people=len(turns)).on_duty(now)].contact_id
    return found


def _stand_ins(now: datetime) -> dict[int, int]:
    """Contact who is away → who stands in; of two for one the later stated counts."""
    rows = Substitution.objects.filter(withdrawn_at=None, starts_at__lte=now, ends_at__gt=now).order_by("pk")
    return dict(rows.values_list("away", "stand_in"))


def _present(pk: int, stand_ins: dict[int, int]) -> int | None:
    """The contact or whoever stands in, who may be away too; None where they all stand in for each other."""
    met = {pk}
    while pk in stand_ins:
        pk = stand_ins[pk]
        if pk in met:
            return None
        met.add(pk)
    return pk


def _without_list(zones: dict[int, str]) -> Iterator[_Listed]:
    listed = CallStep.objects.filter(position=1).values("call_list__facility")
    bare = list(Facility.objects.exclude(pk__in=listed).order_by("pk").values_list("pk", "operator"))
    people = _own_people({operator for _, operator in bare})
    for facility, operator in bare:
        for name, email in people.get(operator, ()):
            yield _Listed(facility, zones[facility], operator, name, email)


def _own_people(organisations: Iterable[int]) -> dict[int, list[tuple[str, str]]]:
    """Name and address of the managers of each, of its staff where no manager has an address."""
    rows = Membership.objects.filter(organisation__in=organisations, user__is_active=True)
    by_role: dict[tuple[int, str], list[tuple[str, str]]] = defaultdict(list)
    for row in rows.exclude(user__email="").select_related("user").order_by("pk"):
        name = row.user.get_full_name() or row.user.get_username()
        by_role[row.organisation_id, row.role].append((name, row.user.email))
    return {
        one: by_role.get((one, KeyRole.MANAGER)) or by_role.get((one, KeyRole.STAFF), [])
        for one in organisations
    }
