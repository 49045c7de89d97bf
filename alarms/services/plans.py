"""Reads a facility's call list, and whatever decides who of it can be reached, as a plan that can be walked."""

from collections.abc import Iterable
from datetime import datetime

from alarms.conditions import Priority
from alarms.escalation import PROMPT, Plan
from alarms.hours import Hours, hours_from_json
from alarms.models import Alarm, CallList, CallStep, Contact, Rota, Substitution
from alarms.people_queries import fallback_contacts, substitutions_since
from alarms.reach import Duty, ListedStep, Recipient, StandIn, World
from alarms.rotas import Turns
from alarms.tenancy import grants_of
from equipment.models import Facility
from equipment.tenancy import Right


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

    Without a list the operator's fallback people are told: an alarm is never told to nobody while the operator has
    named anyone.
    """
    zone, fallback = facility.time_zone, fallback_recipients(facility)
    row = list_in_force(facility, priority=priority)
    listed = sorted(row.steps.all(), key=lambda one: one.position) if row is not None else []
    steps = tuple(_step(one, zone) for one in listed)
    away = substitutions_since(since, organisations=_organisations(fallback, steps))
    world = World(
        grants=grants_of(facility, right=Right.READ) if row is not None else None,
        stand_ins=stand_ins_of(away, zone),
        fallback=fallback,
    )
    once = priority == Priority.LOW
    if row is None:
        alone = ListedStep(after_minutes=0, recipients=fallback)
        return Plan(steps=(alone,) if fallback else (), once=once, without_list=True, world=world)
    return Plan(steps=steps, repeat_minutes=row.repeat_minutes, once=once, world=world)


def plan_for(alarm: Alarm, *, now: datetime) -> Plan:
    """The plan for this alarm from now on: what is not urgent, or an exercise, goes to the first people only, once."""
    plan = plan_of(alarm.facility, priority=alarm.priority, since=now - PROMPT)
    return plan.told_once() if alarm.is_exercise else plan


def fallback_recipients(facility: Facility) -> tuple[Recipient, ...]:
    """The operator's fallback people, in their order."""
    found = fallback_contacts([facility.operator_id]).get(facility.operator_id, [])
    return tuple(recipient_of(one, facility.time_zone) for one in found)


def _step(row: CallStep, zone: str) -> ListedStep:
    return ListedStep(
        after_minutes=row.after_minutes,
        recipients=tuple(
            recipient_of(one, zone) for one in sorted(row.recipients.all(), key=lambda one: one.pk)
        ),
        duties=tuple(_duty(one, zone) for one in sorted(row.rotas.all(), key=lambda one: one.pk)),
        hours=_hours(row.hours, zone),
    )


def _duty(rota: Rota, zone: str) -> Duty:
    turns = sorted(rota.turns.all(), key=lambda turn: turn.position)
    return Duty(
        turns=turns_of(rota, people=len(turns)),
        people=tuple(recipient_of(turn.contact, zone) for turn in turns),
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


def recipient_of(contact: Contact, zone: str) -> Recipient:
    """As the walk reads them; `zone`: that of the facility, for people who state none."""
    return Recipient(
        name=contact.name,
        email=contact.email,
        organisation=contact.organisation_id,
        hours=_hours(contact.hours, contact.time_zone or zone),
    )


def _hours(kept: object, zone: str) -> Hours | None:
    hours = hours_from_json(kept)
    return None if hours is None else hours.in_zone(zone)


def _organisations(people: Iterable[Recipient], steps: Iterable[ListedStep]) -> set[int]:
    on_duty = (person for step in steps for duty in step.duties for person in duty.people)
    listed = (person for step in steps for person in step.recipients)
    return {one.organisation for one in (*people, *listed, *on_duty)}


def stand_ins_of(rows: Iterable[Substitution], zone: str) -> tuple[StandIn, ...]:
    """As the walk reads them; `zone`: that of the facility, for people who state none."""
    return tuple(
        StandIn(
            away=recipient_of(row.away, zone),
            stand_in=recipient_of(row.stand_in, zone),
            starts_at=row.starts_at,
            ends_at=row.ends_at,
        )
        for row in rows
    )
