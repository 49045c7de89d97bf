"""Plain functions for the tests of function checks: plans, signals by the minute, closing."""

from datetime import datetime, timedelta

from alarms.models import Exercise, Notice
from alarms.services import telling
from alarms.services.exercises import plan_exercise
from alarms.services.intake import Intake
from equipment.models import Facility, Organisation
from tests.alarms.sites import deliver, minutes, report
from tests.world import NOW

LOW, HIGH = "monitoring-liquid-low", "monitoring-liquid-high"
HOUR = timedelta(hours=1)
START, END = NOW + HOUR, NOW + 3 * HOUR


def plan(
    at: Facility,
    *sensors: str,
    starts_at: datetime = START,
    ends_at: datetime = END,
    now: datetime = NOW,
    by: Organisation | None = None,
    led_by: str = "R. Ames",
) -> Exercise:
    """A function check of SN1 or of the sensors named, from an hour after now, for two hours."""
    return plan_exercise(
        facility=at,
        submitted_by=by or at.operator,
        led_by=led_by,
        sensors=sensors or ("SN1",),
        starts_at=starts_at,
        ends_at=ends_at,
        note=None,
        by="dock office",
        now=now,
    )


def inside(number: float) -> datetime:
    """So many minutes after the start."""
    return START + minutes(number)


def signal(
    at: Facility,
    what: str,
    occurred_at: datetime,
    *,
    device: str = "SN1",
    condition: str = LOW,
    received_at: datetime | None = None,
) -> Intake:
    """One message, received as it happens unless told otherwise."""
    message = report(device, condition, what, occurred_at=occurred_at)
    return deliver(at, message, now=received_at or occurred_at)


def tell(now: datetime) -> None:
    """Everything that the timetable does at that instant."""
    telling.drain(clock=lambda: now, at_most=timedelta(seconds=30))


def told() -> list[tuple[str, int, str]]:
    """Who was called, in which step, under which subject; in the order of writing."""
    return [(one.name, one.step, one.subject) for one in Notice.objects.order_by("pk")]
