"""What a call list owes to people of other organisations: only the operator takes them off it or calls them later."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from alarms.escalation import REPEAT_MINUTES
from alarms.hours import Hours, hours_from_json
from alarms.models import CallList, CallStep
from alarms.services.contacts import StatedContact
from alarms.services.plans import fallback_recipients, list_in_force
from equipment.faults import Fault
from equipment.models import Facility, Organisation

Whom: TypeAlias = tuple[int, str, str] | int  # a person's organisation, name and address; or the id of a rota


@dataclass(frozen=True, kw_only=True)
class StatedStep:
    """A step as stated: people, ids of rotas, and the hours of the step (None: at any time)."""

    after_minutes: int
    recipients: Sequence[StatedContact]
    rotas: Sequence[int] = ()
    hours: Hours | None = None


@dataclass(frozen=True, kw_only=True)
class _Call:
    """Somebody is called after so many minutes, within these hours; on the last step again and again."""

    whom: Whom
    name: str
    organisation: int | None = None
    after_minutes: int
    hours: Hours | None
    is_last: bool


@dataclass(frozen=True)
class _Calls:
    calls: Sequence[_Call]
    repeat_minutes: int

    def keep(self, call: _Call, *, repeat_minutes: int) -> bool:
        """Whether that call is made here as early, and repeated at latest when the list it is from repeats it."""
        same = [one for one in self.calls if one.whom == call.whom and one.hours in (None, call.hours)]
        again = call.after_minutes + repeat_minutes
        return any(one.after_minutes <= call.after_minutes for one in same) and (
            not call.is_last
            or (
                self.repeat_minutes <= repeat_minutes
                and any(one.is_last and one.after_minutes <= again for one in same)
            )
        )


def left_out(
    facility: Facility,
    priority: str,
    *,
    steps: Sequence[StatedStep],
    repeat_minutes: int,
    stated_by: Organisation,
) -> Iterator[Fault]:
    """Calls of other organisations' people that are made today and would not be made, or be made later or less often.

    Without a list the operator's fallback people are called at once, and a list that names nobody gives way to the
    common one: both are held against what is truly in force.
    """
    if stated_by.pk == facility.operator_id:
        return
    today = _in_force(facility, list_in_force(facility, priority=priority))
    common = list_in_force(facility, priority="") if priority and not steps else None
    coming = _on(common) if common else _Calls(list(_stated(steps, stated_by)), repeat_minutes)
    for call in today.calls:
        theirs = call.organisation != stated_by.pk
        if theirs and not coming.keep(call, repeat_minutes=today.repeat_minutes):
            again = f", then every {today.repeat_minutes} min" if call.is_last else ""
            yield Fault(
                "/steps",
                f"{call.name} is called after {call.after_minutes} min{again}; only the operator takes people and "
                "rotas of other organisations off the list, or has them called later, less often or within fewer "
                "hours",
                "not-yours",
            )


def _in_force(facility: Facility, row: CallList | None) -> _Calls:
    if row is not None:
        return _on(row)
    fallback = fallback_recipients(facility)
    calls = [
        _Call(
            whom=(one.organisation, one.name, one.email),
            name=one.name,
            organisation=one.organisation,
            after_minutes=0,
            hours=None,
            is_last=True,
        )
        for one in fallback
    ]
    return _Calls(calls, REPEAT_MINUTES)


def _on(row: CallList) -> _Calls:
    steps = sorted(row.steps.all(), key=lambda step: step.position)
    return _Calls([call for step in steps for call in _of_step(step, step is steps[-1])], row.repeat_minutes)


def _of_step(step: CallStep, is_last: bool) -> Iterator[_Call]:
    hours = hours_from_json(step.hours)
    for one in step.recipients.all():
        yield _Call(
            whom=(one.organisation_id, one.name, one.email),
            name=one.name,
            organisation=one.organisation_id,
            after_minutes=step.after_minutes,
            hours=hours,
            is_last=is_last,
        )
    for rota in step.rotas.all():
        yield _Call(
            whom=rota.pk,
            name=f"the rota {rota.name}",
            organisation=rota.organisation_id,
            after_minutes=step.after_minutes,
            hours=hours,
            is_last=is_last,
        )


def _stated(steps: Sequence[StatedStep], stated_by: Organisation) -> Iterator[_Call]:
    for step in steps:
        people: list[Whom] = [
            (one.organisation or stated_by.pk, one.name, one.email) for one in step.recipients
        ]
        for whom in [*people, *step.rotas]:
            yield _Call(
                whom=whom,
                name="",
                after_minutes=step.after_minutes,
                hours=step.hours,
                is_last=step is steps[-1],
            )
