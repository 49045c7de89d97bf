"""Reads a facility's call list, and whatever decides who of it can be reached, as a plan that can be walked."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import QuerySet

from alarms.conditions import Priority
from alarms.escalation import PROMPT, Plan
from alarms.hours import Hours, hours_from_json
from alarms.models import Alarm, CallList, CallStep, Contact, Rota, Substitution
from alarms.reach import Duty, ListedStep, Recipient, StandIn, World
from alarms.rotas import Turns
from alarms.tenancy import grants_of
from equipment.models import Facility, Membership
from equipment.tenancy import Right
from equipment.vocabulary import KeyRole


def call_list_of(facility: Facility, *, priority: str = "") -> CallList | None:
    """The list stated for this very priority (empty: the common one), its people at hand; None before the first."""
    rows = CallList.objects.filter(facility=facility, priority=priority)
    return rows.prefetch_related("steps__recipients", "steps__rotas__turns__contact").first()


def list_in_force(facility: Facility, *, priority: str) -> CallList | None:
    """The list by which alarms of this priority are called: its own if that has a step, else the common one."""
    rows = CallList.objects.filter(facility=facility, priority__in=["", priority], steps__position=1)
    ordered = rows.order_by("-priority").prefetch_related("steps__recipients", "steps__rotas__turns__contact")
    return ordered.first()


def plan_of(facility: Facility, *, priority: str, since: datetime) -> Plan:
    """Who is told when about alarms of this priority, good for every instant from `since` on.

    Without a list the operator's managers are told, else its staff: an alarm is never told to nobody while the
    operator has anyone with an address.
    """
    fallback = fallback_recipients(facility)
    row = list_in_force(facility, priority=priority)
    if row is None:
        alone = ListedStep(after_minutes=0, recipients=fallback)
        return Plan(steps=(alone,) if fallback else (), once=priority == Priority.LOW, without_list=True)
    zone = facility.time_zone
    steps = tuple(_step(one, zone) for one in sorted(row.steps.all(), key=lambda one: one.position))
    world = World(
        grants=grants_of(facility, right=Right.READ),
        stand_ins=_stand_ins(steps, zone, since),
        fallback=fallback,
    )
    return Plan(steps=steps, repeat_minutes=row.repeat_minutes, once=priority == Priority.LOW, world=world)


def plan_for(alarm: Alarm, *, now: datetime) -> Plan:
    """The plan for this alarm from now on: what is not urgent, or an exercise, goes to the first people only, once."""
    plan = plan_of(alarm.facility, priority=alarm.priority, since=now - PROMPT)
    return plan.told_once() if alarm.is_exercise else plan


def fallback_recipients(facility: Facility) -> tuple[Recipient, ...]:
    """The operator's managers who have an address; its other staff where no manager has one."""
    members = (
        Membership.objects.filter(organisation=facility.operator_id, user__is_active=True)
        .exclude(user__email="")
        .select_related("user")
        .order_by("pk")
    )
    for role in (KeyRole.MANAGER, KeyRole.STAFF):
        if people := _people(members.filter(role=role)):
            return people
    return ()


def _step(row: CallStep, zone: str) -> ListedStep:
    return ListedStep(
        after_minutes=row.after_minutes,
        recipients=tuple(
            _recipient(one, zone) for one in sorted(row.recipients.all(), key=lambda one: one.pk)
        ),
        duties=tuple(_duty(one, zone) for one in sorted(row.rotas.all(), key=lambda one: one.pk)),
        hours=_hours(row.hours, zone),
    )


def _duty(rota: Rota, zone: str) -> Duty:
    turns = sorted(rota.turns.all(), key=lambda turn: turn.position)
    return Duty(
        turns=turns_of(rota, people=len(turns)),
        people=tuple(_recipient(turn.contact, zone) for turn in turns),
    )


def turns_of(rota: Rota, *, people: int) -> Turns:
    """The rota's arithmetic for so many people."""
    return Turns(
        people=people,
        starts_on=rota.starts_on,
        turn_days=rota.turn_days,
        hand_over=rota.hand_over,
        time_zone=rota.time_zone,
    )


def _recipient(contact: Contact, zone: str) -> Recipient:
    return Recipient(
        name=contact.name,
        email=contact.email,
        organisation=contact.organisation_id,
        hours=_hours(contact.hours, contact.time_zone or zone),
    )


def _hours(kept: object, zone: str) -> Hours | None:
    hours = hours_from_json(kept)
    return None if hours is None else hours.in_zone(zone)


def _stand_ins(steps: Iterable[ListedStep], zone: str, since: datetime) -> tuple[StandIn, ...]:
    """Of the organisations on the list, in the order in which they were stated."""
    organisations = {
        person.organisation
        for step in steps
        for person in (*step.recipients, *(one for duty in step.duties for one in duty.people))
    }
    rows = Substitution.objects.filter(organisation__in=organisations, withdrawn_at=None, ends_at__gt=since)
    return tuple(
        StandIn(
            away=_recipient(row.away, zone),
            stand_in=_recipient(row.stand_in, zone),
            starts_at=row.starts_at,
            ends_at=row.ends_at,
        )
        for row in rows.select_related("away", "stand_in").order_by("pk")
    )


def _people(members: QuerySet[Membership]) -> tuple[Recipient, ...]:
    return tuple(
        Recipient(
            name=one.user.get_full_name() or one.user.get_username(),
            email=one.user.email,
            organisation=one.organisation_id,
        )
        for one in members
    )
