"""What a call list would do: every call worked out as the real one is, with nobody told and nothing stored."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

import msgspec

from alarms.clock_calls import Part, clock_call, clock_progress
from alarms.escalation import ONCE, Call, Plan, foreseen
from alarms.reach import Why
from alarms.services.plans import plan_of
from equipment.faults import Fault, refuse
from equipment.models import Facility

REPEATS_SHOWN = 2
NAME_THEM = "PUT /api/v1/organisations/ID/fallback-people"


@dataclass(frozen=True)
class Clock:
    """A clock of the law that would be running."""

    since: datetime
    until: datetime


@dataclass(frozen=True)
class Foreseen:
    """A call that would be made; `about`: `alarm` (nobody has acknowledged it) or `clock` (of the law)."""

    about: str
    call: Call


@dataclass(frozen=True)
class Preview:
    """Who would be told when, if nobody answered. `remarks` say where the list does not do what it seems to."""

    calls: list[Foreseen]
    repeat_minutes: int | None
    remarks: list[str]


def preview(
    *, facility: Facility, raised_at: datetime, priority: str, clock: Clock | None, repeats: int
) -> Preview:
    """What would happen about an alarm of this priority that reached us at `raised_at`, with this clock from then on.

    By the list, rotas, stand-ins and dated grants that are on file now. In the order of time.
    """
    if clock is not None and clock.until <= clock.since:
        refuse([Fault("/clock_until", "must lie after clock_from", "order")])
    plan = plan_of(facility, priority=priority, since=raised_at)
    calls = [Foreseen("alarm", one) for one in foreseen(plan, raised_at=raised_at, repeats=repeats)]
    if clock is not None:
        calls += [Foreseen("clock", one) for one in clock_calls(plan, clock, raised_at=raised_at)]
    return Preview(
        calls=sorted(calls, key=lambda one: one.call.due_at),
        repeat_minutes=None if plan.once else plan.repeat_minutes,
        remarks=list(_remarks(plan, raised_at)),
    )


def clock_calls(plan: Plan, clock: Clock, *, raised_at: datetime) -> Iterator[Call]:
    """The calls about a clock, none before the alarm reached us: what was due by then is one call at that moment."""
    part: Part | None = Part.HALF
    now = raised_at
    while part is not None:
        progress = clock_progress(since=clock.since, until=clock.until, part=part, now=now)
        if progress.due is not None:
            call = clock_call(plan, progress.due, due_at=progress.due_at, now=now)
            if call is not None:
                yield msgspec.structs.replace(call, due_at=now)
        part, now = progress.next_part, progress.next_at or now


def _remarks(plan: Plan, at: datetime) -> Iterator[str]:
    if plan.once and len(plan.steps) > 1:
        yield ONCE
    shut_out = [
        not any(plan.world.may_be_told(person, at) for person in step.listed(at)) for step in plan.steps
    ]
    if not plan.steps or (all(shut_out) and not plan.world.fallback):
        yield (
            "Nobody would be told: the call list reaches nobody, and the operator has named no fallback people "
            f"({NAME_THEM})."
        )
    elif plan.without_list or all(shut_out):
        yield "No step of a call list reaches anybody: the operator's fallback people are told instead."
    elif any(shut_out):
        yield (
            "A step reaches nobody, since its people's organisations may not see this facility then: the next "
            "people are told in its place."
        )
    if not plan.world.fallback and not plan.without_list and _may_pass_over(plan):
        yield (
            f"The operator has named no fallback people ({NAME_THEM}): where everybody is passed over ({Why.HOURS}, "
            f"{Why.HOLIDAY}, {Why.AWAY}), the whole list is told all the same."
        )


def _may_pass_over(plan: Plan) -> bool:
    people = (
        person
        for step in plan.steps
        for person in (*step.recipients, *(one for duty in step.duties for one in duty.people))
    )
    hours = [*(step.hours for step in plan.steps), *(person.hours for person in people)]
    return bool(plan.world.stand_ins) or any(one is not None for one in hours)
