"""Call lists: stated as a whole, never in part."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from alarms.hours import hours_to_json
from alarms.models import Alarm, CallList, CallStep, Contact, Rota
from alarms.models.alarms import IS_WAITING
from alarms.services.contacts import contact_of
from alarms.services.kept_calls import StatedStep, left_out
from alarms.services.plans import call_list_of, fallback_recipients
from alarms.tenancy import organisations_holding
from equipment.faults import Fault, Stale, refuse
from equipment.models import Facility, Organisation
from equipment.services.facts import lock_facility
from equipment.tenancy import Right

MAX_STEPS = 20
MAX_RECIPIENTS = 50


@transaction.atomic
def replace_call_list(
    *,
    facility: Facility,
    version: int,
    repeat_minutes: int,
    steps: Sequence[StatedStep],
    by: str,
    stated_by: Organisation,
    now: datetime,
    priority: str = "",
) -> CallList:
    """Put this list in the place of version `version` (0: there was none). Alarms that wait are called by it at once.

    `priority` empty: the common list. A list of a priority that has no step is none: the common one holds again.
    Raises `Stale` when somebody was faster, `Invalid` with a pointer to each fault.
    """
    facility = lock_facility(facility.pk)
    current = call_list_of(facility, priority=priority)
    if (current.version if current else 0) != version:
        raise Stale("Read the list again, look at what changed, and send yours with the new ETag.")
    allowed = organisations_holding(Right.READ, facility, now=now)
    refuse(_faults(steps, facility, allowed, stated_by))
    refuse(
        left_out(facility, priority, steps=steps, repeat_minutes=repeat_minutes, stated_by=stated_by),
    )
    if current is not None:
        current.steps.all().delete()
    row, _ = CallList.objects.update_or_create(
        facility=facility,
        priority=priority,
        defaults={
            "version": version + 1,
            "repeat_minutes": repeat_minutes,
            "changed_at": now,
            "changed_by": by,
        },
    )
    for position, step in enumerate(steps, start=1):
        _add_step(row, position, step, stated_by)
    _call_anew(facility, priority, now=now)
    return row


def _call_anew(facility: Facility, priority: str, *, now: datetime) -> None:
    """From the top: nobody is told the same call twice, and whoever is new on the list is told now."""
    waiting = Alarm.objects.filter(IS_WAITING, facility=facility)
    if priority:
        waiting = waiting.filter(priority=priority)
    waiting.update(next_step=1, next_step_at=now)


def _add_step(call_list: CallList, position: int, step: StatedStep, stated_by: Organisation) -> None:
    row = CallStep.objects.create(
        call_list=call_list,
        position=position,
        after_minutes=step.after_minutes,
        hours=hours_to_json(step.hours),
    )
    row.recipients.set([contact_of(one, stated_by) for one in step.recipients])
    row.rotas.set(step.rotas)


@dataclass(frozen=True)
class _Known:
    """Who is called at the facility already, and which of the rotas named now belong to whom."""

    people: set[tuple[int, str, str]]
    rotas: set[int]
    owners: dict[int, int]


def _faults(
    steps: Sequence[StatedStep], facility: Facility, allowed: frozenset[int], stated_by: Organisation
) -> Iterator[Fault]:
    known = _known(steps, facility)
    adds_others = stated_by.pk == facility.operator_id
    before = -1
    for index, step in enumerate(steps):
        place = f"/steps/{index}"
        if step.after_minutes <= before:
            yield Fault(
                f"{place}/after_minutes", f"must be more than the {before} of the step before", "order"
            )
        before = step.after_minutes
        if not step.recipients and not step.rotas:
            yield Fault(f"{place}/recipients", "name at least one person or rota", "empty")
        for number, one in enumerate(step.recipients):
            organisation = one.organisation or stated_by.pk
            mine = adds_others or organisation == stated_by.pk
            if organisation not in allowed:
                at = f"{place}/recipients/{number}/organisation"
                yield Fault(at, "no such organisation at this facility", "unknown")
            elif not mine and (organisation, one.name, one.email) not in known.people:
                yield _not_yours(f"{place}/recipients/{number}")
        for number, rota in enumerate(step.rotas):
            owner = known.owners.get(rota)
            if owner is None or owner not in allowed:
                yield Fault(f"{place}/rotas/{number}", "no such rota at this facility", "unknown")
            elif not adds_others and owner != stated_by.pk and rota not in known.rotas:
                yield _not_yours(f"{place}/rotas/{number}")


def _not_yours(pointer: str) -> Fault:
    return Fault(
        pointer,
        "only the operator adds people of other organisations; you may keep those who are listed",
        "not-yours",
    )


def _known(steps: Sequence[StatedStep], facility: Facility) -> _Known:
    listed = CallStep.objects.filter(call_list__facility=facility)
    people = Contact.objects.filter(pk__in=listed.values("recipients"))
    named = {rota for step in steps for rota in step.rotas}
    fallback = {(one.organisation, one.name, one.email) for one in fallback_recipients(facility)}
    return _Known(
        people=fallback | set(people.values_list("organisation_id", "name", "email")),
        rotas=set(listed.exclude(rotas=None).values_list("rotas", flat=True)),
        owners=dict(Rota.objects.filter(pk__in=named).values_list("pk", "organisation_id")),
    )
