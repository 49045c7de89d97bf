"""Call lists: read as a plan of who is told when, and replaced as a whole."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from alarms.conditions import Priority
from alarms.escalation import Call, ListedStep, Plan, Recipient, foreseen
from alarms.models import Alarm, CallList, CallStep, Contact
from alarms.models.alarms import IS_WAITING
from alarms.tenancy import organisations_holding
from equipment.faults import Fault, Stale, refuse
from equipment.models import Facility, Membership, Organisation
from equipment.services.facts import lock_facility
from equipment.tenancy import Right
from equipment.vocabulary import MemberRole

MAX_STEPS = 20
MAX_RECIPIENTS = 50
REPEATS_SHOWN = 2


@dataclass(frozen=True, kw_only=True)
class StatedContact:
    """A person as stated; `organisation` None: that of whoever states it."""

    name: str
    email: str
    organisation: int | None


@dataclass(frozen=True, kw_only=True)
class StatedStep:
    """A step as stated."""

    after_minutes: int
    recipients: Sequence[StatedContact]


@dataclass(frozen=True)
class Preview:
    """Who would be told when, if nobody answered. `remarks` say where the list does not do what it seems to."""

    calls: list[Call]
    repeat_minutes: int | None
    remarks: list[str]


def call_list_of(facility: Facility) -> CallList | None:
    """The facility's list with its steps and people at hand; None before the first."""
    return (
        CallList.objects.filter(facility=facility, priority="").prefetch_related("steps__recipients").first()
    )


def plan_of(facility: Facility, *, now: datetime) -> Plan:
    """Who is told when. People whose organisation may no longer see the facility are left out.

    With nobody left, the operator's managers are told, else its staff: an alarm is never told to nobody while the
    operator has anyone with an address.
    """
    steps = _reachable_steps(call_list_of(facility), organisations_holding(Right.READ, facility, now=now))
    if steps:
        repeat = CallList.objects.values_list("repeat_minutes", flat=True).get(facility=facility, priority="")
        return Plan(steps=steps, repeat_minutes=repeat)
    people = fallback_recipients(facility)
    return Plan(steps=(ListedStep(after_minutes=0, recipients=people),) if people else ())


def plan_for(alarm: Alarm, *, now: datetime) -> Plan:
    """The plan for this alarm: what is not urgent goes to the first people only, once."""
    plan = plan_of(alarm.facility, now=now)
    return plan.told_once() if alarm.priority == Priority.LOW else plan


def fallback_recipients(facility: Facility) -> tuple[Recipient, ...]:
    """The operator's managers who have an address; its other staff where no manager has one."""
    members = (
        Membership.objects.filter(organisation=facility.operator_id, user__is_active=True)
        .exclude(user__email="")
        .select_related("user")
        .order_by("pk")
    )
    for role in (MemberRole.MANAGER, MemberRole.STAFF):
        if people := _people(members.filter(role=role)):
            return people
    return ()


def preview(*, facility: Facility, raised_at: datetime, now: datetime) -> Preview:
    """What the call list would do for an urgent alarm that reached us at `raised_at`, by today's list and grants."""
    plan = plan_of(facility, now=now)
    return Preview(
        calls=foreseen(plan, raised_at=raised_at, repeats=REPEATS_SHOWN),
        repeat_minutes=plan.repeat_minutes,
        remarks=list(_preview_remarks(facility, plan, now=now)),
    )


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
) -> CallList:
    """Put this list in the place of version `version` (0: there was none). Alarms that wait are called by it at once.

    Raises `Stale` when somebody was faster, `Invalid` with a pointer to each fault.
    """
    facility = lock_facility(facility.pk)
    current = call_list_of(facility)
    if (current.version if current else 0) != version:
        raise Stale("Read the list again, look at what changed, and send yours with the new ETag.")
    allowed = organisations_holding(Right.READ, facility, now=now)
    refuse(_faults(steps, facility, current, allowed, stated_by))
    if current is not None:
        current.steps.all().delete()
    row, _ = CallList.objects.update_or_create(
        facility=facility,
        priority="",
        defaults={
            "version": version + 1,
            "repeat_minutes": repeat_minutes,
            "changed_at": now,
            "changed_by": by,
        },
    )
    for position, step in enumerate(steps, start=1):
        _add_step(row, position, step, stated_by)
    # From the top: whoever was told already is not told the same call twice, whoever is new on the list is told now.
    Alarm.objects.filter(IS_WAITING, facility=facility).update(next_step=1, next_step_at=now)
    return row


