"""Who is called when: a call list walked down step by step until somebody answers.

Steps are numbered from 1. After the last step of the list the numbers go on: each further one calls the last step's
people again. A number therefore names one call for good, and a call can be written down twice without harm.

Nobody is told outside their hours, and yet somebody always is. Where a step reaches nobody at its moment, the next one
that reaches somebody is called at once. Where none from there to the end does, the operator's fallback people are
called, with whoever of the earlier steps can be reached. Where even those are none, everybody on the list is called
whatever their hours.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import takewhile

import msgspec

from alarms.reach import (
    ListedStep,
    PassedOver,
    Recipient,
    World,
    by_address,
    fallback_people,
    reached,
    whoever_may,
)

# How often the last step is called again where the list does not say (common practice, no source).
REPEAT_MINUTES = 30
# A call that is made later than this after its moment goes to whoever can be reached when it is made, not to whoever
# could have been: a worker that stood still must not wake the shift before last.
PROMPT = timedelta(minutes=5)
# What is to be said of a list with further steps, where only one call is made.
ONCE = "An alarm of low priority is told once, to the first step that reaches anybody: later steps are not called."


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """A call list ready to walk: steps in the order of their minutes. `repeat_minutes` None: the end is the end.

    `once`: the first call that reaches anybody is the only one. `without_list`: nobody stated a list, so its one step
    is the operator's fallback people.
    """

    steps: tuple[ListedStep, ...]
    repeat_minutes: int | None = REPEAT_MINUTES
    once: bool = False
    without_list: bool = False
    world: World = World()

    def __post_init__(self) -> None:
        minutes = [step.after_minutes for step in self.steps]
        if minutes != sorted(minutes):
            raise ValueError("steps stand in the order of their minutes")
        if self.repeat_minutes is not None and self.repeat_minutes < 1:
            raise ValueError("repeat_minutes is 1 or more")

    def told_once(self) -> "Plan":
        """For what is not urgent: the first people, once."""
        return msgspec.structs.replace(self, once=True)

    def is_last(self, number: int) -> bool:
        """Whether no further step of the list follows this call."""
        return self.once or number >= len(self.steps)


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """One call: its number, when it is due, to whom it goes, and who was passed over.

    `fallback`: the steps reached nobody any more, so the operator's fallback people are among the recipients.
    """

    number: int
    due_at: datetime
    recipients: tuple[Recipient, ...]
    passed_over: tuple[PassedOver, ...] = ()
    fallback: bool = False


class Progress(msgspec.Struct, frozen=True, kw_only=True):
    """Calls that are due, and the next one to come; `next_at` None when none will come.

    A `next_at` that is not later than the moment asked about says that the call is due and there is nobody to tell.
    """

    due: tuple[Call, ...]
    next_number: int
    next_at: datetime | None


def first_call_at(plan: Plan, *, raised_at: datetime) -> datetime | None:
    """When the first people are to be told; None when there is no step."""
    return raised_at + timedelta(minutes=plan.steps[0].after_minutes) if plan.steps else None


def gap_after(plan: Plan, number: int) -> timedelta | None:
    """The time between a call and the one after it; None when it is the last."""
    if plan.once:
        return None
    if number < len(plan.steps):
        minutes = plan.steps[number].after_minutes - plan.steps[number - 1].after_minutes
        return timedelta(minutes=minutes)
    return None if plan.repeat_minutes is None else timedelta(minutes=plan.repeat_minutes)


def call_at(plan: Plan, number: int, *, due_at: datetime, as_of: datetime) -> Call | None:
    """The call of this number, or of the step that takes its place, to whoever can be reached `as_of` an instant.

    None when there is nobody at all.
    """
    first = min(number, len(plan.steps))
    passed: list[PassedOver] = []
    for position, step in enumerate(plan.steps[first - 1 :] if plan.steps else (), start=first):
        found = reached(step, plan.world, at=as_of)
        passed += found.passed_over
        if found.recipients:
            return Call(
                number=max(number, position),
                due_at=due_at,
                recipients=found.recipients,
                passed_over=tuple(passed),
            )
    people = _last_resort(plan, first, as_of)
    if not people:
        return None
    return Call(
        number=max(number, len(plan.steps)),
        due_at=due_at,
        recipients=people,
        passed_over=tuple(one for one in passed if one.recipient not in people),
        fallback=True,
    )


def advance(plan: Plan, *, number: int, at: datetime, now: datetime) -> Progress:
    """Walk on from call `number`, due `at`, to now. Every step that came due is called; of repeats only the newest.

    The next call is measured from the one before, so that a call brought forward brings the rest forward too.
    """
    due: list[Call] = []
    repeat: Call | None = None
    while at <= now:
        call = call_at(plan, number, due_at=at, as_of=at if now - at <= PROMPT else now)
        if call is None:
            break
        number = call.number
        if number > len(plan.steps):
            repeat = call
        else:
            due.append(call)
        gap = gap_after(plan, number)
        if gap is None:
            return Progress(due=_all(due, repeat), next_number=number + 1, next_at=None)
        if repeat is not None and now - at > gap:
            missed = (now - at) // gap - 1
            number, at = number + missed, at + missed * gap
        number, at = number + 1, at + gap
    return Progress(due=_all(due, repeat), next_number=number, next_at=at)


def foreseen(plan: Plan, *, raised_at: datetime, repeats: int) -> list[Call]:
    """What will happen if nobody answers: every step, and the first few repeats."""
    last = len(plan.steps) + repeats
    return list(takewhile(lambda call: call.number <= last, _calls(plan, raised_at)))


def _calls(plan: Plan, raised_at: datetime) -> Iterator[Call]:
    at = first_call_at(plan, raised_at=raised_at)
    number = 1
    while at is not None and (call := call_at(plan, number, due_at=at, as_of=at)) is not None:
        yield call
        gap = gap_after(plan, call.number)
        number, at = call.number + 1, None if gap is None else at + gap


def _last_resort(plan: Plan, first: int, at: datetime) -> tuple[Recipient, ...]:
    earlier = [
        person for step in plan.steps[: first - 1] for person in reached(step, plan.world, at=at).recipients
    ]
    own = fallback_people(plan.world, at=at)
    return by_address([*earlier, *own]) or whoever_may(plan.steps, plan.world, at=at)


def _all(due: list[Call], repeat: Call | None) -> tuple[Call, ...]:
    return (*due, repeat) if repeat is not None else tuple(due)
