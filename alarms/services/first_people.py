"""Whom each facility's call list names first, for all facilities at once: those whose business its daily state is."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, time

from alarms.models import CallStep, Contact, Rota
from alarms.people_queries import fallback_contacts, substitutions_since
from alarms.reach import World, whoever_is_there
from alarms.services.plans import recipient_of, stand_ins_of, turns_of
from alarms.tenancy import open_to_all
from equipment.models import Facility
from equipment.tenancy import Right


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
    """One person at one facility."""

    facility: int
    facility_zone: str
    contact: Contact


@dataclass
class _Found:
    first: Contact
    zones: Counter[str] = field(default_factory=Counter)
    facilities: set[int] = field(default_factory=set)


def first_people(*, now: datetime) -> dict[tuple[int, str], FirstPerson]:
    """By organisation and address. Stand-ins are told instead of whoever is away, and of a rota whoever is on duty.

    A facility without a list is the business of the operator's fallback people, as with alarms. Whoever's
    organisation may not see a facility now is not told about it. The number of queries does not depend on how many
    facilities there are.
    """
    zones = dict(Facility.objects.values_list("pk", "time_zone"))
    open_now, present = open_to_all(Right.READ, now=now), _Present(now)
    found: dict[tuple[int, str], _Found] = {}
    for one in (*_on_lists(zones, now), *_without_list(zones)):
        contact = present.instead_of(one.contact)
        if contact is not None and (one.facility, contact.organisation_id) in open_now:
            key = (contact.organisation_id, contact.email.lower())
            person = found.setdefault(key, _Found(contact))
            if one.facility not in person.facilities:
                person.facilities.add(one.facility)
                person.zones[one.facility_zone] += 1
    return {key: _person(one) for key, one in found.items()}


def _person(found: _Found) -> FirstPerson:
    first = found.first
    return FirstPerson(
        organisation=first.organisation_id,
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
    contacts = Contact.objects.in_bulk({pk for _, pk in named})
    for facility, pk in sorted(named):
        yield _Listed(facility, zones[facility], contacts[pk])


def _on_duty(now: datetime) -> dict[int, int]:
    """By rota the contact who is on duty."""
    found = {}
    for rota in Rota.objects.prefetch_related("turns"):
        turns = sorted(rota.turns.all(), key=lambda turn: turn.position)
        if turns:
            found[rota.pk] = turns[turns_of(rota, people=len(turns)).on_duty(now)].contact_id
    return found


def _without_list(zones: dict[int, str]) -> Iterator[_Listed]:
    listed = CallStep.objects.filter(position=1).values("call_list__facility")
    bare = list(Facility.objects.exclude(pk__in=listed).order_by("pk").values_list("pk", "operator"))
    people = fallback_contacts({operator for _, operator in bare})
    for facility, operator in bare:
        for contact in people.get(operator, ()):
            yield _Listed(facility, zones[facility], contact)


class _Present:
    """Who is there at a moment, for people by the thousand."""

    def __init__(self, now: datetime) -> None:
        rows = list(substitutions_since(now))
        self.now = now
        # Hours are not asked here, so the zone does not matter.
        self.world = World(stand_ins=stand_ins_of(rows, "UTC"))
        self.away = {row.away_id for row in rows}
        self.by_key = {recipient_of(row.stand_in, "UTC").key: row.stand_in for row in rows}

    def instead_of(self, contact: Contact) -> Contact | None:
        """The person or whoever stands in; None where they all stand in for each other."""
        if contact.pk not in self.away:
            return contact
        listed = recipient_of(contact, "UTC")
        there = whoever_is_there(listed, self.world, at=self.now)[1]
        if there is None:
            return None
        return contact if there.is_same(listed) else self.by_key[there.key]