def _reachable_steps(call_list: CallList | None, organisations: frozenset[int]) -> tuple[ListedStep, ...]:
    """The steps that still reach somebody. Where one does not, the next people are told in its place."""
    if call_list is None:
        return ()
    listed: list[ListedStep] = []
    vacant: int | None = None
    for step in sorted(call_list.steps.all(), key=lambda step: step.position):
        people = tuple(
            Recipient(name=one.name, email=one.email, organisation=one.organisation_id)
            for one in sorted(step.recipients.all(), key=lambda one: one.pk)
            if one.organisation_id in organisations
        )
        minutes = step.after_minutes if vacant is None else vacant
        vacant = None if people else minutes
        if people:
            listed.append(ListedStep(after_minutes=minutes, recipients=people))
    return tuple(listed)


def _people(members: QuerySet[Membership]) -> tuple[Recipient, ...]:
    return tuple(
        Recipient(
            name=one.user.get_full_name() or one.user.get_username(),
            email=one.user.email,
            organisation=one.organisation_id,
        )
        for one in members
    )


def _preview_remarks(facility: Facility, plan: Plan, *, now: datetime) -> Iterator[str]:
    call_list = call_list_of(facility)
    reachable = _reachable_steps(call_list, organisations_holding(Right.READ, facility, now=now))
    if not reachable:
        yield (
            "No step of a call list reaches anybody: the operator's own people are told at once."
            if plan.steps
            else "Nobody would be told: there is no call list, and nobody at the operator has an e-mail address."
        )
    elif call_list is not None and len(reachable) < call_list.steps.count():
        yield (
            "A step reaches nobody, since its people's organisations may no longer see this facility: the next "
            "people are told in its place."
        )


def _add_step(call_list: CallList, position: int, step: StatedStep, stated_by: Organisation) -> None:
    row = CallStep.objects.create(call_list=call_list, position=position, after_minutes=step.after_minutes)
    contacts = [
        Contact.objects.get_or_create(
            organisation_id=one.organisation or stated_by.pk, name=one.name, email=one.email
        )[0]
        for one in step.recipients
    ]
    row.recipients.set(contacts)


def _faults(
    steps: Sequence[StatedStep],
    facility: Facility,
    current: CallList | None,
    allowed: frozenset[int],
    stated_by: Organisation,
) -> Iterator[Fault]:
    known = _contacts(current)
    before = -1
    for index, step in enumerate(steps):
        place = f"/steps/{index}"
        if step.after_minutes <= before:
            yield Fault(
                f"{place}/after_minutes", f"must be more than the {before} of the step before", "order"
            )
        before = step.after_minutes
        for number, one in enumerate(step.recipients):
            organisation = one.organisation or stated_by.pk
            if organisation not in allowed:
                yield Fault(
                    f"{place}/recipients/{number}/organisation",
                    "no such organisation at this facility",
                    "unknown",
                )
            elif (
                stated_by.pk not in (organisation, facility.operator_id)
                and (organisation, one.name, one.email) not in known
            ):
                yield Fault(
                    f"{place}/recipients/{number}",
                    "only the operator adds people of other organisations; you may keep those who are listed",
                    "not-yours",
                )


def _contacts(call_list: CallList | None) -> set[tuple[int, str, str]]:
    if call_list is None:
        return set()
    return {
        (one.organisation_id, one.name, one.email)
        for step in call_list.steps.all()
        for one in step.recipients.all()
    }
