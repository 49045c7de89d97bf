"""The facts that an answer to an alarm names: on file at this facility, and able to show what they are named for."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models

from alarms.dispositions import REFERENCES, DispositionType
from alarms.models import Alarm
from equipment.faults import Fault, refuse
from equipment.models import Delivery, Facility, Record, Release
from equipment.services.happenings import DELIVERY_CHECK
from equipment.vocabulary import Outcome

FACTS: Mapping[str, type[models.Model]] = {
    "record": Record,
    "second_month": Record,
    "delivery": Delivery,
    "release": Release,
}
ADJACENT = timedelta(days=1)
"""A test that ran past midnight raised alarms on the day beside its own."""


def referenced(facility: Facility, evidence: Mapping[str, Any]) -> dict[str, Any]:
    """The facts behind the numbers. One of another facility is refused exactly like one that does not exist."""
    found = {
        name: FACTS[name]._default_manager.filter(pk=evidence[name], facility=facility).first()
        for name in REFERENCES
        if name in evidence
    }
    refuse(
        Fault(
            f"/evidence/{name}",
            f"no {FACTS[name]._meta.verbose_name} {evidence[name]} at this facility",
            "unknown",
        )
        for name, fact in found.items()
        if fact is None
    )
    return found


def unfit(
    alarm: Alarm,
    type: DispositionType,
    evidence: Mapping[str, Any],
    found: Mapping[str, Any],
    zone: ZoneInfo,
) -> Iterator[Fault]:
    """What is on file, but does not show what it is named for."""
    for name, fact in found.items():
        if fact.withdrawn_at is not None:
            yield Fault(f"/evidence/{name}", f"was withdrawn, because: {fact.withdrawn_reason}", "withdrawn")
    raised_on = alarm.raised_at.astimezone(zone).date()
    if "second_month" in found:
        yield from _no_second_month(found["second_month"], raised_on)
    if "record" in found and type == DispositionType.DEVICE_FAULT:
        yield from _no_clean_result(found["record"], evidence.get("repaired_at"), zone)
    if "record" in found and found["record"].activity == DELIVERY_CHECK:
        yield from _no_check_before(found["record"], alarm)
    if "record" in found and type == DispositionType.PLANNED_TEST:
        yield from _another_test(found["record"], raised_on)


def _no_check_before(record: Record, alarm: Alarm) -> Iterator[Fault]:
    """A check of the room speaks of a delivery that came after it, into a tank that it names."""
    if record.performed_at is not None and record.performed_at > alarm.raised_at:
        yield Fault(
            "/evidence/record", "was made after the alarm; name the check before the delivery", "order"
        )
    checked = {row["component"] for row in record.measurements.get("tanks", ())}
    places, place = set[str](), alarm.component
    while place is not None:
        places.add(place.tag)
        place = place.parent
    if places and not places & checked:
        detail = f"is about {', '.join(sorted(checked))}, and the alarm came from elsewhere"
        yield Fault("/evidence/record", detail, "wrong-kind")


def _no_second_month(record: Record, raised_on: date) -> Iterator[Fault]:
    """40 CFR 280.50(c)(3): a second month of data, so one that ended after the alarm of the first."""
    place = "/evidence/second_month"
    if record.activity != "inventory-month":
        yield Fault(place, f"is a record of {record.activity}; name a month of inventory", "wrong-kind")
    elif record.performed_on < raised_on:
        yield Fault(place, "is older than the alarm; the second month comes after the first", "order")


def _no_clean_result(record: Record, repaired_at: datetime | None, zone: ZoneInfo) -> Iterator[Fault]:
    """40 CFR 280.50(c)(1): monitoring after the repair does not confirm the first result."""
    if record.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE):
        yield Fault("/evidence/record", f"its outcome is {record.outcome}; name a clean result", "wrong-kind")
    if repaired_at is not None and record.performed_on < repaired_at.astimezone(zone).date():
        yield Fault("/evidence/record", "is older than the repair that it is to prove", "order")


def _another_test(record: Record, raised_on: date) -> Iterator[Fault]:
    """A test explains the alarms that it raised itself, not those of another day."""
    if abs(record.performed_on - raised_on) > ADJACENT:
        yield Fault("/evidence/record", f"is of {record.performed_on}, the alarm of {raised_on}", "order")
