"""Who is called when: a call list walked down step by step until somebody answers.

Steps are numbered from 1. After the last step of the list the numbers go on: each further one calls the last step's
people again. A number therefore names one call for good, and a call can be written down twice without harm.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice

import msgspec

# How often the last step is called again where the list does not say (common practice, no source).
REPEAT_MINUTES = 30


class Recipient(msgspec.Struct, frozen=True, kw_only=True):
    """A person who can be told; `organisation` is the id of the one they answer for."""

    name: str
    email: str
    organisation: int


class ListedStep(msgspec.Struct, frozen=True, kw_only=True):
    """After so many minutes from the beginning, these people."""

    after_minutes: int
    recipients: tuple[Recipient, ...]


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """A call list ready to walk: steps in the order of their minutes; `repeat_minutes` None: the end is the end."""

    steps: tuple[ListedStep, ...]
    repeat_minutes: int | None = REPEAT_MINUTES

    def __post_init__(self) -> None:
        minutes = [step.after_minutes for step in self.steps]
        if minutes != sorted(minutes):
            raise ValueError("steps stand in the order of their minutes")
        if self.repeat_minutes is not None and self.repeat_minutes < 1:
            raise ValueError("repeat_minutes is 1 or more")

    def told_once(self) -> "Plan":
        """For what is not urgent: the first people, once."""
        return Plan(steps=self.steps[:1], repeat_minutes=None)

    def recipients(self, number: int) -> tuple[Recipient, ...]:
        """Whom a call goes to; beyond the last step, the last step's people."""
        return self.steps[min(number, len(self.steps)) - 1].recipients if self.steps else ()


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """One call of the list: its number, when it is due and to whom it goes."""

    number: int
    due_at: datetime
    recipients: tuple[Recipient, ...]


class Progress(msgspec.Struct, frozen=True, kw_only=True):
    """Calls that are due, and the next one to come; `next_at` None when none will come."""

    due: tuple[Call, ...]
    next_number: int
    next_at: datetime | None


def first_call_at(plan: Plan, *, raised_at: datetime) -> datetime | None:
    """When the first people are to be told; None when there is nobody."""
    return raised_at + timedelta(minutes=plan.steps[0].after_minutes) if plan.steps else None


def gap_after(plan: Plan, number: int) -> timedelta | None:
    """The time between a call and the one after it; None when it is the last."""
    if number < len(plan.steps):
        minutes = plan.steps[number].after_minutes - plan.steps[number - 1].after_minutes
        return timedelta(minutes=minutes)
    return None if plan.repeat_minutes is None else timedelta(minutes=plan.repeat_minutes)


def advance(plan: Plan, *, number: int, at: datetime, now: datetime) -> Progress:
    """Walk on from call `number`, due `at`, to now. Every step that came due is called; of repeats only the newest.

    The next call is measured from the one before, so that a call brought forward brings the rest forward too.
    """
    due: list[Call] = []
    repeat: Call | None = None
    while at <= now and plan.steps:
        call = Call(number=number, due_at=at, recipients=plan.recipients(number))
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
    return Progress(due=_all(due, repeat), next_number=number, next_at=at if plan.steps else None)


def due_calls(plan: Plan, *, raised_at: datetime, acknowledged: bool, now: datetime) -> tuple[Call, ...]:
    """The calls that are due by now for an alarm raised then: none once it is acknowledged."""
    begin = first_call_at(plan, raised_at=raised_at)
    if acknowledged or begin is None:
        return ()
    return advance(plan, number=1, at=begin, now=now).due


def foreseen(plan: Plan, *, raised_at: datetime, repeats: int) -> list[Call]:
    """What will happen if nobody answers: every step, and the first few repeats."""
    return list(islice(_calls(plan, raised_at), len(plan.steps) + repeats))


def _calls(plan: Plan, raised_at: datetime) -> Iterator[Call]:
    at = first_call_at(plan, raised_at=raised_at)
    number = 1
    while at is not None:
        yield Call(number=number, due_at=at, recipients=plan.recipients(number))
        gap = gap_after(plan, number)
        number, at = number + 1, None if gap is None else at + gap


def _all(due: list[Call], repeat: Call | None) -> tuple[Call, ...]:
    return (*due, repeat) if repeat is not None else tuple(due)
