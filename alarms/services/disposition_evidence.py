"""The facts that an answer to an alarm names: on file at this facility, and able to show what they are named for."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models.functions import Coalesce

from alarms.conditions import ConditionClass
from alarms.dispositions import (
    ABOUT_THE_ALARM,
    REFERENCES,
    SHOWN_BY,
    SITE_CHECK,
    SUSPECTED,
    DispositionType,
    alarm_ref,
)
from alarms.models import Alarm, ExerciseSensor
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
    *,
    at: datetime,
) -> Iterator[Fault]:
    """What is on file, but does not show what it is named for. `at`: from when on the answer holds."""
    for name, fact in found.items():
        if fact.withdrawn_at is not None:
            yield Fault(f"/evidence/{name}", f"was withdrawn, because: {fact.withdrawn_reason}", "withdrawn")
        if isinstance(fact, Record) and _done_after(fact, at, zone):
            yield Fault(
                f"/evidence/{name}",
                "was done after `at`: an answer holds from when all of it was done",
                "order",
            )
    raised_on = alarm.raised_at.astimezone(zone).date()
    if "second_month" in found:
        yield from _no_second_month(found["second_month"], raised_on)
    if "record" in found:
        yield from _record_unfit(alarm, type, evidence, found["record"], zone)


def _done_after(record: Record, at: datetime, zone: ZoneInfo) -> bool:
    if record.performed_at is not None:
        return record.performed_at > at
    return record.performed_on > at.astimezone(zone).date()


def _record_unfit(
    alarm: Alarm, type: DispositionType, evidence: Mapping[str, Any], record: Record, zone: ZoneInfo
) -> Iterator[Fault]:
    allowed = SHOWN_BY.get(type)
    if allowed is not None and record.activity not in allowed:
        detail = f"is a record of {record.activity}; name one of: {', '.join(sorted(allowed))}"
        yield Fault("/evidence/record", detail, "wrong-kind")
        return
    if type in ABOUT_THE_ALARM and record.regarding != alarm_ref(alarm.pk):
        detail = f"does not say that it is about this alarm; record it with regarding {alarm_ref(alarm.pk)!r}"
        yield Fault("/evidence/record", detail, "wrong-kind")
    if record.activity == DELIVERY_CHECK:
        yield from _no_check_before(record, alarm)
    raised_on = alarm.raised_at.astimezone(zone).date()
    match type:
        case DispositionType.DEVICE_FAULT:
            yield from _no_clean_result(record, evidence.get("repaired_at"), zone)
        case DispositionType.PLANNED_TEST:
            yield from _another_test(record, raised_on)
        case DispositionType.EXERCISE:
            yield from _another_test(record, raised_on)
            yield from _another_sensor(record, alarm)
            yield from _unplanned(alarm)
        case DispositionType.FILED:
            yield from _another_report(record, raised_on)
        case DispositionType.NO_RELEASE:
            yield from _no_all_clear(record, alarm, raised_on)


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
    yield from _not_passed(record)
    if repaired_at is not None and record.performed_on < repaired_at.astimezone(zone).date():
        yield Fault("/evidence/record", "is older than the repair that it is to prove", "order")


def _another_test(record: Record, raised_on: date) -> Iterator[Fault]:
    """A test explains the alarms that it raised itself, not those of another day."""
    if abs(record.performed_on - raised_on) > ADJACENT:
        yield Fault("/evidence/record", f"is of {record.performed_on}, the alarm of {raised_on}", "order")


def _another_sensor(record: Record, alarm: Alarm) -> Iterator[Fault]:
    """A function check explains the alarm of a sensor that was driven, and none that did not come back."""
    checked = set(record.subjects.values_list("tag", flat=True))
    if alarm.component is None or alarm.component.tag not in checked:
        detail = f"is about {', '.join(sorted(checked))}, and the alarm came from {alarm.place}"
        yield Fault("/evidence/record", detail, "wrong-kind")
    yield from _not_passed(record)


def _unplanned(alarm: Alarm) -> Iterator[Fault]:
    """A check explains only what it was planned to raise: one that is stated afterwards explains nothing."""
    planned = ExerciseSensor.objects.annotate(
        over_at=Coalesce("exercise__ended_at", "exercise__ends_at")
    ).filter(
        component=alarm.component_id,
        exercise__withdrawn_at=None,
        exercise__starts_at__lte=alarm.raised_at,
        over_at__gt=alarm.raised_at,
    )
    if alarm.component_id is None or not planned.exists():
        detail = "no function check of this sensor was planned for the moment of the alarm; answer it as what it was"
        yield Fault("/evidence/record", detail, "unplanned")


def _another_report(record: Record, raised_on: date) -> Iterator[Fault]:
    """40 CFR 280.50: the report is about a suspected release, and nobody reports what has not begun."""
    told = record.measurements.get("report")
    if told != SUSPECTED:
        yield Fault("/evidence/record", f"reports a {told}; name the report of a {SUSPECTED}", "wrong-kind")
    if record.performed_on < raised_on - ADJACENT:
        yield Fault("/evidence/record", f"is of {record.performed_on}, the alarm of {raised_on}", "order")


def _no_all_clear(record: Record, alarm: Alarm, raised_on: date) -> Iterator[Fault]:
    """40 CFR 280.52: where contamination is the basis, a tight system is no end; only the ground can say."""
    if alarm.condition_class == ConditionClass.RELEASED_PRODUCT and record.activity != SITE_CHECK:
        detail = "product was found outside, so a test of the system is not enough (280.52(a)(4)); name a site check"
        yield Fault("/evidence/record", detail, "wrong-kind")
    if record.performed_on < raised_on:
        yield Fault("/evidence/record", "is older than the alarm that it is to clear", "order")
    yield from _not_passed(record)


def _not_passed(record: Record) -> Iterator[Fault]:
    if record.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE):
        yield Fault("/evidence/record", f"its outcome is {record.outcome}; name a clean result", "wrong-kind")
