"""Sites whose call lists are known here as well as in the database, so that what people are told can be foretold
without reading it back: the lists are built from the same words twice, once stated, once as a plan."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from alarms.escalation import Plan
from alarms.matching import Signal
from alarms.reach import Grant, ListedStep, Recipient, World
from alarms.services.call_lists import StatedStep, replace_call_list
from alarms.services.contacts import StatedContact
from alarms.services.intake import Report
from equipment.models import Facility, Organisation
from equipment.vocabulary import AccessRole, OrganisationKind
from tests import world
from tests.world import NOW

SITES_AN_OPERATOR = 10
REPEAT_MINUTES = 30
CONDITION = "sump-liquid"
# Long before the run, and in the middle of it for those who lose their access.
SINCE = NOW - timedelta(days=30)


@dataclass(frozen=True)
class Site:
    """A facility and the plan by which its people are to be called."""

    facility: Facility
    plan: Plan


def build(count: int, *, contractor_leaves: datetime) -> list[Site]:
    """So many sites in tens. Three people of the operator; a contractor's person too at every second site.

    At every fourth site the contractor's access ends `contractor_leaves`, though its person stays on the list.
    """
    contractor = world.organisation("Calls Service", OrganisationKind.CONTRACTOR)
    sites: list[Site] = []
    for number in range(count):
        if number % SITES_AN_OPERATOR == 0:
            operator = world.organisation(f"Operator {number}")
        facility = world.facility(operator, f"F{number}")
        helped = number % 2 == 0
        ends_at = contractor_leaves if number % 4 == 0 else None
        if helped:
            world.grant(contractor, facility, AccessRole.CONTRACTOR, starts_at=SINCE, ends_at=ends_at)
        steps = _steps(operator, contractor if helped else None)
        _state(facility, steps)
        sites.append(Site(facility, _plan(facility, contractor, steps, ends_at, helped=helped)))
    return sites


def report(device: str, *, at: datetime) -> Report:
    """The raise of a device that nobody registered: its mails name it, and it names its alarm."""
    return Report(
        source="gateway",
        id=f"raise {device}",
        device=device,
        condition=CONDITION,
        signal=Signal.RAISED,
        occurred_at=at,
    )


def _steps(
    operator: Organisation, contractor: Organisation | None
) -> tuple[tuple[int, tuple[Recipient, ...]], ...]:
    first, second, last = (
        Recipient(
            name=f"{word} {operator.pk}", email=f"{word}{operator.pk}@example.com", organisation=operator.pk
        )
        for word in ("dock", "office", "manager")
    )
    outside = () if contractor is None else (_outside(contractor),)
    return ((0, (first,)), (10, (second, *outside)), (30, (last,)))


def _outside(contractor: Organisation) -> Recipient:
    return Recipient(name="service", email=f"service{contractor.pk}@example.com", organisation=contractor.pk)


def _state(facility: Facility, steps: tuple[tuple[int, tuple[Recipient, ...]], ...]) -> None:
    replace_call_list(
        facility=facility,
        version=0,
        repeat_minutes=REPEAT_MINUTES,
        steps=[
            StatedStep(
                after_minutes=after,
                recipients=[
                    StatedContact(name=one.name, email=one.email, organisation=one.organisation)
                    for one in people
                ],
            )
            for after, people in steps
        ],
        by="test",
        stated_by=facility.operator,
        now=SINCE,
    )


def _plan(
    facility: Facility,
    contractor: Organisation,
    steps: tuple[tuple[int, tuple[Recipient, ...]], ...],
    ends_at: datetime | None,
    *,
    helped: bool,
) -> Plan:
    own = Grant(organisation=facility.operator_id, starts_at=SINCE, ends_at=None)
    outside = Grant(organisation=contractor.pk, starts_at=SINCE, ends_at=ends_at)
    return Plan(
        steps=tuple(ListedStep(after_minutes=after, recipients=people) for after, people in steps),
        repeat_minutes=REPEAT_MINUTES,
        world=World(grants=(own, outside) if helped else (own,)),
    )
