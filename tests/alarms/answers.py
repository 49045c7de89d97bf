"""Answers to alarms for the tests: the facts that they name, and the whole proof of each type."""

from datetime import timedelta

import pytest

from alarms.dispositions import DispositionType, alarm_ref
from alarms.models import AlarmKnowledge, Disposition, Exercise, ExerciseSensor
from alarms.services.dispositions import dispose
from alarms.services.knowledge import state_knowledge
from equipment.faults import Invalid
from equipment.models import Delivery, Facility, Record, RecordSubject
from equipment.moments import Moment
from equipment.services.happenings import state_delivery, state_release
from equipment.services.records import Deed, record_visit
from tests.alarms.sites import raised
from tests.world import NOW, TODAY

HOUR = timedelta(hours=1)
LATER = NOW + 5 * HOUR

TOLD = {"by": "test", "now": NOW}


def recorded(
    at: Facility, activity: str, *, day=TODAY, when=None, outcome=None, about=None, known=LATER, **measured
) -> Record:
    """A record of that day, or of the moment `when`; `known`: when it came on file."""
    deed = Deed(
        activity=activity,
        performed=Moment(instant=when) if when else Moment(day=day),
        regarding=alarm_ref(about.pk) if about else None,
        subjects=("T1",) if activity in ("inventory-month", "tank-monitoring-result") else (),
        outcome=outcome,
        measurements=measured,
    )
    return record_visit(
        facility=at, submitted_by=at.operator, entered_by="test", deeds=[deed], now=known
    ).records[0]


def clean(at: Facility, **changed) -> Record:
    stated = {"outcome": "pass", "method": "automatic tank gauging"} | changed
    return recorded(at, "tank-monitoring-result", **stated)


def month(at: Facility, **changed) -> Record:
    return recorded(at, "inventory-month", throughput_gal=9000, net_gal=5, **changed)


def told(about, **changed) -> Record:
    stated = {"report": "suspected release"} | changed
    return recorded(about.facility, "report-to-agency", about=about, **stated)


def all_clear(about, activity="site-check", outcome="pass", **changed) -> Record:
    return recorded(about.facility, activity, about=about, outcome=outcome, **changed)


def function_check(about, *, outcome="pass", day=TODAY, of="SU1") -> Record:
    """As a planned exercise writes it when its window closes; the plan too."""
    plan = Exercise.objects.create(
        facility=about.facility,
        submitted_by=about.facility.operator,
        recorded_at=NOW,
        recorded_by="test",
        led_by="R. Ames",
        starts_at=NOW,
        ends_at=NOW + timedelta(hours=1),
    )
    ExerciseSensor.objects.create(exercise=plan, component=about.component)
    record = Record.objects.create(
        facility=about.facility,
        activity="sensor-function-check",
        performed_on=day,
        outcome=outcome,
        submitted_by=about.facility.operator,
        recorded_at=NOW,
        entered_by="test",
        content_sha256="0" * 64,
    )
    RecordSubject.objects.create(record=record, component=about.facility.components.get(tag=of))
    return record


def release(at: Facility) -> object:
    return state_release(
        facility=at,
        submitted_by=at.operator,
        identified_at=None,
        confirmed_at=Moment(day=TODAY),
        alarm=None,
        fields={},
        **TOLD,
    )


def delivery(at: Facility) -> Delivery:
    return state_delivery(
        facility=at,
        submitted_by=at.operator,
        subjects=["T1"],
        started_at=Moment(day=TODAY),
        ended_at=None,
        fields={},
        **TOLD,
    )


CONDITION_OF = {
    DispositionType.NOT_RELEASING: "sump-liquid",
    DispositionType.WATER_REMOVED: "sump-liquid",
    DispositionType.FAULT_PUT_RIGHT: "sensor-fault",
    DispositionType.SECOND_MONTH: "inventory-over-limit",
    DispositionType.CONFIRMED: "product-found-outside",
}
OF_THE_METHOD = {DispositionType.CONTAINED, DispositionType.DEVICE_FAULT, DispositionType.NON_RELEASE}
"""Answers to what the required method found, 40 CFR 280.50(c): SN1 is registered as that, the sump SU1 is not."""
DONE = NOW + HOUR


WATER_OUT = {
    "checked_at": DONE,
    "finding": "sump and pipes whole, water only",
    "cause": "rain through the lid",
    "repaired_at": DONE,
    "liquid_removed_at": DONE,
}


def proof_of(type: DispositionType, alarm) -> dict:
    """Everything that the type needs."""
    at = alarm.facility
    given = {
        DispositionType.NOT_RELEASING: lambda: {
            "checked_at": DONE,
            "finding": "rain water through the lid",
            "repaired_at": DONE,
            "liquid_removed_at": DONE,
        },
        DispositionType.DEVICE_FAULT: lambda: {
            "repaired_at": DONE,
            "clean_result_at": DONE,
            "record": clean(at).pk,
        },
        DispositionType.CONTAINED: lambda: {"repaired_at": DONE, "liquid_removed_at": DONE},
        DispositionType.SECOND_MONTH: lambda: {"second_month": month(at).pk},
        DispositionType.NON_RELEASE: lambda: {"investigated_at": DONE, "cause": "power surge"},
        DispositionType.WATER_REMOVED: lambda: WATER_OUT,
        DispositionType.FAULT_PUT_RIGHT: lambda: {"repaired_at": DONE, "action": "sensor replaced"},
        DispositionType.EXERCISE: lambda: {"record": function_check(alarm).pk},
        DispositionType.FILED: lambda: {"record": told(alarm).pk},
        DispositionType.NO_RELEASE: lambda: {"record": all_clear(alarm).pk},
        DispositionType.PLANNED_TEST: lambda: {"record": clean(at).pk},
        DispositionType.CONFIRMED: lambda: {"release": release(at).pk},
    }
    return given[type]()


def answer(alarm, type, *, at=LATER, now=LATER, by=None, **evidence) -> Disposition:
    return dispose(
        alarm=alarm,
        type=type,
        at=at,
        evidence=evidence,
        by="R. Ames",
        organisation=by or alarm.facility.operator,
        now=now,
    )


def refused(alarm, type, **stated) -> dict[str, str]:
    """The code of each fault by its pointer; nothing was stored."""
    before = Disposition.objects.count()
    with pytest.raises(Invalid) as caught:
        answer(alarm, type, **stated)
    assert Disposition.objects.count() == before
    return {fault.pointer: fault.code for fault in caught.value.faults}


def alarm_for(type: DispositionType, site):
    return raised(site, "SN1" if type in OF_THE_METHOD else "SU1", CONDITION_OF.get(type, "sump-fuel"))


def knowing(alarm, *, now=LATER, by=None, **stated) -> AlarmKnowledge:
    organisation = by or alarm.facility.operator
    return state_knowledge(alarm=alarm, stated=stated, by="R. Ames", organisation=organisation, now=now)
