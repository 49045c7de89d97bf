"""Whom a running clock of the law calls, acknowledged or not: at half of it, at three quarters, and at its end.

Half: the first step. Three quarters: the first two. The end: everybody on the list who can be reached, and the
operator's fallback people. Each is called once; a clock that is found late calls once for all that is due by then.
Which part calls whom is our choice: the law gives the clock alone.
"""

from datetime import datetime
from enum import IntEnum
from typing import NamedTuple

from alarms.escalation import PROMPT, Call, Plan, call_at
from alarms.reach import by_address, fallback_people, reached, whoever_may


class Part(IntEnum):
    """How much of a clock is over; the number of the call about it."""

    HALF = 1
    THREE_QUARTERS = 2
    ALL = 3


QUARTERS = {Part.HALF: 2, Part.THREE_QUARTERS: 3, Part.ALL: 4}


class ClockProgress(NamedTuple):
    """The part to call about now (None: none), since when it is due, and the next one; `next_at` None: none is left."""

    due: Part | None
    due_at: datetime
    next_part: Part | None
    next_at: datetime | None


def moment_of(part: Part, *, since: datetime, until: datetime) -> datetime:
    """When so much of the clock is over, in elapsed time."""
    return until if part == Part.ALL or until <= since else since + (until - since) * QUARTERS[part] / 4


def clock_progress(*, since: datetime, until: datetime, part: int, now: datetime) -> ClockProgress:
    """Walk on from `part` to now. Of several that are due only the last is called: it reaches whom the others do."""
    left = [one for one in Part if one >= part]
    moments = {one: moment_of(one, since=since, until=until) for one in left}
    due = [one for one in left if moments[one] <= now]
    coming = [one for one in left if moments[one] > now]
    return ClockProgress(
        due=due[-1] if due else None,
        due_at=moments[due[-1]] if due else now,
        next_part=coming[0] if coming else None,
        next_at=moments[coming[0]] if coming else None,
    )


def clock_call(plan: Plan, part: Part, *, due_at: datetime, now: datetime) -> Call | None:
    """The call about a clock, numbered by its part; None when there is nobody at all.

    Made more than a few minutes late it goes to whoever can be reached by then, as every call.
    """
    as_of = due_at if now - due_at <= PROMPT else now
    if part == Part.ALL:
        return _everybody(plan, due_at=due_at, as_of=as_of)
    steps = range(1, min(part, max(len(plan.steps), 1)) + 1)
    calls = [one for step in steps if (one := call_at(plan, step, due_at=due_at, as_of=as_of)) is not None]
    if not calls:
        return None
    told = by_address(person for call in calls for person in call.recipients)
    return Call(
        number=part,
        due_at=due_at,
        recipients=told,
        passed_over=tuple(dict.fromkeys(one for call in calls for one in call.passed_over)),
        fallback=any(call.fallback for call in calls),
    )


def _everybody(plan: Plan, *, due_at: datetime, as_of: datetime) -> Call | None:
    found = [reached(step, plan.world, at=as_of) for step in plan.steps]
    own = fallback_people(plan.world, at=as_of)
    people = by_address([*(person for one in found for person in one.recipients), *own])
    people = people or whoever_may(plan.steps, plan.world, at=as_of)
    if not people:
        return None
    return Call(
        number=Part.ALL,
        due_at=due_at,
        recipients=people,
        passed_over=tuple(over for one in found for over in one.passed_over if over.recipient not in people),
        fallback=bool(own) and not plan.without_list,
    )
