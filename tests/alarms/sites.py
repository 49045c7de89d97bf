"""Plain functions for the tests of this app: reports of devices, alarms, call lists."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import count
from typing import Any

from alarms.matching import Signal
from alarms.models import Alarm, CallList, FallbackList
from alarms.services.call_lists import replace_call_list
from alarms.services.contacts import StatedContact
from alarms.services.fallback_people import fallback_list_of, replace_fallback_people
from alarms.services.intake import Intake, Report, receive_events
from alarms.services.kept_calls import StatedStep
from alarms.services.plans import call_list_of
from equipment.models import Facility, Organisation
from tests.world import NOW

_ids = count(1)


def minutes(number: float) -> timedelta:
    return timedelta(minutes=number)


def report(
    device: str = "SU1", condition: str = "sump-liquid", signal: str = "raised", **stated: Any
) -> Report:
    """One message of a console; an id of its own unless stated."""
    stated = {"source": "console-1", "id": f"e{next(_ids)}", "occurred_at": NOW} | stated
    return Report(device=device, condition=condition, signal=Signal(signal), **stated)


def deliver(at: Facility, *events: Report, now: datetime = NOW, by: Organisation | None = None) -> Intake:
    """The reports, taken in as one batch."""
    return receive_events(
        facility=at, source_org=by or at.operator, entered_by="gateway", events=events, now=now
    )


def raised(
    at: Facility, device: str = "SU1", condition: str = "sump-liquid", *, now: datetime = NOW
) -> Alarm:
    """An alarm that nobody has answered."""
    intake = deliver(at, report(device, condition, occurred_at=now), now=now)
    return Alarm.objects.select_related("facility", "component").get(pk=intake.opened[0])


def contact(name: str, organisation: int | None = None) -> StatedContact:
    return StatedContact(name=name, email=f"{name.lower()}@example.com", organisation=organisation)


def call_list(
    at: Facility,
    *steps: tuple[int, Sequence[StatedContact]],
    repeat_minutes: int = 30,
    by: Organisation | None = None,
    now: datetime = NOW,
) -> CallList:
    """This list in the place of whatever there was."""
    current = call_list_of(at)
    return replace_call_list(
        facility=at,
        version=current.version if current else 0,
        repeat_minutes=repeat_minutes,
        steps=[StatedStep(after_minutes=after, recipients=people) for after, people in steps],
        by="test",
        stated_by=by or at.operator,
        now=now,
    )


def fallback(of: Organisation, *names: str, now: datetime = NOW) -> FallbackList:
    """These fallback people of an operator in the place of whomever there was."""
    current = fallback_list_of(of)
    return replace_fallback_people(
        organisation=of,
        version=current.version if current else 0,
        people=[contact(name) for name in names],
        by="test",
        now=now,
    )
