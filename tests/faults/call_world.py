"""Sites whose call lists are known here as well as in the database, so that what people are told can be foretold
without reading it back: the lists are built from the same words twice, once stated, once as a plan."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from alarms.escalation import Plan
from alarms.matching import Signal
from alarms.reach import Grant, ListedStep, Recipient, World
from alarms.services.call_lists import replace_call_list
from alarms.services.contacts import StatedContact
from alarms.services.intake import Report
from alarms.services.kept_calls import StatedStep
from equipment.models import Facility, Organisation
from equipment.vocabulary import AccessRole, OrganisationKind
from tests import world
from tests.world import NOW

REPEAT_MINUTES = 30
CONDITION = "sump-liquid"
# Long before the run, and in the middle of it for those who lose their access.
SINCE = NOW - timedelta(days=30)


@dataclass(frozen=True)
class Site:
    """A facility and the plan by which its people are to be called."""

    facility: Facility
    plan: Plan


def build(
    count: int,
    *,
    sites_an_operator: int = 10,
    minutes: tuple[int, int, int] = (0, 10, 30),
    helped_every: int = 2,
    service_at: int = 1,
    contractor_leaves: datetime | None = None,
) -> list[Site]:
    """So many sites. Dock, office and manager of the operator are called after these minutes.

    At some sites a contractor's person is called along with the step `service_at` (0: the first). At every second of
    those the contractor's access ends `contractor_leaves`, though its person stays on the list.
    """
    contractor = world.organisation("Calls Service", OrganisationKind.CONTRACTOR)
    sites: list[Site] = []
    for number in range(count):
        if number % sites_an_operator == 0:
            operator = world.organisation(f"Operator {number}")
        facility = world.facility(operator, f"F{number}")
        people = [[one] for one in _own_people(operator)]
        grants = [Grant(organisation=operator.pk, starts_at=SINCE, ends_at=None)]
        if number % helped_every == 0:
            ends_at = contractor_leaves if number % (2 * helped_every) == 0 else None
            world.grant(contractor, facility, AccessRole.CONTRACTOR, starts_at=SINCE, ends_at=ends_at)
            grants.append(Grant(organisation=contractor.pk, starts_at=SINCE, ends_at=ends_at))
            people[service_at].append(_person("service", contractor))
        steps = tuple(
            ListedStep(after_minutes=after, recipients=tuple(those))
            for after, those in zip(minutes, people, strict=True)
        )
        _state(facility, steps)
        plan = Plan(steps=steps, repeat_minutes=REPEAT_MINUTES, world=World(grants=tuple(grants)))
        sites.append(Site(facility, plan))
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


def _own_people(operator: Organisation) -> list[Recipient]:
    return [_person(word, operator) for word in ("dock", "office", "manager")]


def _person(word: str, of: Organisation) -> Recipient:
    return Recipient(name=f"{word} {of.pk}", email=f"{word}{of.pk}@example.com", organisation=of.pk)


def _state(facility: Facility, steps: Sequence[ListedStep]) -> None:
    replace_call_list(
        facility=facility,
        version=0,
        repeat_minutes=REPEAT_MINUTES,
        steps=[
            StatedStep(
                after_minutes=step.after_minutes,
                recipients=[
                    StatedContact(name=one.name, email=one.email, organisation=one.organisation)
                    for one in step.recipients
                ],
            )
            for step in steps
        ],
        by="test",
        stated_by=facility.operator,
        now=SINCE,
    )
