"""Who of a step can be told at a given instant, and who is passed over for what reason."""

from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum

import msgspec

from alarms.hours import Hours
from alarms.rotas import Turns


class Recipient(msgspec.Struct, frozen=True, kw_only=True):
    """A person who can be told, within `hours` (None: at any time); `organisation`: id of the one they answer for."""

    name: str
    email: str
    organisation: int
    hours: Hours | None = None

    @property
    def key(self) -> tuple[int, str, str]:
        """What tells one person from another, whatever their hours: organisation, name and address."""
        return self.organisation, self.name, self.email

    def is_same(self, other: "Recipient") -> bool:
        """The same person, whatever their hours."""
        return self.key == other.key


class Duty(msgspec.Struct, frozen=True, kw_only=True):
    """People who take turns; one of them stands on the list at any instant."""

    turns: Turns
    people: tuple[Recipient, ...]

    def at(self, at: datetime) -> Recipient:
        """Whoever is on duty."""
        return self.people[self.turns.on_duty(at)]


class ListedStep(msgspec.Struct, frozen=True, kw_only=True):
    """After so many minutes from the beginning: these people, and whoever is on duty; all of it within `hours`."""

    after_minutes: int
    recipients: tuple[Recipient, ...] = ()
    duties: tuple[Duty, ...] = ()
    hours: Hours | None = None

    def listed(self, at: datetime) -> tuple[Recipient, ...]:
        """Whom the list names at this instant, whether or not they can be reached."""
        return (*self.recipients, *(duty.at(at) for duty in self.duties))


class Grant(msgspec.Struct, frozen=True, kw_only=True):
    """An organisation may see the facility, from an instant to (not including) another; None: without end."""

    organisation: int
    starts_at: datetime
    ends_at: datetime | None


class StandIn(msgspec.Struct, frozen=True, kw_only=True):
    """`stand_in` is told instead of `away`, from an instant to (not including) another."""

    away: Recipient
    stand_in: Recipient
    starts_at: datetime
    ends_at: datetime


class World(msgspec.Struct, frozen=True, kw_only=True):
    """What decides who can be reached besides the list. `grants` None: everybody may be told.

    Of two stand-ins for one person at one time the later in the row counts. `fallback`: the operator's fallback people.
    """

    grants: tuple[Grant, ...] | None = None
    stand_ins: tuple[StandIn, ...] = ()
    fallback: tuple[Recipient, ...] = ()

    def may_be_told(self, person: Recipient, at: datetime) -> bool:
        """Whether their organisation may see the facility at this instant."""
        return self.grants is None or any(
            grant.organisation == person.organisation
            and grant.starts_at <= at
            and (grant.ends_at is None or at < grant.ends_at)
            for grant in self.grants
        )

    def substitute(self, person: Recipient, at: datetime) -> StandIn | None:
        """Who stands in for them at this instant; None when they are there."""
        found = [
            one for one in self.stand_ins if one.away.is_same(person) and one.starts_at <= at < one.ends_at
        ]
        return found[-1] if found else None


class Why(StrEnum):
    """Why somebody who is listed is not told at an instant."""

    HOURS = "outside hours"
    HOLIDAY = "holiday"
    AWAY = "away"
    NO_ACCESS = "no access"


class PassedOver(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody who is listed and is not told, with the reason in a word and in a sentence."""

    recipient: Recipient
    why: Why
    note: str


class Reached(msgspec.Struct, frozen=True, kw_only=True):
    """Who of a step is told at an instant, and who is not. An address is told once."""

    recipients: tuple[Recipient, ...]
    passed_over: tuple[PassedOver, ...]


def reached(step: ListedStep, world: World, *, at: datetime) -> Reached:
    """Whom the step reaches at this instant."""
    told: list[Recipient] = []
    passed: list[PassedOver] = []
    for listed in step.listed(at):
        stand_ins, person = whoever_is_there(listed, world, at=at)
        passed += map(_away, stand_ins)
        if person is None:
            continue
        reason = _why_not(person, step.hours, world, at)
        if reason is None:
            told.append(person)
        else:
            passed.append(reason)
    return Reached(recipients=by_address(told), passed_over=tuple(passed))


def whoever_is_there(
    listed: Recipient, world: World, *, at: datetime
) -> tuple[tuple[StandIn, ...], Recipient | None]:
    """The stand-ins gone through, and the person or whoever stands in at the end of it: a stand-in may be away too.
    None where they all stand in for each other."""
    gone: list[StandIn] = []
    person = listed
    while (found := world.substitute(person, at)) is not None:
        gone.append(found)
        person = found.stand_in
        if any(person.is_same(one.away) for one in gone):
            return tuple(gone), None
    return tuple(gone), person


def fallback_people(world: World, *, at: datetime) -> tuple[Recipient, ...]:
    """The operator's fallback people who can be told within their hours, with stand-ins for whoever is away. Where none
    can, all of them: nobody comes after them."""
    there = [
        person for one in world.fallback if (person := whoever_is_there(one, world, at=at)[1]) is not None
    ]
    awake = [one for one in there if one.hours is None or one.hours.closed(at) is None]
    return by_address(awake or there or world.fallback)


def whoever_may(steps: Iterable[ListedStep], world: World, *, at: datetime) -> tuple[Recipient, ...]:
    """Everybody on the list who may be told at all, asleep, away or not: for when nobody else is left."""
    people = (person for step in steps for person in step.listed(at))
    return by_address(person for person in people if world.may_be_told(person, at))


def by_address(people: Iterable[Recipient]) -> tuple[Recipient, ...]:
    """The first of each address, in order."""
    first: dict[str, Recipient] = {}
    for person in people:
        first.setdefault(person.email, person)
    return tuple(first.values())


def _away(gone: StandIn) -> PassedOver:
    return PassedOver(recipient=gone.away, why=Why.AWAY, note=f"away; {gone.stand_in.name} stands in")


def _why_not(person: Recipient, hours: Hours | None, world: World, at: datetime) -> PassedOver | None:
    if not world.may_be_told(person, at):
        note = "their organisation may not see the facility at that time"
        return PassedOver(recipient=person, why=Why.NO_ACCESS, note=note)
    for whose, times in (("step", hours), ("person", person.hours)):
        closed = times.closed(at) if times is not None else None
        if closed is None:
            continue
        if closed.holiday is not None:
            return PassedOver(
                recipient=person, why=Why.HOLIDAY, note=f"{closed.holiday} (calendar of the {whose})"
            )
        return PassedOver(recipient=person, why=Why.HOURS, note=f"outside the hours of the {whose}")
    return None
